//! What was measured of a band, to messages.
//!
//! Leaves to others: what else the catalogue knows of a roll (`rungwise-server`).

use crate::content::{Roll, RollWithdrawal};
use crate::name::roll_name;
use crate::v1;
use rungwise_engine::fact::{BandPoint, MeasuredBand};

/// A length that admitting let pass fits.
pub(super) fn length_to_wire(mm: i64) -> i32 {
    i32::try_from(mm).unwrap_or(i32::MAX)
}

/// A measured band.
#[must_use]
pub fn band_to_wire(band: &MeasuredBand) -> v1::MeasuredBand {
    let point = |point: &BandPoint| v1::BandPoint {
        elongation: point.elongation.to_string(),
        force: point.force.to_string(),
    };
    v1::MeasuredBand {
        label: band.label.to_string(),
        rest_length_mm: length_to_wire(band.rest_length_mm),
        points: band.points.iter().map(point).collect(),
        elongation_max: band.elongation_max.to_string(),
        may_be_doubled: band.may_be_doubled,
        roll: String::new(),
    }
}

/// A roll of `clinic` that was recorded at this position, as it was measured.
#[must_use]
pub fn roll_to_wire(clinic: &str, position: u64, roll: &Roll) -> v1::Roll {
    let piece = band_to_wire(&roll.piece);
    v1::Roll {
        name: roll_name(clinic, position),
        label: piece.label,
        rest_length_mm: piece.rest_length_mm,
        points: piece.points,
        elongation_max: piece.elongation_max,
        measured_on: roll.measured_on.to_string(),
        measured_by: roll.measured_by.to_string(),
        ..v1::Roll::default()
    }
}

/// That a roll was withdrawn.
#[must_use]
pub fn roll_withdrawal_to_wire(withdrawal: &RollWithdrawal) -> v1::RollWithdrawal {
    v1::RollWithdrawal {
        date: withdrawal.date.to_string(),
        who: withdrawal.who.to_string(),
        why: withdrawal.why.clone(),
    }
}

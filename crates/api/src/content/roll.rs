//! Rolls of the clinic's band catalogue to stored messages and back.
//!
//! Leaves to others: the band that was measured (`super::band`).

use super::DecodeError;
use super::band::{measured_from_stored, measured_to_stored};
use super::value::{date_from_stored, date_to_stored};
use crate::stored;
use jiff::civil::Date;
use rungwise_engine::fact::MeasuredBand;
use rungwise_pack::quantity::Key;

/// A roll of band material, as a piece of it was measured once.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Roll {
    /// The piece, labelled as the clinic calls the roll.
    pub piece: MeasuredBand,
    /// The day on which it was measured.
    pub measured_on: Date,
    /// Who measured it.
    pub measured_by: Key,
}

/// A roll withdrawn.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct RollWithdrawal {
    /// The roll's position in the ledger.
    pub roll: u64,
    /// The day.
    pub date: Date,
    /// Who withdrew it.
    pub who: Key,
    /// Why.
    pub why: String,
}

pub(super) fn roll_to_stored(roll: &Roll) -> stored::Roll {
    stored::Roll {
        piece: Some(measured_to_stored(&roll.piece)),
        measured_on: date_to_stored(roll.measured_on),
        measured_by: roll.measured_by.to_string(),
    }
}

pub(super) fn roll_from_stored(roll: stored::Roll) -> Result<Roll, DecodeError> {
    Ok(Roll {
        piece: measured_from_stored(roll.piece.ok_or(DecodeError::Absent("roll.piece"))?),
        measured_on: date_from_stored("roll.measured_on", roll.measured_on)?,
        measured_by: roll.measured_by.into(),
    })
}

pub(super) fn withdrawal_to_stored(withdrawal: &RollWithdrawal) -> stored::RollWithdrawal {
    stored::RollWithdrawal {
        roll: withdrawal.roll,
        date: date_to_stored(withdrawal.date),
        who: withdrawal.who.to_string(),
        why: withdrawal.why.clone(),
    }
}

pub(super) fn withdrawal_from_stored(
    withdrawal: stored::RollWithdrawal,
) -> Result<RollWithdrawal, DecodeError> {
    Ok(RollWithdrawal {
        roll: withdrawal.roll,
        date: date_from_stored("roll_withdrawal.date", withdrawal.date)?,
        who: withdrawal.who.into(),
        why: withdrawal.why,
    })
}

//! Measured bands and settings, to stored messages and back.
//!
//! Leaves to others: the fact and the place that hold them (`super::fact`, `super::state`).

use super::DecodeError;
use super::value::{keys, small, unknown, words};
use crate::stored;
use crate::stored::band_setting::Hold as Stored;
use rungwise_engine::band::{Bind, Binds, Grip, Held, Hold, Setting};
use rungwise_engine::fact::{BandPoint, DecisionNo, Equipment, MeasuredBand, Position};
use rungwise_pack::quantity::Milli;

/// A length that admitting let pass fits; another is kept as the largest there is.
fn length_to_stored(mm: i64) -> i32 {
    i32::try_from(mm).unwrap_or(i32::MAX)
}

pub(super) fn measured_to_stored(band: &MeasuredBand) -> stored::MeasuredBand {
    let point = |point: &BandPoint| stored::BandPoint {
        elongation_mpct: point.elongation.0,
        force_mn: point.force.0,
    };
    stored::MeasuredBand {
        label: band.label.to_string(),
        rest_length_mm: length_to_stored(band.rest_length_mm),
        points: band.points.iter().map(point).collect(),
        elongation_max_mpct: band.elongation_max.0,
        may_be_doubled: band.may_be_doubled,
    }
}

pub(super) fn measured_from_stored(band: stored::MeasuredBand) -> MeasuredBand {
    let point = |point: stored::BandPoint| BandPoint {
        elongation: Milli(point.elongation_mpct),
        force: Milli(point.force_mn),
    };
    MeasuredBand {
        label: band.label.into(),
        rest_length_mm: band.rest_length_mm.into(),
        points: band.points.into_iter().map(point).collect(),
        elongation_max: Milli(band.elongation_max_mpct),
        may_be_doubled: band.may_be_doubled,
    }
}

pub(super) fn equipment_to_stored(equipment: &Equipment) -> stored::Equipment {
    stored::Equipment {
        owned: words(&equipment.owned),
        bands: equipment.bands.iter().map(measured_to_stored).collect(),
        room_mm: equipment.room_mm.map(length_to_stored),
    }
}

pub(super) fn equipment_from_stored(equipment: stored::Equipment) -> Equipment {
    let bands = equipment.bands.into_iter();
    Equipment {
        owned: keys(equipment.owned),
        bands: bands.map(measured_from_stored).collect(),
        room_mm: equipment.room_mm.map(i64::from),
    }
}

pub(super) fn setting_to_stored(setting: &Setting) -> stored::BandSetting {
    let hold = match &setting.hold {
        Hold::Unmeasured => Stored::Unmeasured(true),
        Hold::None(binds) => Stored::None(binds_to_stored(*binds)),
        Hold::Set(held) => Stored::Held(held_to_stored(held)),
    };
    stored::BandSetting {
        equipment: setting.equipment.map(|at| at.0),
        height_mm: setting.height_mm,
        load_mnm: setting.load.0,
        to_mdeg: setting.to_mdeg,
        hold: Some(hold),
        obtained_for_mnm: setting.obtained.map(|(load, _)| load.0),
        obtained_mnm: setting.obtained.map(|(_, obtained)| obtained),
    }
}

pub(super) fn setting_from_stored(setting: stored::BandSetting) -> Result<Setting, DecodeError> {
    let hold = setting.hold.ok_or(DecodeError::Absent("setting.hold"))?;
    Ok(Setting {
        equipment: setting.equipment.map(Position),
        height_mm: setting.height_mm,
        load: Milli(setting.load_mnm),
        to_mdeg: setting.to_mdeg,
        hold: match hold {
            Stored::Unmeasured(_) => Hold::Unmeasured,
            Stored::None(binds) => Hold::None(binds_from_stored(binds)?),
            Stored::Held(held) => Hold::Set(held_from_stored(held)?),
        },
        obtained: setting
            .obtained_for_mnm
            .map(Milli)
            .zip(setting.obtained_mnm),
    })
}

fn grip_to_stored(grip: &Grip) -> stored::BandGrip {
    stored::BandGrip {
        band: grip.band.to_string(),
        strands: grip.strands.into(),
        working_length_mm: grip.working_length_mm,
        stance_mm: grip.stance_mm,
    }
}

fn grip_from_stored(grip: stored::BandGrip) -> Result<Grip, DecodeError> {
    Ok(Grip {
        band: grip.band.into(),
        strands: small("grip.strands", grip.strands)?,
        working_length_mm: grip.working_length_mm,
        stance_mm: grip.stance_mm,
    })
}

fn held_to_stored(held: &Held) -> stored::BandHeld {
    let before = held.before.as_ref();
    stored::BandHeld {
        grip: Some(grip_to_stored(&held.grip)),
        torque_mnm: held.torque_mnm,
        start_mn: held.start_mn,
        end_mn: held.end_mn,
        is_short: held.is_short,
        by: held.by.0,
        before: before.map(|(grip, _)| grip_to_stored(grip)),
        before_mnm: before.map_or(0, |(_, mnm)| *mnm),
    }
}

fn held_from_stored(held: stored::BandHeld) -> Result<Held, DecodeError> {
    let grip = held.grip.ok_or(DecodeError::Absent("held.grip"))?;
    let before = held.before.map(grip_from_stored).transpose()?;
    Ok(Held {
        grip: grip_from_stored(grip)?,
        torque_mnm: held.torque_mnm,
        start_mn: held.start_mn,
        end_mn: held.end_mn,
        is_short: held.is_short,
        by: DecisionNo(held.by),
        before: before.map(|grip| (grip, held.before_mnm)),
    })
}

pub(super) fn binds_to_stored(binds: Binds) -> stored::Binds {
    let what = match binds.what {
        Bind::NothingOwned => stored::BandBind::NothingOwned,
        Bind::Room => stored::BandBind::Room,
        Bind::Near => stored::BandBind::Near,
        Bind::TooShort => stored::BandBind::TooShort,
        Bind::Slack => stored::BandBind::Slack,
        Bind::Tension => stored::BandBind::Tension,
        Bind::Elongation => stored::BandBind::Elongation,
        Bind::StepTooLarge => stored::BandBind::StepTooLarge,
        Bind::TooHeavy => stored::BandBind::TooHeavy,
        Bind::TooLight => stored::BandBind::TooLight,
        Bind::Motion => stored::BandBind::Motion,
    };
    stored::Binds {
        what: what.into(),
        by: binds.by,
    }
}

pub(super) fn binds_from_stored(binds: stored::Binds) -> Result<Binds, DecodeError> {
    let what = match binds.what() {
        stored::BandBind::NothingOwned => Bind::NothingOwned,
        stored::BandBind::Room => Bind::Room,
        stored::BandBind::Near => Bind::Near,
        stored::BandBind::TooShort => Bind::TooShort,
        stored::BandBind::Slack => Bind::Slack,
        stored::BandBind::Tension => Bind::Tension,
        stored::BandBind::Elongation => Bind::Elongation,
        stored::BandBind::StepTooLarge => Bind::StepTooLarge,
        stored::BandBind::TooHeavy => Bind::TooHeavy,
        stored::BandBind::TooLight => Bind::TooLight,
        stored::BandBind::Motion => Bind::Motion,
        stored::BandBind::Unspecified => return Err(unknown("binds.what", binds.what)),
    };
    Ok(Binds { what, by: binds.by })
}

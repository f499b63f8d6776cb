//! What a person owns: pieces by the pack's names, measured bands, and the room.
//!
//! Leaves to others: what a band then pulls with (`rungwise-bands`).

use super::reading::unknown;
use super::refusal::{Noun, Refusal, Wrong};
use super::{Admission, EXERCISES_MAX, LABEL_BYTES_MAX, wrong_text};
use crate::fact::{Equipment, MeasuredBand};
use rungwise_bands::band::REST_LENGTH_MM;
use rungwise_bands::curve::{
    Curve, CurveError, ELONGATION_MPCT_MAX, FORCE_MN_MAX, Measured, READINGS_MAX,
};
use rungwise_bands::motion::STANCE_MM;
use rungwise_bands::solve::OWNED_MAX;
use rungwise_pack::quantity::{Key, Milli};
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

impl Admission<'_> {
    pub(super) fn equipment(&mut self, path: &str, equipment: &Equipment) {
        let path = &format!("{path}equipment");
        self.pieces(&format!("{path}.owned"), &equipment.owned);
        let rooms = i64::from(*STANCE_MM.start())..=i64::from(*STANCE_MM.end());
        if let Some(room_mm) = equipment.room_mm
            && !rooms.contains(&room_mm)
        {
            self.refuse(format!("{path}.room_mm"), outside_mm(room_mm, &rooms));
        }
        let bands = &equipment.bands;
        if self.is_too_many(&format!("{path}.bands"), bands.len(), OWNED_MAX) {
            return;
        }
        let mut labels = BTreeSet::new();
        for (at, one) in bands.iter().enumerate() {
            let path = &format!("{path}.bands[{at}]");
            if !labels.insert(&one.label) {
                let name = one.label.clone();
                self.refuse(format!("{path}.label"), Wrong::Twice { name });
            }
            self.refusals.extend(band(path, one));
        }
    }

    fn pieces(&mut self, path: &str, owned: &[Key]) {
        if self.is_too_many(path, owned.len(), EXERCISES_MAX) {
            return;
        }
        let pack = self.pack;
        let known: BTreeSet<&Key> = pack.exercises.iter().flat_map(|of| &of.equipment).collect();
        let mut seen = BTreeSet::new();
        for (at, name) in owned.iter().enumerate() {
            if !known.contains(name) {
                let known = known.iter().map(|name| (*name).clone()).collect();
                let wrong = unknown(Noun::Equipment, name, known);
                self.refuse(format!("{path}[{at}]"), wrong);
            } else if !seen.insert(name) {
                self.refuse(format!("{path}[{at}]"), Wrong::Twice { name: name.clone() });
            }
        }
    }
}

/// Judges a measured band by itself; `path` is its own. What is wrong, in the order of its fields; empty: nothing.
#[must_use]
pub fn band(path: &str, band: &MeasuredBand) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    let mut refuse = |field: &str, wrong: Wrong| {
        let path = format!("{path}.{field}");
        refusals.push(Refusal { path, wrong });
    };
    if let Some(wrong) = wrong_text(&band.label, LABEL_BYTES_MAX) {
        refuse("label", wrong);
    }
    let (least, most) = REST_LENGTH_MM;
    let lengths = i64::from(least)..=i64::from(most);
    if !lengths.contains(&band.rest_length_mm) {
        refuse("rest_length_mm", outside_mm(band.rest_length_mm, &lengths));
    }
    let points = band.points.iter().map(|point| Measured {
        elongation_mpct: point.elongation.0,
        force_mn: point.force.0,
    });
    let points: Vec<Measured> = points.collect();
    let safe = band.elongation_max;
    match Curve::from_points(&points) {
        Ok(curve) => {
            let last = curve.last_elongation_mpct();
            if !(1..=last).contains(&safe.0) {
                let wrong = outside(safe, (Milli(1), Milli(last)), "%");
                refuse("elongation_max", wrong);
            }
        }
        Err(error) => {
            let (field, wrong) = wrong_readings(&points, error);
            refuse(&field, wrong);
        }
    }
    refusals
}

/// The field of a band that makes no curve, and what is wrong with it.
fn wrong_readings(points: &[Measured], error: CurveError) -> (String, Wrong) {
    let path = "points".to_owned();
    let one =
        |reading: usize, field: &str| format!("{path}[{}].{field}", reading.saturating_sub(1));
    match error {
        CurveError::TooFew => (path, Wrong::TooFewReadings),
        CurveError::TooMany { given } => {
            let count_max = READINGS_MAX;
            (
                path,
                Wrong::TooMany {
                    count: given,
                    count_max,
                },
            )
        }
        CurveError::Elongation {
            reading,
            elongation_mpct,
        } => {
            let allowed = (Milli(0), Milli(ELONGATION_MPCT_MAX));
            let wrong = outside(Milli(elongation_mpct), allowed, "%");
            (one(reading, "elongation"), wrong)
        }
        CurveError::Force { reading, force_mn } => {
            let wrong = outside(Milli(force_mn), (Milli(0), Milli(FORCE_MN_MAX)), "N");
            (one(reading, "force"), wrong)
        }
        CurveError::ForceAtRest { reading, force_mn } => {
            let wrong = outside(Milli(force_mn), (Milli(0), Milli(0)), "N");
            (one(reading, "force"), wrong)
        }
        CurveError::NotRising {
            elongation_mpct,
            force_mn,
            below_mpct,
            below_mn,
        } => {
            let mut all = points.iter();
            let at = all.position(|point| point.elongation_mpct == elongation_mpct);
            let wrong = Wrong::NotRising {
                elongation: Milli(elongation_mpct),
                force: Milli(force_mn),
                below_elongation: Milli(below_mpct),
                below_force: Milli(below_mn),
            };
            (one(at.map_or(1, |at| at.saturating_add(1)), "force"), wrong)
        }
    }
}

fn outside(given: Milli, (min, max): (Milli, Milli), unit: &str) -> Wrong {
    Wrong::OutOfRange {
        given,
        min,
        max,
        unit: unit.into(),
    }
}

fn outside_mm(given_mm: i64, allowed: &RangeInclusive<i64>) -> Wrong {
    let ends = (Milli::whole(*allowed.start()), Milli::whole(*allowed.end()));
    outside(Milli::whole(given_mm), ends, "mm")
}

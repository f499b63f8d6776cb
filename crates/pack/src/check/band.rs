//! Whether work against a band goes with its exercise's ladder: the loads, the angles, the step, the person's height.
//!
//! Leaves to others: what a band pulls with (`rungwise-bands`).

use super::resolve::Build;
use crate::diagnostic::{Code, Note};
use crate::model::{BandMotion, BandWork, Carrier, MeasureIx, MeasureKind, Origin, Row, RowValue};
use crate::quantity::{Milli, Variable};
use crate::read::draft::{BandDraft, ExerciseDraft};
use crate::source::{At, LocatedText};

/// Units in which a standing height may be measured.
const HEIGHT_UNITS: [&str; 3] = ["mm", "cm", "m"];
/// Narrowest arc, in thousandths of a degree.
const ARC_MIN_MDEG: i64 = 1_000;
/// Widest arc.
const ARC_MAX_MDEG: i64 = 180_000;

impl Build<'_, '_> {
    /// How an exercise moves a band, held against its ladder.
    pub(super) fn band(&mut self, draft: &ExerciseDraft, rows: &[Row]) -> Option<BandWork> {
        let sequence = draft.rows.iter().find_map(|row| row.sequence);
        let Some(band) = &draft.band else {
            if let Some(sequence) = sequence.filter(|_| !draft.has_band) {
                let message = format!("`{}` has loads in N.m and no band", draft.key.text);
                let note = Note::new(Code::BandLoad, sequence.at, message);
                self.findings
                    .add(note.help("say how it moves a band in a `[line.exercise.band]` table"));
            }
            return None;
        };
        self.known.vouch(&band.grounds, self.findings);
        if !self.known.height {
            let message = "nothing says how tall the person is";
            let note = Note::new(Code::BandHeight, band.at, message);
            self.findings
                .add(note.help("name the measure in pack.toml: `[bands]` with `height = \"…\"`"));
        }
        match sequence {
            None => {
                let message = format!("the ladder of `{}` has no loads in N.m", draft.key.text);
                let note = Note::new(Code::BandLoad, band.at, message);
                self.findings.add(note.help(
                    "let its load row be a sequence: `values = { from = 1.5, to = 12, unit = \"N.m\", step = \"8 %\" }`",
                ));
            }
            Some(sequence) if sequence.step_mpct > band.step_max.value => {
                let message = "the ladder's step is above the most by which a load may rise";
                let note = Note::new(Code::BandStep, sequence.at, message);
                self.findings
                    .add(note.label(format!("at most {} %", Milli(band.step_max.value))));
            }
            Some(_) => {}
        }
        if let Some(least) = &band.step_min
            && least.value >= band.step_max.value
        {
            let message = "the least step of a load is not below the most allowed";
            let note = Note::new(Code::BandStep, least.at, message);
            let label = format!("below {} %", Milli(band.step_max.value));
            self.findings.add(note.label(label));
        }
        self.angles(band, rows);
        let loads = draft.maintenance.iter().flatten();
        for (_, load) in loads.filter(|(variable, _)| *variable == Variable::Load) {
            let message = "at discharge the load of a banded exercise is the one in force";
            let note = Note::new(Code::BandLoad, load.at, message);
            self.findings.add(note.label("leave it out"));
        }
        Some(BandWork {
            motion: band.motion.clone(),
            from_mdeg: band.from.value,
            to_mdeg: band.to.as_ref().map(|to| to.value),
            load_at_mdeg: band.load_at.value,
            step_min_mpct: band.step_min.as_ref().map_or(0, |least| least.value),
            step_max_mpct: band.step_max.value,
            start_mn_min: band.start_mn_min,
        })
    }

    /// The arcs of all doses, and the angle at which the load is stated, which is on every one of them.
    fn angles(&mut self, band: &BandDraft, rows: &[Row]) {
        let range = rows.iter().find(|row| row.variable == Variable::Range);
        let numbers: Vec<i64> = range
            .iter()
            .flat_map(|row| &row.values)
            .filter_map(|step| match step.value {
                RowValue::Number(Milli(mdeg)) => Some(mdeg),
                RowValue::Label(_) => None,
            })
            .collect();
        let from = band.from.value;
        let (least, most) = match (numbers.iter().min(), numbers.iter().max(), &band.to) {
            (Some(_), Some(_), Some(to)) => {
                let message = "the ladder's range says where the motion ends";
                let note = Note::new(Code::BandArc, to.at, message);
                return self.findings.add(note.label("leave it out"));
            }
            (Some(least), Some(most), None) => {
                (from.saturating_add(*least), from.saturating_add(*most))
            }
            (_, _, Some(to)) => (to.value, to.value),
            _ => {
                let message = "nothing says where the motion ends";
                let note = Note::new(Code::BandArc, band.from.at, message);
                return self
                    .findings
                    .add(note.help("give `to`, or a row `range` in degrees"));
            }
        };
        let highest = match band.motion {
            BandMotion::HandsApart { .. } => 90_000,
            _ => 180_000,
        };
        let wide = most.saturating_sub(from);
        if least.saturating_sub(from) < ARC_MIN_MDEG || wide > ARC_MAX_MDEG || most > highest {
            let message = format!(
                "no motion goes from {} to {} deg",
                Milli(from),
                Milli(if wide > ARC_MAX_MDEG || most > highest {
                    most
                } else {
                    least
                })
            );
            let note = Note::new(Code::BandArc, band.from.at, message);
            let label = format!(
                "at least 1 and at most 180 deg wide, to {} deg at most",
                Milli(highest)
            );
            return self.findings.add(note.label(label));
        }
        if band.load_at.value < from || band.load_at.value > least {
            let message = "the angle at which the load is stated is not on every arc";
            let note = Note::new(Code::BandArc, band.load_at.at, message);
            let label = format!("from {} to {} deg", Milli(from), Milli(least));
            self.findings.add(note.label(label));
        }
    }

    /// The measure of the person's standing height.
    pub(super) fn height(&mut self, name: Option<&LocatedText>) -> Option<MeasureIx> {
        let name = name?;
        let index = self.known.measure(name, self.findings)?;
        let measure = self.measures.get(index.at())?;
        let fits = match &measure.kind {
            MeasureKind::Number { unit, .. } => HEIGHT_UNITS.contains(&&*unit.code),
            MeasureKind::Choice { .. } => false,
        };
        if !fits
            || measure.carrier != Carrier::Assessment
            || !matches!(measure.origin, Origin::Reported)
        {
            let message = format!("`{}` is no standing height", name.text);
            let note = Note::new(Code::BandHeight, name.at, message);
            self.findings
                .add(note.label("an assessment's measure in `mm`, `cm` or `m`"));
            return None;
        }
        Some(index)
    }
}

/// Where a value stands in a row: exactly, or in a sequence the highest that is not above it.
pub(super) fn place(row: &Row, value: &At<RowValue>) -> Option<usize> {
    match &value.value {
        RowValue::Number(number) if row.is_sequence => row
            .values
            .iter()
            .rposition(|step| matches!(&step.value, RowValue::Number(known) if known <= number)),
        value => row.values.iter().position(|step| step.value == *value),
    }
}

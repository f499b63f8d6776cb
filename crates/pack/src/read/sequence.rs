//! Reading a row of loads that is a sequence: from, to, and by how much each is above the one before.
//!
//! Leaves to others: whether the exercise is done with a band (`crate::check`).

use super::ROW_VALUES_MAX;
use super::draft::{RowStepDraft, SequenceDraft};
use super::fields::{Fields, Walk};
use super::rules::criterion;
use crate::decimal;
use crate::diagnostic::{Code, Note};
use crate::model::{RowValue, TORQUE};
use crate::quantity::{Milli, Variable};
use crate::source::At;
use toml::Spanned;
use toml::de::DeValue;

/// Least and most step of a sequence, in thousandths of a percent.
const STEP_MPCT: std::ops::RangeInclusive<i64> = 500..=100_000;
/// Most torque that a sequence may go to.
const TORQUE_MAX: Milli = Milli::whole(500);
/// A hundred percent, in thousandths of one.
const WHOLE_MPCT: i64 = 100_000;

/// A table of `values`: each value is the one before and a step, rounded down to thousandths, ending at or below `to`.
/// What every value above the first needs stands in `needs`. A sequence that cannot be is reported, and others stand in for its values
/// so that no more is said of it.
pub(crate) fn sequence(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    variable: Variable,
) -> (Vec<RowStepDraft>, SequenceDraft) {
    let at = walk.locate(value);
    let mut needs = None;
    let mut step = SequenceDraft { step_mpct: 0, at };
    let mut values = None;
    if let Some(mut fields) = walk.fields(value, "the sequence") {
        needs = fields
            .get("needs")
            .and_then(|value| criterion(walk, value, 0));
        values = read(walk, &mut fields, &mut step);
        fields.finish(walk);
        if variable != Variable::Load {
            let message = format!("`{}` has no sequence of values", variable.word());
            let note = Note::new(Code::LoadSequence, at, message);
            walk.findings
                .add(note.label("only the load of an exercise with a band has one"));
        }
    }
    let values = values.unwrap_or_else(|| (1..10).map(Milli::whole).collect());
    let mut steps: Vec<RowStepDraft> = Vec::with_capacity(values.len());
    for value in values {
        let value = At {
            value: RowValue::Number(value),
            at,
        };
        // Read once, under the second value; the check gives it to all that follow.
        let needs = if steps.len() == 1 { needs.take() } else { None };
        steps.push(RowStepDraft {
            value,
            needs,
            seconds: None,
        });
    }
    (steps, step)
}

fn read(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    sequence: &mut SequenceDraft,
) -> Option<Vec<Milli>> {
    let from = fields.need_number(walk, "from");
    let to = fields.need_number(walk, "to");
    let unit = fields.need_text(walk, "unit");
    let step = fields.need_text(walk, "step");
    let (from, to, unit, step) = (from?, to?, unit?, step?);
    if unit.text != TORQUE {
        let message = format!("a sequence of loads is in `{TORQUE}`");
        let note = Note::new(Code::LoadSequence, unit.at, message);
        walk.findings.add(note.did_you_mean_text(Some(TORQUE)));
        return None;
    }
    let percent = step.text.strip_suffix('%').map(str::trim_end);
    let percent = percent.and_then(|percent| decimal::parse(percent).ok());
    let Some(Milli(step_mpct)) = percent.filter(|Milli(mpct)| STEP_MPCT.contains(mpct)) else {
        let message = format!("`{}` is no step of a sequence", step.text);
        let note = Note::new(Code::LoadSequence, step.at, message);
        walk.findings
            .add(note.label("from 0.5 % to 100 %, such as `8 %`"));
        return None;
    };
    if from.value.0 <= 0 || to.value < from.value || to.value > TORQUE_MAX {
        let message = format!("no sequence goes from {} to {}", from.value, to.value);
        let note = Note::new(Code::LoadSequence, to.at, message);
        let label = format!("above 0, upwards, and at most {TORQUE_MAX} {TORQUE}");
        walk.findings.add(note.label(label));
        return None;
    }
    let values = unroll(from.value, to.value, step_mpct);
    if values.is_none() {
        let message = format!("a step of {} is too small here", step.text);
        let note = Note::new(Code::LoadSequence, step.at, message);
        walk.findings.add(note.label(format!(
            "each value must be above the one before, and there may be {ROW_VALUES_MAX}"
        )));
    }
    *sequence = SequenceDraft {
        step_mpct,
        at: step.at,
    };
    values
}

/// The values; none where one is not above the one before, or they are too many.
fn unroll(from: Milli, to: Milli, step_mpct: i64) -> Option<Vec<Milli>> {
    let mut values = vec![from];
    let mut now = from.0;
    loop {
        // At most 500,000 thousandths times 200,000: far inside an i64.
        let next = now * (WHOLE_MPCT + step_mpct) / WHOLE_MPCT;
        if next <= now {
            return None;
        }
        if next > to.0 {
            return Some(values);
        }
        if values.len() >= ROW_VALUES_MAX {
            return None;
        }
        values.push(Milli(next));
        now = next;
    }
}

#[cfg(test)]
#[path = "sequence_tests.rs"]
mod tests;

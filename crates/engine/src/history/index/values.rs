//! Readings as values by the pack's numbers.
//!
//! Leaves to others: which fact they belong to (`super::build`).

use super::rows::value_in;
use super::{Exercised, Val, Values};
use crate::fact::{Done, Reading, Value};
use rungwise_pack::model::{Carrier, Measure, MeasureIx, MeasureKind, Origin, Pack, Worse};

/// Readings by measure, several of one measure reduced to the worst (the last, where neither way is worse).
pub(super) fn values(pack: &Pack, readings: &[Reading]) -> Values {
    let mut values: Values = Vec::with_capacity(readings.len());
    for reading in readings {
        let Some(ix) = pack.measure(&reading.measure) else {
            continue;
        };
        let Some(measure) = pack.measures.get(ix.at()) else {
            continue;
        };
        let Some(value) = value_of(measure, &reading.value) else {
            continue;
        };
        let before = values.iter().find(|(of, _)| *of == ix);
        let before = before.map(|(_, value)| *value);
        let value = before.map_or(value, |before| worse_of(measure, before, value));
        match values.iter_mut().find(|(of, _)| *of == ix) {
            Some((_, kept)) => *kept = value,
            None => values.push((ix, value)),
        }
    }
    values.sort_unstable_by_key(|(of, _)| *of);
    values
}

/// The worst over a session's exercises of every measure that all of those done or skipped for pain have a value for.
pub(super) fn worst(pack: &Pack, exercises: &[Exercised]) -> Values {
    let measures = (0u16..).map(MeasureIx).zip(&pack.measures);
    let measures = measures.filter(|(_, measure)| {
        measure.carrier == Carrier::Exercise
            && measure.worse != Worse::Neither
            && matches!(measure.origin, Origin::Reported)
    });
    measures
        .filter_map(|(ix, measure)| {
            let mut found = None;
            for done in exercises.iter().filter(|done| done.counts()) {
                let pain = done.done == Done::SkippedForPain;
                let value =
                    value_in(&done.values, ix).or_else(|| worst_end(measure).filter(|_| pain))?;
                found = Some(found.map_or(value, |before| worse_of(measure, before, value)));
            }
            Some((ix, found?))
        })
        .collect()
}

fn value_of(measure: &Measure, value: &Value) -> Option<Val> {
    match (value, &measure.kind) {
        (Value::Number(number), MeasureKind::Number { .. }) => Some(Val::Number(number.0)),
        (Value::Choice(word), MeasureKind::Choice { choices }) => {
            let at = choices.iter().position(|choice| choice == word)?;
            u16::try_from(at).ok().map(Val::Choice)
        }
        (Value::CouldNot, _) => worst_end(measure),
        _ => None,
    }
}

/// The worst value that a measure can take; none where neither way is worse.
pub(crate) fn worst_end(measure: &Measure) -> Option<Val> {
    match (&measure.kind, measure.worse) {
        (MeasureKind::Number { max, .. }, Worse::Higher) => Some(Val::Number(max.0)),
        (MeasureKind::Number { min, .. }, Worse::Lower) => Some(Val::Number(min.0)),
        (MeasureKind::Choice { choices }, _) => {
            let last = choices.len().checked_sub(1)?;
            u16::try_from(last).ok().map(Val::Choice)
        }
        (MeasureKind::Number { .. }, Worse::Neither) => None,
    }
}

/// The worse of two values; the later where neither way is worse.
pub(crate) fn worse_of(measure: &Measure, before: Val, later: Val) -> Val {
    match (before, later, measure.worse) {
        (Val::Number(one), Val::Number(two), Worse::Higher) => Val::Number(one.max(two)),
        (Val::Number(one), Val::Number(two), Worse::Lower) => Val::Number(one.min(two)),
        (Val::Choice(one), Val::Choice(two), _) => Val::Choice(one.max(two)),
        _ => later,
    }
}

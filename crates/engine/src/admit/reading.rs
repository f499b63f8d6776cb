//! One value of one measure: read from the wire, and judged against what the pack declares.
//!
//! Leaves to others: where a measure may stand (`super::report`).

use super::refusal::{Noun, Refusal, Wrong};
use crate::fact::{Reading, Value};
use rungwise_pack::model::{Measure, MeasureKind, Origin, Pack, Worse};
use rungwise_pack::quantity::{Key, Milli, Unit};
use rungwise_pack::{decimal, suggest, unit};

/// A value as it arrives, before its measure is known.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Given<'a> {
    /// A number as text, such as `1.5`.
    Text(&'a str),
    /// A number in thousandths.
    Milli(Milli),
    /// A choice by its word.
    Choice(&'a str),
    /// Could not, because of pain.
    CouldNot,
}

/// Reads a value that arrived as (name, value, unit) and judges it. A number needs its measure's own unit (a plain
/// count may come without one); a choice and `could not` need none.
///
/// # Errors
/// A [`Refusal`] under `path` (the reading's own, to which `.measure`, `.value` or `.unit` is added).
pub fn reading(
    pack: &Pack,
    path: &str,
    name: &str,
    given: &Given<'_>,
    unit: &str,
) -> Result<Reading, Refusal> {
    let measure = find(pack, path, name)?;
    check_unit(measure, given, unit).map_err(|wrong| at(path, "unit", wrong))?;
    let value = match given {
        Given::Milli(number) => Value::Number(*number),
        Given::Choice(word) => Value::Choice(Key::from(*word)),
        Given::CouldNot => Value::CouldNot,
        Given::Text(text) => Value::Number(decimal::parse(text).map_err(|why| {
            at(
                path,
                "value",
                Wrong::NotANumber {
                    given: (*text).into(),
                    why,
                },
            )
        })?),
    };
    check_value(measure, &value).map_err(|wrong| at(path, wrong_field(&wrong), wrong))?;
    Ok(Reading {
        measure: measure.name.clone(),
        value,
    })
}

fn at(path: &str, field: &str, wrong: Wrong) -> Refusal {
    Refusal {
        path: format!("{path}.{field}"),
        wrong,
    }
}

/// The field of a reading that a value's refusal blames.
pub(super) const fn wrong_field(wrong: &Wrong) -> &'static str {
    match wrong {
        Wrong::WorkedOut { .. } => "measure",
        _ => "value",
    }
}

/// The measure called `name`.
pub(super) fn find<'p>(pack: &'p Pack, path: &str, name: &str) -> Result<&'p Measure, Refusal> {
    let found = pack
        .measure(name)
        .and_then(|measure| pack.measures.get(measure.at()));
    found.ok_or_else(|| {
        let reported = pack
            .measures
            .iter()
            .filter(|measure| matches!(measure.origin, Origin::Reported));
        let known = reported.map(|measure| measure.name.clone()).collect();
        at(path, "measure", unknown(Noun::Measure, name, known))
    })
}

/// The refusal of a name that is not known, with the nearest one that is.
pub(super) fn unknown(noun: Noun, name: &str, known: Vec<Key>) -> Wrong {
    let meant = suggest::nearest(name, known.iter().map(|known| &**known)).map(Key::from);
    Wrong::Unknown {
        noun,
        name: name.into(),
        meant,
        known,
    }
}

fn check_unit(measure: &Measure, given: &Given<'_>, code: &str) -> Result<(), Wrong> {
    let is_number = matches!(given, Given::Text(_) | Given::Milli(_));
    let wanted = match &measure.kind {
        MeasureKind::Number { unit, .. } => Some(unit),
        MeasureKind::Choice { .. } => None,
    };
    let fits = match wanted {
        Some(wanted) if is_number || !code.is_empty() => fits(wanted, code),
        _ => code.is_empty() || is_number,
    };
    if fits {
        return Ok(());
    }
    let wanted = wanted.map_or_else(|| Key::from(""), |unit| unit.code.clone());
    Err(Wrong::WrongUnit {
        measure: measure.name.clone(),
        given: code.into(),
        wanted,
    })
}

fn fits(wanted: &Unit, code: &str) -> bool {
    if code.is_empty() {
        return unit::find("1").is_some_and(|one| unit::same(wanted, &one));
    }
    unit::find(code).is_some_and(|given| unit::same(wanted, &given))
}

/// Judges a value against its measure's kind, range and step.
pub(super) fn check_value(measure: &Measure, value: &Value) -> Result<(), Wrong> {
    if !matches!(measure.origin, Origin::Reported) {
        return Err(Wrong::WorkedOut {
            measure: measure.name.clone(),
        });
    }
    match (&measure.kind, value) {
        (_, Value::CouldNot) if measure.worse == Worse::Neither => Err(Wrong::NoWorseEnd {
            measure: measure.name.clone(),
        }),
        (_, Value::CouldNot) => Ok(()),
        (
            MeasureKind::Number {
                unit,
                min,
                max,
                step,
            },
            Value::Number(given),
        ) => check_number(*given, (*min, *max, *step), unit),
        (MeasureKind::Choice { choices }, Value::Choice(given)) if choices.contains(given) => {
            Ok(())
        }
        (MeasureKind::Choice { choices }, Value::Choice(given)) => Err(Wrong::UnknownChoice {
            measure: measure.name.clone(),
            given: given.clone(),
            choices: choices.clone(),
        }),
        (MeasureKind::Number { .. }, Value::Choice(_)) => Err(Wrong::WrongKind {
            measure: measure.name.clone(),
            wanted: "a number",
        }),
        (MeasureKind::Choice { .. }, Value::Number(_)) => Err(Wrong::WrongKind {
            measure: measure.name.clone(),
            wanted: "a choice",
        }),
    }
}

fn check_number(given: Milli, range: (Milli, Milli, Milli), unit: &Unit) -> Result<(), Wrong> {
    let (min, max, step) = range;
    let unit = unit.code.clone();
    if given < min || given > max {
        return Err(Wrong::OutOfRange {
            given,
            min,
            max,
            unit,
        });
    }
    let past = given
        .0
        .saturating_sub(min.0)
        .checked_rem(step.0)
        .unwrap_or(0);
    if past == 0 {
        return Ok(());
    }
    let below = Milli(given.0.saturating_sub(past));
    let above = Milli(below.0.saturating_add(step.0).min(max.0));
    Err(Wrong::OffStep {
        given,
        step,
        below,
        above,
        unit,
    })
}

//! The comfortable range of an exercise, as last reported.
//!
//! A bound: it is read from the last fact that carries it, however old, because an old bound is still more careful than
//! none.
//!
//! Leaves to others: bounding the dose by it (`super::bound`).

use crate::history::{History, Sheet, Val, value_in};
use jiff::civil::Date;
use rungwise_pack::model::{Carrier, ExerciseIx, MeasureIx, Pack, RowValue};
use rungwise_pack::quantity::Milli;

/// The comfortable range of an exercise last reported on or before `as_of`, *could not* as the measure's worst end. None
/// where the exercise has no such measure or nobody reported it.
pub(super) fn last_reported(
    pack: &Pack,
    history: &History,
    exercise: ExerciseIx,
    as_of: Date,
) -> Option<RowValue> {
    let measure = pack.exercises.get(exercise.at())?.comfortable?;
    match last_value(pack, history, exercise, measure, as_of)? {
        Val::Number(thousandths) => Some(RowValue::Number(Milli(thousandths))),
        Val::Choice(_) => None,
    }
}

fn last_value(
    pack: &Pack,
    history: &History,
    exercise: ExerciseIx,
    measure: MeasureIx,
    as_of: Date,
) -> Option<Val> {
    let index = history.index();
    let sessions = index
        .sessions
        .iter()
        .rev()
        .filter(|session| session.date <= as_of);
    match pack.measures.get(measure.at())?.carrier {
        Carrier::Exercise => sessions
            .filter_map(|session| session.exercise(exercise))
            .find_map(|done| value_in(&done.values, measure)),
        Carrier::Session => {
            let mut values = sessions.map(|session| value_in(&session.values, measure));
            values.find_map(|value| value)
        }
        Carrier::MorningAfter => sessions
            .flat_map(|session| session.mornings.iter().rev())
            .filter(|morning| morning.date <= as_of)
            .find_map(|morning| value_in(&morning.values, measure)),
        Carrier::Assessment => sheets(&index.assessments, measure, as_of),
        Carrier::Screening => sheets(&index.screenings, measure, as_of),
        Carrier::Nothing => None,
    }
}

fn sheets(sheets: &[Sheet], measure: MeasureIx, as_of: Date) -> Option<Val> {
    let mut newest_first = sheets.iter().rev().filter(|sheet| sheet.date <= as_of);
    newest_first.find_map(|sheet| value_in(&sheet.values, measure))
}

//! Ladders: where a place stands on its exercise's ladder, and one step up, down, easier or capped from there.
//!
//! Everything here is about one [`Exercise`] and is pure. A *rung* is an index into [`Exercise::rungs`]; a *dose* is one
//! index a row of [`Exercise::rows`]. A place keeps its rung as values, so that it can be read under a later pack.
//!
//! Leaves to others: when a line moves (`crate::decide`), and how the ladder is unrolled (`rungwise-pack`).

use rungwise_pack::model::{Criterion, Exercise, ExerciseIx, Pack, Row, RowValue};
use rungwise_pack::quantity::Variable;
use std::cmp::Ordering;

/// A dose as values, in any order.
pub type Values = Vec<(Variable, RowValue)>;

/// The exercise that goes by `key` now, or went by it in an earlier version of the pack.
#[must_use]
pub fn find_exercise(pack: &Pack, key: &str) -> Option<ExerciseIx> {
    pack.exercise(key).or_else(|| {
        let at = pack
            .exercises
            .iter()
            .position(|exercise| exercise.was.iter().any(|was| &**was == key))?;
        u16::try_from(at).ok().map(ExerciseIx)
    })
}

/// The row of `variable`, by index into [`Exercise::rows`]. A ladder has at most one row a variable.
#[must_use]
pub fn row_of(exercise: &Exercise, variable: Variable) -> Option<usize> {
    exercise
        .rows
        .iter()
        .position(|row| row.variable == variable)
}

/// The rung that has exactly these values; none where a row is not named, is named with a value it does not have, or
/// no rung combines them.
#[must_use]
pub fn rung_of(exercise: &Exercise, values: &[(Variable, RowValue)]) -> Option<u16> {
    let wanted: Option<Vec<u16>> = exercise
        .rows
        .iter()
        .map(|row| {
            let (_, value) = values
                .iter()
                .find(|(variable, _)| *variable == row.variable)?;
            index_of(row, value)
        })
        .collect();
    let wanted = wanted?;
    let at = exercise.rungs.iter().position(|rung| rung.0 == wanted)?;
    u16::try_from(at).ok()
}

/// A rung's values, in the order of the exercise's rows. An index past the ladder gives no values.
#[must_use]
pub fn rung_values(exercise: &Exercise, rung: u16) -> Values {
    exercise
        .rungs
        .get(usize::from(rung))
        .map(|rung| row_values(exercise, &rung.0))
        .unwrap_or_default()
}

/// The rung on which a place with these values stands in this (perhaps newer) pack: the highest rung that is not above
/// them in any variable. A variable that the place does not name admits only its gentlest value; one that the ladder no
/// longer has is passed over. None: no rung is low enough, or a label is no longer known.
#[must_use]
pub fn map_rung(exercise: &Exercise, values: &[(Variable, RowValue)]) -> Option<u16> {
    let most: Option<Vec<u16>> = exercise
        .rows
        .iter()
        .map(|row| {
            match values
                .iter()
                .find(|(variable, _)| *variable == row.variable)
            {
                Some((_, value)) => at_or_below(row, value),
                None => Some(0),
            }
        })
        .collect();
    let most = most?;
    let at = exercise
        .rungs
        .iter()
        .rposition(|rung| not_above(&rung.0, &most))?;
    u16::try_from(at).ok()
}

/// The steps of `relief` that the ladder still has room for on `rung`, oldest first.
#[must_use]
pub fn map_relief(exercise: &Exercise, rung: u16, relief: &[Variable]) -> Vec<Variable> {
    let mut room = rung_indexes(exercise, rung);
    relief
        .iter()
        .copied()
        .filter(|variable| {
            let left = row_of(exercise, *variable).and_then(|row| room.get_mut(row));
            match left {
                Some(left) if *left > 0 => {
                    *left -= 1;
                    true
                }
                _ => false,
            }
        })
        .collect()
}

/// The rung an exercise comes in on: its start rung, or `return_at` rungs under its last one (not below the first), and
/// never above its last one. None where the last place has no rung in this pack.
#[must_use]
pub fn entry_rung(exercise: &Exercise, last: Option<&[(Variable, RowValue)]>) -> Option<u16> {
    let Some(last) = last else {
        return Some(exercise.start);
    };
    let last = map_rung(exercise, last)?;
    Some(match exercise.return_at {
        Some(under) => last.saturating_sub(under),
        None => exercise.start.min(last),
    })
}

/// Values for every row, in the order of rows: those given, else the start rung's.
#[must_use]
pub fn fill(exercise: &Exercise, values: &[(Variable, RowValue)]) -> Values {
    let mut whole = rung_values(exercise, exercise.start);
    for (variable, value) in &mut whole {
        if let Some((_, given)) = values.iter().find(|(of, _)| of == variable) {
            *value = given.clone();
        }
    }
    whole
}

/// The next harder rung. INVARIANT: [`previous_rung`] leads back, except from the ends.
#[must_use]
pub fn next_rung(exercise: &Exercise, rung: u16) -> Option<u16> {
    let next = rung.checked_add(1)?;
    exercise.rungs.get(usize::from(next)).map(|_| next)
}

/// The next gentler rung; none from the first.
#[must_use]
pub fn previous_rung(exercise: &Exercise, rung: u16) -> Option<u16> {
    let previous = rung.checked_sub(1)?;
    exercise.rungs.get(usize::from(rung)).map(|_| previous)
}

/// Whether nothing is left to climb on this ladder: the last rung with no relief to regain.
#[must_use]
pub fn at_top(exercise: &Exercise, rung: u16, relief: &[Variable]) -> bool {
    relief.is_empty() && next_rung(exercise, rung).is_none()
}

/// The dose of a place: the rung's row indexes, each relief step taken off its row, none below the first value.
#[must_use]
pub fn dose(exercise: &Exercise, rung: u16, relief: &[Variable]) -> Vec<u16> {
    let mut dose = rung_indexes(exercise, rung);
    for variable in relief {
        if let Some(at) = row_of(exercise, *variable).and_then(|row| dose.get_mut(row)) {
            *at = at.saturating_sub(1);
        }
    }
    dose
}

/// A dose as values in the order in which it is read aloud ([`Variable::ALL`]).
#[must_use]
pub fn dose_values(exercise: &Exercise, dose: &[u16]) -> Values {
    let values = row_values(exercise, dose);
    Variable::ALL
        .iter()
        .filter_map(|variable| values.iter().find(|(of, _)| of == variable).cloned())
        .collect()
}

/// The step that gives way next: the first row in the exercise's order that is not yet at its first value. None: nothing
/// is left to give.
#[must_use]
pub fn give(exercise: &Exercise, rung: u16, relief: &[Variable]) -> Option<Variable> {
    let dose = dose(exercise, rung, relief);
    exercise.gives_way.iter().find_map(|row| {
        let row = usize::from(*row);
        let at = dose.get(row)?;
        (*at > 0)
            .then(|| exercise.rows.get(row).map(|row| row.variable))
            .flatten()
    })
}

/// Takes back the newest step of relief. None where there is none.
pub fn regain(relief: &mut Vec<Variable>) -> Option<Variable> {
    relief.pop()
}

/// What must be met to go from one dose to a harder one: the needs of every value that changes upwards, with its
/// variable, in the order of rows.
#[must_use]
pub fn needs_between<'a>(
    exercise: &'a Exercise,
    from: &[u16],
    to: &[u16],
) -> Vec<(Variable, &'a Criterion)> {
    let steps = exercise.rows.iter().zip(from.iter().zip(to));
    steps
        .filter(|(_, (from, to))| from < to)
        .filter_map(|(row, (_, to))| {
            let needs = row.values.get(usize::from(*to))?.needs.as_ref()?;
            Some((row.variable, needs))
        })
        .collect()
}

/// The highest dose at or below `dose` that has at most `at_most` in `variable`. A ladder without that row is not bound.
/// None: no value of the row is low enough, or the label is not known to it.
#[must_use]
pub fn cap(
    exercise: &Exercise,
    dose: &[u16],
    variable: Variable,
    at_most: &RowValue,
) -> Option<Vec<u16>> {
    let mut capped = dose.to_vec();
    let Some(at) = row_of(exercise, variable) else {
        return Some(capped);
    };
    let most = at_or_below(exercise.rows.get(at)?, at_most)?;
    if let Some(index) = capped.get_mut(at) {
        *index = (*index).min(most);
    }
    Some(capped)
}

/// Whether no row of `dose` is above its row in `most`.
#[must_use]
pub fn not_above(dose: &[u16], most: &[u16]) -> bool {
    dose.len() == most.len() && dose.iter().zip(most).all(|(index, most)| index <= most)
}

/// Whether `dose` stands at or past `value` in its row. A ladder without the row, or a row without the label, has not.
#[must_use]
pub fn has_reached(
    exercise: &Exercise,
    dose: &[u16],
    variable: Variable,
    value: &RowValue,
) -> bool {
    let Some(at) = row_of(exercise, variable) else {
        return false;
    };
    let (Some(row), Some(index)) = (exercise.rows.get(at), dose.get(at)) else {
        return false;
    };
    let now = row.values.get(usize::from(*index)).map(|step| &step.value);
    now.and_then(|now| compare(row, now, value))
        .is_some_and(Ordering::is_ge)
}

/// Where `value` stands in `row`, exactly.
#[must_use]
pub fn index_of(row: &Row, value: &RowValue) -> Option<u16> {
    let at = row.values.iter().position(|step| step.value == *value)?;
    u16::try_from(at).ok()
}

/// Where `value` stands in `row`: exactly, or in a sequence at its highest value that is not above it.
#[must_use]
pub fn step_of(row: &Row, value: &RowValue) -> Option<u16> {
    match value {
        RowValue::Number(_) if row.is_sequence => at_or_below(row, value),
        _ => index_of(row, value),
    }
}

/// The same values, those of sequences as they stand in their row.
#[must_use]
pub fn on_rows(exercise: &Exercise, mut values: Values) -> Values {
    for (variable, value) in &mut values {
        let row = row_of(exercise, *variable).and_then(|row| exercise.rows.get(row));
        let Some(row) = row.filter(|row| row.is_sequence) else {
            continue;
        };
        let step = step_of(row, value).and_then(|at| row.values.get(usize::from(at)));
        if let Some(step) = step {
            *value = step.value.clone();
        }
    }
    values
}

/// The highest value of `row` that is not above `value`. A number need not be in the row; a label must.
#[must_use]
pub fn at_or_below(row: &Row, value: &RowValue) -> Option<u16> {
    let at = row
        .values
        .iter()
        .rposition(|step| compare(row, &step.value, value).is_some_and(Ordering::is_le))?;
    u16::try_from(at).ok()
}

/// How `left` stands to `right` in the row's own order, in which a later value is harder: numbers by the direction in
/// which the row runs, labels by where they stand. None where they cannot be compared.
#[must_use]
pub fn compare(row: &Row, left: &RowValue, right: &RowValue) -> Option<Ordering> {
    match (left, right) {
        (RowValue::Number(left), RowValue::Number(right)) if runs_down(row) => {
            Some(right.cmp(left))
        }
        (RowValue::Number(left), RowValue::Number(right)) => Some(left.cmp(right)),
        _ => Some(index_of(row, left)?.cmp(&index_of(row, right)?)),
    }
}

/// Whether harder means a smaller number in this row. Where a single value does not tell: less rest is harder, and more
/// of anything else.
fn runs_down(row: &Row) -> bool {
    let mut numbers = row.values.iter().filter_map(|step| match &step.value {
        RowValue::Number(number) => Some(number),
        RowValue::Label(_) => None,
    });
    match (numbers.next(), numbers.next_back()) {
        (Some(first), Some(last)) => last < first,
        _ => row.variable == Variable::Rest,
    }
}

fn rung_indexes(exercise: &Exercise, rung: u16) -> Vec<u16> {
    exercise
        .rungs
        .get(usize::from(rung))
        .map(|rung| rung.0.clone())
        .unwrap_or_default()
}

fn row_values(exercise: &Exercise, dose: &[u16]) -> Values {
    exercise
        .rows
        .iter()
        .zip(dose)
        .filter_map(|(row, index)| {
            Some((
                row.variable,
                row.values.get(usize::from(*index))?.value.clone(),
            ))
        })
        .collect()
}

#[cfg(test)]
mod tests;

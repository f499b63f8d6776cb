//! What a chart says of the lines, their exercises and the ladders of these.
//!
//! Leaves to others: rules (`super`).

use super::{Said, Statement, criterion, limit, plain};
use rungwise_engine::sheet::{say, say_dose};
use rungwise_pack::model::{Exercise, ExerciseIx, Pack, Phase, Row, RowValue, RuleIx, TORQUE};
use rungwise_pack::quantity::Variable;

/// The exercises of one movement.
#[derive(Clone, Debug)]
pub(crate) struct LineSaid {
    /// Its key.
    pub(crate) key: String,
    /// Its exercises, gentlest first.
    pub(crate) exercises: Vec<ExerciseSaid>,
}

/// An exercise with its ladder.
#[derive(Clone, Debug)]
pub(crate) struct ExerciseSaid {
    /// Its key.
    pub(crate) key: String,
    /// Its name for patients.
    pub(crate) name: String,
    /// The phases that have it, as indexes.
    pub(crate) phases: Vec<usize>,
    /// The rows, fastest first.
    pub(crate) rows: Vec<RowSaid>,
    /// The dose it starts on, in words.
    pub(crate) start: String,
    /// What gives way, in order, and what else bounds the dose.
    pub(crate) notes: Vec<(&'static str, String)>,
    /// Its own limits.
    pub(crate) limits: Vec<Statement>,
    /// When it climbs.
    pub(crate) climb: Option<Statement>,
    /// When it comes back after it was taken out.
    pub(crate) bring_back: Option<Statement>,
}

/// A row of a ladder.
#[derive(Clone, Debug)]
pub(crate) struct RowSaid {
    /// What goes up.
    pub(crate) variable: String,
    /// Its values, gentlest first.
    pub(crate) values: String,
    /// What happens when it is full.
    pub(crate) full: Option<&'static str>,
    /// Values that need more than the climb rule.
    pub(crate) needs: Vec<(String, Said)>,
}

/// Every line.
pub(crate) fn lines(pack: &Pack, language: &str) -> Vec<LineSaid> {
    let lines = pack.lines.iter().map(|line| LineSaid {
        key: line.key.to_string(),
        exercises: line
            .exercises
            .iter()
            .filter_map(|ix| exercise_said(pack, language, *ix))
            .collect(),
    });
    lines.collect()
}

/// The lines of a phase, each with the names of the exercises that the phase has of it.
pub(super) fn of_phase(pack: &Pack, language: &str, phase: &Phase) -> Vec<(String, Vec<String>)> {
    let lines = pack.lines.iter().map(|line| {
        let exercises = line.exercises.iter();
        let of_both = exercises.filter(|ix| phase.exercises.contains(ix));
        let names = of_both.filter_map(|ix| {
            let exercise = pack.exercises.get(ix.at())?;
            Some(plain(&say(pack, language, &exercise.name, &[])))
        });
        (line.key.to_string(), names.collect::<Vec<String>>())
    });
    lines.filter(|(_, names)| !names.is_empty()).collect()
}

fn exercise_said(pack: &Pack, language: &str, ix: ExerciseIx) -> Option<ExerciseSaid> {
    let exercise = pack.exercises.get(ix.at())?;
    let phases = pack.phases.iter().enumerate();
    let rule = |ix: RuleIx| Some(super::statement(pack, pack.rules.get(ix.at())?));
    let last = exercise.rows.len().saturating_sub(1);
    let rows = exercise.rows.iter().enumerate();
    Some(ExerciseSaid {
        key: exercise.key.to_string(),
        name: plain(&say(pack, language, &exercise.name, &[])),
        phases: phases
            .filter(|(_, phase)| phase.exercises.contains(&ix))
            .map(|(at, _)| at)
            .collect(),
        rows: rows
            .map(|(at, row)| row_said(pack, row, at < last))
            .collect(),
        start: start(pack, language, exercise),
        notes: notes(pack, language, exercise),
        limits: exercise
            .limits
            .iter()
            .map(|one| limit(pack, language, one))
            .collect(),
        climb: rule(exercise.climb),
        bring_back: exercise.bring_back.and_then(rule),
    })
}

fn row_said(pack: &Pack, row: &Row, is_followed: bool) -> RowSaid {
    let unit = unit(row);
    let values: Vec<String> = row
        .values
        .iter()
        .map(|step| step.value.to_string())
        .collect();
    let mut said = match values.as_slice() {
        [first, .., last] if row.is_sequence => format!("{first} to {last}"),
        all => all.join(", "),
    };
    if let Some(unit) = unit {
        said = format!("{said} {unit}");
    }
    match values.len() {
        1 => said.push_str(" throughout"),
        2 if row.is_sequence => said.push_str(" in 1 step"),
        count if row.is_sequence => {
            said.push_str(&format!(" in {} steps", count.saturating_sub(1)));
        }
        _ => {}
    }
    // Of one value, or with nothing after it, a row has nowhere to return to.
    let turns = is_followed && row.values.len() > 1;
    RowSaid {
        variable: row.variable.word().to_owned(),
        values: said,
        full: turns.then_some(if row.returns { "returns" } else { "stays" }),
        needs: needs(pack, row),
    }
}

/// What values need beside the climb rule: neighbours that need the same are told together.
fn needs(pack: &Pack, row: &Row) -> Vec<(String, Said)> {
    let mut told: Vec<(Vec<String>, Said)> = Vec::new();
    let mut goes_on = false;
    for step in &row.values {
        let needs = step.needs.as_ref().map(|needs| criterion(pack, needs));
        let value = with_unit(row, &step.value);
        match (needs, told.last_mut()) {
            (Some(needs), Some((values, before))) if goes_on && *before == needs => {
                values.push(value)
            }
            (Some(needs), _) => {
                told.push((vec![value], needs));
                goes_on = true;
            }
            (None, _) => goes_on = false,
        }
    }
    let told = told.into_iter().map(|(values, needs)| {
        let values = match values.as_slice() {
            [first, .., last] => format!("each of {first} to {last}"),
            all => all.concat(),
        };
        (values, needs)
    });
    told.collect()
}

/// The unit of a row's numbers, where a reader needs one.
fn unit(row: &Row) -> Option<&'static str> {
    let numbers = row
        .values
        .iter()
        .all(|step| matches!(step.value, RowValue::Number(_)));
    match row.variable {
        _ if !numbers => None,
        Variable::Load if row.is_sequence => Some(TORQUE),
        Variable::HoldTime
        | Variable::Rest
        | Variable::Load
        | Variable::Range
        | Variable::Effort => row.variable.unit(),
        _ => None,
    }
}

fn with_unit(row: &Row, value: &RowValue) -> String {
    unit(row).map_or_else(|| value.to_string(), |unit| format!("{value} {unit}"))
}

/// The dose of the start rung; a load of a sequence comes last.
fn start(pack: &Pack, language: &str, exercise: &Exercise) -> String {
    let rung = exercise.rungs.get(usize::from(exercise.start));
    let at = rung.iter().flat_map(|rung| &rung.0);
    let steps = exercise.rows.iter().zip(at);
    let steps: Vec<(&Row, &RowValue)> = steps
        .filter_map(|(row, at)| Some((row, &row.values.get(usize::from(*at))?.value)))
        .collect();
    let dose = steps.iter().filter(|(row, _)| !row.is_sequence);
    let dose = dose.map(|(row, value)| (row.variable, (*value).clone()));
    let said = say_dose(pack, language, &in_order(dose.collect()));
    let loads = steps.iter().filter(|(row, _)| row.is_sequence);
    loads.fold(said, |said, (row, load)| {
        format!("{said}, {}", with_unit(row, load))
    })
}

/// A dose in the order in which it is read aloud.
fn in_order(mut dose: Vec<(Variable, RowValue)>) -> Vec<(Variable, RowValue)> {
    dose.sort_by_key(|(variable, _)| Variable::ALL.iter().position(|one| one == variable));
    dose
}

/// What gives way, and what else bounds the dose.
fn notes(pack: &Pack, language: &str, exercise: &Exercise) -> Vec<(&'static str, String)> {
    let gives_way: Vec<&str> = exercise
        .gives_way
        .iter()
        .filter_map(|at| exercise.rows.get(usize::from(*at)))
        .map(|row| row.variable.word())
        .collect();
    let comfortable = exercise
        .comfortable
        .and_then(|ix| pack.measures.get(ix.at()));
    let returns = match exercise.return_at {
        None => "on its start".to_owned(),
        Some(0) => "where it was".to_owned(),
        Some(1) => "1 rung under where it was".to_owned(),
        Some(rungs) => format!("{rungs} rungs under where it was"),
    };
    let maintenance = exercise
        .maintenance
        .as_ref()
        .map(|kept| say_dose(pack, language, &in_order(kept.dose.clone())));
    [
        (!gives_way.is_empty()).then(|| ("gives way", gives_way.join(", then "))),
        comfortable.map(|measure| ("goes no further than", measure.name.to_string())),
        Some(("comes back", returns)),
        (!exercise.equipment.is_empty()).then(|| ("needs", exercise.equipment.join(", "))),
        maintenance.map(|dose| ("after discharge", dose)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

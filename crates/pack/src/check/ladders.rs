//! Ladders: rows of values, unrolled into one list of rungs.
//!
//! A ladder is an odometer. The first row turns fastest; when it is full the next row turns by one, and the rows before
//! it that return go back to their first value while the others stay full.
//!
//! Leaves to others: moving on a ladder (`rungwise-engine`).

use super::resolve::Build;
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{Maintenance, Row, RowStep, RowValue, Rung};
use crate::quantity::Variable;
use crate::read::ROW_VALUES_MAX;
use crate::read::draft::{ExerciseDraft, GroundsDraft, RowDraft};
use std::cmp::Ordering;

/// Most rungs of one exercise.
pub(crate) const RUNGS_MAX: usize = 1_000;

/// The rows, checked: no variable twice, values gentlest first and none twice.
pub(super) fn rows(build: &mut Build<'_, '_>, draft: &ExerciseDraft) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for row in &draft.rows {
        let word = row.variable.value.word();
        if rows
            .iter()
            .any(|known| known.variable == row.variable.value)
        {
            let message = format!("`{word}` has two rows on this ladder");
            build.findings.add(
                Note::new(Code::RowValueTwice, row.variable.at, message).label("the second one"),
            );
            continue;
        }
        if row.values.is_empty() || row.values.len() > ROW_VALUES_MAX {
            let code = if row.values.is_empty() {
                Code::RowEmpty
            } else {
                Code::TooMany
            };
            let message = format!("a row of {} values", row.values.len());
            build.findings.add(
                Note::new(code, row.at, message)
                    .label(format!("from 1 to {ROW_VALUES_MAX} values")),
            );
        }
        order(row, build.findings);
        let grounds = build.known.vouch(&row.grounds, build.findings);
        let grounds = GroundsDraft {
            grounds,
            at: row.grounds.at,
        };
        let mut values: Vec<RowStep> = row
            .values
            .iter()
            .map(|step| RowStep {
                value: step.value.value.clone(),
                needs: step
                    .needs
                    .as_ref()
                    .map(|needs| build.criterion(needs, &grounds)),
                seconds: step.seconds,
            })
            .collect();
        if row.sequence.is_some() {
            // What the second value of a sequence needs is needed for every one above the first.
            let needs = values.get(1).and_then(|step| step.needs.clone());
            for step in values.iter_mut().skip(2) {
                step.needs.clone_from(&needs);
            }
        }
        rows.push(Row {
            variable: row.variable.value,
            values,
            is_sequence: row.sequence.is_some(),
            returns: row.returns,
        });
    }
    if draft.rows.is_empty() {
        let message = format!("`{}` has no ladder", draft.key.text);
        build
            .findings
            .add(Note::new(Code::RowEmpty, draft.key.at, message).label("at least one row"));
    }
    rows
}

/// Numbers stand gentlest first: ascending, and for rest descending, since less rest is harder.
fn order(row: &RowDraft, findings: &mut Findings<'_>) {
    let wanted = if row.variable.value == Variable::Rest {
        Ordering::Greater
    } else {
        Ordering::Less
    };
    let direction = if wanted == Ordering::Less {
        "ascend"
    } else {
        "descend"
    };
    for (at, step) in row.values.iter().enumerate() {
        let earlier = row.values.get(..at).unwrap_or_default();
        let value = &step.value;
        if earlier.iter().any(|other| other.value.value == value.value) {
            let message = format!("`{}` stands twice in this row", value.value);
            findings.add(Note::new(Code::RowValueTwice, value.at, message).label("the second one"));
            continue;
        }
        let Some(before) = earlier.last() else {
            continue;
        };
        match (&before.value.value, &value.value) {
            (RowValue::Number(a), RowValue::Number(b)) if a.cmp(b) != wanted => {
                let message = format!(
                    "`{}` values {direction}, gentlest first",
                    row.variable.value.word()
                );
                findings
                    .add(Note::new(Code::RowOrder, value.at, message).label(format!("after {a}")));
            }
            (RowValue::Number(_), RowValue::Label(_))
            | (RowValue::Label(_), RowValue::Number(_)) => {
                let message = "numbers and labels in one row cannot be put in order";
                findings.add(Note::new(Code::RowOrder, value.at, message));
            }
            _ => {}
        }
    }
}

/// Unrolls the rows.
pub(super) fn rungs(rows: &[Row], draft: &ExerciseDraft, findings: &mut Findings<'_>) -> Vec<Rung> {
    let lengths: Vec<u16> = rows
        .iter()
        .map(|row| u16::try_from(row.values.len()).unwrap_or(u16::MAX))
        .collect();
    let mut rungs = Vec::new();
    if lengths.is_empty() || lengths.contains(&0) {
        return rungs;
    }
    let mut here = vec![0_u16; lengths.len()];
    loop {
        rungs.push(Rung(here.clone()));
        if rungs.len() > RUNGS_MAX {
            let message = format!("the ladder of `{}` is too long", draft.key.text);
            let note = Note::new(Code::LadderTooLong, draft.key.at, message)
                .label(format!("more than {RUNGS_MAX} rungs"));
            findings.add(note.help("let rows stay full (`full = \"stays\"`), or leave values out"));
            return rungs;
        }
        if !turn(&mut here, &lengths, rows) {
            return rungs;
        }
    }
}

/// One step up; false at the top.
fn turn(here: &mut [u16], lengths: &[u16], rows: &[Row]) -> bool {
    let next = here
        .iter()
        .zip(lengths)
        .position(|(at, length)| at + 1 < *length);
    let Some(next) = next else { return false };
    for (at, row) in here.iter_mut().zip(rows).take(next) {
        if row.returns {
            *at = 0;
        }
    }
    if let Some(at) = here.get_mut(next) {
        *at += 1;
    }
    true
}

/// The rung it starts on: the lowest with the values that `start` names.
pub(super) fn start(
    rows: &[Row],
    rungs: &[Rung],
    draft: &ExerciseDraft,
    findings: &mut Findings<'_>,
) -> u16 {
    let mut wanted: Vec<(usize, u16)> = Vec::new();
    for (variable, value) in &draft.start {
        let row = rows.iter().position(|row| row.variable == *variable);
        let found = row.and_then(|at| Some((at, rows.get(at)?)));
        let Some((at, row)) = found else {
            let message = format!("the ladder has no row `{}`", variable.word());
            findings.add(Note::new(Code::OffLadder, value.at, message));
            continue;
        };
        match super::band::place(row, value) {
            Some(place) => wanted.push((at, u16::try_from(place).unwrap_or(u16::MAX))),
            None => {
                let values: Vec<String> = row
                    .values
                    .iter()
                    .map(|step| step.value.to_string())
                    .collect();
                let message = format!("`{}` is not in the row `{}`", value.value, variable.word());
                findings.add(
                    Note::new(Code::OffLadder, value.at, message)
                        .label(format!("its values are {}", values.join(", "))),
                );
            }
        }
    }
    let fits = |rung: &Rung| {
        wanted
            .iter()
            .all(|(at, place)| rung.0.get(*at) == Some(place))
    };
    match rungs.iter().position(fits) {
        Some(at) => u16::try_from(at).unwrap_or(u16::MAX),
        None => {
            if let Some((_, value)) = draft.start.first().filter(|_| !rungs.is_empty()) {
                let message = "no rung of the ladder has all these values";
                findings.add(Note::new(Code::OffLadder, value.at, message));
            }
            0
        }
    }
}

/// The rows that give way, in order.
pub(super) fn gives_way(
    rows: &[Row],
    draft: &ExerciseDraft,
    findings: &mut Findings<'_>,
) -> Vec<u16> {
    let mut order: Vec<u16> = Vec::new();
    for variable in &draft.gives_way {
        let word = variable.value.word();
        let row = rows.iter().position(|row| row.variable == variable.value);
        match row.and_then(|at| u16::try_from(at).ok()) {
            Some(at) if order.contains(&at) => {
                let message = format!("`{word}` gives way twice");
                findings
                    .add(Note::new(Code::GivesWay, variable.at, message).label("the second one"));
            }
            Some(at) => order.push(at),
            None => {
                let words: Vec<&str> = rows.iter().map(|row| row.variable.word()).collect();
                let message = format!("`{word}` cannot give way: the ladder has no such row");
                let note = Note::new(Code::GivesWay, variable.at, message);
                findings.add(note.label(format!(
                    "its rows are {}",
                    crate::read::fields::listed(&words)
                )));
            }
        }
    }
    order
}

/// How far under its last rung it comes back.
pub(super) fn return_at(
    rungs: &[Rung],
    draft: &ExerciseDraft,
    findings: &mut Findings<'_>,
) -> Option<u16> {
    let back = draft.return_at.as_ref()?;
    if usize::from(back.value) >= rungs.len().max(1) {
        let message = format!("the ladder has only {} rungs", rungs.len());
        findings.add(
            Note::new(Code::ReturnAt, back.at, message)
                .label("it would come back below its first rung"),
        );
    }
    Some(back.value)
}

/// What discharge prescribes.
pub(super) fn maintenance(
    rows: &[Row],
    draft: &ExerciseDraft,
    findings: &mut Findings<'_>,
) -> Option<Maintenance> {
    let dose = draft.maintenance.as_ref()?;
    for (variable, value) in dose {
        let row = rows.iter().find(|row| row.variable == *variable);
        if let (Some(row), RowValue::Label(label)) = (row, &value.value)
            && !row.values.iter().any(|step| step.value == value.value)
        {
            let message = format!("`{label}` is not in the row `{}`", variable.word());
            findings.add(Note::new(Code::OffLadder, value.at, message));
        }
    }
    Some(Maintenance {
        dose: dose
            .iter()
            .map(|(variable, value)| (*variable, value.value.clone()))
            .collect(),
    })
}

//! Sentences about how far exercises have come: whether anybody can get there.

use super::types::Judge;
use crate::diagnostic::Code;
use crate::model::{Row, RowValue, TORQUE, Which};
use crate::quantity::Variable;

impl Judge<'_, '_> {
    /// Reports a place that is not on the ladder, or that too few lines have.
    pub(super) fn reached(&mut self, which: Which, variable: Variable, value: &RowValue) {
        let span = self.site.parts.subject.clone();
        let span_of_subject = span.clone();
        let word = variable.word();
        match which {
            Which::One(exercise) => {
                let pack = self.pack;
                let Some(exercise) = pack.exercises.get(exercise.at()) else {
                    return;
                };
                let row = exercise.rows.iter().find(|row| row.variable == variable);
                let Some(row) = row else {
                    let message = format!("the ladder of `{}` has no row `{word}`", exercise.key);
                    return self.add(Code::Reached, &span, message, "never reached");
                };
                if !self.unit_fits(row) {
                    let message = format!("the loads of `{}` are not in that unit", exercise.key);
                    let label = if row.is_sequence {
                        "in `N.m`"
                    } else {
                        "in `N`"
                    };
                    let span = self.site.parts.reached_unit.clone();
                    let span = span.map_or(span_of_subject, |(_, span)| span);
                    return self.add(Code::Reached, &span, message, label);
                }
                if !stands_in(row, value) {
                    let values: Vec<String> = row
                        .values
                        .iter()
                        .map(|step| step.value.to_string())
                        .collect();
                    let message =
                        format!("`{value}` is not in the row `{word}` of `{}`", exercise.key);
                    self.add(
                        Code::Reached,
                        &span,
                        message,
                        &format!("its values are {}", values.join(", ")),
                    );
                }
            }
            Which::AtLeast(k) => {
                if variable == Variable::Load && self.mixes_units(value) {
                    let message = "loads in `N` and in `N.m` cannot be counted together";
                    return self.add(Code::Reached, &span, message, "name one exercise");
                }
                // Exercises of one line exclude each other, so it is lines that are counted.
                let able = self.pack.lines.iter().filter(|line| {
                    line.exercises
                        .iter()
                        .any(|exercise| self.can_reach(exercise.at(), variable, value))
                });
                let able = able.count();
                if able < usize::from(k) {
                    let message =
                        format!("only {able} lines have an exercise that can reach {word} {value}");
                    self.add(Code::Reached, &span, message, "never met");
                }
            }
        }
    }

    /// Whether the unit written, if one is, is that of a row's numbers.
    fn unit_fits(&self, row: &Row) -> bool {
        let written = self.site.parts.reached_unit.as_ref();
        written.is_none_or(|(unit, _)| (*unit == TORQUE) == row.is_sequence)
    }

    /// Whether a number would be held against loads in N and against loads in N.m.
    fn mixes_units(&self, value: &RowValue) -> bool {
        let rows = self
            .pack
            .exercises
            .iter()
            .flat_map(|exercise| &exercise.rows);
        let loads = rows.filter(|row| row.variable == Variable::Load);
        let numbers = loads.filter(|row| {
            let mut values = row.values.iter();
            values.any(|step| matches!(step.value, RowValue::Number(_)))
        });
        let kinds: Vec<bool> = numbers.map(|row| row.is_sequence).collect();
        matches!(value, RowValue::Number(_)) && kinds.contains(&true) && kinds.contains(&false)
    }

    fn can_reach(&self, exercise: usize, variable: Variable, value: &RowValue) -> bool {
        let rows = self
            .pack
            .exercises
            .get(exercise)
            .map(|exercise| &exercise.rows);
        let row = rows.and_then(|rows| rows.iter().find(|row| row.variable == variable));
        row.is_some_and(|row| {
            self.unit_fits(row)
                && row.values.iter().any(|step| match (&step.value, value) {
                    (RowValue::Number(step), RowValue::Number(value)) => step >= value,
                    (step, value) => step == value,
                })
        })
    }
}

/// Whether a value can be come to on a row: it stands there, or in a sequence between its ends.
fn stands_in(row: &Row, value: &RowValue) -> bool {
    let ends = (row.values.first(), row.values.last());
    match (value, ends) {
        (RowValue::Number(number), (Some(first), Some(last))) if row.is_sequence => {
            let number = RowValue::Number(*number);
            first.value <= number && number <= last.value
        }
        _ => row.values.iter().any(|step| step.value == *value),
    }
}

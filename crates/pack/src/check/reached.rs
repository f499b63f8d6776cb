//! Sentences about how far exercises have come: whether anybody can get there.

use super::types::Judge;
use crate::diagnostic::Code;
use crate::model::{RowValue, Which};
use crate::quantity::Variable;

impl Judge<'_, '_> {
    /// Reports a place that is not on the ladder, or that too few lines have.
    pub(super) fn reached(&mut self, which: Which, variable: Variable, value: &RowValue) {
        let span = self.site.parts.subject.clone();
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
                if !row.values.iter().any(|step| step.value == *value) {
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

    fn can_reach(&self, exercise: usize, variable: Variable, value: &RowValue) -> bool {
        let rows = self
            .pack
            .exercises
            .get(exercise)
            .map(|exercise| &exercise.rows);
        let row = rows.and_then(|rows| rows.iter().find(|row| row.variable == variable));
        row.is_some_and(|row| {
            row.values.iter().any(|step| match (&step.value, value) {
                (RowValue::Number(step), RowValue::Number(value)) => step >= value,
                (step, value) => step == value,
            })
        })
    }
}

//! Exercises: each under a limit wherever it is done, each with something that gives way, and none that comes back only
//! by being done.

use super::Proof;
use crate::check::leaves;
use crate::diagnostic::Code;
use crate::model::{Carrier, Exercise, ExerciseIx, Over, Subject};

impl Proof<'_> {
    pub(super) fn exercises(&mut self) {
        for (exercise, index) in self.pack.exercises.iter().zip(0_u16..) {
            let ix = ExerciseIx(index);
            self.limited(exercise, ix);
            self.gives_way(exercise, ix);
            self.comes_back(exercise, ix);
        }
    }

    fn limited(&mut self, exercise: &Exercise, ix: ExerciseIx) {
        if !self.pack.limits.is_empty() || !exercise.limits.is_empty() {
            return;
        }
        let without = self
            .pack
            .phases
            .iter()
            .find(|phase| phase.exercises.contains(&ix) && phase.limits.is_empty());
        if let Some(phase) = without {
            self.add(
                Code::NoLimit,
                self.sites.exercises.get(ix.at()).copied(),
                format!("`{}` has no limit in `{}`", exercise.key, phase.key),
                "nothing says when it is too much",
                "give the exercise, the phase or the pack a limit on what is felt",
            );
        }
    }

    fn gives_way(&mut self, exercise: &Exercise, ix: ExerciseIx) {
        let mut rows = exercise
            .gives_way
            .iter()
            .filter_map(|row| exercise.rows.get(usize::from(*row)));
        if !rows.any(|row| row.values.len() > 1) {
            self.add(
                Code::NothingGives,
                self.sites.exercises.get(ix.at()).copied(),
                format!("nothing of `{}` can give way", exercise.key),
                "one sore session withdraws it",
                "name under `gives_way` a row that has more than one value",
            );
        }
    }

    fn comes_back(&mut self, exercise: &Exercise, ix: ExerciseIx) {
        let rule = exercise
            .bring_back
            .and_then(|ix| self.pack.rules.get(ix.at()));
        let Some(rule) = rule else { return };
        for (sentence, _) in leaves(&rule.when) {
            let Some(read) = self.pack.sentences.get(sentence.at()) else {
                continue;
            };
            let of_exercise = match &read.subject {
                Subject::Measure { measure, over } => {
                    let carrier = self.pack.measures.get(measure.at()).map(|one| one.carrier);
                    let own = matches!(over, Over::Plain) || *over == Over::Of(ix);
                    carrier == Some(Carrier::Exercise) && own
                }
                Subject::Reached { .. } => false,
            };
            if of_exercise {
                self.add(
                    Code::OwnSessions,
                    self.at_sentence(sentence),
                    format!("`{}` comes back only by being done", exercise.key),
                    "a withdrawn exercise has no sessions",
                    "read another exercise, rest, the morning after or an assessment",
                );
            }
        }
    }
}

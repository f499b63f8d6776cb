//! Lines and exercises of two packs: ladders, what gives way, where they start and come back.

use super::criteria::{differences, words};
use super::{Both, Effect};
use crate::model::{Exercise, Pack, Polarity, Row};
use crate::quantity::Key;

impl Both<'_> {
    pub(super) fn exercises(&mut self) {
        let (old, new) = (self.old, self.new);
        let lines = |pack: &Pack| {
            let keys = pack.lines.iter().map(|line| {
                let of = line
                    .exercises
                    .iter()
                    .filter_map(|ix| pack.exercises.get(ix.at()));
                (
                    line.key.clone(),
                    of.map(|one| one.key.clone()).collect::<Vec<Key>>(),
                )
            });
            keys.collect::<Vec<_>>()
        };
        let (was, is) = (lines(old), lines(new));
        self.value(
            Effect::Unclear,
            "lines and their exercises",
            (&was, &is),
            |lines| {
                let said = lines
                    .iter()
                    .map(|(key, of)| format!("{key}: {}", super::rules::list(of)));
                said.collect::<Vec<_>>().join("; ")
            },
        );
        for was in &old.exercises {
            if let Some(is) = successor(new, was) {
                self.exercise(was, is);
            }
        }
    }

    fn exercise(&mut self, was: &Exercise, is: &Exercise) {
        let of = |what: &str| format!("{what} of exercise `{}`", is.key);
        let same_rows = self.rows(&of("ladder"), was, is);
        self.needs(was, is);
        let effect = match (same_rows, is.start < was.start) {
            (false, _) => Effect::Unclear,
            (true, true) => Effect::Tightens,
            (true, false) => Effect::Loosens,
        };
        self.value(effect, &of("start"), (&was.start, &is.start), |rung| {
            format!("rung {}", rung.saturating_add(1))
        });
        let effect = match (was.return_at, is.return_at) {
            (Some(was), Some(is)) if same_rows && is > was => Effect::Tightens,
            (Some(_), Some(_)) if same_rows => Effect::Loosens,
            _ => Effect::Unclear,
        };
        self.value(
            effect,
            &of("return"),
            (&was.return_at, &is.return_at),
            |rungs| {
                rungs.map_or_else(
                    || "on its start rung".to_owned(),
                    |rungs| format!("{rungs} rungs under its last"),
                )
            },
        );
        self.kept(was, is);
        self.limits(
            &format!(" of exercise `{}`", is.key),
            &was.limits,
            &is.limits,
        );
    }

    /// What gives way, what it is done with, what caps it, what is kept up.
    fn kept(&mut self, was: &Exercise, is: &Exercise) {
        let of = |what: &str| format!("{what} of exercise `{}`", is.key);
        let gives = |exercise: &Exercise| {
            let rows = exercise
                .gives_way
                .iter()
                .filter_map(|row| exercise.rows.get(usize::from(*row)));
            rows.map(|row| row.variable.word())
                .collect::<Vec<_>>()
                .join(", ")
        };
        self.value(
            Effect::Unclear,
            &of("what gives way"),
            (&gives(was), &gives(is)),
            String::clone,
        );
        self.value(
            Effect::Unclear,
            &of("equipment"),
            (&was.equipment, &is.equipment),
            |keys| super::rules::list(keys),
        );
        self.value(
            Effect::Unclear,
            &of("band"),
            (&was.band, &is.band),
            |band| format!("{band:?}"),
        );
        let range = |pack: &Pack, exercise: &Exercise| {
            let measure = exercise
                .comfortable
                .and_then(|ix| pack.measures.get(ix.at()));
            measure.map_or_else(|| "nothing".to_owned(), |one| one.name.to_string())
        };
        let (before, after) = (range(self.old, was), range(self.new, is));
        self.value(
            Effect::Unclear,
            &of("what caps the range"),
            (&before, &after),
            String::clone,
        );
        let kept = |exercise: &Exercise| {
            exercise.maintenance.as_ref().map_or_else(
                || "the dose in force".to_owned(),
                |kept| {
                    let values = kept
                        .dose
                        .iter()
                        .map(|(variable, value)| format!("{} {value}", variable.word()));
                    values.collect::<Vec<_>>().join(", ")
                },
            )
        };
        self.value(
            Effect::Unclear,
            &of("maintenance"),
            (&kept(was), &kept(is)),
            String::clone,
        );
    }

    /// Compares the rows but for what their values need; says whether they are the same.
    fn rows(&mut self, of: &str, was: &Exercise, is: &Exercise) -> bool {
        let said = |row: &Row| {
            let values = row.values.iter().map(|step| match step.seconds {
                Some(seconds) => format!("{} ({seconds} s)", step.value),
                None => step.value.to_string(),
            });
            let values: Vec<String> = values.collect();
            let full = if row.returns { "returns" } else { "stays" };
            let unit = if row.is_sequence { " N.m" } else { "" };
            format!(
                "{}: {}{unit}, {full}",
                row.variable.word(),
                values.join(", ")
            )
        };
        let all = |exercise: &Exercise| exercise.rows.iter().map(said).collect::<Vec<_>>();
        let (before, after) = (all(was), all(is));
        for (row, now) in before.iter().zip(&after) {
            self.value(Effect::Unclear, of, (row, now), String::clone);
        }
        for row in before.iter().skip(after.len()) {
            self.add(Effect::Unclear, of, Some(row.clone()), None);
        }
        for row in after.iter().skip(before.len()) {
            self.add(Effect::Unclear, of, None, Some(row.clone()));
        }
        before == after
    }

    /// What values need before a climb may come to them.
    fn needs(&mut self, was: &Exercise, is: &Exercise) {
        let (old, new) = (self.old, self.new);
        for row in &was.rows {
            let Some(now) = is.rows.iter().find(|other| other.variable == row.variable) else {
                continue;
            };
            for step in &row.values {
                let Some(to) = now.values.iter().find(|other| other.value == step.value) else {
                    continue;
                };
                let of = format!(
                    "what {} {} of exercise `{}` needs",
                    row.variable.word(),
                    step.value,
                    is.key
                );
                match (&step.needs, &to.needs) {
                    (None, None) => {}
                    (Some(needs), None) => {
                        self.add(Effect::Loosens, &of, Some(words(old, needs)), None);
                    }
                    (None, Some(needs)) => {
                        self.add(Effect::Tightens, &of, None, Some(words(new, needs)));
                    }
                    (Some(before), Some(after)) => {
                        for (order, before, after) in differences(old, before, new, after) {
                            self.add(order.effect(Polarity::Upward), &of, before, after);
                        }
                    }
                }
            }
        }
    }
}

/// The exercise that has another's name, or had it.
#[must_use]
pub fn successor<'p>(pack: &'p Pack, was: &Exercise) -> Option<&'p Exercise> {
    let by_name = pack
        .exercise(&was.key)
        .and_then(|ix| pack.exercises.get(ix.at()));
    by_name.or_else(|| pack.exercises.iter().find(|one| one.was.contains(&was.key)))
}

//! From drafts to lines and their exercises.

use super::ladders;
use super::names::find;
use super::resolve::Build;
use crate::diagnostic::{Code, Note};
use crate::model::{Exercise, ExerciseIx, Grounds, Line, LineIx, RuleKind};
use crate::read::draft::{ExerciseDraft, GroundsDraft, LineDraft, RuleDraft};
use crate::source::Location;

impl Build<'_, '_> {
    /// Lines in declared order, and their exercises one after another.
    pub(super) fn lines(&mut self, drafts: &[LineDraft]) -> (Vec<Line>, Vec<Exercise>) {
        let mut lines = Vec::new();
        let mut exercises = Vec::new();
        for (line, index) in drafts.iter().zip(0..) {
            let mut own = Vec::new();
            for exercise in &line.exercises {
                let at = ExerciseIx(u16::try_from(exercises.len()).unwrap_or(u16::MAX));
                own.push(at);
                self.sites.exercises.push(exercise.key.at);
                exercises.push(self.exercise(exercise, LineIx(index), at));
            }
            lines.push(Line {
                key: line.key.text.as_str().into(),
                exercises: own,
            });
        }
        (lines, exercises)
    }

    fn exercise(&mut self, draft: &ExerciseDraft, line: LineIx, index: ExerciseIx) -> Exercise {
        if self.listed.get(index.at()) == Some(&false) {
            let message = format!("no phase lists `{}`", draft.key.text);
            self.findings.add(
                Note::new(Code::ExerciseUnused, draft.key.at, message).label("never prescribed"),
            );
        }
        for name in &draft.equipment {
            find(
                &self.known.equipment,
                name,
                "a piece of equipment",
                self.findings,
            );
        }
        for key in [&draft.name, &draft.how] {
            self.texts.need(&key.value, key.at, self.findings);
        }
        let cues = draft.cues.iter().map(|cue| self.text(cue)).collect();
        let limits = self.limits(&draft.limits);
        let rows = ladders::rows(self, draft);
        let rungs = ladders::rungs(&rows, draft, self.findings);
        let band = self.band(draft, &rows);
        let start = ladders::start(&rows, &rungs, draft, self.findings);
        let empty = RuleDraft {
            key: draft.key.clone(),
            kind: RuleKind::Climb,
            when: None,
            reason: String::new(),
            grounds: no_grounds(draft.key.at),
        };
        let climb = self.rule(draft.climb.as_ref().unwrap_or(&empty), None, Some(index));
        let bring_back = draft
            .bring_back
            .as_ref()
            .map(|rule| self.rule(rule, None, Some(index)));
        let comfortable = draft
            .comfortable
            .as_ref()
            .and_then(|name| self.known.measure(name, self.findings));
        Exercise {
            key: draft.key.text.as_str().into(),
            was: draft
                .was
                .iter()
                .map(|was| was.text.as_str().into())
                .collect(),
            line,
            name: draft.name.value.clone(),
            how: draft.how.value.clone(),
            cues,
            equipment: draft
                .equipment
                .iter()
                .map(|name| name.text.as_str().into())
                .collect(),
            band,
            gives_way: ladders::gives_way(&rows, draft, self.findings),
            return_at: ladders::return_at(&rungs, draft, self.findings),
            maintenance: ladders::maintenance(&rows, draft, self.findings),
            rows,
            rungs,
            start,
            comfortable,
            limits,
            climb,
            bring_back,
        }
    }
}

fn no_grounds(at: Location) -> GroundsDraft {
    let grounds = Grounds::Judgement {
        by: String::new(),
        why: String::new(),
    };
    GroundsDraft { grounds, at }
}

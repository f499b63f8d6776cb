//! Reading one measure's value in a session: the session's own, one exercise's, the worst of all, the next morning's.
//!
//! Leaves to others: which sessions count (`super::read`).

use super::combined::{self, Told};
use super::read::{Read, Reader, seen_value};
use super::value::{self, Value};
use super::volume::has_volume;
use crate::fact::Done;
use crate::history::{Exercised, SessionFact, Val, value_in, worse_of, worst_end};
use rungwise_pack::model::{ExerciseIx, Measure, MeasureIx, Origin};

impl<'a> Reader<'a> {
    pub(super) fn of_session(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        session: &SessionFact,
    ) -> Read {
        let found = value_in(&session.values, ix);
        if found.is_none() && !measure.expected {
            return Read::PassedOver;
        }
        self.tap.fact(&self.view, session.date, session.known);
        let found = found.map_or(Read::PassedOver, |found| Read::Known(value::known(found)));
        self.noted(ix, measure, found, session.date, session.position)
    }

    pub(super) fn of_exercise(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        session: &SessionFact,
        exercise: ExerciseIx,
    ) -> Read {
        let member = session.exercise(exercise).filter(|done| done.counts());
        let read = match member {
            Some(done) => self.of_member(ix, measure, session, done),
            None if self.lacks(measure, session, exercise) => Read::Missing(value::whole(measure)),
            None => Read::PassedOver,
        };
        if read != Read::PassedOver {
            self.tap.fact(&self.view, session.date, session.known);
            let value = || seen_value(measure, read);
            let position = Some(session.position);
            self.tap
                .seen(ix, Some(exercise), value, session.date, position);
        }
        read
    }

    /// An exercise's value in a session in which it was done or skipped for pain.
    fn of_member(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        session: &SessionFact,
        done: &Exercised,
    ) -> Read {
        if let Origin::Combined(combined) = &measure.origin
            && combined.is_volume()
        {
            return self.volume(measure, combined, session, done);
        }
        let told = Told {
            values: &done.values,
            other: &[],
            sets: &done.sets,
        };
        let found = match combined::told(self.view.pack, ix, measure, told) {
            Read::PassedOver if done.done == Done::SkippedForPain => worst_end(measure)
                .map_or(Read::PassedOver, |worst| Read::Known(value::known(worst))),
            found => found,
        };
        match found {
            Read::PassedOver if !measure.expected => Read::PassedOver,
            Read::Known(_) | Read::Missing(_) if !self.stale(measure, session.date) => found,
            _ => Read::Missing(value::whole(measure)),
        }
    }

    /// Whether a prescribed exercise was not done, where that is a missing value.
    fn lacks(&self, measure: &Measure, session: &SessionFact, exercise: ExerciseIx) -> bool {
        self.scope.prescribed
            && measure.expected
            && has_volume(self.view.pack, measure, exercise)
            && self.prescribed_in(session).contains(&exercise)
    }

    /// The exercises prescribed by the decision that a session followed.
    pub(super) fn prescribed_in(&self, session: &SessionFact) -> &'a [ExerciseIx] {
        let index = self.view.history.index();
        session
            .followed
            .map_or(&[], |no| index.prescribed_on(no, session.date))
    }

    /// Calls `each` with every exercise's value that a session's quantified or worst value ranges over.
    pub(crate) fn members(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        session: &SessionFact,
        each: &mut dyn FnMut(Read),
    ) {
        let mut one = |exercise: ExerciseIx, read: Read| {
            if read != Read::PassedOver {
                self.tap.fact(&self.view, session.date, session.known);
                let value = || seen_value(measure, read);
                let position = Some(session.position);
                self.tap
                    .seen(ix, Some(exercise), value, session.date, position);
                each(read);
            }
        };
        for done in session.exercises.iter().filter(|done| done.counts()) {
            one(done.exercise, self.of_member(ix, measure, session, done));
        }
        if self.scope.prescribed && measure.expected {
            for exercise in self.prescribed_in(session) {
                let done = session.exercise(*exercise);
                if !done.is_some_and(Exercised::counts)
                    && has_volume(self.view.pack, measure, *exercise)
                {
                    one(*exercise, Read::Missing(value::whole(measure)));
                }
            }
        }
    }

    pub(super) fn worst_of_session(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        session: &SessionFact,
    ) -> Read {
        let mut worst: Option<Value> = None;
        let mut missing = false;
        self.members(ix, measure, session, &mut |read| {
            missing |= matches!(read, Read::Missing(_));
            if let Some(next) = read.value() {
                worst = Some(match worst {
                    Some(worst) => value::extreme_of(measure, worst, next, true),
                    None => next,
                });
            }
        });
        match worst {
            None => Read::PassedOver,
            Some(worst) if missing => Read::Missing(worst),
            Some(worst) => Read::Known(worst),
        }
    }

    pub(super) fn next_morning(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        at: usize,
        session: &SessionFact,
    ) -> Read {
        let mut found: Option<Val> = None;
        let mut reported = None;
        for morning in &session.mornings {
            if !self.view.sees(morning.date, morning.known) {
                continue;
            }
            let value = value_in(&morning.values, ix);
            if value.is_some() || measure.expected {
                self.tap.fact(&self.view, morning.date, morning.known);
                reported = Some(morning.position);
            }
            let fresh = !self.stale(measure, morning.date);
            if let Some(value) = value.filter(|_| fresh) {
                found = Some(found.map_or(value, |before| worse_of(measure, before, value)));
            }
        }
        let due = measure.expected && self.morning_due(at, session);
        if reported.is_none() && !due {
            return Read::PassedOver;
        }
        let read = found.map_or_else(
            || Read::Missing(value::whole(measure)),
            |found| Read::Known(value::known(found)),
        );
        let value = || seen_value(measure, read);
        self.tap.seen(ix, None, value, session.date, reported);
        read
    }

    /// Whether a session's morning-after is due: it is the day's last session and a later day has come.
    pub(crate) fn morning_due(&self, at: usize, session: &SessionFact) -> bool {
        let later = self.view.history.index().sessions.iter();
        let last = later
            .skip(at.saturating_add(1))
            .take_while(|one| one.date == session.date)
            .all(|one| !self.view.sees(one.date, one.known));
        last && session.date < self.view.as_of
    }

    /// Whether a session's morning-after was reported or is due.
    pub(crate) fn morning_came(&self, at: usize, session: &SessionFact) -> bool {
        let mut mornings = session.mornings.iter();
        mornings.any(|one| self.view.sees(one.date, one.known)) || self.morning_due(at, session)
    }
}

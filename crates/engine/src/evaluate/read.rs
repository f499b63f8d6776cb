//! Reading one measure's value: in a session, on an assessment or screening, and its latest.

use super::SeenValue;
use super::value::{self, Value};
use super::view::{Scope, Tap, View, days_between};
use crate::fact::{Done, Position};
use crate::history::{Exercised, SessionFact, Sheet, Val, value_in, worst_end};
use jiff::civil::Date;
use rungwise_pack::model::{
    Carrier, ChoiceIx, ExerciseIx, Measure, MeasureIx, MeasureKind, Origin,
};
use rungwise_pack::quantity::Milli;

/// How deep defined measures may read each other.
const DEFINED_DEPTH_MAX: u8 = 8;

/// What a reading gives.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Read {
    /// The fact says nothing about it, and need not.
    PassedOver,
    /// There is nothing yet to read.
    NotFull,
    /// A value.
    Known(Value),
    /// A value that is missing, in whole or in part: anything in here.
    Missing(Value),
}

impl Read {
    /// The possible values.
    pub(crate) const fn value(self) -> Option<Value> {
        match self {
            Self::Known(value) | Self::Missing(value) => Some(value),
            Self::PassedOver | Self::NotFull => None,
        }
    }
}

/// The fact that a value is read of.
#[derive(Clone, Copy)]
pub(crate) enum Context<'a> {
    /// A session, with its place in the index.
    Session(usize, &'a SessionFact),
    /// An assessment or screening.
    Sheet(&'a Sheet),
    /// None.
    Nothing,
}

impl Context<'_> {
    /// The fact's date.
    pub(crate) const fn date(&self) -> Option<Date> {
        match self {
            Self::Session(_, session) => Some(session.date),
            Self::Sheet(sheet) => Some(sheet.date),
            Self::Nothing => None,
        }
    }

    /// The fact's position, which tells it from every other.
    pub(crate) const fn position(&self) -> Option<Position> {
        match self {
            Self::Session(_, session) => Some(session.position),
            Self::Sheet(sheet) => Some(sheet.position),
            Self::Nothing => None,
        }
    }
}

/// Reads measures for one rule.
#[derive(Clone, Copy)]
pub(crate) struct Reader<'a> {
    /// What is seen.
    pub(crate) view: View<'a>,
    /// For which rule.
    pub(crate) scope: Scope,
    /// What was read.
    pub(crate) tap: &'a Tap,
    /// How deep in defined measures.
    pub(crate) depth: u8,
}

impl<'a> Reader<'a> {
    /// A reader for a rule.
    pub(crate) const fn new(view: View<'a>, scope: Scope, tap: &'a Tap) -> Self {
        Self {
            view,
            scope,
            tap,
            depth: 0,
        }
    }

    /// The measure under an index.
    pub(crate) fn measure(&self, ix: MeasureIx) -> Option<&'a Measure> {
        self.view.pack.measures.get(ix.at())
    }

    /// The sessions of a series, newest first: of the scope's exercise, or of `own`, or all.
    pub(crate) fn sessions_back(&self, own: Option<ExerciseIx>) -> SessionsBack<'a> {
        let index = self.view.history.index();
        let own = own.filter(|_| !self.scope.prescribed);
        let list = self
            .scope
            .sessions_of
            .or(own)
            .map(|of| index.sessions_of(of));
        SessionsBack {
            view: self.view,
            list,
            left: list.map_or(index.sessions.len(), <[u32]>::len),
            from: self.scope.from,
        }
    }

    /// The facts that a measure is read of, newest first, until `each` says to stop. Facts that say nothing about it
    /// are among them.
    pub(crate) fn walk(
        &self,
        measure: &Measure,
        own: Option<ExerciseIx>,
        each: &mut dyn FnMut(Context<'a>) -> bool,
    ) {
        let index = self.view.history.index();
        let sheets = match measure.carrier {
            Carrier::Exercise | Carrier::Session | Carrier::MorningAfter => {
                let own = own.filter(|_| measure.carrier == Carrier::Exercise);
                for (at, session) in self.sessions_back(own) {
                    if !each(Context::Session(at, session)) {
                        return;
                    }
                }
                return;
            }
            Carrier::Assessment => &index.assessments,
            Carrier::Screening => &index.screenings,
            Carrier::Nothing => return,
        };
        for sheet in sheets.iter().rev() {
            if self.view.sees(sheet.date, sheet.known) && !each(Context::Sheet(sheet)) {
                return;
            }
        }
    }

    /// A measure's value in one fact.
    pub(crate) fn read(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        own: Option<ExerciseIx>,
        context: Context<'a>,
    ) -> Read {
        match context {
            Context::Session(at, session) => match measure.carrier {
                Carrier::Exercise => match own {
                    Some(exercise) => self.of_exercise(ix, measure, session, exercise),
                    None => self.worst_of_session(ix, measure, session),
                },
                Carrier::MorningAfter => self.next_morning(ix, measure, at, session),
                _ => self.of_session(ix, measure, session),
            },
            Context::Sheet(sheet) => {
                let found = value_in(&sheet.values, ix);
                if found.is_none() && !measure.expected {
                    return Read::PassedOver;
                }
                self.tap.fact(&self.view, sheet.date, sheet.known);
                let fresh = !self.stale(measure, sheet.date);
                self.noted(
                    ix,
                    None,
                    measure,
                    found.filter(|_| fresh),
                    sheet.date,
                    sheet.position,
                )
            }
            Context::Nothing => Read::NotFull,
        }
    }

    /// A measure's latest value, and the fact it was read of.
    pub(crate) fn latest(&self, ix: MeasureIx, own: Option<ExerciseIx>) -> (Read, Context<'a>) {
        let Some(measure) = self.measure(ix) else {
            return (Read::NotFull, Context::Nothing);
        };
        match &measure.origin {
            Origin::Computed(computed) => {
                return (self.computed(ix, measure, computed), Context::Nothing);
            }
            Origin::Defined(defined) => {
                return (self.defined(ix, measure, defined), Context::Nothing);
            }
            Origin::Reported => {}
        }
        let mut found = (Read::NotFull, Context::Nothing);
        self.walk(measure, own, &mut |context| {
            let read = self.read(ix, measure, own, context);
            let passed = read == Read::PassedOver;
            if !passed {
                found = (read, context);
            }
            passed
        });
        let made = matches!(measure.carrier, Carrier::Assessment | Carrier::Screening);
        if made && found.0 == Read::NotFull {
            found.0 = Read::Missing(value::whole(measure));
        }
        found
    }

    /// A defined measure: the worst choice whose criterion is met, and every worse one that is in doubt.
    fn defined(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        defined: &rungwise_pack::model::Defined,
    ) -> Read {
        if self.depth >= DEFINED_DEPTH_MAX {
            return Read::Missing(value::whole(measure));
        }
        let inside = Reader {
            scope: Scope::CAUTIOUS,
            depth: self.depth.saturating_add(1),
            ..*self
        };
        let mut features: Vec<_> = defined.features.iter().collect();
        features.sort_by_key(|(choice, _)| std::cmp::Reverse(*choice));
        let mut bits = 0;
        let mut met = false;
        for (choice, criterion) in features {
            let truth = inside.truth(criterion);
            if truth.yes {
                bits |= value::bit(choice.0);
            }
            if truth.yes && !truth.no {
                met = true;
                break;
            }
        }
        if !met {
            bits |= value::bit(0);
        }
        let read = if bits.is_power_of_two() {
            Read::Known(Value::Choices(bits))
        } else {
            Read::Missing(Value::Choices(bits))
        };
        self.tap.seen(
            ix,
            None,
            || seen_value(measure, read),
            self.view.as_of,
            None,
        );
        read
    }

    fn of_session(&self, ix: MeasureIx, measure: &Measure, session: &SessionFact) -> Read {
        let found = value_in(&session.values, ix);
        if found.is_none() && !measure.expected {
            return Read::PassedOver;
        }
        self.tap.fact(&self.view, session.date, session.known);
        let fresh = !self.stale(measure, session.date);
        let found = found.filter(|_| fresh);
        self.noted(ix, None, measure, found, session.date, session.position)
    }

    fn of_exercise(
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
        let found = value_in(&done.values, ix).or_else(|| {
            (done.done == Done::SkippedForPain)
                .then(|| worst_end(measure))
                .flatten()
        });
        match found {
            None if !measure.expected => Read::PassedOver,
            Some(found) if !self.stale(measure, session.date) => Read::Known(value::known(found)),
            _ => Read::Missing(value::whole(measure)),
        }
    }

    /// Whether a prescribed exercise was not done, where that is a missing value.
    fn lacks(&self, measure: &Measure, session: &SessionFact, exercise: ExerciseIx) -> bool {
        self.scope.prescribed && measure.expected && self.prescribed_in(session).contains(&exercise)
    }

    /// The exercises prescribed by the decision that a session followed.
    fn prescribed_in(&self, session: &SessionFact) -> &'a [ExerciseIx] {
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
                if !done.is_some_and(Exercised::counts) {
                    one(*exercise, Read::Missing(value::whole(measure)));
                }
            }
        }
    }

    fn worst_of_session(&self, ix: MeasureIx, measure: &Measure, session: &SessionFact) -> Read {
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

    fn next_morning(
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
                found = Some(found.map_or(value, |before| {
                    crate::history::worse_of(measure, before, value)
                }));
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

    fn stale(&self, measure: &Measure, date: Date) -> bool {
        self.scope.fresh
            && measure
                .fresh_days
                .is_some_and(|days| days_between(date, self.view.as_of) > i64::from(days))
    }

    fn noted(
        &self,
        ix: MeasureIx,
        exercise: Option<ExerciseIx>,
        measure: &Measure,
        found: Option<Val>,
        date: Date,
        position: Position,
    ) -> Read {
        let read = found.map_or_else(
            || Read::Missing(value::whole(measure)),
            |found| Read::Known(value::known(found)),
        );
        let value = || seen_value(measure, read);
        self.tap.seen(ix, exercise, value, date, Some(position));
        read
    }
}

/// A value as an explanation shows it.
pub(crate) fn seen_value(measure: &Measure, read: Read) -> SeenValue {
    match read {
        Read::Known(Value::Number(range)) => {
            range.floor().map_or(SeenValue::Missing, |number: Milli| {
                SeenValue::Number(number)
            })
        }
        Read::Known(Value::Choices(bits)) => match &measure.kind {
            MeasureKind::Choice { choices } => {
                let at = ChoiceIx(u16::try_from(bits.trailing_zeros()).unwrap_or(u16::MAX));
                let found = choices.get(at.at());
                found.map_or(SeenValue::Missing, |word| SeenValue::Choice(word.clone()))
            }
            MeasureKind::Number { .. } => SeenValue::Missing,
        },
        Read::Known(Value::Never) => SeenValue::Never,
        _ => SeenValue::Missing,
    }
}

/// The sessions of a series, newest first.
pub(crate) struct SessionsBack<'a> {
    view: View<'a>,
    list: Option<&'a [u32]>,
    left: usize,
    from: Option<crate::fact::DecisionNo>,
}

impl<'a> Iterator for SessionsBack<'a> {
    type Item = (usize, &'a SessionFact);

    fn next(&mut self) -> Option<Self::Item> {
        let sessions = &self.view.history.index().sessions;
        loop {
            self.left = self.left.checked_sub(1)?;
            let at = match self.list {
                Some(list) => *list.get(self.left)? as usize,
                None => self.left,
            };
            let session = sessions.get(at)?;
            if self.from.is_some() && session.followed_top < self.from {
                self.left = 0;
                return None;
            }
            let counts = self.from.is_none() || session.followed >= self.from;
            if counts && self.view.sees(session.date, session.known) {
                return Some((at, session));
            }
        }
    }
}

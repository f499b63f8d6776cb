//! Reading one measure's value: in a session, on an assessment or screening, and its latest.

use super::SeenValue;
use super::combined::{self, Told};
use super::value::{self, Value};
use super::view::{Scope, Tap, View, days_between};
use crate::fact::{DecisionNo, Position};
use crate::history::{SessionFact, Sheet};
use jiff::civil::Date;
use rungwise_pack::model::{
    Carrier, ChoiceIx, ExerciseIx, Measure, MeasureIx, MeasureKind, Origin,
};
use rungwise_pack::quantity::Milli;
use smallvec::SmallVec;

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
        self.sessions_until(own, self.view.as_of)
    }

    /// The same, but none dated after `until`.
    pub(crate) fn sessions_until(&self, own: Option<ExerciseIx>, until: Date) -> SessionsBack<'a> {
        let index = self.view.history.index();
        let own = own.filter(|_| !self.scope.prescribed);
        let list = self
            .scope
            .sessions_of
            .or(own)
            .map(|of| index.sessions_of(of));
        let newest = index.marks.last().map(|mark| mark.date);
        let past = |at: usize| index.marks.get(at).is_some_and(|mark| mark.date <= until);
        let left = match list {
            _ if newest <= Some(until) => list.map_or(index.marks.len(), <[u32]>::len),
            Some(list) => list.partition_point(|at| past(*at as usize)),
            None => index.marks.partition_point(|mark| mark.date <= until),
        };
        SessionsBack {
            view: self.view,
            list,
            left,
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
        self.walk_until(measure, own, self.view.as_of, each);
    }

    /// The same, but none dated after `until`.
    pub(crate) fn walk_until(
        &self,
        measure: &Measure,
        own: Option<ExerciseIx>,
        until: Date,
        each: &mut dyn FnMut(Context<'a>) -> bool,
    ) {
        let index = self.view.history.index();
        let sheets = match measure.carrier {
            Carrier::Exercise | Carrier::Session | Carrier::MorningAfter => {
                let own = own.filter(|_| measure.carrier == Carrier::Exercise);
                for (at, session) in self.sessions_until(own, until) {
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
            let seen = sheet.date <= until && self.view.sees(sheet.date, sheet.known);
            if seen && !each(Context::Sheet(sheet)) {
                return;
            }
        }
    }

    /// The facts dated from `from` on that a measure is read of, oldest first, until `each` says to stop.
    pub(crate) fn walk_forward(
        &self,
        measure: &Measure,
        own: Option<ExerciseIx>,
        from: Date,
        each: &mut dyn FnMut(Context<'a>) -> bool,
    ) {
        let index = self.view.history.index();
        let sheets = match measure.carrier {
            Carrier::Exercise | Carrier::Session | Carrier::MorningAfter => {
                let own = own.filter(|_| measure.carrier == Carrier::Exercise);
                let series = self.sessions_back(own);
                let start = index.marks.partition_point(|mark| mark.date < from);
                let start = match series.list {
                    Some(list) => list.partition_point(|at| (*at as usize) < start),
                    None => start,
                };
                for place in start..series.left {
                    if let Some((at, session)) = series.at(place)
                        && !each(Context::Session(at, session))
                    {
                        return;
                    }
                }
                return;
            }
            Carrier::Assessment => &index.assessments,
            Carrier::Screening => &index.screenings,
            Carrier::Nothing => return,
        };
        for sheet in sheets {
            let seen = sheet.date >= from && self.view.sees(sheet.date, sheet.known);
            if seen && !each(Context::Sheet(sheet)) {
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
                let told = Told {
                    values: &sheet.values,
                    other: &sheet.other,
                    sets: &[],
                };
                let found = combined::told(self.view.pack, ix, measure, told);
                if found == Read::PassedOver && !measure.expected {
                    return Read::PassedOver;
                }
                self.tap.fact(&self.view, sheet.date, sheet.known);
                self.noted(ix, measure, found, sheet.date, sheet.position)
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
                return (self.computed(ix, measure, computed, own), Context::Nothing);
            }
            Origin::Defined(defined) => {
                return (self.defined(ix, measure, defined), Context::Nothing);
            }
            Origin::Reported | Origin::Combined(_) => {}
        }
        let index = self.view.history.index();
        let sheets = match measure.carrier {
            Carrier::Assessment => &index.assessments,
            Carrier::Screening => &index.screenings,
            Carrier::Exercise | Carrier::Session | Carrier::MorningAfter => {
                let own = own.filter(|_| measure.carrier == Carrier::Exercise);
                for (at, session) in self.sessions_back(own) {
                    let context = Context::Session(at, session);
                    let read = self.read(ix, measure, own, context);
                    if read != Read::PassedOver {
                        return (read, context);
                    }
                }
                return (Read::NotFull, Context::Nothing);
            }
            Carrier::Nothing => return (Read::NotFull, Context::Nothing),
        };
        for sheet in sheets.iter().rev() {
            if self.view.sees(sheet.date, sheet.known) {
                let context = Context::Sheet(sheet);
                let read = self.read(ix, measure, own, context);
                if read != Read::PassedOver {
                    return (read, context);
                }
            }
        }
        let never_made = || SeenValue::Missing;
        self.tap.seen(ix, None, never_made, self.view.as_of, None);
        (Read::Missing(value::whole(measure)), Context::Nothing)
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
        let mut features: SmallVec<[_; 8]> = defined.features.iter().collect();
        features.sort_by_key(|(choice, _)| std::cmp::Reverse(*choice));
        let mut bits = 0;
        let mut met = false;
        for (choice, criterion) in features {
            // Gentler features are read too, though they decide nothing: what is new in them is new in the measure.
            let truth = self.tap.aside(|| inside.truth(criterion));
            if truth.yes && !met {
                bits |= value::bit(choice.0);
            }
            met |= truth.yes && !truth.no;
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

    pub(super) fn stale(&self, measure: &Measure, date: Date) -> bool {
        self.scope.fresh
            && measure
                .fresh_days
                .is_some_and(|days| days_between(date, self.view.as_of) > i64::from(days))
    }

    /// Notes what a fact says, or that it is missing: not said, or too old.
    pub(super) fn noted(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        found: Read,
        date: Date,
        position: Position,
    ) -> Read {
        let read = match found {
            Read::Known(_) | Read::Missing(_) if !self.stale(measure, date) => found,
            _ => Read::Missing(value::whole(measure)),
        };
        let value = || seen_value(measure, read);
        self.tap.seen(ix, None, value, date, Some(position));
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
    from: Option<DecisionNo>,
}

impl<'a> SessionsBack<'a> {
    /// The session at one place of the list (of all sessions, where there is no list), if it counts and is seen.
    fn at(&self, place: usize) -> Option<(usize, &'a SessionFact)> {
        let index = self.view.history.index();
        let at = self.session(place)?;
        let mark = index.marks.get(at)?;
        let counts = self.from.is_none() || mark.followed >= self.from;
        if !counts || !self.view.sees(mark.date, mark.known) {
            return None;
        }
        Some((at, index.sessions.get(at)?))
    }

    fn session(&self, place: usize) -> Option<usize> {
        match self.list {
            Some(list) => list.get(place).map(|at| *at as usize),
            None => Some(place),
        }
    }
}

impl<'a> Iterator for SessionsBack<'a> {
    type Item = (usize, &'a SessionFact);

    fn next(&mut self) -> Option<Self::Item> {
        let marks = &self.view.history.index().marks;
        loop {
            self.left = self.left.checked_sub(1)?;
            let top = marks.get(self.session(self.left)?)?.followed_top;
            if self.from.is_some() && top < self.from {
                self.left = 0;
                return None;
            }
            if let Some(found) = self.at(self.left) {
                return Some(found);
            }
        }
    }
}

//! What a reading sees: which facts, for which rule, judged at which date; and what it saw.

use super::possible::Possible;
use super::value::Range;
use super::watch::Watch;
use super::{Seen, SeenValue};
use crate::decide::Stand;
use crate::fact::{DecisionNo, Position};
use crate::history::{History, SessionFact};
use jiff::civil::Date;
use rungwise_pack::model::{ExerciseIx, MeasureIx, Pack, Polarity, SentenceIx};
use rungwise_pack::quantity::Milli;
use std::cell::Cell;

/// Which facts are seen.
#[derive(Clone, Copy)]
pub(crate) struct View<'a> {
    /// The rules.
    pub(crate) pack: &'a Pack,
    /// The facts.
    pub(crate) history: &'a History,
    /// What is in force.
    pub(crate) stand: &'a Stand,
    /// The date judged at; facts dated later are not seen.
    pub(crate) as_of: Date,
    /// Only facts known after this position are seen.
    pub(crate) after: Option<Position>,
    /// Only facts known up to this position are seen.
    pub(crate) before: Option<Position>,
    /// What the last prescribing decision had seen: facts known up to this position and dated up to this date.
    pub(crate) seen_by_last: Option<(Position, Date)>,
    /// Who wants to know the verdicts of sentences.
    pub(crate) watch: Option<&'a Watch>,
}

impl View<'_> {
    /// Tells the watch what a sentence may be, where somebody watches.
    pub(crate) fn note(&self, sentence: SentenceIx, possible: Possible) {
        if let Some(watch) = self.watch {
            watch.note(sentence, possible.verdict());
        }
    }

    /// Whether a fact is seen.
    pub(crate) fn sees(&self, date: Date, known: Position) -> bool {
        date <= self.as_of
            && self.after.is_none_or(|after| known > after)
            && self.before.is_none_or(|before| known <= before)
    }

    /// Whether a fact is new: the last prescribing decision did not see it.
    pub(crate) fn is_new(&self, date: Date, known: Position) -> bool {
        self.seen_by_last
            .is_none_or(|(position, seen)| known > position || date > seen)
    }

    /// The date of the last session seen.
    pub(crate) fn last_session(&self) -> Option<&SessionFact> {
        let sessions = self.history.index().sessions.iter().rev();
        sessions
            .into_iter()
            .find(|one| self.sees(one.date, one.known))
    }
}

/// For which rule it is read.
#[derive(Clone, Copy)]
pub(crate) struct Scope {
    /// In which direction the rule moves a person.
    pub(crate) polarity: Polarity,
    /// The exercise whose rule or limit it is: an unquantified measure is that exercise's own.
    pub(crate) exercise: Option<ExerciseIx>,
    /// Only sessions of this exercise count.
    pub(crate) sessions_of: Option<ExerciseIx>,
    /// Only sessions that followed this decision or a later one count.
    pub(crate) from: Option<DecisionNo>,
    /// Whether a prescribed exercise that was not done is a missing value (enter and discharge).
    pub(crate) prescribed: bool,
    /// Whether values go stale: not as references, nor in a session that is judged against a limit.
    pub(crate) fresh: bool,
}

impl Scope {
    /// A cautious rule's: everything seen counts.
    pub(crate) const CAUTIOUS: Self = Self {
        polarity: Polarity::Cautious,
        exercise: None,
        sessions_of: None,
        from: None,
        prescribed: false,
        fresh: true,
    };

    /// An upward rule's without bounds (start rules).
    pub(crate) const UPWARD: Self = Self {
        polarity: Polarity::Upward,
        ..Self::CAUTIOUS
    };
}

/// What was read. Kept in cells, so that reading needs no exclusive access.
#[derive(Default)]
pub(crate) struct Tap {
    /// Whether a fact was read.
    pub(crate) read: Cell<bool>,
    /// Whether a fact was read that is new to the last prescribing decision.
    pub(crate) new: Cell<bool>,
    /// The values, where somebody wants them.
    trace: Option<Trace>,
}

#[derive(Default)]
struct Trace {
    seen: Cell<Vec<Seen>>,
    value: Cell<Option<Milli>>,
    wanted: Cell<Option<Milli>>,
    sessions_more: Cell<Option<u16>>,
}

/// What a tap collected of one sentence.
pub(crate) struct Collected {
    pub(crate) seen: Vec<Seen>,
    pub(crate) value: Option<Milli>,
    pub(crate) wanted: Option<Milli>,
    pub(crate) sessions_more: Option<u16>,
}

impl Tap {
    /// One that also keeps the values.
    pub(crate) fn tracing() -> Self {
        Self {
            trace: Some(Trace::default()),
            ..Self::default()
        }
    }

    /// Whether it keeps the values.
    pub(crate) const fn traces(&self) -> bool {
        self.trace.is_some()
    }

    /// Notes that a fact was read.
    pub(crate) fn fact(&self, view: &View<'_>, date: Date, known: Position) {
        self.read.set(true);
        if !self.new.get() && view.is_new(date, known) {
            self.new.set(true);
        }
    }

    /// Keeps a value.
    pub(crate) fn seen(
        &self,
        measure: MeasureIx,
        exercise: Option<ExerciseIx>,
        value: impl FnOnce() -> SeenValue,
        date: Date,
        position: Option<Position>,
    ) {
        if let Some(trace) = &self.trace {
            let one = Seen {
                measure,
                exercise,
                value: value(),
                date,
                position,
            };
            let mut seen = trace.seen.take();
            if !seen.contains(&one) {
                seen.push(one);
            }
            trace.seen.set(seen);
        }
    }

    /// Keeps the value that counts now and the one it is compared with; the newest comes first and stays.
    pub(crate) fn compared(&self, value: &Range, wanted: &Range) {
        if let Some(trace) = &self.trace
            && trace.value.get().is_none()
            && trace.wanted.get().is_none()
        {
            trace.value.set(value.floor());
            trace.wanted.set(wanted.floor());
        }
    }

    /// Keeps how many more sessions are needed.
    pub(crate) fn sessions_more(&self, more: u16) {
        if let Some(trace) = &self.trace {
            trace.sessions_more.set(Some(more));
        }
    }

    /// Does something of its own accord: what it compares, and the sessions it lacks, are not those of the sentence.
    pub(crate) fn aside<T>(&self, reading: impl FnOnce() -> T) -> T {
        let Some(trace) = &self.trace else {
            return reading();
        };
        let (value, wanted) = (trace.value.get(), trace.wanted.get());
        let sessions_more = trace.sessions_more.get();
        let read = reading();
        trace.value.set(value);
        trace.wanted.set(wanted);
        trace.sessions_more.set(sessions_more);
        read
    }

    /// Hands over what was collected and starts afresh.
    pub(crate) fn collect(&self) -> Collected {
        let empty = Trace::default();
        let trace = self.trace.as_ref().unwrap_or(&empty);
        Collected {
            seen: trace.seen.take(),
            value: trace.value.take(),
            wanted: trace.wanted.take(),
            sessions_more: trace.sessions_more.take(),
        }
    }
}

/// Whole days from one date to another; negative where `to` is the earlier.
pub(crate) fn days_between(from: Date, to: Date) -> i64 {
    if from.year() == to.year() {
        return i64::from(to.day_of_year()).saturating_sub(i64::from(from.day_of_year()));
    }
    to.duration_since(from).as_hours().div_euclid(24)
}

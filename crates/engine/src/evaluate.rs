//! Findings: sentences and rules evaluated over a history, three-valued and exact.
//!
//! A sentence is evaluated to the set of verdicts that its missing values leave possible; a rule combines them (design,
//! section 4). No float, and an overflow leaves every verdict possible.
//!
//! Leaves to others: what follows from a verdict (`crate::decide`), the words (`crate::explain`).

mod change;
mod combined;
mod computed;
mod possible;
mod quick;
mod read;
mod rule;
mod sentence;
mod session;
mod value;
mod view;
mod volume;
mod watch;
mod window;

pub(crate) use possible::Possible;
pub(crate) use read::{Context, Read, Reader};
pub(crate) use rule::{Judged, judge, judge_cleared, lacking, trace_criterion, trace_sentence};
pub(crate) use sentence::of_sessions;
pub(crate) use value::Value;
pub(crate) use view::{Scope, Tap, View, days_between};

pub use watch::{Verdicts, Watch};

use crate::decision::Verdict;
use crate::fact::Position;
use jiff::civil::Date;
use rungwise_pack::model::{ExerciseIx, MeasureIx, SentenceIx};
use rungwise_pack::quantity::{Key, Milli};

/// A sentence evaluated, with what it saw: for explanations. Deciding does not make these.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SentenceTrace {
    /// The sentence.
    pub sentence: SentenceIx,
    /// Its verdict.
    pub verdict: Verdict,
    /// The values that it read, newest first.
    pub seen: Vec<Seen>,
    /// The value that counts now, where it is one number (thousandths; a mean is rounded down).
    pub value: Option<Milli>,
    /// The number it is compared with, where that is one number (thousandths; a percentage is rounded down).
    pub wanted: Option<Milli>,
    /// How many more sessions it needs at least, where sessions are counted and it is not met.
    pub sessions_more: Option<u16>,
}

/// A value that a sentence read.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Seen {
    /// The measure.
    pub measure: MeasureIx,
    /// The exercise, where it is one exercise's value.
    pub exercise: Option<ExerciseIx>,
    /// What it was.
    pub value: SeenValue,
    /// The date on which it happened (of a session's values: the session's).
    pub date: Date,
    /// The position of the fact that carries it or should have; none for what is worked out, or a morning-after that
    /// did not come.
    pub position: Option<Position>,
}

/// What a value read was.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum SeenValue {
    /// A number in thousandths of the measure's unit.
    Number(Milli),
    /// A choice.
    Choice(Key),
    /// Missing: not reported, stale, or not done.
    Missing,
    /// It never happened.
    Never,
}

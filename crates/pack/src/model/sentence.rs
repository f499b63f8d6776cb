//! Sentences: one criterion each, about one measure. The grammar stands in the documentation of `crate::read`.

use super::{ChoiceIx, ExerciseIx, MeasureIx};
use crate::quantity::{Key, Milli, Variable};

/// One sentence as it stands in the pack and as it is understood.
#[derive(Clone, Debug)]
pub struct Sentence {
    /// The words, verbatim.
    pub text: String,
    /// What it is about.
    pub subject: Subject,
    /// What is asked of it.
    pub relation: Relation,
    /// Over which values.
    pub window: Window,
    /// Who vouches for its numbers.
    pub grounds: Grounds,
}

/// What a sentence is about.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Subject {
    /// A measure.
    Measure {
        /// Which.
        measure: MeasureIx,
        /// Over which exercises of a session.
        over: Over,
    },
    /// How far exercises in force have come: the dose in force (relief counted) stands at or past `value` in its
    /// row. An exercise that is not in force counts by its last place, a withdrawn one not at all.
    Reached {
        /// Which exercises.
        which: Which,
        /// In which variable.
        variable: Variable,
        /// Up to which value, as text for labels and as a number otherwise.
        value: super::RowValue,
    },
}

/// Exercises that "has reached" speaks of.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Which {
    /// This one.
    One(ExerciseIx),
    /// At least so many of those in force.
    AtLeast(u16),
}

/// Over which exercises of a session a per-exercise measure is read.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Over {
    /// No quantifier: the worst over the session in a phase or pack rule, the exercise's own in an exercise's rule.
    Plain,
    /// Met in a session if met by any exercise done in it.
    AnyExercise,
    /// Met in a session if met by every exercise done in it.
    EveryExercise,
    /// Met in a session if met by at least so many exercises done in it.
    AtLeastExercises(u16),
    /// This exercise's own.
    Of(ExerciseIx),
}

/// What is asked of the subject.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Relation {
    /// `at most`, `at least`, `below`, `above`.
    Compare(Compare, Amount),
    /// Both ends included.
    Between(Amount, Amount),
    /// Exactly this choice.
    Is(ChoiceIx),
    /// Any choice but this one.
    IsNot(ChoiceIx),
    /// This choice or a better one.
    NoWorseThan(ChoiceIx),
    /// The value moved by at least so much in this direction.
    Change(Direction, ChangeBy, Reference),
    /// Nothing more: the subject is [`Subject::Reached`], which says it all (its window is [`Window::Latest`]).
    Reached,
}

/// The four comparisons.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Compare {
    /// `<=`
    AtMost,
    /// `>=`
    AtLeast,
    /// `<`
    Below,
    /// `>`
    Above,
}

/// What a value is compared with.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Amount {
    /// A number.
    Fixed(Milli),
    /// A number above (positive) or below (negative) another measure's value: of the same session where both belong
    /// to sessions, else its latest.
    Offset(Milli, MeasureIx),
    /// A percentage of the same assessment's value of the other side, where that side was reported sound.
    PercentOfOtherSide(Milli),
    /// A percentage of another measure's value (same session, else latest).
    PercentOf(Milli, MeasureIx),
}

/// Up or down, in numbers (not in better or worse).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Direction {
    /// The number grew.
    Up,
    /// The number shrank.
    Down,
}

/// By how much.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum ChangeBy {
    /// In the measure's unit.
    Units(Milli),
    /// In per cent of the reference (ratio measures only). A reference of zero makes the sentence not yet full.
    Percent(Milli),
}

/// What a change is counted from. References never go stale.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Reference {
    /// The first fact that carries the measure (since the latest new baseline).
    FirstAssessment,
    /// The one before the latest.
    AssessmentBefore,
    /// The best before the latest.
    BestAssessment,
    /// The latest one dated on or before the day on which this stay in the phase began.
    PhaseEntry,
    /// The same statistic over the `days` days before the window (needs a window of days or weeks).
    DaysBefore(u32),
}

/// Over which values a sentence is read.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Window {
    /// No window: the latest value.
    Latest,
    /// The last session.
    LastSession,
    /// Each of the last `n` sessions.
    EachOfLast(u16),
    /// Any of the last `n` sessions.
    AnyOfLast(u16),
    /// At least `k` of the last `n` sessions.
    SessionsOfLast {
        /// How many must meet the relation.
        k: u16,
        /// Of how many.
        n: u16,
    },
    /// On at least `k` of the last `n` days.
    DaysOfLast {
        /// How many days must have a value that meets the relation.
        k: u16,
        /// Of how many days.
        n: u16,
    },
    /// A statistic over a span of days.
    Over(Stat, Span),
}

/// A statistic.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stat {
    /// The mean, exact.
    Average,
    /// The worst in the measure's direction.
    Worst,
    /// The best in the measure's direction.
    Best,
    /// The sum.
    Total,
}

/// A span of days. `Days(7)` ending on a day holds that day and the six before it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Span {
    /// So many days (a week in the text is seven).
    Days(u32),
    /// From the day on which this stay in the phase began.
    SincePhase,
}

/// Who vouches for a number.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Grounds {
    /// A source of the pack, by key, and what it states.
    Source {
        /// Key in the pack's list of sources.
        key: Key,
        /// The value that the source states, in the clinician's words; may be empty.
        states: String,
    },
    /// Somebody's judgement.
    Judgement {
        /// Whose.
        by: String,
        /// Why.
        why: String,
    },
}

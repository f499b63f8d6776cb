//! Exact quantities: thousandths, units with their dimension, and the variables that a dose is made of.
//!
//! Leaves to others: evaluating sentences (`rungwise-engine`) and reading text (`crate::read`).

use std::fmt;
use std::sync::Arc;

/// A short stable name (rule, measure, exercise, line, phase …) that is cloned cheaply.
pub type Key = Arc<str>;

/// A number in thousandths of its unit. `3` is `Milli(3000)`; what does not fit is refused, never rounded.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Milli(pub i64);

impl Milli {
    /// A whole number of units.
    ///
    /// Saturates at the ends of `i64`; the checker keeps every number of a pack far inside them.
    #[must_use]
    pub const fn whole(units: i64) -> Self {
        Self(units.saturating_mul(1000))
    }
}

impl fmt::Display for Milli {
    /// Prints the shortest exact decimal: `3`, `-0.5`, `1.125`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let size = self.0.unsigned_abs();
        let (units, rest) = (size / 1000, size % 1000);
        if rest == 0 {
            return write!(f, "{sign}{units}");
        }
        let digits = format!("{rest:03}");
        write!(f, "{sign}{units}.{}", digits.trim_end_matches('0'))
    }
}

/// What a unit measures. Mixing two of these is an error when a pack is loaded and when a fact is recorded.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Dimension {
    /// A count or a score: UCUM `1`, `{score}`, `{reps}` …
    One,
    /// A proportion: UCUM `%`.
    Percent,
    /// Plane angle: `deg`, `rad`.
    Angle,
    /// Duration: `s`, `min`, `h`, `d`, `wk`, `mo`, `a`.
    Time,
    /// Length: `mm`, `cm`, `m`.
    Length,
    /// Mass: `g`, `kg`, `[lb_av]`.
    Mass,
    /// Force: `N`, `kgf`, `[lbf_av]`.
    Force,
    /// Torque: `N.m`.
    Torque,
    /// Frequency: `/d`, `/wk`, `/min`.
    Frequency,
}

/// A UCUM unit as written, with its dimension. Two units are interchangeable only when both are equal.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Unit {
    /// The case-sensitive UCUM code, such as `deg`.
    pub code: Key,
    /// What it measures.
    pub dimension: Dimension,
}

/// The progression variables of a dose. These words are the trade's own and fixed; their values are the pack's.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Variable {
    /// Repetitions in a set, `{reps}`.
    Reps,
    /// Seconds a contraction or an end position is held, `s`.
    HoldTime,
    /// Sets in a session.
    Sets,
    /// Effort asked for: a label or a percentage of maximum.
    Effort,
    /// Load: a label, a force in `N` or a mass in `kg`.
    Load,
    /// Range of motion, `deg`.
    Range,
    /// Body or hand position: a label.
    Position,
    /// Tempo: a label such as `3-1-3`.
    Tempo,
    /// Support, from most to least; an aid is support that is withdrawn.
    Support,
    /// Sessions a day.
    TimesADay,
    /// Days a week.
    DaysAWeek,
    /// Rest between sets, `s`.
    Rest,
}

impl Variable {
    /// Every variable, in the order in which a dose is read aloud.
    pub const ALL: [Self; 12] = [
        Self::Sets,
        Self::Reps,
        Self::HoldTime,
        Self::Effort,
        Self::Load,
        Self::Range,
        Self::Position,
        Self::Tempo,
        Self::Support,
        Self::Rest,
        Self::TimesADay,
        Self::DaysAWeek,
    ];

    /// The UCUM unit of its numbers, where a sentence may write one: `has reached hold time 10 s`.
    #[must_use]
    pub const fn unit(self) -> Option<&'static str> {
        match self {
            Self::Reps => Some("{reps}"),
            Self::Sets => Some("{sets}"),
            Self::HoldTime | Self::Rest => Some("s"),
            Self::Effort => Some("%"),
            Self::Load => Some("N"),
            Self::Range => Some("deg"),
            Self::TimesADay => Some("/d"),
            Self::DaysAWeek => Some("/wk"),
            Self::Position | Self::Tempo | Self::Support => None,
        }
    }

    /// The word used in packs, messages and explanations.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Reps => "reps",
            Self::HoldTime => "hold time",
            Self::Sets => "sets",
            Self::Effort => "effort",
            Self::Load => "load",
            Self::Range => "range",
            Self::Position => "position",
            Self::Tempo => "tempo",
            Self::Support => "support",
            Self::TimesADay => "times a day",
            Self::DaysAWeek => "days a week",
            Self::Rest => "rest",
        }
    }
}

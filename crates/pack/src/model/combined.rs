//! Measures worked out from other values of the same fact: strength, symmetry, scores of questionnaires.
//!
//! Leaves to others: how they are declared (`crate::read`), what their parts must be (`crate::check`), working them out
//! (`rungwise-engine`).

use super::MeasureIx;
use crate::quantity::Key;

/// Largest quotient of two values that is told apart; a larger one counts as this. As a percentage, 1,000 %.
pub const QUOTIENT_MAX: i64 = 10;

/// The fixed list of recipes. The parts are reported numbers of one carrier, which is the measure's carrier too: an
/// assessment, or an exercise of a session. The last two have no parts: an exercise's sets and dose give them.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Combined {
    /// The load that could be lifted once, estimated from a lighter one lifted several times, in the load's unit.
    Maximum {
        /// By which formula.
        method: Method,
        /// The load lifted.
        load: MeasureIx,
        /// How often; none: the most repetitions of any set of the exercise.
        repetitions: Option<MeasureIx>,
        /// Repetitions that were left in reserve, added to those done; none: they were as many as could be done.
        in_reserve: Option<MeasureIx>,
        /// Most repetitions, reserve included, for which the formula is used.
        repetitions_max: u32,
    },
    /// A value as a percentage of the other side's in the same assessment.
    OtherSide {
        /// Whose.
        of: MeasureIx,
    },
    /// A value divided by another.
    Ratio {
        /// What is divided.
        of: MeasureIx,
        /// By what.
        to: MeasureIx,
        /// How both are measured: quotients by different methods do not compare.
        method: Key,
    },
    /// A mean of items of one range: of one scale's items, or of the means of several scales.
    Mean {
        /// The items of each scale.
        scales: Vec<Vec<MeasureIx>>,
        /// Fewest items, of all scales together, that must be answered.
        answered_min: u32,
        /// As what.
        told_as: ToldAs,
    },
    /// The load of an exercise times the repetitions of its sets, in the load's unit.
    VolumeLoad,
    /// Seconds of an exercise's sets, by the tempo and the hold time of its dose.
    TimeUnderTension,
}

/// Largest volume load (in its unit) and time under tension (in seconds) that is told apart; a larger one counts as this.
pub const VOLUME_MAX: i64 = 1_000_000;

/// Largest week-on-week change that is told apart, in per cent; a larger one counts as this.
pub const CHANGE_MAX: i64 = 1_000;

/// How a load lifted several times tells the one that could be lifted once.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Method {
    /// Epley 1985: load x (1 + r / 30) for two repetitions and more, the load itself for one.
    Epley,
    /// Brzycki 1993: load x 36 / (37 - r); there is none from 37 repetitions on.
    Brzycki,
}

impl Method {
    /// The name it was published under.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Epley => "Epley",
            Self::Brzycki => "Brzycki",
        }
    }
}

/// As what a mean of items is told.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum ToldAs {
    /// In the items' own unit.
    ItsOwn,
    /// As a percentage of the items' range: 0 where every item is at its least, 100 where every one is at its most.
    Percent,
    /// The other way round: 100 where every item is at its least.
    PercentTurned,
}

impl Combined {
    /// The measures that it is worked out from, in declared order.
    #[must_use]
    pub fn parts(&self) -> Vec<MeasureIx> {
        match self {
            Self::Maximum {
                load,
                repetitions,
                in_reserve,
                ..
            } => [Some(*load), *repetitions, *in_reserve]
                .into_iter()
                .flatten()
                .collect(),
            Self::OtherSide { of } => vec![*of],
            Self::Ratio { of, to, .. } => vec![*of, *to],
            Self::Mean { scales, .. } => scales.concat(),
            Self::VolumeLoad | Self::TimeUnderTension => Vec::new(),
        }
    }

    /// Whether it is worked out of the sets of an exercise, and not of values.
    #[must_use]
    pub const fn is_volume(&self) -> bool {
        matches!(self, Self::VolumeLoad | Self::TimeUnderTension)
    }

    /// The measure that a reference is read for, where one is: making the other side, or what is divided by, worse makes
    /// the quotient better.
    #[must_use]
    pub const fn relative(&self) -> Option<MeasureIx> {
        match self {
            Self::OtherSide { of } | Self::Ratio { of, .. } => Some(*of),
            Self::Maximum { .. }
            | Self::Mean { .. }
            | Self::VolumeLoad
            | Self::TimeUnderTension => None,
        }
    }
}

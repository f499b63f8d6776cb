//! The meaning of a checked rule pack, as plain data.
//!
//! Everything refers to everything else by index into the lists of [`Pack`]; keys are kept for people, for the stored
//! record and for carrying a place from one pack version to the next. Values are exact
//! ([`Milli`](crate::quantity::Milli)).
//!
//! Leaves to others: how a pack is written (`crate::read`), what is refused (`crate::check`), what it decides
//! (`rungwise-engine`).

mod band;
mod combined;
mod dose;
mod measure;
mod rules;
mod sentence;

pub use band::{Anchored, BandHeight, BandMotion, BandWork};
pub use combined::{CHANGE_MAX, Combined, Method, QUOTIENT_MAX, ToldAs, VOLUME_MAX};
pub use dose::{Exercise, GivesWay, Line, Maintenance, Row, RowStep, RowValue, Rung, TORQUE};
pub use measure::{Carrier, Computed, Defined, Measure, MeasureKind, Origin, Reporter, Worse};
pub use rules::{
    Criterion, LayOffRow, Limit, Outcome, Phase, Polarity, Rule, RuleKind, Screening, Urgency,
};
pub use sentence::{
    Amount, ChangeBy, Compare, Direction, Grounds, Over, Reference, Relation, Sentence, Span, Stat,
    Subject, Which, Window,
};

use crate::quantity::Key;
use std::collections::BTreeMap;

macro_rules! index {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub struct $name(pub u16);
        impl $name {
            /// The index as a `usize`, for use with `get`.
            #[must_use]
            pub const fn at(self) -> usize { self.0 as usize }
        }
    )*};
}

index! {
    /// Index into [`Pack::measures`].
    MeasureIx;
    /// Index into [`Pack::sentences`]. The sentence number that compact findings store.
    SentenceIx;
    /// Index into [`Pack::rules`].
    RuleIx;
    /// Index into [`Pack::phases`]; phases are in order of care, gentlest first.
    PhaseIx;
    /// Index into [`Pack::lines`]; lines are in declared order.
    LineIx;
    /// Index into [`Pack::exercises`]; the exercises of a line are consecutive, gentlest first.
    ExerciseIx;
    /// Index into a measure's choices, best first (so a larger index is worse).
    ChoiceIx;
}

/// A pack that the checker has accepted. Only `crate::check` makes one.
///
/// INVARIANT (checked-only): the field is private and there is no other constructor, so the engine cannot be called
/// with an unchecked pack.
#[derive(Clone, Debug)]
pub struct CheckedPack(Pack);

impl CheckedPack {
    /// Seals a pack that has passed every check.
    pub(crate) const fn seal(pack: Pack) -> Self {
        Self(pack)
    }
}

impl std::ops::Deref for CheckedPack {
    type Target = Pack;
    fn deref(&self) -> &Pack {
        &self.0
    }
}

/// Everything that a pack says.
#[derive(Clone, Debug)]
pub struct Pack {
    /// SHA-256 over the pack's files in name order; names the pack exactly.
    pub digest: [u8; 32],
    /// Stable identity, such as `rotator-cuff`.
    pub id: Key,
    /// The pack's own version.
    pub version: Key,
    /// One line for people.
    pub title: String,
    /// Whom the pack is for and whom it is not for.
    pub scope: String,
    /// Text keys of the cautions that every prescription carries. Never empty.
    pub cautions: Vec<Key>,
    /// Where numbers come from.
    pub sources: BTreeMap<Key, String>,
    /// Outcomes that need a clinician's sign-off.
    pub sign_off: Vec<Outcome>,
    /// The lay-off table, shortest gap first; gaps shorter than the first row change nothing.
    pub lay_off: Vec<LayOffRow>,
    /// Days after which an unasked episode should be looked at again (for `next_review`).
    pub review_days: u32,
    /// Every measure.
    pub measures: Vec<Measure>,
    /// The measure of the person's standing height, where an exercise is done with a band.
    pub height: Option<MeasureIx>,
    /// Kinds of event that may be reported, such as `fall`.
    pub events: Vec<Key>,
    /// Every sentence of every rule, in file order.
    pub sentences: Vec<Sentence>,
    /// Every rule. Screening rules come first, then pack-wide rules, then each phase's, then each exercise's.
    pub rules: Vec<Rule>,
    /// Refer rules with their urgency and route.
    pub screening: Vec<Screening>,
    /// Limits that hold in every phase.
    pub limits: Vec<Limit>,
    /// Phases in order of care.
    pub phases: Vec<Phase>,
    /// Lines in declared order.
    pub lines: Vec<Line>,
    /// Exercises, grouped by line.
    pub exercises: Vec<Exercise>,
    /// Texts by language tag, then by key. Every declared language has every key.
    pub texts: BTreeMap<Key, BTreeMap<Key, String>>,
    /// The language used when another is not asked for.
    pub language: Key,
}

impl Pack {
    /// The measure declared under `name`.
    #[must_use]
    pub fn measure(&self, name: &str) -> Option<MeasureIx> {
        find(&self.measures, |measure| &*measure.name == name).map(MeasureIx)
    }

    /// The phase declared under `key`.
    #[must_use]
    pub fn phase(&self, key: &str) -> Option<PhaseIx> {
        find(&self.phases, |phase| &*phase.key == key).map(PhaseIx)
    }

    /// The line declared under `key`.
    #[must_use]
    pub fn line(&self, key: &str) -> Option<LineIx> {
        find(&self.lines, |line| &*line.key == key).map(LineIx)
    }

    /// The exercise declared under `key`.
    #[must_use]
    pub fn exercise(&self, key: &str) -> Option<ExerciseIx> {
        find(&self.exercises, |exercise| &*exercise.key == key).map(ExerciseIx)
    }

    /// The rule declared under `key`.
    #[must_use]
    pub fn rule(&self, key: &str) -> Option<RuleIx> {
        find(&self.rules, |rule| &*rule.key == key).map(RuleIx)
    }

    /// The text under `key` in `language`, or in the pack's own language where `language` is not declared.
    #[must_use]
    pub fn text(&self, language: &str, key: &str) -> Option<&str> {
        let texts = self
            .texts
            .get(language)
            .or_else(|| self.texts.get(&self.language))?;
        texts.get(key).map(String::as_str)
    }
}

fn find<T>(list: &[T], wanted: impl Fn(&T) -> bool) -> Option<u16> {
    list.iter()
        .position(wanted)
        .and_then(|at| u16::try_from(at).ok())
}

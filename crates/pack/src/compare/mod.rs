//! Two versions of a pack beside each other: what the newer loosens, what it tightens, and what it only says otherwise.
//!
//! Rules, limits, phases, lines, exercises and measures are the same where their names are (an exercise also by a name
//! that it had); sentences are compared by what they mean, never by their letters. Where every change tightens or changes
//! no decision, the newer version is *proved* never to be bolder: each of its upward rules is met only where the older's
//! was, each cautious rule and each limit wherever the older's was, and everything else is the same. That is for one
//! decision from the same history; what follows from another course taken earlier is not compared.
//!
//! Leaves to others: looking for a course on which the newer is bolder (`rungwise-rehearsal`), the clinic's episodes.

mod criteria;
mod exercises;
mod heads;
mod measures;
mod rules;
mod sentences;

pub use exercises::successor;

use crate::model::{CheckedPack, Pack};

/// What a change does to decisions.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Effect {
    /// Somebody may be moved further than before.
    Loosens,
    /// It could not be told which way it works.
    Unclear,
    /// Nobody is moved further than before, and somebody may be moved less far.
    Tightens,
    /// It changes what is said or asked, and no decision.
    Neither,
}

impl Effect {
    /// The word used everywhere.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Loosens => "loosens",
            Self::Unclear => "cannot be told",
            Self::Tightens => "tightens",
            Self::Neither => "changes no decision",
        }
    }
}

/// One difference, in the pack's own words.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Change {
    /// What it does.
    pub effect: Effect,
    /// What it is of: `hold rule` `bands-hold`, the limit `pain-during` and so on.
    pub of: String,
    /// What stood before; none where it is new.
    pub before: Option<String>,
    /// What stands now; none where it is gone.
    pub after: Option<String>,
}

/// Every difference, the boldest first.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Comparison {
    /// The differences.
    pub changes: Vec<Change>,
}

impl Comparison {
    /// Whether it is proved that the newer pack is never bolder: every change tightens, or changes no decision.
    #[must_use]
    pub fn is_never_bolder(&self) -> bool {
        self.changes
            .iter()
            .all(|change| matches!(change.effect, Effect::Tightens | Effect::Neither))
    }
}

/// Compares two packs.
#[must_use]
pub fn compare(old: &CheckedPack, new: &CheckedPack) -> Comparison {
    let mut both = Both {
        old,
        new,
        changes: Vec::new(),
    };
    both.heads();
    both.measures();
    both.rules();
    both.phases();
    both.exercises();
    let mut changes = both.changes;
    changes.sort();
    changes.dedup();
    Comparison { changes }
}

/// Two packs, and what was found so far.
struct Both<'b> {
    old: &'b Pack,
    new: &'b Pack,
    changes: Vec<Change>,
}

impl Both<'_> {
    fn add(&mut self, effect: Effect, of: &str, before: Option<String>, after: Option<String>) {
        self.changes.push(Change {
            effect,
            of: of.to_owned(),
            before,
            after,
        });
    }

    /// Adds a change of a plain value, if there is one.
    fn value<T: PartialEq>(
        &mut self,
        effect: Effect,
        of: &str,
        (old, new): (&T, &T),
        said: impl Fn(&T) -> String,
    ) {
        if old != new {
            self.add(effect, of, Some(said(old)), Some(said(new)));
        }
    }
}

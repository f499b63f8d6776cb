//! A watch over the verdicts that sentences are given while a decision is made: for the coverage of diaries.
//!
//! It changes nothing of what is decided. Leaves to others: what counts as covered (`rungwise-rehearsal`).

use crate::decision::Verdict;
use rungwise_pack::model::SentenceIx;
use std::cell::RefCell;

/// Which verdicts a sentence was given.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Verdicts {
    /// Met.
    pub met: bool,
    /// Not met.
    pub not_met: bool,
    /// Unknown: a missing value decided.
    pub unknown: bool,
    /// Not yet full.
    pub not_yet_full: bool,
}

/// Collects the verdicts of every sentence that a decision reads: of rules, limits, their conditions, needs, and the
/// features of defined measures.
#[derive(Debug, Default)]
pub struct Watch {
    verdicts: RefCell<Vec<Verdicts>>,
}

impl Watch {
    /// Nothing watched yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The verdicts that a sentence was given so far.
    #[must_use]
    pub fn of(&self, sentence: SentenceIx) -> Verdicts {
        let verdicts = self.verdicts.borrow();
        verdicts.get(sentence.at()).copied().unwrap_or_default()
    }

    pub(crate) fn note(&self, sentence: SentenceIx, verdict: Verdict) {
        let mut verdicts = self.verdicts.borrow_mut();
        if verdicts.len() <= sentence.at() {
            verdicts.resize(sentence.at().saturating_add(1), Verdicts::default());
        }
        if let Some(seen) = verdicts.get_mut(sentence.at()) {
            match verdict {
                Verdict::Met => seen.met = true,
                Verdict::NotMet => seen.not_met = true,
                Verdict::Unknown => seen.unknown = true,
                Verdict::NotYetFull => seen.not_yet_full = true,
            }
        }
    }
}

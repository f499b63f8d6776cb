//! What a sound pack is proved not to do, from its sentences alone.
//!
//! `crate::check` refuses what cannot be understood and what would break a theorem. A pack that it accepts may still be
//! useless or trap somebody: rules that no value meets, a phase that holds back whoever enters it, an exercise without a
//! limit. These are looked for here. They stop a pack from coming into force, and not one in force from loading.
//!
//! *Proved* is what is reported as an error: no course whatever, within the measures' ranges, meets sentences that are
//! said never to be met together. (A window of sessions that is longer than its values count is the exception: it is held
//! against the sessions a week that the phases prescribe, and somebody may do more.) *Not decided* is more than is said: sentences are compared where they speak of the
//! newest value of one measure and of numbers; what compares measures with each other, or counts and averages over
//! several sessions, is taken to be satisfiable, and so is a criterion with more than [`WAYS_MAX`] ways of being met.
//! An example given with a warning is a course in which every value stays the same.
//!
//! Leaves to others: whether the best course comes through every phase (`rungwise-rehearsal`, which runs it).

mod exercises;
mod parts;
mod sentences;
mod together;
pub(crate) mod values;

pub use parts::WAYS_MAX;

use crate::check::{Checked, Sites, reads_reference};
use crate::diagnostic::{Code, Diagnostic, Findings, Note};
use crate::model::{Pack, RuleIx, SentenceIx};
use crate::source::{Location, SourceFiles};

/// What was proved of a pack.
#[derive(Clone, Debug, Default)]
pub struct Proved {
    /// What is wrong, in file order. Empty for a pack that has errors already.
    pub diagnostics: Vec<Diagnostic>,
    /// Sentences that read a reference (a change, the other side, an amount relative to another measure). For all
    /// others it is proved, from the side on which each is met, that a worse value never makes a decision bolder and a
    /// missing one never raises anybody; for these that holds for their own measure and not for the reference, and the
    /// checker has made sure of a plain number beside each, where it counts.
    pub outside: Vec<SentenceIx>,
}

/// Looks for what a sound pack should not do.
#[must_use]
pub fn prove(files: &SourceFiles, checked: &Checked) -> Proved {
    let (Some(pack), Some(sites)) = (&checked.pack, &checked.sites) else {
        return Proved::default();
    };
    let mut proof = Proof {
        pack,
        sites,
        findings: Findings::new(files),
    };
    proof.sentences();
    proof.together();
    proof.exercises();
    let sentences = (0_u16..).map(SentenceIx).zip(&pack.sentences);
    let outside = sentences.filter(|(_, sentence)| reads_reference(pack, sentence));
    Proved {
        diagnostics: proof.findings.finish(),
        outside: outside.map(|(ix, _)| ix).collect(),
    }
}

/// What is looked at, and what was found.
struct Proof<'p> {
    pack: &'p Pack,
    sites: &'p Sites,
    findings: Findings<'p>,
}

impl Proof<'_> {
    fn at_sentence(&self, sentence: SentenceIx) -> Option<Location> {
        self.sites
            .sentences
            .get(sentence.at())
            .map(|site| site.text.at)
    }

    fn at_rule(&self, rule: RuleIx) -> Option<Location> {
        self.sites.rules.get(rule.at()).copied()
    }

    /// Adds a finding, where there is a place for it.
    fn add(&mut self, code: Code, at: Option<Location>, message: String, label: &str, help: &str) {
        if let Some(at) = at {
            self.findings
                .add(Note::new(code, at, message).label(label).help(help));
        }
    }
}

//! Whether a draft may come into force: the checker finds no error, nothing is found that a sound pack should not do, and
//! its diaries, of which there is one at least, go as they say.
//!
//! Leaves to others: each of the three, and who may bring it into force.

use crate::diary;
use crate::play::play;
use crate::prove::prove;
use crate::told::why_refused;
use rungwise_pack::diagnostic::{Diagnostic, Severity};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::{SourceFile, SourceFiles, is_diary};

/// What was found of a draft.
#[derive(Clone, Debug)]
pub struct Readiness {
    /// The pack, unless the checker refuses it.
    pub pack: Option<CheckedPack>,
    /// Everything found in it.
    pub findings: Vec<Diagnostic>,
    /// Its diaries, in order of name; none of a pack that the checker refuses.
    pub diaries: Vec<Rehearsed>,
}

/// A diary played.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Rehearsed {
    /// Its file.
    pub file: String,
    /// Decisions made.
    pub decisions: usize,
    /// Where it does not go as it says, in words.
    pub differences: Vec<String>,
}

impl Readiness {
    /// Whether nothing speaks against its coming into force.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let is_error = |one: &Diagnostic| one.severity == Severity::Error;
        self.pack.is_some()
            && !self.findings.iter().any(is_error)
            && self.diaries.iter().all(|one| one.differences.is_empty())
    }

    /// Whether it may come into force: nothing speaks against it, and a diary speaks for it.
    #[must_use]
    pub fn is_ready(&self) -> bool {
        self.is_sound() && !self.diaries.is_empty()
    }
}

/// Looks at a draft from every side.
#[must_use]
pub fn readiness(files: &SourceFiles) -> Readiness {
    let checked = rungwise_pack::check(files);
    let mut findings = checked.diagnostics.clone();
    if let Some(proved) = prove(files, &checked) {
        findings.extend(proved.diagnostics);
    }
    let diaries = checked.pack.as_ref().map(|pack| {
        let files = files.files().iter();
        let diaries = files.filter(|file| is_diary(&file.name));
        diaries.map(|file| rehearse(pack, file)).collect()
    });
    Readiness {
        diaries: diaries.unwrap_or_default(),
        pack: checked.pack,
        findings,
    }
}

fn rehearse(pack: &CheckedPack, file: &SourceFile) -> Rehearsed {
    let diary = match diary::read(pack, &file.name, &file.text) {
        Ok(diary) => diary,
        Err(found) => {
            let found = found
                .iter()
                .map(|one| format!("line {}: {}", one.line, one.message));
            return Rehearsed {
                file: file.name.clone(),
                decisions: 0,
                differences: found.collect(),
            };
        }
    };
    let played = play(pack, &diary);
    let refused = played.refused.iter().map(|one| {
        let why = why_refused(&one.why);
        format!("line {}: {} was not taken: {why}", one.line, one.date)
    });
    let differing = played.asked.iter().flat_map(|asked| {
        let differences = asked.differences.iter();
        differences.map(|one| format!("line {}: {}: {one}", asked.line, asked.date))
    });
    Rehearsed {
        file: file.name.clone(),
        decisions: played.asked.len(),
        differences: refused.chain(differing).collect(),
    }
}

//! Everything that is looked for in a sound pack before it may come into force: what its sentences prove, and whether
//! the best course comes through.
//!
//! Leaves to others: each of the two (`rungwise_pack::prove`, `crate::best`); the pack's own diaries (`crate::play`).

use crate::best::{Best, best_course};
use rungwise_pack::Checked;
use rungwise_pack::diagnostic::{Code, Diagnostic};
use rungwise_pack::model::{Pack, SentenceIx};
use rungwise_pack::places::Places;
use rungwise_pack::source::SourceFiles;

/// What was proved and what was played.
#[derive(Clone, Debug)]
pub struct Proved {
    /// What is wrong. An error keeps the pack from coming into force.
    pub diagnostics: Vec<Diagnostic>,
    /// Sentences for whose reference the theorems are not proved.
    pub outside: Vec<SentenceIx>,
    /// The best courses.
    pub best: Best,
}

/// Looks for everything; none for a pack that the checker refuses.
#[must_use]
pub fn prove(files: &SourceFiles, checked: &Checked) -> Option<Proved> {
    let pack = checked.pack.as_ref()?;
    let rungwise_pack::Proved {
        mut diagnostics,
        outside,
    } = rungwise_pack::prove(files, checked);
    let best = best_course(pack);
    diagnostics.extend(stops(pack, &checked.places, &best));
    Some(Proved {
        diagnostics,
        outside,
        best,
    })
}

/// The first phase that no best course came to, or the last where none ended.
fn stops(pack: &Pack, places: &Places, best: &Best) -> Option<Diagnostic> {
    let stuck = best.stuck.as_ref()?;
    let unreached = best.unreached().first().copied();
    let at = unreached.map_or_else(|| pack.phases.len().saturating_sub(1), |phase| phase.at());
    let phase = pack.phases.get(at)?;
    let place = places.phases.get(at)?;
    let (message, label) = match unreached {
        Some(_) => (
            format!("the best course never comes to `{}`", phase.key),
            "not entered in two years",
        ),
        None => (
            format!("the best course never ends in `{}`", phase.key),
            "not left in two years",
        ),
    };
    let why = if stuck.missing.is_empty() {
        &stuck.because
    } else {
        &stuck.missing
    };
    let stands = stuck.phase.and_then(|phase| pack.phases.get(phase.at()));
    let stands = stands.map_or_else(
        || "care never begins".to_owned(),
        |phase| format!("it stays in `{}`", phase.key),
    );
    Some(Diagnostic {
        code: Code::CourseStops,
        severity: Code::CourseStops.severity(),
        message,
        file: place.file.clone(),
        span: place.start..place.end,
        line: place.line,
        column: place.column,
        label: label.to_owned(),
        help: Some(format!("{stands}: {}", why.join("; "))),
        suggestion: None,
    })
}

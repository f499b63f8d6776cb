//! `--accept`: what was decided, written into the diaries.
//!
//! A diary is written only once it was read and played again with its new expectations, and whole or not at all.
//!
//! Leaves to others: the new text (`rungwise_rehearsal::accept`).

use super::Rehearsed;
use crate::failure::Failure;
use crate::screen::Screen;
use rungwise_pack::model::CheckedPack;
use rungwise_rehearsal::accept::{Left, accept};
use rungwise_rehearsal::{diary, play};
use serde_json::{Value, json};
use std::fs;
use std::io::Write as _;
use std::path::Path;

/// What became of a diary that was not as expected.
pub(super) struct Outcome {
    file: String,
    written: bool,
    left: Vec<Left>,
    agrees: bool,
}

impl Outcome {
    /// Whether it is as expected now.
    pub(super) const fn agrees(&self) -> bool {
        self.agrees
    }

    pub(super) fn as_json(&self) -> Value {
        json!({
            "file": self.file,
            "written": self.written,
            "left": self.left.iter().map(|one| json!({
                "line": one.line,
                "why": one.why.to_string(),
            })).collect::<Vec<_>>(),
        })
    }
}

/// Accepts what was decided in every diary that is not as expected.
pub(super) fn all(
    folder: &Path,
    pack: &CheckedPack,
    rehearsed: &[Rehearsed<'_>],
) -> Result<Vec<Outcome>, Failure> {
    let mut outcomes = Vec::new();
    for one in rehearsed.iter().filter(|one| !one.agrees()) {
        let mut outcome = Outcome {
            file: one.file.name.clone(),
            written: false,
            left: Vec::new(),
            agrees: false,
        };
        if let Ok((_, played)) = &one.course
            && let Some(accepted) = accept(&one.file.text, played)
            && let Ok(again) = diary::read(pack, &one.file.name, &accepted.text)
        {
            outcome.left = accepted.left;
            outcome.agrees = play(pack, &again).agrees();
            if accepted.text != one.file.text {
                replace(&folder.join(&one.file.name), &accepted.text)?;
                outcome.written = true;
            }
        }
        outcomes.push(outcome);
    }
    Ok(outcomes)
}

/// Puts a new text in a file's place, whole or not at all, with the file's permissions.
fn replace(path: &Path, text: &str) -> Result<(), Failure> {
    let fail = |cause| Failure::Write {
        path: path.to_owned(),
        cause,
    };
    // A link is followed: what it leads to is replaced, not the link.
    let path = &fs::canonicalize(path).map_err(fail)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(fail)?;
    let permissions = fs::metadata(path).map_err(fail)?.permissions();
    file.write_all(text.as_bytes()).map_err(fail)?;
    file.as_file().set_permissions(permissions).map_err(fail)?;
    file.as_file().sync_all().map_err(fail)?;
    file.persist(path).map_err(|error| fail(error.error))?;
    Ok(())
}

pub(super) fn print(screen: &mut Screen, outcomes: &[Outcome]) -> Result<(), Failure> {
    screen.heading("Accepted")?;
    for outcome in outcomes {
        let what = match (outcome.written, outcome.agrees) {
            (true, true) => "rewritten",
            (true, false) => "rewritten in part",
            (false, _) => "left as it is",
        };
        screen.line(&format!("  {}: {what}", outcome.file))?;
        for left in &outcome.left {
            screen.line(&format!("    line {}: {}", left.line, left.why))?;
        }
    }
    Ok(())
}

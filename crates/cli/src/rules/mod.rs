//! `rungwise rules`: rule packs begun, checked, rehearsed, compared, read aloud, proposed and approved, and what these
//! commands share.
//!
//! Leaves to others: what is found (`rungwise-pack`) and what is decided (`rungwise-engine`, `rungwise-rehearsal`).

pub(crate) mod args;
mod chart;
mod check;
mod cohort;
mod compare;
mod direct;
mod impact;
mod lead;
mod new;
mod proposals;
mod propose;
mod rehearse;
mod schema;

use crate::Answer;
use crate::failure::Failure;
use crate::screen::Screen;
use args::RulesCommand;
use rungwise_pack::diagnostic::Diagnostic;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::Path;

/// Does what is asked about rule packs.
pub(crate) fn run(command: &RulesCommand, screen: &mut Screen) -> Result<Answer, Failure> {
    match command {
        RulesCommand::Check(args) => check::run(args, screen),
        RulesCommand::Chart(args) => chart::run(args, screen),
        RulesCommand::New(args) => new::run(args, screen),
        RulesCommand::Schema(args) => schema::run(args, screen),
        RulesCommand::Rehearse(args) => rehearse::run(args, screen),
        RulesCommand::Compare(args) => compare::run(args, screen),
        RulesCommand::Cohort(args) => cohort::run(args, screen),
        RulesCommand::Impact(args) => impact::run(args, screen),
        RulesCommand::Packs(args) => proposals::packs(args, screen),
        RulesCommand::Key(args) => lead::make(args, screen),
        RulesCommand::Propose(args) => propose::run(args, screen),
        RulesCommand::Proposals(args) => proposals::run(args, screen),
        RulesCommand::Approve(args) => proposals::approve(args, screen),
        RulesCommand::Withdraw(args) => proposals::withdraw(args, screen),
        RulesCommand::Direct(args) => direct::run(args, screen),
        RulesCommand::Lift(args) => direct::lift(args, screen),
        RulesCommand::Directives(args) => direct::list(args, screen),
    }
}

/// Writes a file that is not there yet.
fn write_new(path: &Path, text: &str) -> Result<(), Failure> {
    let written = fs::File::create_new(path).and_then(|mut file| file.write_all(text.as_bytes()));
    written.map_err(|cause| Failure::Write {
        path: path.to_owned(),
        cause,
    })
}

/// A diagnostic.
fn as_json(found: &Diagnostic) -> Value {
    json!({
        "code": found.code.id(),
        "severity": found.severity.word(),
        "file": found.file,
        "line": found.line,
        "column": found.column,
        "bytes": { "from": found.span.start, "to": found.span.end },
        "message": found.message,
        "label": found.label,
        "help": found.help,
        "suggestion": found.suggestion.as_ref().map(|edit| json!({
            "bytes": { "from": edit.span.start, "to": edit.span.end },
            "replacement": edit.replacement,
        })),
    })
}

/// Bytes in lower-case hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes
        .iter()
        .fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
            // A String takes everything.
            let _ = write!(text, "{byte:02x}");
            text
        })
}

//! `rungwise rules check`: everything that is wrong with a rule pack, for people or as JSON.

use crate::Answer;
use crate::args::CheckArgs;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::Screen;
use rungwise_pack::diagnostic::{Diagnostic, render};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Checks a pack and prints what was found.
pub(crate) fn check(args: &CheckArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let pack = PackFiles::of_folder(&args.pack)?;
    let checked = rungwise_pack::check(&pack.files);
    let answer = if checked.pack.is_some() {
        Answer::Yes
    } else {
        Answer::No
    };
    if args.json {
        let pack = checked.pack.as_ref().map(|pack| {
            json!({ "id": &*pack.id, "version": &*pack.version, "digest": hex(&pack.digest) })
        });
        let findings: Vec<Value> = checked.diagnostics.iter().map(as_json).collect();
        screen.json(&json!({ "pack": pack, "findings": findings }))?;
        return Ok(answer);
    }
    let style = screen.style();
    let findings = render(&pack.files, &checked.diagnostics, style);
    if !findings.is_empty() {
        screen.line(findings.trim_end())?;
    }
    match &checked.pack {
        Some(sound) => screen.line(&format!(
            "{}: {} {} is sound, digest {}",
            pack.called,
            sound.id,
            sound.version,
            hex(&sound.digest)
        ))?,
        None => screen.line(&format!("{} cannot be used", pack.called))?,
    }
    Ok(answer)
}

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

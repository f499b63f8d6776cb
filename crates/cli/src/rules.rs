//! `rungwise rules check`: everything that is wrong with a rule pack, and what a diagnostic code means, for people or as
//! JSON.

use crate::Answer;
use crate::args::CheckArgs;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::{Screen, bold};
use rungwise_pack::diagnostic::{Code, Diagnostic, render};
use rungwise_pack::suggest::nearest;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;

/// Checks a pack and prints what was found, or explains a code.
pub(crate) fn check(args: &CheckArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    if let Some(code) = &args.explain {
        return explain(code, args.json, screen);
    }
    // The command line has one or the other.
    let pack = PackFiles::of_folder(args.pack.as_deref().unwrap_or(Path::new(".")))?;
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
    if let Some(first) = checked.diagnostics.first() {
        let code = first.code.id();
        screen.line(&format!(
            "`rungwise rules check --explain {code}` says more of {code}, with examples"
        ))?;
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

/// Prints the page of a code.
fn explain(given: &str, json: bool, screen: &mut Screen) -> Result<Answer, Failure> {
    let code = Code::of_id(given).ok_or_else(|| Failure::NoSuchCode {
        given: given.to_owned(),
        hint: nearest(given, Code::ALL.iter().map(|code| code.id())).map_or_else(
            || "a code is written as RW0101, and stands in brackets in each diagnostic".to_owned(),
            |near| format!("did you mean `{near}`?"),
        ),
    })?;
    if json {
        screen.json(&json!({
            "code": code.id(),
            "severity": code.severity().word(),
            "title": code.title(),
            "page": code.page(),
        }))?;
    } else {
        screen.line(&bold(&format!("{}: {}", code.id(), code.title())))?;
        screen.line(code.page().trim_end())?;
    }
    Ok(Answer::Yes)
}

/// A diagnostic.
pub(crate) fn as_json(found: &Diagnostic) -> Value {
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

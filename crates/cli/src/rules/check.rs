//! `rungwise rules check`: everything that is wrong with a rule pack, what is proved of it, and what a diagnostic code
//! means, for people or as JSON.

use super::args::CheckArgs;
use super::{as_json, hex, write_new};
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::{Screen, bold};
use rungwise_pack::diagnostic::{Code, Severity, render};
use rungwise_pack::model::{Pack, SentenceIx};
use rungwise_pack::suggest::nearest;
use rungwise_rehearsal::{Proved, prove};
use serde_json::{Value, json};
use std::path::Path;

/// Checks a pack and prints what was found, or explains a code.
pub(crate) fn run(args: &CheckArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    if let Some(code) = &args.explain {
        return explain(code, args.json, screen);
    }
    // The command line has one or the other.
    let pack = PackFiles::of_folder(args.pack.as_deref().unwrap_or(Path::new(".")))?;
    let checked = rungwise_pack::check(&pack.files);
    let proved = prove(&pack.files, &checked);
    let mut found = checked.diagnostics.clone();
    found.extend(proved.iter().flat_map(|proved| proved.diagnostics.clone()));
    let ready = !found.iter().any(|one| one.severity == Severity::Error);
    let stuck = proved
        .as_ref()
        .and_then(|proved| proved.best.stuck.as_ref());
    if let (Some(path), Some(stuck)) = (&args.course, stuck) {
        write_new(path, &stuck.diary)?;
    }
    if args.json {
        let sound = checked.pack.as_ref().map(|pack| {
            json!({ "id": &*pack.id, "version": &*pack.version, "digest": hex(&pack.digest) })
        });
        let both = checked.pack.as_ref().zip(proved.as_ref());
        let theorems = both.map(|(pack, proved)| theorems_json(pack, proved));
        let findings: Vec<Value> = found.iter().map(as_json).collect();
        screen.json(
            &json!({ "pack": sound, "ready": ready, "findings": findings, "proved": theorems }),
        )?;
    } else {
        let findings = render(&pack.files, &found, screen.style());
        if !findings.is_empty() {
            screen.line(findings.trim_end())?;
        }
        if let Some(first) = found.first() {
            let code = first.code.id();
            screen.line(&format!(
                "`rungwise rules check --explain {code}` says more of {code}, with examples"
            ))?;
        }
        match checked.pack.as_ref().zip(proved.as_ref()) {
            Some((sound, proved)) => {
                let (id, version, digest) = (&sound.id, &sound.version, hex(&sound.digest));
                let but = if ready {
                    ""
                } else {
                    ", but must not come into force"
                };
                screen.line(&format!(
                    "{}: {id} {version} is sound{but}, digest {digest}",
                    pack.called
                ))?;
                say_proved(sound, proved, args.outside, screen)?;
            }
            None => screen.line(&format!("{} cannot be used", pack.called))?,
        }
    }
    Ok(if ready { Answer::Yes } else { Answer::No })
}

/// Says what the best course came to, and of how many sentences the theorems are proved.
fn say_proved(
    pack: &Pack,
    proved: &Proved,
    outside: bool,
    screen: &mut Screen,
) -> Result<(), Failure> {
    let phases = pack.phases.len();
    let reached = phases.saturating_sub(proved.best.unreached().len());
    let ends = match proved.best.ended {
        Some(day) => format!("and ends on day {day}"),
        None => "and does not end".to_owned(),
    };
    screen.line(&format!(
        "the best course comes to {reached} of {phases} phases {ends}"
    ))?;
    let (all, read) = (pack.sentences.len(), proved.outside.len());
    let hint = if outside || read == 0 {
        ""
    } else {
        " (`--outside` lists them)"
    };
    screen.line(&format!(
        "worse values never make it bolder, silence never progresses: proved of {} of {all} sentences; {read} read a reference{hint}",
        all.saturating_sub(read)
    ))?;
    if outside {
        let texts = proved
            .outside
            .iter()
            .filter_map(|ix| pack.sentences.get(ix.at()));
        for sentence in texts {
            screen.line(&format!("  {}", sentence.text))?;
        }
    }
    Ok(())
}

fn theorems_json(pack: &Pack, proved: &Proved) -> Value {
    let text = |ix: &SentenceIx| pack.sentences.get(ix.at()).map(|one| one.text.clone());
    let outside: Vec<String> = proved.outside.iter().filter_map(text).collect();
    let phases = pack.phases.iter().zip(&proved.best.reached);
    let phases: Vec<Value> = phases
        .map(|(phase, day)| json!({ "phase": &*phase.key, "day": day }))
        .collect();
    json!({
        "sentences": pack.sentences.len(),
        "outside": outside,
        "best_course": { "phases": phases, "ends_on_day": proved.best.ended },
    })
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

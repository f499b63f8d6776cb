//! `rungwise rules rehearse`: the pack's diaries played, and what differs from what they expect; on request the
//! expectations written anew, coverage, and threshold mutation.
//!
//! Leaves to others: playing, comparing, accepting, covering and moving numbers (`rungwise-rehearsal`).

mod accept;
mod coverage;
mod mutate;

use super::args::RehearseArgs;
use super::as_json;
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::{Screen, bold};
use rungwise_engine::evaluate::Watch;
use rungwise_pack::check::Checked;
use rungwise_pack::diagnostic::{Diagnostic, Style, render};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::places::{Place, Places};
use rungwise_pack::source::{SourceFile, SourceFiles, is_diary};
use rungwise_rehearsal::diary::{self, Diary};
use rungwise_rehearsal::play::{Asked, Played};
use rungwise_rehearsal::play_watched;
use rungwise_rehearsal::told::{tell, why_refused};
use serde_json::{Map, Value, json};

/// One file of the folder `diaries`.
struct Rehearsed<'f> {
    file: &'f SourceFile,
    course: Result<(Diary, Played), Vec<Diagnostic>>,
}

/// Plays a pack's diaries and prints what differs, and what else was asked for.
pub(crate) fn run(args: &RehearseArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let folder = PackFiles::of_folder(&args.pack)?;
    let Checked {
        pack,
        diagnostics,
        places,
        ..
    } = rungwise_pack::check(&folder.files);
    let pack = pack.ok_or_else(|| Failure::PackRefused {
        pack: folder.called.clone(),
        findings: render(&folder.files, &diagnostics, Style::Plain),
    })?;
    let watch = Watch::new();
    let files = folder.files.files().iter();
    let rehearsed: Vec<Rehearsed<'_>> = files
        .filter(|file| is_diary(&file.name))
        .map(|file| Rehearsed {
            file,
            course: diary::read(&pack, &file.name, &file.text).map(|diary| {
                let played = play_watched(&pack, &diary, &watch);
                (diary, played)
            }),
        })
        .collect();
    let mut well = !rehearsed.is_empty() && rehearsed.iter().all(Rehearsed::agrees);
    let mut document = Map::new();
    if args.json {
        let each = rehearsed.iter().map(|one| one.as_json(&pack));
        document.insert("diaries".to_owned(), each.collect());
    } else {
        print(screen, &folder.called, &pack, &rehearsed)?;
    }
    if args.accept && !well {
        let accepted = accept::all(&args.pack, &pack, &rehearsed)?;
        well = !rehearsed.is_empty() && accepted.iter().all(accept::Outcome::agrees);
        if args.json {
            let each = accepted.iter().map(accept::Outcome::as_json);
            document.insert("accepted".to_owned(), each.collect());
        } else {
            accept::print(screen, &accepted)?;
        }
    }
    let here = Here {
        pack: &pack,
        places: &places,
    };
    if args.coverage {
        let covered = coverage::Coverage::new(here, &watch);
        well &= covered.is_whole();
        if args.json {
            document.insert("coverage".to_owned(), covered.as_json());
        } else {
            covered.print(screen)?;
        }
    }
    if args.mutate {
        let diaries = rehearsed.iter().filter_map(|one| one.course.as_ref().ok());
        let diaries: Vec<&Diary> = diaries.map(|(diary, _)| diary).collect();
        let mutation = mutate::Mutation::new(here, &folder.files, &diaries);
        well &= mutation.is_whole();
        if args.json {
            document.insert("thresholds".to_owned(), mutation.as_json());
        } else {
            mutation.print(screen)?;
        }
    }
    if args.json {
        screen.json(&Value::Object(document))?;
    }
    Ok(if well { Answer::Yes } else { Answer::No })
}

/// A pack, and where its sentences and numbers stand.
#[derive(Clone, Copy)]
struct Here<'p> {
    pack: &'p CheckedPack,
    places: &'p Places,
}

/// A place as an editor opens it.
fn at(place: &Place) -> String {
    format!("{}:{}:{}", place.file, place.line, place.column)
}

/// Tenths of a per cent, such as `95.2`.
fn percent(tenths: usize) -> String {
    format!("{}.{}", tenths / 10, tenths % 10)
}

impl Rehearsed<'_> {
    fn agrees(&self) -> bool {
        self.course
            .as_ref()
            .is_ok_and(|(_, played)| played.agrees())
    }

    fn as_json(&self, pack: &CheckedPack) -> Value {
        match &self.course {
            Err(findings) => json!({
                "file": self.file.name,
                "findings": findings.iter().map(as_json).collect::<Vec<_>>(),
            }),
            Ok((diary, played)) => json!({
                "file": self.file.name,
                "name": &*diary.name,
                "decisions": played.asked.len(),
                "differ": differing(played).map(|asked| {
                    let told = tell(pack, played, asked);
                    json!({
                        "line": asked.line,
                        "date": asked.date.to_string(),
                        "differences": asked.differences.iter().map(|one| json!({
                            "what": one.what.to_string(),
                            "expected": one.expected,
                            "got": one.got,
                        })).collect::<Vec<_>>(),
                        "because": told.because,
                        "rules": told.findings.iter().map(|one| json!({
                            "rule": &*one.rule,
                            "verdict": one.verdict,
                            "sentences": one.sentences,
                        })).collect::<Vec<_>>(),
                    })
                }).collect::<Vec<_>>(),
                "not_taken": played.refused.iter().map(|one| json!({
                    "line": one.line,
                    "date": one.date.to_string(),
                    "why": why_refused(&one.why),
                })).collect::<Vec<_>>(),
            }),
        }
    }
}

fn differing(played: &Played) -> impl Iterator<Item = &Asked> {
    let asked = played.asked.iter();
    asked.filter(|asked| !asked.differences.is_empty())
}

fn print(
    screen: &mut Screen,
    called: &str,
    pack: &CheckedPack,
    rehearsed: &[Rehearsed<'_>],
) -> Result<(), Failure> {
    let (mut decisions, mut differ, mut not_taken) = (0, 0, 0);
    for one in rehearsed {
        match &one.course {
            Err(findings) => {
                let files = SourceFiles::new(vec![(one.file.name.clone(), one.file.text.clone())]);
                screen.line(&format!("{}: not a diary of this pack", one.file.name))?;
                screen.line(render(&files, findings, screen.style()).trim_end())?;
            }
            Ok((_, played)) => {
                decisions += played.asked.len();
                differ += differing(played).count();
                not_taken += played.refused.len();
                print_played(screen, pack, &one.file.name, played)?;
            }
        }
    }
    let unread = rehearsed.iter().filter(|one| one.course.is_err()).count();
    let diaries = rehearsed.len();
    if diaries == 0 {
        return screen.line(&format!(
            "{called} has no diaries; they stand in its folder `diaries`"
        ));
    }
    let amiss = [
        (differ, "not as expected"),
        (not_taken, "facts or asks not taken"),
        (unread, "diaries not read"),
    ];
    let amiss = amiss.iter().filter(|(count, _)| *count > 0);
    let amiss: Vec<String> = amiss
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
    let amiss = if amiss.is_empty() {
        "all as expected".to_owned()
    } else {
        amiss.join(", ")
    };
    screen.line(&format!(
        "{diaries} diaries, {decisions} decisions, {amiss}"
    ))
}

fn print_played(
    screen: &mut Screen,
    pack: &CheckedPack,
    name: &str,
    played: &Played,
) -> Result<(), Failure> {
    if played.agrees() {
        let count = played.asked.len();
        return screen.line(&format!("{name}: {count} decisions as expected"));
    }
    for asked in differing(played) {
        screen.line(&format!(
            "{} {} is not as expected",
            bold(&format!("{name}:{}:", asked.line)),
            asked.date
        ))?;
        screen.line(tell(pack, played, asked).text(4).trim_end())?;
    }
    for refused in &played.refused {
        screen.line(&format!(
            "{} {} was not taken: {}",
            bold(&format!("{name}:{}:", refused.line)),
            refused.date,
            why_refused(&refused.why)
        ))?;
    }
    Ok(())
}

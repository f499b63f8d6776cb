//! `rungwise rules compare`: what a newer version of a pack loosens, what it tightens and what it only says otherwise;
//! whether it is proved never to be bolder; and what becomes of the doses in force.
//!
//! Leaves to others: the comparison (`rungwise-pack`), the search for a course (`rungwise-rehearsal`).

use super::args::CompareArgs;
use super::write_new;
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::{Screen, bold};
use rungwise_pack::compare::{Change, Comparison, Effect};
use rungwise_rehearsal::versions::{self, Bolder, Kept, Searched, kept_doses};
use serde_json::{Value, json};

/// Most words of a text that are shown of a change.
const SHOWN_MAX: usize = 160;

/// Compares two packs and prints what was found.
pub(crate) fn run(args: &CompareArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let (old_files, new_files) = (
        PackFiles::of_folder(&args.old)?,
        PackFiles::of_folder(&args.new)?,
    );
    let Compared {
        comparison,
        searched,
        kept,
    } = compared(&old_files, &new_files)?;
    if let (
        Some(path),
        Some(Bolder {
            diary: Some(text), ..
        }),
    ) = (&args.course, &searched.bolder)
    {
        write_new(path, text)?;
    }
    if args.json {
        screen.json(&as_json(&comparison, &searched, &kept))?;
    } else {
        say_changes(&comparison, screen)?;
        say_doses(&kept, screen)?;
        say_verdict(&comparison, &searched, screen)?;
    }
    Ok(if comparison.is_never_bolder() {
        Answer::Yes
    } else {
        Answer::No
    })
}

/// Says how two packs differ.
pub(super) fn say_comparison(
    old: &PackFiles,
    new: &PackFiles,
    screen: &mut Screen,
) -> Result<(), Failure> {
    let found = compared(old, new)?;
    say_changes(&found.comparison, screen)?;
    say_doses(&found.kept, screen)?;
    say_verdict(&found.comparison, &found.searched, screen)
}

/// What comparing two packs came to.
struct Compared {
    comparison: Comparison,
    searched: Searched,
    kept: Vec<Kept>,
}

fn compared(old_files: &PackFiles, new_files: &PackFiles) -> Result<Compared, Failure> {
    let (old, new) = (old_files.checked()?, new_files.checked()?);
    let (comparison, searched) =
        versions::compared((&old, &old_files.files), (&new, &new_files.files));
    Ok(Compared {
        kept: kept_doses(&old, &new),
        comparison,
        searched,
    })
}

fn say_changes(comparison: &Comparison, screen: &mut Screen) -> Result<(), Failure> {
    for effect in [
        Effect::Loosens,
        Effect::Unclear,
        Effect::Tightens,
        Effect::Neither,
    ] {
        let of_effect: Vec<&Change> = comparison
            .changes
            .iter()
            .filter(|change| change.effect == effect)
            .collect();
        if of_effect.is_empty() {
            continue;
        }
        let title = match effect {
            Effect::Loosens => "Loosens: somebody may be moved further",
            Effect::Unclear => "Cannot be told from the rules alone",
            Effect::Tightens => "Tightens: nobody is moved further",
            Effect::Neither => "Changes no decision",
        };
        screen.line(&bold(title))?;
        for change in of_effect {
            screen.line(&format!("  {}", said(change)))?;
        }
    }
    Ok(())
}

fn said(change: &Change) -> String {
    let short = |text: &String| {
        let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
        match line.char_indices().nth(SHOWN_MAX) {
            Some((at, _)) => format!("{}…", line.get(..at).unwrap_or_default()),
            None => line,
        }
    };
    let of = &change.of;
    match (&change.before, &change.after) {
        (Some(before), Some(after)) => format!("{of}: {} → {}", short(before), short(after)),
        (Some(before), None) => format!("{of}: gone: {}", short(before)),
        (None, Some(after)) => format!("{of}: new: {}", short(after)),
        (None, None) => of.clone(),
    }
}

fn say_doses(kept: &[Kept], screen: &mut Screen) -> Result<(), Failure> {
    let moved: Vec<&Kept> = kept.iter().filter(|one| !one.is_whole()).collect();
    if moved.is_empty() {
        return screen.line("every dose in force stands as it is");
    }
    screen.line(&bold("Doses in force"))?;
    for one in moved {
        let now = match &one.is_now {
            Some(now) if *now == one.exercise => String::new(),
            Some(now) => format!(" (now `{now}`)"),
            None => " (gone)".to_owned(),
        };
        screen.line(&format!(
            "  `{}`{now}: {} rungs as they are, {} to a lower one, {} left out with an ask",
            one.exercise, one.same, one.lower, one.left_out
        ))?;
    }
    Ok(())
}

fn say_verdict(
    comparison: &Comparison,
    searched: &Searched,
    screen: &mut Screen,
) -> Result<(), Failure> {
    if comparison.changes.is_empty() {
        return screen.line("the packs decide alike: no rule, measure, dose or text is another");
    }
    if comparison.is_never_bolder() {
        return screen
            .line("proved: the newer pack is never bolder than the older, from the same history");
    }
    let tried = format!(
        "{} decisions on {} courses",
        searched.decisions, searched.courses
    );
    match &searched.bolder {
        Some(found) => {
            let (date, old, new) = (found.date, found.old.word(), found.new.word());
            screen.line(&format!(
                "bolder: on {}, asked on {date}, the older pack says {old} and the newer {new} ({})",
                found.course, found.why
            ))?;
            if found.diary.is_some() {
                screen.line("`--course FILE` writes that course as a diary")?;
            }
            Ok(())
        }
        None => screen.line(&format!(
            "not decided: it is not proved that the newer pack is never bolder, and none of {tried} shows that it is"
        )),
    }
}

fn as_json(comparison: &Comparison, searched: &Searched, kept: &[Kept]) -> Value {
    let changes: Vec<Value> = comparison
        .changes
        .iter()
        .map(|change| {
            json!({
                "effect": change.effect.word(),
                "of": change.of,
                "before": change.before,
                "after": change.after,
            })
        })
        .collect();
    let doses: Vec<Value> = kept
        .iter()
        .map(|one| {
            json!({
                "exercise": &*one.exercise,
                "is_now": one.is_now.as_deref(),
                "same": one.same,
                "lower": one.lower,
                "left_out": one.left_out,
            })
        })
        .collect();
    let bolder = searched.bolder.as_ref().map(|found| {
        json!({
            "course": found.course,
            "diary": found.diary,
            "date": found.date.to_string(),
            "old": found.old.word(),
            "new": found.new.word(),
            "why": found.why,
        })
    });
    json!({
        "changes": changes,
        "doses": doses,
        "never_bolder": comparison.is_never_bolder(),
        "bolder": bolder,
        "searched": { "courses": searched.courses, "decisions": searched.decisions },
    })
}

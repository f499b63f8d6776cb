//! Every pack of `rules/` is accepted without a word, says every text of a sheet, and each of its diaries goes as it says.
//!
//! Leaves to others: check values from outside (`tests/check_values`).
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

mod support;

use rungwise_engine::sheet::{BAND_TEXT_KEYS, TEXT_KEYS};
use rungwise_pack::diagnostic::{Style, render};
use rungwise_pack::model::{CheckedPack, Origin};
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::play;
use std::collections::BTreeSet;

/// Fewest diaries of a pack: a straight course, a flare-up, missing reports, a lay-off, a red flag.
const DIARIES_MIN: usize = 5;

#[test]
fn packs_of_other_regions_stand_beside_the_first() {
    let packs = support::packs();
    for name in ["achilles-midportion", "rotator-cuff", "rotator-cuff-repair"] {
        assert!(packs.iter().any(|pack| pack == name), "{packs:?}");
    }
}

#[test]
fn every_pack_is_accepted_without_a_warning() {
    for name in support::packs() {
        let files = support::files(&name);
        let checked = rungwise_pack::check(&files);
        let said = render(&files, &checked.diagnostics, Style::Plain);
        assert!(
            checked.pack.is_some() && checked.diagnostics.is_empty(),
            "{name}: {said}"
        );
    }
}

/// Every diary of every pack, played: each decision is the expected one.
#[test]
fn every_diary_goes_as_it_says() {
    for name in support::packs() {
        let said = played(&name);
        assert!(said.is_empty(), "{name}\n{said}");
    }
}

/// What does not go as a pack's diaries say.
fn played(name: &str) -> String {
    let pack = support::pack(name);
    let diaries = support::diaries(name);
    assert!(
        diaries.len() >= DIARIES_MIN,
        "{name} has {} diaries",
        diaries.len()
    );
    let mut said = String::new();
    for (name, text) in &diaries {
        let diary = match rungwise_rehearsal::diary::read(&pack, name, text) {
            Ok(diary) => diary,
            Err(found) => {
                let files = SourceFiles::new(vec![(name.clone(), text.clone())]);
                said.push_str(&render(&files, &found, Style::Plain));
                continue;
            }
        };
        let played = play(&pack, &diary);
        assert!(!played.asked.is_empty(), "{name} asks nothing");
        for asked in &played.asked {
            for difference in &asked.differences {
                said.push_str(&format!(
                    "{name}:{}: {}: {difference}\n",
                    asked.line, asked.date
                ));
            }
        }
        for refused in &played.refused {
            said.push_str(&format!(
                "{name}:{}: {}: {:?}\n",
                refused.line, refused.date, refused.why
            ));
        }
        assert_eq!(played.agrees(), !said.contains(name.as_str()), "{name}");
    }
    said
}

/// The names in braces of a text.
fn placeholders(text: &str) -> BTreeSet<&str> {
    let opened = text.split('{').skip(1);
    opened
        .filter_map(|part| Some(part.split_once('}')?.0))
        .collect()
}

/// In every language: each text that a sheet or a question may say, with no placeholder that it is not given, and no
/// text of theirs that nothing says; a wording for each measure that is asked for, and an aim for each phase.
#[test]
fn every_text_of_a_sheet_is_said_and_no_other() {
    for name in support::packs() {
        texts_are_said(&support::pack(&name));
    }
}

fn texts_are_said(pack: &CheckedPack) {
    let has_bands = pack.exercises.iter().any(|one| one.band.is_some());
    let of_bands = BAND_TEXT_KEYS.iter().filter(|_| has_bands);
    let keys: Vec<(&str, &str)> = TEXT_KEYS.iter().chain(of_bands).copied().collect();
    for (language, texts) in &pack.texts {
        for (key, default) in &keys {
            let Some(text) = texts.get(*key) else {
                panic!("{language}: `{key}` is not said");
            };
            assert!(
                placeholders(text).is_subset(&placeholders(default)),
                "{language}: `{key}` asks for what it is not given: {text}"
            );
        }
        let families = ["sheet.", "dose.", "ask."];
        for key in texts
            .keys()
            .filter(|key| families.iter().any(|family| key.starts_with(family)))
        {
            assert!(
                keys.iter().any(|(known, _)| **known == **key),
                "{language}: nothing says `{key}`"
            );
        }
        let asked = pack
            .measures
            .iter()
            .filter(|measure| matches!(measure.origin, Origin::Reported));
        let wanted = asked.map(|measure| format!("measure.{}", measure.name));
        let aims = pack
            .phases
            .iter()
            .map(|phase| format!("phase.{}.aim", phase.key));
        for key in wanted.chain(aims) {
            assert!(
                texts.contains_key(key.as_str()),
                "{language}: `{key}` is not said"
            );
        }
    }
}

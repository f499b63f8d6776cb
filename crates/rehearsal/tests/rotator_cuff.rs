//! The pack `rules/rotator-cuff` is accepted without a word, and each of its diaries goes as it says.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

mod support;

use rungwise_pack::diagnostic::{Style, render};
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::play;

#[test]
fn the_pack_is_accepted_without_a_warning() {
    let files = support::files("rotator-cuff");
    let checked = rungwise_pack::check(&files);
    let said = render(&files, &checked.diagnostics, Style::Plain);
    assert!(
        checked.pack.is_some() && checked.diagnostics.is_empty(),
        "{said}"
    );
}

/// Every diary of the pack, played: each decision is the expected one.
#[test]
fn every_diary_goes_as_it_says() {
    let pack = support::pack("rotator-cuff");
    let diaries = support::diaries("rotator-cuff");
    assert!(diaries.len() >= 7, "the pack has {} diaries", diaries.len());
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
    assert!(said.is_empty(), "{said}");
}

//! Proves that a draft is ready only where the checker, the proofs and every diary agree.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

mod support;

use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::readiness::{Readiness, readiness};

fn changed(change: impl Fn(&str, &str) -> Option<String>) -> Readiness {
    let files = support::files("achilles-midportion");
    let files = files.files().iter().filter_map(|file| {
        let text = change(&file.name, &file.text)?;
        Some((file.name.clone(), text))
    });
    readiness(&SourceFiles::new(files.collect()))
}

#[test]
fn every_pack_here_is_ready() {
    for name in support::packs() {
        let found = readiness(&support::files(&name));
        assert!(found.is_ready(), "{name}: {found:?}");
        assert!(found.diaries.len() >= 6, "{name}");
        assert!(found.diaries.iter().all(|one| one.decisions > 0), "{name}");
    }
}

#[test]
fn what_the_checker_refuses_is_not_ready_and_plays_no_diary() {
    let found = changed(|name, text| {
        let is_it = name == "phases.toml";
        Some(text.replacen(
            "[[phase]]",
            if is_it { "[[phrase]]" } else { "[[phase]]" },
            1,
        ))
    });
    assert!(!found.is_ready());
    assert!(found.pack.is_none() && found.diaries.is_empty() && !found.findings.is_empty());
}

#[test]
fn a_diary_that_does_not_go_as_it_says_is_told_by_line_and_date() {
    let found = changed(|name, text| {
        let is_it = name == "diaries/straightforward.toml" || name == "diaries/flare-up.toml";
        Some(match is_it {
            true => text.replace("outcome = \"HOLD\"", "outcome = \"PROGRESS\""),
            false => text.to_owned(),
        })
    });
    assert!(found.pack.is_some());
    assert!(!found.is_ready());
    let differ = found
        .diaries
        .iter()
        .find(|one| !one.differences.is_empty())
        .unwrap();
    let first = &differ.differences[0];
    assert!(
        first.starts_with("line ") && first.contains("expected PROGRESS"),
        "{first}"
    );
}

#[test]
fn a_pack_without_diaries_is_not_ready() {
    let found = changed(|name, text| {
        let keep = !name.starts_with("diaries/");
        keep.then(|| text.to_owned())
    });
    assert!(found.pack.is_some() && found.diaries.is_empty());
    assert!(!found.is_ready());
}

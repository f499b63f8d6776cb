//! The best course comes through every phase of the packs that come with the program; and where a pack stops it, it is
//! said where and why, with a diary that stops there too.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

mod support;

use rungwise_pack::Checked;
use rungwise_pack::diagnostic::{Code, Style, render};
use rungwise_pack::model::PhaseIx;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::best::Best;
use rungwise_rehearsal::{diary, play, prove};

#[test]
fn the_packs_that_come_with_the_program_let_the_best_course_through() {
    for name in ["rotator-cuff", "rotator-cuff-repair", "achilles-midportion"] {
        let files = support::files(name);
        let found = prove(&files, &rungwise_pack::check(&files)).expect("a sound pack");
        let text = render(&files, &found.diagnostics, Style::Plain);
        assert!(text.is_empty(), "{text}");
        let best = found.best;
        assert_eq!(best.unreached(), [], "{name}: {:?}", best.stuck);
        assert!(
            best.ended.is_some(),
            "{name}: {:?}",
            best.stuck.map(|one| one.missing)
        );
    }
}

/// The rotator cuff pack with one text replaced, which must stand in it.
fn edited(file: &str, from: &str, to: &str) -> (SourceFiles, Checked) {
    let files = support::files("rotator-cuff");
    let mut found = false;
    let files = files.files().iter().map(|one| {
        let is_it = one.name == file;
        found |= is_it && one.text.contains(from);
        let text = if is_it {
            one.text.replace(from, to)
        } else {
            one.text.clone()
        };
        (one.name.clone(), text)
    });
    let files = SourceFiles::new(files.collect());
    assert!(found, "`{from}` stands in {file}");
    let checked = rungwise_pack::check(&files);
    assert!(checked.pack.is_some(), "{:?}", checked.diagnostics);
    (files, checked)
}

#[test]
fn a_phase_that_nobody_enters_is_found_with_a_diary_that_stops_before_it() {
    // Best mornings are not better than best evenings.
    let (files, checked) = edited(
        "phases.toml",
        "pain next morning at most 0 above pain before session",
        "pain next morning at most 1 below pain before session",
    );
    let found = prove(&files, &checked).expect("a sound pack");
    let codes: Vec<Code> = found.diagnostics.iter().map(|one| one.code).collect();
    assert_eq!(codes, [Code::CourseStops]);
    assert_eq!(
        render(&files, &found.diagnostics, Style::Plain),
        include_str!("golden/RW0613.txt")
    );
    let Best { ended, stuck, .. } = found.best;
    let pack = checked.pack.expect("a sound pack");
    assert_eq!(ended, None);
    let stuck = stuck.expect("it does not end");
    assert!(!stuck.missing.is_empty(), "{stuck:?}");
    let read =
        diary::read(&pack, "best-course.toml", &stuck.diary).expect("a diary that can be read");
    let played = play(&pack, &read);
    assert!(played.agrees(), "{:?}", played.refused);
    assert_eq!(stuck.phase, Some(PhaseIx(1)));
    let phase = played
        .asked
        .last()
        .and_then(|asked| asked.decision.state.phase.clone());
    assert_eq!(phase.and_then(|phase| pack.phase(&phase)), stuck.phase);
}

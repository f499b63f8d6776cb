//! Whatever a pack's files say, checking them ends in a list of diagnostics: nothing panics, and nothing is accepted that
//! has an error.

#![allow(
    clippy::disallowed_methods,
    clippy::expect_used,
    reason = "tests read their fixtures and may fail"
)]

mod support;

use proptest::prelude::*;
use rungwise_pack::check;
use rungwise_pack::diagnostic::{Severity, Style, render};
use rungwise_pack::source::SourceFiles;
use support::small;

const NAMES: [&str; 6] = [
    "pack.toml",
    "measures.toml",
    "screening.toml",
    "phases.toml",
    "exercises.toml",
    "text/en.toml",
];

/// Pieces that files and sentences are made of, so that mutations reach past the first error.
const PIECES: [&str; 40] = [
    "at most",
    "at least",
    "between",
    "and",
    "is",
    "is not",
    "no worse than",
    "up by at least",
    "below",
    "above",
    "in",
    "any",
    "every",
    "exercise",
    "pain during exercise",
    "irritability",
    "er-banded",
    "has reached",
    "reps",
    "load",
    "in each of the last",
    "sessions",
    "on average",
    "over the last",
    "days",
    "since the first assessment",
    "%",
    "of the other side",
    "3",
    "-1",
    "99999999999999999999",
    "0.0001",
    "{ all = [",
    "] }",
    "none = [",
    "\"",
    "\\\"",
    "\n",
    "[[phase]]",
    "é",
];

fn assert_sound(files: &SourceFiles) {
    let checked = check(files);
    let errors = checked
        .diagnostics
        .iter()
        .filter(|found| found.severity == Severity::Error)
        .count();
    assert_eq!(
        checked.pack.is_none(),
        errors > 0,
        "a pack, unless there is an error"
    );
    let text = render(files, &checked.diagnostics, Style::Plain);
    assert_eq!(text.is_empty(), checked.diagnostics.is_empty());
    for found in &checked.diagnostics {
        if let Some(source) = files.get(&found.file) {
            assert!(
                source.text.get(found.span.clone()).is_some(),
                "{found:?} points inside its file"
            );
        }
    }
}

/// The small pack with one file replaced by what `change` makes of it.
fn with_file(name: &str, change: impl Fn(&str) -> String) -> SourceFiles {
    let files = small();
    let files = files.files().iter().map(|file| {
        let text = if file.name == name {
            change(&file.text)
        } else {
            file.text.clone()
        };
        (file.name.clone(), text)
    });
    SourceFiles::new(files.collect())
}

fn at_boundary(text: &str, at: usize) -> usize {
    (0..=at.min(text.len()))
        .rev()
        .find(|at| text.is_char_boundary(*at))
        .unwrap_or(0)
}

/// The part of `text` from `at` on is cut by `cut` bytes, and `piece` is put there.
fn mutated(text: &str, at: usize, cut: usize, piece: &str) -> String {
    let from = at_boundary(text, at % (text.len() + 1));
    let to = at_boundary(text, from + cut).max(from);
    let (before, after) = (
        text.get(..from).unwrap_or_default(),
        text.get(to..).unwrap_or_default(),
    );
    format!("{before}{piece}{after}")
}

#[test]
fn on_brackets_without_end() {
    for open in ["[", "{ a = ", "{ all = ["] {
        let deep = format!("x = {}", open.repeat(20_000));
        assert_sound(&with_file("phases.toml", |_| deep.clone()));
        let when = format!("when = {}", open.repeat(500));
        assert_sound(&with_file("phases.toml", |phases| {
            phases.replace("when = \"rest pain above 6\"", &when)
        }));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn on_any_text_as_a_file(name in proptest::sample::select(&NAMES[..]), text in "\\PC{0,200}") {
        assert_sound(&with_file(name, |_| text.clone()));
    }

    #[test]
    fn on_any_text_as_a_sentence(text in "[^\"\\\\\\p{C}]{0,80}") {
        let files = with_file("phases.toml", |phases| phases.replace("rest pain above 6", &text));
        assert_sound(&files);
    }

    #[test]
    fn on_any_row_of_words_as_a_sentence(words in proptest::collection::vec(proptest::sample::select(&PIECES[..28]), 0..9)) {
        let sentence = words.join(" ");
        assert_sound(&with_file("phases.toml", |phases| phases.replace("rest pain above 6", &sentence)));
        assert_sound(&with_file("phases.toml", |phases| phases.replace("rest pain above 6", &format!("rest pain {sentence}"))));
    }

    #[test]
    fn on_mutated_packs(
        name in proptest::sample::select(&NAMES[..]),
        changes in proptest::collection::vec((any::<usize>(), 0_usize..30, proptest::sample::select(&PIECES[..])), 1..4),
    ) {
        let files = with_file(name, |text| {
            changes.iter().fold(text.to_owned(), |text, (at, cut, piece)| mutated(&text, *at, *cut, piece))
        });
        assert_sound(&files);
    }
}

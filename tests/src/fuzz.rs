//! What a fuzzer feeds: files of a pack, sentences and diaries as bytes. Whatever they hold, reading them ends in a list of
//! diagnostics that point inside the text; nothing panics, and nothing is accepted that has an error.
//!
//! `tests/fuzz` feeds these from libFuzzer, `tests/fuzz_corpus.rs` from the kept corpus and from seeded changes of sound files.
//!
//! Leaves to others: where the bytes come from.

use rungwise_pack::diagnostic::{Diagnostic, Severity, Style, render};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use rungwise_pack::{check, prove};
use rungwise_rehearsal::diary;

/// The small invented pack of `rungwise-pack`, file by file.
pub const SMALL: [(&str, &str); 6] = [
    (
        "pack.toml",
        include_str!("../../crates/pack/tests-data/small/pack.toml"),
    ),
    (
        "measures.toml",
        include_str!("../../crates/pack/tests-data/small/measures.toml"),
    ),
    (
        "screening.toml",
        include_str!("../../crates/pack/tests-data/small/screening.toml"),
    ),
    (
        "phases.toml",
        include_str!("../../crates/pack/tests-data/small/phases.toml"),
    ),
    (
        "exercises.toml",
        include_str!("../../crates/pack/tests-data/small/exercises.toml"),
    ),
    (
        "text/en.toml",
        include_str!("../../crates/pack/tests-data/small/text/en.toml"),
    ),
];

/// The sentence of the small pack that another is put in the place of.
const SENTENCE: &str = "rest pain above 6";

/// Longest input that is looked at, in bytes: the readers' own bounds are larger and tried elsewhere.
const INPUT_BYTES_MAX: usize = 64 * 1024;

fn text(data: &[u8]) -> Option<&str> {
    std::str::from_utf8(data.get(..data.len().min(INPUT_BYTES_MAX))?).ok()
}

/// The small pack with one file replaced by what `change` makes of it.
pub fn with_file(name: &str, change: impl Fn(&str) -> String) -> SourceFiles {
    let files = SMALL.map(|(own, text)| {
        let text = if own == name {
            change(text)
        } else {
            text.to_owned()
        };
        (own.to_owned(), text)
    });
    SourceFiles::new(files.to_vec())
}

/// A file of a pack: the first line names it, the rest stands in its place.
pub fn pack(data: &[u8]) {
    let Some((name, rest)) = text(data).and_then(|text| text.split_once('\n')) else {
        return;
    };
    if SMALL.iter().any(|(own, _)| *own == name) {
        assert_sound(&with_file(name, |_| rest.to_owned()));
    }
}

/// A sentence, in a rule of a phase and in one of an exercise.
pub fn sentence(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let quoted = toml::Value::String(text.to_owned()).to_string();
    assert_sound(&with_file("phases.toml", |phases| {
        phases.replace(&format!("\"{SENTENCE}\""), &quoted)
    }));
    assert_sound(&with_file("exercises.toml", |exercises| {
        exercises.replace(
            "when = \"rest pain at most 2\"",
            &format!("when = {quoted}"),
        )
    }));
}

/// A diary of the small pack. What is read as one is a course that the pack takes.
pub fn diary(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let sound = small();
    if let Err(found) = diary::read(&sound, "fuzzed.toml", text) {
        assert!(!found.is_empty(), "refused for nothing");
        let files = SourceFiles::new(vec![("fuzzed.toml".to_owned(), text.to_owned())]);
        assert_points_inside(&files, &found);
    }
}

/// The small pack, checked once.
fn small() -> CheckedPack {
    static SOUND: std::sync::OnceLock<CheckedPack> = std::sync::OnceLock::new();
    let sound = SOUND.get_or_init(|| {
        let checked = check(&with_file("", str::to_owned));
        checked.pack.expect("the small pack is sound")
    });
    sound.clone()
}

/// Checks files, and proves them where they are a pack.
pub fn assert_sound(files: &SourceFiles) {
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
    assert_points_inside(files, &checked.diagnostics);
    assert_points_inside(files, &prove(files, &checked).diagnostics);
}

fn assert_points_inside(files: &SourceFiles, found: &[Diagnostic]) {
    let text = render(files, found, Style::Plain);
    assert_eq!(text.is_empty(), found.is_empty());
    for found in found {
        if let Some(source) = files.get(&found.file) {
            assert!(
                source.text.get(found.span.clone()).is_some(),
                "{found:?} points inside its file"
            );
        }
    }
}

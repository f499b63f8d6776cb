//! Every diagnostic code has a pack that fires it, with its text kept under `tests/golden`, and a passing twin.
//!
//! The packs are edits of `tests-data/small`. `UPDATE_GOLDEN=1` writes the texts anew.

#![allow(
    clippy::disallowed_methods,
    clippy::expect_used,
    clippy::panic,
    clippy::too_many_lines,
    reason = "tests read and write their fixtures, and may fail; tables of cases are long"
)]

mod bands;
mod combined;
mod files;
mod forms;
mod ladders;
mod names;
mod pages;
mod proofs;
mod sentences;
#[path = "../support/mod.rs"]
mod support;
mod volumes;

use rungwise_pack::diagnostic::{Code, Diagnostic, Severity, Style, render};
use rungwise_pack::source::SourceFiles;
use rungwise_pack::{check, prove};
use std::path::Path;

/// A pack that fires a code: edits of the small pack, and a twin that does not.
struct Case {
    code: Code,
    edits: Vec<Edit>,
    twin: Vec<Edit>,
}

enum Edit {
    /// The first text, which must stand exactly once in the file, becomes the second.
    Replace(&'static str, &'static str, String),
    Add(&'static str, String),
    Remove(&'static str),
}

/// A case whose twin is the small pack itself.
const fn case(code: Code) -> Case {
    Case {
        code,
        edits: Vec::new(),
        twin: Vec::new(),
    }
}

impl Case {
    fn edit(mut self, file: &'static str, from: &'static str, to: impl Into<String>) -> Self {
        self.edits.push(Edit::Replace(file, from, to.into()));
        self
    }

    fn add(mut self, file: &'static str, text: impl Into<String>) -> Self {
        self.edits.push(Edit::Add(file, text.into()));
        self
    }

    fn remove(mut self, file: &'static str) -> Self {
        self.edits.push(Edit::Remove(file));
        self
    }

    /// An edit that the twin has too.
    fn both(mut self, file: &'static str, from: &'static str, to: &str) -> Self {
        self.edits.push(Edit::Replace(file, from, to.to_owned()));
        self.twin.push(Edit::Replace(file, from, to.to_owned()));
        self
    }

    /// An edit that the twin has instead.
    fn twin(mut self, file: &'static str, from: &'static str, to: impl Into<String>) -> Self {
        self.twin.push(Edit::Replace(file, from, to.into()));
        self
    }
}

fn edited(edits: &[Edit]) -> SourceFiles {
    let small = support::small();
    let mut files: Vec<(String, String)> = small
        .files()
        .iter()
        .map(|file| (file.name.clone(), file.text.clone()))
        .collect();
    for edit in edits {
        match edit {
            Edit::Replace(name, from, to) => {
                let file = files
                    .iter_mut()
                    .find(|(known, _)| known == name)
                    .expect("a known file");
                assert_eq!(
                    file.1.matches(from).count(),
                    1,
                    "`{from}` stands once in {name}"
                );
                file.1 = file.1.replace(from, to);
            }
            Edit::Add(name, text) => files.push(((*name).to_owned(), text.clone())),
            Edit::Remove(name) => files.retain(|(known, _)| known != name),
        }
    }
    SourceFiles::new(files)
}

/// Everything found of a pack, and whether it may come into force. What is proved is looked at for its own codes only.
fn looked_at(code: Code, files: &SourceFiles) -> (Vec<Diagnostic>, bool) {
    let checked = check(files);
    let mut found = checked.diagnostics.clone();
    let sound = |found: &[Diagnostic]| !found.iter().any(|one| one.severity == Severity::Error);
    assert_eq!(
        checked.pack.is_some(),
        sound(&found),
        "the checker refuses what has an error, and nothing else"
    );
    if code.is_proved() {
        found.extend(prove(files, &checked).diagnostics);
    }
    let sound = sound(&found);
    (found, sound)
}

/// Every code but the one that is found by playing a course, which has its case in `rungwise-rehearsal`.
fn with_cases() -> impl Iterator<Item = &'static Code> {
    let played = |code: &&Code| **code != Code::CourseStops;
    Code::ALL.iter().filter(played)
}

fn cases() -> Vec<Case> {
    [
        combined::cases(),
        files::cases(),
        names::cases(),
        sentences::cases(),
        forms::cases(),
        ladders::cases(),
        volumes::cases(),
        bands::cases(),
        proofs::cases(),
    ]
    .into_iter()
    .flatten()
    .collect()
}

#[test]
fn every_code_fires_somewhere() {
    let cases = cases();
    for code in with_cases() {
        assert!(
            cases.iter().any(|case| case.code == *code),
            "no example fires {}",
            code.id()
        );
    }
}

#[test]
fn ids_are_distinct_and_in_order() {
    let ids: Vec<&str> = Code::ALL.iter().map(|code| code.id()).collect();
    let mut sorted = ids.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(ids, sorted);
}

#[test]
fn a_code_fires_on_its_example_alone_and_not_on_the_twin() {
    let mut wrong = Vec::new();
    for case in cases() {
        let id = case.code.id();
        let files = edited(&case.edits);
        let (fired, sound) = looked_at(case.code, &files);
        let text = render(&files, &fired, Style::Plain);
        if fired.is_empty() || fired.iter().any(|found| found.code != case.code) {
            wrong.push(format!("not {id} alone:\n{text}"));
        }
        if sound == (case.code.severity() == Severity::Error) {
            wrong.push(format!(
                "an error refuses the pack and a warning does not:\n{text}"
            ));
        }
        let twin = edited(&case.twin);
        let (passed, sound) = looked_at(case.code, &twin);
        if !sound || !passed.is_empty() {
            let text = render(&twin, &passed, Style::Plain);
            wrong.push(format!(
                "the twin of {id} is not accepted without a word:\n{text}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_diagnostic_points_inside_its_file_and_its_suggestion_can_be_made() {
    for case in cases() {
        let files = edited(&case.edits);
        for found in looked_at(case.code, &files).0 {
            let Diagnostic {
                file,
                span,
                line,
                column,
                suggestion,
                ..
            } = &found;
            let Some(source) = files.get(file) else {
                continue;
            };
            assert!(source.text.get(span.clone()).is_some(), "{found:?}");
            assert_eq!(
                source.line_column(span.start),
                (*line, *column),
                "{found:?}"
            );
            if let Some(suggestion) = suggestion {
                assert!(
                    source.text.get(suggestion.span.clone()).is_some(),
                    "{found:?}"
                );
            }
        }
    }
}

#[test]
fn colour_changes_no_word() {
    let case = case(Code::UnknownKey).edit("phases.toml", "climb_max = 1", "mood = \"good\"");
    let files = edited(&case.edits);
    let found = check(&files).diagnostics;
    let coloured = render(&files, &found, Style::Colour);
    assert!(coloured.contains("\u{1b}["));
    // What stands between an escape and its `m` is colour; the rest is the plain text.
    let mut plain = String::new();
    for (at, part) in coloured.split('\u{1b}').enumerate() {
        plain.push_str(if at == 0 {
            part
        } else {
            part.split_once('m').expect("a colour ends").1
        });
    }
    assert_eq!(plain, render(&files, &found, Style::Plain));
}

#[test]
fn texts_are_the_golden_ones() {
    let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden");
    let update = std::env::var_os("UPDATE_GOLDEN").is_some();
    let mut wrong = Vec::new();
    for code in with_cases() {
        let mut text = format!("{}: {}\n", code.id(), code.title());
        for case in cases().iter().filter(|case| case.code == *code) {
            let files = edited(&case.edits);
            text.push('\n');
            text.push_str(&render(
                &files,
                &looked_at(case.code, &files).0,
                Style::Plain,
            ));
        }
        let path = directory.join(format!("{}.txt", code.id()));
        if update {
            std::fs::write(&path, &text).expect("the golden directory");
        }
        if std::fs::read_to_string(&path).ok().as_ref() != Some(&text) {
            wrong.push(text);
        }
    }
    assert!(
        wrong.is_empty(),
        "not the golden text (UPDATE_GOLDEN=1 writes it anew):\n{}",
        wrong.join("\n")
    );
}

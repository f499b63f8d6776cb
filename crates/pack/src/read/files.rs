//! From the files of a pack to its draft.
//!
//! Leaves to others: each file's own keys.

use super::draft::PackDraft;
use super::exercises::{lines, texts};
use super::fields::{Fields, Walk};
use super::head::{head, phases, screening};
use super::measures::measures;
use super::{
    EXERCISES_MAX, LINES_MAX, PHASES_MAX, RULES_MAX, SENTENCES_MAX, SOURCES_MAX, TEXTS_MAX,
};
use crate::diagnostic::{Code, Findings, Note};
use crate::source::{
    FILE_BYTES_MAX, FILES_MAX, Lines, Location, SourceFile, SourceFiles, is_diary,
};
use crate::suggest::nearest;
use toml::de::{DeTable, Error};

/// Files that every pack has, besides its texts.
const FILES: [&str; 5] = [
    "pack.toml",
    "measures.toml",
    "screening.toml",
    "phases.toml",
    "exercises.toml",
];

/// Reads every file. None where a file is missing or is no TOML: what the others say cannot be judged without it.
pub(crate) fn read<'f>(files: &'f SourceFiles, findings: &mut Findings<'f>) -> Option<PackDraft> {
    let mut draft = PackDraft::default();
    if !sizes_fit(files, findings) {
        return None;
    }
    let mut whole = true;
    for name in FILES {
        if files.get(name).is_none() {
            findings.add(Note::file(
                Code::FileMissing,
                name,
                format!("the pack has no `{name}`"),
            ));
            whole = false;
        }
    }
    let mut before: Option<&SourceFile> = None;
    for (index, file) in files.files().iter().enumerate() {
        if before.is_some_and(|before| before.name == file.name) {
            findings.add(Note::file(
                Code::FileTwice,
                &file.name,
                format!("there are two files `{}`", file.name),
            ));
            whole = false;
        }
        before = Some(file);
        let language = language_of(&file.name);
        if !FILES.contains(&file.name.as_str()) && language.is_none() {
            if !is_diary(&file.name) {
                unknown(file, findings);
            }
            continue;
        }
        let (table, errors) = DeTable::parse_recoverable(&file.text);
        if !errors.is_empty() {
            syntax(index, file, &errors, findings);
            whole = false;
            continue;
        }
        let walk = &mut Walk {
            findings: &mut *findings,
            file: index,
            source: &file.text,
        };
        let table = table.get_ref();
        match (file.name.as_str(), language) {
            ("pack.toml", _) => {
                draft.head = Some(head(walk, Fields::of_file(index, "the pack", table)))
            }
            ("measures.toml", _) => {
                (draft.measures, draft.unread) =
                    measures(walk, Fields::of_file(index, "the file", table))
            }
            ("screening.toml", _) => {
                draft.refers = screening(walk, Fields::of_file(index, "the file", table))
            }
            ("phases.toml", _) => {
                draft.phases = phases(walk, Fields::of_file(index, "the file", table))
            }
            ("exercises.toml", _) => {
                draft.lines = lines(walk, Fields::of_file(index, "the file", table))
            }
            (_, Some(language)) => {
                let texts = texts(walk, &Fields::of_file(index, "the file", table));
                draft.texts.insert(language.to_owned(), texts);
            }
            _ => {}
        }
    }
    (whole && counts_fit(&draft, findings)).then_some(draft)
}

/// Whether a pack has no more of anything than is bounded: what follows looks at pairs of them.
fn counts_fit(draft: &PackDraft, findings: &mut Findings<'_>) -> bool {
    let exercises = draft.lines.iter().flat_map(|line| &line.exercises);
    let rules = draft.rules().count() + draft.limits().count();
    let sources = draft.head.as_ref().map_or(0, |head| head.sources.len());
    let counts = [
        ("phases.toml", "phases", draft.phases.len(), PHASES_MAX),
        ("exercises.toml", "lines", draft.lines.len(), LINES_MAX),
        (
            "exercises.toml",
            "exercises",
            exercises.count(),
            EXERCISES_MAX,
        ),
        ("phases.toml", "rules and limits", rules, RULES_MAX),
        ("pack.toml", "sentences", draft.sentences(), SENTENCES_MAX),
        ("pack.toml", "sources", sources, SOURCES_MAX),
    ];
    let texts = draft.texts.iter().map(|(language, texts)| {
        let file = format!("text/{language}.toml");
        (file, "texts", texts.texts.len(), TEXTS_MAX)
    });
    let counts = counts.map(|(file, what, count, most)| (file.to_owned(), what, count, most));
    let mut fit = true;
    for (file, what, count, most) in counts.into_iter().chain(texts) {
        if count > most {
            let message = format!("a pack of {count} {what} is too large");
            findings.add(
                Note::file(Code::TooMany, &file, message).help(format!("at most {most} {what}")),
            );
            fit = false;
        }
    }
    fit
}

/// `en` of `text/en.toml`.
fn language_of(name: &str) -> Option<&str> {
    name.strip_prefix("text/")?
        .strip_suffix(".toml")
        .filter(|language| !language.contains('/'))
}

fn sizes_fit(files: &SourceFiles, findings: &mut Findings<'_>) -> bool {
    let count = files.files().len();
    if count > FILES_MAX {
        let message = format!("a pack of {count} files is too large");
        findings.add(
            Note::file(Code::FileTooLarge, "pack.toml", message)
                .help(format!("at most {FILES_MAX} files")),
        );
        return false;
    }
    let mut fit = true;
    for file in files
        .files()
        .iter()
        .filter(|file| file.text.len() > FILE_BYTES_MAX)
    {
        let message = format!("`{}` has {} bytes", file.name, file.text.len());
        findings.add(
            Note::file(Code::FileTooLarge, &file.name, message)
                .help(format!("at most {FILE_BYTES_MAX} bytes")),
        );
        fit = false;
    }
    fit
}

fn unknown(file: &SourceFile, findings: &mut Findings<'_>) {
    let note = Note::file(
        Code::FileUnknown,
        &file.name,
        format!("`{}` is not read", file.name),
    );
    findings.add(match nearest(&file.name, FILES) {
        Some(near) => note.help(format!("did you mean `{near}`?")),
        None => note.help("move it out of the pack: it changes the digest and says nothing"),
    });
}

/// The parser goes on after an error, and some of what follows is only an echo: the first error of each line stands,
/// and nothing after a bracket that is never closed.
fn syntax(index: usize, file: &SourceFile, errors: &[Error], findings: &mut Findings<'_>) {
    let unclosed = errors
        .iter()
        .any(|error| error.message().starts_with("unclosed"));
    let mut sorted: Vec<_> = errors
        .iter()
        .map(|error| (error.span().unwrap_or(0..0), error.message()))
        .collect();
    sorted.sort_by_key(|(span, _)| (span.start, span.end));
    let lines = Lines::of(file);
    let mut line_before = 0;
    for (span, message) in sorted {
        let line = lines.line(span.start);
        if findings.is_full() {
            break;
        }
        if line == line_before {
            continue;
        }
        line_before = line;
        let at = Location::new(index, &span);
        findings.add(Note::new(
            Code::Syntax,
            at,
            format!("not valid TOML: {message}"),
        ));
        if unclosed
            && ["array", "inline table", "unclosed"]
                .iter()
                .any(|word| message.contains(word))
        {
            break;
        }
    }
}

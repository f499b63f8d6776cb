//! Words that must not stand in the tree, and words that belong to rule packs alone.
//!
//! The lists are written in pieces, so that this file does not hold the words that it looks for.

use super::{is_test_file, none_of, rust_files, texts};
use std::path::Path;

/// Pieces of words that no file may hold, compared without regard to case.
const BANNED: [(&[&str], &str); 16] = [
    (
        &["tran", "script"],
        "only issues cite where the work grew from",
    ),
    (&["pract", "itioner"], "the word here is clinician"),
    (
        &["seed ", "document"],
        "only issues cite where the work grew from",
    ),
    (&["to", "do!("], "unfinished"),
    (&["unimple", "mented!("], "unfinished"),
    (&["#[ig", "nore"], "a test that never runs"),
    (&["FIX", "ME"], "unfinished"),
    (&["/wo", "rk/"], "a path of one machine"),
    (&["/ro", "ot/"], "a path of one machine"),
    (&["/ho", "me/"], "a path of one machine"),
    (&["/tmp/", "notes"], "a path of one machine"),
    (&["crates", ".io"], "a registry's host"),
    (&["pypi", ".org"], "a registry's host"),
    (&["registry.npm", "js.org"], "a registry's host"),
    (&["deb.debian", ".org"], "a registry's host"),
    (&["github", "usercontent"], "a host that nothing here needs"),
];

/// Colours by which a band might be known. Here a band has a label and a calibration.
const COLOURS: [&str; 9] = [
    "yellow", "red", "green", "blue", "black", "silver", "gold", "orange", "purple",
];

/// Stems of words of the trade that name a body part or an exercise: they live in rule packs and in tests.
const PACK_WORDS: [&str; 24] = [
    "shoulder",
    "rotator",
    "cuff",
    "elbow",
    "scapul",
    "humer",
    "glenoid",
    "acromi",
    "deltoid",
    "supraspin",
    "wrist",
    "knee",
    "ankle",
    "spine",
    "lumbar",
    "cervical",
    "isometric",
    "external rotation",
    "internal rotation",
    "pull-apart",
    "pull apart",
    "wall slide",
    "side-lying",
    "pendulum",
];

/// Every finding of `text` against the two lists that hold for every file.
fn banned(text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    let mut found = Vec::new();
    for (pieces, why) in BANNED {
        let word = pieces.concat().to_lowercase();
        if lower.contains(&word) {
            found.push(format!("`{word}`: {why}"));
        }
    }
    for colour in COLOURS {
        for joint in [" ", "-"] {
            let words = format!("{colour}{joint}band");
            if lower
                .match_indices(&words)
                .any(|(at, _)| !lower[..at].ends_with(|c: char| c.is_alphanumeric()))
            {
                found.push(format!("`{words}`: colours mean nothing here"));
            }
        }
    }
    found
}

/// Whether a file is text that people or compilers read. The lock file is a tool's.
fn is_read(path: &Path) -> bool {
    let name = path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    let ending = path
        .extension()
        .map(|ending| ending.to_string_lossy().into_owned())
        .unwrap_or_default();
    [
        "rs", "toml", "proto", "md", "py", "txt", "yaml", "yml", "sh", "json", "service",
    ]
    .contains(&ending.as_str())
        || name == "all"
        || name == "run"
}

#[test]
fn no_banned_word_stands_anywhere() {
    let mut findings = Vec::new();
    for (path, text) in texts(is_read) {
        for finding in banned(&text) {
            findings.push(format!("{}: {finding}", path.display()));
        }
    }
    none_of("banned words", &findings);
}

#[test]
fn banned_words_canary() {
    assert_eq!(banned(&["a Tran", "script here"].concat()).len(), 1);
    assert_eq!(banned(&["use the red", " band"].concat()).len(), 1);
    assert_eq!(banned("a covered band, a band of 3 N").len(), 0);
    assert_eq!(banned(&["see /wo", "rk/x"].concat()).len(), 1);
}

/// Lines of Rust outside comments and outside an inline test module.
fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines()
        .enumerate()
        .take_while(|(_, line)| line.trim() != "mod tests {")
        .map(|(index, line)| (index + 1, line.split("//").next().unwrap_or_default()))
}

fn pack_words(text: &str) -> Vec<(usize, &'static str)> {
    let mut found = Vec::new();
    for (number, line) in code_lines(text) {
        let lower = line.to_lowercase().replace('_', " ");
        for word in PACK_WORDS {
            if lower.contains(word) {
                found.push((number, word));
            }
        }
    }
    found
}

#[test]
fn no_body_part_or_exercise_is_named_in_code() {
    let mut findings = Vec::new();
    for (path, text) in rust_files() {
        if is_test_file(&path) {
            continue;
        }
        for (line, word) in pack_words(&text) {
            findings.push(format!(
                "{}:{line}: `{word}` belongs to a rule pack",
                path.display()
            ));
        }
    }
    none_of("words of rule packs in code", &findings);
}

#[test]
fn pack_words_canary() {
    assert_eq!(pack_words("let a = \"external rotation\";\n").len(), 1);
    assert_eq!(pack_words("fn shoulder_limit() {}\n").len(), 1);
    assert_eq!(
        pack_words("// the shoulder, for example\nlet a = 1;\n").len(),
        0
    );
}

//! Each invariant of the design has a test of its name, and code that relies on it says so.

use super::{is_test_file, none_of, rust_files};
use jiff::civil::Date;
use rungwise_engine::decide::decide;
use rungwise_engine::decision::Decision;
use rungwise_engine::history::History;
use rungwise_pack::model::CheckedPack;

/// The invariants, by the names of the design.
const INVARIANTS: [&str; 10] = [
    "same-bytes",
    "caution-is-monotone",
    "silence-never-progresses",
    "each-fact-moves-once",
    "fail-closed",
    "checked-only",
    "record-first",
    "append-only",
    "own-clinic",
    "bounded",
];

/// Names of test functions in a Rust text: functions with an attribute `#[test]` or `#[tokio::test…]` above them.
fn test_names(text: &str) -> Vec<String> {
    let mut names = Vec::new();
    let mut marked = false;
    for line in text.lines().map(str::trim) {
        if line == "#[test]" || line.starts_with("#[tokio::test") {
            marked = true;
        } else if let Some((_, rest)) = line.split_once("fn ").filter(|(before, _)| {
            before
                .split_whitespace()
                .all(|word| ["pub", "async", "const"].contains(&word))
        }) {
            if marked {
                names.push(rest.split(['(', '<']).next().unwrap_or_default().to_owned());
            }
            marked = false;
        }
    }
    names
}

#[test]
fn every_invariant_has_a_test_of_its_name() {
    let names: Vec<String> = rust_files()
        .iter()
        .flat_map(|(_, text)| test_names(text))
        .collect();
    let findings: Vec<String> = INVARIANTS
        .iter()
        .filter(|invariant| {
            !names
                .iter()
                .any(|name| name.contains(&invariant.replace('-', "_")))
        })
        .map(|invariant| format!("`{invariant}`"))
        .collect();
    none_of("invariants without a test of their name", &findings);
}

#[test]
fn every_invariant_is_named_where_code_relies_on_it() {
    let code: Vec<String> = rust_files()
        .into_iter()
        .filter(|(path, _)| !is_test_file(path))
        .map(|(_, text)| text)
        .collect();
    let findings: Vec<String> = INVARIANTS
        .iter()
        .filter(|invariant| {
            !code
                .iter()
                .any(|text| text.contains(&format!("INVARIANT ({invariant})")))
        })
        .map(|invariant| format!("`{invariant}`"))
        .collect();
    none_of("invariants that no code names", &findings);
}

#[test]
fn no_code_names_an_invariant_that_is_not_one() {
    let mut findings = Vec::new();
    for (path, text) in rust_files() {
        for rest in text.split("INVARIANT (").skip(1) {
            let name = rest.split(')').next().unwrap_or_default();
            if name.starts_with(|c: char| c.is_ascii_lowercase()) && !INVARIANTS.contains(&name) {
                findings.push(format!("{}: `{name}`", path.display()));
            }
        }
    }
    none_of("unknown invariants", &findings);
}

/// The type says that deciding takes a checked pack; the text says that only the checker makes one.
#[test]
fn checked_only_the_checker_alone_makes_what_the_engine_takes() {
    let _: fn(&CheckedPack, &History, Date) -> Decision = decide;
    let mut makers: Vec<String> = Vec::new();
    for (path, text) in rust_files() {
        let path = path.display().to_string();
        let makes =
            |line: &str| line.contains("CheckedPack::seal") || line.contains("CheckedPack(");
        if path.starts_with("crates/pack/src/") && text.lines().any(makes) {
            makers.push(path);
        }
    }
    assert_eq!(
        makers,
        [
            "crates/pack/src/check/mod.rs",
            "crates/pack/src/model/mod.rs"
        ]
    );
}

#[test]
fn test_names_canary() {
    let text = "#[test]\nfn same_bytes() {}\nfn helper() {}\n#[tokio::test(flavor = \"x\")]\nasync fn own_clinic() {}\n";
    assert_eq!(test_names(text), ["same_bytes", "own_clinic"]);
}

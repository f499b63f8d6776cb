//! Each invariant of the design has a test of its name, and code that relies on it says so.

use super::{is_test_file, none_of, rust_files};

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

#[test]
fn test_names_canary() {
    let text = "#[test]\nfn same_bytes() {}\nfn helper() {}\n#[tokio::test(flavor = \"x\")]\nasync fn own_clinic() {}\n";
    assert_eq!(test_names(text), ["same_bytes", "own_clinic"]);
}

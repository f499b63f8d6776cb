//! The diaries of every pack hold its rules: `rungwise rules rehearse --coverage --mutate`, as a clinical lead runs it.
//!
//! What is printed is held against a golden text; `UPDATE_GOLDEN=1` writes it anew.
//!
//! Leaves to others: what counts as covered and as pinned (`crates/rehearsal`).

use super::binary::{complaint, run, text};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Fewest numbers pinned, in per cent of those that can be moved.
const PINNED_MIN: f64 = 95.0;

/// Every sentence of a pack is seen met, not met and unknown by its diaries, and its numbers are pinned by them.
fn is_held(pack: &str, repeating: u64) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../rules")
        .join(pack);
    let folder = folder.to_str().expect("a path in UTF-8");
    let run = run(&[
        "rules",
        "rehearse",
        folder,
        "--coverage",
        "--mutate",
        "--json",
    ]);
    let said: Value =
        serde_json::from_str(&text(&run)).unwrap_or_else(|_| panic!("{}", complaint(&run)));
    for diary in said["diaries"].as_array().expect("diaries") {
        assert_eq!(
            diary["differ"],
            Value::Array(Vec::new()),
            "{pack}: {}",
            diary["file"]
        );
    }
    let coverage = &said["coverage"];
    for list in ["never_met", "never_not_met", "never_unknown"] {
        assert_eq!(coverage[list], Value::Array(Vec::new()), "{pack}: {list}");
    }
    assert_eq!(coverage["percent"], "100.0", "{pack}");
    assert_eq!(coverage["repeat_their_climb_rule"], repeating, "{pack}");
    let thresholds = &said["thresholds"];
    let percent = thresholds["percent"]
        .as_str()
        .and_then(|share| share.parse::<f64>().ok());
    let percent = percent.expect("a share");
    assert!(
        percent >= PINNED_MIN,
        "{pack}: {percent} %: {:#}",
        thresholds["not_pinned"]
    );
    assert_eq!(thresholds["not_moved"], Value::Array(Vec::new()), "{pack}");
}

/// What a difference, coverage and mutation look like, on a small pack whose one diary expects something else.
#[test]
fn what_is_printed_is_the_golden_text() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let small = here.join("../crates/rehearsal/src/read/tests");
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (from, to) in [
        ("pack.toml", "pack.toml"),
        ("measures.toml", "measures.toml"),
        ("screening.toml", "screening.toml"),
        ("phases.toml", "phases.toml"),
        ("exercises.toml", "exercises.toml"),
        ("en.toml", "text/en.toml"),
    ] {
        let to = folder.path().join(to);
        fs::create_dir_all(to.parent().expect("a folder")).expect("a folder is made");
        fs::copy(small.join(from), to).expect("a file is copied");
    }
    let golden = here.join("program/held");
    fs::create_dir_all(folder.path().join("diaries")).expect("a folder is made");
    fs::copy(
        golden.join("short.toml"),
        folder.path().join("diaries/short.toml"),
    )
    .expect("a file is copied");
    let place = folder.path().to_str().expect("a path in UTF-8");
    let run = run(&["rules", "rehearse", place, "--coverage", "--mutate"]);
    assert_eq!(run.status.code(), Some(1), "{}", complaint(&run));
    let said = text(&run);
    let golden = golden.join("said.txt");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        fs::write(&golden, &said).expect("the golden text is written");
    }
    assert_eq!(said, fs::read_to_string(golden).expect("a golden text"));
}

#[test]
fn the_diaries_hold_the_rotator_cuff() {
    is_held("rotator-cuff", 6);
}

#[test]
fn the_diaries_hold_the_rotator_cuff_after_repair() {
    is_held("rotator-cuff-repair", 0);
}

#[test]
fn the_diaries_hold_the_achilles_tendon() {
    is_held("achilles-midportion", 0);
}

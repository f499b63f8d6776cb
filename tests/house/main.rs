//! The house test: what the project promises about itself and no compiler checks.
//!
//! Each check is in a module of its own and returns *all* that is wrong as a list, so that one run shows everything.
//! A check that reads text has a canary beside it: an input made to be wrong, which it must find.
//!
//! Leaves to others: what code does. Nothing here runs the program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first thing that it cannot understand"
)]

mod dependencies;
mod invariants;
mod layout;
mod words;

use std::path::{Path, PathBuf};
use std::process::Command;

/// The project's top folder.
fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("tests/ stands in the project")
}

/// Every file of the project that git tracks or would track, as paths from the top, sorted.
fn files() -> Vec<PathBuf> {
    let listed = Command::new("git")
        .args([
            "ls-files",
            "--cached",
            "--others",
            "--exclude-standard",
            "-z",
        ])
        .current_dir(top())
        .output()
        .expect("git runs");
    assert!(
        listed.status.success(),
        "git ls-files failed: {}",
        String::from_utf8_lossy(&listed.stderr)
    );
    let text = String::from_utf8(listed.stdout).expect("paths are UTF-8");
    let mut files: Vec<PathBuf> = text
        .split('\0')
        .filter(|path| !path.is_empty())
        .map(PathBuf::from)
        .collect();
    files.retain(|path| top().join(path).is_file());
    files.sort();
    files.dedup();
    assert!(files.len() > 50, "git lists only {} files", files.len());
    files
}

/// The files whose name ends in `.rs`, with their text.
fn rust_files() -> Vec<(PathBuf, String)> {
    texts(|path| path.extension().is_some_and(|ending| ending == "rs"))
}

/// The files that `wanted` picks, with their text.
fn texts(wanted: impl Fn(&Path) -> bool) -> Vec<(PathBuf, String)> {
    files()
        .into_iter()
        .filter(|path| wanted(path))
        .map(|path| {
            let text =
                std::fs::read_to_string(top().join(&path)).expect("a listed file is readable text");
            (path, text)
        })
        .collect()
}

/// Whether a Rust file holds only tests: it stands in the tests package, or is a `tests.rs` or `…_tests.rs` beside the
/// code it tests, or in a folder `tests`.
fn is_test_file(path: &Path) -> bool {
    let name = path
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or_default();
    path.starts_with("tests")
        || name == "tests.rs"
        || name.ends_with("_tests.rs")
        || path.components().any(|part| part.as_os_str() == "tests")
        || path.components().any(|part| part.as_os_str() == "benches")
}

/// Fails with every finding on a line of its own.
fn none_of(what: &str, findings: &[String]) {
    assert!(findings.is_empty(), "{what}:\n  {}", findings.join("\n  "));
}

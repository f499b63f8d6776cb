//! Fixtures shared by the tests of this crate.

#![allow(
    clippy::disallowed_methods,
    clippy::expect_used,
    reason = "tests read their fixtures and may fail"
)]

use rungwise_pack::source::SourceFiles;
use std::path::Path;

/// The files of `tests-data/small`.
#[allow(dead_code, reason = "not every test reads the small pack")]
pub(crate) fn small() -> SourceFiles {
    SourceFiles::new(read(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("tests-data/small"),
        "",
    ))
}

/// Every file under a directory, by name inside it.
pub(crate) fn read(directory: &Path, prefix: &str) -> Vec<(String, String)> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(directory).expect("a directory of fixtures") {
        let entry = entry.expect("an entry");
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            files.extend(read(&entry.path(), &format!("{name}/")));
        } else {
            files.push((name, std::fs::read_to_string(entry.path()).expect("a text")));
        }
    }
    files
}

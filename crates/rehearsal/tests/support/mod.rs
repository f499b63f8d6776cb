//! Loads a pack of this repository for tests; the crate itself touches no disk.
#![allow(
    dead_code,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "shared by several tests, each of which uses a part and may fail loudly"
)]

use rungwise_pack::diagnostic::{Severity, Style, render};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use std::path::{Path, PathBuf};

/// `rules/<name>` of this repository.
pub(crate) fn directory(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../rules")
        .join(name)
}

/// The names of the packs of this repository, in order.
pub(crate) fn packs() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(directory(""))
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().join("pack.toml").is_file())
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// Every file of a pack, by its name inside it.
pub(crate) fn files(name: &str) -> SourceFiles {
    let root = directory(name);
    let mut files = Vec::new();
    for folder in ["", "text", "diaries"] {
        let mut entries: Vec<PathBuf> = std::fs::read_dir(root.join(folder))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        entries.sort();
        for path in entries
            .into_iter()
            .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        {
            let file = path.file_name().unwrap().to_str().unwrap();
            let name = if folder.is_empty() {
                file.to_owned()
            } else {
                format!("{folder}/{file}")
            };
            files.push((name, std::fs::read_to_string(&path).unwrap()));
        }
    }
    SourceFiles::new(files)
}

/// The pack, checked; prints what is wrong where it is not accepted.
pub(crate) fn pack(name: &str) -> CheckedPack {
    let files = files(name);
    let checked = rungwise_pack::check(&files);
    let errors: Vec<_> = checked
        .diagnostics
        .iter()
        .filter(|found| found.severity == Severity::Error)
        .cloned()
        .collect();
    checked
        .pack
        .unwrap_or_else(|| panic!("{}", render(&files, &errors, Style::Plain)))
}

/// The names and texts of a pack's diaries.
pub(crate) fn diaries(name: &str) -> Vec<(String, String)> {
    let files = files(name);
    let diaries = files
        .files()
        .iter()
        .filter(|file| file.name.starts_with("diaries/"));
    diaries
        .map(|file| (file.name.clone(), file.text.clone()))
        .collect()
}

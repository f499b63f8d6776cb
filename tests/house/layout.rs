//! Where files stand and how long they are.

use super::{files, none_of, rust_files, texts, top};
use std::collections::BTreeSet;
use std::path::Path;

/// What stands at the top, dot-files aside. A new entry is a decision, not an accident.
const TOP: [&str; 10] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "crates",
    "deploy",
    "proto",
    "rules",
    "tests",
];

/// Longest Rust file, in lines. About 500 is the aim.
const FILE_LINES_MAX: usize = 600;

#[test]
fn the_top_level_is_exact() {
    let have: BTreeSet<String> = files()
        .iter()
        .filter_map(|path| path.components().next())
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.'))
        .collect();
    let want: BTreeSet<String> = TOP.iter().map(ToString::to_string).collect();
    assert_eq!(have, want);
}

#[test]
fn every_rust_file_says_what_it_is_for() {
    let findings: Vec<String> = rust_files()
        .iter()
        .filter(|(_, text)| !opens_with_docs(text))
        .map(|(path, _)| format!("{} does not open with `//!`", path.display()))
        .collect();
    none_of("files without module documentation", &findings);
}

fn opens_with_docs(text: &str) -> bool {
    text.lines().next().is_some_and(|line| {
        line.strip_prefix("//! ")
            .is_some_and(|rest| rest.len() > 10 && rest != "placeholder")
    })
}

#[test]
fn module_docs_canary() {
    assert!(opens_with_docs("//! What a pack says.\nfn f() {}\n"));
    assert!(!opens_with_docs("//! \nfn f() {}\n"));
    assert!(!opens_with_docs("fn f() {}\n"));
    assert!(!opens_with_docs(""));
}

#[test]
fn no_rust_file_is_too_long_to_read() {
    let findings: Vec<String> = rust_files()
        .iter()
        .map(|(path, text)| (path, text.lines().count()))
        .filter(|(_, lines)| *lines > FILE_LINES_MAX)
        .map(|(path, lines)| {
            format!(
                "{} has {lines} lines; at most {FILE_LINES_MAX}",
                path.display()
            )
        })
        .collect();
    none_of("files to split", &findings);
}

/// Names that say nothing of what is inside.
const EMPTY_NAMES: [&str; 4] = ["utils", "util", "common", "helpers"];

#[test]
fn no_module_is_named_after_nothing() {
    let findings: Vec<String> = rust_files()
        .iter()
        .filter(|(path, _)| {
            path.components().any(|part| {
                let part = Path::new(part.as_os_str())
                    .file_stem()
                    .map(|stem| stem.to_string_lossy().into_owned());
                part.is_some_and(|stem| EMPTY_NAMES.contains(&stem.as_str()))
            })
        })
        .map(|(path, _)| path.display().to_string())
        .collect();
    none_of("modules named after nothing", &findings);
}

#[test]
fn the_readme_shows_its_two_commands() {
    let readme = std::fs::read_to_string(top().join("README.md")).expect("README.md");
    assert!(
        readme.contains("cargo run --release -- demo"),
        "README.md does not show how to run the demo"
    );
    assert!(
        readme.contains("tests/all"),
        "README.md does not show how to run the tests"
    );
    let ci = std::fs::read_to_string(top().join(".ci/run")).expect(".ci/run");
    assert!(ci.contains("tests/all"), ".ci/run does not call tests/all");
}

#[test]
fn every_relative_link_leads_somewhere() {
    let mut findings = Vec::new();
    let pages = texts(|path| path.extension().is_some_and(|ending| ending == "md"));
    assert!(pages.len() >= 2, "README.md and DEVELOPERS.md at least");
    for (path, text) in pages {
        let folder = top()
            .join(&path)
            .parent()
            .expect("a file stands in a folder")
            .to_path_buf();
        for link in relative_links(&text) {
            if !folder.join(&link).exists() {
                findings.push(format!("{}: `{link}`", path.display()));
            }
        }
    }
    none_of("links that lead nowhere", &findings);
}

/// Targets of Markdown links, without their anchors, that point into the project.
fn relative_links(text: &str) -> Vec<String> {
    text.split("](")
        .skip(1)
        .filter_map(|rest| rest.split_once(')'))
        .map(|(target, _)| target.split('#').next().unwrap_or_default().to_owned())
        .filter(|target| {
            !target.is_empty() && !target.contains("://") && !target.starts_with("mailto:")
        })
        .collect()
}

#[test]
fn links_canary() {
    let text = "[a](deploy/x.toml) [b](https://example.org) [c](#here) [d](rules/y.md#part)";
    assert_eq!(relative_links(text), ["deploy/x.toml", "rules/y.md"]);
}

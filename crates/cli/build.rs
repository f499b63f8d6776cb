//! Puts the rule packs of `rules/` into the program, so that it decides without any file beside it.
//!
//! Written to `OUT_DIR/embedded.rs` is one table: for each pack its folder's name and its files, each with its name as
//! seen from the folder and its text. Nothing is parsed here.
#![allow(
    clippy::expect_used,
    reason = "a build script that cannot read its input must stop the build and say where"
)]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs};

fn main() {
    let here =
        PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR"));
    let rules = here
        .join("../../rules")
        .canonicalize()
        .expect("the rules folder exists");
    println!("cargo::rerun-if-changed={}", rules.display());

    let mut table = String::from("&[\n");
    for folder in sorted(&rules) {
        if !folder.join("pack.toml").is_file() {
            continue;
        }
        let name = folder
            .file_name()
            .expect("a folder has a name")
            .to_string_lossy()
            .into_owned();
        let mut files = Vec::new();
        walk(&folder, "", &mut files);
        writeln!(table, "    ({name:?}, &[").expect("a String takes everything");
        for (file, path) in files {
            writeln!(
                table,
                "        ({file:?}, include_str!({:?})),",
                path.display().to_string()
            )
            .expect("a String takes everything");
        }
        table.push_str("    ]),\n");
    }
    table.push_str("]\n");
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::write(out.join("embedded.rs"), table).expect("OUT_DIR is writable");
}

/// Adds every `.toml` file of a folder and those below it, by its name as seen from the pack's folder.
fn walk(folder: &Path, prefix: &str, files: &mut Vec<(String, PathBuf)>) {
    for path in sorted(folder) {
        let name = path
            .file_name()
            .expect("an entry has a name")
            .to_string_lossy()
            .into_owned();
        if path.is_dir() {
            walk(&path, &format!("{prefix}{name}/"), files);
        } else if name.ends_with(".toml") {
            files.push((format!("{prefix}{name}"), path));
        }
    }
}

/// What a folder holds, in order of name.
fn sorted(folder: &Path) -> Vec<PathBuf> {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .expect("the folder is readable")
        .map(|entry| entry.expect("the entry is readable").path())
        .collect();
    entries.sort();
    entries
}

//! What the README shows is run.
//!
//! A fenced block marked `console` holds commands after `$ `, each with the output below it. Commands that start with
//! `rungwise` are run with the real binary from the top of the project; where output is shown, every line of it must be
//! printed, in that order. `…` on a line of its own stands for any lines; a `…` inside a line for any characters.

use super::binary::path;
use std::path::Path;
use std::process::Command;

/// One command of the README with the output it shows.
pub(super) struct Shown {
    pub(super) command: String,
    pub(super) output: Vec<String>,
}

pub(super) fn shown(readme: &str) -> Vec<Shown> {
    let mut all: Vec<Shown> = Vec::new();
    let mut inside = false;
    for line in readme.lines() {
        if line.starts_with("```") {
            inside = line == "```console";
        } else if inside {
            if let Some(command) = line.strip_prefix("$ ") {
                all.push(Shown {
                    command: command.to_owned(),
                    output: Vec::new(),
                });
            } else if let Some(last) = all.last_mut() {
                last.output.push(line.to_owned());
            }
        }
    }
    all
}

/// Whether a printed line is as shown: equal, or equal around each `…`.
fn is_as_shown(printed: &str, shown: &str) -> bool {
    let mut parts = shown.split('…');
    let Some(mut rest) = printed.strip_prefix(parts.next().unwrap_or_default()) else {
        return false;
    };
    let parts: Vec<&str> = parts.collect();
    let Some((last, between)) = parts.split_last() else {
        return rest.is_empty();
    };
    for part in between {
        let Some(at) = rest.find(part) else {
            return false;
        };
        rest = &rest[at + part.len()..];
    }
    rest.ends_with(last)
}

/// The first shown line that was not printed in its order.
pub(super) fn first_missing<'a>(printed: &str, shown: &'a [String]) -> Option<&'a str> {
    let mut printed = printed.lines();
    shown
        .iter()
        .filter(|line| line.trim() != "…" && !line.trim().is_empty())
        .find(|line| !printed.any(|have| is_as_shown(have.trim_end(), line.trim_end())))
        .map(String::as_str)
}

#[test]
fn every_command_of_the_readme_runs_and_prints_what_is_shown() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let readme = std::fs::read_to_string(top.join("README.md")).expect("README.md");
    let mut ran = 0;
    for shown in shown(&readme) {
        // What cargo would build is already built.
        let command = shown
            .command
            .replace("cargo run --release -- ", "rungwise ");
        let Some(args) = command.strip_prefix("rungwise ") else {
            continue;
        };
        if args.starts_with("serve") || args.starts_with("audit") {
            continue; // needs a server beside it; `tests/program/service.rs` shows both
        }
        let run = Command::new(path())
            .args(args.split_whitespace())
            .current_dir(top)
            .output()
            .expect("the binary starts");
        let printed = String::from_utf8(run.stdout).unwrap();
        assert!(
            run.status.success(),
            "`{}` ended with {}:\n{printed}",
            shown.command,
            run.status
        );
        assert_eq!(
            first_missing(&printed, &shown.output),
            None,
            "`{}` printed:\n{printed}",
            shown.command
        );
        ran += 1;
    }
    assert!(ran >= 2, "the README shows only {ran} commands");
}

#[test]
fn readme_canary() {
    let readme = "```console\n$ rungwise demo\na\n…\nb … d\n```\n";
    let shown = shown(readme);
    assert_eq!(shown[0].command, "rungwise demo");
    assert_eq!(first_missing("a\nx\nb c d\n", &shown[0].output), None);
    assert_eq!(first_missing("a\nx\n", &shown[0].output), Some("b … d"));
    assert_eq!(first_missing("b c d\na\n", &shown[0].output), Some("b … d"));
}

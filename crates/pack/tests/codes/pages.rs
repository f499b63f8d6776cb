//! Each code's page: what it means, written by hand; and below it, written by this test, what is refused and what is
//! accepted, both of which are run.

use crate::{Case, cases, edited, looked_at, with_cases};
use rungwise_pack::diagnostic::{Code, Style, render};
use rungwise_pack::source::{SourceFile, SourceFiles};
use std::fmt::Write as _;
use std::path::Path;

/// What parts the meaning from the examples.
const REFUSED: &str = "\nRefused:\n\n";
/// Most lines of an accepted example that are shown.
const LINES_MAX: usize = 8;

#[test]
fn each_page_says_what_its_code_means_and_shows_what_is_refused_and_accepted() {
    let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/diagnostic/pages");
    let update = std::env::var_os("UPDATE_GOLDEN").is_some();
    let cases = cases();
    let mut wrong = Vec::new();
    for code in with_cases() {
        let path = directory.join(format!("{}.txt", code.id()));
        let stands = std::fs::read_to_string(&path).unwrap_or_default();
        let meaning = stands.split(REFUSED).next().unwrap_or_default();
        assert!(
            meaning.len() > 60 && meaning.trim_end().ends_with('.'),
            "{}: the page begins with what the code means, in sentences",
            path.display()
        );
        // The shortest example is the clearest.
        let of_code = cases.iter().filter(|case| case.code == *code);
        let examples = of_code.map(examples).min_by_key(String::len);
        let examples = examples.expect("each code has a case");
        let page = format!("{}\n{examples}", meaning.trim_end());
        if update {
            // What is compiled in stays what stood there when this was built.
            std::fs::write(&path, &page).expect("the directory of pages");
        } else if code.page() != page {
            wrong.push(format!("{}\n{page}", path.display()));
        }
    }
    assert!(
        wrong.is_empty(),
        "not the page (UPDATE_GOLDEN=1 writes it anew):\n{}",
        wrong.join("\n")
    );
}

fn examples(case: &Case) -> String {
    let (bad, good) = (edited(&case.edits), edited(&case.twin));
    let (refused, _) = looked_at(case.code, &bad);
    let own: Vec<_> = refused
        .into_iter()
        .filter(|found| found.code == case.code)
        .collect();
    assert!(!own.is_empty(), "{} does not fire", case.code.id());
    let (passed, sound) = looked_at(case.code, &good);
    assert!(
        sound && passed.is_empty(),
        "the accepted example of {} is not",
        case.code.id()
    );
    let mut text = format!("{REFUSED}{}", render(&bad, &own, Style::Plain));
    text.push_str("\nAccepted:\n\n");
    for name in names(&bad, &good) {
        match (bad.get(&name), good.get(&name)) {
            (Some(bad), Some(good)) if bad.text != good.text => text.push_str(&lines(bad, good)),
            (Some(_), None) => {
                let _ = writeln!(text, "{name}: not in the pack");
            }
            (None, Some(_)) => {
                let _ = writeln!(text, "{name}: in the pack");
            }
            _ => {}
        }
    }
    if case.code == Code::FileTwice {
        text.push_str("each file once\n");
    }
    text
}

fn names(bad: &SourceFiles, good: &SourceFiles) -> Vec<String> {
    let all = bad.files().iter().chain(good.files());
    let mut names: Vec<String> = all.map(|file| file.name.clone()).collect();
    names.sort();
    names.dedup();
    names
}

/// The lines of the accepted file that are not those of the refused one.
fn lines(bad: &SourceFile, good: &SourceFile) -> String {
    let (bad_lines, good_lines): (Vec<&str>, Vec<&str>) =
        (bad.text.lines().collect(), good.text.lines().collect());
    let both = bad_lines.iter().zip(&good_lines);
    let before = both.take_while(|(a, b)| a == b).count();
    let after = bad_lines
        .iter()
        .rev()
        .zip(good_lines.iter().rev())
        .take(bad_lines.len().min(good_lines.len()) - before)
        .take_while(|(a, b)| a == b)
        .count();
    let kept: Vec<_> = good_lines
        .iter()
        .enumerate()
        .take(good_lines.len() - after)
        .skip(before)
        .collect();
    let mut text = format!(" --> {}:{}\n", good.name, before + 1);
    if kept.is_empty() {
        text.push_str("  |\n  | without the lines above\n");
        return text;
    }
    let width = (before + kept.len()).to_string().len();
    let _ = writeln!(text, "{:width$} |", "");
    for (at, line) in kept.iter().take(LINES_MAX) {
        let _ = writeln!(text, "{:>width$} | {line}", at + 1);
    }
    if kept.len() > LINES_MAX {
        let _ = writeln!(text, "{:width$} | …", "");
    }
    text
}

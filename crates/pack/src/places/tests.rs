//! Proves that each number of the small pack is found where its digits stand, with its neighbours.
#![allow(
    clippy::disallowed_methods,
    reason = "the small pack is a fixture on the disk"
)]

use super::*;
use std::path::Path;

fn small() -> SourceFiles {
    let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests-data/small");
    let names = [
        "pack.toml",
        "measures.toml",
        "screening.toml",
        "phases.toml",
        "exercises.toml",
        "text/en.toml",
    ];
    let files = names.map(|name| {
        let text = std::fs::read_to_string(directory.join(name)).unwrap();
        (name.to_owned(), text)
    });
    SourceFiles::new(files.to_vec())
}

/// The numbers of a discharge rule that has this criterion, each as `digits: lower | value | higher`.
fn check(when: &str, expected: &[&str]) {
    let files = small();
    let from = files.get("phases.toml").unwrap();
    let start = from.text.rfind("when = ").unwrap();
    let end = start + from.text[start..].find('\n').unwrap();
    let files = files
        .edited("phases.toml", start..end, &format!("when = {when}"))
        .unwrap();
    let checked = crate::check(&files);
    assert!(checked.pack.is_some(), "{:#?}", checked.diagnostics);
    let phases = files.get("phases.toml").unwrap();
    let ours = checked.places.numbers.iter().filter(|number| {
        number.place.file == "phases.toml"
            && (start..start + when.len() + 7).contains(&number.place.start)
    });
    let said: Vec<String> = ours
        .map(|number| {
            let digits = &phases.text[number.place.start..number.place.end];
            let say =
                |one: Option<Milli>| one.map_or_else(|| "none".to_owned(), |one| one.to_string());
            format!(
                "{digits}: {} | {} | {}",
                say(number.lower),
                number.value,
                say(number.higher)
            )
        })
        .collect();
    assert_eq!(said, expected, "{when}");
}

#[test]
fn numbers_of_a_sentence_are_found_with_their_neighbours() {
    check(
        r#""at least 1 exercises have reached reps 12""#,
        &["1: none | 1 | 2", "12: 10 | 12 | 15"],
    );
    check(
        r#"["rest pain at most 3", "sessions in this phase at least 6"]"#,
        &["3: 2 | 3 | 4", "6: 5 | 6 | 7"],
    );
    check(
        r#""pain during exercise at most 3 in at least 2  of the last 4 sessions""#,
        &["3: 2 | 3 | 4", "2: 1 | 2 | 3", "4: 3 | 4 | 5"],
    );
}

/// Of 14 days with a session each, one session is 7.143 %; weeks are whole.
#[test]
fn what_is_worked_out_moves_by_what_can_come_about() {
    check(
        r#"["share done at least 80 %", "weeks since surgery at least 12"]"#,
        &["80: 72.857 | 80 | 87.143", "12: 11 | 12 | 13"],
    );
}

#[test]
fn a_string_with_escapes_is_listed_and_not_pointed_into() {
    let files = small();
    let phases = files.get("phases.toml").unwrap();
    let start = phases.text.rfind("rest pain at most").map(|at| at + 4);
    let Some(start) = start else {
        panic!("the small pack's discharge says nothing of pain at rest")
    };
    let files = files
        .edited("phases.toml", start..start + 1, "\\u0020")
        .unwrap();
    let checked = crate::check(&files);
    assert!(checked.pack.is_some(), "{:#?}", checked.diagnostics);
    assert_eq!(checked.places.escaped.len(), 1);
}

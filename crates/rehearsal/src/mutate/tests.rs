//! Proves that a number is pinned by a diary that its step changes, and loose without one.

use super::*;
use crate::diary::read;
use crate::read::tests::{files, pack};

const HEAD: &str = "diary = \"x\"\nabout = \"Invented: for a test.\"\nopened = \"2026-01-05\"\n\
    [usual]\nsession = { before = 0 }\nexercise = { pain = 0 }\nmorning_after = { ache = 0 }\n\
    [[day]]\ndate = \"2026-01-05\"\nscreening = { fever = \"no\" }\nassessment = { reach = 80 }\nask = true\n";

/// The numbers of a rule that no diary of these notices: `value: steps`.
fn loose(sentence: &str, courses: &[&str]) -> Vec<String> {
    let (files, pack) = (files(), pack());
    let places = rungwise_pack::check(&files).places;
    let diaries: Vec<Diary> = courses
        .iter()
        .map(|rest| read(&pack, "x.toml", &format!("{HEAD}{rest}")).unwrap())
        .collect();
    let trial = Trial::new(&files, &pack, &diaries);
    let fates = nudges(&places).map(|nudge| trial.fate(&nudge));
    let tried = by_number(&places, fates);
    let ours = tried.iter().filter(|one| {
        matches!(one.number.of, rungwise_pack::places::NumberOf::Sentence(ix)
            if pack.sentences[ix.at()].text == sentence)
    });
    let ours: Vec<&Tried<'_>> = ours.collect();
    assert!(!ours.is_empty(), "no number of `{sentence}`");
    ours.iter()
        .filter(|one| !one.is_pinned())
        .map(|one| {
            let steps: Vec<String> = one.unnoticed().map(|to| to.to_string()).collect();
            format!("{}: {}", one.number.value, steps.join(", "))
        })
        .collect()
}

const SENTENCE: &str = "reach at least 100 deg";

#[test]
fn a_number_is_pinned_by_values_on_both_its_sides() {
    let at = asked_with(100, "expect = { outcome = \"PROGRESS\" }");
    let below = asked_with(99, "expect = { outcome = \"CONTINUE\" }");
    assert_eq!(loose(SENTENCE, &[""]), ["100: 99, 101"]);
    assert_eq!(loose(SENTENCE, &[&at]), ["100: 99"]);
    assert_eq!(loose(SENTENCE, &[&below]), ["100: 101"]);
    assert_eq!(loose(SENTENCE, &[&at, &below]), Vec::<String>::new());
}

#[test]
fn what_a_diary_does_not_name_it_does_not_notice() {
    let at = asked_with(100, "expect = { because = [] }");
    let below = asked_with(99, "ask = true");
    assert_eq!(loose(SENTENCE, &[&at, &below]), ["100: 99, 101"]);
}

/// A session, and on the day after it an assessment and an ask.
fn asked_with(reach: u32, ask: &str) -> String {
    format!(
        "[[day]]\ndate = \"2026-01-06\"\nsession = [{{ next_morning = {{}} }}]\n[[day]]\ndate = \"2026-01-07\"\nassessment = {{ reach = {reach} }}\n{ask}\n"
    )
}

#[test]
fn a_step_that_the_checker_refuses_counts_neither_way() {
    let (files, pack) = (files(), pack());
    let mut number = rungwise_pack::check(&files).places.numbers[0].clone();
    number.lower = Some(Milli::whole(-1));
    let trial = Trial::new(&files, &pack, []);
    let nudge = Nudge {
        number: &number,
        to: Milli::whole(-1),
    };
    assert_eq!(trial.fate(&nudge), Fate::Refused);
    let tried = Tried {
        number: &number,
        steps: vec![(Milli::whole(-1), Fate::Refused)],
    };
    assert!(!tried.is_movable() && !tried.is_pinned());
}

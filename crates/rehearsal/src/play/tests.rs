//! Proves that a course is played as a server would take it, and that what differs is said in words.

use super::*;
use crate::diary::read;
use crate::read::tests::pack;
use rungwise_engine::decision::Move;
use rungwise_pack::model::Outcome;

const HEAD: &str = "diary = \"x\"\nabout = \"Invented: for a test.\"\nopened = \"2026-01-05\"\n\
    [usual]\nsession = { before = 0 }\nexercise = { pain = 0 }\nmorning_after = { ache = 0 }\n\
    [[day]]\ndate = \"2026-01-05\"\nscreening = { fever = \"no\" }\nassessment = { reach = 80 }\n";

fn played(rest: &str) -> Played {
    let pack = pack();
    let text = format!("{HEAD}{rest}");
    let diary = read(&pack, "x.toml", &text).unwrap_or_else(|found| panic!("{found:?}"));
    play(&pack, &diary)
}

fn said(played: &Played) -> Vec<String> {
    let differences = played.asked.iter().flat_map(|asked| {
        asked
            .differences
            .iter()
            .map(|difference| format!("{}:{} {difference}", asked.line, asked.date))
    });
    let refused = played
        .refused
        .iter()
        .map(|refused| format!("{}:{} {:?}", refused.line, refused.date, refused.why));
    differences.chain(refused).collect()
}

#[test]
fn what_is_expected_and_happens_is_no_difference() {
    let played = played(
        "expect = { outcome = \"BEGIN\", phase = \"first\", moves = { lift = \"INTRODUCE\" }, places = { lift = \"hold-still\" }, doses = { hold-still = { \"hold time\" = 5 } }, absent = [\"push\"] }\n\
         [[day]]\ndate = \"2026-01-06\"\nsession = [{}]\nexpect = { outcome = \"CONTINUE\", moves = { lift = \"CLIMB\" }, because = [\"hold-still-climb\"], doses = { hold-still = { \"hold time\" = 10 } } }\n",
    );
    assert_eq!(said(&played), Vec::<String>::new());
    assert!(played.agrees());
}

#[test]
fn what_differs_is_said_with_what_was_decided() {
    let played = played(
        "expect = { outcome = \"AWAIT\", phase = \"last\", moves = { lift = \"KEEP\" }, places = { lift = \"push\" }, doses = { hold-still = { \"hold time\" = 10 } }, because = [\"fever\"], absent = [\"hold-still\"] }\n",
    );
    let wanted = [
        "8:2026-01-05 outcome: expected AWAIT, got BEGIN",
        "8:2026-01-05 phase: expected last, got first",
        "8:2026-01-05 move of lift: expected KEEP, got INTRODUCE",
        "8:2026-01-05 place on lift: expected push, got hold-still",
        "8:2026-01-05 hold time of hold-still: expected 10, got 5",
        "8:2026-01-05 prescription of hold-still: expected nothing, got prescribed",
        "8:2026-01-05 because: expected fever, got nothing",
    ];
    assert_eq!(said(&played), wanted);
    assert!(!played.agrees());
}

#[test]
fn the_reviews_asked_for_are_those_named_and_no_other() {
    let course = |reach: u32, reviews: &str| {
        said(&played(&format!(
            "ask = true\n[[day]]\ndate = \"2026-01-06\"\nassessment = {{ reach = {reach} }}\nexpect = {{ reviews = {reviews} }}\n"
        )))
    };
    assert_eq!(course(59, "[\"looked-at\"]"), Vec::<String>::new());
    assert_eq!(course(60, "[]"), Vec::<String>::new());
    assert_eq!(
        course(59, "[]"),
        ["13:2026-01-06 reviews: expected nothing, got looked-at"]
    );
    assert_eq!(
        course(60, "[\"looked-at\"]"),
        ["13:2026-01-06 reviews: expected looked-at, got nothing"]
    );
}

#[test]
fn asked_again_with_nothing_new_the_decision_stands() {
    let played =
        played("ask = true\n[[day]]\ndate = \"2026-01-05\"\nexpect = { outcome = \"BEGIN\" }\n");
    let numbers: Vec<(u32, bool)> = played
        .asked
        .iter()
        .map(|asked| (asked.number.0, asked.again))
        .collect();
    assert_eq!(numbers, [(0, false), (0, true)]);
    assert_eq!(played.history.decisions().count(), 1);
}

#[test]
fn an_answer_to_no_proposal_is_refused_and_the_course_goes_on() {
    let played = played(
        "ask = true\n[[day]]\ndate = \"2026-01-06\"\nsign_off = { accepted = true, who = \"an invented clinician\" }\nsession = [{}]\nask = true\n",
    );
    assert_eq!(said(&played), ["13:2026-01-06 NothingProposed"]);
    assert!(!played.agrees());
    assert_eq!(played.asked.len(), 2);
}

#[test]
fn a_course_may_be_played_by_hand() {
    let pack = pack();
    let text = format!("{HEAD}ask = true\n");
    let diary = read(&pack, "x.toml", &text).unwrap();
    let mut player = Player::new(&pack, diary.episode.clone());
    let step = &diary.steps[0];
    for entry in &step.entries {
        player.report(step.date, entry).unwrap();
    }
    let (number, again) = player.ask(step.date).unwrap();
    let (_, decision) = player.history().decision(number).unwrap();
    assert_eq!((decision.outcome, again), (Outcome::Begin, false));
    assert_eq!(decision.moves[0].mv, Move::Introduce);
    let earlier = step.date.checked_sub(jiff::ToSpan::day(1)).unwrap();
    assert!(player.ask(earlier).is_err());
}

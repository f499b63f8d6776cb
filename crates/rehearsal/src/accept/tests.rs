//! Proves that accepted expectations are what was decided, that comments and layout stay, and what is left alone.

use super::*;
use crate::diary::read;
use crate::play;
use crate::read::tests::pack;

const HEAD: &str = "# Kept: the head.\ndiary = \"x\"\nabout = \"Invented: for a test.\"\nopened = \"2026-01-05\"\n\
    [usual]\nsession = { before = 0 }\nexercise = { pain = 0 }\nmorning_after = { ache = 0 }\n\
    [[day]]\ndate = \"2026-01-05\"\nscreening = { fever = \"no\" }\nassessment = { reach = 80 }\n";

/// Accepts a diary whose first day ends so; `expected` is the end of the accepted text.
fn check(rest: &str, expected: &str, left: &[(usize, WhyLeft)]) {
    let pack = pack();
    let text = format!("{HEAD}{rest}");
    let played = play(&pack, &read(&pack, "x.toml", &text).unwrap());
    let accepted = accept(&text, &played).unwrap();
    assert_eq!(accepted.text, format!("{HEAD}{expected}"));
    let got: Vec<(usize, WhyLeft)> = accepted
        .left
        .iter()
        .map(|one| (one.line, one.why))
        .collect();
    assert_eq!(got, left);
    if left.is_empty() {
        let again = play(&pack, &read(&pack, "x.toml", &accepted.text).unwrap());
        assert!(again.agrees(), "{again:?}");
    }
}

#[test]
fn what_was_decided_is_written_with_the_comments_around_it() {
    check(
        "# Why this is expected.\nexpect = { outcome = \"AWAIT\",  phase = \"last\", moves = { lift = \"KEEP\" }, places = { lift = \"push\" }, doses = { hold-still = { \"hold time\" = 10 } } } # kept\n",
        "# Why this is expected.\nexpect = { outcome = \"BEGIN\",  phase = \"first\", moves = { lift = \"INTRODUCE\" }, places = { lift = \"hold-still\" }, doses = { hold-still = { \"hold time\" = 5 } } } # kept\n",
        &[],
    );
}

#[test]
fn what_did_not_happen_is_taken_out() {
    check(
        "expect = { outcome = \"BEGIN\", doses = { push = { reps = 8 } }, because = [\"fever\"], absent = [\"hold-still\", \"push\"] }\n",
        "expect = { outcome = \"BEGIN\", absent = [\"push\"] }\n",
        &[],
    );
}

#[test]
fn the_reviews_asked_for_are_written_whole() {
    let day = |reviews: &str| {
        format!(
            "ask = true\n[[day]]\ndate = \"2026-01-06\"\nassessment = {{ reach = 59 }}\nexpect = {{ reviews = {reviews} }} # kept\n"
        )
    };
    check(&day("[]"), &day("[\"looked-at\"]"), &[]);
}

#[test]
fn a_table_of_its_own_is_rewritten_too() {
    check(
        "[day.expect]\n# Kept.\noutcome = \"AWAIT\" # kept too\n",
        "[day.expect]\n# Kept.\noutcome = \"BEGIN\" # kept too\n",
        &[],
    );
}

#[test]
fn what_is_as_expected_stays_to_the_byte() {
    let rest = "expect   = { outcome=\"BEGIN\" }\n";
    check(rest, rest, &[]);
}

#[test]
fn a_repeated_day_and_a_course_that_was_refused_are_left() {
    let repeated = "ask = true\n[[day]]\ndate = \"2026-01-06\"\nuntil = \"2026-01-07\"\nsession = [{}]\nexpect = { outcome = \"AWAIT\" }\n";
    check(repeated, repeated, &[(14, WhyLeft::Repeated)]);
    let refused = "expect = { outcome = \"AWAIT\" }\n[[day]]\ndate = \"2026-01-06\"\nsign_off = { accepted = true, who = \"an invented clinician\" }\n";
    check(refused, refused, &[(9, WhyLeft::Refused)]);
}

//! Corrections and discharge.

use super::course::*;
use crate::decision::{Cause, Move, Wanted};
use crate::fact::Order;
use rungwise_pack::model::Outcome;

const CALM: [&str; 2] = ["turn-hold", "lift-low"];

#[test]
fn rule_10_a_correction_under_a_climb_holds_until_confirmed() {
    let mut course = Course::begun(&[]);
    let wrong = course.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    course.morning(1, 1);
    assert_eq!(moved(&course.ask(2), "lift"), Some(Move::Climb));
    let right = by_patient(1, session(1, &[("turn-hold", 1), ("lift-low", 4)]));
    let at = course.correct(3, wrong, Some(right));
    let held = course.asks(3, Outcome::Hold);
    assert_eq!(held.because, [Cause::Corrected(at)]);
    assert!(
        held.asks
            .iter()
            .any(|ask| ask.what == Wanted::Confirmation(at))
    );
    course.asks(4, Outcome::Hold);
    course.order(5, None, Order::Confirm);
    course.asks(5, Outcome::Continue);
}

#[test]
fn rule_10_a_correction_that_changes_no_move_holds_nothing() {
    let mut course = Course::begun(&[]);
    let wrong = course.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    course.morning(1, 1);
    course.ask(2);
    let right = by_patient(1, session(1, &[("turn-hold", 1), ("lift-low", 2)]));
    course.correct(3, wrong, Some(right));
    course.asks(3, Outcome::Continue);
}

#[test]
fn rule_10_a_corrected_session_over_its_limit_still_eases_once() {
    let mut course = Course::begun(&[]);
    let wrong = course.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    course.morning(1, 1);
    course.ask(2);
    let right = by_patient(1, session(1, &[("turn-hold", 1), ("lift-low", 7)]));
    course.correct(3, wrong, Some(right));
    assert_eq!(moved(&course.ask(3), "lift"), Some(Move::Ease));
    assert_eq!(moved(&course.ask(4), "lift"), Some(Move::Keep));
}

#[test]
fn rule_10_a_fact_corrected_that_was_over_before_does_not_ease_again() {
    let mut course = Course::begun(&[]);
    let wrong = course.session(1, 1, &[("turn-hold", 7), ("lift-low", 1)]);
    assert_eq!(moved(&course.ask(1), "turn"), Some(Move::Ease));
    let right = by_patient(1, session(1, &[("turn-hold", 8), ("lift-low", 1)]));
    course.correct(2, wrong, Some(right));
    assert_eq!(moved(&course.ask(2), "turn"), Some(Move::Keep));
}

#[test]
fn rule_10_a_void_fact_is_gone() {
    let mut course = Course::begun(&[]);
    let wrong = course.session(1, 1, &[("turn-hold", 7), ("lift-low", 1)]);
    course.correct(1, wrong, None);
    assert_eq!(moved(&course.ask(1), "turn"), Some(Move::Keep));
    assert!(course.history.index().sessions.is_empty());
}

/// In the last phase since day 0.
fn last_phase() -> Course {
    let mut course = Course::new(&[]);
    course.screen(0, "no", "no");
    course.assess(0, 175);
    course.asks(0, Outcome::Begin);
    course
}

const FULL: [&str; 3] = ["turn-band", "lift-high", "pull-near"];

#[test]
fn rule_11_discharge_stands_and_only_a_referral_follows_it() {
    let mut course = last_phase();
    course.good(1, &FULL);
    course.asks(2, Outcome::Continue);
    course.good(3, &FULL);
    let out = course.asks(4, Outcome::Discharge);
    assert!(out.state.discharged);
    assert!(out.moves.iter().all(|one| one.mv == Move::Keep));
    assert_eq!(out.because, [Cause::Met("full-discharge".into())]);
    course.session(
        5,
        9,
        &[("turn-band", 9), ("lift-high", 9), ("pull-near", 9)],
    );
    let stands = course.asks(30, Outcome::Discharge);
    assert_eq!(stands.because, [Cause::Discharged]);
    course.screen(31, "yes", "no");
    course.asks(31, Outcome::Refer);
}

#[test]
fn rule_11_discharge_needs_a_counted_session_that_says_all() {
    let mut course = last_phase();
    course.session(
        1,
        1,
        &[("turn-band", 1), ("lift-high", 1), ("pull-near", 1)],
    );
    course.session(
        2,
        1,
        &[("turn-band", 1), ("lift-high", 1), ("pull-near", 1)],
    );
    let silent = course.asks(3, Outcome::Continue);
    let missing = Cause::LimitValueMissing("ache next morning".into());
    assert!(silent.because.contains(&missing));
    course.morning(2, 1);
    course.asks(3, Outcome::Discharge);
}

#[test]
fn rule_11_a_perfect_course_comes_from_begin_to_discharge() {
    let mut course = Course::begun(&[]);
    let mut outcomes = Vec::new();
    for on in 1..30 {
        let standing = course.history.last_decision().unwrap().2.clone();
        let places = exercises(&standing);
        course.good(on, &places);
        if on == 5 {
            course.assess(on, 150);
        }
        let decision = course.ask(on + 1);
        outcomes.push(decision.outcome);
        if decision.outcome == Outcome::Discharge {
            break;
        }
    }
    assert_eq!(outcomes.last(), Some(&Outcome::Discharge), "{outcomes:?}");
    assert_eq!(CALM.len(), 2);
}

//! Lay-off, directives, sign-off.

use super::course::*;
use crate::decide::in_force;
use crate::decision::{Cause, Move, Wanted};
use crate::fact::{DecisionNo, Equipment, FactKind, Order};
use rungwise_pack::model::{Outcome, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

const CALM: [&str; 2] = ["turn-hold", "lift-low"];

#[test]
fn rule_7_a_gap_eases_what_its_length_gives_over_all_decisions() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.ask(2);
    course.asks(5, Outcome::Continue);
    // The first row holds and eases nothing.
    let first = course.asks(6, Outcome::Hold);
    assert_eq!(first.because, [Cause::LayOff { days: 5 }]);
    assert!(first.moves.iter().all(|one| one.mv == Move::Keep));
    assert_eq!(first.state.stay, Some((DecisionNo(3), day(6))));
    course.asks(7, Outcome::Continue);
    let second = course.asks(11, Outcome::Hold);
    assert_eq!(moved(&second, "turn"), Some(Move::Ease));
    assert_eq!(moved(&second, "lift"), Some(Move::Ease));
    course.asks(12, Outcome::Continue);
    // The session that ends the gap finds it acted on.
    course.good(13, &CALM);
    let after = course.asks(14, Outcome::Continue);
    assert_eq!(moved(&after, "turn"), Some(Move::Climb));
}

#[test]
fn rule_7_a_gap_that_nobody_asked_in_acts_when_it_has_ended() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.ask(2);
    course.good(12, &CALM);
    let late = course.asks(13, Outcome::Hold);
    assert_eq!(moved(&late, "turn"), Some(Move::Ease));
}

#[test]
fn rule_7_before_any_session_the_gap_counts_from_the_first_prescription() {
    let mut course = Course::begun(&[]);
    course.asks(4, Outcome::Continue);
    course.asks(5, Outcome::Hold);
}

#[test]
fn rule_8_hold_keeps_and_expires() {
    let mut course = Course::begun(&[]);
    let at = course.order(1, Some(2), Order::Hold);
    course.good(1, &CALM);
    let held = course.asks(2, Outcome::Hold);
    assert_eq!(held.because, [Cause::Directive(at)]);
    assert_eq!(held.next_review, day(3));
    // Only an expiring directive may raise by time alone.
    let after = course.asks(3, Outcome::Continue);
    assert_eq!(moved(&after, "turn"), Some(Move::Climb));
}

#[test]
fn rule_8_a_climb_that_would_break_a_cap_is_kept() {
    let mut course = Course::begun(&[]);
    let at = course.order(
        0,
        None,
        Order::Cap {
            exercise: Some("lift-low".into()),
            variable: Variable::Reps,
            at_most: RowValue::Number(Milli::whole(7)),
        },
    );
    course.good(1, &CALM);
    let decision = course.ask(2);
    assert_eq!(decision.moves[1].because, [Cause::Directive(at)]);
    course.order(2, None, Order::Withdraw { directive: at });
    assert_eq!(moved(&course.ask(2), "lift"), Some(Move::Climb));
}

#[test]
fn rule_8_pause_holds_and_keeps_the_places() {
    let mut course = Course::begun(&[]);
    course.order(1, None, Order::Pause);
    let paused = course.asks(1, Outcome::Hold);
    assert_eq!(paused.state.places.len(), 2);
    assert!(in_force(&course.pack, &course.history, day(1)).paused);
}

#[test]
fn rule_8_place_moves_and_starts_a_stay() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.ask(2);
    let reps = vec![(Variable::Reps, RowValue::Number(Milli::whole(12)))];
    let places = vec![("lift-low".into(), reps)];
    let phase_key = "move".into();
    let at = course.order(
        3,
        None,
        Order::Place {
            phase: phase_key,
            places,
        },
    );
    let standing = in_force(&course.pack, &course.history, day(3));
    assert_eq!(standing.state.phase.as_deref(), Some("move"));
    let placed = course.asks(3, Outcome::Continue);
    assert_eq!(phase(&placed), "move");
    assert_eq!(rung(&placed, "lift-low", Variable::Reps), Some(12));
    assert_eq!(moved(&placed, "lift"), Some(Move::Keep));
    let lift = placed
        .moves
        .iter()
        .find(|one| &*one.line == "lift")
        .unwrap();
    assert!(lift.because.contains(&Cause::Directive(at)));
    assert_eq!(moved(&placed, "turn"), Some(Move::Introduce));
    assert_eq!(placed.state.stay.map(|(_, date)| date), Some(day(3)));
    // It acts once.
    let next = course.asks(4, Outcome::Continue);
    assert_eq!(next.state.stay, placed.state.stay);
}

#[test]
fn rule_8_discharge_and_reopen() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.order(2, None, Order::Discharge);
    let out = course.asks(2, Outcome::Discharge);
    assert!(out.state.discharged);
    course.good(3, &CALM);
    course.asks(4, Outcome::Discharge);
    course.order(5, None, Order::Reopen);
    let back = course.asks(5, Outcome::Continue);
    assert!(!back.state.discharged);
    assert_eq!(back.state.stay.map(|(_, date)| date), Some(day(5)));
    course.asks(6, Outcome::Continue);
}

#[test]
fn rule_8_leaving_out_keeps_the_place_and_bars_the_climb() {
    let mut course = Course::begun(&[]);
    let exercise = "lift-low".into();
    let at = course.order(0, None, Order::LeaveOut { exercise });
    course.good(1, &CALM);
    let decision = course.ask(2);
    assert_eq!(decision.moves[1].because, [Cause::Directive(at)]);
    assert_eq!(decision.state.places.len(), 2);
}

const SIGNED: (&str, &str) = (
    "sign_off = []",
    "sign_off = [\"BEGIN\", \"PROGRESS\", \"DISCHARGE\"]",
);

#[test]
fn rule_9_begin_waits_for_its_sign_off() {
    let mut course = Course::new(&[SIGNED]);
    course.screen(0, "no", "no");
    let proposed = course.asks(0, Outcome::Begin);
    assert!(proposed.proposed && proposed.prescribes);
    assert!(proposed.state.places.is_empty());
    assert_eq!(proposed.if_accepted.as_ref().unwrap().places.len(), 2);
    assert!(proposed.asks.iter().any(|ask| ask.what == Wanted::SignOff));
    // A session before the acceptance followed nothing.
    course.good(0, &CALM);
    course.sign(1, 0, true);
    let standing = in_force(&course.pack, &course.history, day(1)).state;
    assert_eq!(standing.places.len(), 2);
    let kept = course.asks(1, Outcome::Continue);
    assert!(kept.moves.iter().all(|one| one.mv == Move::Keep));
    course.good(2, &CALM);
    assert_eq!(moved(&course.ask(3), "turn"), Some(Move::Climb));
}

/// Begun and accepted on day 0, with a PROGRESS proposed on day 4 as decision 1.
fn progress_proposed() -> Course {
    let mut course = Course::new(&[SIGNED]);
    course.screen(0, "no", "no");
    course.assess(0, 100);
    course.ask(0);
    course.sign(0, 0, true);
    for on in [1, 2, 3] {
        course.good(on, &CALM);
    }
    let proposed = course.asks(4, Outcome::Progress);
    assert!(proposed.proposed);
    assert_eq!(phase(&proposed), "calm");
    assert_eq!(exercises(&proposed), CALM);
    course
}

#[test]
fn rule_9_a_proposal_accepted_is_in_force() {
    let mut course = progress_proposed();
    course.sign(5, 1, true);
    let next = course.asks(5, Outcome::Continue);
    assert_eq!(phase(&next), "move");
    assert_eq!(exercises(&next), ["turn-band", "lift-low", "pull-near"]);
}

#[test]
fn rule_9_a_proposal_lapses_when_a_line_is_lowered() {
    let mut course = progress_proposed();
    course.session(5, 1, &[("turn-hold", 7), ("lift-low", 1)]);
    let eased = course.ask(5);
    assert_eq!(moved(&eased, "turn"), Some(Move::Ease));
    course.sign(6, 1, true);
    let standing = in_force(&course.pack, &course.history, day(6)).state;
    assert_eq!(standing.phase.as_deref(), Some("calm"));
}

#[test]
fn rule_9_asking_again_proposes_again_and_does_not_lapse() {
    let mut course = progress_proposed();
    let again = course.asks(5, Outcome::Progress);
    assert!(again.proposed);
    course.sign(5, 1, true);
    assert_eq!(phase(&course.asks(5, Outcome::Continue)), "move");
}

#[test]
fn rule_9_cautious_moves_of_a_proposal_act_at_once() {
    let mut course = Course::new(&[SIGNED]);
    course.screen(0, "no", "no");
    course.assess(0, 100);
    course.ask(0);
    course.sign(0, 0, true);
    for on in [1, 2] {
        course.good(on, &CALM);
    }
    let pains = [("turn-hold", 1), ("lift-low", 1)];
    course.session(3, 1, &pains);
    course.morning(3, 4);
    let proposed = course.asks(4, Outcome::Progress);
    assert!(proposed.proposed);
    assert_eq!(moved(&proposed, "turn"), Some(Move::Ease));
    assert_eq!(relief(&proposed, "turn-hold"), [Variable::HoldTime]);
    assert_eq!(phase(&proposed), "calm");
}

#[test]
fn rule_9_a_session_while_a_proposal_waits_does_not_count_in_the_next_phase() {
    let mut course = progress_proposed();
    for on in [5, 6] {
        course.good(on, &CALM);
    }
    course.assess(6, 130);
    course.sign(7, 1, true);
    let next = course.asks(7, Outcome::Continue);
    assert_eq!(phase(&next), "move");
}

#[test]
fn rule_8_a_new_baseline_and_an_event_are_facts_and_move_nothing() {
    let mut course = Course::begun(&[]);
    course.order(1, None, Order::NewBaseline);
    course.fact(1, FactKind::Equipment(Equipment::default()));
    let decision = course.asks(1, Outcome::Continue);
    assert!(decision.moves.iter().all(|one| one.mv == Move::Keep));
}

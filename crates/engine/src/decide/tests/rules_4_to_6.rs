//! Refer; back, forward, return; bounds.

use super::course::*;
use crate::decision::{Cause, Move, Wanted};
use crate::fact::{DecisionNo, Done, FactKind, Order};
use rungwise_pack::model::Outcome;
use rungwise_pack::quantity::Variable;

const CALM: [&str; 2] = ["turn-hold", "lift-low"];
const MOVE: [&str; 3] = ["turn-band", "lift-low", "pull-near"];

/// In the second phase since day 4.
fn moving(changes: &[(&str, &str)]) -> Course {
    let mut course = Course::begun(changes);
    for on in [1, 2, 3] {
        course.good(on, &CALM);
    }
    course.asks(4, Outcome::Progress);
    course
}

fn clear(course: &mut Course, on: i64, rule: &str) {
    let rules = vec![rule.into()];
    course.order(on, None, Order::Clear { rules });
}

#[test]
fn rule_4_a_refer_rule_that_stops_empties_the_prescription_until_cleared() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.screen(2, "yes", "no");
    let stopped = course.asks(2, Outcome::Refer);
    assert!(stopped.prescribes);
    assert!(stopped.state.places.is_empty());
    assert!(stopped.state.withdrawals.is_empty());
    assert_eq!(stopped.state.latched, ["fever-refers".into()]);
    // A better answer does not unlatch.
    course.screen(3, "no", "no");
    let still = course.asks(3, Outcome::Refer);
    assert_eq!(still.because, [Cause::Latched("fever-refers".into())]);
    clear(&mut course, 4, "fever-refers");
    let back = course.asks(4, Outcome::Continue);
    assert_eq!(moved(&back, "turn"), Some(Move::Return));
    assert_eq!(moved(&back, "lift"), Some(Move::Return));
    assert!(back.state.latched.is_empty());
}

#[test]
fn rule_4_one_that_keeps_exercise_holds_the_lines() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.screen(2, "no", "yes");
    let kept = course.asks(2, Outcome::Refer);
    assert!(kept.moves.iter().all(|one| one.mv == Move::Keep));
    assert_eq!(kept.state.places.len(), 2);
}

#[test]
fn rule_4_values_from_before_the_clearance_read_as_not_met_and_later_ones_afresh() {
    let mut course = Course::begun(&[]);
    course.screen(1, "yes", "no");
    course.asks(1, Outcome::Refer);
    clear(&mut course, 2, "fever-refers");
    course.asks(2, Outcome::Continue);
    // Long after, the old answers are stale; for the rule that was cleared that is no doubt.
    course.screen(3, "no", "no");
    course.asks(3, Outcome::Continue);
    course.screen(4, "yes", "no");
    course.asks(4, Outcome::Refer);
}

#[test]
fn rule_4_a_refer_rule_met_in_between_latches_though_it_is_past() {
    let mut course = Course::begun(&[]);
    course.screen(1, "yes", "no");
    course.screen(2, "no", "no");
    course.asks(3, Outcome::Refer);
    // A late fact as well.
    let mut late = Course::begun(&[]);
    late.screen(3, "no", "no");
    late.asks(3, Outcome::Continue);
    late.screen(2, "yes", "no");
    late.asks(4, Outcome::Refer);
}

/// On its own day every event is 0 days ago; that day counts only while somebody was in care.
#[test]
fn rule_4_what_happened_before_care_began_is_judged_from_the_day_on_which_it_did() {
    let flare = || FactKind::Event("flare".into());
    let recent = (
        "when = \"fever is yes\"",
        "when = { any = [\"fever is yes\", \"days since a flare at most 20\"] }",
    );
    let mut long_ago = Course::begun(&[recent]);
    long_ago.fact(-30, flare());
    long_ago.asks(1, Outcome::Continue);
    // Ten days before care began, and so on the day on which it did.
    let mut before = Course::begun(&[recent]);
    before.fact(-10, flare());
    before.asks(15, Outcome::Refer);
    // In care, and past by now.
    let mut within = Course::begun(&[recent]);
    within.fact(1, flare());
    within.asks(30, Outcome::Refer);
}

#[test]
fn rule_4_correcting_the_fact_does_not_unlatch() {
    let mut course = Course::begun(&[]);
    let wrong = course.screen(1, "yes", "no");
    course.asks(1, Outcome::Refer);
    course.correct(2, wrong, None);
    course.asks(2, Outcome::Refer);
}

#[test]
fn rule_4_doubt_holds() {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.fact(2, FactKind::Screening(vec![choice("fever", "no")]));
    let doubt = course.asks(2, Outcome::Hold);
    assert_eq!(doubt.because, [Cause::Doubt("swelling-refers".into())]);
    let swelling = Wanted::Measure("swelling".into());
    let mut asks = doubt.asks.iter().filter(|ask| ask.what == swelling);
    let ask = asks.next().unwrap();
    assert_eq!(ask.rule.as_deref(), Some("swelling-refers"));
    assert_eq!(asks.next(), None);
}

#[test]
fn rule_4_a_rule_of_the_person_latches_here_too() {
    let mut course = Course::begun(&[]);
    let rule = "fever-refers".into();
    course.fact(1, FactKind::PersonRefer { rule });
    course.asks(1, Outcome::Refer);
}

#[test]
fn rule_5_going_back_lands_under_the_last_rung_and_other_lines_stay() {
    let mut course = moving(&[]);
    course.session(5, 9, &[("turn-band", 1), ("lift-low", 1), ("pull-near", 1)]);
    course.session(6, 9, &[("turn-band", 1), ("lift-low", 1), ("pull-near", 1)]);
    let back = course.asks(6, Outcome::Regress);
    assert_eq!(phase(&back), "calm");
    assert_eq!(moved(&back, "turn"), Some(Move::Back));
    assert_eq!(moved(&back, "lift"), Some(Move::Ease));
    assert_eq!(moved(&back, "pull"), Some(Move::Back));
    assert_eq!(exercises(&back), ["turn-hold", "lift-low"]);
    assert_eq!(rung(&back, "turn-hold", Variable::HoldTime), Some(10));
    let last: Vec<&str> = back
        .state
        .last_places
        .iter()
        .map(|one| &*one.exercise)
        .collect();
    assert_eq!(last, ["pull-near", "turn-band"]);
    for place in &back.state.places {
        assert_eq!(Some(place.set_anew), back.state.stay.map(|(no, _)| no));
    }
}

#[test]
fn rule_5_in_the_first_phase_a_regress_restarts_the_stay() {
    let rule = "[[phase]]\nphase = \"move\"";
    let regress = "[[phase.regress]]\nrule = \"calm-regress\"\nwhen = \"ache before at least 9 in the last session\"\nreason = \"Too much.\"\njudgement = { by = \"nobody\", why = \"invented\" }\n\n[[phase]]\nphase = \"move\"";
    let mut course = Course::begun(&[(rule, regress)]);
    course.session(1, 9, &[("turn-hold", 1), ("lift-low", 1)]);
    let decision = course.asks(1, Outcome::Regress);
    assert_eq!(phase(&decision), "calm");
    assert_eq!(decision.state.stay, Some((DecisionNo(1), day(1))));
    // The same facts, recorded before this stay, hold and do not act again.
    let held = course.asks(2, Outcome::Hold);
    assert!(
        held.because
            .contains(&Cause::MetBefore("calm-regress".into()))
    );
}

#[test]
fn rule_5_a_withdrawal_blocks_its_line_and_a_bring_back_rule_ends_it() {
    let mut course = moving(&[]);
    for on in [5, 6] {
        course.session(
            on,
            3,
            &[("turn-band", 7), ("lift-low", 1), ("pull-near", 1)],
        );
        course.morning(on, 1);
    }
    let out = course.ask(7);
    assert_eq!(moved(&out, "turn"), Some(Move::Withdraw));
    // Sessions before the withdrawal do not bring it back.
    course.good(8, &["lift-low", "pull-near"]);
    let waits = course.ask(9);
    assert_eq!(moved(&waits, "turn"), None);
    course.good(10, &["lift-low", "pull-near"]);
    let back = course.ask(11);
    assert_eq!(moved(&back, "turn"), Some(Move::Return));
    assert!(back.state.withdrawals.is_empty());
    assert_eq!(rung(&back, "turn-band", Variable::Reps), Some(8));
    // Its run starts again: one more session over the limit eases.
    course.session(
        12,
        1,
        &[("turn-band", 7), ("lift-low", 1), ("pull-near", 1)],
    );
    assert_ne!(moved(&course.ask(12), "turn"), Some(Move::Keep));
    let run = &back.state.run_from;
    assert_eq!(run.len(), 1);
}

#[test]
fn rule_5_climbs_go_round_by_counted_session_whether_used_or_not() {
    let most = (
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7",
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7\nclimb_max = 1",
    );
    let mut course = Course::begun(&[most]);
    course.good(1, &CALM);
    let first = course.ask(2);
    assert_eq!(moved(&first, "turn"), Some(Move::Climb));
    assert_eq!(first.moves[1].because, [Cause::NoSlot]);
    // The second session's slot is the other line's. It hurt: the slot is lost, not given on.
    course.session(3, 1, &[("turn-hold", 1), ("lift-low", 4)]);
    course.morning(3, 1);
    let second = course.ask(4);
    assert_eq!(moved(&second, "turn"), Some(Move::Keep));
    assert_eq!(moved(&second, "lift"), Some(Move::Keep));
    course.good(5, &CALM);
    assert_eq!(moved(&course.ask(6), "turn"), Some(Move::Climb));
}

#[test]
fn rule_5_a_withdrawn_line_keeps_its_slot_for_introductions() {
    let most = (
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7",
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7\nintroduce_max = 1",
    );
    let mut course = Course::begun(&[most]);
    assert_eq!(course.history.last_decision().unwrap().2.moves.len(), 1);
    for on in [1, 2] {
        course.session(on, 5, &[("turn-hold", 7)]);
        course.morning(on, 1);
    }
    let out = course.ask(3);
    assert_eq!(moved(&out, "turn"), Some(Move::Withdraw));
    assert_eq!(moved(&out, "lift"), None);
    course.session(4, 5, &[]);
    assert_eq!(moved(&course.ask(4), "lift"), None);
    assert!(course.would(4).state.places.is_empty());
    assert!(
        course
            .would(4)
            .asks
            .iter()
            .any(|ask| ask.what == Wanted::Review)
    );
}

#[test]
fn rule_5_introductions_go_on_session_by_session() {
    let most = (
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7",
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7\nintroduce_max = 1",
    );
    let mut course = Course::begun(&[most]);
    assert_eq!(moved(&course.ask(1), "lift"), None);
    course.good(1, &["turn-hold"]);
    assert_eq!(moved(&course.ask(2), "lift"), Some(Move::Introduce));
}

#[test]
fn rule_5_a_value_may_carry_needs_of_its_own() {
    let mut course = moving(&[]);
    course.session(5, 4, &[("turn-band", 1), ("lift-low", 1), ("pull-near", 1)]);
    course.morning(5, 1);
    let kept = course.ask(6);
    assert_eq!(moved(&kept, "pull"), Some(Move::Keep));
    let pull = kept.moves.iter().find(|one| &*one.line == "pull").unwrap();
    assert_eq!(pull.because, [Cause::Needs(Variable::Reps)]);
    course.good(7, &MOVE);
    assert_eq!(moved(&course.ask(8), "pull"), Some(Move::Climb));
}

#[test]
fn rule_6_skipped_otherwise_is_missing_for_enter_rules() {
    let mut course = Course::begun(&[]);
    for on in [1, 2] {
        course.good(on, &CALM);
    }
    let all = session(1, &[("turn-hold", 1), ("lift-low", 1)]);
    course.fact(3, not_done(all, "lift-low", Done::SkippedOtherwise));
    course.morning(3, 1);
    let decision = course.asks(4, Outcome::Continue);
    assert!(
        decision
            .because
            .contains(&Cause::Doubt("move-enter".into()))
    );
}

#[test]
fn rule_6_two_sessions_a_day_are_two() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 7), ("lift-low", 1)]);
    let mut second = session(1, &[("turn-hold", 7), ("lift-low", 1)]);
    if let FactKind::Session(session) = &mut second {
        session.number = 2;
    }
    course.fact(1, second);
    assert_eq!(moved(&course.ask(1), "turn"), Some(Move::Withdraw));
}

/// A measure made of sentences is told by its choice, not by the numbers that its sentences compare.
#[test]
fn what_is_missing_of_a_defined_measure_has_no_distance_of_its_features() {
    let calm = "\"sessions here at least 3\", \"state is calm\"]";
    let mut course = Course::begun(&[("\"sessions here at least 3\"]", calm)]);
    course.session(1, 5, &[("turn-hold", 0), ("lift-low", 0)]);
    let decision = course.asks(2, Outcome::Continue);
    let told: Vec<_> = decision
        .to_progress
        .iter()
        .map(|missing| crate::explain::missing_text(&course.pack, missing))
        .collect();
    assert!(told.contains(&"state is calm".to_owned()), "{told:?}");
}

//! In force, each fact moves once, begin; and the two lattices that they stand on.

use super::course::*;
use crate::decide::{Next, NextError, in_force, next};
use crate::decision::{Cause, Move, RuleVerdict};
use crate::fact::{DecisionNo, Done, FactKind, Order};
use rungwise_pack::model::Outcome;
use rungwise_pack::quantity::Variable;

const BOTH: [&str; 2] = ["turn-hold", "lift-low"];

#[test]
fn rule_1_same_facts_pack_and_date_give_the_same_decision_again() {
    let mut course = Course::begun(&[]);
    let asked = next(&course.pack, &course.history, day(0));
    assert_eq!(asked, Ok(Next::Again(DecisionNo(0))));
    let later = next(&course.pack, &course.history, day(1)).unwrap();
    assert!(matches!(later, Next::New(_)));
    course.screen(0, "no", "no");
    let more = next(&course.pack, &course.history, day(0)).unwrap();
    assert!(matches!(more, Next::New(_)));
}

#[test]
fn rule_1_nothing_is_decided_for_a_day_before_the_last_decision() {
    let mut course = Course::begun(&[]);
    course.ask(3);
    assert_eq!(
        next(&course.pack, &course.history, day(2)),
        Err(NextError::AsOfBeforeLast {
            as_of: day(2),
            last: day(3)
        })
    );
}

#[test]
fn rule_1_what_is_in_force_is_the_last_state() {
    let mut course = Course::begun(&[]);
    course.good(1, &BOTH);
    let decision = course.ask(2);
    let in_force = in_force(&course.pack, &course.history, day(2));
    assert_eq!(in_force.state, decision.state);
    assert_eq!(in_force.decision, Some(DecisionNo(1)));
}

#[test]
fn rule_2_a_line_climbs_for_a_counted_session_once() {
    let mut course = Course::begun(&[]);
    course.good(1, &BOTH);
    let up = course.asks(2, Outcome::Continue);
    assert_eq!(moved(&up, "turn"), Some(Move::Climb));
    assert_eq!(moved(&up, "lift"), Some(Move::Climb));
    assert_eq!(rung(&up, "lift-low", Variable::Reps), Some(8));
    let again = course.asks(3, Outcome::Continue);
    assert_eq!(moved(&again, "lift"), Some(Move::Keep));
    assert_eq!(
        again.moves[1].because,
        [Cause::NotMet("lift-low-climb".into())]
    );
}

#[test]
fn rule_2_a_session_that_followed_an_older_decision_raises_nothing() {
    let mut course = Course::begun(&[]);
    course.good(1, &BOTH);
    course.ask(2);
    let mut late = session(1, &[("turn-hold", 1), ("lift-low", 1)]);
    if let FactKind::Session(session) = &mut late {
        session.followed = Some(DecisionNo(0));
    }
    course.fact(2, late);
    course.morning(2, 1);
    let kept = course.ask(3);
    assert_eq!(moved(&kept, "lift"), Some(Move::Keep));
}

#[test]
fn rule_2_a_missing_limit_value_of_the_newest_session_keeps() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    let decision = course.ask(2);
    assert_eq!(moved(&decision, "lift"), Some(Move::Keep));
    let missing = Cause::LimitValueMissing("ache next morning".into());
    assert_eq!(decision.moves[1].because, [missing]);
    // On the day itself the morning after is not due, and nothing is missing.
    let mut sooner = Course::begun(&[]);
    sooner.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    assert_eq!(moved(&sooner.ask(1), "lift"), Some(Move::Climb));
}

#[test]
fn rule_2_a_step_does_not_make_up_for_a_morning_that_nobody_told_of() {
    let after_a_step = |told: bool| {
        let mut course = Course::begun(&[]);
        course.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
        assert_eq!(moved(&course.ask(1), "lift"), Some(Move::Climb));
        if told {
            course.morning(1, 1);
        }
        course.session(2, 1, &[("turn-hold", 1), ("lift-low", 1)]);
        course.ask(2)
    };
    let silent = after_a_step(false);
    assert_eq!(moved(&silent, "lift"), Some(Move::Keep));
    let missing = Cause::LimitValueMissing("ache next morning".into());
    assert_eq!(silent.moves[1].because, [missing]);
    assert_eq!(moved(&after_a_step(true), "lift"), Some(Move::Climb));
}

#[test]
fn rule_2_one_session_over_a_limit_eases_once() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    let eased = course.ask(1);
    assert_eq!(moved(&eased, "turn"), Some(Move::Ease));
    assert_eq!(moved(&eased, "lift"), Some(Move::Climb));
    assert_eq!(relief(&eased, "turn-hold"), [Variable::HoldTime]);
    let again = course.ask(2);
    assert_eq!(moved(&again, "turn"), Some(Move::Keep));
    assert_eq!(relief(&again, "turn-hold"), [Variable::HoldTime]);
}

#[test]
fn rule_2_exactly_at_a_limit_is_within_it() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 5), ("lift-low", 1)]);
    assert_eq!(moved(&course.ask(1), "turn"), Some(Move::Keep));
}

#[test]
fn rule_2_the_second_of_two_sessions_over_a_limit_withdraws() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    course.ask(1);
    course.session(2, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    let out = course.ask(2);
    assert_eq!(moved(&out, "turn"), Some(Move::Withdraw));
    assert_eq!(out.state.withdrawals.len(), 1);
    assert!(matches!(
        out.moves[0].because.first(),
        Some(Cause::OverLimitTwice { .. })
    ));
    // Both new at once withdraw as well.
    let mut both = Course::begun(&[]);
    both.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    both.session(2, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    assert_eq!(moved(&both.ask(2), "turn"), Some(Move::Withdraw));
    // One without pain in between does not.
    let mut between = Course::begun(&[]);
    between.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    between.session(2, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    between.session(3, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    assert_eq!(moved(&between.ask(3), "turn"), Some(Move::Ease));
}

#[test]
fn rule_2_a_late_session_over_a_limit_still_acts() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    course.ask(1);
    course.good(3, &BOTH);
    course.ask(4);
    course.session(2, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    assert_eq!(moved(&course.ask(4), "turn"), Some(Move::Withdraw));
}

#[test]
fn rule_2_easing_with_nothing_left_withdraws_and_other_easing_keeps() {
    // `lift-low` begins on its first rung, which has nothing to give.
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 1), ("lift-low", 6)]);
    assert_eq!(moved(&course.ask(1), "lift"), Some(Move::Withdraw));
    let mut other = Course::begun(&[]);
    other.session(1, 8, &[("turn-hold", 1), ("lift-low", 1)]);
    let kept = other.ask(1);
    assert_eq!(moved(&kept, "turn"), Some(Move::Ease));
    assert_eq!(moved(&kept, "lift"), Some(Move::Keep));
    assert!(kept.moves[1].because.contains(&Cause::NothingLeft));
    assert_eq!(place(&kept, "lift-low").unwrap().set_anew, DecisionNo(1));
}

#[test]
fn rule_2_an_ease_rule_acts_once_for_the_facts_it_read() {
    let mut course = Course::begun(&[]);
    course.session(1, 8, &[("turn-hold", 1), ("lift-low", 1)]);
    assert_eq!(moved(&course.ask(1), "turn"), Some(Move::Ease));
    let again = course.ask(1);
    assert_eq!(again.as_of, day(1));
    let next_day = course.ask(2);
    assert_eq!(moved(&next_day, "turn"), Some(Move::Keep));
    assert_eq!(relief(&next_day, "turn-hold"), [Variable::HoldTime]);
}

#[test]
fn rule_2_relief_is_regained_before_the_ladder_climbs() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    course.ask(1);
    course.good(2, &BOTH);
    let up = course.ask(3);
    assert_eq!(moved(&up, "turn"), Some(Move::Climb));
    assert_eq!(relief(&up, "turn-hold"), []);
    assert_eq!(rung(&up, "turn-hold", Variable::HoldTime), Some(10));
    course.good(4, &BOTH);
    assert_eq!(
        rung(&course.ask(5), "turn-hold", Variable::HoldTime),
        Some(15)
    );
}

#[test]
fn rule_2_a_limit_on_the_person_eases_what_climbed_last() {
    let mut course = Course::begun(&[(
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7",
        "exercises = [\"turn-hold\", \"lift-low\"]\nsessions_a_week = 7\nclimb_max = 1",
    )]);
    course.good(1, &BOTH);
    let up = course.ask(2);
    assert_eq!(moved(&up, "turn"), Some(Move::Climb));
    assert_eq!(moved(&up, "lift"), Some(Move::Keep));
    course.session(3, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    course.morning(3, 4);
    let eased = course.ask(4);
    assert_eq!(moved(&eased, "turn"), Some(Move::Ease));
    assert_ne!(moved(&eased, "lift"), Some(Move::Ease));
}

#[test]
fn rule_2_the_prescribed_sets_must_have_been_done() {
    let mut course = Course::begun(&[]);
    let mut short = session(1, &[("turn-hold", 1), ("lift-low", 1)]);
    if let FactKind::Session(session) = &mut short {
        session.exercises[0].sets.truncate(1);
        session.exercises[1].sets[0].reps = Some(5);
    }
    course.fact(1, short);
    let decision = course.ask(1);
    for one in &decision.moves {
        assert_eq!(one.mv, Move::Keep);
        assert_eq!(one.because, [Cause::RungNotReached]);
    }
}

#[test]
fn rule_2_progress_needs_its_rule_and_moves_every_line() {
    let mut course = Course::begun(&[]);
    for on in [1, 2, 3] {
        course.good(on, &BOTH);
    }
    let up = course.asks(4, Outcome::Progress);
    assert_eq!(phase(&up), "move");
    assert_eq!(moved(&up, "turn"), Some(Move::Forward));
    assert_eq!(moved(&up, "lift"), Some(Move::Climb));
    assert_eq!(moved(&up, "pull"), Some(Move::Introduce));
    assert_eq!(exercises(&up), ["turn-band", "lift-low", "pull-near"]);
    assert_eq!(up.state.stay, Some((DecisionNo(1), day(4))));
    for place in &up.state.places {
        assert_eq!(place.set_anew, DecisionNo(1));
    }
    // Nothing has followed this decision: the next phase is not entered with the same sessions.
    let next = course.asks(5, Outcome::Continue);
    assert!(next.moves.iter().all(|one| one.mv == Move::Keep));
}

#[test]
fn rule_2_a_hold_rule_of_the_next_phase_bars_it() {
    let mut course = Course::begun(&[]);
    course.assess(1, 50);
    for on in [1, 2, 3] {
        course.good(on, &BOTH);
    }
    let decision = course.asks(4, Outcome::Continue);
    assert!(decision.because.contains(&Cause::Met("move-hold".into())));
}

#[test]
fn rule_2_regress_acts_only_on_facts_of_this_stay() {
    let mut course = Course::begun(&[]);
    for on in [1, 2, 3] {
        course.good(on, &BOTH);
    }
    // One bad session before, one after entering: met by both together, not by this stay alone.
    course.session(4, 9, &[("turn-hold", 1), ("lift-low", 1)]);
    let mut entered = course.ask(4);
    assert_eq!(entered.outcome, Outcome::Progress);
    course.session(5, 9, &[("turn-band", 1), ("lift-low", 1), ("pull-near", 1)]);
    let held = course.asks(5, Outcome::Hold);
    assert!(
        held.because
            .contains(&Cause::MetBefore("move-regress".into()))
    );
    course.session(6, 9, &[("turn-band", 1), ("lift-low", 1), ("pull-near", 1)]);
    entered = course.asks(6, Outcome::Regress);
    assert_eq!(phase(&entered), "calm");
}

#[test]
fn rule_2_time_alone_raises_nothing() {
    let mut course = Course::begun(&[]);
    course.fact(0, FactKind::Event("flare".into()));
    course.good(1, &BOTH);
    let held = course.asks(2, Outcome::Hold);
    assert!(held.because.contains(&Cause::Met("flare-holds".into())));
    let later = course.asks(3, Outcome::Continue);
    assert_eq!(later.moves[0].because, [Cause::NothingNew]);
    assert_eq!(moved(&later, "turn"), Some(Move::Keep));
    course.screen(3, "no", "no");
    assert_eq!(moved(&course.ask(3), "turn"), Some(Move::Climb));
}

#[test]
fn rule_3_screening_that_is_not_answered_waits() {
    let mut course = Course::new(&[]);
    let waits = course.asks(0, Outcome::Await);
    assert!(!waits.prescribes);
    assert_eq!(waits.asks.len(), 2);
    course.fact(1, FactKind::Screening(vec![choice("fever", "no")]));
    course.asks(1, Outcome::Await);
    course.screen(1, "no", "no");
    let begins = course.asks(1, Outcome::Begin);
    assert!(begins.prescribes);
    assert_eq!(phase(&begins), "calm");
    assert_eq!(moved(&begins, "turn"), Some(Move::Introduce));
    assert_eq!(begins.state.began, Some(day(1)));
}

#[test]
fn rule_3_a_refer_rule_met_before_the_first_prescription_prescribes_nothing() {
    let mut course = Course::new(&[]);
    course.screen(0, "yes", "no");
    let refers = course.asks(0, Outcome::Refer);
    assert!(!refers.prescribes);
    course.screen(1, "no", "no");
    course.asks(1, Outcome::Refer);
    let rules = vec!["fever-refers".into()];
    course.order(2, None, Order::Clear { rules });
    course.asks(2, Outcome::Begin);
}

#[test]
fn rule_3_a_start_rule_or_a_place_begins_further_on() {
    let mut course = Course::new(&[]);
    course.screen(0, "no", "no");
    course.assess(0, 175);
    assert_eq!(phase(&course.asks(0, Outcome::Begin)), "full");
    let mut placed = Course::new(&[]);
    placed.order(
        0,
        None,
        Order::Place {
            phase: "move".into(),
            places: vec![("pull-near".into(), Vec::new())],
        },
    );
    placed.asks(0, Outcome::Await);
    placed.screen(0, "no", "no");
    let begins = placed.asks(0, Outcome::Begin);
    assert_eq!(phase(&begins), "move");
    assert_eq!(exercises(&begins), ["turn-band", "lift-low", "pull-near"]);
}

#[test]
fn the_outcome_is_the_most_cautious_that_any_rule_gives() {
    let mut course = Course::begun(&[]);
    course.good(1, &BOTH);
    course.fact(1, FactKind::Event("flare".into()));
    course.screen(1, "no", "yes");
    let decision = course.asks(2, Outcome::Refer);
    assert_eq!(decision.because, [Cause::Met("swelling-refers".into())]);
    assert!(decision.moves.iter().all(|one| one.mv == Move::Keep));
    let held = decision
        .findings
        .iter()
        .filter(|one| one.verdict == RuleVerdict::Met);
    assert!(held.count() >= 2);
}

#[test]
fn the_lowest_of_own_move_and_cap_is_made() {
    let mut course = Course::begun(&[]);
    course.fact(1, FactKind::Event("flare".into()));
    course.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    let decision = course.asks(1, Outcome::Hold);
    assert_eq!(moved(&decision, "turn"), Some(Move::Ease));
    assert_eq!(moved(&decision, "lift"), Some(Move::Keep));
}

#[test]
fn rule_6_a_missing_pain_neither_makes_nor_breaks_a_run() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    course.ask(1);
    let mut silent = session(1, &[("turn-hold", 1), ("lift-low", 1)]);
    if let FactKind::Session(session) = &mut silent {
        session.exercises[0].readings.clear();
    }
    course.fact(2, silent);
    assert_eq!(moved(&course.ask(2), "turn"), Some(Move::Keep));
    course.session(3, 1, &[("turn-hold", 6), ("lift-low", 1)]);
    assert_eq!(moved(&course.ask(3), "turn"), Some(Move::Withdraw));
}

#[test]
fn rule_6_skipped_for_pain_is_over_the_limit() {
    let mut course = Course::begun(&[]);
    let all = session(1, &[("turn-hold", 1), ("lift-low", 1)]);
    course.fact(1, not_done(all.clone(), "turn-hold", Done::SkippedForPain));
    let eased = course.ask(1);
    assert_eq!(moved(&eased, "turn"), Some(Move::Ease));
    let otherwise = not_done(all, "turn-hold", Done::SkippedOtherwise);
    let mut other = Course::begun(&[]);
    other.fact(1, otherwise);
    assert_eq!(moved(&other.ask(1), "turn"), Some(Move::Keep));
}

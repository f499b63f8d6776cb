//! Proves that a prescription gives the dose of each place with its relief, bounded by every directive and the comfortable
//! range and never raised, and says what is left out and why.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

use super::*;
use crate::decision::Withdrawal;
use crate::fact::{Assessment, Body, DecisionNo, Directive, Fact, FactKind};
use crate::history::History;
use crate::sample::{course, day, episode, fact, number, pack, push, records, session};
use rungwise_pack::quantity::Milli;

fn units(units: i64) -> RowValue {
    RowValue::Number(Milli::whole(units))
}

fn label(word: &str) -> RowValue {
    RowValue::Label(word.into())
}

fn place(line: &str, exercise: &str, rung: &[(Variable, RowValue)], relief: &[Variable]) -> Place {
    Place {
        line: line.into(),
        exercise: exercise.into(),
        rung: rung.to_vec(),
        relief: relief.to_vec(),
        set_anew: DecisionNo(0),
        setting: None,
    }
}

/// The band at its top with one step of relief, the lift at its top.
fn moving() -> State {
    let band = [
        (Variable::Reps, units(10)),
        (Variable::Load, label("middle")),
    ];
    let lift = [(Variable::Reps, units(12)), (Variable::Range, units(120))];
    State {
        phase: Some("moving".into()),
        began: Some(day("2026-01-05")),
        places: vec![
            place("turn", "turn-band", &band, &[Variable::Reps]),
            place("lift", "lift-active", &lift, &[]),
        ],
        ..State::default()
    }
}

fn basis(state: State) -> Basis<'static> {
    Basis {
        as_of: day("2026-01-20"),
        decision: Some(DecisionNo(3)),
        state,
        paused: None,
        left_out: Vec::new(),
        bounds: Vec::new(),
        comfortable: Vec::new(),
        bench: None,
        next_review: Some(day("2026-02-03")),
    }
}

fn bound(variable: Variable, at_most: RowValue, position: u64) -> Bound {
    Bound {
        variable,
        at_most,
        by: BoundBy::Directive(Position(position)),
    }
}

/// Each exercise with its dose in reading order and what bounds it, then what is left out.
fn said(prescription: &Prescription) -> Vec<String> {
    let items = prescription.items.iter().map(|item| {
        let dose: Vec<String> = item
            .dose
            .iter()
            .map(|(variable, value)| match value {
                RowValue::Number(number) => format!("{} {number}", variable.word()),
                RowValue::Label(label) => format!("{} {label}", variable.word()),
            })
            .collect();
        let bounded: Vec<String> = item
            .bounded
            .iter()
            .map(|(of, by)| format!("; {} {by:?}", of.word()))
            .collect();
        format!("{}: {}{}", item.exercise, dose.join(", "), bounded.concat())
    });
    let left = prescription
        .left_out
        .iter()
        .map(|left| format!("without {}: {:?}", left.exercise, left.why));
    items.chain(left).collect()
}

fn check(basis: &Basis, expected: &[&str]) {
    assert_eq!(said(&prescribe(&pack(), basis)), expected);
}

#[test]
fn a_dose_is_its_rung_with_relief_taken_off_in_reading_order() {
    check(
        &basis(moving()),
        &[
            "turn-band: reps 8, load middle",
            "lift-active: reps 12, range 120",
        ],
    );
}

#[test]
fn every_bound_counts_whatever_its_order() {
    let bounds = [
        (None, bound(Variable::Reps, units(11), 4)),
        (
            Some("lift-active".into()),
            bound(Variable::Range, units(90), 5),
        ),
        (
            Some("lift-active".into()),
            bound(Variable::Range, units(60), 6),
        ),
        (
            Some("turn-band".into()),
            bound(Variable::Load, label("light"), 7),
        ),
    ];
    let mut backwards = bounds.to_vec();
    backwards.reverse();
    for bounds in [bounds.to_vec(), backwards] {
        let given = Basis {
            bounds,
            ..basis(moving())
        };
        let doses: Vec<String> = said(&prescribe(&pack(), &given));
        assert!(
            doses[0].starts_with("turn-band: reps 8, load light; load Directive"),
            "{doses:?}"
        );
        assert!(
            doses[1].starts_with("lift-active: reps 8, range 60; "),
            "{doses:?}"
        );
    }
}

#[test]
fn a_bound_never_raises() {
    let bounds = vec![
        (None, bound(Variable::Reps, units(40), 4)),
        (
            Some("turn-band".into()),
            bound(Variable::Load, label("middle"), 5),
        ),
    ];
    let given = Basis {
        bounds,
        ..basis(moving())
    };
    check(
        &given,
        &[
            "turn-band: reps 8, load middle",
            "lift-active: reps 12, range 120",
        ],
    );
}

#[test]
fn what_no_value_of_a_row_keeps_is_left_out_with_its_bound() {
    let bounds = vec![(None, bound(Variable::Range, units(30), 4))];
    let given = Basis {
        bounds,
        ..basis(moving())
    };
    check(
        &given,
        &[
            "turn-band: reps 8, load middle",
            "without lift-active: Bound(Directive(Position(4)))",
        ],
    );
}

#[test]
fn the_comfortable_range_bounds_the_range() {
    let comfortable = vec![("lift-active".into(), units(100))];
    let given = Basis {
        comfortable,
        ..basis(moving())
    };
    check(
        &given,
        &[
            "turn-band: reps 8, load middle",
            "lift-active: reps 12, range 90; range Comfortable(\"comfortable range\")",
        ],
    );
    let comfortable = vec![("lift-active".into(), units(50))];
    let given = Basis {
        comfortable,
        ..basis(moving())
    };
    check(
        &given,
        &[
            "turn-band: reps 8, load middle",
            "without lift-active: Bound(Comfortable(\"comfortable range\"))",
        ],
    );
}

#[test]
fn the_comfortable_range_is_the_last_one_reported_up_to_the_date() {
    let pack = pack();
    let assessed = |date: &str, readings| {
        let assessment = Assessment {
            readings,
            other_side: Vec::new(),
            other_side_sound: false,
        };
        fact(date, FactKind::Assessment(assessment))
    };
    let facts = vec![
        assessed("2026-01-06", vec![number("comfortable range", 70)]),
        assessed("2026-01-08", vec![number("comfortable range", 95)]),
        assessed("2026-01-10", vec![number("lifting range", 100)]),
        assessed("2026-01-12", vec![number("comfortable range", 110)]),
        session("2026-01-12", 2, &[("lift-active", 2)]),
    ];
    let history = History::of(&pack, episode(), records(facts));
    let lift = pack.exercise("lift-active").unwrap();
    let on = |date| comfortable::last_reported(&pack, &history, lift, day(date));
    assert_eq!(on("2026-01-05"), None);
    assert_eq!(on("2026-01-11"), Some(units(95)));
    assert_eq!(on("2026-01-12"), Some(units(110)));
    let turn = pack.exercise("turn-band").unwrap();
    assert_eq!(
        comfortable::last_reported(&pack, &history, turn, day("2026-01-12")),
        None
    );
}

#[test]
fn directives_and_withdrawals_leave_out() {
    let mut state = moving();
    let by = DecisionNo(2);
    state.withdrawals = vec![Withdrawal {
        exercise: "turn-hold".into(),
        by,
    }];
    let left_out = vec![("turn-band".into(), Position(9))];
    let given = Basis {
        left_out,
        ..basis(state)
    };
    check(
        &given,
        &[
            "lift-active: reps 12, range 120",
            "without turn-hold: Withdrawn",
            "without turn-band: Directive(Position(9))",
        ],
    );
}

#[test]
fn a_place_of_an_older_pack_is_read_in_this_one() {
    let mut state = moving();
    let held = [
        (Variable::Reps, units(9)),
        (Variable::HoldTime, units(10)),
        (Variable::Sets, units(3)),
    ];
    state.places = vec![
        place(
            "turn",
            "turn-press",
            &held,
            &[Variable::HoldTime, Variable::Tempo],
        ),
        place("reach", "reach", &held, &[]),
    ];
    check(
        &basis(state),
        &[
            "turn-hold: sets 3, reps 8, hold time 1",
            "without reach: Unmapped",
        ],
    );
}

#[test]
fn nothing_is_prescribed_before_the_first_decision_when_paused_or_stopped() {
    let standing = |basis: &Basis| {
        let prescription = prescribe(&pack(), basis);
        let expected = matches!(
            prescription.standing,
            Standing::InForce | Standing::Discharged
        );
        assert_eq!(!prescription.items.is_empty(), expected);
        assert_eq!(prescription.cautions.len(), 1, "cautions always");
        prescription.standing
    };
    let mut state = moving();
    assert_eq!(standing(&basis(state.clone())), Standing::InForce);
    assert_eq!(standing(&basis(State::default())), Standing::NotBegun);
    let paused = Basis {
        paused: Some(Position(4)),
        ..basis(state.clone())
    };
    assert_eq!(standing(&paused), Standing::Paused(Position(4)));
    state.latched = vec!["range-refer".into()];
    assert_eq!(
        standing(&basis(state.clone())),
        Standing::InForce,
        "this rule keeps exercise"
    );
    state.latched = vec!["range-refer".into(), "fever-refer".into(), "gone".into()];
    let stopped = Standing::Stopped(vec!["fever-refer".into(), "gone".into()]);
    assert_eq!(
        standing(&basis(state)),
        stopped,
        "a rule that the pack no longer has stops too"
    );
}

#[test]
fn discharge_keeps_up_what_was_reached() {
    let mut state = moving();
    state.discharged = true;
    check(
        &basis(state),
        &[
            "turn-band: reps 8, load middle, days a week 3",
            "lift-active: reps 12, range 120",
        ],
    );
}

#[test]
fn limits_are_the_packs_and_each_exercises() {
    let limits = prescribe(&pack(), &basis(moving())).limits;
    let keys: Vec<&str> = limits.iter().map(|limit| &*limit.limit).collect();
    assert_eq!(keys, ["pain-during", "pain-next-morning", "lift-form"]);
    assert_eq!(limits[2].exercise.as_deref(), Some("lift-active"));
    assert_eq!(limits[0].sentence, "pain during exercise at most 4");
}

#[test]
fn directives_in_force_act_on_the_prescription_until_their_last_day() {
    let pack = pack();
    let order = |order, until: Option<&str>| {
        let (who, why) = ("an invented clinician".into(), "because".to_owned());
        let until = until.map(day);
        FactKind::Directive(Directive {
            who,
            why,
            until,
            clinic_wide: false,
            order,
        })
    };
    let check = |order_given: FactKind, on: &str, expected: &[&str]| {
        let mut history = course(&pack);
        push(
            &pack,
            &mut history,
            day("2026-01-10"),
            Body::Fact(fact("2026-01-10", order_given)),
        );
        assert_eq!(
            said(&prescription(&pack, &history, day(on))),
            expected,
            "on {on}"
        );
    };
    let turn = "turn-hold: sets 3, reps 8, hold time 1";
    let lift = "lift-active: reps 8, range 90";
    let of = Some("turn-hold".into());
    let cap = Order::Cap {
        exercise: of,
        variable: Variable::Reps,
        at_most: units(7),
    };
    let capped = "turn-hold: sets 3, reps 6, hold time 1; reps Directive(Position(9))";
    check(order(cap.clone(), None), "2026-01-09", &[turn, lift]);
    check(order(cap.clone(), None), "2026-02-10", &[capped, lift]);
    check(
        order(cap.clone(), Some("2026-01-12")),
        "2026-01-12",
        &[capped, lift],
    );
    check(order(cap, Some("2026-01-12")), "2026-01-13", &[turn, lift]);
    let dose = vec![(Variable::Range, units(60)), (Variable::Reps, units(12))];
    let set = Order::SetDose {
        exercise: "lift-active".into(),
        dose,
    };
    let lower = "lift-active: reps 8, range 60; range Directive(Position(9))";
    check(order(set, None), "2026-01-10", &[turn, lower]);
    let out = Order::LeaveOut {
        exercise: "turn-press".into(),
    };
    check(
        order(out, None),
        "2026-01-10",
        &[lift, "without turn-hold: Directive(Position(9))"],
    );
    check(order(Order::Pause, None), "2026-01-10", &[]);
    check(order(Order::Hold, None), "2026-01-10", &[turn, lift]);
}

#[test]
fn a_referral_of_the_person_stops_at_once_until_it_is_cleared() {
    let pack = pack();
    let refer = |rule: &str| {
        let rule = rule.into();
        fact("2026-01-10", FactKind::PersonRefer { rule })
    };
    let order = |order| {
        let directive = Directive {
            who: "an invented clinician".into(),
            why: "because".to_owned(),
            until: None,
            clinic_wide: false,
            order,
        };
        fact("2026-01-10", FactKind::Directive(directive))
    };
    let clear = |rule: &str| {
        let rules = vec![rule.into()];
        order(Order::Clear { rules })
    };
    let check = |facts: Vec<Fact>, expected: Standing| {
        let mut history = course(&pack);
        for fact in facts {
            push(&pack, &mut history, fact.date, Body::Fact(fact));
        }
        let found = prescription(&pack, &history, day("2026-01-10"));
        assert_eq!(found.standing, expected);
        assert_eq!(found.items.is_empty(), expected != Standing::InForce);
    };
    let stopped = |rule: &str| Standing::Stopped(vec![rule.into()]);
    check(vec![refer("fever-refer")], stopped("fever-refer"));
    check(vec![refer("gone")], stopped("gone"));
    check(vec![refer("range-refer")], Standing::InForce);
    check(
        vec![refer("fever-refer"), clear("fever-refer")],
        Standing::InForce,
    );
    check(
        vec![refer("fever-refer"), clear("range-refer")],
        stopped("fever-refer"),
    );
    check(
        vec![clear("fever-refer"), refer("fever-refer")],
        stopped("fever-refer"),
    );
    let directive = Position(10);
    let withdrawn = order(Order::Withdraw { directive });
    check(
        vec![refer("fever-refer"), clear("fever-refer"), withdrawn],
        stopped("fever-refer"),
    );
}

#[test]
fn a_referral_of_the_person_that_a_decision_saw_is_that_decisions() {
    let pack = pack();
    let mut history = course(&pack);
    let rule = "fever-refer".into();
    let told = fact("2026-01-10", FactKind::PersonRefer { rule });
    push(&pack, &mut history, told.date, Body::Fact(told));
    let stopped = Standing::Stopped(vec!["fever-refer".into()]);
    let before = prescription(&pack, &history, day("2026-01-10"));
    assert_eq!(before.standing, stopped);
    let decision = crate::decide::decide(&pack, &history, day("2026-01-10"));
    push(
        &pack,
        &mut history,
        day("2026-01-10"),
        Body::Decision(Box::new(decision)),
    );
    assert_eq!(referred_since(&history, day("2026-01-10")), [] as [Key; 0]);
    let after = prescription(&pack, &history, day("2026-01-10"));
    assert_eq!(after.standing, stopped, "the decision says the same");
}

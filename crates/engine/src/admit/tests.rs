//! Proves that every fact a pack does not understand is refused by name, with its field and what would be right.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::too_many_lines,
    reason = "a test may fail loudly, and a table of cases is read as one"
)]

use super::*;
use crate::decision::{Decision, LineMove, Move, State};
use crate::fact::{
    Assessment, BandPoint, Body, DecisionNo, Directive, Done, Equipment, ExerciseReport,
    MeasuredBand, MorningAfter, Order, Position, Reading, Record, Session, SetDone, Value,
};
use crate::sample::{choice, day, episode, fact, golden, number, pack, records, session};
use rungwise_pack::model::{Outcome, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

pub(super) const TODAY: &str = "2026-01-20";

pub(super) fn directive(order: Order) -> FactKind {
    ordered(order, None, false)
}

pub(super) fn ordered(order: Order, until: Option<Date>, clinic_wide: bool) -> FactKind {
    let (who, why) = ("an invented clinician".into(), "because".to_owned());
    FactKind::Directive(Directive {
        who,
        why,
        until,
        clinic_wide,
        order,
    })
}

pub(super) fn after(of: &str, number: Option<u8>, readings: Vec<Reading>) -> FactKind {
    FactKind::MorningAfter(MorningAfter {
        session_date: day(of),
        session_number: number,
        readings,
    })
}

pub(super) fn correct(of: u64, replacement: Option<Fact>) -> FactKind {
    let (who, why) = ("an invented clinician".into(), "a slip".to_owned());
    let replacement = replacement.map(Box::new);
    FactKind::Correction(Correction {
        of: Position(of),
        who,
        why,
        replacement,
    })
}

pub(super) fn sign_off(decision: u32) -> FactKind {
    let who = "an invented clinician".into();
    FactKind::SignOff {
        decision: DecisionNo(decision),
        accepted: true,
        who,
    }
}

/// One exercise of a session.
fn report(exercise: &str, done: Done, sets: Vec<SetDone>, readings: Vec<Reading>) -> Fact {
    let report = ExerciseReport {
        exercise: exercise.into(),
        done,
        sets,
        readings,
    };
    let kind = Session {
        number: 2,
        followed: None,
        readings: Vec::new(),
        exercises: vec![report],
    };
    fact("2026-01-06", FactKind::Session(kind))
}

fn bare_session(number: u8, followed: Option<u32>, readings: Vec<Reading>) -> FactKind {
    let followed = followed.map(DecisionNo);
    FactKind::Session(Session {
        number,
        followed,
        readings,
        exercises: Vec::new(),
    })
}

fn decision(as_of: &str, proposed: bool, moves: Vec<LineMove>) -> Body {
    Body::Decision(Box::new(Decision {
        as_of: day(as_of),
        semantics: 1,
        pack: [0; 32],
        outcome: Outcome::Continue,
        proposed,
        prescribes: true,
        moves,
        state: State::default(),
        if_accepted: None,
        findings: Vec::new(),
        because: Vec::new(),
        to_progress: Vec::new(),
        asks: Vec::new(),
        next_review: day(as_of),
    }))
}

/// Positions: 0 session, 1 morning-after, 2 a fall that 3 voids, 4 a directive that 5 withdraws, 6 a directive, then
/// decisions 0 (a proposal that decision 1 overtakes), 1 (an open proposal), 2 (dated late) and 3 (a proposal that
/// was declined).
fn history() -> Vec<Record> {
    let withdraw = Order::Withdraw {
        directive: Position(4),
    };
    let mut records = records(vec![
        session("2026-01-06", 2, &[("turn-hold", 2)]),
        fact(
            "2026-01-07",
            after("2026-01-06", None, vec![number("pain next morning", 2)]),
        ),
        fact("2026-01-07", FactKind::Event("fall".into())),
        fact("2026-01-07", correct(2, None)),
        fact("2026-01-08", directive(Order::Hold)),
        fact("2026-01-08", directive(withdraw)),
        fact("2026-01-08", directive(Order::Hold)),
    ]);
    let eased = LineMove {
        line: "turn".into(),
        mv: Move::Ease,
        from: Some("turn-hold".into()),
        to: Some("turn-hold".into()),
        because: Vec::new(),
    };
    let decisions = [
        decision("2026-01-08", true, Vec::new()),
        decision("2026-01-08", true, vec![eased]),
        decision("2026-01-15", false, Vec::new()),
        decision("2026-01-15", true, Vec::new()),
    ];
    let declined = FactKind::SignOff {
        decision: DecisionNo(3),
        accepted: false,
        who: "x".into(),
    };
    let declined = Body::Fact(fact("2026-01-15", declined));
    for (at, body) in (7_u64..).zip(decisions.into_iter().chain([declined])) {
        records.push(Record {
            position: Position(at),
            recorded_on: day("2026-01-15"),
            body,
        });
    }
    records
}

pub(super) fn judge(fact: &Fact) -> Result<(), Vec<Refusal>> {
    let (pack, episode, records) = (pack(), episode(), history());
    admit(&pack, &Before::new(&episode, &records), fact, day(TODAY))
}

pub(super) fn said(refusal: &Refusal) -> String {
    format!(
        "{}\n    {}\n    {}\n",
        refusal.wrong.name(),
        refusal,
        refusal.wrong.right()
    )
}

pub(super) fn cap(exercise: Option<&str>, variable: Variable, at_most: RowValue) -> Order {
    Order::Cap {
        exercise: exercise.map(Into::into),
        variable,
        at_most,
    }
}

pub(super) fn place(phase: &str, places: &[(&str, &[(Variable, RowValue)])]) -> Order {
    let places = places
        .iter()
        .map(|(exercise, dose)| ((*exercise).into(), dose.to_vec()));
    Order::Place {
        phase: phase.into(),
        places: places.collect(),
    }
}

pub(super) fn units(units: i64) -> RowValue {
    RowValue::Number(Milli::whole(units))
}

pub(super) fn label(word: &str) -> RowValue {
    RowValue::Label(word.into())
}

/// Values and reports that are refused.
fn bad_reports() -> Vec<Fact> {
    let set = |reps| SetDone {
        reps: Some(reps),
        hold_s: None,
    };
    let on = |reading: Reading| report("turn-hold", Done::Done, vec![set(8)], vec![reading]);
    let half = Reading {
        measure: "pain during exercise".into(),
        value: Value::Number(Milli(2_250)),
    };
    let could_not = |measure: &str| Reading {
        measure: measure.into(),
        value: Value::CouldNot,
    };
    let assessed = |readings, other_side| {
        let assessment = Assessment {
            readings,
            other_side,
            other_side_sound: true,
        };
        fact("2026-01-09", FactKind::Assessment(assessment))
    };
    vec![
        on(number("pain during exercize", 2)),
        on(number("joy", 2)),
        on(number("days since a fall", 2)),
        on(number("pain next morning", 2)),
        on(choice("pain during exercise", "some")),
        fact("2026-01-09", FactKind::Screening(vec![number("fever", 1)])),
        fact(
            "2026-01-09",
            FactKind::Screening(vec![choice("fever", "maybe")]),
        ),
        fact(
            "2026-01-09",
            FactKind::Screening(vec![choice("fever", "no"), choice("fever", "no")]),
        ),
        on(number("pain during exercise", 11)),
        on(half),
        fact(
            "2026-01-09",
            bare_session(1, None, vec![could_not("temperature of the room")]),
        ),
        assessed(Vec::new(), vec![number("comfortable range", 90)]),
        assessed(
            vec![number("lifting range", 181)],
            vec![number("lifting range", -1)],
        ),
        assessed(
            vec![number("comfortable range", 90); READINGS_MAX + 1],
            Vec::new(),
        ),
        report("turn-hod", Done::Done, Vec::new(), Vec::new()),
        report("turn-press", Done::Done, Vec::new(), Vec::new()),
        report("turn-hold", Done::SkippedForPain, vec![set(8)], Vec::new()),
        report(
            "turn-hold",
            Done::SkippedOtherwise,
            Vec::new(),
            vec![number("pain during exercise", 1)],
        ),
        report(
            "turn-hold",
            Done::Done,
            vec![set(8); SETS_MAX + 1],
            Vec::new(),
        ),
        report(
            "turn-hold",
            Done::Done,
            vec![set(8), set(REPS_MAX + 1)],
            Vec::new(),
        ),
        session("2026-01-09", 2, &[("turn-hold", 1), ("turn-hold", 2)]),
        fact("2026-01-09", FactKind::Event("tumble".into())),
        fact(
            "2026-01-09",
            FactKind::Equipment(Equipment {
                owned: vec!["band".into(), "bands".into(), "band".into()],
                ..Equipment::default()
            }),
        ),
        fact(
            "2026-01-09",
            FactKind::PersonRefer {
                rule: "range-refer".into(),
            },
        ),
    ]
}

/// Dates, numbers and what belongs to what.
fn bad_times() -> Vec<Fact> {
    vec![
        session("2026-01-04", 2, &[("turn-hold", 2)]),
        session("2026-01-22", 2, &[("turn-hold", 2)]),
        fact("1969-12-31", FactKind::Event("fall".into())),
        session("2026-01-06", 2, &[("turn-hold", 2)]),
        fact("2026-01-09", bare_session(0, None, Vec::new())),
        fact("2026-01-09", bare_session(1, Some(9), Vec::new())),
        fact("2026-01-09", bare_session(1, Some(2), Vec::new())),
        fact("2026-01-06", after("2026-01-06", None, Vec::new())),
        fact("2026-01-09", after("2026-01-08", None, Vec::new())),
        fact("2026-01-09", after("2026-01-06", Some(2), Vec::new())),
        fact("2026-01-09", after("2026-01-06", Some(1), Vec::new())),
        fact(
            "2026-01-09",
            FactKind::Away {
                until: day("2026-01-08"),
            },
        ),
        fact(
            "2026-01-09",
            FactKind::Away {
                until: day("2028-01-08"),
            },
        ),
        fact("2026-01-09", correct(99, None)),
        fact("2026-01-09", correct(7, None)),
        fact("2026-01-09", correct(2, None)),
        fact("2026-01-09", correct(3, None)),
        fact("2026-01-09", correct(6, None)),
        fact(
            "2026-01-09",
            correct(0, Some(fact("2026-01-06", FactKind::Event("fall".into())))),
        ),
        fact(
            "2026-01-09",
            correct(0, Some(session("2026-01-06", 12, &[("turn", 2)]))),
        ),
        fact("2026-01-09", sign_off(9)),
        fact("2026-01-09", sign_off(2)),
        fact("2026-01-09", sign_off(0)),
        fact("2026-01-16", sign_off(3)),
        fact("2026-01-07", sign_off(1)),
    ]
}

/// Directives that are refused.
fn bad_orders() -> Vec<Fact> {
    let order = |order| fact("2026-01-09", directive(order));
    let mut by_patient = order(Order::Hold);
    by_patient.by = Reporter::Patient;
    let nobody = FactKind::Directive(Directive {
        who: " ".into(),
        why: "x".repeat(WHY_BYTES_MAX + 1),
        until: None,
        clinic_wide: false,
        order: Order::Hold,
    });
    let dose = vec![
        (Variable::Reps, units(9)),
        (Variable::Load, label("light")),
        (Variable::Sets, units(3)),
        (Variable::Sets, units(3)),
    ];
    vec![
        by_patient,
        fact("2026-01-09", nobody),
        fact(
            "2026-01-09",
            ordered(Order::Hold, Some(day("2026-01-08")), false),
        ),
        fact(
            "2026-01-09",
            ordered(
                Order::Clear {
                    rules: vec!["fever-refer".into()],
                },
                None,
                true,
            ),
        ),
        order(cap(Some("turn-hold"), Variable::Range, units(90))),
        order(cap(None, Variable::Rest, units(90))),
        order(cap(Some("turn-band"), Variable::Load, label("heavy"))),
        order(cap(Some("turn-band"), Variable::Load, units(3))),
        order(Order::LeaveOut {
            exercise: "lift".into(),
        }),
        order(Order::Add {
            exercise: "nothing like it".into(),
        }),
        order(Order::SetDose {
            exercise: "turn-hold".into(),
            dose,
        }),
        order(Order::SetDose {
            exercise: "turn-hold".into(),
            dose: Vec::new(),
        }),
        order(place("quite", &[])),
        order(place("quiet", &[("turn-band", &[])])),
        order(place("moving", &[("turn-band", &[]), ("turn-hold", &[])])),
        order(place(
            "quiet",
            &[("turn-hold", &[(Variable::HoldTime, units(5))])],
        )),
        order(place(
            "quiet",
            &[(
                "lift-active",
                &[(Variable::Range, units(120)), (Variable::Reps, units(10))],
            )],
        )),
        order(place(
            "moving",
            &[("turn-band", &[(Variable::Load, label("middle"))])],
        )),
        order(Order::Clear {
            rules: vec!["moving-hold".into(), "fever".into()],
        }),
        order(Order::Clear { rules: Vec::new() }),
        order(Order::Reopen),
        order(Order::Withdraw {
            directive: Position(4),
        }),
        order(Order::Withdraw {
            directive: Position(0),
        }),
    ]
}

#[test]
fn each_bad_fact_is_refused_by_name_with_its_field_and_what_is_right() {
    let mut text = String::new();
    for (heading, facts) in [
        ("Reports", bad_reports()),
        ("Times", bad_times()),
        ("Orders", bad_orders()),
        ("Equipment", bad_equipment()),
    ] {
        text.push_str(&format!("# {heading}\n\n"));
        for (at, fact) in facts.iter().enumerate() {
            let refusals = judge(fact).expect_err(&format!("{heading} {at} passed: {fact:?}"));
            text.extend(refusals.iter().map(said));
            text.push('\n');
        }
    }
    golden("admit/refusals.txt", &text);
}

#[test]
fn a_referral_of_the_person_is_neither_voided_nor_corrected() {
    let rule: Key = "fever-refer".into();
    let told = fact("2026-01-08", FactKind::PersonRefer { rule });
    let mut records = history();
    let position = u64::try_from(records.len()).unwrap();
    records.push(Record {
        position: Position(position),
        recorded_on: told.date,
        body: Body::Fact(told.clone()),
    });
    let (pack, episode) = (pack(), episode());
    let before = Before::new(&episode, &records);
    for replacement in [None, Some(told)] {
        let correction = fact("2026-01-09", correct(position, replacement));
        let refusals = admit(&pack, &before, &correction, day(TODAY)).unwrap_err();
        let all: Vec<String> = refusals.iter().map(said).collect();
        let expected = "NOT_CORRECTABLE\n    correction.of: a referral of the person cannot be corrected\n    give a directive that clears the rule\n";
        assert_eq!(all, [expected]);
    }
}

/// Bands and rooms, each wrong in one way.
fn bad_equipment() -> Vec<Fact> {
    let point = |percent: i64, tenths: i64| BandPoint {
        elongation: Milli::whole(percent),
        force: Milli(tenths * 100),
    };
    let good = MeasuredBand {
        label: "light".into(),
        rest_length_mm: 1000,
        points: vec![point(50, 80), point(100, 160)],
        elongation_max: Milli::whole(100),
        may_be_doubled: false,
    };
    let with = |change: &dyn Fn(&mut MeasuredBand)| {
        let mut band = good.clone();
        change(&mut band);
        (vec![band], None)
    };
    let wrong = [
        with(&|band| band.points.clear()),
        with(&|band| band.points = vec![point(0, 0)]),
        with(&|band| band.points[1] = point(100, 80)),
        with(&|band| band.points[1] = point(-100, 160)),
        with(&|band| band.points[1] = point(100, -160)),
        with(&|band| band.points[0] = point(0, 1)),
        with(&|band| band.points = vec![point(50, 80); 513]),
        with(&|band| band.rest_length_mm = -1000),
        with(&|band| band.elongation_max = Milli::whole(101)),
        with(&|band| band.elongation_max = Milli(0)),
        with(&|band| band.label = " ".into()),
        (vec![good.clone(), good.clone()], None),
        (vec![good.clone(); 33], None),
        (Vec::new(), Some(-1)),
        (Vec::new(), Some(10_001)),
    ];
    wrong
        .into_iter()
        .map(|(bands, room_mm)| {
            let owned = Vec::new();
            fact(
                "2026-01-09",
                FactKind::Equipment(Equipment {
                    owned,
                    bands,
                    room_mm,
                }),
            )
        })
        .collect()
}

//! Proves that the questions due are those that are missing, stale or late, each once, of the right person, in words.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use super::*;
use crate::SEMANTICS;
use crate::decision::{Ask, Place};
use crate::fact::{Assessment, DecisionNo, Directive, MorningAfter, Reading, Record};
use crate::sample::{choice, day, episode, fact, golden, number, pack, records, session};
use rungwise_pack::model::Outcome;

/// A screening and an assessment of the day the episode opened.
fn opened() -> Vec<Fact> {
    let readings = vec![number("lifting range", 100)];
    let assessment = Assessment {
        readings,
        other_side: Vec::new(),
        other_side_sound: false,
    };
    vec![
        fact(
            "2026-01-05",
            FactKind::Screening(vec![choice("fever", "no")]),
        ),
        fact("2026-01-05", FactKind::Assessment(assessment)),
    ]
}

/// A decision for 2026-01-05 that prescribes one exercise.
fn begun(pack: &CheckedPack, asks: Vec<Ask>, latched: Vec<Key>) -> Decision {
    let place = Place {
        line: "turn".into(),
        exercise: "turn-hold".into(),
        rung: crate::ladder::rung_values(pack.exercises.first().unwrap(), 1),
        relief: Vec::new(),
        set_anew: DecisionNo(0),
        setting: None,
    };
    let state = State {
        phase: Some("quiet".into()),
        stay: Some((DecisionNo(0), day("2026-01-05"))),
        began: Some(day("2026-01-05")),
        introduced: Some(DecisionNo(0)),
        places: vec![place],
        latched,
        ..State::default()
    };
    Decision {
        as_of: day("2026-01-05"),
        semantics: SEMANTICS,
        pack: pack.digest,
        outcome: Outcome::Begin,
        proposed: false,
        prescribes: true,
        moves: Vec::new(),
        state,
        if_accepted: None,
        findings: Vec::new(),
        because: Vec::new(),
        to_progress: Vec::new(),
        asks,
        next_review: day("2026-01-19"),
    }
}

/// What was reported before the decision, the decision, and what was reported after it.
fn history(pack: &CheckedPack, decision: Decision, after: Vec<Fact>) -> History {
    let mut records = records(opened());
    let bodies = [Body::Decision(Box::new(decision))]
        .into_iter()
        .chain(after.into_iter().map(Body::Fact));
    for body in bodies {
        let position = Position(u64::try_from(records.len()).unwrap());
        let recorded_on = match &body {
            Body::Fact(fact) => fact.date,
            Body::Decision(decision) => decision.as_of,
        };
        records.push(Record {
            position,
            recorded_on,
            body,
        });
    }
    History::of(pack, episode(), records)
}

fn said(pack: &CheckedPack, history: &History, as_of: &str) -> Vec<String> {
    let questions = wanted(pack, history, day(as_of));
    questions
        .iter()
        .map(|question| {
            format!(
                "{} {:?}: {}",
                question.due,
                question.of,
                question.wording(pack, "en")
            )
        })
        .collect()
}

fn check(after: Vec<Fact>, as_of: &str, expected: &[&str]) {
    let pack = pack();
    let history = history(&pack, begun(&pack, Vec::new(), Vec::new()), after);
    assert_eq!(said(&pack, &history, as_of), expected, "as of {as_of}");
}

fn morning(of: &str, date: &str, readings: Vec<Reading>) -> Fact {
    fact(
        date,
        FactKind::MorningAfter(MorningAfter {
            session_date: day(of),
            session_number: None,
            readings,
        }),
    )
}

#[test]
fn before_anything_is_known_screening_and_assessment_are_due() {
    let pack = pack();
    let history = History::of(&pack, episode(), Vec::new());
    assert_eq!(
        said(&pack, &history, "2026-01-06"),
        [
            "2026-01-05 Patient: fever: no / yes",
            "2026-01-05 Clinician: Please measure: lifting range.",
        ]
    );
}

#[test]
fn a_session_is_due_as_often_as_the_phase_says() {
    check(Vec::new(), "2026-01-05", &[]);
    check(
        Vec::new(),
        "2026-01-06",
        &["2026-01-06 Patient: Please report your next session."],
    );
}

#[test]
fn no_session_is_asked_for_once_a_referral_of_the_person_stops_exercise() {
    let refer = |rule: &str| {
        let rule = rule.into();
        fact("2026-01-06", FactKind::PersonRefer { rule })
    };
    check(vec![refer("fever-refer")], "2026-01-06", &[]);
    check(
        vec![refer("range-refer")],
        "2026-01-06",
        &["2026-01-06 Patient: Please report your next session."],
    );
}

#[test]
fn a_morning_after_is_due_the_day_after_and_for_a_week() {
    let after = || vec![session("2026-01-06", 2, &[("turn-hold", 2)])];
    let asked = "2026-01-07 Patient: How was it the morning after the session of 2026-01-06?";
    let next = "2026-01-07 Patient: Please report your next session.";
    check(after(), "2026-01-06", &[]);
    check(after(), "2026-01-07", &[asked, next]);
    check(after(), "2026-01-13", &[asked, next]);
    check(after(), "2026-01-14", &[next]);
    let mut reported = after();
    reported.push(morning(
        "2026-01-06",
        "2026-01-07",
        vec![number("pain next morning", 2)],
    ));
    check(reported, "2026-01-07", &[next]);
    let mut empty = after();
    empty.push(morning("2026-01-06", "2026-01-07", Vec::new()));
    check(
        empty,
        "2026-01-07",
        &["2026-01-07 Patient: pain next morning, from 0 to 10", next],
    );
}

#[test]
fn of_two_sessions_a_day_the_last_has_the_morning_after() {
    let mut second = session("2026-01-06", 2, &[("turn-hold", 2)]);
    if let FactKind::Session(session) = &mut second.kind {
        session.number = 2;
    }
    let pack = pack();
    let after = vec![session("2026-01-06", 2, &[("turn-hold", 2)]), second];
    let history = history(&pack, begun(&pack, Vec::new(), Vec::new()), after);
    let mornings: Vec<Wanted> = wanted(&pack, &history, day("2026-01-07"))
        .into_iter()
        .map(|question| question.what)
        .filter(|what| matches!(what, Wanted::MorningAfter(..)))
        .collect();
    assert_eq!(mornings, [Wanted::MorningAfter(day("2026-01-06"), 2)]);
}

#[test]
fn a_value_lacking_in_a_session_is_asked_for() {
    let mut lacking = session("2026-01-06", 2, &[("turn-hold", 2)]);
    if let FactKind::Session(session) = &mut lacking.kind {
        session.readings.clear();
        for exercise in &mut session.exercises {
            exercise.readings.clear();
        }
    }
    let mut older = lacking.clone();
    older.date = day("2026-01-05");
    check(
        vec![older, lacking],
        "2026-01-06",
        &[
            "2026-01-06 Patient: pain before session, from 0 to 10",
            "2026-01-06 Patient: pain during exercise, from 0 to 10",
            "2026-01-06 Patient: How was it the morning after the session of 2026-01-05?",
        ],
    );
}

#[test]
fn a_stale_value_is_due_again_the_day_after_it_went_stale() {
    let after = || vec![session("2026-02-01", 2, &[("turn-hold", 2)])];
    let measure = "2026-02-03 Clinician: Please measure: lifting range.";
    let next = "2026-02-02 Patient: Please report your next session.";
    let morning = "2026-02-02 Patient: How was it the morning after the session of 2026-02-01?";
    check(after(), "2026-02-02", &[morning, next]);
    check(after(), "2026-02-03", &[morning, next, measure]);
}

#[test]
fn what_the_last_decision_wants_of_a_clinician_stays_until_it_is_done() {
    let pack = pack();
    let ask = |what| Ask {
        what,
        of: Reporter::Clinician,
        by: day("2026-01-05"),
        rule: None,
    };
    let asks = vec![
        ask(Wanted::Clearance("fever-refer".into())),
        ask(Wanted::Clearance("range-refer".into())),
        ask(Wanted::Confirmation(Position(0))),
        ask(Wanted::Review),
        ask(Wanted::Placement("reach".into())),
        ask(Wanted::Measure("lifting range".into())),
    ];
    let open = |after| {
        let decision = begun(&pack, asks.clone(), vec!["fever-refer".into()]);
        let history = history(&pack, decision, after);
        let questions = wanted(&pack, &history, day("2026-01-05"));
        questions
            .into_iter()
            .map(|question| question.text.to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        open(Vec::new()),
        [
            "ask.review",
            "ask.clearance",
            "ask.confirmation",
            "ask.placement"
        ]
    );
    let confirm = FactKind::Directive(Directive {
        who: "an invented clinician".into(),
        why: "looked at".into(),
        until: None,
        clinic_wide: false,
        order: Order::Confirm,
    });
    assert_eq!(
        open(vec![fact("2026-01-05", confirm)]),
        ["ask.review", "ask.clearance", "ask.placement"]
    );
}

#[test]
fn each_question_has_its_wording() {
    let pack = pack();
    let question = |what, text: &str| {
        let (due, of) = (day("2026-01-06"), Reporter::Patient);
        Question {
            due,
            of,
            what,
            text: text.into(),
            rule: None,
        }
    };
    let questions = [
        question(Wanted::Measure("lifting range".into()), "ask.scale"),
        question(Wanted::Measure("pain before session".into()), "ask.scale"),
        question(Wanted::Measure("fever".into()), "ask.choices"),
        question(Wanted::Measure("gone".into()), "ask.measure"),
        question(
            Wanted::MorningAfter(day("2026-01-05"), 1),
            "ask.morning-after",
        ),
        question(Wanted::Session, "ask.session"),
        question(Wanted::Review, "ask.review"),
        question(Wanted::Clearance("fever-refer".into()), "ask.clearance"),
        question(Wanted::SignOff, "ask.sign-off"),
        question(Wanted::Confirmation(Position(0)), "ask.confirmation"),
        question(Wanted::Placement("reach".into()), "ask.placement"),
    ];
    let lines = questions
        .iter()
        .map(|question| format!("{}\n", question.wording(&pack, "en")));
    golden("wanted/wordings.txt", &lines.collect::<String>());
}

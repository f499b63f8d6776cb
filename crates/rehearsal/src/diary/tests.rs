//! Proves that a session told relative to a prescription becomes exactly the sets prescribed.

use super::*;

fn number(units: i64) -> RowValue {
    RowValue::Number(Milli::whole(units))
}

fn plan(rest: bool, exercises: Vec<ExercisePlan>) -> SessionPlan {
    SessionPlan {
        date: jiff::civil::date(2026, 1, 6),
        number: 1,
        readings: Vec::new(),
        rest: rest.then(Vec::new),
        exercises,
    }
}

fn prescribed() -> Vec<Prescribed> {
    vec![
        Prescribed {
            exercise: "a".into(),
            dose: vec![
                (Variable::Sets, number(3)),
                (Variable::Reps, number(8)),
                (Variable::HoldTime, number(1)),
            ],
        },
        Prescribed {
            exercise: "b".into(),
            dose: vec![(Variable::Reps, number(10))],
        },
    ]
}

fn exercises(plan: &SessionPlan) -> Vec<ExerciseReport> {
    match plan.resolve(&prescribed()).kind {
        FactKind::Session(session) => session.exercises,
        other => panic!("{other:?}"),
    }
}

#[test]
fn as_prescribed_is_every_set_with_its_repetitions_and_hold() {
    let got = exercises(&plan(true, Vec::new()));
    assert_eq!(got.len(), 2);
    assert_eq!(
        got[0].sets,
        vec![
            SetDone {
                reps: Some(8),
                hold_s: Some(1)
            };
            3
        ]
    );
    assert_eq!(
        got[1].sets,
        vec![SetDone {
            reps: Some(10),
            hold_s: None
        }]
    );
}

#[test]
fn what_is_told_by_name_replaces_what_was_prescribed() {
    let skipped = ExercisePlan {
        exercise: "a".into(),
        how: How::SkippedForPain,
        readings: Vec::new(),
    };
    let got = exercises(&plan(true, vec![skipped]));
    assert_eq!(got.len(), 2);
    let a = got.iter().find(|report| &*report.exercise == "a").unwrap();
    assert_eq!((a.done, a.sets.len()), (Done::SkippedForPain, 0));
}

#[test]
fn only_those_named_leaves_the_others_out() {
    let sets = vec![SetDone {
        reps: Some(5),
        hold_s: None,
    }];
    let short = ExercisePlan {
        exercise: "b".into(),
        how: How::Sets(sets.clone()),
        readings: Vec::new(),
    };
    let got = exercises(&plan(false, vec![short]));
    assert_eq!(got.len(), 1);
    assert_eq!(got[0].sets, sets);
}

#[test]
fn an_answer_needs_an_open_proposal() {
    let answer = Entry::SignOff {
        date: jiff::civil::date(2026, 1, 6),
        accepted: true,
        who: "somebody".into(),
    };
    assert_eq!(answer.resolve(&[], None), None);
    let fact = answer.resolve(&[], Some(DecisionNo(4))).unwrap();
    assert!(matches!(
        fact.kind,
        FactKind::SignOff {
            decision: DecisionNo(4),
            accepted: true,
            ..
        }
    ));
}

//! Proves on random courses that what admission lets pass can be decided, prescribed, written, explained and asked about,
//! and that every decision is made again the same.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

use super::*;
use crate::decide::{Next, decide, next};
use crate::explain::{View, explain};
use crate::fact::{
    Assessment, Body, DecisionNo, Directive, Done, ExerciseReport, MorningAfter, Order, Position,
    Reading, Session, SetDone, Value,
};
use crate::history::History;
use crate::prescription::prescription;
use crate::recompute::{Recomputed, recompute};
use crate::sample::{choice, day, episode, fact, number, pack, push};
use crate::sheet::sheet;
use crate::wanted::wanted;
use proptest::prelude::*;
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::{Milli, Variable};

/// One thing that happens on a day, or a question asked.
#[derive(Clone, Debug)]
enum Step {
    Record(u8, FactKind),
    Ask(u8),
}

fn date(offset: u8) -> Date {
    day("2026-01-05").saturating_add(i32::from(offset).days())
}

fn pain() -> impl Strategy<Value = Vec<Reading>> {
    prop_oneof![
        1 => Just(Vec::new()),
        1 => Just(vec![Reading { measure: "pain during exercise".into(), value: Value::CouldNot }]),
        6 => (0_i64..9).prop_map(|units| vec![number("pain during exercise", units)]),
    ]
}

fn report(exercise: &'static str) -> impl Strategy<Value = ExerciseReport> {
    (0_u8..6, pain()).prop_map(move |(done, readings)| {
        let (done, reps) = match done {
            0 => (Done::SkippedForPain, None),
            1 => (Done::SkippedOtherwise, None),
            2 => (Done::Done, Some(4)),
            _ => (Done::Done, Some(14)),
        };
        let set = SetDone {
            reps,
            hold_s: Some(10),
        };
        let sets = if reps.is_some() {
            vec![set; 3]
        } else {
            Vec::new()
        };
        let readings = if done == Done::SkippedOtherwise {
            Vec::new()
        } else {
            readings
        };
        ExerciseReport {
            exercise: exercise.into(),
            done,
            sets,
            readings,
        }
    })
}

fn session() -> impl Strategy<Value = FactKind> {
    let exercises = (
        report("turn-hold"),
        report("turn-band"),
        report("lift-active"),
    );
    (1_u8..3, exercises, 0_i64..5).prop_map(|(number_of_day, (hold, band, lift), before)| {
        FactKind::Session(Session {
            number: number_of_day,
            followed: None,
            readings: vec![number("pain before session", before)],
            exercises: vec![hold, band, lift],
        })
    })
}

fn order() -> impl Strategy<Value = Order> {
    let reps = |units| RowValue::Number(Milli::whole(units));
    prop_oneof![
        Just(Order::Hold),
        Just(Order::Pause),
        Just(Order::NewBaseline),
        Just(Order::Discharge),
        Just(Order::Reopen),
        Just(Order::Confirm),
        Just(Order::Clear {
            rules: vec!["fever-refer".into(), "range-refer".into()]
        }),
        Just(Order::LeaveOut {
            exercise: "lift-active".into()
        }),
        Just(Order::Add {
            exercise: "turn-band".into()
        }),
        Just(Order::Place {
            phase: "moving".into(),
            places: vec![("turn-band".into(), Vec::new())]
        }),
        Just(Order::Place {
            phase: "quiet".into(),
            places: Vec::new()
        }),
        (0_u64..30).prop_map(|position| Order::Withdraw {
            directive: Position(position)
        }),
        (5_i64..13).prop_map(move |units| Order::Cap {
            exercise: None,
            variable: Variable::Reps,
            at_most: reps(units),
        }),
    ]
}

fn directive() -> impl Strategy<Value = FactKind> {
    (order(), prop::option::of(0_u8..60)).prop_map(|(order, until)| {
        let (who, why) = ("an invented clinician".into(), "because".to_owned());
        FactKind::Directive(Directive {
            who,
            why,
            until: until.map(date),
            clinic_wide: false,
            order,
        })
    })
}

fn kind() -> impl Strategy<Value = FactKind> {
    let morning = (0_u8..40, prop::option::of(0_i64..9)).prop_map(|(of, units)| {
        let readings = units
            .map(|units| number("pain next morning", units))
            .into_iter()
            .collect();
        FactKind::MorningAfter(MorningAfter {
            session_date: date(of),
            session_number: None,
            readings,
        })
    });
    let assessment =
        (prop::option::of(10_i64..180), prop::option::of(30_i64..180)).prop_map(|(lift, easy)| {
            let lift = lift.map(|units| number("lifting range", units));
            let easy = easy.map(|units| number("comfortable range", units));
            let readings = lift.into_iter().chain(easy).collect();
            FactKind::Assessment(Assessment {
                readings,
                other_side: Vec::new(),
                other_side_sound: false,
            })
        });
    let sign_off = (0_u32..12, any::<bool>()).prop_map(|(decision, accepted)| FactKind::SignOff {
        decision: DecisionNo(decision),
        accepted,
        who: "an invented clinician".into(),
    });
    let void = (0_u64..40).prop_map(|position| {
        FactKind::Correction(Correction {
            of: Position(position),
            who: "an invented clinician".into(),
            why: "a slip".into(),
            replacement: None,
        })
    });
    let fever = prop_oneof![8 => Just("no"), 1 => Just("yes")];
    prop_oneof![
        8 => session(),
        6 => morning,
        3 => assessment,
        3 => fever.prop_map(|word| FactKind::Screening(vec![choice("fever", word)])),
        1 => Just(FactKind::Event("fall".into())),
        1 => Just(FactKind::PersonRefer { rule: "fever-refer".into() }),
        2 => directive(),
        1 => sign_off,
        2 => void,
    ]
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        3 => (0_u8..40, kind()).prop_map(|(on, kind)| Step::Record(on, kind)),
        1 => (0_u8..40).prop_map(Step::Ask),
    ];
    let begun = [
        Step::Record(0, FactKind::Screening(vec![choice("fever", "no")])),
        Step::Record(
            0,
            FactKind::Assessment(Assessment {
                readings: vec![number("lifting range", 100)],
                other_side: Vec::new(),
                other_side_sound: false,
            }),
        ),
        Step::Ask(0),
    ];
    prop::collection::vec(step, 0..40).prop_map(move |mut steps| {
        // Mostly in the order of dates, as life is; late facts come too.
        steps.sort_by_key(|step| match step {
            Step::Record(on, _) | Step::Ask(on) => *on / 4,
        });
        begun.iter().cloned().chain(steps).collect()
    })
}

/// Plays the steps: records what is admitted, decides when asked.
fn play(pack: &CheckedPack, steps: &[Step]) -> History {
    let mut history = History::of(pack, episode(), Vec::new());
    for step in steps {
        match step {
            Step::Record(on, kind) => {
                let given = fact(&date(*on).to_string(), kind.clone());
                let before = Before::new(history.episode(), history.records());
                if admit(pack, &before, &given, day("2026-03-01")).is_ok() {
                    push(pack, &mut history, date(*on), Body::Fact(given));
                }
            }
            Step::Ask(on) => {
                if let Ok(Next::New(decision)) = next(pack, &history, date(*on)) {
                    push(pack, &mut history, date(*on), Body::Decision(decision));
                }
            }
        }
    }
    history
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn what_is_admitted_can_be_decided_and_told(steps in steps(), later in 40_u8..60) {
        let pack = pack();
        let history = play(&pack, &steps);
        prop_assert!(history.next_no() > DecisionNo(0));
        for number in 0..history.next_no().0 {
            let number = DecisionNo(number);
            prop_assert_eq!(recompute(&pack, &history, number), Recomputed::Same);
            let explained = explain(&pack, &history, number, View::Full).unwrap();
            prop_assert_eq!(explained.next_review, history.decision(number).unwrap().1.next_review);
        }
        let as_of = date(later);
        let decision = decide(&pack, &history, as_of);
        let prescription = prescription(&pack, &history, as_of);
        let places: Vec<_> = crate::decide::in_force(&pack, &history, as_of).state.places;
        for item in &prescription.items {
            prop_assert!(places.iter().any(|place| place.exercise == item.exercise));
        }
        prop_assert_eq!(&prescription.cautions, &pack.cautions);
        let text = sheet(&pack, &prescription, &decision, "en");
        let is_filled = !text.contains('{');
        prop_assert!(is_filled, "a placeholder was left: {}", text);
        let questions = wanted(&pack, &history, as_of);
        let left = questions.iter().filter(|question| question.wording(&pack, "en").contains('{')).count();
        prop_assert_eq!(left, 0, "a placeholder was left");
    }
}

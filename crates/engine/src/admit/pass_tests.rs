//! Proves that good facts pass, one by one and in a batch, and how a value that arrives is read.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

use super::tests::{
    TODAY, after, cap, correct, directive, judge, label, ordered, place, said, sign_off, units,
};
use super::*;
use crate::fact::{
    DecisionNo, Done, Equipment, ExerciseReport, Order, Position, Reading, Session, Value,
};
use crate::sample::{day, episode, fact, golden, number, pack, session};
use rungwise_pack::quantity::{Milli, Variable};

#[test]
fn good_facts_pass() {
    let order = |order| fact("2026-01-09", directive(order));
    let away = FactKind::Away {
        until: day("2026-02-01"),
    };
    let full = [(Variable::Reps, units(12)), (Variable::Range, units(90))];
    let fixed = session("2026-01-06", 3, &[("turn-hold", 2)]);
    let skipped = ExerciseReport {
        exercise: "turn-hold".into(),
        done: Done::SkippedForPain,
        sets: Vec::new(),
        readings: vec![Reading {
            measure: "pain during exercise".into(),
            value: Value::CouldNot,
        }],
    };
    let second = Session {
        number: 2,
        followed: Some(DecisionNo(1)),
        readings: Vec::new(),
        exercises: vec![skipped],
    };
    let facts = [
        session("2026-01-09", 2, &[("turn-hold", 1), ("lift-active", 2)]),
        fact("2026-01-08", FactKind::Session(second)),
        fact("2026-01-21", FactKind::Event("fall".into())),
        fact("2025-06-01", FactKind::Event("flare-up".into())),
        fact("2026-01-09", away),
        fact(
            "2026-01-09",
            FactKind::Equipment(Equipment {
                owned: vec!["band".into(), "towel".into()],
                ..Equipment::default()
            }),
        ),
        fact(
            "2026-01-09",
            FactKind::PersonRefer {
                rule: "fever-refer".into(),
            },
        ),
        fact("2026-01-09", correct(0, Some(fixed))),
        fact("2026-01-09", correct(1, None)),
        fact("2026-01-09", sign_off(1)),
        fact(
            "2026-01-09",
            ordered(cap(None, Variable::Reps, units(9)), None, true),
        ),
        order(cap(Some("turn-band"), Variable::Load, label("light"))),
        order(place(
            "quiet",
            &[("lift-active", &full), ("turn-hold", &[])],
        )),
        order(Order::Clear {
            rules: vec!["range-refer".into()],
        }),
        order(Order::Withdraw {
            directive: Position(6),
        }),
    ];
    for fact in &facts {
        assert_eq!(judge(fact), Ok(()), "{fact:?}");
    }
}

#[test]
fn a_batch_is_judged_one_fact_after_the_other() {
    let (pack, episode) = (pack(), episode());
    let report = session("2026-01-09", 2, &[("turn-hold", 1)]);
    let morning = fact(
        "2026-01-10",
        after("2026-01-09", None, vec![number("pain next morning", 2)]),
    );
    let mut before = Before::new(&episode, &[]);
    let refused = admit(&pack, &before, &morning, day(TODAY)).unwrap_err();
    assert_eq!(refused[0].wrong.name(), "NO_SUCH_SESSION");
    before.add(&report);
    assert_eq!(admit(&pack, &before, &morning, day(TODAY)), Ok(()));
    before.add(&morning);
    let refused = admit(&pack, &before, &morning, day(TODAY)).unwrap_err();
    assert_eq!(refused[0].wrong.name(), "DUPLICATE_MORNING_AFTER");
}

#[test]
fn an_imported_episode_holds_sessions_from_before_it_opened() {
    let (pack, mut episode) = (pack(), episode());
    episode.imported = true;
    let old = session("2025-12-20", 2, &[("turn-hold", 1)]);
    assert_eq!(
        admit(&pack, &Before::new(&episode, &[]), &old, day(TODAY)),
        Ok(())
    );
}

#[test]
fn an_exercise_added_by_a_directive_may_be_placed() {
    let (pack, episode) = (pack(), episode());
    let added = fact(
        "2026-01-09",
        directive(Order::Add {
            exercise: "turn-band".into(),
        }),
    );
    let placed = fact(
        "2026-01-09",
        directive(place("quiet", &[("turn-band", &[])])),
    );
    let mut before = Before::new(&episode, &[]);
    assert_eq!(
        admit(&pack, &before, &placed, day(TODAY)).unwrap_err()[0]
            .wrong
            .name(),
        "NOT_IN_PHASE"
    );
    before.add(&added);
    assert_eq!(admit(&pack, &before, &placed, day(TODAY)), Ok(()));
}

#[test]
fn a_discharge_makes_room_for_reopening() {
    let (pack, episode) = (pack(), episode());
    let ended = fact("2026-01-09", directive(Order::Discharge));
    let reopened = fact("2026-01-10", directive(Order::Reopen));
    let mut before = Before::new(&episode, &[]);
    before.add(&ended);
    assert_eq!(admit(&pack, &before, &reopened, day(TODAY)), Ok(()));
    before.add(&reopened);
    assert_eq!(
        admit(&pack, &before, &reopened, day(TODAY)).unwrap_err()[0]
            .wrong
            .name(),
        "NOT_DISCHARGED"
    );
}

#[test]
fn a_value_is_read_in_its_measures_own_unit() {
    let pack = pack();
    let read = |name: &str, given: &Given<'_>, unit: &str| match reading(
        &pack,
        "readings[0]",
        name,
        given,
        unit,
    ) {
        Ok(reading) => format!("{} = {:?}\n", reading.measure, reading.value),
        Err(refusal) => said(&refusal),
    };
    let cases = [
        ("lifting range", Given::Text("120"), "deg"),
        ("lifting range", Given::Milli(Milli::whole(120)), "deg"),
        ("lifting range", Given::CouldNot, "deg"),
        ("lifting range", Given::CouldNot, ""),
        ("pain before session", Given::Text("3"), ""),
        ("pain before session", Given::Text("3"), "1"),
        ("pain before session", Given::Text("3.0"), "{score}"),
        ("fever", Given::Choice("no"), ""),
        ("lifting range", Given::Text("2"), "rad"),
        ("lifting range", Given::Text("120"), "degrees"),
        ("lifting range", Given::Text("120"), ""),
        ("lifting range", Given::Text("120.0001"), "deg"),
        ("lifting range", Given::Text("about 120"), "deg"),
        ("lifting range", Given::Text("120.5"), "deg"),
        ("pain before session", Given::Text("3"), "deg"),
        ("fever", Given::Choice("no"), "deg"),
        ("fever", Given::Choice("No"), ""),
        ("fevre", Given::Choice("no"), ""),
    ];
    let text: String = cases
        .iter()
        .map(|(name, given, unit)| read(name, given, unit))
        .collect();
    golden("admit/readings.txt", &text);
}

//! The invariants of design section 10 that deciding answers for, on a handful of courses. The property tests over
//! generated packs stand with the reference evaluator.

use super::course::*;
use crate::decide::decide;
use crate::decision::{Decision, Move};
use crate::fact::{Body, FactKind, Record};
use crate::history::History;
use rungwise_pack::model::Outcome;

const CALM: [&str; 2] = ["turn-hold", "lift-low"];

fn troubled() -> Course {
    let mut course = Course::begun(&[]);
    course.good(1, &CALM);
    course.ask(2);
    course.session(3, 2, &[("turn-hold", 6), ("lift-low", 2)]);
    course.morning(3, 3);
    course.ask(4);
    course.good(5, &CALM);
    course
}

#[test]
fn same_bytes() {
    let course = troubled();
    let one = course.would(6);
    let rebuilt = History::of(
        &course.pack,
        course.history.episode().clone(),
        course.history.records().to_vec(),
    );
    assert_eq!(one, decide(&course.pack, &rebuilt, day(6)));
    assert_eq!(one, decide(&pack(&[]), &course.history, day(6)));
    assert_eq!(format!("{one:?}"), format!("{:?}", course.would(6)));
}

#[test]
fn each_fact_moves_once() {
    let mut course = troubled();
    course.ask(6);
    for on in 7..10 {
        let again = course.ask(on);
        assert!(
            again.moves.iter().all(|one| one.mv == Move::Keep),
            "day {on}: {:?}",
            again.moves
        );
    }
}

#[test]
fn records_in_any_split_of_pushes_give_the_same_index() {
    let course = troubled();
    let records = course.history.records();
    let mut pushed = History::new(&course.pack, course.history.episode().clone());
    for (at, record) in records.iter().enumerate() {
        pushed.push(&course.pack, record.clone());
        let built = History::of(
            &course.pack,
            course.history.episode().clone(),
            records[..=at].to_vec(),
        );
        assert_eq!(
            decide(&course.pack, &pushed, day(6)),
            decide(&course.pack, &built, day(6))
        );
    }
}

fn no_bolder(one: &Decision, two: &Decision) -> bool {
    let rank = |decision: &Decision, line: &str| {
        moved(decision, line).map_or(Move::Withdraw.rank(), Move::rank)
    };
    one.outcome.rank() <= two.outcome.rank()
        && two
            .moves
            .iter()
            .all(|of| rank(one, &of.line) <= of.mv.rank() || one.state.phase != two.state.phase)
}

/// The same history with one number of one session made worse.
fn worsened(course: &Course, record: usize, exercise: usize, by: i64) -> Option<History> {
    let mut records: Vec<Record> = course.history.records().to_vec();
    let Body::Fact(fact) = &mut records[record].body else {
        return None;
    };
    let FactKind::Session(session) = &mut fact.kind else {
        return None;
    };
    let readings = &mut session.exercises.get_mut(exercise)?.readings;
    *readings = vec![number("pain", by)];
    let episode = course.history.episode().clone();
    Some(History::of(&course.pack, episode, records))
}

#[test]
fn caution_is_monotone() {
    let course = troubled();
    let mut compared = 0;
    for record in 0..course.history.records().len() {
        for exercise in 0..2 {
            let mut before: Option<Decision> = None;
            for pain in 0..=10 {
                let Some(history) = worsened(&course, record, exercise, pain) else {
                    continue;
                };
                let decision = decide(&course.pack, &history, day(6));
                if let Some(before) = &before {
                    assert!(no_bolder(&decision, before), "record {record} pain {pain}");
                    compared += 1;
                }
                before = Some(decision);
            }
        }
    }
    assert!(compared > 50);
}

#[test]
fn silence_never_progresses() {
    let course = troubled();
    let records = course.history.records().to_vec();
    let mut compared = 0;
    for at in 0..records.len() {
        let mut silent = records.clone();
        let Body::Fact(fact) = &mut silent[at].body else {
            continue;
        };
        let FactKind::Session(session) = &mut fact.kind else {
            continue;
        };
        for report in &mut session.exercises {
            report.readings.clear();
        }
        let episode = course.history.episode().clone();
        let without = decide(
            &course.pack,
            &History::of(&course.pack, episode, silent),
            day(6),
        );
        // Whatever goes up without the values goes up with every possible one in their place.
        for pain in 0..=10 {
            let first = worsened(&course, at, 0, pain).unwrap();
            let with = decide(&course.pack, &first, day(6));
            if without
                .moves
                .iter()
                .any(|one| &*one.line == "turn" && one.mv > Move::Keep)
            {
                assert!(
                    moved(&with, "turn") > Some(Move::Keep),
                    "record {at} pain {pain}"
                );
            }
            compared += 1;
        }
    }
    assert!(compared > 20);
}

#[test]
fn fail_closed_a_measure_that_nobody_reports_holds_nothing_up_but_raises_nothing() {
    let mut course = Course::begun(&[]);
    course.session(1, 1, &[("turn-hold", 1), ("lift-low", 1)]);
    let decision = course.ask(30);
    assert!(decision.outcome.rank() <= Outcome::Continue.rank());
    assert!(decision.moves.iter().all(|one| one.mv <= Move::Keep));
}

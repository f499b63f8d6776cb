//! Proves what a pack's impact tells of people who are there: nothing where the pack is the same, the change and its sentence
//! where one limit is another, and what becomes of prescriptions and directives.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

mod support;

use jiff::civil::Date;
use rungwise_engine::fact::{Body, Directive, Fact, FactKind, Order, Position, Record};
use rungwise_engine::history::History;
use rungwise_pack::model::{CheckedPack, Reporter};
use rungwise_pack::source::{SourceFiles, is_diary};
use rungwise_rehearsal::diary;
use rungwise_rehearsal::impact::{Direction, Impact, impact};
use rungwise_rehearsal::play;

const PACK: &str = "achilles-midportion";

/// Every diary of a pack as it went.
fn courses(name: &str) -> Vec<(String, History)> {
    let pack = support::pack(name);
    let files = support::files(name);
    let diaries = files.files().iter().filter(|file| is_diary(&file.name));
    diaries
        .map(|file| {
            let diary = diary::read(&pack, &file.name, &file.text).expect("a diary");
            (file.name.clone(), play(&pack, &diary).history)
        })
        .collect()
}

/// The pack with its texts changed; something must have been.
fn edited(change: impl Fn(&str, &str) -> String) -> CheckedPack {
    let files = support::files(PACK);
    let files = files.files().iter().filter(|one| !is_diary(&one.name));
    let before: Vec<(String, String)> = files
        .map(|one| (one.name.clone(), one.text.clone()))
        .collect();
    let changed = before
        .iter()
        .map(|(name, text)| (name.clone(), change(name, text)));
    let changed: Vec<(String, String)> = changed.collect();
    assert_ne!(changed, before);
    let checked = rungwise_pack::check(&SourceFiles::new(changed));
    checked
        .pack
        .unwrap_or_else(|| panic!("{:?}", checked.diagnostics))
}

/// The pack with another limit on pain after a session.
fn limited_to(most: &str) -> CheckedPack {
    let limit = |most: &str| format!("\"pain after session at most {most}\"");
    edited(|_, text| text.replace(&limit("5"), &limit(most)))
}

fn last_date(history: &History) -> Date {
    history.last_decision().expect("a decision").2.as_of
}

fn of(history: &History, newer: &CheckedPack) -> Impact {
    let older = support::pack(PACK);
    impact(&older, newer, history, Some(last_date(history)))
}

#[test]
fn a_pack_makes_every_past_decision_of_its_own_again() {
    for name in support::packs() {
        let pack = support::pack(&name);
        let mut decisions = 0;
        for (diary, history) in courses(&name) {
            let found = impact(&pack, &pack, &history, Some(last_date(&history)));
            assert_eq!(found.past, [], "{name} {diary}");
            let today = found.today.map(|today| today.is_another());
            assert!(!today.unwrap_or(false), "{name} {diary}");
            decisions += found.decisions;
        }
        assert!(decisions > 100, "{name}: {decisions}");
    }
}

#[test]
fn a_looser_limit_is_bolder_and_a_stricter_one_more_cautious() {
    let (looser, stricter) = (limited_to("7"), limited_to("2"));
    let (mut bolder, mut cautious) = (0, 0);
    for (diary, history) in courses(PACK) {
        for change in of(&history, &looser).past {
            assert_ne!(
                change.change.direction,
                Direction::Cautious,
                "{diary} {change:?}"
            );
            bolder += 1;
        }
        for change in of(&history, &stricter).past {
            assert_ne!(
                change.change.direction,
                Direction::Bolder,
                "{diary} {change:?}"
            );
            cautious += 1;
        }
    }
    assert!(
        bolder > 0 && cautious > 0,
        "{bolder} bolder, {cautious} more cautious"
    );
}

#[test]
fn an_exercise_that_is_gone_is_left_out_and_its_directives_bind_nothing() {
    let newer = edited(|_, text| text.replace("seated-raise", "raise-seated"));
    let older = support::pack(PACK);
    let (_, history) = courses(PACK)
        .into_iter()
        .find(|(_, history)| {
            let state = &history.last_decision().expect("a decision").2.state;
            let mut places = state.places.iter();
            places.any(|place| &*place.exercise == "seated-raise")
        })
        .expect("a diary that ends with the exercise in force");
    let on = last_date(&history);
    let mut records = history.records().to_vec();
    let position = Position(records.last().unwrap().position.0 + 1);
    records.push(Record {
        position,
        recorded_on: on,
        body: Body::Fact(Fact {
            date: on,
            by: Reporter::Clinician,
            kind: FactKind::Directive(Directive {
                who: "invented-clinician".into(),
                why: "for a test".into(),
                until: None,
                clinic_wide: false,
                order: Order::Cap {
                    exercise: Some("seated-raise".into()),
                    variable: rungwise_pack::quantity::Variable::Reps,
                    at_most: rungwise_pack::model::RowValue::Number(
                        rungwise_pack::quantity::Milli(8_000),
                    ),
                },
            }),
        }),
    });
    let history = History::of(&older, history.episode().clone(), records);
    let today = impact(&older, &newer, &history, Some(on))
        .today
        .expect("a prescription");
    assert_eq!(today.unmapped, ["seated-raise".into()]);
    assert_eq!(today.unbound, [position]);
    assert!(today.sheet_again && today.is_another());
    let same = impact(&older, &older, &history, Some(on))
        .today
        .expect("a prescription");
    assert!(!same.is_another(), "{same:?}");
}

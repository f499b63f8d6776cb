//! An invented pack and invented facts for the tests of this crate.
//!
//! Leaves to others: proving anything.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "for tests only, which may fail loudly and read golden texts"
)]

use crate::decide::decide;
use crate::fact::{
    Assessment, Body, Done, Episode, ExerciseReport, Fact, FactKind, MorningAfter, Position,
    Reading, Record, Session, SetDone, Value,
};
use crate::history::History;
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, Reporter};
use rungwise_pack::quantity::Milli;
use rungwise_pack::source::SourceFiles;

/// The invented pack.
pub(crate) fn pack() -> CheckedPack {
    let files = [
        ("pack.toml", include_str!("sample/pack.toml")),
        ("measures.toml", include_str!("sample/measures.toml")),
        ("screening.toml", include_str!("sample/screening.toml")),
        ("phases.toml", include_str!("sample/phases.toml")),
        ("exercises.toml", include_str!("sample/exercises.toml")),
        ("text/en.toml", include_str!("sample/text-en.toml")),
        ("text/nl.toml", include_str!("sample/text-nl.toml")),
    ];
    let files = files
        .into_iter()
        .map(|(name, text)| (name.to_owned(), text.to_owned()));
    let checked = rungwise_pack::check(&SourceFiles::new(files.collect()));
    match checked.pack {
        Some(pack) => pack,
        None => {
            let said: Vec<String> = checked
                .diagnostics
                .iter()
                .map(|found| format!("{}:{}: {}", found.file, found.line, found.message))
                .collect();
            panic!("the invented pack is refused:\n{}", said.join("\n"))
        }
    }
}

/// A date written as text.
pub(crate) fn day(text: &str) -> Date {
    text.parse().unwrap()
}

/// An invented episode that opened on 2026-01-05.
pub(crate) fn episode() -> Episode {
    Episode {
        opened_on: day("2026-01-05"),
        born_on: Some(day("1970-02-28")),
        imported: false,
    }
}

/// A fact by the patient, or by a clinician where only they may say it.
pub(crate) fn fact(date: &str, kind: FactKind) -> Fact {
    let by = match kind {
        FactKind::Directive(_) | FactKind::SignOff { .. } | FactKind::Assessment(_) => {
            Reporter::Clinician
        }
        _ => Reporter::Patient,
    };
    Fact {
        date: day(date),
        by,
        kind,
    }
}

/// Facts as records at positions 0, 1, 2 …, each recorded on the day it happened.
pub(crate) fn records(facts: Vec<Fact>) -> Vec<Record> {
    let records = facts.into_iter().enumerate();
    records
        .map(|(at, fact)| Record {
            position: Position(at.try_into().unwrap()),
            recorded_on: fact.date,
            body: Body::Fact(fact),
        })
        .collect()
}

/// A number read for a measure.
pub(crate) fn number(measure: &str, units: i64) -> Reading {
    Reading {
        measure: measure.into(),
        value: Value::Number(Milli::whole(units)),
    }
}

/// A choice read for a measure.
pub(crate) fn choice(measure: &str, word: &str) -> Reading {
    Reading {
        measure: measure.into(),
        value: Value::Choice(word.into()),
    }
}

/// The first session of a day: each exercise with its pain, three sets of 10 repetitions held 10 s.
pub(crate) fn session(date: &str, before: i64, exercises: &[(&str, i64)]) -> Fact {
    let exercises = exercises.iter().map(|(exercise, pain)| ExerciseReport {
        exercise: (*exercise).into(),
        done: Done::Done,
        sets: vec![
            SetDone {
                reps: Some(12),
                hold_s: Some(10)
            };
            3
        ],
        readings: vec![number("pain during exercise", *pain)],
    });
    let kind = FactKind::Session(Session {
        number: 1,
        followed: None,
        readings: vec![number("pain before session", before)],
        exercises: exercises.collect(),
    });
    fact(date, kind)
}

/// An invented course: begun, one good session, then one over a limit, each with its morning after.
pub(crate) fn course(pack: &CheckedPack) -> History {
    let mut history = History::of(pack, episode(), Vec::new());
    let assessment = Assessment {
        readings: vec![number("lifting range", 112)],
        other_side: Vec::new(),
        other_side_sound: false,
    };
    let morning = |of: &str, date: &str, pain| {
        let readings = vec![number("pain next morning", pain)];
        let after = MorningAfter {
            session_date: day(of),
            session_number: None,
            readings,
        };
        fact(date, FactKind::MorningAfter(after))
    };
    let days = [
        (
            "2026-01-05",
            vec![
                fact(
                    "2026-01-05",
                    FactKind::Screening(vec![choice("fever", "no")]),
                ),
                fact("2026-01-05", FactKind::Assessment(assessment)),
            ],
        ),
        (
            "2026-01-07",
            vec![
                session("2026-01-06", 2, &[("turn-hold", 2), ("lift-active", 1)]),
                morning("2026-01-06", "2026-01-07", 2),
            ],
        ),
        (
            "2026-01-09",
            vec![
                session("2026-01-08", 2, &[("turn-hold", 5), ("lift-active", 2)]),
                morning("2026-01-08", "2026-01-09", 3),
            ],
        ),
    ];
    for (as_of, facts) in days {
        for fact in facts {
            push(pack, &mut history, fact.date, Body::Fact(fact));
        }
        let decision = decide(pack, &history, day(as_of));
        push(
            pack,
            &mut history,
            day(as_of),
            Body::Decision(Box::new(decision)),
        );
    }
    history
}

/// Adds what was recorded on a day at the next position.
pub(crate) fn push(pack: &CheckedPack, history: &mut History, recorded_on: Date, body: Body) {
    let position = Position(u64::try_from(history.records().len()).unwrap());
    history.push(
        pack,
        Record {
            position,
            recorded_on,
            body,
        },
    );
}

/// Compares a text with its golden file; `UPDATE_GOLDEN=1` writes it anew.
pub(crate) fn golden(name: &str, actual: &str) {
    let path = format!("{}/src/{name}", env!("CARGO_MANIFEST_DIR"));
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&path, actual).unwrap();
    }
    let expected = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        expected == actual,
        "`{name}` differs (UPDATE_GOLDEN=1 writes it anew); now it is:\n{actual}"
    );
}

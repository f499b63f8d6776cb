//! Check values of isometric and slow work: time under tension, and a hold at a share of full effort.
//!
//! Leaves to others: estimated maximum (`super::strength`).

use crate::worked::{Worked, assessed, number, small_with};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::decision::Verdict;
use rungwise_engine::fact::{
    Body, Done, Episode, ExerciseReport, Fact, FactKind, Position, Reading, Session, SetDone, Value,
};
use rungwise_pack::model::{CheckedPack, Outcome, Reporter};
use rungwise_tests::play::Played;

const OPENED: Date = date(2026, 1, 5);

/// The small pack, its first exercise with these rows; a rule reads each of two sentences.
fn pack(rows: &[(&str, &str)], count: usize, sentences: [&str; 2]) -> CheckedPack {
    small_with(|name, text| match name {
        "measures.toml" => {
            text + "\n[[measure]]\nname = \"time\"\ncomputed = \"time under tension\"\nunit = \"s\"\n"
        }
        "exercises.toml" => {
            let row = |(variable, value): &(&str, &str)| {
                format!("variable = \"{variable}\"\nvalues = [{value}]\nsource = \"invented\"\n")
            };
            let ladder: Vec<String> = rows.iter().map(row).collect();
            text.replacen("return_at = 1\n", "", 1)
                .replacen("[\"hold time\"]", "[\"sets\"]", 1)
                .replacen(
                    "variable = \"hold time\"\nvalues = [10, 20, 30]\nsource = \"invented\"\n",
                    &ladder.join("[[line.exercise.ladder]]\n"),
                    1,
                )
        }
        "phases.toml" => {
            let text = text.replace("hold time 20", &format!("sets {count}"));
            let holds = sentences.iter().zip(0..).map(|(sentence, at)| {
                format!("\n[[phase.hold]]\nrule = \"probe-{at}\"\nwhen = \"{sentence}\"\nreason = \"Invented.\"\nsource = \"invented\"\n")
            });
            text.replacen(
                "\n[[phase]]\nphase = \"bands\"",
                &(holds.collect::<String>() + "\n[[phase]]\nphase = \"bands\""),
                1,
            )
        }
        _ => text,
    })
}

/// That a session of these sets comes to so many seconds.
fn gives(row: &str, rows: &[(&str, &str)], set: SetDone, seconds: u32) {
    let sets = rows.iter().find(|(variable, _)| *variable == "sets");
    let count: usize = sets.unwrap().1.parse().unwrap();
    let of =
        |relation: &str| format!("time of er-isometric {relation} {seconds} in the last session");
    let (met, not) = (of("at least"), of("above"));
    let pack = pack(rows, count, [&met, &not]);
    let mut played = Played::new(
        &pack,
        Episode {
            opened_on: OPENED,
            born_on: None,
            imported: false,
        },
    );
    let next = OPENED.checked_add(1.days()).unwrap();
    let mut tell = |at: u64, today: Date, kind: FactKind| {
        let fact = Fact {
            date: today,
            by: Reporter::Clinician,
            kind,
        };
        played.record(Position(at), today, Body::Fact(fact));
        assert_eq!(played.disagreements(today), Vec::<String>::new());
        if at == 1 {
            played.ask(Position(2), today).clone()
        } else {
            played.preview(today)
        }
    };
    let fever = Reading {
        measure: "fever".into(),
        value: Value::Choice("no".into()),
    };
    let begun = tell(1, OPENED, FactKind::Screening(vec![fever]));
    assert_eq!(begun.outcome, Outcome::Begin, "{row}");
    let done = ExerciseReport {
        exercise: "er-isometric".into(),
        done: Done::Done,
        sets: vec![set; count],
        readings: Vec::new(),
    };
    let session = Session {
        number: 1,
        followed: None,
        readings: Vec::new(),
        exercises: vec![done],
    };
    let decision = tell(3, next, FactKind::Session(session));
    let found = ["probe-0", "probe-1"].map(|key| {
        let rule = pack.rule(key).unwrap();
        let mut findings = decision.findings.iter();
        findings
            .find(|finding| finding.rule == rule)
            .unwrap()
            .sentences[0]
            .1
    });
    assert_eq!(
        found,
        [Verdict::Met, Verdict::NotMet],
        "{row}: `{met}` and not `{not}`"
    );
}

fn held(seconds: u16) -> SetDone {
    SetDone {
        reps: None,
        hold_s: Some(seconds),
    }
}

fn repeated(times: u16) -> SetDone {
    SetDone {
        reps: Some(times),
        hold_s: None,
    }
}

/// IS01: Barros 2023 [found: S19]. IS04: Rio 2015 [memory].
#[test]
fn holds_are_under_tension_as_long_as_they_last() {
    gives("IS01", &[("hold time", "32"), ("sets", "3")], held(32), 96);
    gives("IS04", &[("hold time", "45"), ("sets", "5")], held(45), 225);
}

/// IS02: Barros 2023, 2 s + 2 s [found: S19]. IS05: heavy slow resistance, tempo 3-0-3-0 [found: S20]. IS06: tempo notation
/// 3-1-2-0 [memory].
#[test]
fn repetitions_are_under_tension_as_long_as_their_tempo_says() {
    let rows: [(&str, &str, &str, u16, u32); 4] = [
        ("IS02", "\"2-0-2\"", "3", 8, 96),
        (
            "IS02, told in words",
            "{ value = \"slow\", seconds = 4 }",
            "3",
            8,
            96,
        ),
        ("IS05", "\"3-0-3-0\"", "4", 15, 360),
        ("IS06", "\"3-1-2-0\"", "3", 10, 180),
    ];
    for (row, tempo, sets, times, seconds) in rows {
        let reps = times.to_string();
        let ladder = [("reps", &*reps), ("sets", sets), ("tempo", tempo)];
        gives(row, &ladder, repeated(times), seconds);
    }
}

/// IS03: a hold at 70 % of 80 N of full effort is one of 56 N. Barros 2023 / Rio 2015 [found: S19].
#[test]
fn a_hold_at_a_share_of_full_effort() {
    let force = |name: &str| number(name, "N", (0, 600, "1"), "lower", "ratio = true");
    let hold = Worked {
        name: "hold force",
        measures: force("full force") + &force("hold force"),
        higher_is_worse: false,
        beside: "hold force below 1 N",
    };
    let told = assessed(&[("full force", "80"), ("hold force", "56")]);
    for (sentence, wanted) in [
        ("at most 70 % of full force", Verdict::Met),
        ("below 70 % of full force", Verdict::NotMet),
    ] {
        hold.is("IS03", sentence, std::slice::from_ref(&told), wanted);
    }
}

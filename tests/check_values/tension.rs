//! Check values of isometric and slow work: time under tension, and a hold at a share of full effort. And where the load that
//! was lifted is not known.
//!
//! Leaves to others: estimated maximum (`super::strength`).

use crate::worked::{Worked, assessed, number, small_with};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::decision::Verdict;
use rungwise_engine::fact::{
    BandPoint, Body, Directive, Done, Episode, Equipment, ExerciseReport, Fact, FactKind,
    MeasuredBand, Order, Position, Reading, Session, SetDone, Value,
};
use rungwise_pack::model::{CheckedPack, Outcome, Reporter, RowValue};
use rungwise_pack::quantity::{Milli, Variable};
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

/// The small pack with its exercise against a band, whose range a comfortable one may bound; a rule tells whether what was
/// lifted last is known.
fn banded() -> CheckedPack {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/pack/tests-data");
    let line = std::fs::read_to_string(root.join("banded.toml")).unwrap();
    let start = "start = { reps = 8, load = 1.5 }\n";
    let line = line.replacen(
        start,
        &format!("{start}comfortable = \"active elevation\"\n"),
        1,
    );
    small_with(|name, text| {
        let before = |at: &str, new: &str| text.replacen(at, &format!("{new}\n{at}"), 1);
        match name {
            "exercises.toml" => before("[[line]]\nline = \"elevation\"", &line),
            "measures.toml" => {
                let height = number("standing height", "cm", (50, 250, "0.5"), "lower", "");
                let work = "\n[[measure]]\nname = \"work\"\ncomputed = \"volume load\"\nunit = \"N.m\"\n";
                text.clone() + &height + work
            }
            "text/en.toml" => before(
                "\"wall-slide.name\"",
                "\"ir-banded.name\" = \"Inward turn\"\n\"ir-banded.how\" = \"Turn inward.\"",
            ),
            "pack.toml" => before("[sources]", "[bands]\nheight = \"standing height\"\n"),
            "phases.toml" => before(
                "[[phase.regress]]\nrule = \"bands-regress\"",
                "[[phase.hold]]\nrule = \"probe\"\nwhen = \"work of ir-banded below 1000000 in the last session\"\n\
                 reason = \"Invented.\"\nsource = \"invented\"\n",
            )
            .replacen("\"er-banded\", ", "\"er-banded\", \"ir-banded\", ", 1),
            _ => text,
        }
    })
}

/// Whether it is known what was lifted, placed at 70 deg, with these comfortable ranges told before and after.
fn lifted(before: &str, after: Option<&str>) -> Verdict {
    let pack = banded();
    let number = |value: i64| RowValue::Number(Milli::whole(value));
    let place = Order::Place {
        phase: "bands".into(),
        places: vec![("ir-banded".into(), vec![(Variable::Range, number(70))])],
    };
    let owned = Equipment {
        owned: Vec::new(),
        bands: vec![MeasuredBand {
            label: "light".into(),
            rest_length_mm: 1_000,
            points: [(50_000, 8_000), (100_000, 12_000), (200_000, 20_000)]
                .map(|(elongation, force)| BandPoint {
                    elongation: Milli(elongation),
                    force: Milli(force),
                })
                .to_vec(),
            elongation_max: Milli(200_000),
            may_be_doubled: false,
        }],
        room_mm: None,
    };
    let fever = Reading {
        measure: "fever".into(),
        value: Value::Choice("no".into()),
    };
    let done = ExerciseReport {
        exercise: "ir-banded".into(),
        done: Done::Done,
        sets: vec![repeated(8)],
        readings: Vec::new(),
    };
    let session = Session {
        number: 1,
        followed: None,
        readings: Vec::new(),
        exercises: vec![done],
    };
    let told = [
        FactKind::Screening(vec![fever]),
        assessed(&[("standing height", "170"), ("active elevation", before)]),
        FactKind::Equipment(owned),
        FactKind::Directive(Directive {
            who: "an invented clinician".into(),
            why: "to begin here".into(),
            until: None,
            clinic_wide: false,
            order: place,
        }),
    ];
    let later =
        after.map(|after| assessed(&[("standing height", "170"), ("active elevation", after)]));
    let later = later.into_iter().chain([FactKind::Session(session)]);
    let mut played = Played::new(
        &pack,
        Episode {
            opened_on: OPENED,
            born_on: None,
            imported: false,
        },
    );
    let fact = |date: Date, kind: FactKind| {
        Body::Fact(Fact {
            date,
            by: Reporter::Clinician,
            kind,
        })
    };
    for (at, kind) in (1u64..).zip(told) {
        played.record(Position(at), OPENED, fact(OPENED, kind));
    }
    let begun = played.ask(Position(10), OPENED);
    assert_eq!(begun.outcome, Outcome::Begin);
    let mut places = begun.state.places.iter();
    let turn = places.find(|place| &*place.exercise == "ir-banded");
    let held = turn.unwrap().setting.as_ref();
    assert!(
        held.is_some_and(|setting| setting.held().is_some()),
        "{held:?}"
    );
    let next = OPENED.checked_add(1.days()).unwrap();
    for (at, kind) in (11u64..).zip(later) {
        played.record(Position(at), next, fact(next, kind));
    }
    assert_eq!(played.disagreements(next), Vec::<String>::new());
    let decision = played.preview(next);
    let rule = pack.rule("probe").unwrap();
    let mut findings = decision.findings.iter();
    findings
        .find(|finding| finding.rule == rule)
        .unwrap()
        .sentences[0]
        .1
}

/// A band is held otherwise on a shorter way: where a comfortable range bounded it, the load of the place is not what was
/// lifted, and nothing is taken for it.
#[test]
fn what_was_lifted_is_not_known_where_a_comfortable_range_bounded_it() {
    assert_eq!(lifted("80", None), Verdict::Met);
    assert_eq!(lifted("60", None), Verdict::Unknown);
    assert_eq!(lifted("80", Some("60")), Verdict::Unknown);
    assert_eq!(lifted("80", Some("75")), Verdict::Met);
    // What bounded it when it was decided may have bounded it still.
    assert_eq!(lifted("60", Some("80")), Verdict::Unknown);
}

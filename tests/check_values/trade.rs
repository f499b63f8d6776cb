//! Facts of the trade in the ladders, common practice, no source; and who vouches for every number.
//!
//! Leaves to others: how ladders are climbed (`crate::course`).

use crate::person::pack;
use rungwise_pack::model::{Grounds, RowValue};
use rungwise_pack::quantity::{Milli, Variable};
use std::path::Path;

// --- Facts of the trade in the ladders (common practice, no source) ----------------------------

/// The exercises whose load is a torque.
pub(crate) const BANDED: [&str; 6] = [
    "er-band-towel",
    "er-band",
    "ir-band",
    "raise-band",
    "pull-apart",
    "pull-back",
];

fn numbers(exercise: &str, variable: Variable) -> Vec<i64> {
    row(exercise, variable)
        .into_iter()
        .map(|value| match value {
            RowValue::Number(number) => number.0 / 1000,
            RowValue::Label(label) => panic!("{label}"),
        })
        .collect()
}

fn labels(exercise: &str, variable: Variable) -> Vec<String> {
    row(exercise, variable)
        .into_iter()
        .map(|value| match value {
            RowValue::Label(label) => label.to_string(),
            RowValue::Number(number) => panic!("{number}"),
        })
        .collect()
}

fn row(exercise: &str, variable: Variable) -> Vec<RowValue> {
    let pack = pack();
    let exercise = &pack.exercises[pack.exercise(exercise).unwrap().at()];
    let row = exercise.rows.iter().find(|row| row.variable == variable);
    row.unwrap_or_else(|| panic!("{} has no {}", exercise.key, variable.word()))
        .values
        .iter()
        .map(|step| step.value.clone())
        .collect()
}

/// The dose on which an exercise begins.
fn start(exercise: &str, variable: Variable) -> i64 {
    let pack = pack();
    let exercise = &pack.exercises[pack.exercise(exercise).unwrap().at()];
    let at = exercise
        .rows
        .iter()
        .position(|row| row.variable == variable)
        .unwrap();
    let index = exercise.rungs[usize::from(exercise.start)].0[at];
    match &exercise.rows[at].values[usize::from(index)].value {
        RowValue::Number(number) => number.0 / 1000,
        RowValue::Label(label) => panic!("{label}"),
    }
}

#[test]
fn banded_work_begins_at_3_sets_of_8_and_goes_to_15() {
    for exercise in [
        "er-band-towel",
        "er-band",
        "ir-band",
        "raise-band",
        "pull-back",
    ] {
        assert_eq!(
            numbers(exercise, Variable::Reps),
            [8, 10, 12, 15],
            "{exercise}"
        );
        assert_eq!(
            (
                start(exercise, Variable::Sets),
                start(exercise, Variable::Reps)
            ),
            (3, 8),
            "{exercise}"
        );
    }
    for of in &pack().exercises {
        for row in of.rows.iter().filter(|row| row.variable == Variable::Reps) {
            for step in &row.values {
                let fifteen = step.value == RowValue::Number(Milli::whole(15));
                assert_eq!(step.needs.is_some(), fifteen, "{}", of.key);
            }
        }
    }
    assert_eq!(numbers("pull-apart", Variable::Reps), [12, 15]);
    assert_eq!(
        (
            start("pull-apart", Variable::Sets),
            start("pull-apart", Variable::Reps)
        ),
        (3, 12)
    );
}

#[test]
fn three_counts_out_and_three_back_with_a_second_at_the_end_of_raise_pull_apart_and_pull_back() {
    for exercise in ["raise-band", "pull-apart", "pull-back"] {
        assert_eq!(
            labels(exercise, Variable::Tempo),
            ["3 counts out, 3 counts back"]
        );
        assert_eq!(numbers(exercise, Variable::HoldTime), [1]);
    }
    for exercise in ["er-band-towel", "er-band", "ir-band"] {
        assert_eq!(
            labels(exercise, Variable::Tempo),
            ["3 counts out, 3 counts back"]
        );
    }
}

#[test]
fn external_rotation_begins_at_15_to_20_degrees_with_the_elbow_at_the_side() {
    assert_eq!(start("er-band-towel", Variable::Range), 20);
    assert_eq!(numbers("er-band-towel", Variable::Range)[..2], [15, 20]);
    for exercise in ["er-band-towel", "er-band", "ir-band"] {
        assert!(
            cues(exercise).contains(&"cue.elbow-at-side".to_owned()),
            "{exercise}"
        );
    }
}

fn cues(exercise: &str) -> Vec<String> {
    let pack = pack();
    pack.exercises[pack.exercise(exercise).unwrap().at()]
        .cues
        .iter()
        .map(ToString::to_string)
        .collect()
}

#[test]
fn a_band_is_never_slack_and_gets_tighter_by_distance_or_grip() {
    let pack = pack();
    for exercise in [
        "er-band-towel",
        "er-band",
        "er-band-raised",
        "ir-band",
        "raise-band",
        "pull-apart",
        "pull-back",
    ] {
        let cues = cues(exercise);
        assert!(cues.contains(&"cue.no-slack".to_owned()), "{exercise}");
        let anchored = pack.exercises[pack.exercise(exercise).unwrap().at()]
            .equipment
            .iter()
            .any(|e| **e == *"door anchor");
        assert!(
            cues.contains(
                &if anchored {
                    "cue.further"
                } else {
                    "cue.shorter"
                }
                .to_owned()
            ),
            "{exercise}"
        );
    }
    assert!(
        pack.text("en", "cue.no-slack")
            .unwrap()
            .contains("from the very start")
    );
    assert!(
        pack.text("en", "cue.further")
            .unwrap()
            .contains("further from the anchor")
    );
}

/// Three bands of different strength (common practice, no source). A load rises by 2 to 10 % (ACSM 2009, Ratamess, Med Sci
/// Sports Exerc 41:687-708): in the ladder, and from what was obtained to what is set next.
#[test]
fn loads_of_bands_are_torques_in_steps_of_2_to_10_per_cent() {
    let pack = pack();
    for exercise in BANDED {
        let of = &pack.exercises[pack.exercise(exercise).unwrap().at()];
        assert!(of.equipment.contains(&"set of three bands".into()));
        let work = of.band.as_ref().unwrap_or_else(|| panic!("{exercise}"));
        assert_eq!((work.step_min_mpct, work.step_max_mpct), (2_000, 10_000));
        let loads: Vec<i64> = row(exercise, Variable::Load)
            .into_iter()
            .map(|value| match value {
                RowValue::Number(load) => load.0,
                RowValue::Label(label) => panic!("{exercise}: {label}"),
            })
            .collect();
        assert!(loads.len() > 2, "{exercise}");
        for pair in loads.windows(2) {
            let (more, last) = ((pair[1] - pair[0]) * 100, pair[0]);
            assert!(
                more >= 2 * last && more <= 10 * last,
                "{exercise}: {pair:?}"
            );
        }
    }
}

/// Where the geometry is none that can be said there are three bands, each with a tighter setting, and no colours.
#[test]
fn there_are_three_bands_and_no_colours() {
    let wanted = [
        "band 1",
        "band 1 tighter",
        "band 2",
        "band 2 tighter",
        "band 3",
        "band 3 tighter",
    ];
    assert_eq!(labels("er-band-raised", Variable::Load), wanted);
}

/// Tension from the very start of the range, never slack (common practice, no source).
#[test]
fn there_is_tension_where_every_motion_starts() {
    let pack = pack();
    for exercise in BANDED {
        let of = &pack.exercises[pack.exercise(exercise).unwrap().at()];
        let start_mn = of.band.as_ref().map_or(0, |work| work.start_mn_min);
        assert!(start_mn >= 1_000, "{exercise}: {start_mn} mN");
    }
}

#[test]
fn the_raise_is_between_front_and_side_with_the_band_under_the_foot() {
    let cues = cues("raise-band");
    for cue in [
        "cue.between-front-and-side",
        "cue.below-pain",
        "cue.under-foot",
    ] {
        assert!(cues.contains(&cue.to_owned()), "{cue}");
    }
}

#[test]
fn the_pull_apart_starts_low_and_rises() {
    assert_eq!(
        labels("pull-apart", Variable::Position),
        ["hip height", "chest height", "shoulder height"]
    );
}

#[test]
fn the_pull_back_from_a_high_anchor_is_used_early_too() {
    let pack = pack();
    let pull_back = pack.exercise("pull-back").unwrap();
    let phases: Vec<&str> = pack
        .phases
        .iter()
        .filter(|phase| phase.exercises.contains(&pull_back))
        .map(|phase| &*phase.key)
        .collect();
    assert_eq!(phases, ["active-range", "banded-strengthening", "full-use"]);
}

/// Daily holds and daily range (common practice, no source); bands three times a week (Ingwersen 2017: 3 times a week;
/// LP11: novices 2 to 3 days a week, ACSM 2009).
#[test]
fn sessions_a_week() {
    let weeks: Vec<(String, u16)> = pack()
        .phases
        .iter()
        .map(|phase| (phase.key.to_string(), phase.sessions_a_week))
        .collect();
    let wanted = [
        ("isometric", 7),
        ("active-range", 7),
        ("banded-strengthening", 3),
        ("full-use", 3),
    ];
    assert_eq!(
        weeks,
        wanted.map(|(phase, count)| (phase.to_owned(), count))
    );
}

/// Fewer than four exercises to begin with (review of home exercise adherence, doi 10.1055/s-0043-120527); six lines, as
/// many exercises as in Holmgren 2012.
#[test]
fn three_exercises_to_begin_with_and_six_in_all() {
    let pack = pack();
    assert_eq!(pack.phases[0].introduce_max, Some(3));
    assert_eq!(pack.lines.len(), 6);
}

/// The text of a file of the pack.
fn file(name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules/rotator-cuff");
    std::fs::read_to_string(root.join(name)).unwrap()
}

/// What no source states says so where it stands: each ladder row of a fact of the trade, and the others by name.
#[test]
fn facts_of_the_trade_are_marked_as_such() {
    let exercises = file("exercises.toml");
    let facts = [
        ("er-band-towel", "reps"),
        ("er-band-towel", "range"),
        ("er-band-towel", "load"),
        ("er-band-towel", "tempo"),
        ("raise-band", "range"),
        ("raise-band", "hold time"),
        ("pull-apart", "reps"),
        ("pull-apart", "position"),
        ("pull-apart", "hold time"),
        ("pull-back", "hold time"),
    ];
    for (exercise, variable) in facts {
        let after = exercises
            .split_once(&format!("exercise = \"{exercise}\"\n"))
            .unwrap()
            .1;
        let row = after
            .split_once(&format!("variable = \"{variable}\"\n"))
            .unwrap()
            .1;
        let row = row.split_once("\n\n").unwrap().0;
        assert!(
            row.contains("common practice, no source"),
            "{variable} of {exercise}: {row}"
        );
    }
    for (name, fact) in [
        (
            "text/en.toml",
            "tension from the very start and never slack",
        ),
        ("text/en.toml", "between front and side"),
        ("phases.toml", "the routine may be done daily"),
        ("phases.toml", "daily (common practice"),
        ("exercises.toml", "elbow at the side throughout"),
        ("exercises.toml", "is used early too"),
        ("pack.toml", "sixty as the line"),
        ("pack.toml", "asking from sixty on"),
        (
            "pack.toml",
            "a movement that is not comfortable is not pushed",
        ),
    ] {
        let text = file(name).to_lowercase().replace("\n# ", " ");
        let mut blocks = text.split("\n\n");
        assert!(
            blocks
                .any(|block| block.contains(fact) && block.contains("common practice, no source")),
            "{name}: {fact}"
        );
    }
}

// --- Who vouches -------------------------------------------------------------------------------

/// What was recalled and not seen is a judgement, and a judgement names whose it is and that it is to be approved.
#[test]
fn every_number_says_who_vouches_for_it() {
    for sentence in &pack().sentences {
        match &sentence.grounds {
            Grounds::Source { key, states } => {
                assert!(pack().sources.contains_key(key), "{}", sentence.text);
                assert!(
                    !states.is_empty(),
                    "{} names {key} without what it states",
                    sentence.text
                );
                assert!(!states.starts_with("from memory"), "{}", sentence.text);
            }
            Grounds::Judgement { by, why } => {
                assert_eq!(
                    by, "Rungwise founders, to be approved by the clinic's lead",
                    "{}",
                    sentence.text
                );
                assert!(!why.is_empty(), "{}", sentence.text);
            }
        }
    }
}

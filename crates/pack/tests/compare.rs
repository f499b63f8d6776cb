//! What an edit of a pack does is told: loosens, tightens, changes no decision, or cannot be told; and the edit taken back
//! does the opposite.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::too_many_lines,
    reason = "tests may fail; a table of cases is long"
)]

mod support;

use rungwise_pack::compare::{Change, Effect, compare};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use rungwise_pack::{check, diagnostic};

fn edited(file: &str, from: &str, to: &str) -> CheckedPack {
    let small = support::small();
    let files = small.files().iter().map(|one| {
        let text = if one.name == file {
            assert_eq!(
                one.text.matches(from).count(),
                1,
                "`{from}` stands once in {file}"
            );
            one.text.replace(from, to)
        } else {
            one.text.clone()
        };
        (one.name.clone(), text)
    });
    let files = SourceFiles::new(files.collect());
    let checked = check(&files);
    let text = diagnostic::render(&files, &checked.diagnostics, diagnostic::Style::Plain);
    checked.pack.unwrap_or_else(|| panic!("{text}"))
}

fn small() -> CheckedPack {
    check(&support::small()).pack.expect("a sound pack")
}

fn told(changes: &[Change]) -> Vec<String> {
    let text = |change: &Change| {
        let side = |side: &Option<String>| side.clone().unwrap_or_else(|| "-".to_owned());
        let (effect, of) = (change.effect.word(), &change.of);
        format!(
            "{effect}: {of}: {} -> {}",
            side(&change.before),
            side(&change.after)
        )
    };
    changes.iter().map(text).collect()
}

/// An edit (file, from, to) and what is told of it.
const CASES: &[(&str, &str, &str, &str)] = &[
    (
        "phases.toml",
        "sentence = \"pain during exercise at most 4\"",
        "sentence = \"pain during exercise at most 5\"",
        "loosens: limit `pain-during-holds` of phase `holds`: pain during exercise at most 4 -> pain during exercise at most 5",
    ),
    (
        "phases.toml",
        "pain during exercise at most 3 in each of the last 3 sessions",
        "pain during exercise below 3 in each of the last 4 sessions",
        "tightens: enter rule `bands-enter-pain`: pain during exercise at most 3 in each of the last 3 sessions -> pain during exercise below 3 in each of the last 4 sessions",
    ),
    (
        "phases.toml",
        "pain next morning at most 1 above pain before session",
        "pain next morning at most 2 above pain before session",
        "loosens: enter rule `bands-enter-pain`: pain next morning at most 1 above pain before session in each of the last 2 sessions -> pain next morning at most 2 above pain before session in each of the last 2 sessions",
    ),
    (
        "phases.toml",
        "pain next morning above 5 in each of the last 2 sessions",
        "pain next morning above 5 in any of the last 2 sessions",
        "tightens: hold rule `holds-sore-mornings`: pain next morning above 5 in each of the last 2 sessions -> pain next morning above 5 in any of the last 2 sessions",
    ),
    (
        "phases.toml",
        "\"rest pain above 6\"",
        "{ any = [\"rest pain above 6\", \"active elevation below 60 deg\"] }",
        "cannot be told: ease rule `bands-ease`: rest pain above 6 -> any of (rest pain above 6; active elevation below 60 deg)",
    ),
    (
        "phases.toml",
        "in at least 2 exercises pain during exercise above 6 in any of the last 2 sessions",
        "in at least 2 exercises pain during exercise above 6 in any of the last 3 sessions",
        "tightens: regress rule `bands-regress`: in at least 2 exercises pain during exercise above 6 in any of the last 2 sessions -> in at least 2 exercises pain during exercise above 6 in any of the last 3 sessions",
    ),
    (
        "phases.toml",
        "\"at least 1 exercises have reached reps 12\", ",
        "",
        "loosens: discharge rule `bands-discharge`: at least 1 exercises have reached reps 12 -> -",
    ),
    (
        "phases.toml",
        "\"at least 1 exercises have reached reps 12\"",
        "\"at least 2 exercises have reached reps 12\"",
        "tightens: discharge rule `bands-discharge`: at least 1 exercises have reached reps 12 -> at least 2 exercises have reached reps 12",
    ),
    (
        "phases.toml",
        "while = \"irritability is high\"\n",
        "",
        "tightens: limit `pain-morning-bands` of phase `bands`: pain next morning at most 3, while irritability is high -> pain next morning at most 3",
    ),
    (
        "phases.toml",
        "\"irritability no worse than moderate\"",
        "\"irritability is not high\"",
        "changes no decision: enter rule `bands-enter-range`: irritability no worse than moderate -> irritability is not high",
    ),
    (
        "phases.toml",
        "climb_max = 1\n",
        "climb_max = 2\n",
        "loosens: most lines that climb of phase `bands`: 1 -> 2",
    ),
    (
        "phases.toml",
        "aim = \"Build it up.\"",
        "aim = \"Build strength.\"",
        "changes no decision: aim of phase `bands`: Build it up. -> Build strength.",
    ),
    (
        "exercises.toml",
        "when = { all = [\"pain during exercise at most 2 in each of the last 2 sessions\", { none = [\"fever is yes\"] }] }",
        "when = { all = [\"pain during exercise at most 2 in each of the last 2 sessions\", { none = [\"fever is yes\", \"rest pain at least 3\"] }] }",
        "tightens: climb rule `wall-slide-climb`: - -> rest pain at least 3",
    ),
    (
        "exercises.toml",
        "values = [60, 90, 120]",
        "values = [60, 75, 90, 120]",
        "cannot be told: ladder of exercise `wall-slide`: range: 60, 90, 120, returns -> range: 60, 75, 90, 120, returns",
    ),
    (
        "exercises.toml",
        "needs = \"pain during exercise at most 1 in each of the last 2 sessions\"",
        "needs = \"pain during exercise at most 1 in the last session\"",
        "loosens: what reps 15 of exercise `er-banded` needs: pain during exercise at most 1 in each of the last 2 sessions -> pain during exercise at most 1 in the last session",
    ),
    (
        "measures.toml",
        "moderate = \"rest pain at least 4\"",
        "moderate = \"rest pain at least 3\"",
        "tightens: measure `irritability`: rest pain at least 4 -> rest pain at least 3",
    ),
    (
        "measures.toml",
        "fresh_days = 60",
        "fresh_days = 30",
        "cannot be told: measure `active elevation` counts for: 60 days -> 30 days",
    ),
    (
        "pack.toml",
        "days = 7\nsteps = 1",
        "days = 7\nsteps = 2",
        "tightens: lay-off table: 1 steps from 7 days -> 2 steps from 7 days",
    ),
    (
        "pack.toml",
        "sign_off = []",
        "sign_off = [\"PROGRESS\"]",
        "tightens: outcomes that need a clinician: nothing -> PROGRESS",
    ),
    (
        "screening.toml",
        "urgency = \"same day\"",
        "urgency = \"emergency\"",
        "tightens: refer rule `fever`: same day -> emergency",
    ),
];

#[test]
fn what_an_edit_does_is_told() {
    let mut wrong = Vec::new();
    for (file, from, to, expected) in CASES {
        let found = told(&compare(&small(), &edited(file, from, to)).changes);
        if found != [*expected] {
            wrong.push(format!(
                "expected {expected}\nfound    {}",
                found.join("\n         ")
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn an_edit_taken_back_does_the_opposite() {
    for (file, from, to, _) in CASES {
        let (old, new) = (small(), edited(file, from, to));
        let there: Vec<Effect> = effects(&compare(&old, &new).changes);
        let back: Vec<Effect> = effects(&compare(&new, &old).changes);
        let opposite = |effect: &Effect| match effect {
            Effect::Loosens => Effect::Tightens,
            Effect::Tightens => Effect::Loosens,
            same => *same,
        };
        let turned: Vec<Effect> = there.iter().map(opposite).collect();
        assert_eq!(turned, back, "{from} -> {to}");
    }
}

/// How long a repetition takes is read by time under tension, so it is part of what the ladder says.
#[test]
fn another_length_of_a_repetition_cannot_be_told() {
    let loads = "values = [\"light\", \"medium\"]\nsource = \"invented\"";
    let with = |seconds: u32| {
        let row = format!(
            "{loads}\n[[line.exercise.ladder]]\nvariable = \"tempo\"\nvalues = [{{ value = \"slow\", seconds = {seconds} }}]\nsource = \"invented\""
        );
        edited("exercises.toml", loads, &row)
    };
    assert_eq!(
        told(&compare(&with(4), &with(6)).changes),
        [
            "cannot be told: ladder of exercise `er-banded`: tempo: slow (4 s), returns -> tempo: slow (6 s), returns"
        ]
    );
}

fn effects(changes: &[Change]) -> Vec<Effect> {
    changes.iter().map(|change| change.effect).collect()
}

#[test]
fn a_pack_is_never_bolder_than_itself_nor_than_one_that_it_tightens() {
    let same = compare(&small(), &small());
    assert_eq!(same.changes, []);
    assert!(same.is_never_bolder());
    for (file, from, to, expected) in CASES {
        let proved = compare(&small(), &edited(file, from, to)).is_never_bolder();
        let harmless = expected.starts_with("tightens") || expected.starts_with("changes no");
        assert_eq!(proved, harmless, "{expected}");
    }
}

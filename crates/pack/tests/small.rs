//! The small invented pack of `tests-data/small` is accepted without a word, and means what it says.

#![allow(
    clippy::disallowed_methods,
    clippy::expect_used,
    clippy::panic,
    reason = "tests read their fixtures and may fail"
)]

mod support;

use rungwise_pack::diagnostic::{Style, render};
use rungwise_pack::model::{
    Amount, CheckedPack, Compare, Origin, Outcome, Relation, RowValue, RuleKind, Subject, Which,
    Window, Worse,
};
use rungwise_pack::quantity::{Milli, Variable};
use rungwise_pack::source::SourceFiles;
use rungwise_pack::{check, digest};
use support::small;

fn pack() -> CheckedPack {
    let files = small();
    let checked = check(&files);
    assert_eq!(render(&files, &checked.diagnostics, Style::Plain), "");
    checked.pack.expect("no diagnostics, so a pack")
}

#[test]
fn the_head_says_what_the_file_says() {
    let pack = pack();
    assert_eq!(
        (&*pack.id, &*pack.version, &*pack.language),
        ("small", "1.0.0", "en")
    );
    assert_eq!(pack.sign_off, Vec::<Outcome>::new());
    assert_eq!(
        pack.lay_off
            .iter()
            .map(|row| (row.days, row.steps))
            .collect::<Vec<_>>(),
        [(7, 1)]
    );
    assert_eq!(pack.text("en", "cue.elbow"), Some("Elbow at your side."));
    assert_eq!(
        pack.text("xx", "cue.elbow"),
        Some("Elbow at your side."),
        "another language falls back"
    );
}

#[test]
fn rules_stand_screening_first_then_phases_then_exercises() {
    let pack = pack();
    let keys: Vec<&str> = pack.rules.iter().map(|rule| &*rule.key).collect();
    assert_eq!(
        keys,
        [
            "fever",
            "holds-sore-mornings",
            "bands-enter-pain",
            "bands-enter-range",
            "bands-regress",
            "bands-ease",
            "bands-discharge",
            "er-isometric-climb",
            "er-banded-climb",
            "er-banded-bring-back",
            "wall-slide-climb",
        ]
    );
    assert_eq!(
        pack.rules.first().map(|rule| rule.kind),
        Some(RuleKind::Refer { stops: true })
    );
    let banded = pack.exercises.get(1).expect("er-banded");
    assert_eq!(
        pack.rules.get(banded.climb.at()).map(|rule| &*rule.key),
        Some("er-banded-climb")
    );
}

#[test]
fn measures_carry_their_direction_and_origin() {
    let pack = pack();
    let measure = |name: &str| {
        let at = pack.measure(name).expect("declared");
        pack.measures.get(at.at()).expect("in the list")
    };
    assert_eq!(measure("active elevation").worse, Worse::Lower);
    assert_eq!(
        measure("fever").worse,
        Worse::Higher,
        "choices stand best first"
    );
    assert!(matches!(measure("share done").origin, Origin::Computed(_)));
    let Origin::Defined(defined) = &measure("irritability").origin else {
        panic!("defined")
    };
    assert_eq!(
        defined
            .features
            .iter()
            .map(|(choice, _)| choice.0)
            .collect::<Vec<_>>(),
        [1, 2]
    );
}

#[test]
fn sentences_are_understood() {
    let pack = pack();
    let sentence = |text: &str| {
        pack.sentences
            .iter()
            .find(|s| s.text == text)
            .expect("in the pack")
    };
    let each = sentence("pain during exercise at most 3 in each of the last 3 sessions");
    assert_eq!(
        each.relation,
        Relation::Compare(Compare::AtMost, Amount::Fixed(Milli(3000)))
    );
    assert_eq!(each.window, Window::EachOfLast(3));
    let reached = sentence("er-isometric has reached hold time 20");
    let exercise = pack.exercise("er-isometric").expect("declared");
    let value = RowValue::Number(Milli::whole(20));
    assert_eq!(
        reached.subject,
        Subject::Reached {
            which: Which::One(exercise),
            variable: Variable::HoldTime,
            value
        }
    );
    assert_eq!(reached.relation, Relation::Reached);
}

/// The ladder of `er-banded`: reps 8, 10, 12, 15 return; sets 2, 3 stay at 3; load light, medium.
#[test]
fn a_ladder_unrolls_like_an_odometer() {
    let pack = pack();
    let banded = pack.exercises.get(1).expect("er-banded");
    let rungs: Vec<&[u16]> = banded.rungs.iter().map(|rung| rung.0.as_slice()).collect();
    let expected: [[u16; 3]; 12] = [
        [0, 0, 0],
        [1, 0, 0],
        [2, 0, 0],
        [3, 0, 0],
        [0, 1, 0],
        [1, 1, 0],
        [2, 1, 0],
        [3, 1, 0],
        // Load turns: reps return, sets stay full.
        [0, 1, 1],
        [1, 1, 1],
        [2, 1, 1],
        [3, 1, 1],
    ];
    assert_eq!(rungs, expected.each_ref().map(|rung| rung.as_slice()));
    assert_eq!((banded.start, banded.return_at), (0, Some(2)));
    assert_eq!(banded.gives_way, [2, 0], "load, then reps");
}

#[test]
fn the_digest_is_of_names_and_texts_and_not_of_diaries() {
    let files = small();
    let whole: Vec<(String, String)> = files
        .files()
        .iter()
        .map(|file| (file.name.clone(), file.text.clone()))
        .collect();
    let mut backwards = whole.clone();
    backwards.reverse();
    assert_eq!(
        digest(&SourceFiles::new(backwards)),
        digest(&files),
        "order of arrival is nothing"
    );
    let mut diary = whole.clone();
    diary.push(("diaries/a.toml".to_owned(), "x = 1".to_owned()));
    assert_eq!(
        digest(&SourceFiles::new(diary)),
        digest(&files),
        "diaries are left out"
    );
    let mut changed = whole;
    changed.first_mut().expect("a file").1.push('\n');
    assert_ne!(
        digest(&SourceFiles::new(changed)),
        digest(&files),
        "one byte is another pack"
    );
    assert_eq!(pack().digest, digest(&files));
}

/// Worked by hand: SHA-256 of 00 00 00 00 00 00 00 01 `a` 00 00 00 00 00 00 00 02 `bc`, checked with another program
/// (`sha256sum`).
#[test]
fn the_digest_is_the_one_described() {
    let files = SourceFiles::new(vec![("a".to_owned(), "bc".to_owned())]);
    let hex: String = digest(&files)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    assert_eq!(
        hex,
        "3fafa1cf2f19a7c1129beb20cf0983f73a489a221fc0dd2f16d1be292d089205"
    );
}

//! Proves that the sheet says in the pack's words what changed and why, what to do, and what to mind: golden texts.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

use super::*;
use crate::decision::State;
use crate::fact::{DecisionNo, Position};
use crate::prescription::{LimitInForce, prescription};
use crate::sample::{course, day, golden, pack};
use jiff::civil::Date;
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::{Milli, Variable};
use std::collections::BTreeSet;

fn units(units: i64) -> RowValue {
    RowValue::Number(Milli::whole(units))
}

fn moved(
    line: &str,
    mv: Move,
    from: Option<&str>,
    to: Option<&str>,
    because: Vec<Cause>,
) -> LineMove {
    let (from, to) = (from.map(Into::into), to.map(Into::into));
    LineMove {
        line: line.into(),
        mv,
        from,
        to,
        because,
    }
}

fn decision(outcome: Outcome, moves: Vec<LineMove>, because: Vec<Cause>) -> Decision {
    Decision {
        as_of: day("2026-01-20"),
        semantics: 1,
        pack: [0; 32],
        outcome,
        proposed: false,
        prescribes: true,
        moves,
        state: State::default(),
        if_accepted: None,
        findings: Vec::new(),
        because,
        to_progress: Vec::new(),
        asks: Vec::new(),
        next_review: day("2026-02-03"),
    }
}

fn limit(key: &str, exercise: Option<&str>) -> LimitInForce {
    LimitInForce {
        limit: key.into(),
        exercise: exercise.map(Into::into),
        sentence: "said word for word".into(),
        text: format!("limit.{key}").into(),
    }
}

/// Every kind of value, a bound by each, a singular.
fn prescribed() -> Prescription {
    let turn = Item {
        line: "turn".into(),
        exercise: "turn-hold".into(),
        dose: vec![
            (Variable::Sets, units(3)),
            (Variable::Reps, units(8)),
            (Variable::HoldTime, units(1)),
            (Variable::Effort, RowValue::Label("lightly".into())),
            (Variable::Rest, units(60)),
            (Variable::TimesADay, units(1)),
        ],
        relief: Vec::new(),
        band: None,
        bounded: vec![
            (Variable::Reps, BoundBy::Directive(Position(4))),
            (Variable::Sets, BoundBy::Directive(Position(5))),
        ],
    };
    let lift = Item {
        line: "lift".into(),
        exercise: "lift-active".into(),
        dose: vec![(Variable::Reps, units(12)), (Variable::Range, units(90))],
        relief: vec![Variable::Range],
        bounded: vec![(
            Variable::Range,
            BoundBy::Comfortable("comfortable range".into()),
        )],
        band: None,
    };
    Prescription {
        as_of: day("2026-01-20"),
        decision: Some(DecisionNo(3)),
        phase: Some("quiet".into()),
        standing: Standing::InForce,
        items: vec![turn, lift],
        left_out: vec![LeftOut {
            exercise: "turn-band".into(),
            why: WhyLeftOut::Withdrawn,
        }],
        limits: vec![
            limit("pain-during", None),
            limit("pain-during", None),
            limit("lift-form", Some("lift-active")),
            limit("without-a-text", None),
        ],
        cautions: vec!["caution.invented".into()],
        valid_until: Some(day("2026-02-03")),
    }
}

fn over(date: Date) -> Cause {
    Cause::OverLimit {
        limit: Some("pain-during".into()),
        session: (date, 1),
    }
}

fn flared_up() -> Decision {
    let moves = vec![
        moved(
            "turn",
            Move::Keep,
            Some("turn-hold"),
            Some("turn-hold"),
            vec![Cause::Met("fall-holds".into())],
        ),
        moved(
            "lift",
            Move::Ease,
            Some("lift-active"),
            Some("lift-active"),
            vec![over(day("2026-01-19"))],
        ),
        moved(
            "reach",
            Move::Withdraw,
            Some("turn-band"),
            None,
            vec![Cause::NothingLeft],
        ),
        moved(
            "pull",
            Move::Keep,
            Some("turn-band"),
            Some("turn-band"),
            vec![Cause::Met("fall-holds".into())],
        ),
    ];
    decision(Outcome::Hold, moves, vec![Cause::Met("fall-holds".into())])
}

#[test]
fn a_sheet_says_what_changed_what_to_do_and_what_to_mind() {
    golden(
        "sheet/flare-up.en.txt",
        &sheet(&pack(), &prescribed(), &flared_up(), "en"),
    );
}

#[test]
fn a_sheet_is_written_in_each_language_of_the_pack() {
    golden(
        "sheet/flare-up.nl.txt",
        &sheet(&pack(), &prescribed(), &flared_up(), "nl"),
    );
}

#[test]
fn a_course_of_care_has_its_sheet() {
    let pack = pack();
    let history = course(&pack);
    let (_, _, decision) = history.last_decision().unwrap();
    let given = prescription(&pack, &history, decision.as_of);
    assert_eq!(given.decision, Some(DecisionNo(2)));
    golden("sheet/course.en.txt", &sheet(&pack, &given, decision, "en"));
}

#[test]
fn a_referral_says_where_to_go_and_how_soon() {
    let moves = vec![moved(
        "turn",
        Move::Withdraw,
        Some("turn-hold"),
        None,
        vec![Cause::Outcome],
    )];
    let because = vec![
        Cause::Met("fever-refer".into()),
        Cause::Latched("range-refer".into()),
    ];
    let given = Prescription {
        items: Vec::new(),
        standing: Standing::Stopped(vec!["fever-refer".into()]),
        ..prescribed()
    };
    golden(
        "sheet/referral.en.txt",
        &sheet(
            &pack(),
            &given,
            &decision(Outcome::Refer, moves, because),
            "en",
        ),
    );
}

#[test]
fn a_proposal_says_only_what_acts_at_once() {
    let moves = vec![
        moved(
            "turn",
            Move::Forward,
            Some("turn-hold"),
            Some("turn-band"),
            vec![Cause::Outcome],
        ),
        moved(
            "lift",
            Move::Ease,
            Some("lift-active"),
            Some("lift-active"),
            vec![over(day("2026-01-19"))],
        ),
    ];
    let mut proposed = decision(Outcome::Progress, moves, Vec::new());
    proposed.proposed = true;
    let text = sheet(&pack(), &prescribed(), &proposed, "en");
    assert!(text.contains("still has to agree"), "{text}");
    assert!(text.contains("Lift: one step easier"), "{text}");
    assert!(!text.contains("go on to"), "{text}");
}

#[test]
fn each_move_and_cause_has_its_own_words() {
    let pack = pack();
    let page = Page {
        pack: &pack,
        language: "en",
        outcome: Outcome::Progress,
        text: String::new(),
    };
    let both = |mv| moved("turn", mv, Some("turn-hold"), Some("turn-band"), Vec::new());
    let ends = |mv| moved("turn", mv, Some("turn-hold"), None, Vec::new());
    let comes = |mv| moved("turn", mv, None, Some("turn-band"), Vec::new());
    let moves = [
        ends(Move::Withdraw),
        both(Move::Back),
        ends(Move::Back),
        moved(
            "turn",
            Move::Ease,
            Some("turn-hold"),
            Some("turn-hold"),
            Vec::new(),
        ),
        ends(Move::Ease),
        moved(
            "turn",
            Move::Climb,
            Some("turn-hold"),
            Some("turn-hold"),
            Vec::new(),
        ),
        both(Move::Climb),
        both(Move::Forward),
        ends(Move::Forward),
        comes(Move::Introduce),
        comes(Move::Return),
    ];
    let mut text: String = moves
        .iter()
        .map(|line| format!("{}\n", page.change(line)))
        .collect();
    let twice = Cause::OverLimitTwice {
        limit: None,
        session: (day("2026-01-19"), 1),
    };
    let causes = [
        Cause::Met("turn-hold-climb".into()),
        Cause::Met("moving-enter".into()),
        Cause::Met("moving-hold".into()),
        Cause::Met("fall-holds".into()),
        Cause::Doubt("moving-hold".into()),
        Cause::MetBefore("moving-regress".into()),
        Cause::Latched("fever-refer".into()),
        Cause::NotMet("turn-hold-climb".into()),
        over(day("2026-01-19")),
        twice,
        Cause::NothingLeft,
        Cause::LayOff { days: 9 },
        Cause::Directive(Position(4)),
        Cause::Corrected(Position(4)),
        Cause::NoCountedSession,
        Cause::NothingNew,
        Cause::LimitValueMissing("pain next morning".into()),
        Cause::RungNotReached,
        Cause::Needs(Variable::Reps),
        Cause::AtTop,
        Cause::NoSlot,
        Cause::Withdrawn,
        Cause::ScreeningUnanswered,
        Cause::Outcome,
        Cause::Discharged,
        Cause::Comfortable,
        Cause::LineEnds,
        Cause::Unmapped("reach".into()),
    ];
    for cause in &causes {
        text.push_str(&format!("{}\n", page.cause(cause).unwrap()));
    }
    golden("sheet/words.en.txt", &text);
}

/// Keys that the sources put together from a word.
fn composed() -> BTreeSet<String> {
    let sections = ["sheet.stop", "sheet.flare-up", "sheet.call"];
    let variables =
        Variable::ALL.map(|variable| format!("dose.{}", variable.word().replace(' ', "-")));
    let ways = ["stand", "hold"];
    let held = ways
        .into_iter()
        .flat_map(|way| ["", ".doubled"].map(|doubled| format!("sheet.band.{way}{doubled}")));
    Move::ALL
        .into_iter()
        .map(|mv| format!("sheet.changed.{}", mv.word()))
        .chain(Outcome::ALL.map(|outcome| format!("sheet.outcome.{}", outcome.word())))
        .chain(sections.map(|section| format!("{section}.text")))
        .chain(variables)
        .chain(held)
        .collect()
}

#[test]
fn every_key_said_is_declared_and_every_declared_key_is_said() {
    let all = TEXT_KEYS.iter().chain(&BAND_TEXT_KEYS);
    let keys: BTreeSet<&str> = all.map(|(key, _)| *key).collect();
    let count = TEXT_KEYS.len() + BAND_TEXT_KEYS.len();
    assert_eq!(keys.len(), count, "each key once");
    let table = include_str!("words.rs").rsplit_once("];").unwrap().1;
    let sources = [
        include_str!("../sheet.rs"),
        include_str!("band.rs"),
        include_str!("../wanted.rs"),
        table,
    ];
    let quoted = sources
        .iter()
        .flat_map(|source| source.split('"').skip(1).step_by(2));
    let families = ["sheet.", "dose.", "ask."];
    let literal = quoted.filter(|word| families.iter().any(|family| word.starts_with(family)));
    let mut said: BTreeSet<String> = literal
        .filter(|word| !word.contains('{'))
        .map(str::to_owned)
        .collect();
    said.extend(composed());
    for key in &said {
        assert!(
            keys.contains(key.as_str()),
            "`{key}` is said and not declared"
        );
    }
    for key in keys {
        let plain = key.trim_end_matches(".one").trim_end_matches(".label");
        assert!(said.contains(plain), "`{key}` is declared and never said");
    }
}

#[test]
fn a_value_with_braces_is_said_as_it_is() {
    let pack = pack();
    assert_eq!(
        say(
            &pack,
            "en",
            "sheet.left-out.line",
            &[("exercise", "{why}"), ("why", "x")]
        ),
        "{why}: x"
    );
    assert_eq!(say(&pack, "en", "sheet.made-for", &[]), "For {date}.");
    assert_eq!(say(&pack, "en", "not a key", &[]), "not a key");
}

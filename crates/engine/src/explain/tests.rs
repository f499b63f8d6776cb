//! Proves that an explanation names what decided, what each sentence saw and what is still wanted: golden texts.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::too_many_lines,
    reason = "a test may fail loudly, and a table of cases is read as one"
)]

use super::*;
use crate::decision::{Ask, Missing, State, Wanted};
use crate::fact::{Body, Record};
use crate::sample::{course, day, episode, golden, pack, records, session};
use rungwise_pack::model::{Reporter, RuleIx, SentenceIx};
use rungwise_pack::quantity::Variable;

fn rule_index(pack: &Pack, key: &str) -> RuleIx {
    pack.rule(key).unwrap()
}

/// The sentence of the pack with these words.
fn sentence(pack: &Pack, text: &str) -> SentenceIx {
    let at = pack
        .sentences
        .iter()
        .position(|sentence| sentence.text == text);
    SentenceIx(u16::try_from(at.unwrap_or_else(|| panic!("no sentence `{text}`"))).unwrap())
}

fn finding(
    pack: &Pack,
    rule: &str,
    verdict: RuleVerdict,
    sentences: &[(&str, Verdict)],
) -> Finding {
    let sentences = sentences
        .iter()
        .map(|(text, verdict)| (sentence(pack, text), *verdict));
    Finding {
        rule: rule_index(pack, rule),
        verdict,
        sentences: sentences.collect(),
    }
}

fn decision(pack: &CheckedPack) -> Decision {
    let little = "pain during exercise at most 3 in each of the last 3 sessions";
    let reach = "lifting range at least 120 deg";
    let moves = vec![LineMove {
        line: "turn".into(),
        mv: Move::Ease,
        from: Some("turn-hold".into()),
        to: Some("turn-hold".into()),
        because: vec![Cause::OverLimit {
            limit: Some("pain-during".into()),
            session: (day("2026-01-08"), 1),
        }],
    }];
    let missing = |text: &str, verdict, sessions_more, distance| Missing {
        rule: "moving-enter".into(),
        sentence: sentence(pack, text),
        verdict,
        sessions_more,
        distance,
    };
    let asks = [
        (
            Wanted::Measure("lifting range".into()),
            Reporter::Clinician,
            Some("moving-enter"),
        ),
        (
            Wanted::MorningAfter(day("2026-01-08"), 1),
            Reporter::Patient,
            None,
        ),
    ];
    let asks = asks.into_iter().map(|(what, of, rule)| {
        let rule = rule.map(Into::into);
        Ask {
            what,
            of,
            by: day("2026-01-12"),
            rule,
        }
    });
    Decision {
        as_of: day("2026-01-10"),
        semantics: 1,
        pack: pack.digest,
        outcome: Outcome::Hold,
        proposed: false,
        prescribes: true,
        moves,
        state: State {
            phase: Some("quiet".into()),
            ..State::default()
        },
        if_accepted: None,
        findings: vec![
            finding(
                pack,
                "fever-refer",
                RuleVerdict::NotMet,
                &[("fever is yes", Verdict::NotMet)],
            ),
            finding(
                pack,
                "fall-holds",
                RuleVerdict::Met,
                &[("days since a fall at most 6", Verdict::Met)],
            ),
            finding(
                pack,
                "moving-enter",
                RuleVerdict::NotMet,
                &[(little, Verdict::NotYetFull), (reach, Verdict::Unknown)],
            ),
        ],
        because: vec![Cause::Met("fall-holds".into())],
        to_progress: vec![
            missing(little, Verdict::NotYetFull, Some(2), None),
            missing(
                reach,
                Verdict::NotMet,
                None,
                Some((Milli::whole(112), Milli::whole(120))),
            ),
            missing(reach, Verdict::Unknown, None, None),
        ],
        asks: asks.collect(),
        next_review: day("2026-01-24"),
    }
}

fn history(pack: &CheckedPack) -> History {
    let mut records = records(vec![session("2026-01-08", 2, &[("turn-hold", 5)])]);
    let body = Body::Decision(Box::new(decision(pack)));
    records.push(Record {
        position: Position(1),
        recorded_on: day("2026-01-10"),
        body,
    });
    History::of(pack, episode(), records)
}

#[test]
fn only_a_decision_of_this_pack_is_explained() {
    let pack = pack();
    let history = history(&pack);
    let none = explain(&pack, &history, DecisionNo(1), View::Basic).unwrap_err();
    assert_eq!(
        none,
        ExplainError::NoSuchDecision {
            number: 1,
            count: 1
        }
    );
    let mut other = decision(&pack);
    other.pack = [7; 32];
    let body = Body::Decision(Box::new(other));
    let record = Record {
        position: Position(2),
        recorded_on: day("2026-01-10"),
        body,
    };
    let mut records = history.records().to_vec();
    records.push(record);
    let history = History::of(&pack, episode(), records);
    let other = explain(&pack, &history, DecisionNo(1), View::Basic).unwrap_err();
    assert_eq!(
        other,
        ExplainError::OtherPack {
            number: 1,
            pack: [7; 32]
        }
    );
}

#[test]
fn a_basic_view_tells_what_decided_and_counts_the_rest() {
    let pack = pack();
    let history = history(&pack);
    let basic = explain(&pack, &history, DecisionNo(0), View::Basic).unwrap();
    let full = explain(&pack, &history, DecisionNo(0), View::Full).unwrap();
    assert_eq!(basic.deciding, full.deciding);
    assert_eq!(basic.deciding.len(), 1);
    assert_eq!(basic.deciding[0].rule.as_ref(), "fall-holds");
    assert!(basic.others.is_empty());
    assert_eq!(
        (basic.others_count, full.others_count, full.others.len()),
        (2, 2, 2)
    );
    let basic = basic.text().replace(&hex(&pack.digest), "<digest>");
    golden("explain/basic.txt", &basic);
}

fn hex(digest: &[u8; 32]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// An explanation with values of every kind, apart from any history.
fn whole() -> Explanation {
    let seen = |of: Option<&str>, value: &str, known: Option<u64>| ValueSeen {
        of: of.map(Into::into),
        value: value.into(),
        happened_on: day("2026-01-08"),
        known: known.map(|position| (day("2026-01-09"), Position(position))),
    };
    let sentence = SentenceExplained {
        text: "pain next morning at most 1 above pain before session".into(),
        verdict: Verdict::Unknown,
        limit: "at most 1 above pain before session".into(),
        values: vec![
            seen(None, "missing", None),
            seen(Some("pain before session"), "2", Some(4)),
            seen(Some("turn-hold"), "112 deg", Some(5)),
        ],
        grounds: "judgement of nobody: invented".into(),
    };
    let nothing = SentenceExplained {
        values: Vec::new(),
        verdict: Verdict::NotMet,
        ..sentence.clone()
    };
    let finding = |rule: &str, kind, of: Option<&str>, verdict, sentences| FindingExplained {
        rule: rule.into(),
        kind,
        of: of.map(Into::into),
        reason: "Because.".into(),
        verdict,
        sentences,
    };
    let moved = |mv, from: Option<&str>, to: Option<&str>, causes: &[Cause]| MoveExplained {
        line: "turn".into(),
        mv,
        from: from.map(Into::into),
        to: to.map(Into::into),
        because: causes
            .iter()
            .map(|cause| (cause.clone(), "a reason".into()))
            .collect(),
    };
    Explanation {
        decision: DecisionNo(3),
        position: Position(9),
        as_of: day("2026-01-10"),
        semantics: 1,
        pack: ("invented".into(), "0.1.0".into(), [0xab; 32]),
        outcome: Outcome::Progress,
        proposed: true,
        phase: None,
        because: vec![(Cause::Outcome, "it follows".into())],
        moves: vec![
            moved(Move::Withdraw, Some("a"), None, &[Cause::Outcome]),
            moved(Move::Forward, Some("a"), Some("b"), &[]),
            moved(Move::Keep, Some("a"), Some("a"), &[]),
            moved(Move::Introduce, None, Some("b"), &[]),
        ],
        deciding: vec![finding(
            "one",
            RuleKind::Enter,
            Some("moving"),
            RuleVerdict::InDoubt,
            vec![sentence],
        )],
        others: vec![finding(
            "two",
            RuleKind::Refer { stops: true },
            None,
            RuleVerdict::NotMet,
            vec![nothing],
        )],
        others_count: 1,
        to_progress: vec!["2 more sessions".into()],
        asks: vec!["a session".into()],
        next_review: day("2026-01-24"),
    }
}

#[test]
fn a_full_text_tells_every_value_with_both_dates_and_its_position() {
    golden("explain/full.txt", &whole().text());
}

#[test]
fn the_digest_follows_the_text() {
    let whole = whole();
    let mut other = whole.clone();
    assert_eq!(explanation_digest(&whole), explanation_digest(&other));
    other.deciding[0].sentences[0].values[0].value = "3".into();
    assert_ne!(explanation_digest(&whole), explanation_digest(&other));
}

#[test]
fn each_cause_has_its_own_words() {
    let pack = pack();
    let session = (day("2026-01-08"), 2);
    let limit = Some("pain-during".into());
    let causes = [
        Cause::Met("fall-holds".into()),
        Cause::Doubt("moving-hold".into()),
        Cause::MetBefore("moving-regress".into()),
        Cause::Latched("gone".into()),
        Cause::NotMet("turn-hold-climb".into()),
        Cause::OverLimit {
            limit: limit.clone(),
            session,
        },
        Cause::OverLimit {
            limit: None,
            session,
        },
        Cause::OverLimitTwice { limit, session },
        Cause::OverLimitTwice {
            limit: None,
            session,
        },
        Cause::NothingLeft,
        Cause::LayOff { days: 9 },
        Cause::Directive(Position(4)),
        Cause::Corrected(Position(5)),
        Cause::NoCountedSession,
        Cause::NothingNew,
        Cause::LimitValueMissing("pain next morning".into()),
        Cause::RungNotReached,
        Cause::Needs(Variable::HoldTime),
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
    let mut text: String = causes
        .iter()
        .map(|cause| format!("{}\n", cause_text(&pack, cause)))
        .collect();
    let asks = [
        Wanted::Measure("fever".into()),
        Wanted::MorningAfter(day("2026-01-08"), 2),
        Wanted::Session,
        Wanted::Review,
        Wanted::Clearance("fever-refer".into()),
        Wanted::SignOff,
        Wanted::Confirmation(Position(5)),
        Wanted::Placement("reach".into()),
    ];
    for what in asks {
        let ask = Ask {
            what,
            of: Reporter::Carer,
            by: day("2026-01-12"),
            rule: None,
        };
        text.push_str(&format!("{}\n", ask_text(&ask)));
    }
    golden("explain/words.txt", &text);
}

#[test]
fn each_sentence_has_its_limit_and_its_grounds() {
    let pack = pack();
    let lines = pack.sentences.iter().map(|sentence| {
        let (limit, grounds) = (
            limit_text(&pack, sentence),
            grounds_text(&pack, &sentence.grounds),
        );
        format!("{}\n    {limit}\n    {grounds}\n", sentence.text)
    });
    golden("explain/limits.txt", &lines.collect::<String>());
}

#[test]
fn a_course_is_explained_decision_by_decision() {
    let pack = pack();
    let history = course(&pack);
    let texts = (0..history.next_no().0).map(|number| {
        let explained = explain(&pack, &history, DecisionNo(number), View::Full).unwrap();
        explained.text().replace(&hex(&pack.digest), "<digest>")
    });
    golden(
        "explain/course.txt",
        &texts.collect::<Vec<_>>().join("\n=====\n\n"),
    );
}

/// The same pack, records and dates give the same decisions and explanations, byte for byte.
#[test]
fn same_bytes() {
    let pack = pack();
    let (once, twice) = (course(&pack), course(&pack));
    assert_eq!(once.records(), twice.records());
    for number in 0..once.next_no().0 {
        let explained = explain(&pack, &once, DecisionNo(number), View::Full).unwrap();
        let later = explain(&pack, &twice, DecisionNo(number), View::Full).unwrap();
        assert_eq!(explanation_digest(&explained), explanation_digest(&later));
    }
}

//! Proves that a decision made again compares field by field and names what differs.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::too_many_lines,
    reason = "a test may fail loudly, and a table of cases is read as one"
)]

use super::*;
use crate::decision::{Ask, Cause, Finding, LineMove, Missing, Move, RuleVerdict, Verdict, Wanted};
use crate::fact::{Body, Fact, FactKind, Position, Record};
use crate::sample::{choice, course, day, episode, fact, pack, records};
use rungwise_pack::model::{Outcome, Reporter, RuleIx, SentenceIx};

/// A history of one screening and the decision made on it.
fn decided(pack: &CheckedPack) -> History {
    let screening: Vec<Fact> = vec![fact(
        "2026-01-05",
        FactKind::Screening(vec![choice("fever", "no")]),
    )];
    let mut history = History::of(pack, episode(), records(screening));
    let decision = decide(pack, &history, day("2026-01-06"));
    history.push(pack, record(1, decision));
    history
}

fn record(position: u64, decision: Decision) -> Record {
    let body = Body::Decision(Box::new(decision));
    Record {
        position: Position(position),
        recorded_on: day("2026-01-06"),
        body,
    }
}

/// The history with its one decision changed.
fn changed(pack: &CheckedPack, history: &History, change: impl FnOnce(&mut Decision)) -> History {
    let (_, recorded) = history.decision(DecisionNo(0)).unwrap();
    let mut decision = recorded.clone();
    change(&mut decision);
    let mut records = history.records()[..1].to_vec();
    records.push(record(1, decision));
    History::of(pack, episode(), records)
}

#[test]
fn a_decision_made_again_is_the_same() {
    let pack = pack();
    let mut history = decided(&pack);
    assert_eq!(recompute(&pack, &history, DecisionNo(0)), Recomputed::Same);
    assert_eq!(
        recompute(&pack, &history, DecisionNo(1)),
        Recomputed::NoSuchDecision
    );
    let later = fact("2026-01-05", FactKind::Event("fall".into()));
    let (position, recorded_on) = (Position(2), day("2026-01-07"));
    history.push(
        &pack,
        Record {
            position,
            recorded_on,
            body: Body::Fact(later),
        },
    );
    let same = recompute(&pack, &history, DecisionNo(0));
    assert_eq!(
        same,
        Recomputed::Same,
        "what became known later plays no part"
    );
}

#[test]
fn every_decision_of_a_course_is_made_again_the_same() {
    let pack = pack();
    let history = course(&pack);
    assert!(history.next_no() > DecisionNo(2));
    for number in 0..history.next_no().0 {
        assert_eq!(
            recompute(&pack, &history, DecisionNo(number)),
            Recomputed::Same,
            "{number}"
        );
    }
}

#[test]
fn an_altered_decision_differs_by_name() {
    let pack = pack();
    let history = decided(&pack);
    let altered = changed(&pack, &history, |decision| {
        decision.outcome = Outcome::Progress;
        decision.state.discharged = true;
    });
    let fields = vec!["outcome", "state.discharged"];
    assert_eq!(
        recompute(&pack, &altered, DecisionNo(0)),
        Recomputed::Differs { fields }
    );
}

#[test]
fn another_revision_or_pack_never_differs() {
    let pack = pack();
    let history = decided(&pack);
    let older = changed(&pack, &history, |decision| {
        decision.semantics = SEMANTICS - 1;
        decision.outcome = Outcome::Progress;
    });
    assert_eq!(
        recompute(&pack, &older, DecisionNo(0)),
        Recomputed::OtherRevision(SEMANTICS - 1)
    );
    let other = changed(&pack, &history, |decision| decision.pack = [7; 32]);
    assert_eq!(
        recompute(&pack, &other, DecisionNo(0)),
        Recomputed::OtherPack([7; 32])
    );
}

#[test]
fn each_field_is_compared_and_named() {
    let pack = pack();
    let history = decided(&pack);
    let (_, plain) = history.decision(DecisionNo(0)).unwrap();
    let (later, no) = (day("2030-01-01"), DecisionNo(9));
    type Change = (&'static str, fn(&mut Decision));
    let changes: [Change; 24] = [
        ("as_of", |of| of.as_of = day("2030-01-01")),
        ("semantics", |of| of.semantics += 1),
        ("pack", |of| of.pack = [7; 32]),
        ("outcome", |of| of.outcome = Outcome::Discharge),
        ("proposed", |of| of.proposed = !of.proposed),
        ("prescribes", |of| of.prescribes = !of.prescribes),
        ("moves", |of| {
            let (line, mv, because) = ("x".into(), Move::Back, Vec::new());
            of.moves.push(LineMove {
                line,
                mv,
                from: None,
                to: None,
                because,
            });
        }),
        ("state.phase", |of| of.state.phase = Some("x".into())),
        ("state.stay", |of| {
            of.state.stay = Some((DecisionNo(9), day("2030-01-01")))
        }),
        ("state.began", |of| of.state.began = Some(day("2030-01-01"))),
        ("state.introduced", |of| {
            of.state.introduced = Some(DecisionNo(9))
        }),
        ("state.places", |of| of.state.places.push(place())),
        ("state.last_places", |of| {
            let (exercise, rung, relief) = ("x".into(), Vec::new(), Vec::new());
            of.state.last_places.push(crate::decision::LastPlace {
                exercise,
                rung,
                relief,
                setting: None,
            });
        }),
        ("state.withdrawals", |of| {
            let (exercise, by) = ("x".into(), DecisionNo(9));
            of.state
                .withdrawals
                .push(crate::decision::Withdrawal { exercise, by });
        }),
        ("state.run_from", |of| {
            of.state.run_from.push(("x".into(), DecisionNo(9)))
        }),
        ("state.latched", |of| of.state.latched.push("x".into())),
        ("state.lay_offs", |of| {
            of.state.lay_offs.push((day("2030-01-01"), 1))
        }),
        ("state.climbed_last", |of| {
            of.state.climbed_last.push("x".into())
        }),
        ("state.discharged", |of| {
            of.state.discharged = !of.state.discharged
        }),
        ("if_accepted", |of| {
            of.if_accepted = Some(State {
                discharged: true,
                ..State::default()
            })
        }),
        ("findings", |of| {
            let (rule, verdict, sentences) = (RuleIx(9), RuleVerdict::Met, Vec::new());
            of.findings.push(Finding {
                rule,
                verdict,
                sentences: sentences.into(),
            });
        }),
        ("because", |of| of.because.push(Cause::Unmapped("x".into()))),
        ("to_progress", |of| {
            let (rule, sentence, verdict) = ("x".into(), SentenceIx(9), Verdict::Met);
            let (sessions_more, distance) = (None, None);
            of.to_progress.push(Missing {
                rule,
                sentence,
                verdict,
                sessions_more,
                distance,
            });
        }),
        ("asks", |of| {
            let (what, by) = (Wanted::Placement("x".into()), day("2030-01-01"));
            of.asks.push(Ask {
                what,
                of: Reporter::Device,
                by,
                rule: None,
            });
        }),
    ];
    for (name, change) in changes {
        let mut other = plain.clone();
        change(&mut other);
        assert_eq!(differences(plain, &other), [name]);
        assert_eq!(differences(&other, plain), [name]);
    }
    let mut other = plain.clone();
    other.next_review = later;
    assert_eq!(differences(plain, &other), ["next_review"]);
    other.state.introduced = Some(no);
    assert_eq!(
        differences(plain, &other),
        ["state.introduced", "next_review"]
    );
}

fn place() -> crate::decision::Place {
    crate::decision::Place {
        line: "x".into(),
        exercise: "x".into(),
        rung: Vec::new(),
        relief: Vec::new(),
        set_anew: DecisionNo(9),
        setting: None,
    }
}

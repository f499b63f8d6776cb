//! Two decisions held against each other, and histories printed so that a person can follow them.
//!
//! Leaves to others: making them.

use super::history::Step;
use rungwise_engine::decision::{Decision, State};
use rungwise_engine::fact::{FactKind, Position};
use rungwise_pack::model::CheckedPack;
use std::fmt::Write as _;

/// Everything in which two decisions differ; nothing where they agree.
///
/// `findings` says whether the verdicts of rules and sentences are compared too.
#[must_use]
pub fn differences(pack: &CheckedPack, engine: &Decision, reference: &Decision) -> Vec<String> {
    let mut found = Vec::new();
    let mut compare = |what: &str, engine: String, reference: String| {
        if engine != reference {
            found.push(format!(
                "{what}\n      engine    {engine}\n      reference {reference}"
            ));
        }
    };
    for finding in &reference.findings {
        let rule = &pack.rules[finding.rule.at()].key;
        match engine
            .findings
            .iter()
            .find(|other| other.rule == finding.rule)
        {
            None => compare(
                &format!("rule {rule}"),
                "not judged".into(),
                format!("{finding:?}"),
            ),
            Some(other) => {
                compare(
                    &format!("rule {rule}"),
                    format!("{:?}", other.verdict),
                    format!("{:?}", finding.verdict),
                );
                compare(
                    &format!("sentences of {rule}"),
                    sentences(pack, other),
                    sentences(pack, finding),
                );
            }
        }
    }
    for finding in &engine.findings {
        if !reference
            .findings
            .iter()
            .any(|other| other.rule == finding.rule)
        {
            let rule = &pack.rules[finding.rule.at()].key;
            compare(
                &format!("rule {rule}"),
                format!("{finding:?}"),
                "not judged".into(),
            );
        }
    }
    let outcomes = format!(
        "outcome {} {}",
        engine.outcome.word(),
        reference.outcome.word()
    );
    let why = |one: &Decision| format!("{} {:?}", one.outcome.word(), one.because);
    if engine.outcome != reference.outcome {
        compare(&outcomes, why(engine), why(reference));
    }
    compare(
        "proposed",
        engine.proposed.to_string(),
        reference.proposed.to_string(),
    );
    compare(
        "prescribes",
        engine.prescribes.to_string(),
        reference.prescribes.to_string(),
    );
    let kind = kind_of_moves(engine, reference);
    compare(
        &format!("moves {} {kind}", engine.outcome.word()),
        moves(engine),
        moves(reference),
    );
    states("state", &engine.state, &reference.state, &mut compare);
    match (&engine.if_accepted, &reference.if_accepted) {
        (Some(a), Some(b)) => states("if_accepted", a, b, &mut compare),
        (a, b) => compare(
            "if_accepted",
            a.is_some().to_string(),
            b.is_some().to_string(),
        ),
    }
    found
}

/// The first line on which two decisions differ: the engine's move, then the reference's.
fn kind_of_moves(engine: &Decision, reference: &Decision) -> String {
    let told = |decision: &Decision, line: &str| {
        decision
            .moves
            .iter()
            .find(|one| *one.line == *line)
            .map(|one| (one.mv, one.from.clone(), one.to.clone()))
    };
    let word = |one: Option<(rungwise_engine::decision::Move, _, Option<_>)>| match one {
        Some((mv, _, Some(_))) => mv.word().to_owned(),
        Some((mv, _, None::<rungwise_pack::quantity::Key>)) => format!("{}-ends", mv.word()),
        None::<(_, Option<rungwise_pack::quantity::Key>, _)> => "nothing".to_owned(),
    };
    let lines = engine
        .moves
        .iter()
        .chain(&reference.moves)
        .map(|one| one.line.clone());
    lines
        .into_iter()
        .find(|line| told(engine, line) != told(reference, line))
        .map(|line| {
            format!(
                "{} / {}",
                word(told(engine, &line)),
                word(told(reference, &line))
            )
        })
        .unwrap_or_default()
}

fn sentences(pack: &CheckedPack, finding: &rungwise_engine::decision::Finding) -> String {
    finding
        .sentences
        .iter()
        .map(|(at, verdict)| format!("`{}` {verdict:?}", pack.sentences[at.at()].text))
        .collect::<Vec<_>>()
        .join("; ")
}

fn moves(decision: &Decision) -> String {
    decision
        .moves
        .iter()
        .map(|one| {
            let key = |key: &Option<rungwise_pack::quantity::Key>| {
                key.as_ref().map_or("-".to_owned(), ToString::to_string)
            };
            format!(
                "{} {} {}>{}",
                one.line,
                one.mv.word(),
                key(&one.from),
                key(&one.to)
            )
        })
        .collect::<Vec<_>>()
        .join(", ")
}

fn states(
    what: &str,
    engine: &State,
    reference: &State,
    compare: &mut impl FnMut(&str, String, String),
) {
    let mut field = |name: &str, a: String, b: String| compare(&format!("{what}.{name}"), a, b);
    field(
        "phase",
        format!("{:?}", engine.phase),
        format!("{:?}", reference.phase),
    );
    field(
        "stay",
        format!("{:?}", engine.stay),
        format!("{:?}", reference.stay),
    );
    field(
        "began",
        format!("{:?}", engine.began),
        format!("{:?}", reference.began),
    );
    field(
        "introduced",
        format!("{:?}", engine.introduced),
        format!("{:?}", reference.introduced),
    );
    field(
        "places",
        format!("{:?}", engine.places),
        format!("{:?}", reference.places),
    );
    field(
        "last_places",
        format!("{:?}", engine.last_places),
        format!("{:?}", reference.last_places),
    );
    field(
        "withdrawals",
        format!("{:?}", engine.withdrawals),
        format!("{:?}", reference.withdrawals),
    );
    field(
        "run_from",
        format!("{:?}", engine.run_from),
        format!("{:?}", reference.run_from),
    );
    field(
        "latched",
        format!("{:?}", engine.latched),
        format!("{:?}", reference.latched),
    );
    field(
        "lay_offs",
        format!("{:?}", engine.lay_offs),
        format!("{:?}", reference.lay_offs),
    );
    field(
        "climbed_last",
        format!("{:?}", engine.climbed_last),
        format!("{:?}", reference.climbed_last),
    );
    field(
        "discharged",
        engine.discharged.to_string(),
        reference.discharged.to_string(),
    );
}

/// A history as text, with what was decided on the way.
#[must_use]
pub fn story(steps: &[(Position, Step)], decided: &[(Position, Decision)]) -> String {
    let mut text = String::new();
    for (position, step) in steps {
        let _ = match step {
            Step::Ask(date) => {
                let decision = decided.iter().find(|(other, _)| other == position);
                let said = decision.map_or("(asked)".to_owned(), |(_, decision)| {
                    format!(
                        "{} [{}] {}",
                        decision.outcome.word(),
                        decision.state.phase.as_deref().unwrap_or("-"),
                        moves(decision)
                    )
                });
                writeln!(text, "  {:>3} {date} ASK {said}", position.0)
            }
            Step::Record(fact) => {
                writeln!(
                    text,
                    "  {:>3} {} {}",
                    position.0,
                    fact.date,
                    said(&fact.kind)
                )
            }
        };
    }
    text
}

fn said(kind: &FactKind) -> String {
    let readings = |readings: &[rungwise_engine::fact::Reading]| {
        readings
            .iter()
            .map(|reading| format!("{}={}", reading.measure, value(&reading.value)))
            .collect::<Vec<_>>()
            .join(" ")
    };
    match kind {
        FactKind::Session(session) => {
            let mut text = format!("session {}", session.number);
            if let Some(followed) = session.followed {
                let _ = write!(text, " followed {}", followed.0);
            }
            let _ = write!(text, " {}", readings(&session.readings));
            for report in &session.exercises {
                let sets: Vec<String> = report
                    .sets
                    .iter()
                    .map(|set| format!("{:?}/{:?}", set.reps, set.hold_s))
                    .collect();
                let _ = write!(
                    text,
                    "\n        {} {:?} [{}] {}",
                    report.exercise,
                    report.done,
                    sets.join(" "),
                    readings(&report.readings)
                );
            }
            text
        }
        FactKind::MorningAfter(morning) => format!(
            "morning after {} {:?} {}",
            morning.session_date,
            morning.session_number,
            readings(&morning.readings)
        ),
        FactKind::Assessment(assessment) => format!(
            "assessment {} | other side (sound {}) {}",
            readings(&assessment.readings),
            assessment.other_side_sound,
            readings(&assessment.other_side)
        ),
        FactKind::Screening(screening) => format!("screening {}", readings(screening)),
        FactKind::Directive(directive) => format!(
            "directive {:?} until {:?}",
            directive.order, directive.until
        ),
        FactKind::Correction(correction) => match &correction.replacement {
            Some(fact) => format!(
                "correction of {} to {} {}",
                correction.of.0,
                fact.date,
                said(&fact.kind)
            ),
            None => format!("correction of {}: void", correction.of.0),
        },
        other => format!("{other:?}"),
    }
}

fn value(value: &rungwise_engine::fact::Value) -> String {
    match value {
        rungwise_engine::fact::Value::Number(number) => number.to_string(),
        rungwise_engine::fact::Value::Choice(choice) => choice.to_string(),
        rungwise_engine::fact::Value::CouldNot => "could-not".to_owned(),
    }
}

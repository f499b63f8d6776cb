//! The explanation of a decision for clinicians and auditors: what was decided, what decided it, and what each sentence
//! saw.
//!
//! An explanation is rebuilt from the pack and the records before the decision, so it needs no more than the compact
//! decision to be kept. It is data ([`Explanation`]) with one text ([`Explanation::text`]).
//!
//! Leaves to others: deciding (`crate::decide`), what a sentence saw (`crate::evaluate`), the patient's words
//! (`crate::sheet`).

mod text;
pub(crate) mod words;

pub use words::{
    ask_text, binds_text, cause_text, grounds_text, limit_text, missing_text, reporter_word,
};

use crate::decide::trace;
use crate::decision::{Cause, Decision, Finding, LineMove, Move, RuleVerdict, Verdict};
use crate::evaluate::{Seen, SeenValue, SentenceTrace};
use crate::fact::{DecisionNo, Position};
use crate::history::{History, Val, value_in};
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{
    Carrier, CheckedPack, MeasureIx, MeasureKind, Outcome, Pack, Rule, RuleKind, Sentence, Subject,
};
use rungwise_pack::quantity::{Key, Milli};
use sha2::{Digest, Sha256};

/// How much is told.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum View {
    /// The outcome, what decided it with its findings whole, the moves, what is wanted.
    Basic,
    /// Every finding besides.
    Full,
}

/// Why there is no explanation.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum ExplainError {
    /// There is no decision of this number.
    #[error("no decision {number}; there are {count}")]
    NoSuchDecision {
        /// The number asked for.
        number: u32,
        /// How many decisions there are.
        count: u32,
    },
    /// The decision was made under another pack than the one given; its sentence numbers mean nothing here.
    #[error("decision {number} was made under another pack")]
    OtherPack {
        /// The decision.
        number: u32,
        /// The pack's digest.
        pack: [u8; 32],
    },
}

/// A decision explained.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Explanation {
    /// Which decision.
    pub decision: DecisionNo,
    /// Where it stands in the ledger.
    pub position: Position,
    /// The date it was made for.
    pub as_of: Date,
    /// Revision of the semantics.
    pub semantics: u32,
    /// The pack: identity, version, digest.
    pub pack: (Key, Key, [u8; 32]),
    /// The outcome.
    pub outcome: Outcome,
    /// Whether it waits for a sign-off.
    pub proposed: bool,
    /// The phase in force after it.
    pub phase: Option<Key>,
    /// What decided the outcome, with the words for it.
    pub because: Vec<(Cause, String)>,
    /// Line by line.
    pub moves: Vec<MoveExplained>,
    /// The findings that decided, whole.
    pub deciding: Vec<FindingExplained>,
    /// Every other finding; none in a basic view.
    pub others: Vec<FindingExplained>,
    /// How many other findings there are, told or not.
    pub others_count: usize,
    /// What is missing for the next phase (or discharge), with its distance.
    pub to_progress: Vec<String>,
    /// What is wanted, of whom, by when.
    pub asks: Vec<String>,
    /// When to look again at the latest.
    pub next_review: Date,
}

/// A line's move explained.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MoveExplained {
    /// The line.
    pub line: Key,
    /// The move.
    pub mv: Move,
    /// Exercise before.
    pub from: Option<Key>,
    /// Exercise after.
    pub to: Option<Key>,
    /// Why this and nothing higher.
    pub because: Vec<(Cause, String)>,
}

/// A finding explained.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct FindingExplained {
    /// The rule.
    pub rule: Key,
    /// What it is for.
    pub kind: RuleKind,
    /// Whose it is: a phase's, an exercise's, or the whole pack's.
    pub of: Option<Key>,
    /// Why it is there.
    pub reason: String,
    /// Its verdict.
    pub verdict: RuleVerdict,
    /// Its sentences.
    pub sentences: Vec<SentenceExplained>,
}

/// A sentence explained.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SentenceExplained {
    /// The words, verbatim.
    pub text: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// What it asks for, with its amount.
    pub limit: String,
    /// The values it saw, oldest first.
    pub values: Vec<ValueSeen>,
    /// Who vouches for its numbers.
    pub grounds: String,
}

/// A value that a sentence saw.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ValueSeen {
    /// What it is a value of, where that is not the sentence's own subject.
    pub of: Option<Key>,
    /// The value in words; `missing` where a fact should carry it and does not.
    pub value: String,
    /// The date it happened on.
    pub happened_on: Date,
    /// The date it became known here, and where it stands in the ledger.
    pub known: Option<(Date, Position)>,
}

/// Explains a decision. `pack` must be the one it was made under.
///
/// # Errors
/// [`ExplainError`] where there is no such decision, or it was made under another pack.
pub fn explain(
    pack: &CheckedPack,
    history: &History,
    number: DecisionNo,
    view: View,
) -> Result<Explanation, ExplainError> {
    let count = history.next_no().0;
    let (position, decision) = history
        .decision(number)
        .ok_or(ExplainError::NoSuchDecision {
            number: number.0,
            count,
        })?;
    if decision.pack != pack.digest {
        return Err(ExplainError::OtherPack {
            number: number.0,
            pack: decision.pack,
        });
    }
    let before = history.until(pack, position);
    let deciding = deciding_rules(decision);
    let explained = |finding: &Finding| explain_finding(pack, &before, decision, finding);
    let decides =
        |finding: &&Finding| rule(pack, finding).is_some_and(|rule| deciding.contains(&&rule.key));
    let (whole, others): (Vec<&Finding>, Vec<&Finding>) =
        decision.findings.iter().partition(decides);
    let others_count = others.len();
    let others = if view == View::Full {
        others
    } else {
        Vec::new()
    };
    Ok(Explanation {
        decision: number,
        position,
        as_of: decision.as_of,
        semantics: decision.semantics,
        pack: (pack.id.clone(), pack.version.clone(), pack.digest),
        outcome: decision.outcome,
        proposed: decision.proposed,
        phase: decision.state.phase.clone(),
        because: causes(pack, &decision.because),
        moves: moves(pack, &before, decision),
        deciding: whole.into_iter().filter_map(explained).collect(),
        others: others.into_iter().filter_map(explained).collect(),
        others_count,
        to_progress: decision
            .to_progress
            .iter()
            .map(|missing| missing_text(pack, missing))
            .collect(),
        asks: decision.asks.iter().map(ask_text).collect(),
        next_review: decision.next_review,
    })
}

/// SHA-256 of the full text of an explanation: what a stored decision keeps of it.
#[must_use]
pub fn explanation_digest(explanation: &Explanation) -> [u8; 32] {
    Sha256::digest(explanation.text().as_bytes()).into()
}

fn causes(pack: &Pack, causes: &[Cause]) -> Vec<(Cause, String)> {
    causes
        .iter()
        .map(|cause| (cause.clone(), cause_text(pack, cause)))
        .collect()
}

fn moves(pack: &Pack, before: &History, decision: &Decision) -> Vec<MoveExplained> {
    let said = |line: &LineMove| {
        let seen = |cause: &Cause| limit_value(pack, before, line.from.as_ref(), cause);
        let text = |cause: &Cause| match seen(cause) {
            Some(seen) => format!("{}: {}", cause_text(pack, cause), text::value_text(&seen)),
            None => cause_text(pack, cause),
        };
        line.because
            .iter()
            .map(|cause| (cause.clone(), text(cause)))
            .collect()
    };
    let moves = decision.moves.iter();
    moves
        .map(|line| MoveExplained {
            line: line.line.clone(),
            mv: line.mv,
            from: line.from.clone(),
            to: line.to.clone(),
            because: said(line),
        })
        .collect()
}

/// The value that a limit was passed by, where one fact of the session carries it.
fn limit_value(
    pack: &Pack,
    history: &History,
    exercise: Option<&Key>,
    cause: &Cause,
) -> Option<ValueSeen> {
    let (Cause::OverLimit {
        limit: Some(limit),
        session,
    }
    | Cause::OverLimitTwice {
        limit: Some(limit),
        session,
    }) = cause
    else {
        return None;
    };
    let Subject::Measure { measure, .. } = words::find_limit(pack, limit)?.subject else {
        return None;
    };
    let mut sessions = history.index().sessions.iter();
    let session = sessions.find(|of| (of.date, of.number) == *session)?;
    let (value, happened_on, position) = match pack.measures.get(measure.at())?.carrier {
        Carrier::Exercise => {
            let done = session.exercise(ladder::find_exercise(pack, exercise?)?)?;
            (
                value_in(&done.values, measure)?,
                session.date,
                session.position,
            )
        }
        Carrier::Session => (
            value_in(&session.values, measure)?,
            session.date,
            session.position,
        ),
        Carrier::MorningAfter => {
            let morning = session.mornings.last()?;
            (
                value_in(&morning.values, measure)?,
                morning.date,
                morning.position,
            )
        }
        Carrier::Assessment | Carrier::Screening | Carrier::Nothing => return None,
    };
    let value = match value {
        Val::Number(thousandths) => SeenValue::Number(Milli(thousandths)),
        Val::Choice(at) => match &pack.measures.get(measure.at())?.kind {
            MeasureKind::Choice { choices } => {
                SeenValue::Choice(choices.get(usize::from(at))?.clone())
            }
            MeasureKind::Number { .. } => return None,
        },
    };
    let seen = Seen {
        measure,
        exercise: None,
        value,
        date: happened_on,
        position: Some(position),
    };
    Some(self::value(pack, history, Some(measure), &seen))
}

/// The rules named by what decided the outcome or a line.
fn deciding_rules(decision: &Decision) -> Vec<&Key> {
    let lines = decision.moves.iter().flat_map(|line| &line.because);
    let causes = decision.because.iter().chain(lines);
    causes
        .filter_map(|cause| match cause {
            Cause::Met(rule)
            | Cause::Doubt(rule)
            | Cause::MetBefore(rule)
            | Cause::Latched(rule)
            | Cause::NotMet(rule) => Some(rule),
            _ => None,
        })
        .collect()
}

fn rule<'p>(pack: &'p Pack, finding: &Finding) -> Option<&'p Rule> {
    pack.rules.get(finding.rule.at())
}

/// A finding with the values its sentences see in the records before the decision. The verdicts are the decision's own.
fn explain_finding(
    pack: &CheckedPack,
    before: &History,
    decision: &Decision,
    finding: &Finding,
) -> Option<FindingExplained> {
    let rule = rule(pack, finding)?;
    let traces = trace(pack, before, decision.as_of, finding.rule);
    let of = rule
        .phase
        .and_then(|phase| pack.phases.get(phase.at()))
        .map(|phase| phase.key.clone());
    let of = of.or_else(|| {
        let exercise = pack.exercises.get(rule.exercise?.at())?;
        Some(exercise.key.clone())
    });
    let sentences = finding
        .sentences
        .iter()
        .enumerate()
        .filter_map(|(at, (index, verdict))| {
            let sentence = pack.sentences.get(index.at())?;
            let seen = traces.get(at).filter(|trace| trace.sentence == *index);
            Some(SentenceExplained {
                text: sentence.text.clone(),
                verdict: *verdict,
                limit: limit_text(pack, sentence),
                values: seen
                    .map(|trace| values(pack, before, sentence, trace))
                    .unwrap_or_default(),
                grounds: grounds_text(pack, &sentence.grounds),
            })
        });
    Some(FindingExplained {
        rule: rule.key.clone(),
        kind: rule.kind,
        of,
        reason: rule.reason.clone(),
        verdict: finding.verdict,
        sentences: sentences.collect(),
    })
}

fn values(
    pack: &Pack,
    history: &History,
    sentence: &Sentence,
    trace: &SentenceTrace,
) -> Vec<ValueSeen> {
    let subject = match &sentence.subject {
        Subject::Measure { measure, .. } => Some(*measure),
        Subject::Reached { .. } => None,
    };
    trace
        .seen
        .iter()
        .rev()
        .map(|seen| value(pack, history, subject, seen))
        .collect()
}

fn value(pack: &Pack, history: &History, subject: Option<MeasureIx>, seen: &Seen) -> ValueSeen {
    let measure = pack.measures.get(seen.measure.at());
    let said = match &seen.value {
        SeenValue::Number(number) => words::number_text(measure, *number),
        SeenValue::Choice(choice) => choice.to_string(),
        SeenValue::Missing => "missing".to_owned(),
        SeenValue::Never => "never".to_owned(),
    };
    let other = measure
        .filter(|_| subject != Some(seen.measure))
        .map(|measure| &measure.name);
    let exercise = seen
        .exercise
        .and_then(|exercise| pack.exercises.get(exercise.at()));
    let of = match (other, exercise) {
        (Some(measure), Some(exercise)) => Some(format!("{measure} of {}", exercise.key).into()),
        (Some(measure), None) => Some(measure.clone()),
        (None, Some(exercise)) => Some(exercise.key.clone()),
        (None, None) => None,
    };
    let known = seen.position.and_then(|position| {
        let at = history
            .records()
            .binary_search_by_key(&position, |record| record.position)
            .ok()?;
        Some((history.records().get(at)?.recorded_on, position))
    });
    ValueSeen {
        of,
        value: said,
        happened_on: seen.date,
        known,
    }
}

#[cfg(test)]
mod tests;

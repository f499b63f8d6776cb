//! Explanations to messages.
//!
//! Leaves to others: the words (`rungwise_engine::explain`).

use super::decision::{
    cause_to_wire, move_word_to_wire, outcome_to_wire, rule_verdict_to_wire, verdict_to_wire,
};
use super::pack::rule_kind_to_wire;
use super::word_or_empty;
use crate::name::{EpisodeName, pack_name};
use crate::v1;
use rungwise_engine::decision::Cause;
use rungwise_engine::explain::{
    Explanation, FindingExplained, MoveExplained, SentenceExplained, ValueSeen,
};

/// An explanation of a decision of `episode`.
#[must_use]
pub fn explanation_to_wire(episode: &EpisodeName, explanation: &Explanation) -> v1::Explanation {
    let (pack_id, pack_version, digest) = &explanation.pack;
    let finding = |finding: &FindingExplained| finding_to_wire(episode, finding);
    v1::Explanation {
        decision: episode.decision(explanation.decision.0),
        as_of: explanation.as_of.to_string(),
        semantics: explanation.semantics,
        pack: pack_name(&episode.clinic, digest),
        pack_id: pack_id.to_string(),
        pack_version: pack_version.to_string(),
        outcome: outcome_to_wire(explanation.outcome).into(),
        proposed: explanation.proposed,
        phase: word_or_empty(explanation.phase.as_ref()),
        because: causes(episode, &explanation.because),
        moves: explanation
            .moves
            .iter()
            .map(|line| move_to_wire(episode, line))
            .collect(),
        deciding: explanation.deciding.iter().map(finding).collect(),
        others: explanation.others.iter().map(finding).collect(),
        others_count: u32::try_from(explanation.others_count).unwrap_or(u32::MAX),
        to_progress: explanation.to_progress.clone(),
        asks: explanation.asks.clone(),
        next_review: explanation.next_review.to_string(),
    }
}

fn causes(episode: &EpisodeName, causes: &[(Cause, String)]) -> Vec<v1::CauseExplained> {
    causes
        .iter()
        .map(|(cause, text)| v1::CauseExplained {
            cause: Some(cause_to_wire(episode, cause)),
            text: text.clone(),
        })
        .collect()
}

fn move_to_wire(episode: &EpisodeName, line: &MoveExplained) -> v1::MoveExplained {
    v1::MoveExplained {
        line: line.line.to_string(),
        r#move: move_word_to_wire(line.mv).into(),
        before: word_or_empty(line.from.as_ref()),
        after: word_or_empty(line.to.as_ref()),
        because: causes(episode, &line.because),
    }
}

fn finding_to_wire(episode: &EpisodeName, finding: &FindingExplained) -> v1::FindingExplained {
    v1::FindingExplained {
        rule: finding.rule.to_string(),
        kind: rule_kind_to_wire(finding.kind).into(),
        of: word_or_empty(finding.of.as_ref()),
        reason: finding.reason.clone(),
        verdict: rule_verdict_to_wire(finding.verdict).into(),
        sentences: finding
            .sentences
            .iter()
            .map(|sentence| sentence_to_wire(episode, sentence))
            .collect(),
    }
}

fn sentence_to_wire(episode: &EpisodeName, sentence: &SentenceExplained) -> v1::SentenceExplained {
    v1::SentenceExplained {
        text: sentence.text.clone(),
        verdict: verdict_to_wire(sentence.verdict).into(),
        limit: sentence.limit.clone(),
        values: sentence
            .values
            .iter()
            .map(|value| value_to_wire(episode, value))
            .collect(),
        grounds: sentence.grounds.clone(),
    }
}

fn value_to_wire(episode: &EpisodeName, value: &ValueSeen) -> v1::ValueSeen {
    v1::ValueSeen {
        of: word_or_empty(value.of.as_ref()),
        value: value.value.clone(),
        happened_on: value.happened_on.to_string(),
        known_on: value
            .known
            .map(|(date, _)| date.to_string())
            .unwrap_or_default(),
        fact: value
            .known
            .map(|(_, position)| episode.fact(position.0))
            .unwrap_or_default(),
    }
}

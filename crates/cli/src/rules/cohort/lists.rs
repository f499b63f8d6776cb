//! What was counted by sentence and by rule, most frequent first.
//!
//! Leaves to others: telling it (`super::tables`, `super::json`, `super::page`).

use super::Side;
use rungwise_pack::model::RuleKind;
use rungwise_rehearsal::coverage::{Owner, owners};

/// A list of what is counted: whose, its words, two counts.
pub(super) type Counted = Vec<(String, String, [u64; 2])>;

/// What decisions lacked, most often first.
pub(super) fn lacked(side: &Side) -> Counted {
    sentences_with(side, &side.cohort.lacked, &side.cohort.lacked_people)
}

/// What people lacked when they were first stuck, most often first.
pub(super) fn stuck_lacked(side: &Side) -> Counted {
    sentences_with(side, &side.cohort.stuck_lacked, &side.cohort.lacked_people)
}

/// What held, most often first.
pub(super) fn held(side: &Side) -> Counted {
    rules_with(side, &side.cohort.held, &side.cohort.held_people)
}

/// What held because it was in doubt, most often first.
pub(super) fn doubted(side: &Side) -> Counted {
    rules_with(side, &side.cohort.doubted, &side.cohort.held_people)
}

/// What held people when they were first stuck, most often first.
pub(super) fn stuck_held(side: &Side) -> Counted {
    rules_with(side, &side.cohort.stuck_held, &side.cohort.held_people)
}

/// Whether a pack has this owner with these words, counted or not.
pub(super) fn has(side: &Side, owner: &str, words: &str) -> bool {
    let rules = side.pack.rules.len();
    let sentences = side.pack.sentences.len();
    let all = rules_with(side, &vec![1; rules], &vec![1; rules]);
    let all = all.into_iter().chain(sentences_with(
        side,
        &vec![1; sentences],
        &vec![1; sentences],
    ));
    all.into_iter()
        .any(|(other, text, _)| other == owner && text == words)
}

fn sentences_with(side: &Side, counts: &[u64], others: &[u64]) -> Counted {
    let owners = owners(&side.pack);
    let named = |owner: &Option<Owner>| owner.as_ref().map(ToString::to_string);
    let told = side
        .pack
        .sentences
        .iter()
        .zip(&owners)
        .zip(counts.iter().zip(others));
    sorted(told.map(|((sentence, owner), (count, other))| {
        let owner = named(owner).unwrap_or_default();
        (owner, sentence.text.clone(), [*count, *other])
    }))
}

pub(super) fn rules_with(side: &Side, counts: &[u64], others: &[u64]) -> Counted {
    let told = side.pack.rules.iter().zip(counts.iter().zip(others));
    sorted(told.map(|(rule, (count, other))| {
        let kind = match rule.kind {
            RuleKind::Refer { .. } => "refer",
            RuleKind::Regress => "regress",
            _ => "hold",
        };
        let mut texts: Vec<&str> = Vec::new();
        rule.when.each_sentence(&mut |ix| {
            let sentence = side.pack.sentences.get(ix.at());
            texts.extend(sentence.map(|one| one.text.as_str()));
        });
        (
            format!("{kind} {}", rule.key),
            texts.join("; "),
            [*count, *other],
        )
    }))
}

fn sorted(told: impl Iterator<Item = (String, String, [u64; 2])>) -> Counted {
    let mut told: Counted = told.filter(|(_, _, [count, _])| *count > 0).collect();
    // Equals stay in the pack's order.
    told.sort_by_key(|(_, _, [count, _])| std::cmp::Reverse(*count));
    told
}

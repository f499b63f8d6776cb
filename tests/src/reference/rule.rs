//! Sentences combined into a rule, three-valued.
//!
//! Leaves to others: one sentence (`super::sentence`), what a rule does (`super::outcome`).

use super::context::Context;
use super::sentence::{Leaf, Reading, read_sentence};
use rungwise_engine::decision::{RuleVerdict, Verdict};
use rungwise_engine::fact::Position;
use rungwise_pack::model::{Criterion, RuleIx, SentenceIx};
use std::collections::BTreeSet;

/// A criterion judged.
#[derive(Clone, Debug)]
pub struct Judged {
    /// What it comes to.
    pub verdict: RuleVerdict,
    /// Its sentences, in order.
    pub sentences: Vec<(SentenceIx, Verdict)>,
    /// The records that its sentences looked at.
    pub read: BTreeSet<Position>,
}

/// A rule judged.
#[derive(Clone, Debug)]
pub struct JudgedRule {
    /// The rule.
    pub rule: RuleIx,
    /// How it was judged.
    pub judged: Judged,
}

/// Judges a criterion.
#[must_use]
pub fn judge(ctx: &Context<'_>, criterion: &Criterion) -> Judged {
    let mut judged = Judged {
        verdict: RuleVerdict::NotMet,
        sentences: Vec::new(),
        read: BTreeSet::new(),
    };
    let truth = kleene(ctx, criterion, false, &mut judged);
    judged.verdict = match truth {
        Some(true) => RuleVerdict::Met,
        Some(false) => RuleVerdict::NotMet,
        None => RuleVerdict::InDoubt,
    };
    if ctx.cleared && judged.read.is_empty() {
        judged.verdict = RuleVerdict::NotMet;
    }
    judged
}

/// Judges a rule.
#[must_use]
pub fn judge_rule(ctx: &Context<'_>, rule: RuleIx) -> JudgedRule {
    JudgedRule {
        rule,
        judged: judge(ctx, &ctx.pack().rules[rule.at()].when),
    }
}

/// Truth with negations pushed down to the sentences; none: in doubt.
fn kleene(
    ctx: &Context<'_>,
    criterion: &Criterion,
    negated: bool,
    into: &mut Judged,
) -> Option<bool> {
    let (parts, negated, every) = match criterion {
        Criterion::Sentence(sentence) => {
            let read = read_sentence(ctx, &ctx.pack().sentences[sentence.at()], negated);
            into.sentences.push((*sentence, read.verdict()));
            let truth = truth_of(&read, negated);
            into.read.extend(read.read);
            return truth;
        }
        Criterion::All(parts) => (parts, negated, !negated),
        Criterion::Any(parts) => (parts, negated, negated),
        Criterion::None(parts) => (parts, !negated, !negated),
    };
    let truths: Vec<Option<bool>> = parts
        .iter()
        .map(|part| kleene(ctx, part, negated, into))
        .collect();
    if every {
        if truths.contains(&Some(false)) {
            Some(false)
        } else if truths.contains(&None) {
            None
        } else {
            Some(true)
        }
    } else if truths.contains(&Some(true)) {
        Some(true)
    } else if truths.contains(&None) {
        None
    } else {
        Some(false)
    }
}

/// A sentence that is not yet full makes nothing true, negated or not.
fn truth_of(read: &Reading, negated: bool) -> Option<bool> {
    if read.cleared {
        return Some(false);
    }
    let truths: BTreeSet<bool> = read
        .possible
        .iter()
        .map(|leaf| match leaf {
            Leaf::Met => !negated,
            Leaf::NotMet => negated,
            Leaf::NotFull => false,
        })
        .collect();
    if truths.len() == 1 {
        truths.first().copied()
    } else {
        None
    }
}

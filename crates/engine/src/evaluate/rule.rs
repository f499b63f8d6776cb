//! Criteria: sentences combined, three-valued, with negation pushed down to the sentences.

use super::SentenceTrace;
use super::possible::{Possible, Truth};
use super::read::Reader;
use super::view::{Scope, Tap, View};
use crate::decision::{Judgements, RuleVerdict, Verdict};
use rungwise_pack::model::{Computed, Criterion, Origin, Pack, SentenceIx, Subject};

/// A rule judged.
#[derive(Clone, Debug)]
pub(crate) struct Judged {
    /// Its verdict.
    pub(crate) verdict: RuleVerdict,
    /// Its sentences' verdicts, in the rule's order.
    pub(crate) sentences: Judgements,
    /// Whether it read a fact at all.
    pub(crate) read: bool,
    /// Whether it read a fact that is new to the last prescribing decision.
    pub(crate) read_new: bool,
}

impl Judged {
    /// Whether it is met, whatever is missing.
    pub(crate) fn met(&self) -> bool {
        self.verdict == RuleVerdict::Met
    }

    /// Whether missing values could make it met.
    pub(crate) fn in_doubt(&self) -> bool {
        self.verdict == RuleVerdict::InDoubt
    }
}

/// Judges a criterion for a rule of this scope.
pub(crate) fn judge(view: View<'_>, scope: Scope, when: &Criterion) -> Judged {
    let tap = Tap::default();
    let reader = Reader::new(view, scope, &tap);
    let mut judged = Judged {
        verdict: RuleVerdict::NotMet,
        sentences: Judgements::with_capacity(count(when)),
        read: false,
        read_new: false,
    };
    let truth = fold(when, false, &mut |ix, negated| {
        let possible = reader.sentence(ix, negated);
        let truth = possible.truth(negated);
        judged.sentences.push((ix, possible.verdict()));
        truth
    });
    judged.verdict = truth.verdict();
    judged.read = tap.read.get();
    judged.read_new = tap.new.get();
    judged
}

/// Judges a refer rule that a directive cleared: `view` sees only what became known after the directive. A sentence
/// that finds nothing there reads as not met (in whichever sense the rule asks it), and so does a rule all of whose
/// sentences find nothing.
pub(crate) fn judge_cleared(view: View<'_>, scope: Scope, when: &Criterion) -> Judged {
    let tap = Tap::default();
    let reader = Reader::new(view, scope, &tap);
    let mut judged = Judged {
        verdict: RuleVerdict::NotMet,
        sentences: Judgements::with_capacity(count(when)),
        read: false,
        read_new: false,
    };
    let mut any_read = false;
    let truth = fold(when, false, &mut |ix, negated| {
        tap.read.set(false);
        let mut possible = reader.judged(ix, negated);
        any_read |= tap.read.get();
        let mut truth = possible.truth(negated);
        if !tap.read.get() && !needs_no_fact(view.pack, ix) {
            possible = Possible::NOT;
            truth = Truth::FALSE;
        }
        view.note(ix, possible);
        judged.sentences.push((ix, possible.verdict()));
        truth
    });
    if any_read {
        judged.verdict = truth.verdict();
    }
    judged.read = any_read;
    judged.read_new = tap.new.get();
    judged
}

/// Whether a sentence is about a measure that is worked out from dates and decisions alone.
fn needs_no_fact(pack: &Pack, ix: SentenceIx) -> bool {
    let subject = pack.sentences.get(ix.at()).map(|one| &one.subject);
    let Some(Subject::Measure { measure, .. }) = subject else {
        return matches!(subject, Some(Subject::Reached { .. }));
    };
    let origin = pack.measures.get(measure.at()).map(|one| &one.origin);
    matches!(
        origin,
        Some(Origin::Computed(
            Computed::Age
                | Computed::WeeksInCare
                | Computed::DaysInPhase
                | Computed::WeeksInPhase
                | Computed::SessionsInPhase
                | Computed::DaysSinceDoseChanged
        ))
    )
}

impl Reader<'_> {
    /// What a criterion may be.
    pub(crate) fn truth(&self, when: &Criterion) -> Truth {
        fold(when, false, &mut |ix, negated| {
            self.sentence(ix, negated).truth(negated)
        })
    }
}

/// Combines a criterion, visiting every sentence in order with whether it stands under an odd number of `none`.
pub(crate) fn fold(
    when: &Criterion,
    negated: bool,
    leaf: &mut dyn FnMut(SentenceIx, bool) -> Truth,
) -> Truth {
    let (parts, negated, all) = match when {
        Criterion::Sentence(ix) => return leaf(*ix, negated),
        Criterion::All(parts) => (parts, negated, !negated),
        Criterion::Any(parts) => (parts, negated, negated),
        Criterion::None(parts) => (parts, !negated, !negated),
    };
    if all {
        let each = parts.iter().map(|part| fold(part, negated, leaf));
        each.fold(Truth::TRUE, Truth::and)
    } else {
        let each = parts.iter().map(|part| fold(part, negated, leaf));
        each.fold(Truth::FALSE, Truth::or)
    }
}

/// How many sentences a criterion has.
pub(crate) fn count(when: &Criterion) -> usize {
    match when {
        Criterion::Sentence(_) => 1,
        Criterion::All(parts) | Criterion::Any(parts) | Criterion::None(parts) => {
            parts.iter().map(count).sum()
        }
    }
}

/// The smallest list of sentences (by their place in the rule's order, with whether each is negated) that keep a
/// criterion from being met: all that do under `all`, of the alternatives under `any` the one with the fewest.
pub(crate) fn lacking(
    when: &Criterion,
    verdicts: &[(SentenceIx, Verdict)],
) -> Vec<(usize, SentenceIx, bool)> {
    let mut at = 0;
    lacking_part(when, false, verdicts, &mut at)
}

fn lacking_part(
    when: &Criterion,
    negated: bool,
    verdicts: &[(SentenceIx, Verdict)],
    at: &mut usize,
) -> Vec<(usize, SentenceIx, bool)> {
    let (parts, negated, all) = match when {
        Criterion::Sentence(ix) => {
            let wanted = if negated {
                Verdict::NotMet
            } else {
                Verdict::Met
            };
            let met = verdicts.get(*at).map(|(_, verdict)| *verdict) == Some(wanted);
            let here = *at;
            *at = at.saturating_add(1);
            return if met {
                Vec::new()
            } else {
                vec![(here, *ix, negated)]
            };
        }
        Criterion::All(parts) => (parts, negated, !negated),
        Criterion::Any(parts) => (parts, negated, negated),
        Criterion::None(parts) => (parts, !negated, !negated),
    };
    let each: Vec<_> = parts
        .iter()
        .map(|part| lacking_part(part, negated, verdicts, at))
        .collect();
    if all {
        each.concat()
    } else {
        let fewest = each.into_iter().min_by_key(Vec::len);
        fewest.unwrap_or_default()
    }
}

/// One sentence with what it sees.
pub(crate) fn trace_sentence(
    view: View<'_>,
    scope: Scope,
    ix: SentenceIx,
    negated: bool,
) -> SentenceTrace {
    let tap = Tap::tracing();
    let reader = Reader::new(view, scope, &tap);
    let possible = reader.sentence(ix, negated);
    let collected = tap.collect();
    let verdict = possible.verdict();
    SentenceTrace {
        sentence: ix,
        verdict,
        seen: collected.seen,
        value: collected.value,
        wanted: collected.wanted,
        sessions_more: collected.sessions_more,
    }
}

/// Every sentence of a criterion with what it sees, in order.
pub(crate) fn trace_criterion(
    view: View<'_>,
    scope: Scope,
    when: &Criterion,
) -> Vec<SentenceTrace> {
    let mut traces = Vec::with_capacity(count(when));
    fold(when, false, &mut |ix, negated| {
        traces.push(trace_sentence(view, scope, ix, negated));
        Truth::TRUE
    });
    traces
}

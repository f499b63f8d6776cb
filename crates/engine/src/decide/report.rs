//! A decision put together: state, proposal, findings, and what is asked for.
//!
//! Leaves to others: what was decided (`super::course`, `super::begin`).

use super::case::Case;
use super::fitting::settle_all;
use super::outlook;
use super::refer::Referral;
use super::stand::Stand;
use crate::decision::{Cause, Decision, Finding, LineMove};
use crate::evaluate::Judged;
use crate::fact::Position;
use rungwise_pack::model::{MeasureIx, Outcome, RuleIx};
use rungwise_pack::quantity::Key;

/// What was decided, before it is put together.
pub(crate) struct Draft {
    /// The outcome.
    pub(crate) outcome: Outcome,
    /// What decided.
    pub(crate) because: Vec<Cause>,
    /// Moves, in the pack's order of lines.
    pub(crate) moves: Vec<LineMove>,
    /// What stands with every move made.
    pub(crate) full: Stand,
    /// What stands with only the cautious ones, where the outcome waits for a sign-off.
    pub(crate) cautious: Option<Stand>,
    /// Every rule judged.
    pub(crate) judged: Vec<(RuleIx, Judged)>,
    /// The rules of the next phase, or of discharge.
    pub(crate) upward: Vec<(RuleIx, Judged)>,
    /// Review rules met.
    pub(crate) reviews: Vec<RuleIx>,
    /// Whether it prescribes.
    pub(crate) prescribes: bool,
    /// Whether it only repeats that care has ended.
    pub(crate) standing: bool,
    /// Corrections that wait for a clinician.
    pub(crate) corrected: Vec<Position>,
    /// Whether a lay-off asks for a clinician's look.
    pub(crate) lay_off_review: bool,
    /// Screening measures not answered.
    pub(crate) unanswered: Vec<MeasureIx>,
    /// Latched refer rules.
    pub(crate) latched: Vec<Key>,
}

impl Draft {
    /// One that decides nothing yet.
    pub(crate) fn new(referral: Referral) -> Self {
        Self {
            outcome: Outcome::Hold,
            because: Vec::new(),
            moves: Vec::new(),
            full: Stand::default(),
            cautious: None,
            judged: referral.judged,
            upward: Vec::new(),
            reviews: Vec::new(),
            prescribes: true,
            standing: false,
            corrected: Vec::new(),
            lay_off_review: false,
            unanswered: Vec::new(),
            latched: referral
                .latched
                .into_iter()
                .map(|(key, _, _)| key)
                .collect(),
        }
    }
}

/// Whether an outcome waits for a clinician's sign-off. The cautious ones act at once, whatever the pack asks.
pub(crate) fn needs_sign_off(case: &Case<'_>, outcome: Outcome) -> bool {
    outcome.rank() >= Outcome::Continue.rank() && case.pack.sign_off.contains(&outcome)
}

/// Puts a decision together.
pub(crate) fn report(case: &Case<'_>, mut draft: Draft) -> Decision {
    let proposed = needs_sign_off(case, draft.outcome) && !draft.standing;
    for stand in [Some(&mut draft.full), draft.cautious.as_mut()]
        .into_iter()
        .flatten()
    {
        settle_all(case, stand);
    }
    draft.full.latched.clone_from(&draft.latched);
    let full = draft.full.write(case.pack);
    let (state, if_accepted) = match draft.cautious.take().filter(|_| proposed) {
        Some(mut cautious) => {
            cautious.latched.clone_from(&draft.latched);
            (cautious.write(case.pack), Some(full))
        }
        None => (full, None),
    };
    draft.judged.sort_by_key(|(ix, _)| *ix);
    let next_review = outlook::next_review(case);
    let to_progress = outlook::to_progress(case, &draft.upward);
    let asks = outlook::asks(case, &draft, proposed, next_review, &to_progress);
    let mut because = draft.because;
    because.extend(case.stand.unmapped.iter().cloned().map(Cause::Unmapped));
    let findings = draft
        .judged
        .into_iter()
        .map(|(rule, judged)| Finding {
            rule,
            verdict: judged.verdict,
            sentences: judged.sentences,
        })
        .collect();
    Decision {
        as_of: case.as_of,
        semantics: crate::SEMANTICS,
        pack: case.pack.digest,
        outcome: draft.outcome,
        proposed,
        prescribes: draft.prescribes,
        moves: draft.moves,
        state,
        if_accepted,
        findings,
        because,
        to_progress,
        asks,
        next_review,
    }
}

//! Deciding: a pack, a history and a date in, a decision out. Pure and total (design, section 5).
//!
//! Leaves to others: saying it in words (`crate::explain`), doses and sheets (`crate::prescription`, `crate::sheet`).

use crate::decision::{Decision, State};
use crate::evaluate::SentenceTrace;
use crate::fact::{DecisionNo, Directive, Position};
use crate::history::History;
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, RuleIx};

/// What asking for the next decision gives.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Next {
    /// Nothing changed since this decision: it stands, and nothing is to be recorded.
    Again(DecisionNo),
    /// A new decision, to be recorded.
    New(Box<Decision>),
}

/// Why no decision was made.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum NextError {
    /// The date asked for lies before the last decision's.
    AsOfBeforeLast {
        /// The date asked for.
        as_of: Date,
        /// The last decision's date.
        last: Date,
    },
}

/// What is in force on a date: the last prescribing decision's state, with the proposals accepted and the directives
/// given since.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct InForce {
    /// The state. Doses are bounded by `directives` besides.
    pub state: State,
    /// The decision it comes from; none before the first.
    pub decision: Option<DecisionNo>,
    /// The directives that bind on the date, oldest first, with their positions.
    pub directives: Vec<(Position, Directive)>,
    /// Whether a directive pauses everything.
    pub paused: bool,
    /// The newest proposal that may still be accepted.
    pub open_proposal: Option<DecisionNo>,
}

/// The decision for `as_of`. Facts dated later are not seen. Pure and total; also what a preview shows.
#[must_use]
pub fn decide(pack: &CheckedPack, history: &History, as_of: Date) -> Decision {
    Decision {
        as_of,
        semantics: crate::SEMANTICS,
        pack: pack.digest,
        outcome: rungwise_pack::model::Outcome::Await,
        proposed: false,
        prescribes: false,
        moves: Vec::new(),
        state: history
            .last_decision()
            .map(|(_, _, last)| last.state.clone())
            .unwrap_or_default(),
        if_accepted: None,
        findings: Vec::new(),
        because: Vec::new(),
        to_progress: Vec::new(),
        asks: Vec::new(),
        next_review: as_of,
    }
}

/// The next decision for `as_of`: the last one again where nothing changed (same facts, pack and date), else a new one.
///
/// # Errors
/// [`NextError::AsOfBeforeLast`] where `as_of` lies before the last decision's date.
pub fn next(pack: &CheckedPack, history: &History, as_of: Date) -> Result<Next, NextError> {
    let Some((no, position, last)) = history.last_decision() else {
        return Ok(Next::New(Box::new(decide(pack, history, as_of))));
    };
    if as_of < last.as_of {
        return Err(NextError::AsOfBeforeLast {
            as_of,
            last: last.as_of,
        });
    }
    let newest = history.records().last().map(|record| record.position);
    let same = newest == Some(position) && last.as_of == as_of && last.pack == pack.digest;
    if same {
        return Ok(Next::Again(no));
    }
    Ok(Next::New(Box::new(decide(pack, history, as_of))))
}

/// What is in force on `as_of`, before any further decision.
#[must_use]
pub fn in_force(pack: &CheckedPack, history: &History, as_of: Date) -> InForce {
    let last = history.last_decision();
    let _ = (pack, as_of);
    InForce {
        state: last
            .map(|(_, _, last)| last.state.clone())
            .unwrap_or_default(),
        decision: last.map(|(no, _, _)| no),
        directives: Vec::new(),
        paused: false,
        open_proposal: None,
    }
}

/// The sentences of a rule with the values that they see at `as_of`, in the rule's order: for explanations.
#[must_use]
pub fn trace(
    pack: &CheckedPack,
    history: &History,
    as_of: Date,
    rule: RuleIx,
) -> Vec<SentenceTrace> {
    let _ = (pack, history, as_of, rule);
    Vec::new()
}

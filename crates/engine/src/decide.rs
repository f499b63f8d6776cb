//! Deciding: a pack, a history and a date in, a decision out. Pure and total (design, section 5).
//!
//! Leaves to others: saying it in words (`crate::explain`), doses and sheets (`crate::prescription`, `crate::sheet`).

mod begin;
mod bounds;
mod case;
mod climb;
mod complete;
mod correction;
mod course;
mod fitting;
mod introduce;
mod lay_off;
mod limit;
mod lines;
mod outlook;
mod refer;
mod report;
mod stand;

pub(crate) use stand::{Spot, Stand};

use crate::decision::{Decision, State};
use crate::evaluate::{Scope, SentenceTrace, Watch, trace_criterion};
use crate::fact::{DecisionNo, Directive, Order, Position};
use crate::history::History;
use case::Case;
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, Polarity, Rule, RuleIx, RuleKind};

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
///
/// INVARIANT (same-bytes): nothing but the pack, the records and the date goes in.
#[must_use]
pub fn decide(pack: &CheckedPack, history: &History, as_of: Date) -> Decision {
    with_index(pack, history, as_of, |history| {
        decide_on(pack, history, as_of)
    })
}

/// The same decision, with the verdicts of the sentences that it reads told to a watch.
#[must_use]
pub fn decide_watched(
    pack: &CheckedPack,
    history: &History,
    as_of: Date,
    watch: &Watch,
) -> Decision {
    with_index(pack, history, as_of, |history| {
        decide_case(&Case::watched(pack, history, as_of, watch))
    })
}

/// Decides on a history that is indexed for the pack.
fn decide_on(pack: &CheckedPack, history: &History, as_of: Date) -> Decision {
    decide_case(&Case::new(pack, history, as_of))
}

/// Decides once more, on corrected facts, what was decided after the decisions of `issued`.
fn decide_again(pack: &CheckedPack, history: &History, as_of: Date, issued: &History) -> Decision {
    decide_case(&Case::again(pack, history, as_of, issued))
}

fn decide_case(case: &Case<'_>) -> Decision {
    if case.begun {
        course::course(case)
    } else {
        begin::begin(case)
    }
}

/// Calls `then` with the history indexed for the pack and without corrections dated after `as_of`.
fn with_index<T>(
    pack: &CheckedPack,
    history: &History,
    as_of: Date,
    then: impl FnOnce(&History) -> T,
) -> T {
    let index = history.index();
    let ahead = index.corrections.iter().any(|one| one.date > as_of);
    if index.pack != pack.digest {
        let under = history.under(pack);
        then(&under.seen_on(pack, as_of))
    } else if ahead {
        then(&history.seen_on(pack, as_of))
    } else {
        then(history)
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
    with_index(pack, history, as_of, |history| {
        let case = Case::new(pack, history, as_of);
        let state = if case.begun {
            let mut stand = case.stand.clone();
            fitting::settle_new(&case, &mut stand);
            stand.write(pack)
        } else {
            history.standing().write(pack)
        };
        let directives = case.binding();
        InForce {
            state,
            decision: case.last.map(|last| last.no),
            directives: directives
                .map(|one| (one.position, one.directive.clone()))
                .collect(),
            paused: case
                .binding()
                .any(|one| one.directive.order == Order::Pause),
            open_proposal: open_proposal(history),
        }
    })
}

/// The newest proposal that may still be accepted and was not.
fn open_proposal(history: &History) -> Option<DecisionNo> {
    let index = history.index();
    let count = u32::try_from(index.decisions.len()).unwrap_or(u32::MAX);
    let newest = count.checked_sub(1).map(DecisionNo)?;
    let accepted = index.accepted.iter().any(|one| one.decision == newest);
    (!accepted && index.acceptable(history.records(), newest)).then_some(newest)
}

/// The sentences of a rule with the values that they see at `as_of`, in the rule's order: for explanations.
#[must_use]
pub fn trace(
    pack: &CheckedPack,
    history: &History,
    as_of: Date,
    rule: RuleIx,
) -> Vec<SentenceTrace> {
    let Some(rule) = pack.rules.get(rule.at()) else {
        return Vec::new();
    };
    with_index(pack, history, as_of, |history| {
        let case = Case::new(pack, history, as_of);
        trace_criterion(case.view(), scope_of(&case, rule), &rule.when)
    })
}

/// For which sessions a rule is judged.
fn scope_of(case: &Case<'_>, rule: &Rule) -> Scope {
    let spot = rule.exercise.and_then(|one| case.stand.spot_of(one));
    match rule.kind {
        RuleKind::Climb => match spot {
            Some(spot) => climb::scope(spot),
            None => Scope {
                exercise: rule.exercise,
                sessions_of: rule.exercise,
                ..Scope::UPWARD
            },
        },
        RuleKind::BringBack => Scope {
            exercise: rule.exercise,
            from: rule.exercise.and_then(|one| case.stand.withdrawn(one)),
            ..Scope::UPWARD
        },
        RuleKind::Enter | RuleKind::Discharge => course::upward_scope(case),
        kind if kind.polarity() == Polarity::Upward => Scope::UPWARD,
        _ => Scope::CAUTIOUS,
    }
}

#[cfg(test)]
mod tests;

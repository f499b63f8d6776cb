//! Corrections: whether an earlier move that still stands would not have been made with the corrected fact (rule 10).
//!
//! Leaves to others: the hold that follows (`super::weigh`).

use super::decide_on;
use super::view::{Decided, View};
use rungwise_engine::decision::{LineMove, State};
use rungwise_engine::fact::{Body, Correction, FactKind, Order, Position};
use rungwise_pack::model::Outcome;

/// The first correction that leaves a standing move without support and that no clinician has looked at.
#[must_use]
pub fn is_unsupported(view: &View<'_>, state: &State) -> Option<Position> {
    let all: Vec<&Correction> = view
        .entries
        .iter()
        .filter_map(|entry| match &entry.fact.kind {
            FactKind::Correction(correction) => Some(correction),
            _ => None,
        })
        .collect();
    for entry in &view.entries {
        let FactKind::Correction(correction) = &entry.fact.kind else {
            continue;
        };
        let looked_at = view.directives().into_iter().any(|(directive, order)| {
            directive.position > entry.position
                && matches!(order.order, Order::Confirm | Order::Place { .. })
        });
        if looked_at {
            continue;
        }
        let original = view
            .records
            .iter()
            .find(|record| record.position == correction.of);
        for decided in &view.decisions {
            let saw = original.is_some_and(|original| match &original.body {
                Body::Fact(fact) => {
                    original.position < decided.position && fact.date <= decided.decision.as_of
                }
                Body::Decision(_) => false,
            });
            if saw && decided.position < entry.position && loses(view, state, *decided, &all) {
                return Some(entry.position);
            }
        }
    }
    None
}

/// Whether a decision made an upward move that stands and that it would not have made with the correction.
fn loses(
    view: &View<'_>,
    state: &State,
    decided: Decided<'_>,
    corrections: &[&Correction],
) -> bool {
    let decision = decided.decision;
    if decision.proposed && !view.was_accepted(decided, view.today, Position(u64::MAX)) {
        return false;
    }
    let entered = match decision.outcome {
        Outcome::Begin | Outcome::Progress => {
            state.stay.is_some_and(|(stay, _)| stay == decided.number)
        }
        Outcome::Discharge => state.discharged,
        _ => false,
    };
    let raised: Vec<&LineMove> = decision
        .moves
        .iter()
        .filter(|one| one.mv.rank() > 3 && stands(view, state, decided, one))
        .collect();
    if !entered && raised.is_empty() {
        return false;
    }
    let again = decide_on(&view.seen_by(decided).with(corrections));
    let same = |one: &LineMove| {
        again
            .moves
            .iter()
            .any(|other| other.line == one.line && other.mv.rank() > 3)
    };
    (entered && again.outcome.rank() < decision.outcome.rank()) || !raised.into_iter().all(same)
}

fn stands(view: &View<'_>, state: &State, decided: Decided<'_>, one: &LineMove) -> bool {
    let in_place = state
        .places
        .iter()
        .any(|place| place.line == one.line && Some(&place.exercise) == one.to.as_ref());
    let lowered = view
        .decisions
        .iter()
        .filter(|later| later.number > decided.number)
        .any(|later| {
            later
                .decision
                .moves
                .iter()
                .any(|other| other.line == one.line && other.mv.rank() < 3)
        });
    in_place && !lowered
}

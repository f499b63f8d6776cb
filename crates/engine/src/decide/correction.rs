//! Corrections of facts on which upward moves stand.
//!
//! Leaves to others: holding and asking (`super::course`, `super::report`).

use super::case::Case;
use super::course::goes_up;
use super::decide_again;
use crate::decision::{Decision, LineMove, Move};
use crate::fact::{Body, DecisionNo, Fact, FactKind, Order, Position, Record};
use crate::history::{CorrectionAt, History, fact_of, record_at};
use rungwise_pack::model::Outcome;

/// The corrections, not yet confirmed by a clinician, that leave an upward move without support which still stands.
pub(crate) fn corrected(case: &Case<'_>) -> Vec<Position> {
    // A decision made again asks no more of those before it: bounded, and they are looked at for themselves.
    if case.is_again() {
        return Vec::new();
    }
    let open = open_corrections(case);
    let Some(oldest) = open.iter().map(|one| one.of).min() else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let decisions: Vec<(Position, &Decision)> = case.history.decisions().collect();
    for (at, (position, decision)) in decisions.iter().enumerate() {
        if *position < oldest {
            continue;
        }
        let unseen: Vec<Position> = open
            .iter()
            .filter(|one| {
                one.of < *position && one.of_date <= decision.as_of && one.position > *position
            })
            .map(|one| one.position)
            .collect();
        let Ok(no) = u32::try_from(at) else { break };
        let later = decisions.get(at.saturating_add(1)..).unwrap_or_default();
        let standing = standing_moves(case, DecisionNo(no), decision, later);
        if unseen.is_empty() || standing.is_empty() {
            continue;
        }
        if !made_again(case, *position, decision, &standing) {
            for position in unseen {
                if !found.contains(&position) {
                    found.push(position);
                }
            }
        }
    }
    found.sort_unstable();
    found
}

/// What of a decision still stands.
enum Standing<'a> {
    /// It began this stay in the phase, or ended care.
    Phase,
    /// It raised this line.
    Line(&'a LineMove),
}

/// Corrections seen that no later *confirm* or *place* settles.
fn open_corrections(case: &Case<'_>) -> Vec<CorrectionAt> {
    let settled = case
        .given
        .iter()
        .filter(|one| matches!(one.directive.order, Order::Confirm | Order::Place { .. }));
    let settled = settled.map(|one| one.position).max();
    let corrections = case.history.index().corrections.iter();
    corrections
        .filter(|one| one.date <= case.as_of)
        .filter(|one| settled.is_none_or(|settled| one.position > settled))
        .copied()
        .collect()
}

fn standing_moves<'d>(
    case: &Case<'_>,
    no: DecisionNo,
    decision: &'d Decision,
    later: &[(Position, &Decision)],
) -> Vec<Standing<'d>> {
    let mut found = Vec::new();
    let mut acceptances = case.history.index().accepted.iter();
    let accepted = acceptances.any(|one| one.decision == no && one.date <= case.as_of);
    if decision.proposed && !accepted {
        return found;
    }
    let enters = matches!(
        decision.outcome,
        Outcome::Begin | Outcome::Progress | Outcome::Discharge
    );
    let began = case.stand.stay.is_some_and(|(stay, _)| stay == no);
    let ended = decision.outcome == Outcome::Discharge && case.stand.discharged;
    if enters && (began || ended) {
        found.push(Standing::Phase);
    }
    for one in decision.moves.iter().filter(|one| goes_up(one)) {
        let to = one.to.as_deref().and_then(|key| case.exercise(key));
        let stands = to.is_some_and(|to| case.stand.spot_of(to).is_some());
        let lowered = later.iter().any(|(_, later)| {
            let mut moves = later.moves.iter();
            moves.any(|later| later.line == one.line && later.mv < Move::Keep)
        });
        if stands && !lowered {
            found.push(Standing::Line(one));
        }
    }
    found
}

/// The records that a decision at `position` saw, with what corrections unknown to it say now put in: into the fact that
/// they correct, or into the correction of it that the decision knew.
fn corrected_records(case: &Case<'_>, position: Position) -> Vec<Record> {
    let records = case.history.records();
    let corrections = &case.history.index().corrections;
    let before = records.partition_point(|record| record.position < position);
    let mut seen: Vec<Option<Record>> = records.iter().take(before).cloned().map(Some).collect();
    for (at, one) in corrections.iter().enumerate() {
        let later = corrections.iter().skip(at.saturating_add(1));
        let superseded = later.clone().any(|later| later.of == one.of);
        if one.position < position || superseded {
            continue;
        }
        let mut known = corrections.iter().rev();
        let known = known.find(|known| known.of == one.of && known.position < position);
        let held = record_at(records, one.position).and_then(|at| records.get(at));
        let now = held.and_then(fact_of);
        let place = record_at(records, known.map_or(one.of, |known| known.position));
        if let Some(place) = place.and_then(|place| seen.get_mut(place)) {
            *place = place.take().and_then(|record| put(record, now));
        }
    }
    seen.into_iter().flatten().collect()
}

/// A record with another content; none where a fact is void. A correction stays one.
fn put(mut record: Record, now: Option<&Fact>) -> Option<Record> {
    let Body::Fact(fact) = &mut record.body else {
        return Some(record);
    };
    match (&mut fact.kind, now) {
        (FactKind::Correction(correction), now) => {
            correction.replacement = now.cloned().map(Box::new);
        }
        (_, Some(now)) => *fact = now.clone(),
        (_, None) => return None,
    }
    Some(record)
}

/// Whether a decision, made again on the corrected facts that it saw, makes the moves that still stand.
fn made_again(
    case: &Case<'_>,
    position: Position,
    decision: &Decision,
    standing: &[Standing<'_>],
) -> bool {
    let records = corrected_records(case, position);
    let history = History::of(case.pack, case.history.episode().clone(), records);
    let again = decide_again(case.pack, &history, decision.as_of, case.history);
    standing.iter().all(|one| match one {
        Standing::Phase => again.outcome.rank() >= decision.outcome.rank(),
        Standing::Line(line) => again
            .moves
            .iter()
            .any(|one| one.line == line.line && goes_up(one)),
    })
}

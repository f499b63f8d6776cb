//! No bolder: the order in which decisions are compared (design, section 5).
//!
//! Leaves to others: the theorems that use it, and looking for a course on which one pack is bolder (`crate::versions`).

use rungwise_engine::decision::{Decision, Move};
use rungwise_pack::model::Outcome;
use rungwise_pack::quantity::Key;
use std::collections::BTreeSet;

/// The phase in which a decision leaves the person, once accepted.
fn phase_after(decision: &Decision) -> Option<&Key> {
    decision
        .if_accepted
        .as_ref()
        .unwrap_or(&decision.state)
        .phase
        .as_ref()
}

/// A line's rank: that of its move; one that is not prescribed afterwards ranks with WITHDRAW.
fn rank(decision: &Decision, line: &Key) -> u8 {
    let found = decision
        .moves
        .iter()
        .find(|one| one.line == *line && one.to.is_some());
    found.map_or(Move::Withdraw.rank(), |one| one.mv.rank())
}

/// A line's move in words.
fn moved(decision: &Decision, line: &Key) -> &'static str {
    let found = decision.moves.iter().find(|one| one.line == *line);
    match found {
        Some(one) if one.to.is_some() => one.mv.word(),
        _ => "nowhere",
    }
}

fn prescribed(decision: &Decision, line: &Key) -> bool {
    decision
        .moves
        .iter()
        .any(|one| one.line == *line && one.to.is_some())
}

fn returns(decision: &Decision, line: &Key) -> bool {
    decision
        .moves
        .iter()
        .any(|one| one.line == *line && one.mv == Move::Return)
}

/// Why `a` is bolder than `b`; nothing where it is no bolder.
#[must_use]
pub fn bolder(a: &Decision, b: &Decision) -> Option<String> {
    if a.outcome.rank() > b.outcome.rank() {
        return Some(format!(
            "{} is bolder than {}",
            a.outcome.word(),
            b.outcome.word()
        ));
    }
    if a.outcome == Outcome::Discharge || b.outcome == Outcome::Discharge {
        return None;
    }
    let lines: BTreeSet<&Key> = a
        .moves
        .iter()
        .chain(&b.moves)
        .map(|one| &one.line)
        .collect();
    let one_phase = phase_after(a) == phase_after(b);
    for line in lines {
        let compared = (one_phase || (prescribed(a, line) && prescribed(b, line)))
            && !(a.outcome.rank() <= Outcome::Regress.rank() && returns(a, line));
        if compared && rank(a, line) > rank(b, line) {
            return Some(format!(
                "{line} moves {} and not {}",
                moved(a, line),
                moved(b, line)
            ));
        }
    }
    None
}

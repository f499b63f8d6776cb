//! Lay-offs: gaps between sessions held against the pack's table (rule 7).
//!
//! Leaves to others: easing the lines (`super::lines`).

use super::view::{View, days_between};
use jiff::civil::Date;
use rungwise_engine::decision::State;

/// What gaps do in this decision.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LayOff {
    /// Whether a row of the table is newly reached.
    pub acts: bool,
    /// Steps to ease.
    pub steps: u16,
    /// The rows reached, for the two newest gaps.
    pub rows: Vec<(Date, u16)>,
}

/// Judges the gaps.
#[must_use]
pub fn lay_off(view: &View<'_>, state: &State) -> LayOff {
    let mut found = LayOff {
        acts: false,
        steps: 0,
        rows: state.lay_offs.clone(),
    };
    for (from, days) in gaps(view, state) {
        let table = &view.pack.lay_off;
        let Some(row) = table.iter().rposition(|row| i64::from(row.days) <= days) else {
            continue;
        };
        let acted = found
            .rows
            .iter()
            .find(|(start, _)| *start == from)
            .map(|(_, row)| *row);
        if acted.is_some_and(|acted| usize::from(acted) >= row) {
            continue;
        }
        let already = acted.map_or(0, |acted| table[usize::from(acted)].steps);
        found.acts = true;
        found.steps += table[row].steps.saturating_sub(already);
        found.rows.retain(|(start, _)| *start != from);
        found.rows.push((from, row as u16));
        found.rows.sort();
    }
    let old = found.rows.len().saturating_sub(2);
    found.rows.drain(..old);
    found
}

/// Gaps that a new session ended, and the one still open.
fn gaps(view: &View<'_>, state: &State) -> Vec<(Date, i64)> {
    let Some(began) = state.began.filter(|_| !state.places.is_empty()) else {
        return Vec::new();
    };
    let seen = view.last_prescribing();
    let sessions = view.sessions();
    let mut gaps = Vec::new();
    let mut from = began;
    for session in sessions.iter().filter(|session| session.date > began) {
        if View::is_new(session.known, session.date, seen) {
            gaps.push((from, days_between(from, session.date)));
        }
        from = session.date;
    }
    gaps.push((from, days_between(from, view.today)));
    gaps
}

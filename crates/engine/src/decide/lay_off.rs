//! Lay-offs: gaps between sessions, and what the pack's table gives for them.
//!
//! Leaves to others: easing the lines (`super::lines`).

use super::case::Case;
use crate::evaluate::days_between;
use jiff::civil::Date;

/// What the gaps ask for in this decision.
#[derive(Default, Debug)]
pub(crate) struct LayOff {
    /// Steps that every line is eased.
    pub(crate) steps: u32,
    /// Length in days of the longest gap that newly reached a row; none: no gap did.
    pub(crate) days: Option<u32>,
    /// Whether a row reached asks for a clinician's look.
    pub(crate) review: bool,
    /// Gaps acted on from now on: (date it began, row), the two newest, oldest first.
    pub(crate) acted: Vec<(Date, u16)>,
}

/// Looks at the gaps that end with a new session, and at the one still open.
pub(crate) fn lay_off(case: &Case<'_>, new: &[usize]) -> LayOff {
    let mut found = LayOff {
        acted: case.stand.lay_offs.clone(),
        ..LayOff::default()
    };
    let Some(began) = case.stand.began else {
        return found;
    };
    let index = case.history.index();
    let end = index.sessions.partition_point(|one| one.date <= case.as_of);
    for at in new {
        let Some(session) = index.sessions.get(*at) else {
            continue;
        };
        if !case.is_new(session.date, session.known) {
            continue;
        }
        let before = at.checked_sub(1).and_then(|one| index.sessions.get(one));
        let start = before.map_or(began, |before| before.date.max(began));
        reach(case, start, session.date, &mut found);
    }
    let last = end.checked_sub(1).and_then(|one| index.sessions.get(one));
    let start = last.map_or(began, |last| last.date.max(began));
    reach(case, start, case.as_of, &mut found);
    found.acted.sort_unstable();
    let surplus = found.acted.len().saturating_sub(2);
    found.acted.drain(..surplus);
    found
}

fn reach(case: &Case<'_>, start: Date, end: Date, found: &mut LayOff) {
    let days = days_between(start, end);
    let rows = &case.pack.lay_off;
    let Some(row) = rows.iter().rposition(|row| i64::from(row.days) <= days) else {
        return;
    };
    let acted = found.acted.iter().position(|(from, _)| *from == start);
    let earlier = acted
        .and_then(|at| found.acted.get(at))
        .map(|(_, row)| usize::from(*row));
    if earlier.is_some_and(|earlier| row <= earlier) {
        return;
    }
    let steps = |at: usize| rows.get(at).map_or(0, |row| u32::from(row.steps));
    let before = earlier.map_or(0, steps);
    found.steps = found
        .steps
        .saturating_add(steps(row).saturating_sub(before));
    let length = u32::try_from(days).unwrap_or(u32::MAX);
    found.days = Some(found.days.map_or(length, |longest| longest.max(length)));
    found.review |= rows.get(row).is_some_and(|row| row.review);
    let row = u16::try_from(row).unwrap_or(u16::MAX);
    match acted.and_then(|at| found.acted.get_mut(at)) {
        Some((_, kept)) => *kept = row,
        None => found.acted.push((start, row)),
    }
}

/// The date on which the open gap reaches its next row.
pub(crate) fn next_row(case: &Case<'_>) -> Option<Date> {
    let began = case.stand.began?;
    let last = case.view().last_session().map(|last| last.date);
    let start = last.map_or(began, |last| last.max(began));
    let days = days_between(start, case.as_of);
    let row = case
        .pack
        .lay_off
        .iter()
        .find(|row| i64::from(row.days) > days)?;
    start
        .checked_add(jiff::Span::new().try_days(i64::from(row.days)).ok()?)
        .ok()
}

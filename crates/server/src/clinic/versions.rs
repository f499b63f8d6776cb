//! Which version of a pack decides an episode on a date.
//!
//! It is a function of what the ledger holds and of the date asked for, never of the time: asked again later, or by an
//! auditor, it gives the same.
//!
//! Leaves to others: how a version comes into force (`super::stream`), what an episode holds (`crate::episode`).

use jiff::civil::Date;
use rungwise_api::content::PackFor;
use rungwise_engine::history::History;
use rungwise_pack::quantity::Key;

/// A version that came into force.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Version {
    /// Where it was approved, or was brought into force without leads.
    pub(crate) position: u64,
    /// The pack.
    pub(crate) digest: [u8; 32],
    /// The date on which it was recorded.
    pub(crate) recorded_on: Date,
    /// Decisions for this date and later are made under it; none: every decision made from then on.
    pub(crate) from: Option<Date>,
    /// Which episodes come under it.
    pub(crate) for_episodes: PackFor,
}

/// An episode, as far as the choice asks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Course<'a> {
    /// Where its opening stands.
    pub(crate) opened_at: u64,
    /// The date on which it opened here; for an imported one that of its import.
    pub(crate) opened_on: Date,
    /// What is known of it.
    pub(crate) history: &'a History,
}

impl Version {
    fn is_for(&self, date: Date) -> bool {
        self.from.is_none_or(|from| from <= date)
    }

    /// Later ones stand above earlier ones.
    fn order(&self) -> (Date, u64) {
        (self.from.unwrap_or(self.recorded_on), self.position)
    }

    fn takes(&self, course: &Course<'_>) -> bool {
        let is_new = course.opened_at > self.position && self.is_for(course.opened_on);
        match self.for_episodes {
            PackFor::All => true,
            PackFor::New => is_new,
            PackFor::NextPhase => is_new || self.was_phase_changed(course),
        }
    }

    /// Whether the episode has not begun, or a decision made since then stands in another phase than the one before it.
    fn was_phase_changed(&self, course: &Course<'_>) -> bool {
        let mut before: Option<&Key> = None;
        for (position, decision) in course.history.decisions() {
            let phase = decision.state.phase.as_ref();
            let is_since = position.0 > self.position && self.is_for(decision.as_of);
            if is_since && before.is_some() && phase != before {
                return true;
            }
            before = phase;
        }
        before.is_none()
    }
}

/// The versions that count on a date, in the order in which they stand above each other.
fn on(versions: &[Version], date: Date) -> Vec<&Version> {
    let mut found: Vec<&Version> = versions.iter().filter(|one| one.is_for(date)).collect();
    found.sort_by_key(|one| one.order());
    found
}

/// The version under which an episode comes that opens on this date.
pub(crate) fn for_new(versions: &[Version], date: Date) -> Option<[u8; 32]> {
    on(versions, date).last().map(|one| one.digest)
}

/// The version that decides an episode for this date. One that opened before any version counted has the first.
pub(crate) fn for_course(
    versions: &[Version],
    course: &Course<'_>,
    as_of: Date,
) -> Option<[u8; 32]> {
    let mut chosen = versions.iter().min_by_key(|one| one.order())?;
    for version in on(versions, as_of) {
        if version.takes(course) {
            chosen = version;
        }
    }
    Some(chosen.digest)
}

#[cfg(test)]
mod tests;

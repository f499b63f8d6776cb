//! The hidden state of a virtual person: what lifts it, what lowers it, what is felt of it. Integers throughout, in
//! millionths, so that every machine comes to the same.
//!
//! Leaves to others: what is told of it (`crate::cohort::report`), what the numbers are (`crate::cohort::model`).

use crate::cohort::draw::Purpose;
use crate::cohort::model::Of;
use crate::cohort::person::{MICRO, Person, Spell};
use rungwise_engine::fact::SetDone;

/// Most of a set that is lost, in millionths, however far a dose is beyond what is borne.
const LOST_MAX: i64 = MICRO / 2;

#[derive(Clone, Copy, Debug)]
pub(super) struct Body {
    /// From 0 to [`MICRO`].
    state: i64,
    /// How full the training of the last week or so was, from 0 to [`MICRO`].
    training: i64,
    flare_up: Option<(Spell, i64)>,
    /// How far today's session was beyond what is borne.
    strained: i64,
}

impl Body {
    pub(super) fn new(person: &Person<'_>) -> Self {
        Self {
            state: person.has(Of::Start) * 1000,
            training: 0,
            flare_up: None,
            strained: 0,
        }
    }

    /// Whether a flare-up begins this morning: of itself, or after yesterday's session.
    pub(super) fn flares_up(&mut self, person: &Person<'_>, day: u32) -> bool {
        let strained = std::mem::take(&mut self.strained);
        if self.in_flare_up(day) {
            return false;
        }
        let permille = strained * person.has(Of::OverloadFlare) / MICRO;
        let brought = person.draws.chance(permille, Purpose::Overload, day, 0);
        let begins = brought || person.flares_up(day);
        if begins {
            self.flare_up = Some(person.flare_up(day));
        }
        begins
    }

    pub(super) fn in_flare_up(&self, day: u32) -> bool {
        self.flare_up.is_some_and(|(spell, _)| spell.holds(day))
    }

    /// How far a flare-up lowers the state today.
    fn lowered(&self, day: u32) -> i64 {
        let holding = self.flare_up.filter(|(spell, _)| spell.holds(day));
        holding.map_or(0, |(spell, drop)| {
            let left = spell.days - (day - spell.from);
            drop * i64::from(left) / i64::from(spell.days)
        })
    }

    /// How bad it is today, from 0 to [`MICRO`].
    pub(super) fn symptoms(&self, person: &Person<'_>, day: u32) -> i64 {
        let bad = MICRO - self.state + self.lowered(day) + person.wobble(day);
        bad.clamp(0, MICRO)
    }

    /// What is borne today.
    fn borne(&self, person: &Person<'_>, day: u32) -> i64 {
        self.state - self.lowered(day) + person.has(Of::Spare) * 1000
    }

    /// How far a dose of this weight is beyond what is borne today; 0 where it is not.
    pub(super) fn beyond(&self, person: &Person<'_>, weight: i64, day: u32) -> i64 {
        (weight - self.borne(person, day)).max(0)
    }

    /// What is felt of a dose so far beyond what is borne.
    #[allow(clippy::unused_self, reason = "a body feels it")]
    pub(super) fn felt(&self, person: &Person<'_>, beyond: i64) -> i64 {
        beyond * person.has(Of::Irritability) / 1000
    }

    /// A session was done: its mean dose trains, and what of it was beyond what is borne costs.
    pub(super) fn trained(&mut self, person: &Person<'_>, weight: i64, beyond: i64, day: u32) {
        let borne = self.borne(person, day).max(1);
        let share = (weight * 1000 / borne).clamp(0, 1000);
        let light = person.has(Of::LightDose);
        let worth = light + (1000 - light) * share / 1000;
        let full = person.has(Of::FullWeek).max(1);
        self.training = (self.training + worth * (MICRO / 1000) / full).min(MICRO);
        self.state = (self.state - beyond * person.has(Of::OverloadDrop) / 1000).max(0);
        self.strained = beyond;
    }

    /// The day's share of recovery. Training fades by a seventh a day, so that it tells of the last week or so.
    pub(super) fn evening(&mut self, person: &Person<'_>) {
        let missing = (person.has(Of::Ceiling) * 1000 - self.state).max(0);
        let untrained = person.has(Of::Untrained);
        let share = untrained * (MICRO / 1000) + (1000 - untrained) * self.training / 1000;
        let a_week = missing * person.has(Of::Recovery) / 1000;
        self.state += a_week * share / MICRO / 7;
        self.training -= self.training / 7;
    }
}

/// A prescribed set as it was managed: a dose beyond what is borne is not done whole.
pub(super) fn managed(set: SetDone, beyond: i64) -> SetDone {
    let part = MICRO - beyond.min(LOST_MAX);
    let less = |count: u16| u16::try_from(i64::from(count) * part / MICRO).unwrap_or(count);
    SetDone {
        reps: set.reps.map(less),
        hold_s: set.hold_s.map(less),
    }
}

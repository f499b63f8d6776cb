//! A virtual person: a function of the model, the seed and their index, and never of a pack.
//!
//! Leaves to others: what becomes of them under a pack (`super::life`).

use super::draw::{Draws, Purpose, item_of};
use super::model::{Model, Of, PARAMETERS, Spread};

/// Thousandths of thousandths: what small changes of a state are counted in.
pub(super) const MICRO: i64 = 1_000_000;

/// A person.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Person<'m> {
    pub(super) model: &'m Model,
    pub(super) draws: Draws,
    /// Drawn once, in the order of [`PARAMETERS`]; what is the same for all is that.
    traits: Vec<i64>,
}

/// A setback in time.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Spell {
    /// Its first day.
    pub(super) from: u32,
    /// How many days it lasts, at least 1.
    pub(super) days: u32,
}

impl Spell {
    pub(super) const fn holds(self, day: u32) -> bool {
        day >= self.from && day - self.from < self.days
    }
}

impl<'m> Person<'m> {
    /// The person of this index, from 0, in the cohort of this seed.
    #[must_use]
    pub fn new(model: &'m Model, seed: u64, index: u64) -> Self {
        let draws = Draws::of(seed, index);
        let traits = PARAMETERS.iter().map(|parameter| {
            let spread = model.value(parameter);
            // By key, so that a parameter more changes nobody.
            draws.middling(spread, Purpose::Trait, item_of(parameter.key))
        });
        Self {
            model,
            draws,
            traits: traits.collect(),
        }
    }

    /// A trait, or what is the same for all.
    pub(super) fn has(&self, of: Of) -> i64 {
        self.traits.get(of as usize).copied().unwrap_or(0)
    }

    /// How far symptoms are off on a day, in millionths: a mean over three days, so that neighbouring days resemble each
    /// other.
    pub(super) fn wobble(&self, day: u32) -> i64 {
        let scatter = Spread {
            low: -self.has(Of::Scatter).saturating_mul(1000),
            high: self.has(Of::Scatter).saturating_mul(1000),
        };
        let days = (0..3).map(|after| {
            self.draws
                .even(scatter, Purpose::Day, day.saturating_add(after), 0)
        });
        days.sum::<i64>() / 3
    }

    /// How far an exercise hurts more or less than the others, in millionths.
    pub(super) fn sore(&self, exercise: u64) -> i64 {
        let far = self.has(Of::ExerciseScatter).saturating_mul(1000);
        let spread = Spread {
            low: -far,
            high: far,
        };
        self.draws.even(spread, Purpose::Exercise, 0, exercise)
    }

    /// Whether a flare-up begins of itself on a day.
    pub(super) fn flares_up(&self, day: u32) -> bool {
        self.yearly(Of::FlareUps, Purpose::FlareUp, day)
    }

    /// A flare-up from this day on, and how far it throws back on its first, in millionths.
    pub(super) fn flare_up(&self, day: u32) -> (Spell, i64) {
        let drop = self.model.spread(Of::FlareUpDrop);
        let drop = self.draws.even(drop, Purpose::FlareUpDrop, day, 0);
        let spell = self.spell(Of::FlareUpDays, Purpose::FlareUpDays, day);
        (spell, drop.saturating_mul(1000))
    }

    /// Whether time away begins on a day, and how long it is.
    pub(super) fn goes_away(&self, day: u32) -> Option<Spell> {
        self.yearly(Of::Away, Purpose::Away, day)
            .then(|| self.spell(Of::AwayDays, Purpose::AwayDays, day))
    }

    /// Whether a warning sign appears on a day.
    pub(super) fn warning_sign(&self, day: u32) -> bool {
        self.yearly(Of::WarningSigns, Purpose::WarningSign, day)
    }

    /// Whether something of so many thousandths a year, on this day.
    fn yearly(&self, rate: Of, purpose: Purpose, day: u32) -> bool {
        self.draws.below(365_000, purpose, day, 0) < self.has(rate)
    }

    fn spell(&self, length: Of, purpose: Purpose, day: u32) -> Spell {
        let days = self.draws.even(self.model.spread(length), purpose, day, 0);
        Spell {
            from: day,
            days: u32::try_from(days).unwrap_or(1).max(1),
        }
    }
}

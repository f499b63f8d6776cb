//! Generators: packs as TOML and histories to go with them, the same for the same number everywhere.
//!
//! Everything generated is invented and neutral (`measure-a`, `line-1`); nothing here knows a body part.
//!
//! Leaves to others: what is done with them (the tests beside this folder).

mod band;
mod clinician;
pub mod combined;
mod computed;
pub mod history;
pub mod order;
pub mod pack;
pub mod report;
pub mod sentence;
mod volume;

/// A source of choices that gives the same ones for the same number.
pub struct Dice(fastrand::Rng);

impl Dice {
    /// Dice for this number.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(fastrand::Rng::with_seed(seed))
    }

    /// From `low` to `high`, both included.
    pub fn number(&mut self, low: i64, high: i64) -> i64 {
        self.0.i64(low..=high)
    }

    /// As [`Dice::number`], for counts.
    pub fn count(&mut self, low: usize, high: usize) -> usize {
        self.0.usize(low..=high)
    }

    /// True so many times in a hundred.
    pub fn percent(&mut self, chance: u32) -> bool {
        self.0.u32(0..100) < chance
    }

    /// One of these.
    ///
    /// # Panics
    ///
    /// Where there is none.
    pub fn pick<'t, T>(&mut self, of: &'t [T]) -> &'t T {
        &of[self.0.usize(0..of.len())]
    }
}

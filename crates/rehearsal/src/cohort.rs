//! A seeded simulation: virtual people played through the real engine under a pack, so that a clinical lead sees what it does
//! before anybody meets it.
//!
//! A person is a function of the model, the seed and an index, and never of the pack: two packs meet the same people, whose
//! draws a different decision does not shift. What comes of it is as good as the model ([`PARAMETERS`]), which is assumed and
//! not evidence. Courses are added up as they end and none is kept; sums do not depend on their order, so a caller may
//! spread people over cores.
//!
//! Leaves to others: threads, files and printing.

mod draw;
mod life;
mod model;
mod paired;
mod person;
mod ready;
mod report;
mod tally;

pub use life::{Life, Stuck, live};
pub use model::{MeasureModel, Model, ModelError, PARAMETERS, Parameter, Spread};
pub use paired::{Differences, Paired};
pub use person::Person;
pub use ready::{Ready, WEEKS_MAX, unknown_to};
pub use tally::{Arrivals, Cohort};

/// Most people of one simulation.
pub const PEOPLE_MAX: u64 = 10_000_000;

/// Plays the people of these indexes under a pack.
#[must_use]
pub fn cohort(ready: &Ready<'_>, seed: u64, people: impl Iterator<Item = u64>) -> Cohort {
    let mut cohort = Cohort::new(ready);
    for index in people {
        cohort.add(&live(ready, &Person::new(ready.model, seed, index)));
    }
    cohort
}

/// Plays the same people under two packs.
#[must_use]
pub fn compared(
    ready: &Ready<'_>,
    against: &Ready<'_>,
    seed: u64,
    people: impl Iterator<Item = u64>,
) -> (Cohort, Cohort, Paired) {
    let mut cohorts = (Cohort::new(ready), Cohort::new(against));
    let mut paired = Paired::new(ready, against);
    for index in people {
        let person = Person::new(ready.model, seed, index);
        let lives = (live(ready, &person), live(against, &person));
        cohorts.0.add(&lives.0);
        cohorts.1.add(&lives.1);
        paired.add(&lives.0, &lives.1);
    }
    (cohorts.0, cohorts.1, paired)
}

#[cfg(test)]
mod tests;

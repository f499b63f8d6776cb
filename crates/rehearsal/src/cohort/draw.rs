//! Draws that depend on nothing but who, what for, when and of what: a decision that differs shifts no later draw, so that
//! two packs meet the same people on the same days.
//!
//! Each draw is one output of `SplitMix64` (Steele, Lea and Flood 2014), its state made of what is drawn for. It is no
//! secret and must not be one.
//!
//! Leaves to others: what is drawn (`super::person`, `super::life`).

use super::model::Spread;

/// The step of `SplitMix64`: 2 to the 64 divided by the golden ratio.
const GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

/// What something is drawn for. Numbers are never reused: a draw keeps its value when others are added.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Purpose {
    /// A trait of a person; the item is the parameter.
    Trait = 1,
    /// How good a day is.
    Day = 2,
    /// Whether a flare-up begins of itself.
    FlareUp = 3,
    /// How long it lasts.
    FlareUpDays = 4,
    /// How far it throws back.
    FlareUpDrop = 5,
    /// Whether it is told.
    FlareUpTold = 6,
    /// Whether time away begins.
    Away = 7,
    /// How long it lasts.
    AwayDays = 8,
    /// Whether it is told.
    AwayTold = 9,
    /// Whether a session is kept.
    Kept = 10,
    /// Whether an exercise of it is.
    ExerciseKept = 11,
    /// Whether the sets of an exercise are told.
    SetsTold = 12,
    /// Whether a morning after is told.
    MorningTold = 13,
    /// Whether one value of a report is told.
    ValueTold = 14,
    /// How far an exercise hurts more or less than the others.
    Exercise = 15,
    /// How far a value is off.
    Value = 16,
    /// Whether a warning sign appears.
    WarningSign = 17,
    /// Which one.
    WhichSign = 18,
    /// Whether the other side is sound.
    OtherSide = 19,
    /// Whether a session beyond what is borne brings a flare-up.
    Overload = 20,
}

/// One output of `SplitMix64` from this state.
const fn mix(state: u64) -> u64 {
    let mut mixed = state.wrapping_add(GAMMA);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    mixed ^ (mixed >> 31)
}

/// A name as a number, the same in every pack that has it (FNV-1a).
pub(super) fn item_of(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// The draws of one person.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Draws(u64);

impl Draws {
    /// Those of the person of this index in the cohort of this seed.
    pub(super) const fn of(seed: u64, index: u64) -> Self {
        Self(mix(mix(seed) ^ index))
    }

    const fn word(self, purpose: Purpose, day: u32, item: u64) -> u64 {
        // A u32 and a small number side by side.
        let moment = ((day as u64) << 8) | purpose as u64;
        mix(mix(self.0 ^ moment) ^ item)
    }

    /// A number from 0 up to but not including `count`; 0 where that is not above 0.
    pub(super) fn below(self, count: i64, purpose: Purpose, day: u32, item: u64) -> i64 {
        let count = u64::try_from(count).unwrap_or(0);
        let wide = u128::from(self.word(purpose, day, item)).saturating_mul(u128::from(count));
        i64::try_from(wide >> 64).unwrap_or(0)
    }

    /// Whether something of so many thousandths comes true.
    pub(super) fn chance(self, permille: i64, purpose: Purpose, day: u32, item: u64) -> bool {
        // Drawn even where it is certain, so that all chances are drawn alike.
        self.below(1000, purpose, day, item) < permille
    }

    /// A number of a spread, every one as likely.
    pub(super) fn even(self, spread: Spread, purpose: Purpose, day: u32, item: u64) -> i64 {
        let count = spread.high.saturating_sub(spread.low).saturating_add(1);
        spread
            .low
            .saturating_add(self.below(count, purpose, day, item))
    }

    /// A number of a spread, those in the middle likelier: the mean of three drawn evenly.
    pub(super) fn middling(self, spread: Spread, purpose: Purpose, item: u64) -> i64 {
        let draws = (0..3).map(|draw| self.even(spread, purpose, draw, item));
        draws.sum::<i64>().div_euclid(3)
    }
}

#[cfg(test)]
mod tests;

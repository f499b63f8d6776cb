//! What a place asks of a band: which one, single or doubled, how far from its anchor or how short it is held, and what it
//! then pulls with. Data of decisions; lengths are whole mm, forces thousandths of a N, torques of a N.m.
//!
//! Leaves to others: when a place is fitted anew (`crate::decide`), the mechanics (`rungwise-bands`).

mod bench;
mod fit;
mod settle;

pub(crate) use bench::Bench;
pub use fit::motion;
pub(crate) use fit::{Ask, Dose, Rise, dose_of, fit};
pub(crate) use settle::settle;

use crate::fact::{DecisionNo, Position};
use rungwise_pack::quantity::{Key, Milli};

/// What the place of an exercise with a band asks of one, and what it was worked out with.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Setting {
    /// Where the equipment became known that it was worked out with; none: nobody said what the person owns.
    pub equipment: Option<Position>,
    /// The standing height that it was worked out with; none: not known, or too long ago.
    pub height_mm: Option<u32>,
    /// The load of the dose that it was worked out for.
    pub load: Milli,
    /// Where the motion of that dose ends, in thousandths of a degree.
    pub to_mdeg: i64,
    /// What came of it.
    pub hold: Hold,
    /// The load of the dose for which one was obtained last, and the load obtained.
    pub obtained: Option<(Milli, i64)>,
}

/// How the band is held.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Hold {
    /// The load is not measured: no measured band is owned, or the person's height is not known. It is kept.
    Unmeasured,
    /// Nothing that is owned can be set at or below the load: the exercise is left out.
    None(Binds),
    /// So.
    Set(Held),
}

/// A band held.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Held {
    /// Which band, and where.
    pub grip: Grip,
    /// The load really obtained at the angle at which the exercise states it.
    pub torque_mnm: i64,
    /// Tension at the start of the motion, at least.
    pub start_mn: i64,
    /// Tension at its end, at most.
    pub end_mn: i64,
    /// Whether the load obtained is further below the dose's than one step of the load may be.
    pub is_short: bool,
    /// The decision that set it.
    pub by: DecisionNo,
    /// How the exercise's band was held before that, and the load obtained.
    pub before: Option<(Grip, i64)>,
}

/// Which band, single or doubled, and where.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Grip {
    /// The band's label.
    pub band: Key,
    /// Strands: 1, or 2 where it is folded.
    pub strands: u8,
    /// Rest length of each strand between hand and other end.
    pub working_length_mm: u32,
    /// How far from the anchor to stand; 0 where there is none.
    pub stance_mm: u32,
}

/// What stands in the way of a load, and by how much.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Binds {
    /// What.
    pub what: Bind,
    /// By how much: mm for lengths, else thousandths of the unit of what binds. 0 where it cannot be said.
    pub by: i64,
}

/// What may stand in the way of a load.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Bind {
    /// There is no measured band.
    NothingOwned,
    /// The room ends before, by so many mm.
    Room,
    /// One would stand too near, by so many mm.
    Near,
    /// The band would be held too short, by so many mm.
    TooShort,
    /// The band would be slack, by so many mm.
    Slack,
    /// It would not be tight enough at the start, by so many thousandths of a N.
    Tension,
    /// It would be past its safe elongation, by so many thousandths of a percent.
    Elongation,
    /// The least step up is too large, by so many thousandths of a percent.
    StepTooLarge,
    /// The least load is too high, by so many thousandths of a N.m.
    TooHeavy,
    /// The highest load is too low, by so many thousandths of a N.m.
    TooLight,
    /// The motion cannot be made by this person, or not with these numbers.
    Motion,
}

impl Setting {
    /// The band as it is held, where one is.
    #[must_use]
    pub const fn held(&self) -> Option<&Held> {
        match &self.hold {
            Hold::Set(held) => Some(held),
            Hold::Unmeasured | Hold::None(_) => None,
        }
    }
}

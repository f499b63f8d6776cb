//! Work against a band: how an exercise moves it, and at which angle its load is stated. Whole mm and thousandths of a
//! degree and of a percent, as the pack says them.
//!
//! Leaves to others: what a band pulls with (`rungwise-bands`), and who owns which (facts).

/// Work against a band.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct BandWork {
    /// How the band is moved.
    pub motion: BandMotion,
    /// Where the motion starts, in thousandths of a degree; what nought is depends on the motion.
    pub from_mdeg: i64,
    /// Where it ends, where no row of the ladder says how far it goes; else it ends at the start plus the dose's range.
    pub to_mdeg: Option<i64>,
    /// The angle at which the ladder's loads are stated, on the way of every dose.
    pub load_at_mdeg: i64,
    /// The least by which a load is to be above the last one, in thousandths of a percent; 0: by anything.
    pub step_min_mpct: i64,
    /// The most by which it may be.
    pub step_max_mpct: i64,
    /// Tension that there must be where the motion starts, in thousandths of a N, at least 1.
    pub start_mn_min: i64,
}

/// How a band is moved. Lengths are in mm, angles in thousandths of a degree, the grip in thousandths of a percent of the
/// hand's length (none: the middle of the hand).
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum BandMotion {
    /// Turning about a vertical axis, the hinge at the side and bent to a right angle; nought is straight ahead.
    Rotation(Anchored),
    /// Raising the straight limb against a band under the foot; nought is hanging.
    Elevation {
        /// Where the band leaves the foot: to the side to which the limb is raised.
        out_mm: i64,
        /// Out of the plane in which it is raised.
        off_mm: i64,
        /// Above the floor.
        height_mm: i64,
        /// The shortest that the band may be held.
        shortest_mm: u32,
        /// Where the hand holds the band.
        grip_mpct: Option<i64>,
    },
    /// Moving both straight limbs apart in front; nought is both straight ahead.
    HandsApart {
        /// Height of the hands.
        height: BandHeight,
        /// The shortest that the band may be held.
        shortest_mm: u32,
        /// Where the hands hold the band.
        grip_mpct: Option<i64>,
    },
    /// Moving the straight limb down and back against an anchor; nought is hanging, in front is negative.
    Extension(Anchored),
}

/// A band made fast to a wall or a door.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Anchored {
    /// Height of the anchor.
    pub height: BandHeight,
    /// Direction to the anchor: nought is straight ahead, positive to the side towards which the motion goes.
    pub bearing_mdeg: i64,
    /// The anchor is so much further ahead, at every distance.
    pub ahead_mm: i64,
    /// The anchor is so much further to the side towards which the motion goes, at every distance.
    pub aside_mm: i64,
    /// How near and how far the person may stand.
    pub distance_mm: (u32, u32),
    /// Rest length between anchor and hand; none: the whole band.
    pub working_length_mm: Option<u32>,
    /// Where the hand holds the band.
    pub grip_mpct: Option<i64>,
}

/// A height.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum BandHeight {
    /// So many mm above the floor.
    AboveFloor(i64),
    /// So many mm above the joint that the motion turns (below it: negative).
    AboveJoint(i64),
}

impl BandMotion {
    /// The word used in packs.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Rotation(_) => "rotation",
            Self::Elevation { .. } => "elevation",
            Self::HandsApart { .. } => "hands apart",
            Self::Extension(_) => "extension",
        }
    }

    /// The anchor, where the motion has one on a wall.
    #[must_use]
    pub const fn anchored(&self) -> Option<&Anchored> {
        match self {
            Self::Rotation(anchored) | Self::Extension(anchored) => Some(anchored),
            Self::Elevation { .. } | Self::HandsApart { .. } => None,
        }
    }
}

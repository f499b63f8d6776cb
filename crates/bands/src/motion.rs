//! Where a hand goes and what it pulls from: the length of the band and its moment arm at every angle of a motion.
//!
//! Every motion turns one joint. Its angle grows in the direction of the work, so that an arc is done from its start to its
//! end; where nought is, is said with each motion. The moment arm is that of the band's pull about the joint's axis, which
//! is how fast the band lengthens with the angle (closed forms: evidence section 7.3).
//!
//! Leaves to others: the band (`band`, `curve`), torques (`profile`), and which exercise is which motion (rule packs).

mod path;

use crate::body::{Body, Part, float, metres};
use crate::thousandths::Shown;
use core::ops::RangeInclusive;
use path::{Circle, Kind, Weight, radians};
pub use path::{Course, Path, Turned};

/// Angles of an arc, in thousandths of a degree.
pub const ANGLE_MDEG: RangeInclusive<i64> = -180_000..=180_000;

/// Width of an arc, in thousandths of a degree.
pub const ARC_MDEG: RangeInclusive<i64> = 1_000..=180_000;

/// Angles of two hands moving apart, in thousandths of a degree: beyond a quarter turn they come together again.
pub const APART_MDEG: RangeInclusive<i64> = -90_000..=90_000;

/// Offsets and heights of an anchor, in mm.
pub const OFFSET_MM: RangeInclusive<i64> = -5_000..=5_000;

/// How far from an anchor a person may stand, in mm.
pub const STANCE_MM: RangeInclusive<u32> = 0..=10_000;

/// Where in a hand a band may be held, in thousandths of a percent of the hand's length.
pub const GRIP_RANGE_MPCT: RangeInclusive<i64> = 0..=100_000;

/// A height, from what a pack finds easiest to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Height {
    /// So many mm above the floor.
    Floor(i64),
    /// So many mm above the joint that the motion turns (below it: negative).
    Joint(i64),
}

/// A band made fast to a wall or a door, of which the person stands nearer or further.
///
/// On the floor plan the anchor is at `stance` along `bearing` from the axis of the joint, and then moved by `ahead` and
/// `aside`, which do not change with the stance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Anchored {
    /// Height of the anchor.
    pub height: Height,
    /// Direction from the joint to the anchor in thousandths of a degree: 0 is straight ahead, 90_000 is square to it, to
    /// the side towards which the motion goes.
    pub bearing_mdeg: i64,
    /// The anchor is so many mm further ahead.
    pub ahead_mm: i64,
    /// The anchor is so many mm further to the side towards which the motion goes.
    pub aside_mm: i64,
    /// Rest length, in mm, that is between anchor and hand; none: the whole band.
    pub working_length_mm: Option<u32>,
    /// Where the hand holds it, in thousandths of a percent of the hand's length ([`crate::body::GRIP_MPCT`]).
    pub grip_mpct: i64,
}

/// A band under the foot, held shorter or longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Underfoot {
    /// Where the band leaves the foot: so many mm from below the joint towards the side to which the limb is raised.
    pub out_mm: i64,
    /// So many mm out of the plane in which the limb is raised.
    pub off_mm: i64,
    /// So many mm above the floor.
    pub height_mm: i64,
    /// As in [`Anchored`].
    pub grip_mpct: i64,
}

/// A band between two hands, held shorter or longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Apart {
    /// Height of the hands.
    pub height: Height,
    /// As in [`Anchored`].
    pub grip_mpct: i64,
}

/// A motion of one joint against a band: data of a rule pack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// Turning about a vertical axis, the hinge at the side and bent to a right angle. 0 is the lower segment straight
    /// ahead. Outward or inward is in the signs alone: the side to which it goes is the positive one.
    Rotation(Anchored),
    /// Raising the straight limb in a vertical plane against a band under the foot. 0 is hanging.
    Elevation(Underfoot),
    /// Moving both straight limbs apart in front, level, at a height. 0 is both straight ahead; each limb turns by the
    /// angle, and torque and work are of one.
    HandsApart(Apart),
    /// Moving the straight limb down and back from in front, against an anchor. 0 is hanging, in front is negative.
    Extension(Anchored),
}

/// What a person changes to make a motion harder or lighter with one band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Varies {
    /// How far from the anchor to stand.
    Stance,
    /// How short to hold the band.
    WorkingLength,
}

/// The angles of one repetition, in thousandths of a degree, from the start to the end of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Arc {
    /// Where it starts.
    pub from_mdeg: i64,
    /// Where it turns back.
    pub to_mdeg: i64,
}

/// Why a motion cannot be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MotionError {
    /// The arc runs backward, or is too short or too wide.
    #[error("arc from `{}` to `{}` deg; one that goes forward by {} to {} deg is allowed", Shown(.arc.from_mdeg), Shown(.arc.to_mdeg), Shown(*ARC_MDEG.start()), Shown(*ARC_MDEG.end()))]
    Arc {
        /// What was given.
        arc: Arc,
    },
    /// An end of the arc that this motion does not have.
    #[error("angle `{} deg`; from {} to {} deg is allowed with this motion", Shown(*.given_mdeg), Shown(*.min_mdeg), Shown(*.max_mdeg))]
    Angle {
        /// What was given.
        given_mdeg: i64,
        /// The least that is allowed.
        min_mdeg: i64,
        /// The most.
        max_mdeg: i64,
    },
    /// An angle was asked about that the arc does not come to.
    #[error("angle `{} deg`; from {} to {} deg, which is the arc, is allowed", Shown(*.given_mdeg), Shown(.arc.from_mdeg), Shown(.arc.to_mdeg))]
    OutsideArc {
        /// What was given.
        given_mdeg: i64,
        /// What is allowed.
        arc: Arc,
    },
    /// A length that is negative where none may be, or beyond any room.
    #[error("{what} `{given_mm} mm`; from {min_mm} mm to {max_mm} mm is allowed")]
    Length {
        /// What was given.
        what: &'static str,
        /// How much.
        given_mm: i64,
        /// The least that is allowed.
        min_mm: i64,
        /// The most.
        max_mm: i64,
    },
    /// A bearing that is no direction.
    #[error("bearing `{} deg`; from {} to {} deg is allowed", Shown(*.given_mdeg), Shown(*ANGLE_MDEG.start()), Shown(*ANGLE_MDEG.end()))]
    Bearing {
        /// What was given.
        given_mdeg: i64,
    },
    /// A grip that is not in the hand.
    #[error("grip at `{} %` of the hand; from {} % to {} % is allowed", Shown(*.given_mpct), Shown(*GRIP_RANGE_MPCT.start()), Shown(*GRIP_RANGE_MPCT.end()))]
    Grip {
        /// What was given.
        given_mpct: i64,
    },
    /// The hands do not get to that height.
    #[error(
        "hands `{given_mm} mm` above the floor, out of reach; from {min_mm} mm to {max_mm} mm is allowed"
    )]
    Reach {
        /// What was given, above the floor.
        given_mm: i64,
        /// The lowest that is allowed.
        min_mm: i64,
        /// The highest.
        max_mm: i64,
    },
}

impl Motion {
    /// What is changed to make it harder or lighter.
    #[must_use]
    pub const fn varies(&self) -> Varies {
        match self {
            Self::Rotation(_) | Self::Extension(_) => Varies::Stance,
            Self::Elevation(_) | Self::HandsApart(_) => Varies::WorkingLength,
        }
    }

    /// Rest length between anchor and hand that the motion itself asks for, in mm.
    #[must_use]
    pub const fn working_length_mm(&self) -> Option<u32> {
        match self {
            Self::Rotation(anchored) | Self::Extension(anchored) => anchored.working_length_mm,
            Self::Elevation(_) | Self::HandsApart(_) => None,
        }
    }

    /// Whether the weight of the limb acts about the axis.
    #[must_use]
    pub const fn gravity_acts(&self) -> bool {
        matches!(self, Self::Elevation(_) | Self::Extension(_))
    }

    /// Whether this arc can be done.
    ///
    /// # Errors
    /// An arc that does not go forward, or goes where the motion does not.
    pub fn check_arc(&self, arc: Arc) -> Result<(), MotionError> {
        let allowed = match self {
            Self::HandsApart(_) => APART_MDEG,
            Self::Rotation(_) | Self::Elevation(_) | Self::Extension(_) => ANGLE_MDEG,
        };
        for given_mdeg in [arc.from_mdeg, arc.to_mdeg] {
            if !allowed.contains(&given_mdeg) {
                return Err(MotionError::Angle {
                    given_mdeg,
                    min_mdeg: *allowed.start(),
                    max_mdeg: *allowed.end(),
                });
            }
        }
        if ARC_MDEG.contains(&(arc.to_mdeg - arc.from_mdeg)) {
            Ok(())
        } else {
            Err(MotionError::Arc { arc })
        }
    }

    /// The motion of this body, ready for any stance.
    ///
    /// # Errors
    /// What the motion says about its anchor, foot or hands is outside its bounds.
    pub fn of(&self, body: &Body) -> Result<Course, MotionError> {
        let grip_mpct = match self {
            Self::Rotation(anchored) | Self::Extension(anchored) => anchored.grip_mpct,
            Self::Elevation(underfoot) => underfoot.grip_mpct,
            Self::HandsApart(apart) => apart.grip_mpct,
        };
        if !GRIP_RANGE_MPCT.contains(&grip_mpct) {
            return Err(MotionError::Grip {
                given_mpct: grip_mpct,
            });
        }
        let weight = match (self.gravity_acts(), body.limb_torque_level_nm()) {
            (false, _) => Weight::Aside,
            (true, None) => Weight::Unknown,
            (true, Some(level_nm)) => Weight::Acts { level_nm },
        };
        Ok(Course {
            weight,
            kind: match self {
                Self::Rotation(anchored) => rotation(anchored, body)?,
                Self::Elevation(underfoot) => elevation(underfoot, body)?,
                Self::HandsApart(apart) => hands_apart(apart, body)?,
                Self::Extension(anchored) => extension(anchored, body)?,
            },
        })
    }
}

impl Arc {
    /// Whether it comes to this angle.
    ///
    /// # Errors
    /// It does not.
    pub const fn check(&self, given_mdeg: i64) -> Result<(), MotionError> {
        if given_mdeg < self.from_mdeg || given_mdeg > self.to_mdeg {
            return Err(MotionError::OutsideArc {
                given_mdeg,
                arc: *self,
            });
        }
        Ok(())
    }

    /// Its width in rad.
    pub(crate) fn width_rad(&self) -> f64 {
        radians(self.to_mdeg - self.from_mdeg)
    }
}

/// Refuses a length outside its bounds.
fn check_length(
    what: &'static str,
    given_mm: i64,
    allowed: &RangeInclusive<i64>,
) -> Result<f64, MotionError> {
    if allowed.contains(&given_mm) {
        return Ok(float(given_mm) / 1000.0);
    }
    Err(MotionError::Length {
        what,
        given_mm,
        min_mm: *allowed.start(),
        max_mm: *allowed.end(),
    })
}

/// How far a height is above a joint, in m.
fn above_joint_m(height: Height, joint: Part, body: &Body) -> Result<f64, MotionError> {
    match height {
        Height::Floor(given_mm) => {
            let above_m =
                check_length("height above the floor", given_mm, &(0..=*OFFSET_MM.end()))?;
            Ok(above_m - metres(body.length_um(joint)))
        }
        Height::Joint(given_mm) => check_length("height above the joint", given_mm, &OFFSET_MM),
    }
}

/// The anchor on the floor plan: what changes with the stance and what does not, as (ahead, aside), in m.
fn floor_plan(anchored: &Anchored) -> Result<(Turned, (f64, f64)), MotionError> {
    if !ANGLE_MDEG.contains(&anchored.bearing_mdeg) {
        return Err(MotionError::Bearing {
            given_mdeg: anchored.bearing_mdeg,
        });
    }
    let ahead_m = check_length("anchor ahead", anchored.ahead_mm, &OFFSET_MM)?;
    let aside_m = check_length("anchor aside", anchored.aside_mm, &OFFSET_MM)?;
    Ok((Turned::by(anchored.bearing_mdeg), (ahead_m, aside_m)))
}

fn rotation(anchored: &Anchored, body: &Body) -> Result<Kind, MotionError> {
    let (bearing, (ahead_m, aside_m)) = floor_plan(anchored)?;
    let rise_m = above_joint_m(anchored.height, Part::HingeHeight, body)?;
    Ok(Kind::Circle(Circle {
        radius_m: body.reach_from_hinge_m(anchored.grip_mpct),
        fixed: [ahead_m, aside_m, rise_m],
        with_stance: [bearing.cos, bearing.sin, 0.0],
    }))
}

fn elevation(underfoot: &Underfoot, body: &Body) -> Result<Kind, MotionError> {
    let out_m = check_length("foot out", underfoot.out_mm, &OFFSET_MM)?;
    let off_m = check_length("foot off the plane", underfoot.off_mm, &OFFSET_MM)?;
    let rise_m = above_joint_m(Height::Floor(underfoot.height_mm), Part::JointHeight, body)?;
    Ok(Kind::Circle(Circle {
        radius_m: body.reach_m(underfoot.grip_mpct),
        fixed: [-rise_m, out_m, off_m],
        with_stance: [0.0; 3],
    }))
}

fn extension(anchored: &Anchored, body: &Body) -> Result<Kind, MotionError> {
    let (bearing, (ahead_m, aside_m)) = floor_plan(anchored)?;
    let rise_m = above_joint_m(anchored.height, Part::JointHeight, body)?;
    Ok(Kind::Circle(Circle {
        radius_m: body.reach_m(anchored.grip_mpct),
        fixed: [-rise_m, -ahead_m, aside_m],
        with_stance: [0.0, -bearing.cos, bearing.sin],
    }))
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "a height of a person in mm"
)]
fn hands_apart(apart: &Apart, body: &Body) -> Result<Kind, MotionError> {
    let rise_m = above_joint_m(apart.height, Part::JointHeight, body)?;
    let reach_m = body.reach_m(apart.grip_mpct);
    // Within this of straight up or down, turning the limb would not move the hands apart.
    let most_m = reach_m * RISE_PART_MAX;
    if libm::fabs(rise_m) > most_m {
        let joint_m = metres(body.length_um(Part::JointHeight));
        return Err(MotionError::Reach {
            given_mm: libm::round((joint_m + rise_m) * 1000.0) as i64,
            min_mm: (libm::ceil((joint_m - most_m) * 1000.0) as i64).max(0),
            max_mm: libm::floor((joint_m + most_m) * 1000.0) as i64,
        });
    }
    Ok(Kind::Apart {
        breadth_m: metres(body.length_um(Part::Breadth)),
        level_m: libm::sqrt(reach_m * reach_m - rise_m * rise_m),
    })
}

/// How much of the limb's reach the hands may be above or below the joint when they move apart.
const RISE_PART_MAX: f64 = 0.95;

#[cfg(test)]
mod tests;

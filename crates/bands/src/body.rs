//! The limb that moves the band: lengths of its segments and heights of its joints, from standing height by published
//! ratios or measured, and the torque of its own weight.
//!
//! The segments are named by where they are: `upper` hangs from the joint that the limb turns about, `lower` follows after
//! the hinge, and the hand holds the band.
//!
//! Leaves to others: where the hand goes (`motion`), and whether a measure is old (the engine).

use crate::thousandths::Shown;
use core::ops::RangeInclusive;

/// Acceleration of free fall, in m/s²: the standard value (CGPM 1901), as in evidence section 7.4.
pub const GRAVITY_M_PER_S2: f64 = 9.806_65;

/// Standing heights that the ratios are used for, in mm.
pub const HEIGHT_MM: RangeInclusive<i64> = 500..=2_500;

/// Lengths and heights of one limb that may be measured, in mm.
pub const MEASURED_MM: RangeInclusive<i64> = 10..=2_500;

/// Masses of a whole body, in g.
pub const BODY_MASS_G: RangeInclusive<i64> = 2_000..=400_000;

/// What may be measured instead of taken from the standing height.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// From the joint that the limb turns about to the hinge.
    Upper,
    /// From the hinge to the hand.
    Lower,
    /// The hand, to its tip.
    Hand,
    /// Height above the floor, standing, of the joint that the limb turns about.
    JointHeight,
    /// Height above the floor, standing, of the hinge with the limb hanging.
    HingeHeight,
    /// From the joint to the same joint of the other side.
    Breadth,
}

impl Part {
    /// Parts of the standing height, in thousandths: segments after Winter (0.186, 0.146, 0.108), joint heights and breadth
    /// after Drillis and Contini as Winter prints them (0.818, 0.630, 0.259). All from memory: evidence section 7.4.
    const fn permille_of_height(self) -> i64 {
        match self {
            Self::Upper => 186,
            Self::Lower => 146,
            Self::Hand => 108,
            Self::JointHeight => 818,
            Self::HingeHeight => 630,
            Self::Breadth => 259,
        }
    }

    /// What it is called in an error.
    const fn word(self) -> &'static str {
        match self {
            Self::Upper => "length of the upper segment",
            Self::Lower => "length of the lower segment",
            Self::Hand => "length of the hand",
            Self::JointHeight => "height of the joint",
            Self::HingeHeight => "height of the hinge",
            Self::Breadth => "breadth from joint to joint",
        }
    }
}

/// Masses of the segments as thousandths of the body's, and where their centres are, as thousandths of their length from
/// the end nearer the joint. Winter, as found in evidence section 7.4 (S73); other tables differ by up to 15 %.
const UPPER_MASS_PERMILLE: i64 = 28;
const LOWER_MASS_PERMILLE: i64 = 16;
const HAND_MASS_PERMILLE: i64 = 6;
const UPPER_CENTRE: f64 = 0.436;
const LOWER_CENTRE: f64 = 0.430;
const HAND_CENTRE: f64 = 0.506;

/// Where a hand holds a band unless it is said otherwise: the centre of the hand, in thousandths of a percent of its length
/// from the end nearer the joint.
pub const GRIP_MPCT: i64 = 50_600;

/// One limb, and the heights at which its joints are when its owner stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Body {
    upper_um: i64,
    lower_um: i64,
    hand_um: i64,
    joint_height_um: i64,
    hinge_height_um: i64,
    breadth_um: i64,
    mass_g: Option<i64>,
}

/// Masses of the segments, in mg: thousandths of a body's mass in g.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Masses {
    /// Of the upper segment, in mg.
    pub upper_mg: i64,
    /// Of the lower segment, in mg.
    pub lower_mg: i64,
    /// Of the hand, in mg.
    pub hand_mg: i64,
}

/// Why a body is none, with what would be allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BodyError {
    /// The ratios are for people's heights.
    #[error("standing height `{} m`; from {} m to {} m is allowed", Shown(*given_mm), Shown(*HEIGHT_MM.start()), Shown(*HEIGHT_MM.end()))]
    Height {
        /// What was given, in mm.
        given_mm: i64,
    },
    /// Negative, nothing, or longer than a person.
    #[error("{} `{given_mm} mm`; from {} mm to {} mm is allowed", part.word(), MEASURED_MM.start(), MEASURED_MM.end())]
    Length {
        /// What was measured.
        part: Part,
        /// What was given, in mm.
        given_mm: i64,
    },
    /// Negative, nothing, or no person's.
    #[error("body mass `{} kg`; from {} kg to {} kg is allowed", Shown(*given_g), Shown(*BODY_MASS_G.start()), Shown(*BODY_MASS_G.end()))]
    Mass {
        /// What was given, in g.
        given_g: i64,
    },
}

impl Body {
    /// Everything from the standing height in mm; a thousandth part of a mm is a µm, so nothing is rounded.
    ///
    /// # Errors
    /// A height outside [`HEIGHT_MM`].
    pub fn from_height(height_mm: i64) -> Result<Self, BodyError> {
        if !HEIGHT_MM.contains(&height_mm) {
            return Err(BodyError::Height {
                given_mm: height_mm,
            });
        }
        let of = |part: Part| height_mm * part.permille_of_height();
        Ok(Self {
            upper_um: of(Part::Upper),
            lower_um: of(Part::Lower),
            hand_um: of(Part::Hand),
            joint_height_um: of(Part::JointHeight),
            hinge_height_um: of(Part::HingeHeight),
            breadth_um: of(Part::Breadth),
            mass_g: None,
        })
    }

    /// The same with one part as it was measured, in mm.
    ///
    /// # Errors
    /// A length outside [`MEASURED_MM`].
    pub fn with_measured(self, part: Part, length_mm: i64) -> Result<Self, BodyError> {
        if !MEASURED_MM.contains(&length_mm) {
            return Err(BodyError::Length {
                part,
                given_mm: length_mm,
            });
        }
        let mut body = self;
        *match part {
            Part::Upper => &mut body.upper_um,
            Part::Lower => &mut body.lower_um,
            Part::Hand => &mut body.hand_um,
            Part::JointHeight => &mut body.joint_height_um,
            Part::HingeHeight => &mut body.hinge_height_um,
            Part::Breadth => &mut body.breadth_um,
        } = length_mm * 1000;
        Ok(body)
    }

    /// The same with the mass of the whole body in g, without which the limb's weight is not known.
    ///
    /// # Errors
    /// A mass outside [`BODY_MASS_G`].
    pub fn with_mass(self, body_mass_g: i64) -> Result<Self, BodyError> {
        if !BODY_MASS_G.contains(&body_mass_g) {
            return Err(BodyError::Mass {
                given_g: body_mass_g,
            });
        }
        Ok(Self {
            mass_g: Some(body_mass_g),
            ..self
        })
    }

    /// A length or height, in µm.
    #[must_use]
    pub fn length_um(&self, part: Part) -> i64 {
        match part {
            Part::Upper => self.upper_um,
            Part::Lower => self.lower_um,
            Part::Hand => self.hand_um,
            Part::JointHeight => self.joint_height_um,
            Part::HingeHeight => self.hinge_height_um,
            Part::Breadth => self.breadth_um,
        }
    }

    /// Masses of the segments, where the body's is known.
    #[must_use]
    pub fn masses(&self) -> Option<Masses> {
        self.mass_g.map(|mass| Masses {
            upper_mg: mass * UPPER_MASS_PERMILLE,
            lower_mg: mass * LOWER_MASS_PERMILLE,
            hand_mg: mass * HAND_MASS_PERMILLE,
        })
    }

    /// From the joint to where the straight limb's hand holds the band, in m. For plots and tests and the modules here.
    #[must_use]
    pub fn reach_m(&self, grip_mpct: i64) -> f64 {
        metres(self.upper_um) + self.reach_from_hinge_m(grip_mpct)
    }

    /// From the hinge to where the hand holds the band, in m. For plots and tests and the modules here.
    #[must_use]
    pub fn reach_from_hinge_m(&self, grip_mpct: i64) -> f64 {
        metres(self.lower_um) + metres(self.hand_um) * float(grip_mpct) / 100_000.0
    }

    /// Torque of the straight limb's own weight about its joint when it is level, in N·m: `g Σ m x`, each segment by its
    /// own centre. At an angle from hanging it is this times the sine. For plots and tests and the modules here.
    #[must_use]
    pub fn limb_torque_level_nm(&self) -> Option<f64> {
        let masses = self.masses()?;
        let (upper, lower, hand) = (
            metres(self.upper_um),
            metres(self.lower_um),
            metres(self.hand_um),
        );
        let moment_kgm = kilograms(masses.upper_mg) * (UPPER_CENTRE * upper)
            + kilograms(masses.lower_mg) * (upper + LOWER_CENTRE * lower)
            + kilograms(masses.hand_mg) * (upper + lower + HAND_CENTRE * hand);
        Some(GRAVITY_M_PER_S2 * moment_kgm)
    }
}

/// µm as m.
pub(crate) fn metres(length_um: i64) -> f64 {
    float(length_um) / 1e6
}

/// mg as kg.
fn kilograms(mass_mg: i64) -> f64 {
    float(mass_mg) / 1e6
}

/// A whole number as the float that is it: every length, angle and mass here is far below 2^53.
#[allow(clippy::cast_precision_loss, reason = "bounded far below 2^53")]
pub(crate) fn float(whole: i64) -> f64 {
    whole as f64
}

#[cfg(test)]
mod tests;

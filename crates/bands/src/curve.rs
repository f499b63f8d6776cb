//! How hard a band pulls at which elongation, from readings of a hanging scale.
//!
//! Elongation is a share of the rest length, so the curve is that of the material: it is the same for every length cut or
//! held of it. Through readings at two or more elongations it is a monotone cubic that begins at rest with no force;
//! through one it is a neo-Hookean strip. Beyond the last reading it says nothing.
//!
//! Leaves to others: what is cut and held (`crate::band`), and how far the clinic lets a band be stretched.

mod cubic;
pub mod strip;

use crate::thousandths::{Shown, away, up};
use alloc::collections::BTreeMap;
use alloc::vec::Vec;
use cubic::Cubic;
use strip::Strip;
use thiserror::Error;

/// The most readings of one band.
pub const READINGS_MAX: usize = 512;

/// The greatest elongation that a reading may have, in thousandths of a percent: 1000 %.
pub const ELONGATION_MPCT_MAX: i64 = 1_000_000;

/// The greatest force that a reading may have, in thousandths of a newton: 2000 N.
pub const FORCE_MN_MAX: i64 = 2_000_000;

/// How far past an end, as a share of the rest length, an elongation may lie and still be that end: the noise of
/// [`crate::thousandths`] in this unit.
const NOISE: f64 = 1e-11;

/// How often a bracket is halved: as often as an `f64` has bits to give.
const HALVINGS: u32 = 60;

/// One reading of the hanging scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measured {
    /// Elongation in thousandths of a percent: a band of twice its rest length has 100 000.
    pub elongation_mpct: i64,
    /// Force in thousandths of a newton.
    pub force_mn: i64,
}

/// What the curve between the readings is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A monotone cubic through readings at two or more elongations.
    Cubic,
    /// A neo-Hookean strip through readings at one elongation.
    Strip,
}

/// A point that the curve goes through: the mean of the readings at one elongation, with their spread as error bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Knot {
    /// Elongation in thousandths of a percent.
    pub elongation_mpct: i64,
    /// Mean force in thousandths of a newton, rounded up.
    pub force_mn: i64,
    /// The lowest reading, in thousandths of a newton.
    pub lowest_mn: i64,
    /// The highest reading, in thousandths of a newton.
    pub highest_mn: i64,
    /// How many readings there are.
    pub readings: u16,
}

/// A reading beside the curve that was made of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Residual {
    /// The reading.
    pub measured: Measured,
    /// Reading minus curve, in thousandths of a newton, rounded away from zero.
    pub residual_mn: i64,
}

/// Why readings make no curve, with what would be allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum CurveError {
    /// Nothing was read with the band stretched.
    #[error("no reading above 0 % elongation; at least one is needed, two or more are better")]
    TooFew,
    /// More readings than anybody takes.
    #[error("{given} readings; at most {READINGS_MAX} are allowed")]
    TooMany {
        /// How many were given.
        given: usize,
    },
    /// A reading's elongation is negative or beyond what a band is made for.
    #[error("reading {reading}: elongation `{} %`; from 0 % to {} % is allowed", Shown(*elongation_mpct), Shown(ELONGATION_MPCT_MAX))]
    Elongation {
        /// Which reading, from 1.
        reading: usize,
        /// What was given, in thousandths of a percent.
        elongation_mpct: i64,
    },
    /// A reading's force is negative or beyond what a band is made for.
    #[error("reading {reading}: force `{} N`; from 0 N to {} N is allowed", Shown(*force_mn), Shown(FORCE_MN_MAX))]
    Force {
        /// Which reading, from 1.
        reading: usize,
        /// What was given, in thousandths of a newton.
        force_mn: i64,
    },
    /// A band at its rest length that pulls: the rest length or the scale is wrong.
    #[error("reading {reading}: force `{} N` at 0 % elongation; a band at its rest length pulls with 0 N", Shown(*force_mn))]
    ForceAtRest {
        /// Which reading, from 1.
        reading: usize,
        /// What was given, in thousandths of a newton.
        force_mn: i64,
    },
    /// Force does not rise from one elongation to the next.
    #[error(
        "force `{} N` at `{} %` elongation, after {} N at {} %; above {} N is allowed",
        Shown(*force_mn), Shown(*elongation_mpct), Shown(*below_mn), Shown(*below_mpct), Shown(*below_mn)
    )]
    NotRising {
        /// The elongation, in thousandths of a percent.
        elongation_mpct: i64,
        /// The mean force there, in thousandths of a newton, rounded up.
        force_mn: i64,
        /// The elongation before it, in thousandths of a percent; 0 for the band at rest.
        below_mpct: i64,
        /// The mean force there, in thousandths of a newton, rounded up.
        below_mn: i64,
    },
}

/// A band's force by elongation. Two bands cut from one roll have the same.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    shape: Shape,
    /// Rising in elongation and force; at least one.
    knots: Vec<Knot>,
    /// In the order given.
    residuals: Vec<Residual>,
    last_mpct: i64,
}

#[derive(Clone, Debug, PartialEq)]
enum Shape {
    Cubic(Cubic),
    Strip(Strip),
}

/// The readings at one elongation.
#[derive(Clone, Copy)]
struct Group {
    sum_mn: i64,
    count: u16,
    lowest_mn: i64,
    highest_mn: i64,
}

impl Group {
    fn mean_n(self) -> f64 {
        exact(self.sum_mn) / (1000.0 * f64::from(self.count))
    }

    /// Whether the mean is above another, exactly.
    fn is_above(self, other: Self) -> bool {
        self.sum_mn * i64::from(other.count) > other.sum_mn * i64::from(self.count)
    }

    fn mean_mn(self) -> i64 {
        let count = i64::from(self.count);
        (self.sum_mn + count - 1) / count
    }
}

/// At rest, where nothing needs to be measured.
const REST: Group = Group {
    sum_mn: 0,
    count: 1,
    lowest_mn: 0,
    highest_mn: 0,
};

impl Curve {
    /// The curve through readings in any order; several at one elongation count as their mean.
    ///
    /// # Errors
    /// See [`CurveError`]: nothing measured under stretch, a value out of range, or force that does not rise.
    pub fn from_points(readings: &[Measured]) -> Result<Self, CurveError> {
        if readings.len() > READINGS_MAX {
            return Err(CurveError::TooMany {
                given: readings.len(),
            });
        }
        let groups = grouped(readings)?;
        check_rising(&groups)?;
        let stretched: Vec<(i64, Group)> = groups
            .iter()
            .filter(|(elongation_mpct, _)| **elongation_mpct > 0)
            .map(|(elongation_mpct, group)| (*elongation_mpct, *group))
            .collect();
        let Some(&(last_mpct, last)) = stretched.last() else {
            return Err(CurveError::TooFew);
        };
        let shape = if stretched.len() == 1 {
            Shape::Strip(Strip::through(1.0 + fraction(last_mpct), last.mean_n()))
        } else {
            let mut points = Vec::with_capacity(stretched.len() + 1);
            points.push((0.0, 0.0));
            points.extend(
                stretched
                    .iter()
                    .map(|(elongation_mpct, group)| (fraction(*elongation_mpct), group.mean_n())),
            );
            Shape::Cubic(Cubic::through(&points))
        };
        let mut curve = Self {
            shape,
            knots: groups.iter().map(knot).collect(),
            residuals: Vec::new(),
            last_mpct,
        };
        curve.residuals = readings.iter().map(|one| curve.residual(*one)).collect();
        Ok(curve)
    }

    /// Force in newtons at an elongation given as a share of the rest length (1 is twice the length). Nothing below 0 and
    /// beyond the last reading. For plots, tests and this crate; no verdict may use it.
    #[must_use]
    pub fn force_n(&self, elongation: f64) -> Option<f64> {
        let elongation = self.within(elongation)?;
        Some(match &self.shape {
            Shape::Cubic(cubic) => cubic.at(elongation),
            Shape::Strip(strip) => strip.force_n(1.0 + elongation),
        })
    }

    /// What stretching a band of 1 m rest length from rest costs, in joules: the integral of force over elongation.
    /// Nothing where [`Self::force_n`] gives nothing. No verdict may use it.
    #[must_use]
    pub fn energy_j_per_m(&self, elongation: f64) -> Option<f64> {
        let elongation = self.within(elongation)?;
        Some(match &self.shape {
            Shape::Cubic(cubic) => cubic.area(elongation),
            Shape::Strip(strip) => strip.energy_j_per_m(1.0 + elongation),
        })
    }

    /// The greatest elongation, as a share of the rest length, at which the band pulls with no more than `force_n`
    /// newtons. Nothing for a negative force and for one above that of the last reading. No verdict may use it.
    #[must_use]
    pub fn elongation_for(&self, force_n: f64) -> Option<f64> {
        let last = fraction(self.last_mpct);
        let last_n = self.force_n(last)?;
        if force_n.is_nan() || force_n < 0.0 || force_n > last_n {
            return None;
        }
        if force_n >= last_n {
            return Some(last);
        }
        Some(match &self.shape {
            Shape::Cubic(cubic) => cubic.x_for(force_n),
            Shape::Strip(strip) => strip.stretch_for(force_n, 1.0 + last) - 1.0,
        })
    }

    /// Force in thousandths of a newton at an elongation in thousandths of a percent, rounded up. Nothing below 0 and
    /// beyond the last reading.
    #[must_use]
    pub fn force_mn(&self, elongation_mpct: i64) -> Option<i64> {
        let known = (0..=self.last_mpct).contains(&elongation_mpct);
        known
            .then(|| self.force_n(fraction(elongation_mpct)))
            .flatten()
            .and_then(up)
    }

    /// The greatest elongation measured, in thousandths of a percent.
    #[must_use]
    pub fn last_elongation_mpct(&self) -> i64 {
        self.last_mpct
    }

    /// What the curve between the readings is.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match self.shape {
            Shape::Cubic(_) => Kind::Cubic,
            Shape::Strip(_) => Kind::Strip,
        }
    }

    /// The means that the curve goes through, by rising elongation. Rest is among them only if it was measured.
    #[must_use]
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// Every reading with how far it stands off the curve, in the order given.
    #[must_use]
    pub fn residuals(&self) -> &[Residual] {
        &self.residuals
    }

    fn within(&self, elongation: f64) -> Option<f64> {
        let last = fraction(self.last_mpct);
        (-NOISE..=last + NOISE)
            .contains(&elongation)
            .then(|| limited(elongation, 0.0, last))
    }

    fn residual(&self, measured: Measured) -> Residual {
        let on_curve_n = self.force_n(fraction(measured.elongation_mpct));
        let off_n = exact(measured.force_mn) / 1000.0 - on_curve_n.unwrap_or_default();
        Residual {
            measured,
            residual_mn: away(off_n).unwrap_or_default(),
        }
    }
}

/// Readings by elongation, each checked by itself.
fn grouped(readings: &[Measured]) -> Result<BTreeMap<i64, Group>, CurveError> {
    let mut groups = BTreeMap::new();
    for (
        reading,
        &Measured {
            elongation_mpct,
            force_mn,
        },
    ) in (1..).zip(readings)
    {
        if !(0..=ELONGATION_MPCT_MAX).contains(&elongation_mpct) {
            return Err(CurveError::Elongation {
                reading,
                elongation_mpct,
            });
        }
        if !(0..=FORCE_MN_MAX).contains(&force_mn) {
            return Err(CurveError::Force { reading, force_mn });
        }
        if elongation_mpct == 0 && force_mn > 0 {
            return Err(CurveError::ForceAtRest { reading, force_mn });
        }
        groups
            .entry(elongation_mpct)
            .and_modify(|group: &mut Group| {
                group.sum_mn += force_mn;
                group.count += 1;
                group.lowest_mn = group.lowest_mn.min(force_mn);
                group.highest_mn = group.highest_mn.max(force_mn);
            })
            .or_insert(Group {
                sum_mn: force_mn,
                count: 1,
                lowest_mn: force_mn,
                highest_mn: force_mn,
            });
    }
    Ok(groups)
}

fn check_rising(groups: &BTreeMap<i64, Group>) -> Result<(), CurveError> {
    let mut below = (0, REST);
    for (&elongation_mpct, &group) in groups
        .iter()
        .filter(|(elongation_mpct, _)| **elongation_mpct > 0)
    {
        if !group.is_above(below.1) {
            return Err(CurveError::NotRising {
                elongation_mpct,
                force_mn: group.mean_mn(),
                below_mpct: below.0,
                below_mn: below.1.mean_mn(),
            });
        }
        below = (elongation_mpct, group);
    }
    Ok(())
}

fn knot((elongation_mpct, group): (&i64, &Group)) -> Knot {
    Knot {
        elongation_mpct: *elongation_mpct,
        force_mn: group.mean_mn(),
        lowest_mn: group.lowest_mn,
        highest_mn: group.highest_mn,
        readings: group.count,
    }
}

/// Thousandths of a percent as a share.
fn fraction(elongation_mpct: i64) -> f64 {
    exact(elongation_mpct) / 100_000.0
}

/// A whole number within the bounds of readings, which an `f64` holds exactly.
#[allow(
    clippy::cast_precision_loss,
    reason = "below 2^53 by the bounds of readings"
)]
fn exact(whole: i64) -> f64 {
    whole as f64
}

/// A number, or the end of the range that it lies beyond. (`clamp` of the standard library may panic.)
fn limited(number: f64, low: f64, high: f64) -> f64 {
    if number < low {
        low
    } else if number > high {
        high
    } else {
        number
    }
}

/// The greatest number found between two at which `holds` still holds, by halving; it holds at `low` and, once it does
/// not, never again. Always the same number of steps.
fn bracket(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
    // INVARIANT (same-bytes)
    for _ in 0..HALVINGS {
        let middle = low + (high - low) / 2.0;
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

#[cfg(test)]
mod tests;

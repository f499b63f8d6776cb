//! A band that somebody owns, and what it pulls with when it is held at a length, whole, held shorter, or folded.
//!
//! Holding or cutting a band shorter changes how far the same reach stretches it and leaves its curve as it is. Folding it
//! over its middle makes two strands, each at most half as long, whose forces add.
//!
//! Leaves to others: where hand and anchor are (`crate::motion`), and which band and length to choose (`crate::solve`).

use crate::curve::Curve;
use crate::thousandths::{Shown, up};
use alloc::string::String;
use thiserror::Error;

/// The shortest and longest rest length of a band, in millimetres.
pub const REST_LENGTH_MM: (u32, u32) = (10, 10_000);

/// The most strands that a band is folded into.
pub const STRANDS_MAX: u8 = 2;

/// A band by its label and calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// What the clinic calls it. Means nothing here.
    pub label: String,
    /// Its length in millimetres when nothing pulls, as cut.
    pub rest_length_mm: u32,
    /// How hard it pulls.
    pub curve: Curve,
    /// How far it may be stretched, in thousandths of a percent; what was not measured is never allowed.
    pub elongation_max_mpct: i64,
}

/// Why there is no such band, with what would be allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum BandError {
    /// A rest length that no band has.
    #[error("rest length `{rest_length_mm} mm`; from {} mm to {} mm is allowed", REST_LENGTH_MM.0, REST_LENGTH_MM.1)]
    RestLength {
        /// What was given.
        rest_length_mm: u32,
    },
    /// A safe elongation that is none, or beyond what was measured.
    #[error("safe elongation `{} %`; above 0 %, up to the last reading at {} %, is allowed", Shown(*elongation_max_mpct), Shown(*last_mpct))]
    SafeElongation {
        /// What was given, in thousandths of a percent.
        elongation_max_mpct: i64,
        /// The last reading's, in thousandths of a percent.
        last_mpct: i64,
    },
}

/// Why a band cannot be held so, with what would be allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum HoldError {
    /// Neither whole nor folded once.
    #[error("`{strands}` strands; 1 or {STRANDS_MAX} is allowed")]
    Strands {
        /// What was given.
        strands: u8,
    },
    /// No length at all, or more than there is.
    #[error("working length `{working_length_mm} mm`; from 1 mm to {length_max_mm} mm is allowed")]
    WorkingLength {
        /// What was given.
        working_length_mm: u32,
        /// The longest that each strand can be.
        length_max_mm: u32,
    },
}

/// Why a band cannot be pulled to a length, with what would be allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum StretchError {
    /// A rest length or a length that is none.
    #[error("a length of 0 mm or less, or none at all; above 0 mm is allowed")]
    Length,
    /// Further than the band may be stretched.
    #[error("elongation `{} %`; up to {} % is allowed, which is a length of {length_max_mm} mm", Shown(*elongation_mpct), Shown(*allowed_mpct))]
    PastSafe {
        /// The elongation asked for, in thousandths of a percent, rounded up.
        elongation_mpct: i64,
        /// The safe one, in thousandths of a percent.
        allowed_mpct: i64,
        /// The length that has it, in millimetres, rounded down.
        length_max_mm: u32,
    },
}

impl Band {
    /// A band of a label, a rest length in millimetres, a curve and a safe elongation in thousandths of a percent.
    ///
    /// # Errors
    /// A rest length outside [`REST_LENGTH_MM`], or a safe elongation of nothing or beyond the last reading.
    pub fn new(
        label: String,
        rest_length_mm: u32,
        curve: Curve,
        elongation_max_mpct: i64,
    ) -> Result<Self, BandError> {
        if !(REST_LENGTH_MM.0..=REST_LENGTH_MM.1).contains(&rest_length_mm) {
            return Err(BandError::RestLength { rest_length_mm });
        }
        let last_mpct = curve.last_elongation_mpct();
        if !(1..=last_mpct).contains(&elongation_max_mpct) {
            return Err(BandError::SafeElongation {
                elongation_max_mpct,
                last_mpct,
            });
        }
        Ok(Self {
            label,
            rest_length_mm,
            curve,
            elongation_max_mpct,
        })
    }

    /// How far the band may be stretched, in thousandths of a percent: as said, and never beyond the last reading.
    #[must_use]
    pub fn safe_mpct(&self) -> i64 {
        self.elongation_max_mpct
            .min(self.curve.last_elongation_mpct())
    }

    /// The longest that each strand can be held, in millimetres: the band itself, or half of it where it is folded.
    #[must_use]
    pub fn working_length_max_mm(&self, strands: u8) -> u32 {
        self.rest_length_mm / u32::from(strands.max(1))
    }

    /// The band held so that each of its strands has `working_length_mm` at rest; the rest of it hangs loose.
    ///
    /// # Errors
    /// A number of strands that is not 1 or 2; a length of 0 or longer than the band gives.
    pub fn held(&self, strands: u8, working_length_mm: u32) -> Result<Held<'_>, HoldError> {
        if !(1..=STRANDS_MAX).contains(&strands) {
            return Err(HoldError::Strands { strands });
        }
        let length_max_mm = self.working_length_max_mm(strands);
        if !(1..=length_max_mm).contains(&working_length_mm) {
            return Err(HoldError::WorkingLength {
                working_length_mm,
                length_max_mm,
            });
        }
        Ok(Held {
            band: self,
            strands,
            working_length_mm,
        })
    }
}

/// A band as it is held. Lengths are from anchor to hand; `f64` results are for plots, tests and this crate, and no verdict
/// may use them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held<'a> {
    band: &'a Band,
    strands: u8,
    working_length_mm: u32,
}

impl<'a> Held<'a> {
    /// The band.
    #[must_use]
    pub fn band(self) -> &'a Band {
        self.band
    }

    /// How many strands pull.
    #[must_use]
    pub fn strands(self) -> u8 {
        self.strands
    }

    /// The rest length of each strand, in millimetres.
    #[must_use]
    pub fn working_length_mm(self) -> u32 {
        self.working_length_mm
    }

    /// The greatest length it may be pulled to, in millimetres, rounded down.
    #[must_use]
    pub fn length_max_mm(self) -> u32 {
        length_at(self.working_length_mm, self.band.safe_mpct())
    }

    /// Elongation at a length in millimetres, as a share of the rest length; negative where the band is slack.
    #[must_use]
    pub fn elongation(self, length_mm: f64) -> f64 {
        let rest_mm = f64::from(self.working_length_mm);
        (length_mm - rest_mm) / rest_mm
    }

    /// Force in newtons of all strands at a length in millimetres: 0 where the band is slack.
    ///
    /// # Errors
    /// A length that is none, or beyond the safe elongation.
    pub fn force_n(self, length_mm: f64) -> Result<f64, StretchError> {
        let each = self.each(length_mm, |curve, elongation| curve.force_n(elongation))?;
        Ok(f64::from(self.strands) * each)
    }

    /// What pulling it from rest to a length in millimetres costs, in joules: 0 where the band is slack.
    ///
    /// # Errors
    /// As [`Self::force_n`].
    pub fn energy_j(self, length_mm: f64) -> Result<f64, StretchError> {
        let each = self.each(length_mm, |curve, elongation| {
            curve.energy_j_per_m(elongation)
        })?;
        Ok(f64::from(self.strands) * (f64::from(self.working_length_mm) / 1000.0) * each)
    }

    /// The greatest safe length, in millimetres, at which all strands pull with no more than `force_n` newtons. Nothing
    /// for a negative force and for one above that of the safe elongation.
    #[must_use]
    pub fn length_for(self, force_n: f64) -> Option<f64> {
        let elongation = self
            .band
            .curve
            .elongation_for(force_n / f64::from(self.strands))?;
        let length_mm = f64::from(self.working_length_mm) * (1.0 + elongation);
        self.is_safe(self.elongation(length_mm))
            .then_some(length_mm)
    }

    fn each(
        self,
        length_mm: f64,
        of: impl Fn(&Curve, f64) -> Option<f64>,
    ) -> Result<f64, StretchError> {
        if length_mm.is_nan() || length_mm <= 0.0 {
            return Err(StretchError::Length);
        }
        let elongation = self.elongation(length_mm);
        if elongation <= 0.0 {
            return Ok(0.0);
        }
        let found = self
            .is_safe(elongation)
            .then(|| of(&self.band.curve, elongation));
        found.flatten().ok_or_else(|| StretchError::PastSafe {
            elongation_mpct: up(elongation * 100.0).unwrap_or(i64::MAX),
            allowed_mpct: self.band.safe_mpct(),
            length_max_mm: self.length_max_mm(),
        })
    }

    /// As values leave: by thousandths of a percent, so that the noise of a rounding is no overstretch.
    fn is_safe(self, elongation: f64) -> bool {
        up(elongation * 100.0)
            .is_some_and(|elongation_mpct| elongation_mpct <= self.band.safe_mpct())
    }
}

/// Elongation in thousandths of a percent of a band of `rest_length_mm` pulled to `length_mm`, rounded up; negative where it
/// is slack.
///
/// # Errors
/// A rest length of 0.
pub fn elongation_mpct(rest_length_mm: u32, length_mm: u32) -> Result<i64, StretchError> {
    if rest_length_mm == 0 {
        return Err(StretchError::Length);
    }
    let rest = i64::from(rest_length_mm);
    let scaled = (i64::from(length_mm) - rest) * WHOLE_MPCT;
    Ok(scaled.div_euclid(rest) + i64::from(scaled.rem_euclid(rest) != 0))
}

/// The length in millimetres, rounded down, of a band of `rest_length_mm` at an elongation in thousandths of a percent. 0 for
/// an elongation of -100 % or below.
#[must_use]
pub fn length_at(rest_length_mm: u32, elongation_mpct: i64) -> u32 {
    let share = i128::from(WHOLE_MPCT) + i128::from(elongation_mpct);
    let length = i128::from(rest_length_mm) * share.max(0) / i128::from(WHOLE_MPCT);
    u32::try_from(length).unwrap_or(u32::MAX)
}

/// 100 % in thousandths of a percent.
const WHOLE_MPCT: i64 = 100_000;

#[cfg(test)]
mod tests;

//! How a computed value leaves as whole thousandths of its unit, and how thousandths are shown.
//!
//! Leaves to others: which way caution lies. A load that is shown or held against a ceiling is rounded [`up`]; a tension
//! that must be there is rounded [`down`].

use core::fmt;

/// How far, in thousandths, a value may stand off a whole one and still be that one: the noise of a few hundred roundings
/// of a number below 1e9. Without it, 11.2 N computed as 11.200000000000001 would leave as 11.201.
const NOISE: f64 = 1e-6;

/// The most thousandths that may leave: beyond it an `f64` no longer tells neighbours of a thousandth's noise apart.
const WHOLE_MAX: f64 = 1e9;

/// A value in its unit as thousandths, rounded up. Nothing for what is no number or is above a million units.
#[must_use]
pub fn up(value: f64) -> Option<i64> {
    let scaled = value * 1000.0 - NOISE;
    let toward_zero = whole(scaled)?;
    Some(toward_zero + i64::from(exact(toward_zero) < scaled))
}

/// A value in its unit as thousandths, rounded down. Nothing for what is no number or is above a million units.
#[must_use]
pub fn down(value: f64) -> Option<i64> {
    let scaled = value * 1000.0 + NOISE;
    let toward_zero = whole(scaled)?;
    Some(toward_zero - i64::from(exact(toward_zero) > scaled))
}

/// A value in its unit as thousandths, rounded away from zero, as an error is. Nothing as in [`up`].
#[must_use]
pub fn away(value: f64) -> Option<i64> {
    if value < 0.0 { down(value) } else { up(value) }
}

/// Rounded toward zero, which is what a conversion does; quicker than a ceiling.
#[allow(clippy::cast_possible_truncation, reason = "within 1e9")]
fn whole(thousandths: f64) -> Option<i64> {
    (-WHOLE_MAX..=WHOLE_MAX)
        .contains(&thousandths)
        .then_some(thousandths as i64)
}

#[allow(clippy::cast_precision_loss, reason = "within 1e9")]
fn exact(whole: i64) -> f64 {
    whole as f64
}

/// Thousandths, shown as a decimal number of the unit without needless zeros: `12500` is `12.5`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown(pub i64);

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, mut part) = (self.0.unsigned_abs() / 1000, self.0.unsigned_abs() % 1000);
        if part == 0 {
            return write!(f, "{sign}{whole}");
        }
        let mut digits = 3;
        while part % 10 == 0 {
            part /= 10;
            digits -= 1;
        }
        write!(f, "{sign}{whole}.{part:0digits$}")
    }
}

#[cfg(test)]
mod tests;

//! Decimals read exactly into thousandths.
//!
//! A number in a pack or in a fact is read from its digits as written: no float stands in between, so nothing is
//! rounded. Leaves to others: what the number means.

use crate::quantity::Milli;

/// Largest number accepted, in units: far above anything measured, and small enough that products of two numbers and a
/// count stay exact in 128 bits.
pub const NUMBER_MAX_UNITS: i64 = 1_000_000_000;

/// Why a decimal was refused.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum DecimalError {
    /// Not an optional sign, digits, and at most one point with digits on both sides.
    #[error("not a plain decimal number")]
    Malformed,
    /// A fourth digit after the point that is not zero.
    #[error("finer than thousandths")]
    TooFine,
    /// Beyond [`NUMBER_MAX_UNITS`].
    #[error("beyond {NUMBER_MAX_UNITS}")]
    TooLarge,
}

/// Reads a plain decimal such as `3`, `-0.5` or `+1.125`. Digits may be parted by single underscores, as in TOML.
///
/// # Errors
/// [`DecimalError`] where the text is no such number or its value does not fit.
pub fn parse(text: &str) -> Result<Milli, DecimalError> {
    let (negative, digits) = match text.as_bytes().first() {
        Some(b'-') => (true, text.get(1..).unwrap_or_default()),
        Some(b'+') => (false, text.get(1..).unwrap_or_default()),
        _ => (false, text),
    };
    let (units, fraction) = match digits.split_once('.') {
        Some((units, fraction)) => (units, Some(fraction)),
        None => (digits, None),
    };
    let units = read_digits(units)?;
    let mut thousandths: i64 = 0;
    if let Some(fraction) = fraction {
        read_digits(fraction).or_else(|error| match error {
            DecimalError::TooLarge => Ok(0),
            other => Err(other),
        })?;
        let mut weight = 100;
        for digit in fraction.bytes().filter(u8::is_ascii_digit) {
            let digit = i64::from(digit - b'0');
            if weight == 0 && digit != 0 {
                return Err(DecimalError::TooFine);
            }
            thousandths += digit * weight;
            weight /= 10;
        }
    }
    let size = units * 1000 + thousandths;
    if size > NUMBER_MAX_UNITS * 1000 {
        return Err(DecimalError::TooLarge);
    }
    Ok(Milli(if negative { -size } else { size }))
}

fn read_digits(text: &str) -> Result<i64, DecimalError> {
    let mut value: i64 = 0;
    let mut before = b'_';
    for byte in text.bytes() {
        match byte {
            b'0'..=b'9' => {
                value = value
                    .saturating_mul(10)
                    .saturating_add(i64::from(byte - b'0'));
            }
            b'_' if before != b'_' => {}
            _ => return Err(DecimalError::Malformed),
        }
        before = byte;
    }
    if before == b'_' {
        return Err(DecimalError::Malformed);
    }
    if value > NUMBER_MAX_UNITS {
        Err(DecimalError::TooLarge)
    } else {
        Ok(value)
    }
}

#[cfg(test)]
#[path = "decimal_tests.rs"]
mod tests;

//! Decimals are read exactly or refused, never rounded.

use super::{DecimalError, parse};
use crate::quantity::Milli;

fn check(input: &str, expected: Result<i64, DecimalError>) {
    assert_eq!(parse(input), expected.map(Milli), "{input}");
}

#[test]
fn what_fits_thousandths_is_exact() {
    check("0", Ok(0));
    check("3", Ok(3000));
    check("-0.5", Ok(-500));
    check("+1.125", Ok(1125));
    check("1.1250000", Ok(1125));
    check("1_000.5", Ok(1_000_500));
    check("1000000000", Ok(1_000_000_000_000));
}

#[test]
fn what_does_not_fit_is_refused() {
    check("0.0005", Err(DecimalError::TooFine));
    check("1.12500000000000000000000001", Err(DecimalError::TooFine));
    check("1000000000.001", Err(DecimalError::TooLarge));
    check("99999999999999999999", Err(DecimalError::TooLarge));
    for text in [
        "", "-", ".", "1.", ".5", "1e3", "inf", "nan", "0x10", "1__0", "_1", "1_", "1.2.3", "--1",
        "٣",
    ] {
        check(text, Err(DecimalError::Malformed));
    }
}

#[test]
fn a_number_prints_as_it_was_read() {
    for text in ["0", "3", "-0.5", "1.125", "12.01"] {
        assert_eq!(
            parse(text).map(|milli| milli.to_string()),
            Ok(text.to_owned())
        );
    }
}

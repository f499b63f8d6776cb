//! Proves that a sequence is unrolled to exact thousandths, each rounded down.

use super::unroll;
use crate::quantity::Milli;

fn check(from: i64, to: i64, step_mpct: i64, expected: Option<&[i64]>) {
    let values = unroll(Milli(from), Milli(to), step_mpct);
    let values: Option<Vec<i64>> =
        values.map(|values| values.into_iter().map(|Milli(value)| value).collect());
    assert_eq!(values.as_deref(), expected);
}

/// Worked by hand: 1.5 · 1.08 = 1.62; 1.7496; 1.749 · 1.08 = 1.88892; 1.888 · 1.08 = 2.03904.
#[test]
fn each_value_is_the_one_before_and_a_step_rounded_down() {
    check(
        1_500,
        2_039,
        8_000,
        Some(&[1_500, 1_620, 1_749, 1_888, 2_039]),
    );
    check(1_500, 2_038, 8_000, Some(&[1_500, 1_620, 1_749, 1_888]));
    check(1_000, 8_000, 100_000, Some(&[1_000, 2_000, 4_000, 8_000]));
    check(1_500, 1_500, 8_000, Some(&[1_500]));
}

#[test]
fn a_step_that_raises_nothing_is_none() {
    check(50, 100, 1_000, None);
    check(1_000, 500_000, 500, None);
}

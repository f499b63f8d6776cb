//! That slopes are those of the published formulas, that the integral is that of the curve, and that the inverse is one.

use super::{Cubic, slopes};
use alloc::vec::Vec;
use proptest::prelude::*;

/// Worked by hand from the formulas: widths 1 and 2, chords 4 and 1. The inner slope is the harmonic mean with weights
/// 2·2 + 1 = 5 and 2 + 2·1 = 4: 9 / (5/4 + 4/1) = 12/7. The first end is ((2·1 + 2)·4 - 1·1)/3 = 5, the last
/// ((2·2 + 1)·1 - 2·4)/3 = -1, which falls, so 0.
#[test]
fn slopes_are_those_worked_by_hand() {
    let found = slopes(&[(0.0, 0.0), (1.0, 4.0), (3.0, 6.0)]);
    let expected = [5.0, 12.0 / 7.0, 0.0];
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() < 1e-15, "{found} {expected}");
    }
}

#[test]
fn points_on_a_line_give_the_line() {
    let cubic = Cubic::through(&[(0.0, 0.0), (0.25, 3.0), (1.0, 12.0), (2.5, 30.0)]);
    for step in 0..=250 {
        let x = f64::from(step) / 100.0;
        assert!((cubic.at(x) - 12.0 * x).abs() < 1e-13, "{x}");
        assert!((cubic.area(x) - 6.0 * x * x).abs() < 1e-12, "{x}");
    }
}

#[test]
fn two_points_give_the_line_between_them() {
    let cubic = Cubic::through(&[(0.0, 0.0), (2.0, 5.0)]);
    assert_eq!(cubic.at(1.0), 2.5);
    assert_eq!(cubic.area(2.0), 5.0);
}

#[test]
fn before_and_behind_the_points_the_height_is_theirs() {
    let cubic = Cubic::through(&[(0.0, 1.0), (1.0, 2.0), (2.0, 7.0)]);
    assert_eq!((cubic.at(-1.0), cubic.at(9.0)), (1.0, 7.0));
}

/// Simpson's rule is exact for a cubic, so each piece is integrated whole and in parts.
#[test]
fn the_integral_is_that_of_the_curve() {
    let points = [
        (0.0, 0.0),
        (0.3, 6.0),
        (0.5, 6.5),
        (1.75, 21.0),
        (2.5, 40.0),
    ];
    let cubic = Cubic::through(&points);
    let (mut sum, mut from) = (0.0, 0.0);
    for part in 1..=250 {
        let to = f64::from(part) / 100.0;
        let simpson = cubic.at(from) + 4.0 * cubic.at((from + to) / 2.0) + cubic.at(to);
        sum += (to - from) / 6.0 * simpson;
        from = to;
        assert!((cubic.area(to) - sum).abs() < 1e-12, "{to}");
    }
}

/// Rising points: widths from 0.001 to 2, rises from 0.001 to 100, up to 12 of them.
fn points() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((1_u32..2_000, 1_u32..100_000), 1..12).prop_map(|steps| {
        let (mut x, mut y) = (0.0, 0.0);
        let mut points = Vec::from([(x, y)]);
        for (width, rise) in steps {
            x += f64::from(width) / 1000.0;
            y += f64::from(rise) / 1000.0;
            points.push((x, y));
        }
        points
    })
}

proptest! {
    /// Every point is met to the bit; no height between two leaves their heights; slopes stay below the bound of 3 chords
    /// that keeps a cubic monotone (Fritsch and Carlson 1980).
    #[test]
    fn the_curve_stays_between_its_points(points in points(), at in 0.0_f64..1.0) {
        let cubic = Cubic::through(&points);
        let slopes = slopes(&points);
        for (pair, slopes) in points.windows(2).zip(slopes.windows(2)) {
            let ((x, y), (x_end, y_end)) = (pair[0], pair[1]);
            prop_assert_eq!(cubic.at(x), y);
            prop_assert_eq!(cubic.at(x_end), y_end);
            let height = cubic.at(x + at * (x_end - x));
            prop_assert!(y <= height && height <= y_end);
            let bound = 3.0 * (y_end - y) / (x_end - x) * (1.0 + 1e-12);
            prop_assert!(slopes.iter().all(|slope| (0.0..=bound).contains(slope)));
        }
    }

    /// The height found is not above what was asked for, and a little further on it is.
    #[test]
    fn the_inverse_is_one(points in points(), share in 0.0_f64..1.0) {
        let cubic = Cubic::through(&points);
        let (x_last, y_last) = points[points.len() - 1];
        let wanted = share * y_last;
        let x = cubic.x_for(wanted);
        prop_assert!(cubic.at(x) <= wanted);
        prop_assert!(cubic.at(x + 1e-13 * x_last.max(1.0)) >= wanted);
        prop_assert!((cubic.at(x) - wanted).abs() <= 1e-9 * y_last);
    }
}

//! That the strip keeps its digits near rest, that its integral and slope are those of its force, and that its inverse is one.
//! The published figures are held in the check values.

use super::Strip;
use proptest::prelude::*;

#[test]
fn a_strip_at_rest_pulls_with_nothing() {
    let strip = Strip::of_stiffness(8.0);
    assert_eq!((strip.force_n(1.0), strip.energy_j_per_m(1.0)), (0.0, 0.0));
}

/// Near rest force is 3 G A times the elongation; the plain formula would have lost half its digits here.
#[test]
fn digits_are_kept_near_rest() {
    let strip = Strip::of_stiffness(1.0);
    let over = (1.0 + 1e-9) - 1.0;
    assert!((strip.force_n(1.0 + 1e-9) / (3.0 * over) - 1.0).abs() < 1e-8);
    assert!((strip.energy_j_per_m(1.0 + 1e-9) / (1.5 * over * over) - 1.0).abs() < 1e-8);
}

proptest! {
    #[test]
    fn the_strip_goes_through_its_reading(stretch in 1.001_f64..8.0, force_n in 0.1_f64..500.0) {
        let strip = Strip::through(stretch, force_n);
        prop_assert!((strip.force_n(stretch) - force_n).abs() <= 1e-13 * force_n);
        prop_assert!(strip.stiffness_n() > 0.0);
    }

    #[test]
    fn slope_and_energy_are_those_of_the_force(stretch in 1.01_f64..8.0) {
        let (strip, step) = (Strip::of_stiffness(7.0), 1e-5);
        let rise = strip.force_n(stretch + step) - strip.force_n(stretch - step);
        prop_assert!((rise / (2.0 * step) - strip.slope_n(stretch)).abs() < 1e-6);
        let work = strip.energy_j_per_m(stretch + step) - strip.energy_j_per_m(stretch - step);
        prop_assert!((work / (2.0 * step) - strip.force_n(stretch)).abs() < 1e-6);
    }

    #[test]
    fn the_inverse_is_one(share in 0.0_f64..1.0) {
        let strip = Strip::of_stiffness(7.0);
        let wanted = share * strip.force_n(4.0);
        let stretch = strip.stretch_for(wanted, 4.0);
        prop_assert!(strip.force_n(stretch) <= wanted);
        prop_assert!(strip.force_n(stretch + 1e-14) >= wanted);
    }
}

//! That values leave rounded toward caution, that noise moves none, and that thousandths are shown as people write them.

use super::{Shown, away, down, up};
use alloc::format;
use proptest::prelude::*;

#[test]
fn a_load_leaves_rounded_up_and_a_tension_down() {
    assert_eq!(up(1.2341), Some(1235));
    assert_eq!(down(1.2349), Some(1234));
    assert_eq!(up(-1.2349), Some(-1234));
    assert_eq!(down(-1.2341), Some(-1235));
    assert_eq!(away(1.2341), Some(1235));
    assert_eq!(away(-1.2341), Some(-1235));
}

#[test]
fn noise_of_rounding_moves_no_thousandth() {
    assert_eq!(up(4.0 + 0.12 * 60.0 + 1e-14), Some(11_200));
    assert_eq!(down(0.1 + 0.2 - 1e-14), Some(300));
    assert_eq!(up(0.300_000_01), Some(301));
    assert_eq!(down(0.299_999_99), Some(299));
}

#[test]
fn what_is_no_number_does_not_leave() {
    for value in [f64::NAN, f64::INFINITY, -f64::INFINITY, 1.1e6, -1.1e6] {
        assert_eq!((up(value), down(value), away(value)), (None, None, None));
    }
}

#[test]
fn thousandths_are_shown_without_needless_zeros() {
    for (of, shown) in [
        (0, "0"),
        (12_500, "12.5"),
        (7, "0.007"),
        (-40, "-0.04"),
        (100_000, "100"),
        (1_010, "1.01"),
    ] {
        assert_eq!(format!("{}", Shown(of)), shown);
    }
}

proptest! {
    #[test]
    fn whole_thousandths_leave_as_they_came(of in -1_000_000_000_i64..=1_000_000_000) {
        let value = of as f64 / 1000.0;
        prop_assert_eq!((up(value), down(value)), (Some(of), Some(of)));
    }

    #[test]
    fn up_is_never_below_and_down_never_above(value in -1e5_f64..1e5) {
        let (up, down) = (up(value).unwrap() as f64, down(value).unwrap() as f64);
        prop_assert!(up + 1.1e-6 >= value * 1000.0 && value * 1000.0 + 1.1e-6 >= down);
        prop_assert!(up - down <= 1.0);
    }
}

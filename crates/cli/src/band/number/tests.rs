//! That what is shown is never a lighter load, and never a tension that is not there.

use super::{away, change, down, up};

#[test]
fn loads_are_shown_rounded_up_and_tensions_down() {
    assert_eq!(up(1_201, 2), "1.21");
    assert_eq!(up(1_200, 2), "1.20");
    assert_eq!(up(1, 0), "1");
    assert_eq!(up(-1_299, 1), "-1.2");
    assert_eq!(up(-5, 2), "0.00");
    assert_eq!(up(2_000, 3), "2.000");
    assert_eq!(down(1_209, 2), "1.20");
    assert_eq!(down(-1_201, 1), "-1.3");
    assert_eq!(down(999, 0), "0");
}

#[test]
fn errors_grow_and_keep_their_sign() {
    assert_eq!(away(-101, 1), "-0.2");
    assert_eq!(away(101, 1), "+0.2");
    assert_eq!(away(0, 1), "0.0");
}

#[test]
fn a_change_is_a_percentage_of_what_was() {
    assert_eq!(change(1_500, 1_620), "+8.0 %");
    assert_eq!(change(3, 4), "+33.3 %");
    assert_eq!(change(4, 3), "-25.0 %");
    assert_eq!(change(2_000, 2_000), "+0.0 %");
}

//! What a band is refused for, and what holding, folding and pulling it do.

use super::{Band, BandError, HoldError, StretchError, elongation_mpct, length_at};
use crate::curve::{Curve, Measured};
use alloc::string::{String, ToString};
use proptest::prelude::*;

/// Invented: 4 N and 0.12 N for each percent, read from 25 % to 250 %.
fn affine() -> Curve {
    let readings = [25, 50, 75, 125, 200, 250].map(|percent| Measured {
        elongation_mpct: percent * 1000,
        force_mn: 4_000 + 120 * percent,
    });
    Curve::from_points(&readings).unwrap()
}

fn band(rest_length_mm: u32) -> Band {
    Band::new(String::from("door 2"), rest_length_mm, affine(), 200_000).unwrap()
}

fn close(found: f64, expected: f64) -> bool {
    (found - expected).abs() <= 1e-9 * expected.abs().max(1.0)
}

#[test]
fn the_same_elongation_pulls_the_same_whatever_the_length() {
    let (long, short) = (band(1_000), band(500));
    let (whole, held) = (long.held(1, 1_000).unwrap(), long.held(1, 500).unwrap());
    let cut = short.held(1, 500).unwrap();
    assert!(close(whole.force_n(1_600.0).unwrap(), 11.2));
    assert!(close(held.force_n(800.0).unwrap(), 11.2));
    assert_eq!(held.force_n(800.0), cut.force_n(800.0));
}

#[test]
fn forces_of_two_strands_add() {
    let band = band(1_000);
    let (one, two) = (band.held(1, 400).unwrap(), band.held(2, 400).unwrap());
    for length_mm in [300.0, 400.0, 555.5, 700.0, 1_200.0] {
        assert_eq!(
            two.force_n(length_mm).unwrap(),
            2.0 * one.force_n(length_mm).unwrap()
        );
        assert_eq!(
            two.energy_j(length_mm).unwrap(),
            2.0 * one.energy_j(length_mm).unwrap()
        );
    }
}

#[test]
fn a_slack_band_pulls_with_nothing() {
    let band = band(1_000);
    let held = band.held(1, 800).unwrap();
    assert_eq!(
        (held.force_n(799.0), held.energy_j(799.0)),
        (Ok(0.0), Ok(0.0))
    );
    assert_eq!(held.force_n(800.0), Ok(0.0));
    assert!(held.elongation(799.0) < 0.0);
}

#[test]
fn a_band_is_pulled_to_its_safe_elongation_and_no_further() {
    let band = band(1_000);
    let held = band.held(2, 500).unwrap();
    assert_eq!(held.length_max_mm(), 1_500);
    assert!(close(held.force_n(1_500.0).unwrap(), 2.0 * 28.0));
    assert_eq!(
        held.force_n(1_500.1),
        Err(StretchError::PastSafe {
            elongation_mpct: 200_020,
            allowed_mpct: 200_000,
            length_max_mm: 1_500
        })
    );
    assert_eq!(
        held.energy_j(1_500.1).unwrap_err().to_string(),
        "elongation `200.02 %`; up to 200 % is allowed, which is a length of 1500 mm"
    );
    for none in [0.0, -3.0, f64::NAN] {
        assert_eq!(held.force_n(none), Err(StretchError::Length));
    }
    assert!(matches!(
        held.force_n(f64::INFINITY),
        Err(StretchError::PastSafe { .. })
    ));
}

/// The label's safe elongation may be written past the readings in a hand-made `Band`; it is not believed.
#[test]
fn what_was_not_measured_is_never_safe() {
    let mut band = band(1_000);
    band.elongation_max_mpct = 400_000;
    assert_eq!(band.safe_mpct(), 250_000);
    assert!(band.held(1, 1_000).unwrap().force_n(3_501.0).is_err());
}

#[test]
fn every_bad_band_is_named_with_what_would_be_allowed() {
    let made = |rest_length_mm, elongation_max_mpct| {
        Band::new(String::new(), rest_length_mm, affine(), elongation_max_mpct)
    };
    assert!(made(10, 1).is_ok() && made(10_000, 250_000).is_ok());
    let refused =
        |rest_length_mm, safe_mpct| made(rest_length_mm, safe_mpct).unwrap_err().to_string();
    assert_eq!(
        refused(9, 200_000),
        "rest length `9 mm`; from 10 mm to 10000 mm is allowed"
    );
    assert_eq!(
        made(10_001, 1),
        Err(BandError::RestLength {
            rest_length_mm: 10_001
        })
    );
    let safe = "; above 0 %, up to the last reading at 250 %, is allowed";
    assert_eq!(
        refused(1_000, 250_001),
        ["safe elongation `250.001 %`", safe].concat()
    );
    assert_eq!(refused(1_000, 0), ["safe elongation `0 %`", safe].concat());
}

#[test]
fn a_band_is_not_held_longer_than_it_is() {
    let band = band(1_001);
    let refused = |strands, length| band.held(strands, length).unwrap_err();
    assert!(band.held(1, 1_001).is_ok() && band.held(2, 500).is_ok() && band.held(1, 1).is_ok());
    assert_eq!(refused(0, 500), HoldError::Strands { strands: 0 });
    assert_eq!(
        refused(3, 100).to_string(),
        "`3` strands; 1 or 2 is allowed"
    );
    assert_eq!(
        refused(1, 0).to_string(),
        "working length `0 mm`; from 1 mm to 1001 mm is allowed"
    );
    assert_eq!(
        refused(2, 501).to_string(),
        "working length `501 mm`; from 1 mm to 500 mm is allowed"
    );
}

#[test]
fn elongation_is_exact_and_rounded_up() {
    assert_eq!(elongation_mpct(500, 800), Ok(60_000));
    assert_eq!(elongation_mpct(300, 400), Ok(33_334));
    assert_eq!(elongation_mpct(300, 200), Ok(-33_333));
    assert_eq!(elongation_mpct(300, 0), Ok(-100_000));
    assert_eq!(elongation_mpct(0, 400), Err(StretchError::Length));
    assert_eq!(length_at(300, 33_334), 400);
    assert_eq!(length_at(300, 33_333), 399);
    assert_eq!((length_at(300, -100_000), length_at(300, i64::MIN)), (0, 0));
    assert_eq!(length_at(u32::MAX, i64::MAX), u32::MAX);
}

proptest! {
    /// A length found for a force pulls with no more than it, and a hundredth of a millimetre more does not fall short.
    #[test]
    fn a_length_found_is_never_too_heavy(share in 0.0_f64..0.999, strands in 1_u8..=2, working_length_mm in 50_u32..=500) {
        let band = band(1_000);
        let held = band.held(strands, working_length_mm).unwrap();
        let most_n = held.force_n(f64::from(held.length_max_mm())).unwrap();
        let length_mm = held.length_for(share * most_n).unwrap();
        let found_n = held.force_n(length_mm).unwrap();
        prop_assert!(found_n <= share * most_n * (1.0 + 1e-12), "{found_n} {}", share * most_n);
        prop_assert!(held.force_n(length_mm + 0.01).unwrap_or(f64::INFINITY) >= share * most_n);
        prop_assert_eq!(held.length_for(most_n * 1.01), None);
    }

    /// The energy is the integral of the force over the length, by the trapezium rule on 2000 parts.
    #[test]
    fn energy_is_force_over_length(strands in 1_u8..=2, working_length_mm in 50_u32..=500, percent in 1_u32..=200) {
        let band = band(1_000);
        let held = band.held(strands, working_length_mm).unwrap();
        let rest_mm = f64::from(working_length_mm);
        let width = rest_mm * f64::from(percent) / 100.0 / 2000.0;
        let force = |part: u32| held.force_n(rest_mm + width * f64::from(part)).unwrap();
        let sum: f64 = (0..2000).map(|part| (force(part) + force(part + 1)) / 2.0 * width).sum();
        let energy_j = held.energy_j(rest_mm + width * 2000.0).unwrap();
        prop_assert!((energy_j - sum / 1000.0).abs() <= 1e-5 * energy_j, "{energy_j} {sum}");
    }

    /// The elongation of whole lengths never leaves below what it is, and a length at it never leaves above.
    #[test]
    fn elongation_and_length_lean_toward_caution(rest_mm in 1_u32..5_000, length_mm in 1_u32..50_000) {
        let found = elongation_mpct(rest_mm, length_mm).unwrap();
        let exact = (f64::from(length_mm) / f64::from(rest_mm) - 1.0) * 100_000.0;
        prop_assert!(found as f64 >= exact - 1e-6 && (found as f64) < exact + 1.0 + 1e-6);
        prop_assert!(length_at(rest_mm, found) >= length_mm);
        prop_assert!(f64::from(length_at(rest_mm, found)) <= f64::from(rest_mm) * (1.0 + found as f64 / 100_000.0) + 1e-6);
    }
}

//! What makes a curve and what is refused; what a curve promises of any readings; and its bits, the same on every machine.

use super::{
    Curve, CurveError, ELONGATION_MPCT_MAX, FORCE_MN_MAX, Kind, Knot, Measured, READINGS_MAX,
};
use alloc::format;
use alloc::string::{String, ToString};
use alloc::vec::Vec;
use core::fmt::Write as _;
use proptest::prelude::*;

/// Readings written as (thousandths of a percent, thousandths of a newton).
fn readings(of: &[(i64, i64)]) -> Vec<Measured> {
    of.iter()
        .map(|&(elongation_mpct, force_mn)| Measured {
            elongation_mpct,
            force_mn,
        })
        .collect()
}

fn curve(of: &[(i64, i64)]) -> Curve {
    Curve::from_points(&readings(of)).unwrap()
}

/// Invented: a band that a clinic might have measured.
const MEASURED: [(i64, i64); 6] = [
    (25_000, 7_200),
    (50_000, 10_900),
    (100_000, 16_400),
    (150_000, 21_300),
    (200_000, 27_000),
    (250_000, 34_700),
];

#[test]
fn a_curve_begins_at_rest_and_ends_at_its_last_reading() {
    let curve = curve(&MEASURED);
    assert_eq!(curve.kind(), Kind::Cubic);
    assert_eq!(curve.last_elongation_mpct(), 250_000);
    assert_eq!(curve.force_n(0.0), Some(0.0));
    assert_eq!(curve.force_n(2.5), Some(34.7));
    assert_eq!(curve.force_mn(250_000), Some(34_700));
    assert_eq!(curve.force_mn(250_001), None);
    assert_eq!(curve.force_mn(-1), None);
    for beyond in [-0.000_01, 2.500_01, f64::NAN, f64::INFINITY] {
        assert_eq!(curve.force_n(beyond), None, "{beyond}");
        assert_eq!(curve.energy_j_per_m(beyond), None, "{beyond}");
    }
    // The noise of a rounding is no stretch beyond the last reading.
    assert_eq!(curve.force_n(2.5 + 4e-16), Some(34.7));
}

#[test]
fn the_order_of_readings_does_not_matter() {
    let mut turned = MEASURED;
    turned.reverse();
    assert_eq!(curve(&MEASURED).knots(), curve(&turned).knots());
    assert_eq!(
        curve(&MEASURED).force_n(0.333),
        curve(&turned).force_n(0.333)
    );
}

#[test]
fn a_reading_at_rest_changes_nothing_but_the_knots() {
    let (without, with) = (
        curve(&[(100_000, 14_000)]),
        curve(&[(0, 0), (100_000, 14_000)]),
    );
    assert_eq!((without.kind(), with.kind()), (Kind::Strip, Kind::Strip));
    assert_eq!((without.knots().len(), with.knots().len()), (1, 2));
    assert_eq!(without.force_n(0.7), with.force_n(0.7));
}

#[test]
fn one_elongation_gives_a_strip_however_often_it_was_read() {
    let curve = curve(&[(100_000, 13_900), (100_000, 14_100)]);
    assert_eq!(curve.kind(), Kind::Strip);
    assert_eq!(curve.force_mn(100_000), Some(14_000));
    assert_eq!(curve.force_mn(50_000), Some(8_445), "8.4444… N, rounded up");
    assert_eq!(curve.force_mn(100_001), None);
}

#[test]
fn repeated_readings_count_as_their_mean_and_keep_their_spread() {
    let curve = curve(&[
        (50_000, 10_000),
        (100_000, 16_100),
        (50_000, 10_400),
        (50_000, 10_001),
    ]);
    assert_eq!(
        curve.knots(),
        [
            Knot {
                elongation_mpct: 50_000,
                force_mn: 10_134,
                lowest_mn: 10_000,
                highest_mn: 10_400,
                readings: 3,
            },
            Knot {
                elongation_mpct: 100_000,
                force_mn: 16_100,
                lowest_mn: 16_100,
                highest_mn: 16_100,
                readings: 1,
            },
        ]
    );
    // The mean is 10133.666…; residuals are rounded away from zero.
    let residuals: Vec<i64> = curve
        .residuals()
        .iter()
        .map(|one| one.residual_mn)
        .collect();
    assert_eq!(residuals, [-134, 0, 267, -133]);
    assert_eq!(curve.residuals()[2].measured.force_mn, 10_400);
}

#[test]
fn every_bad_reading_is_named_with_what_would_be_allowed() {
    let refused = |of: &[(i64, i64)]| Curve::from_points(&readings(of)).unwrap_err().to_string();
    let lines = [
        refused(&[]),
        refused(&[(0, 0), (0, 0)]),
        refused(&[(50_000, 9_000), (-5_000, 1_000)]),
        refused(&[(1_000_500, 9_000)]),
        refused(&[(50_000, -9_000)]),
        refused(&[(50_000, 2_000_001)]),
        refused(&[(0, 500), (50_000, 9_000)]),
        refused(&[(50_000, 9_000), (100_000, 8_500)]),
        refused(&[(100_000, 9_000), (50_000, 9_000)]),
        refused(&[(50_000, 0), (100_000, 9_000)]),
        refused(&[(50_000, 9_000), (50_000, 9_001), (100_000, 9_000)]),
    ];
    assert_eq!(
        lines,
        [
            "no reading above 0 % elongation; at least one is needed, two or more are better",
            "no reading above 0 % elongation; at least one is needed, two or more are better",
            "reading 2: elongation `-5 %`; from 0 % to 1000 % is allowed",
            "reading 1: elongation `1000.5 %`; from 0 % to 1000 % is allowed",
            "reading 1: force `-9 N`; from 0 N to 2000 N is allowed",
            "reading 1: force `2000.001 N`; from 0 N to 2000 N is allowed",
            "reading 1: force `0.5 N` at 0 % elongation; a band at its rest length pulls with 0 N",
            "force `8.5 N` at `100 %` elongation, after 9 N at 50 %; above 9 N is allowed",
            "force `9 N` at `100 %` elongation, after 9 N at 50 %; above 9 N is allowed",
            "force `0 N` at `50 %` elongation, after 0 N at 0 %; above 0 N is allowed",
            "force `9 N` at `100 %` elongation, after 9.001 N at 50 %; above 9.001 N is allowed",
        ]
    );
}

#[test]
fn the_greatest_readings_make_a_curve_and_one_more_does_not() {
    let most = curve(&[(1, 1), (ELONGATION_MPCT_MAX, FORCE_MN_MAX)]);
    assert_eq!(most.force_mn(ELONGATION_MPCT_MAX), Some(FORCE_MN_MAX));
    let many = readings(&[(100_000, FORCE_MN_MAX); READINGS_MAX + 1]);
    assert!(Curve::from_points(&many[..READINGS_MAX]).is_ok());
    assert_eq!(
        Curve::from_points(&many),
        Err(CurveError::TooMany {
            given: READINGS_MAX + 1
        })
    );
}

#[test]
fn a_force_that_the_curve_does_not_reach_has_no_elongation() {
    for curve in [curve(&MEASURED), curve(&[(250_000, 34_700)])] {
        assert_eq!(curve.elongation_for(0.0), Some(0.0));
        assert_eq!(curve.elongation_for(34.701), None);
        assert_eq!(curve.elongation_for(-0.001), None);
        assert_eq!(curve.elongation_for(f64::NAN), None);
        let last_n = curve.force_n(2.5).unwrap();
        assert_eq!(curve.elongation_for(last_n), Some(2.5));
    }
}

/// Bits of force, energy and inverse at elongations, of a curve and of a strip, as kept in `tests-data/force_bits.txt`.
fn bits() -> String {
    let mut text = String::from("# curve  elongation % or force N  bits of the f64\n");
    let curves = [
        ("cubic", curve(&MEASURED)),
        ("strip", curve(&[(250_000, 34_700)])),
    ];
    for (name, curve) in curves {
        for elongation_mpct in (0..=250_000_i64).step_by(6_250).chain([1, 33_333, 249_999]) {
            let elongation = elongation_mpct as f64 / 100_000.0;
            let force_n = curve.force_n(elongation).unwrap();
            let energy = curve.energy_j_per_m(elongation).unwrap();
            let percent = elongation_mpct as f64 / 1000.0;
            writeln!(
                text,
                "{name} force at {percent} % {:016x}",
                force_n.to_bits()
            )
            .unwrap();
            writeln!(
                text,
                "{name} energy to {percent} % {:016x}",
                energy.to_bits()
            )
            .unwrap();
        }
        for force_n in 0..=34_u8 {
            let elongation = curve.elongation_for(f64::from(force_n)).unwrap();
            writeln!(
                text,
                "{name} elongation for {force_n} N {:016x}",
                elongation.to_bits()
            )
            .unwrap();
        }
    }
    text
}

/// INVARIANT (same-bytes): every machine computes these to the bit. A difference is a change of what is decided.
#[test]
fn same_bytes_of_every_force() {
    let kept = include_str!("../../tests-data/force_bits.txt");
    let found = bits();
    let differs = found
        .lines()
        .zip(kept.lines())
        .find(|(found, kept)| found != kept);
    assert_eq!(differs, None, "all that was found:\n{found}");
    assert_eq!(found.len(), kept.len(), "all that was found:\n{found}");
}

/// Rising readings, some repeated: 1 to 11 elongations up to 1000 %.
fn rising() -> impl Strategy<Value = Vec<Measured>> {
    prop::collection::vec((1_i64..90_000, 1_i64..60_000, 1_usize..4), 1..12).prop_map(|steps| {
        let (mut elongation_mpct, mut force_mn) = (0, 0);
        let mut all = Vec::new();
        for (further, more, times) in steps {
            elongation_mpct += further;
            force_mn += more;
            all.extend((0..times).map(|_| Measured {
                elongation_mpct,
                force_mn,
            }));
        }
        all
    })
}

proptest! {
    /// Monotone, never negative, within the two neighbours, through every knot: in bits and in what leaves.
    #[test]
    fn a_curve_rises_and_stays_within_its_neighbours(of in rising(), at in prop::collection::vec(0_i64..=1_000_000, 40)) {
        let curve = Curve::from_points(&of).unwrap();
        let last_mpct = curve.last_elongation_mpct();
        let mut at: Vec<i64> = at.into_iter().map(|one| one * last_mpct / 1_000_000).collect();
        at.extend(at.clone().iter().map(|one| (one + 1).min(last_mpct)));
        at.sort_unstable();
        let (mut before_n, mut before_mn) = (0.0, 0);
        for elongation_mpct in at {
            let force_n = curve.force_n(elongation_mpct as f64 / 100_000.0).unwrap();
            let force_mn = curve.force_mn(elongation_mpct).unwrap();
            prop_assert!(force_n >= before_n && force_mn >= before_mn && before_n >= 0.0);
            let low = curve.knots().iter().rev().find(|knot| knot.elongation_mpct <= elongation_mpct);
            let high = curve.knots().iter().find(|knot| knot.elongation_mpct >= elongation_mpct).unwrap();
            prop_assert!(low.map_or(0, |knot| knot.force_mn) <= force_mn && force_mn <= high.force_mn);
            (before_n, before_mn) = (force_n, force_mn);
        }
        for knot in curve.knots() {
            prop_assert_eq!(curve.force_mn(knot.elongation_mpct), Some(knot.force_mn));
        }
        prop_assert!(curve.residuals().iter().all(|one| one.residual_mn == 0));
    }

    /// The elongation found for a force pulls with no more than it, and a thousandth of a percent more does not fall short.
    #[test]
    fn an_elongation_found_is_never_too_heavy(of in rising(), share in 0.0_f64..=1.0) {
        let curve = Curve::from_points(&of).unwrap();
        let last = curve.last_elongation_mpct() as f64 / 100_000.0;
        let wanted_n = share * curve.force_n(last).unwrap();
        let elongation = curve.elongation_for(wanted_n).unwrap();
        prop_assert!(curve.force_n(elongation).unwrap() <= wanted_n);
        prop_assert!(curve.force_n((elongation + 1e-5).min(last)).unwrap() >= wanted_n);
    }

    /// A reading that falls is refused, wherever it stands.
    #[test]
    fn a_reading_that_does_not_rise_is_refused(of in rising(), at in any::<prop::sample::Index>(), less in 0_i64..50_000) {
        let mut of = of;
        let high = of[at.index(of.len())];
        let force_mn = (high.force_mn - less).max(0);
        let last_mpct = of[of.len() - 1].elongation_mpct;
        let further = Measured { elongation_mpct: last_mpct + 1, force_mn };
        of.insert(at.index(of.len()), further);
        let found = Curve::from_points(&of);
        prop_assert!(
            matches!(found, Err(CurveError::NotRising { elongation_mpct, .. }) if elongation_mpct == last_mpct + 1),
            "{}", format!("{found:?}")
        );
    }
}

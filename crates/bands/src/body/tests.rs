//! What is taken from the height and what is measured, what a limb weighs, and what is refused. The published values that
//! these are held against are in `tests/check_values`.

use super::{BODY_MASS_G, Body, BodyError, HEIGHT_MM, MEASURED_MM, Part};
use alloc::string::ToString as _;

const PARTS: [Part; 6] = [
    Part::Upper,
    Part::Lower,
    Part::Hand,
    Part::JointHeight,
    Part::HingeHeight,
    Part::Breadth,
];

#[test]
fn lengths_from_the_height_are_exact_to_the_micrometre() {
    let body = Body::from_height(1_753).unwrap();
    let found = PARTS.map(|part| body.length_um(part));
    assert_eq!(
        found,
        [326_058, 255_938, 189_324, 1_433_954, 1_104_390, 454_027]
    );
}

#[test]
fn what_is_measured_takes_the_place_of_its_ratio_and_of_no_other() {
    let by_height = Body::from_height(1_753).unwrap();
    for measured in PARTS {
        let body = by_height.with_measured(measured, 300).unwrap();
        for part in PARTS {
            let expected = if part == measured {
                300_000
            } else {
                by_height.length_um(part)
            };
            assert_eq!(body.length_um(part), expected, "{measured:?}, {part:?}");
        }
    }
}

#[test]
fn where_the_band_is_held_counts() {
    let body = [(Part::Upper, 300), (Part::Lower, 250), (Part::Hand, 200)]
        .into_iter()
        .fold(Body::from_height(1_750).unwrap(), |body, (part, mm)| {
            body.with_measured(part, mm).unwrap()
        });
    for (grip_mpct, reach_mm) in [(0, 550.0), (50_600, 651.2), (100_000, 750.0)] {
        let found_mm = body.reach_m(grip_mpct) * 1000.0;
        assert!((found_mm - reach_mm).abs() < 1e-9, "{found_mm}");
        let from_hinge_mm = body.reach_from_hinge_m(grip_mpct) * 1000.0;
        assert!((from_hinge_mm - (reach_mm - 300.0)).abs() < 1e-9);
    }
}

#[test]
fn a_limb_weighs_nothing_known_until_the_mass_is() {
    let body = Body::from_height(1_750).unwrap();
    assert_eq!(body.masses(), None);
    assert_eq!(body.limb_torque_level_nm(), None);
    let heavier = |mass_g| {
        let body = body.with_mass(mass_g).unwrap();
        body.limb_torque_level_nm().unwrap()
    };
    assert!((heavier(80_000) - 2.0 * heavier(40_000)).abs() < 1e-12);
}

#[test]
fn a_length_out_of_bounds_is_refused_with_what_is_allowed() {
    for height_mm in [*HEIGHT_MM.start(), *HEIGHT_MM.end()] {
        assert!(Body::from_height(height_mm).is_ok());
    }
    for (height_mm, said) in [
        (
            -1_750,
            "standing height `-1.75 m`; from 0.5 m to 2.5 m is allowed",
        ),
        (0, "standing height `0 m`; from 0.5 m to 2.5 m is allowed"),
        (
            2_501,
            "standing height `2.501 m`; from 0.5 m to 2.5 m is allowed",
        ),
    ] {
        let error = Body::from_height(height_mm).unwrap_err();
        assert_eq!(
            error,
            BodyError::Height {
                given_mm: height_mm
            }
        );
        assert_eq!(error.to_string(), said);
    }
    let body = Body::from_height(1_750).unwrap();
    for length_mm in [*MEASURED_MM.start(), *MEASURED_MM.end()] {
        assert!(body.with_measured(Part::Hand, length_mm).is_ok());
    }
    for (part, length_mm, said) in [
        (
            Part::Upper,
            -300,
            "length of the upper segment `-300 mm`; from 10 mm to 2500 mm is allowed",
        ),
        (
            Part::Lower,
            0,
            "length of the lower segment `0 mm`; from 10 mm to 2500 mm is allowed",
        ),
        (
            Part::Hand,
            9,
            "length of the hand `9 mm`; from 10 mm to 2500 mm is allowed",
        ),
        (
            Part::JointHeight,
            2_501,
            "height of the joint `2501 mm`; from 10 mm to 2500 mm is allowed",
        ),
        (
            Part::HingeHeight,
            -1,
            "height of the hinge `-1 mm`; from 10 mm to 2500 mm is allowed",
        ),
        (
            Part::Breadth,
            i64::MAX,
            "breadth from joint to joint `9223372036854775807 mm`; from 10 mm to 2500 mm is allowed",
        ),
    ] {
        assert_eq!(
            body.with_measured(part, length_mm).unwrap_err().to_string(),
            said
        );
    }
}

#[test]
fn a_mass_out_of_bounds_is_refused_with_what_is_allowed() {
    let body = Body::from_height(1_750).unwrap();
    for mass_g in [*BODY_MASS_G.start(), *BODY_MASS_G.end()] {
        assert!(body.with_mass(mass_g).is_ok());
    }
    for (mass_g, said) in [
        (
            -70_000,
            "body mass `-70 kg`; from 2 kg to 400 kg is allowed",
        ),
        (
            1_999,
            "body mass `1.999 kg`; from 2 kg to 400 kg is allowed",
        ),
        (
            400_001,
            "body mass `400.001 kg`; from 2 kg to 400 kg is allowed",
        ),
    ] {
        assert_eq!(body.with_mass(mass_g).unwrap_err().to_string(), said);
    }
}

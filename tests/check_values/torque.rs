//! Torque of a band and of the limb's own weight: mechanics and geometry by own calculation (memory), limbs after Winter.
//!
//! Leaves to others: how hard a band pulls (`crate::bands`), and sums over an arc (the tests of `rungwise-bands`).

use rungwise_bands::band::Band;
use rungwise_bands::body::{Body, GRAVITY_M_PER_S2, GRIP_MPCT, Part};
use rungwise_bands::curve::{Curve, Measured};
use rungwise_bands::motion::{Anchored, Arc, Height, Motion, Turned, Underfoot};
use rungwise_bands::profile::{Profile, Pull, Setting};

fn is_near(tag: &str, found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{tag}: {found} is not {expected} within {within}"
    );
}

// --- TQ01 to TQ05: torque is force times distance times the sine of the angle between band and limb (memory) -----------

/// Moment arm at a hand `radius_mm` from the joint, where the band leaves it at `between_deg` to the limb: the anchor is
/// 5 m from the joint, in the direction that the other two angles of the triangle leave.
fn moment_arm_m(radius_mm: i64, between_deg: f64) -> f64 {
    let body = Body::from_height(1_750)
        .unwrap()
        .with_measured(Part::Lower, radius_mm)
        .unwrap();
    let sine = radius_mm as f64 / 5_000.0 * between_deg.to_radians().sin();
    let at_joint_deg = 180.0 - between_deg - sine.asin().to_degrees();
    let path = Motion::Rotation(Anchored {
        height: Height::Joint(0),
        bearing_mdeg: -(at_joint_deg * 1000.0).round() as i64,
        ahead_mm: 0,
        aside_mm: 0,
        working_length_mm: None,
        grip_mpct: 0,
    })
    .of(&body)
    .unwrap()
    .at_stance(5_000);
    let ahead = Turned::by(0);
    path.moment_arm_m(ahead, path.length_m(ahead))
}

#[test]
fn tq01_to_tq05_force_times_distance_times_sine() {
    for (tag, force_n, radius_mm, between_deg, expected_nm) in [
        ("TQ01", 20.0, 260, 90.0, 5.2000),
        ("TQ02", 20.0, 260, 60.0, 4.5033),
        ("TQ03", 20.0, 260, 45.0, 3.6770),
        ("TQ04", 20.0, 260, 30.0, 2.6000),
        ("TQ05", 15.0, 600, 75.0, 8.6933),
    ] {
        let found_nm = force_n * moment_arm_m(radius_mm, between_deg);
        is_near(tag, found_nm, expected_nm, 1e-3);
    }
}

// --- TQ06 to TQ12: 0.60 m from joint to hand, the joint 1.30 m above the foot, 0.70 m of band (memory: own calculation) --

/// 25 N for each 100 %.
fn linear_band() -> Band {
    let readings =
        [(100_000, 25_000), (200_000, 50_000)].map(|(elongation_mpct, force_mn)| Measured {
            elongation_mpct,
            force_mn,
        });
    let curve = Curve::from_points(&readings).unwrap();
    Band::new("invented".to_owned(), 700, curve, 200_000).unwrap()
}

fn pull(band: &Band) -> Pull<'_> {
    let body = [
        (Part::Upper, 300),
        (Part::Lower, 200),
        (Part::Hand, 100),
        (Part::JointHeight, 1_300),
    ]
    .into_iter()
    .fold(Body::from_height(1_750).unwrap(), |body, (part, mm)| {
        body.with_measured(part, mm).unwrap()
    });
    let motion = Motion::Elevation(Underfoot {
        out_mm: 0,
        off_mm: 0,
        height_mm: 0,
        grip_mpct: 100_000,
    });
    let setting = Setting {
        band: 0,
        strands: 1,
        working_length_mm: 700,
        stance_mm: 0,
    };
    let arc = Arc {
        from_mdeg: 0,
        to_mdeg: 180_000,
    };
    Pull::new(&motion, &body, band, &setting, arc).unwrap()
}

/// Elongation to 0.005 %, force to 0.0005 N (as they are printed) and torque to 0.005 N·m, each as it leaves: rounded up
/// by at most a thousandth.
#[test]
fn tq06_to_tq10_band_under_the_foot() {
    let band = linear_band();
    for (tag, at_deg, percent, force_n, torque_nm) in [
        ("TQ06", 30, 19.44, 4.859, 2.2668),
        ("TQ07", 60, 60.99, 15.248, 9.1398),
        ("TQ08", 90, 104.54, 26.135, 14.2378),
        ("TQ09", 120, 140.32, 35.081, 14.0864),
        ("TQ10", 150, 163.45, 40.864, 8.6417),
    ] {
        let point = pull(&band).point(at_deg * 1000).unwrap();
        let thousandths = |of: i64| of as f64 / 1000.0;
        is_near(tag, thousandths(point.elongation_mpct), percent, 0.006);
        is_near(tag, thousandths(point.force_mn), force_n, 0.0015);
        is_near(tag, thousandths(point.band_mnm), torque_nm, 0.005);
    }
}

/// Section 7.3's table, to the digits that it prints.
#[test]
fn section_7_3_table_of_the_band_under_the_foot() {
    let band = linear_band();
    for (at_deg, percent, force_n, torque_nm) in [
        (0, 0.0, 0.0, 0.0),
        (30, 19.4, 4.86, 2.267),
        (60, 61.0, 15.25, 9.140),
        (90, 104.5, 26.14, 14.238),
        (120, 140.3, 35.08, 14.086),
        (150, 163.5, 40.86, 8.642),
        (180, 171.4, 42.86, 0.0),
    ] {
        let point = pull(&band).point(at_deg * 1000).unwrap();
        let thousandths = |of: i64| of as f64 / 1000.0;
        let tag = format!("{at_deg} deg");
        is_near(&tag, thousandths(point.elongation_mpct), percent, 0.051);
        is_near(&tag, thousandths(point.force_mn), force_n, 0.0061);
        is_near(&tag, thousandths(point.band_mnm), torque_nm, 0.0016);
    }
}

#[test]
fn tq11_peak() {
    let band = linear_band();
    for angles in [46, 181, 361] {
        let Profile { summary, .. } = pull(&band).profile(angles).unwrap();
        let (peak, at) = (summary.band.peak_mnm, summary.band.peak_at_mdeg);
        is_near("TQ11", peak as f64 / 1000.0, 14.886, 0.01);
        is_near("TQ11", at as f64 / 1000.0, 104.2, 0.5);
    }
}

/// TQ12, exactly: what leaves is whole thousandths.
#[test]
fn tq12_zero_at_both_ends() {
    let band = linear_band();
    for at_mdeg in [0, 180_000] {
        assert_eq!(pull(&band).point(at_mdeg).unwrap().band_mnm, 0, "TQ12");
    }
    assert_eq!(pull(&band).summary().unwrap().start_mn, 0, "TQ12");
}

// --- AN01 to AN15: limbs after Winter (found: S73; lengths from memory) --------------------------------------------------

fn body(height_mm: i64, mass_g: i64) -> Body {
    let body = Body::from_height(height_mm).unwrap();
    body.with_mass(mass_g).unwrap()
}

/// The three people of section 7.4, each with the first of its four tags.
const PEOPLE: [(usize, i64, i64); 3] = [(1, 1_750, 70_000), (5, 1_600, 60_000), (9, 1_850, 95_000)];

/// Raising the straight limb, for its weight alone.
fn limb_nm(body: &Body, at_deg: i64) -> f64 {
    let motion = Motion::Elevation(Underfoot {
        out_mm: 0,
        off_mm: 0,
        height_mm: 0,
        grip_mpct: GRIP_MPCT,
    });
    let path = motion.of(body).unwrap().at_stance(0);
    path.limb_torque_nm(Turned::by(at_deg * 1000)).unwrap()
}

#[test]
fn an01_an05_an09_masses() {
    let expected_kg = [[1.96, 1.12, 0.42], [1.68, 0.96, 0.36], [2.66, 1.52, 0.57]];
    for ((number, height_mm, mass_g), expected_kg) in PEOPLE.into_iter().zip(expected_kg) {
        let masses = body(height_mm, mass_g).masses().unwrap();
        let found_mg = [masses.upper_mg, masses.lower_mg, masses.hand_mg];
        for (found_mg, expected_kg) in found_mg.into_iter().zip(expected_kg) {
            let tag = format!("AN{number:02}");
            is_near(&tag, found_mg as f64 / 1e6, expected_kg, 1e-9);
        }
    }
}

/// And section 7.4's table at 60 and 120 degrees, which has the same tolerance.
#[test]
fn an02_an03_an06_an07_an10_an11_torque_of_the_limbs_weight() {
    let expected = [
        [10.2965, 5.1483, 8.917],
        [8.0691, 4.0346, 6.988],
        [14.7724, 7.3862, 12.793],
    ];
    for ((number, height_mm, mass_g), [level_nm, low_nm, steep_nm]) in
        PEOPLE.into_iter().zip(expected)
    {
        let body = body(height_mm, mass_g);
        let tag = |more| format!("AN{:02}", number + more);
        is_near(&tag(1), limb_nm(&body, 90), level_nm, 0.01);
        is_near(&tag(2), limb_nm(&body, 30), low_nm, 0.01);
        is_near("7.4 at 60 deg", limb_nm(&body, 60), steep_nm, 0.01);
        is_near("7.4 at 120 deg", limb_nm(&body, 120), steep_nm, 0.01);
    }
}

/// The limb as one: 0.050 of the mass at 0.530 of the way from joint to the end of the lower segment (S73). The two methods
/// agree within 3 %.
#[test]
fn an04_an08_an12_the_whole_limb_as_one() {
    let expected = [10.5692, 8.2828, 15.1635];
    for ((number, height_mm, mass_g), expected_nm) in PEOPLE.into_iter().zip(expected) {
        let body = body(height_mm, mass_g);
        let length_m = body.reach_m(0);
        let as_one_nm = GRAVITY_M_PER_S2 * 0.050 * mass_g as f64 / 1000.0 * 0.530 * length_m;
        is_near(
            &format!("AN{:02}", number + 3),
            as_one_nm,
            expected_nm,
            0.01,
        );
        let ratio = as_one_nm / limb_nm(&body, 90);
        is_near("the two methods", ratio, 1.0, 0.03);
    }
}

/// Section 7.4: the hinge bent to a right angle, lower segment and hand out of the plane of raising, at 90 degrees: their
/// weight then acts at the hinge. From the masses and the upper segment's centre (0.436).
#[test]
fn section_7_4_bent_limb() {
    for ((_, height_mm, mass_g), expected_nm) in PEOPLE.into_iter().zip([7.644, 5.990, 10.966]) {
        let body = body(height_mm, mass_g);
        let masses = body.masses().unwrap();
        let upper_m = body.length_um(Part::Upper) as f64 / 1e6;
        let kg = |mg: i64| mg as f64 / 1e6;
        let moment_kgm =
            kg(masses.upper_mg) * 0.436 * upper_m + kg(masses.lower_mg + masses.hand_mg) * upper_m;
        is_near("bent", GRAVITY_M_PER_S2 * moment_kgm, expected_nm, 0.01);
    }
}

/// Section 7.4: another table of masses and centres [found: S74], men 11.74 N·m for 1.75 m and 70 kg. The torque here is within
/// 15 % of it, and of the women's. The arm's three parts are 0.050 of the mass (S73).
#[test]
fn section_7_4_the_other_table() {
    let body = body(1_750, 70_000);
    let [upper, lower, hand] =
        [Part::Upper, Part::Lower, Part::Hand].map(|part| body.length_um(part) as f64 / 1e6);
    let level_nm = |masses: [f64; 3], centres: [f64; 3]| {
        let at = [
            centres[0] * upper,
            upper + centres[1] * lower,
            upper + lower + centres[2] * hand,
        ];
        let moment: f64 = masses.iter().zip(at).map(|(mass, at)| mass * at).sum();
        GRAVITY_M_PER_S2 * 70.0 * moment / 100.0
    };
    let men_nm = level_nm([3.25, 1.87, 0.65], [0.436, 0.430, 0.468]);
    let women_nm = level_nm([2.90, 1.57, 0.50], [0.458, 0.434, 0.468]);
    is_near("men", men_nm, 11.74, 0.005);
    let here_nm = limb_nm(&body, 90);
    is_near("men, 14 % higher", men_nm / here_nm, 1.14, 0.005);
    is_near("women", women_nm / here_nm, 1.0, 0.15);
    let masses = body.masses().unwrap();
    let arm_mg = masses.upper_mg + masses.lower_mg + masses.hand_mg;
    assert_eq!(arm_mg, 3_500_000);
}

#[test]
fn an13_segment_lengths() {
    let body = Body::from_height(1_750).unwrap();
    let found_m =
        [Part::Upper, Part::Lower, Part::Hand].map(|part| body.length_um(part) as f64 / 1e6);
    for (found_m, expected_m) in found_m.into_iter().zip([0.3255, 0.2555, 0.1890]) {
        is_near("AN13", found_m, expected_m, 1e-9);
    }
}

/// AN14: 1 kg more at the centre of the hand, which is where a band is held unless said otherwise.
#[test]
fn an14_a_kilogram_in_the_hand() {
    let body = body(1_750, 70_000);
    is_near("7.4: hand centre", body.reach_m(GRIP_MPCT), 0.6766, 5e-5);
    let without_nm = limb_nm(&body, 90);
    let with_nm = without_nm + GRAVITY_M_PER_S2 * body.reach_m(GRIP_MPCT);
    is_near("AN14", with_nm, 16.932, 0.01);
    is_near(
        "AN14 in %",
        (with_nm / without_nm - 1.0) * 100.0,
        64.4,
        0.06,
    );
}

/// AN15: 80 N where the hand begins, square to the lower segment (memory).
#[test]
fn an15_hold_against_a_force_at_the_end_of_the_lower_segment() {
    let body = Body::from_height(1_750).unwrap();
    is_near("AN15", 80.0 * body.reach_from_hinge_m(0), 20.44, 1e-3);
}

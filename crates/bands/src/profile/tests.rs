//! Work against sums over many small steps, energy kept whatever the way, what is shown against what was computed, and
//! what is refused with what would be allowed.

use super::peak::highest_between;
use super::{ANGLES, Allowed, Effort, Profile, ProfileError, Pull, Setting, profile};
use crate::band::Band;
use crate::body::Body;
use crate::motion::{Arc, Motion, STANCE_MM, Turned, Varies};
use crate::sample::{
    ELEVATION, HANDS_APART, ROTATION, any_arc, any_motion, arc, band, body, motions, strip,
};
use alloc::format;
use alloc::string::{String, ToString as _};
use alloc::vec::Vec;
use core::fmt::Write as _;
use proptest::prelude::*;

fn setting(working_length_mm: u32, stance_mm: u32) -> Setting {
    Setting {
        band: 0,
        strands: 1,
        working_length_mm,
        stance_mm,
    }
}

/// A setting of each of [`motions`] that is sound on its arc.
const SOUND: [(u32, u32); 4] = [(600, 900), (700, 0), (700, 0), (600, 1_200)];

fn sound() -> Vec<(Motion, Arc, Setting)> {
    motions()
        .into_iter()
        .zip(SOUND)
        .map(|((motion, on), (length_mm, stance_mm))| (motion, on, setting(length_mm, stance_mm)))
        .collect()
}

/// Composite Simpson over so many steps of an angle, in rad, of a function of thousandths of a degree.
fn simpson(on: Arc, steps: i64, of: impl Fn(i64) -> f64) -> f64 {
    let width_mdeg = on.to_mdeg - on.from_mdeg;
    assert!(steps % 2 == 0 && width_mdeg % steps == 0, "{width_mdeg}");
    let sum: f64 = (0..=steps)
        .map(|step| {
            let weight = match step {
                0 => 1.0,
                end if end == steps => 1.0,
                odd if odd % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * of(on.from_mdeg + width_mdeg / steps * step)
        })
        .sum();
    let width_rad = width_mdeg as f64 / 180_000.0 * core::f64::consts::PI;
    sum * width_rad / steps as f64 / 3.0
}

/// Torque over angle, by the held band's own force: independent of the profile's energy.
fn torque_nm(motion: &Motion, of: &Band, at: &Setting, mdeg: i64) -> f64 {
    let path = motion.of(&body()).unwrap().at_stance(at.stance_mm);
    let angle = Turned::by(mdeg);
    let length_m = path.length_m(angle);
    let held = of.held(at.strands, at.working_length_mm).unwrap();
    held.force_n(length_m * 1000.0).unwrap() * path.moment_arm_m(angle, length_m)
}

#[test]
fn work_is_the_sum_of_torque_over_angle_and_of_force_over_length() {
    for of in [band("one", 1_200, 10), strip("two", 1_200, 34_000)] {
        for (motion, on, at) in sound() {
            let pull = Pull::new(&motion, &body(), &of, &at, on).unwrap();
            let effort = pull.summary().unwrap().band;
            let over_angle_j = simpson(on, 5_000, |mdeg| torque_nm(&motion, &of, &at, mdeg));
            let path = motion.of(&body()).unwrap().at_stance(at.stance_mm);
            let length_m = |mdeg| path.length_m(Turned::by(mdeg));
            let (start_m, end_m) = (length_m(on.from_mdeg), length_m(on.to_mdeg));
            let held = of.held(1, at.working_length_mm).unwrap();
            // The same span of numbers as the arc, stretched to the span of lengths.
            let width_mdeg = (on.to_mdeg - on.from_mdeg) as f64;
            let scale = (end_m - start_m) / (width_mdeg / 180_000.0 * core::f64::consts::PI);
            let over_length_j = scale
                * simpson(on, 5_000, |mdeg| {
                    let part = (mdeg - on.from_mdeg) as f64 / width_mdeg;
                    let length_m = start_m + part * (end_m - start_m);
                    held.force_n(length_m * 1000.0).unwrap()
                })
                / path.limbs();
            assert!((over_angle_j - over_length_j).abs() < 1e-7 * over_angle_j);
            let work_j = pull.band_work_j(start_m, end_m);
            assert!(
                (work_j - over_angle_j).abs() < 1e-7 * over_angle_j,
                "{motion:?}"
            );
            // Rounded up by less than a thousandth.
            let over_mj = effort.work_mj as f64 - over_angle_j * 1000.0;
            assert!((-1e-3..1.0).contains(&over_mj), "{motion:?}: {over_mj}");
            let width_rad = width_mdeg / 180_000.0 * core::f64::consts::PI;
            let over_mnm = effort.mean_mnm as f64 - over_angle_j / width_rad * 1000.0;
            assert!((-1e-3..1.0).contains(&over_mnm), "{motion:?}: {over_mnm}");
        }
    }
}

#[test]
fn the_limbs_weight_does_the_work_of_its_height() {
    let of = band("one", 1_200, 10);
    for (motion, on, at) in sound() {
        let pull = Pull::new(&motion, &body(), &of, &at, on).unwrap();
        let summary = pull.summary().unwrap();
        let whole = summary.whole.unwrap();
        if motion.gravity_acts() {
            let limb_j = simpson(on, 5_000, |mdeg| {
                let path = motion.of(&body()).unwrap().at_stance(at.stance_mm);
                path.limb_torque_nm(Turned::by(mdeg)).unwrap()
            });
            let more_mj = (whole.work_mj - summary.band.work_mj) as f64;
            assert!((more_mj - limb_j * 1000.0).abs() <= 1.0, "{motion:?}");
        } else {
            assert_eq!(whole, summary.band);
        }
    }
}

#[test]
fn what_is_not_known_of_the_limb_is_not_shown() {
    let of = band("one", 1_200, 10);
    let unweighed = Body::from_height(1_750).unwrap();
    for (motion, on, at) in sound() {
        let known = profile(&motion, &body(), &of, &at, on, 19).unwrap();
        let unknown = profile(&motion, &unweighed, &of, &at, on, 19).unwrap();
        assert_eq!(known.summary.band, unknown.summary.band);
        let acts = motion.gravity_acts();
        assert_eq!(unknown.summary.whole.is_none(), acts);
        for (known, unknown) in known.points.iter().zip(&unknown.points) {
            assert_eq!(known.band_mnm, unknown.band_mnm);
            assert_eq!(unknown.whole_mnm.is_none(), acts);
            let (limb, whole) = (known.limb_mnm.unwrap(), known.whole_mnm.unwrap());
            let apart_mnm = known.band_mnm + limb - whole;
            assert!((0..=1).contains(&apart_mnm), "{apart_mnm}");
        }
    }
}

#[test]
fn angles_are_at_equal_distances_and_the_ends_among_them() {
    let of = band("one", 1_200, 10);
    for (motion, on, at) in sound() {
        for angles in [2, 3, 46, 181, 1_001] {
            let points = profile(&motion, &body(), &of, &at, on, angles)
                .unwrap()
                .points;
            assert_eq!(points.len(), usize::from(angles));
            assert_eq!(points[0].at_mdeg, on.from_mdeg);
            assert_eq!(points[points.len() - 1].at_mdeg, on.to_mdeg);
            let steps: Vec<i64> = points
                .windows(2)
                .map(|two| two[1].at_mdeg - two[0].at_mdeg)
                .collect();
            let (least, most) = (steps.iter().min().unwrap(), steps.iter().max().unwrap());
            assert!(most - least <= 1);
        }
    }
}

#[test]
fn the_summary_is_that_of_a_profile_of_181_angles() {
    let of = band("one", 1_200, 10);
    for (motion, on, at) in sound() {
        let pull = Pull::new(&motion, &body(), &of, &at, on).unwrap();
        let profile = pull.profile(181).unwrap();
        assert_eq!(pull.summary(), Ok(profile.summary));
        assert_eq!(pull.point(on.to_mdeg), Ok(profile.points[180]));
        let summary = profile.summary;
        assert_eq!(summary.end_mn, profile.points[180].force_mn);
        assert!((0..=1).contains(&(profile.points[0].force_mn - summary.start_mn)));
    }
}

/// A band and a setting of it, single or doubled.
fn any_held() -> impl Strategy<Value = (Band, Setting)> {
    (
        any::<bool>(),
        400_u32..2_500,
        3_i64..40,
        1_u8..=2,
        1_u32..1_000,
        0_u32..3_000,
    )
        .prop_map(|(measured, rest_mm, tenths, strands, part, stance_mm)| {
            let of = if measured {
                band("one", rest_mm, tenths)
            } else {
                strip("one", rest_mm, tenths * 1_000)
            };
            let longest_mm = of.working_length_max_mm(strands);
            let held = Setting {
                band: 0,
                strands,
                working_length_mm: (longest_mm * part / 1_000).max(1),
                stance_mm,
            };
            (of, held)
        })
}

/// What a refusal says is allowed, set instead.
fn instead(at: &Setting, allowed: &Allowed, value_mm: u32) -> Setting {
    match allowed.varies {
        Varies::Stance => Setting {
            stance_mm: value_mm,
            ..*at
        },
        Varies::WorkingLength => Setting {
            working_length_mm: value_mm,
            ..*at
        },
    }
}

fn is_sound(motion: &Motion, of: &Band, at: &Setting, on: Arc) -> bool {
    Pull::new(motion, &body(), of, at, on).is_ok()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// What is sound is tight and safe at every angle; what is shown is what the band pulls with, rounded up; no angle has
    /// more torque than the peak, nor less work than the band stores.
    #[test]
    fn a_sound_setting_keeps_every_promise((of, at) in any_held(), motion in any_motion(), on in any_arc()) {
        let Ok(pull) = Pull::new(&motion, &body(), &of, &at, on) else { return Ok(()) };
        let Profile { points, summary } = pull.profile(181).unwrap();
        let held = of.held(at.strands, at.working_length_mm).unwrap();
        let path = motion.of(&body()).unwrap().at_stance(at.stance_mm);
        for point in &points {
            let length_m = path.length_m(Turned::by(point.at_mdeg));
            let force_n = held.force_n(length_m * 1000.0).unwrap();
            let over_mn = point.force_mn as f64 - force_n * 1000.0;
            prop_assert!((-1e-3..1.0).contains(&over_mn), "{}", over_mn);
            prop_assert!(point.elongation_mpct <= of.safe_mpct());
            prop_assert!(point.elongation_mpct <= summary.elongation_mpct);
            prop_assert!(point.band_mnm <= summary.band.peak_mnm);
            prop_assert!(point.whole_mnm <= summary.whole.map(|whole| whole.peak_mnm));
        }
        let peak = pull.point(summary.band.peak_at_mdeg).unwrap();
        prop_assert_eq!(peak.band_mnm, summary.band.peak_mnm);
        prop_assert!(summary.band.mean_mnm <= summary.band.peak_mnm);
        let stored = |mdeg| held.energy_j(path.length_m(Turned::by(mdeg)) * 1000.0).unwrap();
        let stored_j = (stored(on.to_mdeg) - stored(on.from_mdeg)) / path.limbs();
        let over_mj = summary.band.work_mj as f64 - stored_j * 1000.0;
        prop_assert!((-1e-3..=1.0).contains(&over_mj), "{}", over_mj);
    }

    /// Energy is kept: an arc done in two parts is as much work, whatever is between.
    #[test]
    fn two_parts_of_an_arc_are_the_work_of_the_whole((of, at) in any_held(), motion in any_motion(), on in any_arc(), part in 1_i64..999) {
        let Ok(whole) = Pull::new(&motion, &body(), &of, &at, on) else { return Ok(()) };
        let between_mdeg = on.from_mdeg + (on.to_mdeg - on.from_mdeg) * part / 1_000;
        let parts = [
            Arc { to_mdeg: between_mdeg, ..on },
            Arc { from_mdeg: between_mdeg, ..on },
        ];
        prop_assume!(parts.iter().all(|part| motion.check_arc(*part).is_ok()));
        let work = |pull: Pull<'_>| pull.summary().unwrap().band.work_mj;
        let sum_mj: i64 = parts
            .iter()
            .map(|part| work(Pull::new(&motion, &body(), &of, &at, *part).unwrap()))
            .sum();
        prop_assert!((sum_mj - work(whole)).abs() <= 1, "{}", sum_mj);
    }

    /// What a refusal says is allowed is so at both ends of its span and not one centimetre beyond.
    #[test]
    fn what_is_said_to_be_allowed_is((of, at) in any_held(), motion in any_motion(), on in any_arc()) {
        let allowed = match Pull::new(&motion, &body(), &of, &at, on) {
            Err(ProfileError::Slack { allowed, .. } | ProfileError::PastSafe { allowed, .. }) => allowed,
            _ => return Ok(()),
        };
        let is_sound = |value_mm| is_sound(&motion, &of, &instead(&at, &allowed, value_mm), on);
        let most_mm = match allowed.varies {
            Varies::Stance => *STANCE_MM.end(),
            Varies::WorkingLength => of.working_length_max_mm(at.strands),
        };
        match allowed.span_mm {
            Some((least_mm, highest_mm)) => {
                prop_assert!(is_sound(least_mm) && is_sound(highest_mm));
                prop_assert!(is_sound((least_mm + highest_mm) / 20 * 10));
                prop_assert!(least_mm == 10 || !is_sound(least_mm - 10));
                prop_assert!(highest_mm + 10 > most_mm || !is_sound(highest_mm + 10));
            }
            None => {
                for value_mm in (10..=most_mm).step_by(most_mm as usize / 170 * 10 + 10) {
                    prop_assert!(!is_sound(value_mm), "{}", value_mm);
                }
            }
        }
    }
}

#[test]
fn the_highest_torque_is_found_between_the_steps() {
    // Straight up and down, the torque of a doubled band is highest somewhere between, and its angle does not depend on
    // how many angles are asked for by more than what rounds to the same.
    let of = band("one", 2_400, 10);
    let on = arc(20, 90);
    let at = Setting {
        strands: 2,
        ..setting(700, 0)
    };
    let pull = Pull::new(&ELEVATION, &body(), &of, &at, on).unwrap();
    let exact = (0..=70_000)
        .map(|step| pull.exact(on.from_mdeg + step).band_nm)
        .fold(f64::MIN, f64::max);
    for angles in [8, 46, 181, 1_001] {
        let Effort { peak_mnm, .. } = pull.profile(angles).unwrap().summary.band;
        assert!((peak_mnm as f64 - exact * 1000.0).abs() < 1.0, "{angles}");
    }
}

#[test]
fn what_cannot_be_set_is_refused_with_what_is_allowed() {
    let of = band("one", 1_200, 10);
    let doubled = Setting {
        strands: 2,
        ..setting(700, 900)
    };
    let threefold = Setting {
        strands: 3,
        ..setting(300, 900)
    };
    let on = arc(0, 45);
    for (motion, at, on, said) in [
        (
            ROTATION,
            setting(600, 400),
            on,
            "the band is slack by `68 mm` where it is shortest; a stance from 490 to 1530 mm is allowed",
        ),
        (
            ROTATION,
            setting(600, 1_800),
            on,
            "elongation `243.881 %`, past the safe 200 %; a stance from 490 to 1530 mm is allowed",
        ),
        (
            ELEVATION,
            setting(900, 0),
            on,
            "the band is slack by `146 mm` where it is shortest; a working length from 360 to 750 mm is allowed",
        ),
        (
            ELEVATION,
            setting(200, 0),
            on,
            "elongation `433.202 %`, past the safe 200 %; a working length from 360 to 750 mm is allowed",
        ),
        (
            HANDS_APART,
            setting(350, 0),
            arc(0, 90),
            "elongation `416.148 %`, past the safe 200 %; no working length is allowed with this band and arc",
        ),
        (
            ROTATION,
            setting(0, 900),
            on,
            "working length `0 mm`; from 1 mm to 1200 mm is allowed",
        ),
        (
            ROTATION,
            setting(1_201, 900),
            on,
            "working length `1201 mm`; from 1 mm to 1200 mm is allowed",
        ),
        (
            ROTATION,
            doubled,
            on,
            "working length `700 mm`; from 1 mm to 600 mm is allowed",
        ),
        (ROTATION, threefold, on, "`3` strands; 1 or 2 is allowed"),
        (
            ROTATION,
            setting(600, 10_001),
            on,
            "stance `10001 mm`; from 0 mm to 10000 mm is allowed",
        ),
        (
            ROTATION,
            setting(600, 900),
            arc(45, 0),
            "arc from `45` to `0` deg; one that goes forward by 1 to 180 deg is allowed",
        ),
    ] {
        let error = Pull::new(&motion, &body(), &of, &at, on).unwrap_err();
        assert_eq!(error.to_string(), said);
    }
}

#[test]
fn an_angle_off_the_arc_and_too_many_are_refused() {
    let of = band("one", 1_200, 10);
    let at = setting(600, 900);
    let pull = Pull::new(&ROTATION, &body(), &of, &at, arc(0, 45)).unwrap();
    assert_eq!(
        pull.point(45_001).unwrap_err().to_string(),
        "angle `45.001 deg`; from 0 to 45 deg, which is the arc, is allowed"
    );
    for angles in [0, 1, 1_002] {
        assert_eq!(
            pull.profile(angles).unwrap_err().to_string(),
            format!("`{angles}` angles; from 2 to 1001 are allowed")
        );
    }
    assert!(pull.profile(*ANGLES.start()).is_ok() && pull.profile(*ANGLES.end()).is_ok());
}

/// Bits of length, moment arm, torque and work, and what leaves, of each motion with a curve and a strip, as kept in
/// `tests-data/torque_bits.txt`.
fn bits() -> String {
    let mut text =
        String::from("# motion band deg  bits of length, moment arm and torque  N.m rounded up\n");
    for (name, of) in [
        ("cubic", band("one", 1_200, 10)),
        ("strip", strip("two", 1_200, 34_000)),
    ] {
        for ((motion, on, at), motion_name) in
            sound()
                .into_iter()
                .zip(["rotation", "elevation", "apart", "extension"])
        {
            let pull = Pull::new(&motion, &body(), &of, &at, on).unwrap();
            let Profile { points, summary } = pull.profile(19).unwrap();
            for point in points {
                let exact = pull.exact(point.at_mdeg);
                writeln!(
                    text,
                    "{motion_name} {name} {} {:016x} {:016x} {:016x} {} {}",
                    point.at_mdeg,
                    exact.length_m.to_bits(),
                    exact.moment_arm_m.to_bits(),
                    exact.band_nm.to_bits(),
                    point.band_mnm,
                    point.whole_mnm.unwrap()
                )
                .unwrap();
            }
            writeln!(text, "{motion_name} {name} {summary:?}").unwrap();
        }
    }
    text
}

/// INVARIANT (same-bytes): every machine computes these to the bit. A difference is a change of what is decided.
#[test]
fn same_bytes_of_every_torque() {
    let kept = include_str!("../../tests-data/torque_bits.txt");
    let found = bits();
    let differs = found
        .lines()
        .zip(kept.lines())
        .find(|(found, kept)| found != kept);
    assert_eq!(differs, None, "all that was found:\n{found}");
    assert_eq!(found.len(), kept.len(), "all that was found:\n{found}");
}

/// Wherever a single peak is, it is found to the thousandth of a degree: at either end, between, and in the tightest span.
#[test]
fn a_peak_is_found_wherever_it_is() {
    for width in [1, 2, 3, 7, 1_000, 179_999, 180_000] {
        for part in 0..=100 {
            let top = -90_000 + width * part / 100;
            let evaluations = core::cell::Cell::new(0);
            let of = |mdeg: i64| {
                evaluations.set(evaluations.get() + 1);
                assert!((-90_000..=-90_000 + width).contains(&mdeg));
                -((mdeg - top) as f64) * (mdeg - top) as f64
            };
            let found = highest_between([-90_000, -90_000 + width], -90_000, of);
            assert!(evaluations.get() <= 30, "{}", evaluations.get());
            // The ends themselves are for the caller, who has seen them.
            assert!(
                (found.0 - top).abs() <= 1,
                "{width}: {} is not {top}",
                found.0
            );
        }
    }
}

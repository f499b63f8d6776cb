//! Which of several settings is chosen, what binds where none fits, and what is refused: one case each.

use super::{Question, question};
use crate::body::{Body, GRIP_MPCT};
use crate::motion::{Motion, Underfoot};
use crate::profile::Setting;
use crate::sample::{ELEVATION, EXTENSION, HANDS_APART, ROTATION, arc, band};
use crate::solve::{Counts, Owned, SolveError, Step, change_mpct, on_grid, solve};
use alloc::format;
use alloc::string::{String, ToString as _};
use alloc::vec::Vec;

/// A first setting, and a climb from it.
#[test]
fn a_load_is_climbed_by_standing_further_away_and_then_by_the_next_band() {
    let mut question = question(ROTATION, arc(0, 45), 1_500);
    question.wanted.at_mdeg = 30_000;
    let mut fit = question.solve().unwrap();
    let first = fit;
    let mut wanted_mnm = 1_500;
    let mut settings = Vec::from([fit.setting]);
    while let Ok(next) = {
        wanted_mnm = wanted_mnm * 108 / 100;
        question.after(&fit, wanted_mnm, 10_000).solve()
    } {
        let change_mpct = next.change_mpct.unwrap();
        assert!((2_000..=10_000).contains(&change_mpct), "{change_mpct}");
        // The same band as long as it is long enough.
        assert!(next.setting.band >= fit.setting.band);
        assert!(
            next.setting.band > fit.setting.band || next.setting.stance_mm > fit.setting.stance_mm
        );
        settings.push(next.setting);
        fit = next;
    }
    let bands = |of: usize| settings.iter().filter(|at| at.band == of).count();
    assert_eq!(
        (settings.len(), bands(0), bands(1), bands(2)),
        (28, 15, 7, 6)
    );
    assert_eq!(
        (first.setting.band, first.load_mnm, fit.load_mnm),
        (0, 1_485, 11_451)
    );
}

#[test]
fn what_changes_least_comes_first() {
    // Each can give the load.
    let mut question = question(ROTATION, arc(0, 45), 2_400);
    for of in &mut question.bands {
        of.1 = true;
    }
    let setting = |question: &Question| {
        let fit = question.solve().unwrap();
        assert!(fit.meets);
        (fit.setting.band, fit.setting.strands)
    };
    let found = setting(&question);
    assert_eq!(found, (0, 1));
    for last in [(0, 1), (1, 1), (0, 2), (2, 1)] {
        question.last = Some(Setting {
            band: last.0,
            strands: last.1,
            working_length_mm: 600,
            stance_mm: 800,
        });
        assert_eq!(setting(&question), last);
    }
}

/// Of several bands that give the load the lightest is taken, which is stretched most and pulls most evenly; and the next
/// band is the next stronger one.
#[test]
fn the_lightest_band_that_gives_the_load_comes_first() {
    let order = |tenths: [i64; 3]| {
        let mut question = question(ROTATION, arc(0, 45), 1_600);
        question.wanted.at_mdeg = 30_000;
        question.bands = ["band 1", "band 2", "band 3"]
            .into_iter()
            .zip(tenths)
            .map(|(label, tenths)| (band(label, 1_200, tenths), false))
            .collect();
        let mut fit = question.solve().unwrap();
        let mut bands = Vec::from([fit.setting.band]);
        let mut wanted_mnm = 1_600;
        while let Ok(next) = {
            wanted_mnm = wanted_mnm * 108 / 100;
            question.after(&fit, wanted_mnm, 10_000).solve()
        } {
            if next.setting.band != fit.setting.band {
                bands.push(next.setting.band);
            }
            fit = next;
        }
        bands
    };
    assert_eq!(order([6, 10, 16]), [0, 1, 2]);
    assert_eq!(order([16, 10, 6]), [2, 1, 0]);
}

#[test]
fn without_a_step_the_highest_load_below_is_better_than_none() {
    let question = question(ROTATION, arc(0, 45), 60_000);
    let fit = question.solve().unwrap();
    assert_eq!(
        (fit.setting.band, fit.meets, fit.change_mpct),
        (2, false, None)
    );
    assert!(fit.load_mnm < 60_000);
    // With a step it is not: the step would be too small.
    let next = question.after(&fit, 60_000, 10_000);
    assert!(matches!(next.solve(), Err(SolveError::NoFit(_))));
}

/// Each thing that can bind, alone: what is said, and that mending just that by just as much gives an answer.
#[test]
fn every_thing_that_binds_is_named_by_how_much() {
    let one = |tenths: i64, torque_mnm: i64| {
        let mut question = question(ROTATION, arc(0, 45), torque_mnm);
        question.bands = [(band("band 1", 1_200, tenths), false)].into();
        question
    };
    let climb = |question: &Question, torque_mnm, mpct_max| {
        let fit = question.solve().unwrap();
        question.after(&fit, torque_mnm, mpct_max)
    };
    let mut short_room = climb(&one(10, 4_000), 4_300, 20_000);
    short_room.stance_mm.1 = 900;
    let mut near = one(10, 3_000);
    near.stance_mm.0 = 1_000;
    let stretched = climb(&one(10, 60_000), 61_000, 10_000);
    let mut loose = one(10, 1_000);
    loose.stance_mm = (100, 450);
    let mut tight = one(10, 1_500);
    tight.wanted.start_mn_min = 30_000;
    let coarse = climb(&one(100, 20_000), 20_500, 2_100);
    let mut heavy = one(100, 5_000);
    heavy.bands[0].1 = true;
    let mut raise = question(ELEVATION, arc(20, 90), 4_000);
    raise.bands.truncate(1);
    let mut short_held = climb(&raise, 5_000, 20_000);
    short_held.working_length_mm_min = short_held.last.unwrap().working_length_mm;
    let mut helping = question(EXTENSION, arc(-170, -120), 1_000);
    helping.stance_mm = (400, 500);
    let mut measured_no_further = one(10, 60_000);
    measured_no_further.bands[0].0.elongation_max_mpct = 250_000;
    measured_no_further.wanted.at_mdeg = 45_000;
    let measured_no_further = climb(&measured_no_further, 61_000, 10_000);
    let mut nothing = one(10, 1_000);
    nothing.bands.clear();
    let said: Vec<_> = [
        short_room,
        near,
        stretched,
        loose,
        tight,
        coarse,
        heavy,
        short_held,
        helping,
        measured_no_further,
        nothing,
    ]
    .iter()
    .map(|question| match question.solve() {
        Ok(fit) => format!("{fit:?}"),
        Err(error) => error.to_string(),
    })
    .collect();
    assert_eq!(
        said.join("\n"),
        include_str!("../../../tests-data/no_fit.txt").trim_end()
    );
}

/// What is said of a question that was sound until it was edited.
fn refused(edit: fn(&mut Question)) -> String {
    let mut question = question(ROTATION, arc(0, 45), 3_000);
    assert!(question.solve().is_ok());
    edit(&mut question);
    question.solve().unwrap_err().to_string()
}

#[test]
fn a_question_out_of_bounds_is_refused_with_what_is_allowed() {
    let said = [
        refused(|of| of.bands = alloc::vec![of.bands[0].clone(); 33]),
        refused(|of| of.stance_mm = (10_001, 10_001)),
        refused(|of| of.stance_mm = (900, 800)),
        refused(|of| of.stance_mm.1 = 10_001),
        refused(|of| of.wanted.torque_mnm = 0),
        refused(|of| of.wanted.torque_mnm = -1),
        refused(|of| of.wanted.start_mn_min = 0),
        refused(|of| of.wanted.short_mpct_max = 100_001),
        refused(|of| of.wanted.at_mdeg = 45_001),
        refused(|of| of.wanted.arc = arc(45, 0)),
        refused(|of| of.motion = raised_by(i64::MAX)),
    ];
    assert_eq!(
        said.join("\n"),
        "\
bands owned `33`; from 0 to 32 is allowed
nearest stance in mm `10001`; from 0 to 10000 is allowed
room in mm `800`; from 900 to 10000 is allowed
room in mm `10001`; from 400 to 10000 is allowed
wanted load in mN.m `0`; from 1 to 1000000 is allowed
wanted load in mN.m `-1`; from 1 to 1000000 is allowed
least tension at the start in mN `0`; from 1 to 1000000 is allowed
shortfall in thousandths of a percent `100001`; from 0 to 100000 is allowed
angle `45.001 deg`; from 0 to 45 deg, which is the arc, is allowed
arc from `45` to `0` deg; one that goes forward by 1 to 180 deg is allowed
foot out `9223372036854775807 mm`; from -5000 mm to 5000 mm is allowed"
    );
}

fn raised_by(out_mm: i64) -> Motion {
    Motion::Elevation(Underfoot {
        out_mm,
        off_mm: 0,
        height_mm: 0,
        grip_mpct: GRIP_MPCT,
    })
}

/// What is said of a step.
fn refused_step(last_mnm: i64, mpct_min: i64, mpct_max: i64) -> String {
    let mut question = question(ROTATION, arc(0, 45), 3_000);
    question.wanted.step = Some(Step {
        last_mnm,
        mpct_min,
        mpct_max,
    });
    question.solve().unwrap_err().to_string()
}

#[test]
fn a_step_out_of_bounds_is_refused_with_what_is_allowed() {
    let said = [
        refused_step(0, 0, 0),
        refused_step(2_900, -1, 0),
        refused_step(2_900, 2_000, 1_000),
        refused_step(2_900, 0, 100_001),
        refused_step(2_950, 2_000, 10_000),
        refused_step(3_000, 0, 10_000),
    ];
    assert_eq!(
        said.join("\n"),
        "\
load before in mN.m `0`; from 1 to 1000000 is allowed
least step in thousandths of a percent `-1`; from 0 to 100000 is allowed
greatest step in thousandths of a percent `1000`; from 2000 to 100000 is allowed
greatest step in thousandths of a percent `100001`; from 0 to 100000 is allowed
a load of `3 N.m` is no step of at least 2 % up from 2.95 N.m; at least 3.009 N.m is allowed
a load of `3 N.m` is no step of at least 0 % up from 3 N.m; at least 3.001 N.m is allowed"
    );
}

#[test]
fn a_load_that_counts_the_limb_needs_its_mass() {
    let mut whole = question(ELEVATION, arc(20, 90), 14_000);
    whole.wanted.counts = Counts::Whole;
    assert!(whole.solve().is_ok());
    let unweighed = Body::from_height(1_750).unwrap();
    let error = whole.with(|owned| {
        let owned = Owned {
            body: &unweighed,
            ..*owned
        };
        solve(&whole.motion, &owned, &whole.wanted).unwrap_err()
    });
    assert_eq!(
        error.to_string(),
        "the load counts the limb's weight, and the body's mass is not known"
    );
}

#[test]
fn a_load_that_counts_the_limb_has_its_weight_in_it() {
    let mut question = question(ELEVATION, arc(20, 90), 18_000);
    question.wanted.at_mdeg = 90_000;
    let alone = question.solve().unwrap();
    question.wanted.counts = Counts::Whole;
    let whole = question.solve().unwrap();
    assert_eq!(alone.load_mnm, alone.at.band_mnm);
    assert_eq!(Some(whole.load_mnm), whole.at.whole_mnm);
    assert!(whole.at.band_mnm < alone.at.band_mnm - 8_000);
}

/// The hands' band is shared by two limbs, of which each has the load.
#[test]
fn hands_apart_are_set_by_how_short_the_band_is_held() {
    let question = question(HANDS_APART, arc(20, 60), 4_000);
    let fit = question.solve().unwrap();
    assert!(fit.meets);
    assert_eq!(fit.setting.stance_mm, 0);
    let harder = question.after(&fit, 4_320, 10_000).solve().unwrap();
    assert!(harder.setting.working_length_mm < fit.setting.working_length_mm);
}

#[test]
fn a_change_is_rounded_up() {
    for (from_mnm, to_mnm, mpct) in [
        (1_000, 1_080, 8_000),
        (3_000, 3_001, 34),
        (3_000, 2_999, -33),
        (3_000, 3_000, 0),
        (1, 3, 200_000),
    ] {
        assert_eq!(change_mpct(from_mnm, to_mnm), mpct);
    }
}

#[test]
fn whole_centimetres_are_those_within_a_span() {
    let found: Vec<u32> = on_grid(395, 431).collect();
    assert_eq!(found, [400, 410, 420, 430]);
    assert_eq!(on_grid(401, 409).count(), 0);
    assert_eq!(on_grid(0, 0).count(), 1);
}

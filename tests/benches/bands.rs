//! How long the mechanics of bands take: one torque profile of 181 angles, one setting found among three bands, single and
//! doubled, and the finding that none fits.
//!
//! Each figure stands beside a yardstick measured in the same run (SHA-256 of 16 KiB), so that runs on different machines
//! can be compared. Targets: a profile under 20 µs, a setting under 200 µs.
//!
//!     cargo bench -p rungwise-tests --bench bands
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a bench may stop at the first thing that is not as it should be"
)]

mod measure;

use measure::{Table, median_of};
use rungwise_bands::band::Band;
use rungwise_bands::body::{Body, GRIP_MPCT};
use rungwise_bands::curve::{Curve, Measured};
use rungwise_bands::motion::{Anchored, Arc, Height, Motion, Underfoot};
use rungwise_bands::profile::{Setting, profile};
use rungwise_bands::solve::{Counts, Owned, OwnedBand, SolveError, Step, Wanted, solve};
use std::hint::black_box;

/// A turn against an anchor at the side, and a raise against a band under the foot.
const ROTATION: Motion = Motion::Rotation(Anchored {
    height: Height::Joint(0),
    bearing_mdeg: -90_000,
    ahead_mm: 0,
    aside_mm: 0,
    working_length_mm: Some(600),
    grip_mpct: GRIP_MPCT,
});
const ELEVATION: Motion = Motion::Elevation(Underfoot {
    out_mm: 0,
    off_mm: 0,
    height_mm: 0,
    grip_mpct: GRIP_MPCT,
});

fn main() {
    let bands =
        [("band 1", 6), ("band 2", 10), ("band 3", 16)].map(|(label, tenths)| band(label, tenths));
    let body = Body::from_height(1_750)
        .and_then(|body| body.with_mass(70_000))
        .expect("a body");
    let mut table = Table::new("bands");
    profiles(&mut table, &bands[0], &body);
    settings(&mut table, &bands, &body);
    table.print();
}

/// Invented: a band of seven readings, so many tenths of 4 N and 0.12 N for each percent.
fn band(label: &str, tenths: i64) -> Band {
    let readings = [25, 50, 75, 100, 150, 200, 250].map(|percent| Measured {
        elongation_mpct: percent * 1000,
        force_mn: (4_000 + 120 * percent) * tenths / 10,
    });
    let curve = Curve::from_points(&readings).expect("a curve");
    Band::new(label.to_owned(), 1_200, curve, 200_000).expect("a band")
}

fn arc(from_deg: i64, to_deg: i64) -> Arc {
    Arc {
        from_mdeg: from_deg * 1000,
        to_mdeg: to_deg * 1000,
    }
}

fn profiles(table: &mut Table, band: &Band, body: &Body) {
    for (what, motion, arc, working_length_mm, stance_mm) in [
        (
            "torque at 181 angles, anchored",
            ROTATION,
            arc(0, 45),
            600,
            900,
        ),
        (
            "torque at 181 angles, under the foot, with limb",
            ELEVATION,
            arc(0, 90),
            740,
            0,
        ),
    ] {
        let setting = Setting {
            band: 0,
            strands: 1,
            working_length_mm,
            stance_mm,
        };
        table.row(
            what,
            median_of(200, 20, || {
                let of = profile(&motion, body, band, black_box(&setting), arc, 181);
                assert_eq!(black_box(of.expect("a sound setting")).points.len(), 181);
            }),
        );
    }
}

fn settings(table: &mut Table, bands: &[Band], body: &Body) {
    let bands: Vec<OwnedBand<'_>> = bands
        .iter()
        .map(|band| OwnedBand {
            band,
            may_be_doubled: true,
        })
        .collect();
    let owned = Owned {
        bands: &bands,
        body,
        stance_mm_min: 400,
        stance_mm_max: 2_500,
        working_length_mm_min: 200,
        last: None,
    };
    let first = Wanted {
        torque_mnm: 3_000,
        at_mdeg: 30_000,
        arc: arc(0, 45),
        counts: Counts::Band,
        start_mn_min: 1,
        step: None,
        short_mpct_max: 10_000,
    };
    let fit = solve(&ROTATION, &owned, &first).expect("a setting");
    let owned_after = Owned {
        last: Some(fit.setting),
        ..owned
    };
    let step = |mpct_min, mpct_max, torque_mnm| Wanted {
        torque_mnm,
        step: Some(Step {
            last_mnm: fit.load_mnm,
            mpct_min,
            mpct_max,
        }),
        ..first
    };
    let raise = Wanted {
        torque_mnm: 8_000,
        at_mdeg: 60_000,
        arc: arc(0, 90),
        ..first
    };
    for (what, motion, owned, wanted, fits) in [
        (
            "a setting among 3 bands, by stance",
            ROTATION,
            owned,
            first,
            true,
        ),
        (
            "the next setting, a step of 2 to 10 %",
            ROTATION,
            owned_after,
            step(2_000, 10_000, 3_240),
            true,
        ),
        (
            "a setting among 3 bands, by working length",
            ELEVATION,
            owned,
            raise,
            true,
        ),
        (
            "what binds, where none fits",
            ROTATION,
            owned_after,
            step(1, 2, 3_240),
            false,
        ),
    ] {
        table.row(
            what,
            median_of(200, 10, || {
                let found = solve(&motion, &owned, black_box(&wanted));
                match black_box(found) {
                    Ok(_) => assert!(fits),
                    Err(SolveError::NoFit(_)) => assert!(!fits),
                    Err(error) => panic!("{error}"),
                }
            }),
        );
    }
}

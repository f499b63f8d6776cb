//! Bands, bodies, motions and settings for tests. All invented.

use crate::band::Band;
use crate::body::{Body, GRIP_MPCT, Part};
use crate::curve::{Curve, Measured};
use crate::motion::{Anchored, Apart, Arc, Height, Motion, Underfoot};
use alloc::string::ToString as _;
use proptest::prelude::*;

/// 4 N and 0.12 N for each percent, times `tenths` of it, read from 25 % to 250 %; safe to 200 %.
pub(crate) fn band(label: &str, rest_length_mm: u32, tenths: i64) -> Band {
    let readings = [25, 50, 75, 125, 200, 250].map(|percent| Measured {
        elongation_mpct: percent * 1000,
        force_mn: (4_000 + 120 * percent) * tenths / 10,
    });
    let curve = Curve::from_points(&readings).unwrap();
    Band::new(label.to_string(), rest_length_mm, curve, 200_000).unwrap()
}

/// A strip of which one reading is known.
pub(crate) fn strip(label: &str, rest_length_mm: u32, force_mn: i64) -> Band {
    let reading = Measured {
        elongation_mpct: 250_000,
        force_mn,
    };
    let curve = Curve::from_points(&[reading]).unwrap();
    Band::new(label.to_string(), rest_length_mm, curve, 220_000).unwrap()
}

/// 1.75 m and 70 kg.
pub(crate) fn body() -> Body {
    let body = Body::from_height(1_750).unwrap();
    body.with_mass(70_000).unwrap()
}

/// From 0.60 m from joint to hand, the joint 1.30 m above the floor: evidence section 7.3.
pub(crate) fn body_of_section_7_3() -> Body {
    [
        (Part::Upper, 300),
        (Part::Lower, 200),
        (Part::Hand, 200),
        (Part::JointHeight, 1_300),
    ]
    .into_iter()
    .fold(Body::from_height(1_750).unwrap(), |body, (part, mm)| {
        body.with_measured(part, mm).unwrap()
    })
}

pub(crate) fn arc(from_deg: i64, to_deg: i64) -> Arc {
    Arc {
        from_mdeg: from_deg * 1000,
        to_mdeg: to_deg * 1000,
    }
}

/// A turn against a band made fast square to the side, at the height of the hinge.
pub(crate) const TURN: Anchored = Anchored {
    height: Height::Joint(0),
    bearing_mdeg: -90_000,
    ahead_mm: 0,
    aside_mm: 0,
    working_length_mm: Some(600),
    grip_mpct: GRIP_MPCT,
};

pub(crate) const ROTATION: Motion = Motion::Rotation(TURN);

pub(crate) const ELEVATION: Motion = Motion::Elevation(Underfoot {
    out_mm: 0,
    off_mm: 0,
    height_mm: 0,
    grip_mpct: GRIP_MPCT,
});

pub(crate) const HANDS_APART: Motion = Motion::HandsApart(Apart {
    height: Height::Joint(0),
    grip_mpct: GRIP_MPCT,
});

/// Straight ahead, 2 m above the floor.
pub(crate) const EXTENSION: Motion = Motion::Extension(Anchored {
    height: Height::Floor(2_000),
    bearing_mdeg: 0,
    ahead_mm: 0,
    aside_mm: 0,
    working_length_mm: Some(600),
    grip_mpct: GRIP_MPCT,
});

/// Each motion with an arc that it is done on.
pub(crate) fn motions() -> [(Motion, Arc); 4] {
    [
        (ROTATION, arc(0, 45)),
        (ELEVATION, arc(20, 90)),
        (HANDS_APART, arc(20, 60)),
        (EXTENSION, arc(-60, 0)),
    ]
}

fn anchored() -> impl Strategy<Value = Anchored> {
    (
        prop_oneof![
            (0_i64..2_400).prop_map(Height::Floor),
            (-600_i64..600).prop_map(Height::Joint)
        ],
        -180_000_i64..=180_000,
        -300_i64..300,
        -300_i64..300,
        prop::option::of(200_u32..900),
        0_i64..=100_000,
    )
        .prop_map(
            |(height, bearing_mdeg, ahead_mm, aside_mm, working_length_mm, grip_mpct)| Anchored {
                height,
                bearing_mdeg,
                ahead_mm,
                aside_mm,
                working_length_mm,
                grip_mpct,
            },
        )
}

/// Any motion that can be made.
pub(crate) fn any_motion() -> impl Strategy<Value = Motion> {
    prop_oneof![
        anchored().prop_map(Motion::Rotation),
        anchored().prop_map(Motion::Extension),
        (-400_i64..400, -400_i64..400, 0_i64..300, 0_i64..=100_000).prop_map(
            |(out_mm, off_mm, height_mm, grip_mpct)| {
                Motion::Elevation(Underfoot {
                    out_mm,
                    off_mm,
                    height_mm,
                    grip_mpct,
                })
            }
        ),
        (-300_i64..300, 0_i64..=100_000).prop_map(|(above_mm, grip_mpct)| {
            Motion::HandsApart(Apart {
                height: Height::Joint(above_mm),
                grip_mpct,
            })
        }),
    ]
}

/// An arc that any motion can be done on.
pub(crate) fn any_arc() -> impl Strategy<Value = Arc> {
    (-90_000_i64..=80_000, 1_000_i64..=180_000).prop_map(|(from_mdeg, width_mdeg)| Arc {
        from_mdeg,
        to_mdeg: (from_mdeg + width_mdeg).min(90_000),
    })
}

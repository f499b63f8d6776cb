//! Geometry held against vectors in space, against closed forms, and against how fast the band lengthens; and what is
//! refused.

use super::{Anchored, Apart, Arc, Height, Motion, MotionError, Turned, Underfoot, Varies};
use crate::body::{Body, GRIP_MPCT, Part};
use crate::sample::{
    ELEVATION, EXTENSION, HANDS_APART, ROTATION, TURN, any_arc, any_motion, arc, body,
    body_of_section_7_3, motions,
};
use crate::stretch::{Ends, Lengths};
use alloc::string::ToString as _;
use proptest::prelude::*;

fn close(found: f64, expected: f64) -> bool {
    (found - expected).abs() <= 1e-12 * expected.abs().max(1.0)
}

type Vector = [f64; 3];

fn minus(a: Vector, b: Vector) -> Vector {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: Vector, b: Vector) -> Vector {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// In the room: x ahead, y to the side towards which the motion goes, z up, the turning joint at the origin. The hand, the
/// other end of the band, and the axis about which the angle grows.
fn in_space(motion: &Motion, body: &Body, stance_mm: u32, angle_mdeg: i64) -> [Vector; 3] {
    let radians = angle_mdeg as f64 / 180_000.0 * core::f64::consts::PI;
    let (sin, cos) = (libm::sin(radians), libm::cos(radians));
    let m = |part| body.length_um(part) as f64 / 1e6;
    let above = |height, joint| match height {
        Height::Floor(mm) => mm as f64 / 1000.0 - m(joint),
        Height::Joint(mm) => mm as f64 / 1000.0,
    };
    let anchor = |of: &Anchored, joint| {
        let bearing = of.bearing_mdeg as f64 / 180_000.0 * core::f64::consts::PI;
        let stance_m = f64::from(stance_mm) / 1000.0;
        [
            stance_m * libm::cos(bearing) + of.ahead_mm as f64 / 1000.0,
            stance_m * libm::sin(bearing) + of.aside_mm as f64 / 1000.0,
            above(of.height, joint),
        ]
    };
    let hand = |grip_mpct: i64| m(Part::Hand) * grip_mpct as f64 / 100_000.0;
    let arm = |grip_mpct| m(Part::Upper) + m(Part::Lower) + hand(grip_mpct);
    match motion {
        Motion::Rotation(of) => {
            let r = m(Part::Lower) + hand(of.grip_mpct);
            [
                [r * cos, r * sin, 0.0],
                anchor(of, Part::HingeHeight),
                [0.0, 0.0, 1.0],
            ]
        }
        // Raised to the side: y is the side it is raised to, x is off the plane.
        Motion::Elevation(of) => {
            let r = arm(of.grip_mpct);
            let foot = [
                of.off_mm as f64 / 1000.0,
                of.out_mm as f64 / 1000.0,
                of.height_mm as f64 / 1000.0 - m(Part::JointHeight),
            ];
            [[0.0, r * sin, -r * cos], foot, [1.0, 0.0, 0.0]]
        }
        // One hand about its own joint; the other is its mirror image across the middle of the breadth.
        Motion::HandsApart(of) => {
            let z = above(of.height, Part::JointHeight);
            let r = arm(of.grip_mpct);
            let level = libm::sqrt(r * r - z * z);
            [
                [level * cos, level * sin, z],
                [level * cos, -m(Part::Breadth) - level * sin, z],
                [0.0, 0.0, 1.0],
            ]
        }
        Motion::Extension(of) => {
            let r = arm(of.grip_mpct);
            [
                [-r * sin, 0.0, -r * cos],
                anchor(of, Part::JointHeight),
                [0.0, 1.0, 0.0],
            ]
        }
    }
}

proptest! {
    /// The torque that a pull of 1 N along the band has about the axis, from a cross product in space.
    #[test]
    fn length_and_moment_arm_are_those_of_vectors_in_space(
        motion in any_motion(),
        stance_mm in 0_u32..3_000,
        height_mm in 1_400_i64..2_100,
        at_mdeg in -90_000_i64..=90_000,
    ) {
        let body = Body::from_height(height_mm).unwrap();
        let path = motion.of(&body).unwrap().at_stance(stance_mm);
        let angle = Turned::by(at_mdeg);
        let [hand, other, axis] = in_space(&motion, &body, stance_mm, at_mdeg);
        let band = minus(other, hand);
        let length_m = libm::sqrt(dot(band, band));
        prop_assume!(length_m > 0.01);
        let found_m = path.length_m(angle);
        if matches!(motion, Motion::HandsApart(_)) && found_m < 0.0 {
            // The hands have passed each other: no band is tight there.
            return Ok(());
        }
        prop_assert!((found_m - length_m).abs() < 1e-9, "{} for {}", found_m, length_m);
        let hinders_m = -dot(cross(hand, band), axis) / length_m;
        let arm_m = path.moment_arm_m(angle, found_m);
        prop_assert!((arm_m - hinders_m).abs() < 1e-7, "{} for {}", arm_m, hinders_m);
    }

    /// The moment arm is how fast the band lengthens with the angle, of which each of two limbs has half.
    #[test]
    fn a_moment_arm_is_how_fast_the_band_lengthens(
        motion in any_motion(),
        stance_mm in 0_u32..3_000,
        at_mdeg in -89_000_i64..=89_000,
    ) {
        let path = motion.of(&body()).unwrap().at_stance(stance_mm);
        let length_m = |mdeg| path.length_m(Turned::by(mdeg));
        prop_assume!(length_m(at_mdeg) > 0.05);
        let width_rad = 200.0 / 180_000.0 * core::f64::consts::PI;
        let faster = (length_m(at_mdeg + 100) - length_m(at_mdeg - 100)) / width_rad;
        let arm_m = path.moment_arm_m(Turned::by(at_mdeg), length_m(at_mdeg));
        prop_assert!((faster / path.limbs() - arm_m).abs() < 1e-3 * arm_m.abs().max(0.1));
    }

    /// No angle on the way has a shorter or longer band than is said, and what is said comes about.
    #[test]
    fn shortest_and_longest_are_those_of_all_angles(
        motion in any_motion(),
        stance_mm in 0_u32..3_000,
        on in any_arc(),
    ) {
        let path = motion.of(&body()).unwrap().at_stance(stance_mm);
        let lengths = Lengths::on(&path, &Ends::of(on));
        let width_mdeg = on.to_mdeg - on.from_mdeg;
        let all = (0..=3_600).map(|step| path.length_m(Turned::by(on.from_mdeg + width_mdeg * step / 3_600)));
        let (shortest_m, longest_m) = all.fold((f64::MAX, f64::MIN), |(least, most), one| (least.min(one), most.max(one)));
        prop_assert!(lengths.shortest_m <= shortest_m + 1e-12 && lengths.longest_m >= longest_m - 1e-12);
        // A band can turn where it is very short faster than the steps here can follow.
        prop_assert!((lengths.longest_m - longest_m).abs() < 1e-5);
        prop_assert!((lengths.shortest_m - shortest_m).abs() < 1e-3);
    }

    #[test]
    fn sine_and_cosine_are_those_of_the_angle(at_mdeg in -1_000_000_i64..1_000_000) {
        let turned = Turned::by(at_mdeg);
        let radians = at_mdeg as f64 / 180_000.0 * core::f64::consts::PI;
        prop_assert!((turned.sin - libm::sin(radians)).abs() < 1e-14);
        prop_assert!((turned.cos - libm::cos(radians)).abs() < 1e-14);
    }
}

#[test]
fn quarter_turns_are_exact() {
    for (at_deg, sin, cos) in [
        (-180, 0.0, -1.0),
        (-90, -1.0, 0.0),
        (0, 0.0, 1.0),
        (90, 1.0, 0.0),
        (180, 0.0, -1.0),
        (270, -1.0, 0.0),
        (360, 0.0, 1.0),
    ] {
        assert_eq!(Turned::by(at_deg * 1000), Turned { sin, cos }, "{at_deg}");
    }
    let eighth = Turned::by(45_000);
    assert!(close(eighth.sin, eighth.cos));
}

/// 0.60 m from the joint, an anchor 1.30 m from it: towards it, square to it, and away from it.
#[test]
fn closed_forms_of_the_three_plain_cases() {
    let body = body_of_section_7_3();
    let path = Motion::Elevation(Underfoot {
        out_mm: 0,
        off_mm: 0,
        height_mm: 0,
        grip_mpct: 50_000,
    })
    .of(&body)
    .unwrap()
    .at_stance(0);
    let at = |deg: i64| {
        let angle = Turned::by(deg * 1000);
        let length_m = path.length_m(angle);
        (length_m, path.moment_arm_m(angle, length_m))
    };
    let (towards, square, away) = (at(0), at(90), at(180));
    assert!(
        close(towards.0, 0.7) && close(towards.1, 0.0),
        "{towards:?}"
    );
    let diagonal_m = libm::hypot(0.6, 1.3);
    assert!(close(square.0, diagonal_m), "{square:?}");
    assert!(close(square.1, 0.6 * 1.3 / diagonal_m), "{square:?}");
    assert!(close(away.0, 1.9) && close(away.1, 0.0), "{away:?}");
}

/// What makes a turn an outward or an inward one is the pack's: seen in a mirror it is the same.
#[test]
fn outward_and_inward_are_the_same_in_a_mirror() {
    let body = body();
    let outward = Motion::Rotation(Anchored {
        bearing_mdeg: -90_000,
        aside_mm: -200,
        ..TURN
    });
    let inward = Motion::Rotation(Anchored {
        bearing_mdeg: 90_000,
        aside_mm: 200,
        ..TURN
    });
    let path = |motion: Motion| motion.of(&body).unwrap().at_stance(900);
    for at_deg in (-60..=60).step_by(5) {
        let (there, back) = (Turned::by(at_deg * 1000), Turned::by(-at_deg * 1000));
        let (there_m, back_m) = (path(outward).length_m(there), path(inward).length_m(back));
        assert!(close(there_m, back_m));
        let arm_m = path(outward).moment_arm_m(there, there_m);
        assert!(close(arm_m, -path(inward).moment_arm_m(back, back_m)));
    }
}

#[test]
fn every_motion_says_what_varies_and_where_gravity_acts() {
    assert_eq!(
        motions().map(|(motion, _)| (motion.varies(), motion.gravity_acts())),
        [
            (Varies::Stance, false),
            (Varies::WorkingLength, true),
            (Varies::WorkingLength, false),
            (Varies::Stance, true)
        ]
    );
    assert_eq!(ROTATION.working_length_mm(), Some(600));
    assert_eq!(ELEVATION.working_length_mm(), None);
    let level = |motion: Motion, body: Body| {
        let path = motion.of(&body).unwrap().at_stance(1_000);
        path.limb_torque_nm(Turned::by(90_000))
    };
    let unknown = Body::from_height(1_750).unwrap();
    for (motion, _) in motions() {
        let acts = motion.gravity_acts();
        assert_eq!(level(motion, unknown).is_none(), acts);
        assert_eq!(level(motion, body()) > Some(1.0), acts);
    }
    // In front, the limb's weight helps to bring it down.
    let path = EXTENSION.of(&body()).unwrap().at_stance(1_000);
    assert!(path.limb_torque_nm(Turned::by(-60_000)) < Some(0.0));
}

/// Hands at another height move on a smaller circle: as much as the limb's slope leaves.
#[test]
fn hands_apart_above_or_below_the_joint_go_less_far() {
    let body = body_of_section_7_3();
    let apart_m = |above_mm| {
        let motion = Motion::HandsApart(Apart {
            height: Height::Joint(above_mm),
            grip_mpct: 50_000,
        });
        let path = motion.of(&body).unwrap().at_stance(0);
        path.length_m(Turned::by(90_000)) - path.length_m(Turned::by(0))
    };
    assert!(close(apart_m(0), 1.2));
    assert!(close(apart_m(360), 0.96) && close(apart_m(-360), 0.96));
}

#[test]
fn an_arc_goes_forward_and_where_the_motion_goes() {
    for (motion, on) in motions() {
        assert_eq!(motion.check_arc(on), Ok(()));
    }
    for (motion, on, said) in [
        (
            ROTATION,
            arc(40, 20),
            "arc from `40` to `20` deg; one that goes forward by 1 to 180 deg is allowed",
        ),
        (
            ROTATION,
            arc(40, 40),
            "arc from `40` to `40` deg; one that goes forward by 1 to 180 deg is allowed",
        ),
        (
            ELEVATION,
            arc(-90, 91),
            "arc from `-90` to `91` deg; one that goes forward by 1 to 180 deg is allowed",
        ),
        (
            EXTENSION,
            arc(-181, -60),
            "angle `-181 deg`; from -180 to 180 deg is allowed with this motion",
        ),
        (
            HANDS_APART,
            arc(0, 91),
            "angle `91 deg`; from -90 to 90 deg is allowed with this motion",
        ),
        (
            HANDS_APART,
            Arc {
                from_mdeg: i64::MIN,
                to_mdeg: i64::MAX,
            },
            "angle `-9223372036854775.808 deg`; from -90 to 90 deg is allowed with this motion",
        ),
    ] {
        assert_eq!(motion.check_arc(on).unwrap_err().to_string(), said);
    }
    let error = arc(0, 45).check(46_500).unwrap_err();
    assert_eq!(
        error.to_string(),
        "angle `46.5 deg`; from 0 to 45 deg, which is the arc, is allowed"
    );
    assert_eq!(arc(0, 45).check(45_000), Ok(()));
    assert!(arc(0, 45).check(-1).is_err());
}

#[test]
fn what_a_pack_says_out_of_bounds_is_refused_with_what_is_allowed() {
    let turn = |edit: fn(&mut Anchored)| {
        let mut anchored = TURN;
        edit(&mut anchored);
        Motion::Rotation(anchored)
    };
    let underfoot = |out_mm, off_mm, height_mm| {
        Motion::Elevation(Underfoot {
            out_mm,
            off_mm,
            height_mm,
            grip_mpct: GRIP_MPCT,
        })
    };
    let apart = |height| {
        Motion::HandsApart(Apart {
            height,
            grip_mpct: GRIP_MPCT,
        })
    };
    for (motion, said) in [
        (
            turn(|of| of.height = Height::Floor(-1)),
            "height above the floor `-1 mm`; from 0 mm to 5000 mm is allowed",
        ),
        (
            turn(|of| of.height = Height::Joint(5_001)),
            "height above the joint `5001 mm`; from -5000 mm to 5000 mm is allowed",
        ),
        (
            turn(|of| of.ahead_mm = -5_001),
            "anchor ahead `-5001 mm`; from -5000 mm to 5000 mm is allowed",
        ),
        (
            turn(|of| of.aside_mm = i64::MIN),
            "anchor aside `-9223372036854775808 mm`; from -5000 mm to 5000 mm is allowed",
        ),
        (
            turn(|of| of.bearing_mdeg = 180_001),
            "bearing `180.001 deg`; from -180 to 180 deg is allowed",
        ),
        (
            turn(|of| of.grip_mpct = -1),
            "grip at `-0.001 %` of the hand; from 0 % to 100 % is allowed",
        ),
        (
            underfoot(5_001, 0, 0),
            "foot out `5001 mm`; from -5000 mm to 5000 mm is allowed",
        ),
        (
            underfoot(0, 5_001, 0),
            "foot off the plane `5001 mm`; from -5000 mm to 5000 mm is allowed",
        ),
        (
            underfoot(0, 0, -20),
            "height above the floor `-20 mm`; from 0 mm to 5000 mm is allowed",
        ),
        (
            apart(Height::Joint(700)),
            "hands `2132 mm` above the floor, out of reach; from 789 mm to 2074 mm is allowed",
        ),
        (
            apart(Height::Floor(700)),
            "hands `700 mm` above the floor, out of reach; from 789 mm to 2074 mm is allowed",
        ),
    ] {
        assert_eq!(motion.of(&body()).unwrap_err().to_string(), said);
    }
    // What is said to be allowed is.
    for floor_mm in [789, 2_074] {
        assert!(apart(Height::Floor(floor_mm)).of(&body()).is_ok());
    }
    for floor_mm in [788, 2_075] {
        let refused = apart(Height::Floor(floor_mm)).of(&body());
        assert!(
            matches!(refused, Err(MotionError::Reach { .. })),
            "{floor_mm}"
        );
    }
}

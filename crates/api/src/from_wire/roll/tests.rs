//! A roll is read to the thousandth, and everything that is wrong with one comes at once, by field. Rolls are invented.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use rungwise_pack::quantity::Milli;

fn point(elongation: &str, force: &str) -> v1::BandPoint {
    v1::BandPoint {
        elongation: elongation.to_owned(),
        force: force.to_owned(),
    }
}

fn sound() -> v1::Roll {
    v1::Roll {
        label: "roll 3".to_owned(),
        rest_length_mm: 300,
        points: vec![point("50", "9"), point("200", "23.25")],
        elongation_max: "150".to_owned(),
        measured_on: "2026-03-02".to_owned(),
        measured_by: "invented-clinician-1".to_owned(),
        ..Default::default()
    }
}

fn wrong_fields(roll: &v1::Roll) -> Vec<String> {
    let mut reader = Reader::default();
    roll_from_wire("roll", roll, &mut reader);
    let violations = reader.violations.into_iter();
    violations.map(|one| one.field).collect()
}

#[test]
fn a_sound_roll_is_read_to_the_thousandth_and_travels_back() {
    let mut reader = Reader::default();
    let roll = roll_from_wire("roll", &sound(), &mut reader).unwrap();
    assert_eq!(reader.violations, []);
    let last = roll.piece.points.last().unwrap();
    assert_eq!((last.elongation.0, last.force.0), (200_000, 23_250));
    assert_eq!(roll.piece.elongation_max, Milli::whole(150));
    let again = crate::to_wire::roll_to_wire("sample", 7, &roll);
    let wanted = v1::Roll {
        name: "clinics/sample/rolls/7".to_owned(),
        ..sound()
    };
    assert_eq!(again, wanted);
}

#[test]
fn everything_wrong_comes_at_once() {
    let mut roll = sound();
    roll.points = vec![point("", "-1"), point("50", "x")];
    roll.elongation_max = "much".to_owned();
    roll.measured_on = "tomorrow".to_owned();
    roll.measured_by.clear();
    let unreadable = [
        "roll.points[0].elongation",
        "roll.points[1].force",
        "roll.elongation_max",
        "roll.measured_on",
        "roll.measured_by",
    ];
    assert_eq!(wrong_fields(&roll), unreadable);

    let mut roll = sound();
    roll.label.clear();
    roll.rest_length_mm = -300;
    roll.points.push(point("250", "20"));
    roll.measured_by.clear();
    let refused = [
        "roll.label",
        "roll.rest_length_mm",
        "roll.points[2].force",
        "roll.measured_by",
    ];
    assert_eq!(wrong_fields(&roll), refused);
}

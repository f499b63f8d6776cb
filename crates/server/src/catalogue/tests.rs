//! Which roll of a label is the last one, as rolls are measured anew and withdrawn. Rolls are invented.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use jiff::civil::Date;
use rungwise_engine::fact::MeasuredBand;
use rungwise_pack::quantity::Milli;

const DAY: Date = Date::constant(2026, 3, 2);

fn roll(label: &str) -> Roll {
    Roll {
        piece: MeasuredBand {
            label: label.into(),
            rest_length_mm: 300,
            points: Vec::new(),
            elongation_max: Milli::whole(100),
            may_be_doubled: false,
        },
        measured_on: DAY,
        measured_by: "invented-clinician-1".into(),
    }
}

fn withdrawn(roll: u64) -> RollWithdrawal {
    RollWithdrawal {
        roll,
        date: DAY,
        who: "invented-clinician-1".into(),
        why: "the scale was wrong".to_owned(),
    }
}

#[test]
fn the_last_one_of_a_label_that_is_not_withdrawn_is_the_one_measured_anew() {
    let mut catalogue = Catalogue::default();
    for (position, label) in [(2, "a"), (5, "b"), (7, "a"), (9, "a")] {
        catalogue.record(position, 1_000, roll(label));
    }
    let anew = |catalogue: &Catalogue| {
        let rolls = [2, 5, 7, 9].map(|position| catalogue.to_wire("sample", position).unwrap());
        rolls.map(|roll| roll.measured_anew)
    };
    let ninth = "clinics/sample/rolls/9";
    assert_eq!(anew(&catalogue), [ninth, "", ninth, ""]);

    catalogue.withdraw(withdrawn(9));
    assert_eq!(anew(&catalogue), ["clinics/sample/rolls/7", "", "", ""]);
    let ninth = catalogue.to_wire("sample", 9).unwrap();
    assert_eq!(ninth.withdrawal.unwrap().why, "the scale was wrong");

    // One that was never recorded changes nothing.
    catalogue.withdraw(withdrawn(3));
    assert_eq!((catalogue.len(), catalogue.roll(3).is_none()), (4, true));
    let from: Vec<u64> = catalogue.recorded_from(5).map(|(at, _)| at).collect();
    assert_eq!(from, [5, 7, 9]);
}

//! A catalogue that is full takes nothing more, and says so. Rolls are invented.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use jiff::civil::Date;
use rungwise_engine::fact::MeasuredBand;
use rungwise_pack::quantity::Milli;

#[test]
fn a_full_catalogue_takes_no_more_rolls() {
    let roll = content::Roll {
        piece: MeasuredBand {
            label: "roll".into(),
            rest_length_mm: 300,
            points: Vec::new(),
            elongation_max: Milli::whole(100),
            may_be_doubled: false,
        },
        measured_on: Date::constant(2026, 3, 2),
        measured_by: "invented-clinician-1".into(),
    };
    let mut catalogue = Catalogue::default();
    for position in (0..).take(ROLLS_MAX) {
        room("sample", &catalogue).unwrap();
        catalogue.record(position, 1_000, roll.clone());
    }
    let status = room("sample", &catalogue).unwrap_err().status();
    assert_eq!(status.code(), tonic::Code::FailedPrecondition);
    let says =
        "`clinics/sample`: its catalogue holds 1000 rolls, which is all it may; use one of them";
    assert_eq!(status.message(), says);
}

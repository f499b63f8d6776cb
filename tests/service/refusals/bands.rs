//! Rows about the band catalogue: what was measured, and the calls about it.

use super::super::bands::{cut, measured, measuring, owning, point, roll, withdrawing};
use super::super::clinic::{Begun, CLINIC, recording};
use super::super::facts::{day, today};
use super::{Call, Row, refused, wrong};
use rungwise_api::v1;
use rungwise_api::v1::Reason;
use tonic::Code;

/// A roll that is sound but for one change.
fn with(change: impl Fn(&mut v1::Roll)) -> Call {
    let mut roll = roll("an invented roll");
    change(&mut roll);
    Call::RecordRoll(measuring(roll))
}

pub(super) fn rolls(_: &Begun) -> Vec<Row> {
    let also = |point: v1::BandPoint| with(|roll| roll.points.push(point.clone()));
    vec![
        wrong("no roll", Call::RecordRoll(v1::RecordRollRequest { roll: None, ..measuring(roll("a")) }), Reason::FieldMissing, "roll", "say what was measured"),
        wrong("no label", with(|roll| roll.label.clear()), Reason::Empty, "roll.label", "left empty"),
        wrong("a label that is an essay", with(|roll| roll.label = "x".repeat(61)), Reason::TextTooLong, "roll.label", "at most 60 bytes"),
        wrong("no length", with(|roll| roll.rest_length_mm = 0), Reason::OutOfRange, "roll.rest_length_mm", "10 to 10000 mm"),
        wrong("a negative length", with(|roll| roll.rest_length_mm = -300), Reason::OutOfRange, "roll.rest_length_mm", "10 to 10000 mm"),
        wrong("no readings", with(|roll| roll.points.clear()), Reason::TooFewReadings, "roll.points", "at least one reading above 0 %"),
        wrong("a band never stretched", with(|roll| roll.points = vec![point("0", "0")]), Reason::TooFewReadings, "roll.points", "at least one reading above 0 %"),
        wrong("more readings than anybody takes", with(|roll| roll.points = vec![point("50", "9"); 513]), Reason::TooMany, "roll.points", "at most 512"),
        wrong("a force that falls", also(point("250", "20")), Reason::NotRising, "roll.points[3].force", "above 23.25 N"),
        wrong("a force that stays", also(point("250", "23.25")), Reason::NotRising, "roll.points[3].force", "above 23.25 N"),
        wrong("a pull at rest", also(point("0", "2")), Reason::OutOfRange, "roll.points[3].force", "0 to 0 N"),
        wrong("a band pressed together", also(point("-10", "1")), Reason::OutOfRange, "roll.points[3].elongation", "0 to 1000 %"),
        wrong("a band that pushes", also(point("10", "-1")), Reason::OutOfRange, "roll.points[3].force", "0 to 2000 N"),
        wrong("a band that lifts a car", also(point("250", "2000.001")), Reason::OutOfRange, "roll.points[3].force", "0 to 2000 N"),
        wrong("no force", also(point("10", "")), Reason::FieldMissing, "roll.points[3].force", "give a decimal number"),
        wrong("an elongation in words", also(point("ten", "1")), Reason::NotANumber, "roll.points[3].elongation", "such as `1.5`"),
        wrong("a force with its unit", also(point("10", "1 kg")), Reason::NotANumber, "roll.points[3].force", "such as `1.5`"),
        wrong("a force too fine", also(point("10", "1.0005")), Reason::NotANumber, "roll.points[3].force", "at most three after the point"),
        wrong("no safe elongation", with(|roll| roll.elongation_max.clear()), Reason::FieldMissing, "roll.elongation_max", "give a decimal number"),
        wrong("safe past what was measured", with(|roll| roll.elongation_max = "201".to_owned()), Reason::OutOfRange, "roll.elongation_max", "0.001 to 200 %"),
        wrong("never safe", with(|roll| roll.elongation_max = "0".to_owned()), Reason::OutOfRange, "roll.elongation_max", "0.001 to 200 %"),
        wrong("measured on no day", with(|roll| roll.measured_on.clear()), Reason::FieldMissing, "roll.measured_on", "YYYY-MM-DD"),
        wrong("measured next week", with(|roll| roll.measured_on = today(7)), Reason::InTheFuture, "roll.measured_on", &today(1)),
        wrong("measured by nobody", with(|roll| roll.measured_by.clear()), Reason::FieldMissing, "roll.measured_by", "1 to 200 bytes"),
    ]
}

/// Bands of a fact that are cut from what is no roll.
pub(super) fn cuts(begun: &Begun) -> Vec<Row> {
    let owning = |bands: Vec<v1::MeasuredBand>| Call::Record(recording(&begun.episode, vec![owning(&day(2), bands)]));
    let (_, fact) = begun.session.rsplit_once('/').expect("a fact's name");
    let no_roll = format!("{CLINIC}/rolls/{fact}");
    let right = "ListRolls lists them";
    let short = v1::MeasuredBand { rest_length_mm: -1500, ..measured("light") };
    vec![
        wrong("cut to less than nothing", owning(vec![measured("other"), short]), Reason::OutOfRange, "facts[0].equipment.bands[1].rest_length_mm", "10 to 10000 mm"),
        wrong("cut from what is no roll", owning(vec![cut(&no_roll, 1500)]), Reason::UnknownRoll, "facts[0].equipment.bands[0].roll", right),
        wrong("cut from another clinic's roll", owning(vec![cut("clinics/elsewhere/rolls/2", 1500)]), Reason::UnknownRoll, "facts[0].equipment.bands[0].roll", right),
        wrong("cut from a label", owning(vec![cut("light", 1500)]), Reason::UnknownRoll, "facts[0].equipment.bands[0].roll", right),
        wrong("readings beside a roll", owning(vec![v1::MeasuredBand { roll: no_roll.clone(), ..measured("light") }]), Reason::SaidAlready, "facts[0].equipment.bands[0].points", "leave it empty"),
        wrong("a limit beside a roll", owning(vec![v1::MeasuredBand { elongation_max: "100".into(), ..cut(&no_roll, 1500) }]), Reason::SaidAlready, "facts[0].equipment.bands[0].elongation_max", "leave it empty"),
    ]
}

pub(super) fn calls(begun: &Begun) -> Vec<Row> {
    let missing = |what, call, reason, says: &str| refused(what, call, Code::NotFound, reason, says);
    let get = |name: &str| Call::GetRoll(v1::GetRollRequest { name: name.to_owned() });
    let list = v1::ListRollsRequest { parent: CLINIC.to_owned(), ..Default::default() };
    let elsewhere = "clinics/elsewhere/rolls/2";
    let (_, fact) = begun.session.rsplit_once('/').expect("a fact's name");
    let fact = format!("{CLINIC}/rolls/{fact}");
    let nobody = v1::WithdrawRollRequest { who: String::new(), ..withdrawing(&fact) };
    let unsaid = v1::WithdrawRollRequest { why: String::new(), ..withdrawing(&fact) };
    let later = v1::WithdrawRollRequest { date: today(7), ..withdrawing(&fact) };
    let (clinic, roll_not) = (Reason::ClinicNotFound, Reason::RollNotFound);
    let form = "clinics/{clinic}/rolls/{roll}";
    vec![
        wrong("no request id", Call::RecordRoll(v1::RecordRollRequest { request_id: String::new(), ..measuring(roll("a")) }), Reason::FieldMissing, "request_id", "1 to 64"),
        wrong("measured nowhere", Call::RecordRoll(v1::RecordRollRequest { parent: String::new(), ..measuring(roll("a")) }), Reason::FieldMissing, "parent", "clinics/{clinic}"),
        wrong("read no roll", get(""), Reason::FieldMissing, "name", form),
        wrong("read an episode for a roll", get(&begun.episode), Reason::FieldMalformed, "name", form),
        wrong("read a roll by its label", get("clinics/demo/rolls/thick"), Reason::FieldMalformed, "name", form),
        wrong("a negative page of rolls", Call::ListRolls(v1::ListRollsRequest { page_size: -1, ..list.clone() }), Reason::FieldMalformed, "page_size", "0 for the default"),
        wrong("an invented token of rolls", Call::ListRolls(v1::ListRollsRequest { page_token: "next".to_owned(), ..list.clone() }), Reason::PageTokenRefused, "page_token", "next_page_token"),
        wrong("withdrawn by nobody", Call::WithdrawRoll(nobody), Reason::FieldMissing, "who", "1 to 200 bytes"),
        wrong("withdrawn for nothing", Call::WithdrawRoll(unsaid), Reason::FieldMissing, "why", "1 to 4000 bytes"),
        wrong("withdrawn next week", Call::WithdrawRoll(later), Reason::InTheFuture, "date", &today(1)),
        missing("a fact is no roll", get(&fact), roll_not, &fact),
        missing("a roll that is not there yet", get("clinics/demo/rolls/18446744073709551615"), roll_not, "18446744073709551615"),
        missing("withdraw what is no roll", Call::WithdrawRoll(withdrawing(&fact)), roll_not, &fact),
        missing("measure in another clinic", Call::RecordRoll(v1::RecordRollRequest { parent: "clinics/elsewhere".into(), ..measuring(roll("a")) }), clinic, "clinics/elsewhere"),
        missing("read another clinic's roll", get(elsewhere), clinic, "clinics/elsewhere"),
        missing("list another clinic's rolls", Call::ListRolls(v1::ListRollsRequest { parent: "clinics/elsewhere".into(), ..list }), clinic, "clinics/elsewhere"),
        missing("withdraw another clinic's roll", Call::WithdrawRoll(withdrawing(elsewhere)), clinic, "clinics/elsewhere"),
    ]
}

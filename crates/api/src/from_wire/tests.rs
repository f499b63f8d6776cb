//! Dates and texts that are wrong are refused by name; those that are right are read.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;

#[test]
fn a_date_is_written_in_one_way() {
    assert_eq!(
        date_from_text("2026-03-09"),
        Some(Date::constant(2026, 3, 9))
    );
    for wrong in [
        "",
        "2026-3-9",
        "2026-02-30",
        "2026/03/09",
        "20260309",
        "2026-03-09T00:00",
        "0000-01-01",
        "２026-03-09",
        "+026-03-09",
    ] {
        assert_eq!(date_from_text(wrong), None, "{wrong}");
    }
}

#[test]
fn each_wrong_field_is_named_with_what_would_be_right() {
    let mut reader = Reader::default();
    assert_eq!(reader.date("as_of", ""), None);
    assert_eq!(reader.date("as_of", "tomorrow"), None);
    assert_eq!(reader.text("who", " ", 10), None);
    assert_eq!(reader.text("who", "12345678901", 10), None);
    assert_eq!(reader.reporter("reported_by", 0), None);
    assert_eq!(reader.reporter("reported_by", 77), None);
    let found: Vec<_> = reader
        .violations
        .iter()
        .map(|found| (found.field.as_str(), found.reason))
        .collect();
    let wanted = [
        ("as_of", Reason::FieldMissing),
        ("as_of", Reason::FieldMalformed),
        ("who", Reason::FieldMissing),
        ("who", Reason::TextTooLong),
        ("reported_by", Reason::EnumUnknown),
        ("reported_by", Reason::EnumUnknown),
    ];
    assert_eq!(found, wanted);
    assert!(
        reader
            .violations
            .iter()
            .all(|found| !found.right.is_empty())
    );
}

#[test]
fn a_dose_value_needs_its_variable_and_its_value() {
    use v1::dose_value::Value;
    let mut reader = Reader::default();
    let read = |reader: &mut Reader, variable: v1::Variable, value| {
        reader.dose_value(
            "dose[0]",
            &v1::DoseValue {
                variable: variable.into(),
                value,
                unit: String::new(),
            },
        )
    };
    let number = Some(Value::Number("12".into()));
    assert_eq!(
        read(&mut reader, v1::Variable::Reps, number.clone()),
        Some((
            Variable::Reps,
            RowValue::Number(rungwise_pack::quantity::Milli::whole(12))
        ))
    );
    assert!(reader.violations.is_empty());
    assert_eq!(read(&mut reader, v1::Variable::Unspecified, number), None);
    assert_eq!(read(&mut reader, v1::Variable::Load, None), None);
    assert_eq!(
        read(
            &mut reader,
            v1::Variable::Load,
            Some(Value::Number("1e3".into()))
        ),
        None
    );
    let fields: Vec<_> = reader
        .violations
        .iter()
        .map(|found| found.field.as_str())
        .collect();
    assert_eq!(
        fields,
        ["dose[0].variable", "dose[0].value", "dose[0].number"]
    );
}

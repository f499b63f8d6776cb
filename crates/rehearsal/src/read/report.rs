//! Values of measures, as a diary gives them.
//!
//! Leaves to others: whether the value may be given there at that time (`super::course`).

use super::table::{Reader, Table, Value};
use rungwise_engine::admit::{Given, Refusal};
use rungwise_engine::fact::Reading;
use rungwise_pack::diagnostic::Code;
use rungwise_pack::model::{Carrier, MeasureKind, Pack};
use toml::de::DeValue;

/// What stands for a value that could not be given because of pain.
const COULD_NOT: &str = "could not";

/// The values under `key`; none where it is not there.
pub(super) fn readings_under(
    reader: &mut Reader<'_>,
    table: &mut Table<'_>,
    key: &'static str,
    carrier: Carrier,
) -> Vec<Reading> {
    let values = table.table(reader, key, "a list of values");
    values.map_or_else(Vec::new, |values| readings(reader, &values, carrier))
}

/// Every entry of a table as a value of a measure that `carrier` carries.
pub(super) fn readings(
    reader: &mut Reader<'_>,
    values: &Table<'_>,
    carrier: Carrier,
) -> Vec<Reading> {
    let mut readings = Vec::new();
    for (name, value) in values.entries() {
        let measure: &str = name.get_ref();
        let unit = unit_of(reader.pack, measure);
        let given = match value.get_ref() {
            DeValue::String(word) if **word == *COULD_NOT => Given::CouldNot,
            DeValue::String(word) => Given::Choice(word),
            DeValue::Integer(integer) if integer.radix() == 10 => Given::Text(integer.as_str()),
            DeValue::Float(float) => Given::Text(float.as_str()),
            _ => {
                reader.wrong_type(value, &format!("`{measure}`"), "a number or a choice");
                continue;
            }
        };
        let unit = if matches!(given, Given::Text(_)) {
            unit.as_str()
        } else {
            ""
        };
        match rungwise_engine::admit::reading(reader.pack, "", measure, &given, unit) {
            Ok(reading) => {
                if carried(reader, name, measure, carrier) {
                    readings.push(reading);
                }
            }
            Err(refusal) => refuse(reader, name, value, &refusal),
        }
    }
    readings
}

/// `over`, and those of `under` that it does not name.
pub(super) fn merged(over: Vec<Reading>, under: &[Reading]) -> Vec<Reading> {
    let mut merged = over;
    for reading in under {
        if !merged.iter().any(|given| given.measure == reading.measure) {
            merged.push(reading.clone());
        }
    }
    merged
}

fn unit_of(pack: &Pack, measure: &str) -> String {
    let found = pack
        .measure(measure)
        .and_then(|index| pack.measures.get(index.at()));
    match found.map(|measure| &measure.kind) {
        Some(MeasureKind::Number { unit, .. }) => unit.code.to_string(),
        _ => String::new(),
    }
}

fn carried(
    reader: &mut Reader<'_>,
    name: &super::table::Name<'_>,
    measure: &str,
    carrier: Carrier,
) -> bool {
    let pack = reader.pack;
    let own = pack
        .measure(measure)
        .and_then(|index| pack.measures.get(index.at()))
        .map(|measure| measure.carrier);
    let fits = own == Some(carrier);
    if let Some(own) = own.filter(|_| !fits) {
        let message = format!("`{measure}` is not reported here");
        let help = Some(format!("report it with {}", word(own)));
        reader.report(Code::UnknownName, name.span(), message, help);
    }
    fits
}

const fn word(carrier: Carrier) -> &'static str {
    match carrier {
        Carrier::Exercise => "an exercise of a session",
        Carrier::Session => "a session",
        Carrier::MorningAfter => "a morning-after",
        Carrier::Assessment => "an assessment",
        Carrier::Screening => "a screening",
        Carrier::Nothing => "nothing: it is worked out",
    }
}

fn refuse(
    reader: &mut Reader<'_>,
    name: &super::table::Name<'_>,
    value: &Value<'_>,
    refusal: &Refusal,
) {
    let (code, span) = if refusal.path.ends_with("measure") {
        (Code::UnknownName, name.span())
    } else {
        (Code::Amount, value.span())
    };
    reader.report(
        code,
        span,
        refusal.wrong.wrong(),
        Some(refusal.wrong.right()),
    );
}

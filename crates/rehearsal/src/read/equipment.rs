//! What a person owns, as a diary says it: pieces by name, measured bands, the room.
//!
//! Leaves to others: whether the pack and the mechanics accept it, which admitting says as a diary is played.

use super::table::{Reader, Table, Value};
use rungwise_engine::fact::{BandPoint, Equipment, MeasuredBand};
use rungwise_pack::diagnostic::Code;
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::Milli;

/// Longest length of a band and furthest way to stand, in mm.
const LENGTH_MM_MAX: u32 = 10_000;

/// A list of equipment, where a day gives any of it.
pub(super) fn equipment(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Option<Equipment> {
    let keys = ["equipment", "band", "room_mm"];
    let is_given = keys.into_iter().any(|key| table.get(key).is_some());
    let owned = table.texts(reader, "equipment").into_iter();
    let owned = owned.map(|(name, _)| name.as_str().into()).collect();
    let mut bands = Vec::new();
    for inner in table.tables(reader, "band", "a band") {
        bands.extend(band(reader, inner));
    }
    let room_mm = table.number(reader, "room_mm", &(0..=LENGTH_MM_MAX));
    is_given.then(|| Equipment {
        owned,
        bands,
        room_mm: room_mm.map(i64::from),
    })
}

fn band(reader: &mut Reader<'_>, mut table: Table<'_>) -> Option<MeasuredBand> {
    let label = table.need_text(reader, "label");
    table.need(reader, "rest_length_mm");
    let rest = table.number(reader, "rest_length_mm", &(1..=LENGTH_MM_MAX));
    table.need(reader, "points");
    let list = table.list(reader, "points");
    let count = list.len();
    let points: Vec<BandPoint> = list
        .into_iter()
        .filter_map(|value| point(reader, value))
        .collect();
    let safe = table
        .need(reader, "elongation_max")
        .and_then(|value| number(reader, value, "`elongation_max`"));
    let doubled = table.flag(reader, "may_be_doubled");
    table.finish(reader);
    if points.len() < count {
        return None;
    }
    Some(MeasuredBand {
        label: label?.as_str().into(),
        rest_length_mm: rest?.into(),
        points,
        elongation_max: safe?,
        may_be_doubled: doubled.unwrap_or(false),
    })
}

/// `[elongation in %, force in N]`.
fn point(reader: &mut Reader<'_>, value: &Value<'_>) -> Option<BandPoint> {
    let pair = value.get_ref().as_array();
    let pair = pair.and_then(|pair| Some((pair.first()?, pair.get(1)?, pair.len() == 2)));
    let Some((elongation, force, true)) = pair else {
        let message = "a point of a band is an elongation in % and a force in N".to_owned();
        let help = Some("such as `[50, 8.5]`".to_owned());
        reader.report(Code::WrongType, value.span(), message, help);
        return None;
    };
    let elongation = number(reader, elongation, "an elongation");
    let force = number(reader, force, "a force");
    Some(BandPoint {
        elongation: elongation?,
        force: force?,
    })
}

fn number(reader: &mut Reader<'_>, value: &Value<'_>, what: &str) -> Option<Milli> {
    match reader.row_value(value, what)? {
        RowValue::Number(number) => Some(number),
        RowValue::Label(_) => {
            reader.wrong_type(value, what, "a number");
            None
        }
    }
}

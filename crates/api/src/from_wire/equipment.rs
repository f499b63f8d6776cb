//! What a person owns, from a message.
//!
//! Leaves to others: whether a band's readings make a curve (`rungwise_engine::admit`).

use super::{Reader, shown};
use crate::v1::{self, Reason};
use rungwise_engine::fact::{BandPoint, Equipment, MeasuredBand};
use rungwise_pack::decimal;
use rungwise_pack::quantity::{Key, Milli};

/// A list of equipment; what is wrong is kept in `reader`, each under `path`.
pub(super) fn equipment_from_wire(
    path: &str,
    equipment: &v1::Equipment,
    reader: &mut Reader,
) -> Option<Equipment> {
    let owned = equipment.owned.iter();
    let bands: Vec<_> = equipment
        .bands
        .iter()
        .enumerate()
        .map(|(at, band)| band_from_wire(&format!("{path}.bands[{at}]"), band, reader))
        .collect();
    Some(Equipment {
        owned: owned.map(|owned| Key::from(owned.as_str())).collect(),
        bands: bands.into_iter().collect::<Option<_>>()?,
        room_mm: equipment.room_mm.map(i64::from),
    })
}

/// A measured band; what is wrong is kept in `reader`, each under `path`.
pub(super) fn band_from_wire(
    path: &str,
    band: &v1::MeasuredBand,
    reader: &mut Reader,
) -> Option<MeasuredBand> {
    let points: Vec<_> = band
        .points
        .iter()
        .enumerate()
        .map(|(at, point)| {
            let path = format!("{path}.points[{at}]");
            let elongation = number(&format!("{path}.elongation"), &point.elongation, reader);
            let force = number(&format!("{path}.force"), &point.force, reader);
            Some(BandPoint {
                elongation: elongation?,
                force: force?,
            })
        })
        .collect();
    let elongation_max = number(
        &format!("{path}.elongation_max"),
        &band.elongation_max,
        reader,
    );
    Some(MeasuredBand {
        label: Key::from(band.label.as_str()),
        rest_length_mm: band.rest_length_mm.into(),
        points: points.into_iter().collect::<Option<_>>()?,
        elongation_max: elongation_max?,
        may_be_doubled: band.may_be_doubled,
    })
}

fn number(path: &str, text: &str, reader: &mut Reader) -> Option<Milli> {
    if text.is_empty() {
        return reader.missing(path, "give a decimal number");
    }
    match decimal::parse(text) {
        Ok(number) => Some(number),
        Err(error) => {
            let wrong = format!("`{}` is {error}", shown(text));
            let right = "digits with at most three after the point, such as `1.5`";
            reader.refuse(path, Reason::NotANumber, wrong, right)
        }
    }
}

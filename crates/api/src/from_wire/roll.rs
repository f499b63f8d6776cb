//! Rolls of the band catalogue, from messages.
//!
//! Leaves to others: what a measured band may look like (`rungwise_engine::admit`), whether a roll is in the catalogue
//! (`rungwise-server`).

use super::Reader;
use super::equipment::band_from_wire;
use crate::content::Roll;
use crate::v1;
use crate::violation::Violation;
use rungwise_engine::admit::{self, WHO_BYTES_MAX};
use rungwise_pack::quantity::Key;

/// A roll whose readings make a curve; what is wrong is kept in `reader`, each under `path`.
pub fn roll_from_wire(path: &str, roll: &v1::Roll, reader: &mut Reader) -> Option<Roll> {
    let piece = v1::MeasuredBand {
        label: roll.label.clone(),
        rest_length_mm: roll.rest_length_mm,
        points: roll.points.clone(),
        elongation_max: roll.elongation_max.clone(),
        ..v1::MeasuredBand::default()
    };
    let piece = band_from_wire(path, &piece, reader);
    if let Some(piece) = &piece {
        let refusals = admit::band(path, piece);
        let violations = refusals
            .iter()
            .map(|refusal| Violation::from_refusal("", refusal));
        reader.violations.extend(violations);
    }
    let measured_on = reader.date(&format!("{path}.measured_on"), &roll.measured_on);
    let who_path = format!("{path}.measured_by");
    let measured_by = reader.text(&who_path, &roll.measured_by, WHO_BYTES_MAX);
    Some(Roll {
        piece: piece?,
        measured_on: measured_on?,
        measured_by: Key::from(measured_by?),
    })
}

#[cfg(test)]
mod tests;

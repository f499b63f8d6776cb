//! A pack's files cut into parts that each fit an entry of the ledger.
//!
//! Leaves to others: joining them again (`super::stream`).

use crate::limits::PACK_PART_BYTES;
use rungwise_api::content::PackPart;
use rungwise_pack::source::SourceFile;

/// Files in parts that each fit an entry.
pub(crate) fn parts_of<'f>(files: impl IntoIterator<Item = &'f SourceFile>) -> Vec<PackPart> {
    let mut parts = vec![none()];
    let mut room = PACK_PART_BYTES;
    for file in files {
        let mut rest = file.text.as_str();
        loop {
            let cut = floor_boundary(rest, room);
            let (now, later) = rest.split_at_checked(cut).unwrap_or((rest, ""));
            if let Some(part) = parts.last_mut().filter(|_| cut > 0 || rest.is_empty()) {
                part.files.push((file.name.clone(), now.to_owned()));
            }
            room = room.saturating_sub(cut);
            rest = later;
            if rest.is_empty() {
                break;
            }
            parts.push(none());
            room = PACK_PART_BYTES;
        }
    }
    if let Some(last) = parts.last_mut() {
        last.is_last = true;
    }
    parts
}

const fn none() -> PackPart {
    PackPart {
        files: Vec::new(),
        is_last: false,
        proposal: None,
    }
}

/// The greatest character boundary at or below `bytes`.
fn floor_boundary(text: &str, bytes: usize) -> usize {
    let end = bytes.min(text.len());
    (0..=end)
        .rev()
        .find(|at| text.is_char_boundary(*at))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests;

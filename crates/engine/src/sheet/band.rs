//! How a band is to be held, in the patient's words: which, how far to stand or how short to hold it, and what it pulls with.
//!
//! Leaves to others: the rest of the sheet (`super`).

use super::words::say;
use crate::band::Held;
use crate::prescription::{BandItem, change_permille};
use rungwise_pack::model::Pack;
use rungwise_pack::quantity::Milli;

/// The sentences about the band of an exercise.
#[must_use]
pub fn band_sentences(pack: &Pack, language: &str, item: &BandItem) -> Vec<String> {
    let said = |key: &str, given: &[(&str, &str)]| say(pack, language, key, given);
    let Some(held) = &item.held else {
        let key = if item.is_eased {
            "sheet.band.unmeasured.eased"
        } else {
            "sheet.band.unmeasured"
        };
        return vec![said(key, &[])];
    };
    let (way, length_mm) = if item.is_anchored {
        ("stand", held.grip.stance_mm)
    } else {
        ("hold", held.grip.working_length_mm)
    };
    let doubled = if held.grip.strands > 1 {
        ".doubled"
    } else {
        ""
    };
    let given = [
        ("band", &*held.grip.band),
        ("length", &*length_mm.div_euclid(10).to_string()),
    ];
    let mut sentences = vec![said(&format!("sheet.band.{way}{doubled}"), &given)];
    sentences.extend(moved(pack, language, item, held));
    let permille = item
        .last
        .as_ref()
        .map(|(_, mnm)| change_permille(*mnm, held.torque_mnm));
    let key = match permille {
        None => "sheet.band.pull",
        Some(0) => "sheet.band.pull.same",
        Some(more) if more > 0 => "sheet.band.pull.more",
        Some(_) => "sheet.band.pull.less",
    };
    let percent = permille.map_or_else(String::new, one_decimal);
    let given = [
        ("start", &*tenths(held.start_mn)),
        ("end", &*tenths(held.end_mn)),
        ("load", &*tenths(held.torque_mnm)),
        ("angle", &*item.load_at.to_string()),
        ("percent", &*percent),
    ];
    sentences.push(said(key, &given));
    sentences
}

/// How far nearer or further than last time, where it is the same band held the same way.
fn moved(pack: &Pack, language: &str, item: &BandItem, held: &Held) -> Option<String> {
    let (last, _) = item.last.as_ref()?;
    let said = |key: &str, given: &[(&str, &str)]| Some(say(pack, language, key, given));
    if last.band != held.grip.band || last.strands != held.grip.strands {
        return said("sheet.band.other", &[]);
    }
    let (now_mm, then_mm, more, less) = if item.is_anchored {
        let now = held.grip.stance_mm;
        (
            now,
            last.stance_mm,
            "sheet.band.further",
            "sheet.band.nearer",
        )
    } else {
        let now = held.grip.working_length_mm;
        (
            now,
            last.working_length_mm,
            "sheet.band.longer",
            "sheet.band.shorter",
        )
    };
    let by = now_mm.abs_diff(then_mm).div_euclid(10).to_string();
    match now_mm.cmp(&then_mm) {
        std::cmp::Ordering::Equal => None,
        std::cmp::Ordering::Greater => said(more, &[("length", &by)]),
        std::cmp::Ordering::Less => said(less, &[("length", &by)]),
    }
}

/// Thousandths with one decimal, to the nearer tenth.
fn tenths(thousandths: i64) -> String {
    let tenths = thousandths.saturating_add(50).div_euclid(100);
    Milli(tenths.saturating_mul(100)).to_string()
}

/// Tenths of a percent as percent, without a sign.
fn one_decimal(permille: i64) -> String {
    Milli(permille.saturating_abs().saturating_mul(100)).to_string()
}

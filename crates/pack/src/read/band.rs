//! Reading how an exercise moves a band: `[line.exercise.band]`, and quantities written with their unit.
//!
//! Leaves to others: whether it goes with the exercise's ladder (`crate::check`).

use super::draft::BandDraft;
use super::fields::{Fields, Walk, listed};
use super::rules::need_grounds;
use crate::decimal;
use crate::diagnostic::{Code, Note};
use crate::model::{Anchored, BandHeight, BandMotion};
use crate::source::At;
use crate::unit;
use std::ops::RangeInclusive;
use toml::Spanned;
use toml::de::DeValue;

/// Angles, in thousandths of a degree.
const ANGLE_MDEG: RangeInclusive<i64> = -180_000..=180_000;
/// Heights above the floor, in mm.
const FLOOR_MM: RangeInclusive<i64> = 0..=5_000;
/// Other ways from a joint, in mm.
const OFFSET_MM: RangeInclusive<i64> = -5_000..=5_000;
/// How far from an anchor somebody may stand, in mm.
const DISTANCE_MM: RangeInclusive<i64> = 0..=10_000;
/// Lengths of a band, in mm.
const LENGTH_MM: RangeInclusive<i64> = 50..=10_000;
/// Tensions where a motion starts, in thousandths of a N.
const TENSION_MN: RangeInclusive<i64> = 1..=100_000;
/// Shares, in thousandths of a percent.
const SHARE_MPCT: RangeInclusive<i64> = 0..=100_000;

/// Units that a quantity may be written in, each with the factor from thousandths of it to the whole numbers that are kept.
type Units = &'static [(&'static str, (i64, i64))];
const ANGLE: Units = &[("deg", (1, 1))];
const SHARE: Units = &[("%", (1, 1))];
const FORCE: Units = &[("N", (1, 1))];
const LENGTH: Units = &[("mm", (1, 1000)), ("cm", (1, 100)), ("m", (1, 1))];

#[derive(Clone, Copy)]
enum Word {
    Rotation,
    Elevation,
    HandsApart,
    Extension,
}

/// `[line.exercise.band]`.
pub(crate) fn band(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Option<BandDraft> {
    let word = fields.need_word(
        walk,
        "motion",
        &[
            ("rotation", Word::Rotation),
            ("elevation", Word::Elevation),
            ("hands apart", Word::HandsApart),
            ("extension", Word::Extension),
        ],
    );
    let from = need_quantity(walk, &mut fields, "from", ANGLE, &ANGLE_MDEG);
    let to = quantity_at(walk, &mut fields, "to", ANGLE, &ANGLE_MDEG);
    let load_at = need_quantity(walk, &mut fields, "load_at", ANGLE, &ANGLE_MDEG);
    let step_max = need_quantity(walk, &mut fields, "step_max", SHARE, &(1..=100_000));
    let step_min = quantity_at(walk, &mut fields, "step_min", SHARE, &SHARE_MPCT);
    let tension = quantity_at(walk, &mut fields, "start_tension", FORCE, &TENSION_MN);
    let motion = word
        .as_ref()
        .and_then(|word| motion(walk, &mut fields, word.value));
    let grounds = need_grounds(walk, &mut fields);
    let at = fields.at;
    if word.is_some() {
        // Which keys belong here is known only with the motion.
        fields.finish(walk);
    }
    Some(BandDraft {
        motion: motion?,
        from: from?,
        to,
        load_at: load_at?,
        step_min,
        step_max: step_max?,
        start_mn_min: tension.map_or(1, |tension| tension.value),
        grounds,
        at,
    })
}

fn motion(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>, word: Word) -> Option<BandMotion> {
    let grip = quantity_at(walk, fields, "grip", SHARE, &SHARE_MPCT);
    let grip_mpct = grip.map(|grip| grip.value);
    match word {
        Word::Rotation => anchored(walk, fields, grip_mpct).map(BandMotion::Rotation),
        Word::Extension => anchored(walk, fields, grip_mpct).map(BandMotion::Extension),
        Word::HandsApart => {
            fields.need(walk, "hands");
            let mut hands = fields.table(walk, "hands", "where the hands are")?;
            let height = height(walk, &mut hands);
            hands.finish(walk);
            let shortest_mm = shortest(walk, fields);
            Some(BandMotion::HandsApart {
                height: height?,
                shortest_mm: shortest_mm?,
                grip_mpct,
            })
        }
        Word::Elevation => {
            fields.need(walk, "foot");
            let mut foot = fields.table(walk, "foot", "where the foot is")?;
            let mut way = |key, bounds| {
                let way = quantity_at(walk, &mut foot, key, LENGTH, bounds);
                way.map_or(0, |way| way.value)
            };
            let (out_mm, off_mm) = (way("out", &OFFSET_MM), way("off", &OFFSET_MM));
            let height_mm = way("above_floor", &FLOOR_MM);
            foot.finish(walk);
            let shortest_mm = shortest(walk, fields)?;
            Some(BandMotion::Elevation {
                shortest_mm,
                out_mm,
                off_mm,
                height_mm,
                grip_mpct,
            })
        }
    }
}

/// The shortest that the band may be held.
fn shortest(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<u32> {
    let shortest = need_quantity(walk, fields, "shortest", LENGTH, &LENGTH_MM)?;
    u32::try_from(shortest.value).ok()
}

fn anchored(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    grip_mpct: Option<i64>,
) -> Option<Anchored> {
    let distance = distance(walk, fields);
    let working = quantity_at(walk, fields, "working_length", LENGTH, &LENGTH_MM);
    fields.need(walk, "anchor");
    let mut anchor = fields.table(walk, "anchor", "the anchor")?;
    let height = height(walk, &mut anchor);
    let bearing = need_quantity(walk, &mut anchor, "bearing", ANGLE, &ANGLE_MDEG);
    let mut way = |key| {
        let way = quantity_at(walk, &mut anchor, key, LENGTH, &OFFSET_MM);
        way.map_or(0, |way| way.value)
    };
    let (ahead_mm, aside_mm) = (way("ahead"), way("aside"));
    anchor.finish(walk);
    Some(Anchored {
        height: height?,
        bearing_mdeg: bearing?.value,
        ahead_mm,
        aside_mm,
        distance_mm: distance?,
        working_length_mm: working.and_then(|length| u32::try_from(length.value).ok()),
        grip_mpct,
    })
}

/// How near and how far somebody may stand.
fn distance(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<(u32, u32)> {
    fields.need(walk, "distance");
    let mut table = fields.table(walk, "distance", "the distance")?;
    let nearest = need_quantity(walk, &mut table, "from", LENGTH, &DISTANCE_MM);
    let furthest = need_quantity(walk, &mut table, "to", LENGTH, &DISTANCE_MM);
    table.finish(walk);
    let (nearest, furthest) = (nearest?, furthest?);
    if nearest.value >= furthest.value {
        let message = "the furthest distance is not above the nearest";
        let note = Note::new(Code::OutOfBounds, furthest.at, message);
        walk.findings
            .add(note.label(format!("above {} mm", nearest.value)));
        return None;
    }
    Some((
        u32::try_from(nearest.value).ok()?,
        u32::try_from(furthest.value).ok()?,
    ))
}

/// `above_floor` or `above_joint`.
fn height(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<BandHeight> {
    let floor = quantity_at(walk, fields, "above_floor", LENGTH, &FLOOR_MM);
    let joint = quantity_at(walk, fields, "above_joint", LENGTH, &OFFSET_MM);
    match (floor, joint) {
        (Some(floor), None) => Some(BandHeight::AboveFloor(floor.value)),
        (None, Some(joint)) => Some(BandHeight::AboveJoint(joint.value)),
        (Some(_), Some(joint)) => {
            let message = "a height is above the floor or above the joint";
            let note = Note::new(Code::Exclusive, joint.at, message);
            walk.findings.add(note.help("leave one of them out"));
            None
        }
        (None, None) => {
            if !fields.has("above_floor") && !fields.has("above_joint") {
                let note = Note::new(Code::MissingKey, fields.at, "no height is given");
                walk.findings
                    .add(note.label("`above_floor` or `above_joint` is missing"));
            }
            None
        }
    }
}

fn need_quantity(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    key: &'static str,
    units: Units,
    bounds: &RangeInclusive<i64>,
) -> Option<At<i64>> {
    fields.need(walk, key)?;
    quantity_at(walk, fields, key, units, bounds)
}

fn quantity_at(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    key: &'static str,
    units: Units,
    bounds: &RangeInclusive<i64>,
) -> Option<At<i64>> {
    let value = fields.get(key)?;
    quantity(walk, value, key, units, bounds)
}

/// A number and its unit in one string, such as `30 cm`, as a whole number of mm or of thousandths.
fn quantity(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    key: &str,
    units: Units,
    bounds: &RangeInclusive<i64>,
) -> Option<At<i64>> {
    let text = walk.text(value, &format!("`{key}`"))?;
    let codes: Vec<&str> = units.iter().map(|(code, _)| *code).collect();
    let (number, code) = match text.text.split_once(' ') {
        Some((number, code)) => (number, code.trim()),
        None => (text.text.as_str(), ""),
    };
    let Some((_, (times, over))) = units.iter().find(|(known, _)| *known == code) else {
        let message = format!("`{key}` is a number with its unit");
        let note =
            Note::new(Code::UnknownUnit, text.at, message).label(format!("in {}", listed(&codes)));
        let meant = unit::meant(code).filter(|meant| codes.contains(meant));
        walk.findings.add(match meant {
            Some(meant) => note.help(format!("write `{number} {meant}`")),
            None => note,
        });
        return None;
    };
    let number = match decimal::parse(number) {
        Ok(number) => number,
        Err(error) => {
            let note = super::fields::not_exact(text.at, &format!("`{key}`"), error);
            walk.findings.add(note);
            return None;
        }
    };
    let scaled = number.0 * times;
    if scaled % over != 0 {
        let message = format!("`{key}` is finer than a mm");
        walk.findings
            .add(Note::new(Code::NotExact, text.at, message));
        return None;
    }
    let whole = scaled / over;
    if !bounds.contains(&whole) {
        let said = |end: i64| {
            let thousandths = crate::quantity::Milli(end * over / times);
            format!("{thousandths} {code}")
        };
        let message = format!("`{key}` cannot be {}", text.text);
        walk.findings.add(
            Note::new(Code::OutOfBounds, text.at, message).label(format!(
                "from {} to {}",
                said(*bounds.start()),
                said(*bounds.end())
            )),
        );
        return None;
    }
    Some(At {
        value: whole,
        at: text.at,
    })
}

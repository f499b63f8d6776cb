//! Reading measures that are worked out from other values of the same fact: the recipe and the names of its parts.
//!
//! Leaves to others: looking the parts up and whether they go together (`crate::check`).

use super::draft::{CombinedDraft, MeasureDraft, PartsDraft};
use super::fields::{Fields, Walk};
use super::measures::{WORSE, exclude, unit, worked_out};
use super::rules::{grounds, need_grounds};
use crate::model::{MeasureKind, Method, Origin, Worse};
use crate::quantity::{Dimension, Milli, Unit};
use crate::source::{At, LocatedText};

/// Most items of a mean, and most repetitions that a formula is used for. With it, exact means fit their denominators.
pub(crate) const PARTS_MAX: u32 = 100;

/// A recipe before its parts are known.
#[derive(Clone, Copy)]
pub(super) enum Recipe {
    Maximum,
    OtherSide,
    Ratio,
    Mean { by_scale: bool, percent: bool },
    VolumeLoad,
    TimeUnderTension,
    WeekOnWeek,
}

/// What of a week is compared with the week before: whether it is the total.
const STATISTICS: [(&str, bool); 2] = [("on average", false), ("in total", true)];

const METHODS: [(&str, Method); 2] = [
    (Method::Epley.word(), Method::Epley),
    (Method::Brzycki.word(), Method::Brzycki),
];

/// Every key that names a part or says how parts are used.
pub(super) const KEYS: [&str; 11] = [
    "load",
    "repetitions",
    "in_reserve",
    "repetitions_max",
    "method",
    "of",
    "to",
    "items",
    "scales",
    "answered_min",
    "statistic",
];

impl Recipe {
    const fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Maximum => &[
                "load",
                "repetitions",
                "in_reserve",
                "repetitions_max",
                "method",
            ],
            Self::OtherSide => &["of"],
            Self::Ratio => &["of", "to", "method"],
            Self::Mean { by_scale: true, .. } => &["scales", "answered_min"],
            Self::Mean { .. } => &["items", "answered_min"],
            Self::VolumeLoad | Self::TimeUnderTension => &[],
            Self::WeekOnWeek => &["of", "statistic"],
        }
    }

    /// Whether a number of the pack's own decides what comes out.
    const fn has_number(self) -> bool {
        matches!(self, Self::Maximum | Self::Mean { .. })
    }
}

pub(super) fn combined(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    name: LocatedText,
    recipe: Recipe,
) -> Option<MeasureDraft> {
    let own = recipe.keys();
    let odd: Vec<&'static str> = KEYS.into_iter().filter(|key| !own.contains(key)).collect();
    exclude(walk, fields, "this recipe", &odd);
    exclude(walk, fields, "this recipe", &["event", "days"]);
    let given = unit(walk, fields);
    let worse = fields.get("worse").map(|value| walk.locate(value));
    let worse = fields
        .word(walk, "worse", &WORSE)
        .zip(worse)
        .map(|(worse, at)| At {
            value: worse.value,
            at,
        });
    let parts = parts(walk, fields, recipe);
    let grounds = if recipe.has_number() {
        Some(need_grounds(walk, fields))
    } else {
        grounds(walk, fields)
    };
    let unknown = Unit {
        code: "1".into(),
        dimension: Dimension::One,
    };
    // Its range, its unit and its carrier are its parts', which are looked up later.
    let kind = MeasureKind::Number {
        unit: given.as_ref().map_or(unknown, |unit| unit.value.clone()),
        min: Milli(i64::MIN / 4),
        max: Milli(i64::MAX / 4),
        step: Milli(1),
    };
    let measure = worked_out(&name, kind, Worse::Neither, Origin::Reported);
    let combined = CombinedDraft {
        parts: parts?,
        unit: given,
        worse,
    };
    Some(MeasureDraft {
        combined: Some(combined),
        grounds,
        ..MeasureDraft::plain(name, measure)
    })
}

fn parts(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>, recipe: Recipe) -> Option<PartsDraft> {
    match recipe {
        Recipe::VolumeLoad => Some(PartsDraft::VolumeLoad),
        Recipe::TimeUnderTension => Some(PartsDraft::TimeUnderTension),
        Recipe::WeekOnWeek => {
            let of = fields.need_text(walk, "of");
            let in_total = fields.need_word(walk, "statistic", &STATISTICS);
            Some(PartsDraft::WeekOnWeek {
                of: of?,
                in_total: in_total?.value,
            })
        }
        Recipe::Maximum => {
            let method = fields.need_word(walk, "method", &METHODS);
            let load = fields.need_text(walk, "load");
            let repetitions = fields.text(walk, "repetitions");
            let in_reserve = fields.text(walk, "in_reserve");
            // Where the formula ends, so do the repetitions that it may be used for.
            let most = match method.as_ref().map(|method| method.value) {
                Some(Method::Brzycki) => 36,
                _ => PARTS_MAX,
            };
            let repetitions_max = fields.need_count(walk, "repetitions_max", &(1..=most));
            Some(PartsDraft::Maximum {
                method: method?.value,
                load: load?,
                repetitions,
                in_reserve,
                repetitions_max: repetitions_max?,
            })
        }
        Recipe::OtherSide => Some(PartsDraft::OtherSide {
            of: fields.need_text(walk, "of")?,
        }),
        Recipe::Ratio => {
            let of = fields.need_text(walk, "of");
            let to = fields.need_text(walk, "to");
            let method = fields.need_text(walk, "method");
            Some(PartsDraft::Ratio {
                of: of?,
                to: to?,
                method: method?.text.as_str().into(),
            })
        }
        Recipe::Mean { by_scale, percent } => {
            let key = if by_scale { "scales" } else { "items" };
            fields.need(walk, key);
            let items =
                super::head::filled(walk, fields, key, "a mean is of the items that it names");
            let at = fields.get("answered_min").map(|value| walk.locate(value));
            let answered_min = fields.need_count(walk, "answered_min", &(1..=PARTS_MAX));
            Some(PartsDraft::Mean {
                items,
                by_scale,
                percent,
                answered_min: At {
                    value: answered_min?,
                    at: at?,
                },
            })
        }
    }
}

//! Reading computed measures: the fixed list of recipes.
//!
//! Leaves to others: working them out (`rungwise-engine`).

use super::DAYS_MAX;
use super::combined::{self, combined};
use super::draft::MeasureDraft;
use super::fields::{Fields, Walk};
use super::measures::{WORSE, exclude, unit, worked_out};
use super::rules::{grounds, need_grounds};
use crate::diagnostic::{Code, Note};
use crate::model::{Computed, MeasureKind, Origin, Worse};
use crate::quantity::{Dimension, Milli, Unit};
use crate::source::{At, LocatedText};
use crate::unit;

/// Greatest age that a sentence may speak of, in years.
pub(crate) const AGE_YEARS_MAX: i64 = 150;

/// A computed measure's recipe before its event or length is known.
#[derive(Clone, Copy)]
enum Recipe {
    Plain(fn() -> Computed),
    ShareDone,
    DaysSince,
    WeeksSince,
    Combined(combined::Recipe),
}

/// The recipes by the words of a pack, with the unit that each is in; of combined ones the parts say that.
const RECIPES: [(&str, (Recipe, &str)); 19] = [
    (
        "days since last session",
        (Recipe::Plain(|| Computed::DaysSinceLastSession), "d"),
    ),
    (
        "sessions in phase",
        (Recipe::Plain(|| Computed::SessionsInPhase), "1"),
    ),
    (
        "days in phase",
        (Recipe::Plain(|| Computed::DaysInPhase), "d"),
    ),
    (
        "weeks in phase",
        (Recipe::Plain(|| Computed::WeeksInPhase), "wk"),
    ),
    (
        "weeks in care",
        (Recipe::Plain(|| Computed::WeeksInCare), "wk"),
    ),
    ("share done", (Recipe::ShareDone, "%")),
    (
        "days since dose changed",
        (Recipe::Plain(|| Computed::DaysSinceDoseChanged), "d"),
    ),
    ("age", (Recipe::Plain(|| Computed::Age), "a")),
    ("days since event", (Recipe::DaysSince, "d")),
    ("weeks since event", (Recipe::WeeksSince, "wk")),
    (
        "estimated maximum",
        (Recipe::Combined(combined::Recipe::Maximum), ""),
    ),
    (
        "percent of the other side",
        (Recipe::Combined(combined::Recipe::OtherSide), ""),
    ),
    ("ratio", (Recipe::Combined(combined::Recipe::Ratio), "")),
    ("mean of items", (mean(false, false), "")),
    ("mean of items in percent", (mean(false, true), "")),
    ("mean of scales in percent", (mean(true, true), "")),
    (
        "volume load",
        (Recipe::Combined(combined::Recipe::VolumeLoad), ""),
    ),
    (
        "time under tension",
        (Recipe::Combined(combined::Recipe::TimeUnderTension), ""),
    ),
    (
        "week-on-week change",
        (Recipe::Combined(combined::Recipe::WeekOnWeek), ""),
    ),
];

const fn mean(by_scale: bool, percent: bool) -> Recipe {
    Recipe::Combined(combined::Recipe::Mean { by_scale, percent })
}

pub(super) fn computed(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    name: LocatedText,
) -> Option<MeasureDraft> {
    exclude(
        walk,
        fields,
        "a computed measure",
        &[
            "choices",
            "when",
            "carrier",
            "expected",
            "fresh_days",
            "both_sides",
            "ratio",
            "numbered",
            "reported_by",
            "min",
            "max",
            "step",
        ],
    );
    let found = fields.need_word(walk, "computed", &RECIPES);
    if let Some((Recipe::Combined(recipe), _)) = found.as_ref().map(|found| found.value) {
        return combined(walk, fields, name, recipe);
    }
    let given = unit(walk, fields);
    let worse = fields
        .word(walk, "worse", &WORSE)
        .map_or(Worse::Neither, |worse| worse.value);
    let event = fields.text(walk, "event");
    let (recipe, code) = found?.value;
    let takes_event = matches!(recipe, Recipe::DaysSince | Recipe::WeeksSince);
    let takes_days = matches!(recipe, Recipe::ShareDone);
    let mut odd = Vec::new();
    odd.extend((!takes_event).then_some("event"));
    odd.extend((!takes_days).then_some("days"));
    odd.extend(combined::KEYS);
    exclude(walk, fields, "this recipe", &odd);
    let computed = worked_by(walk, fields, recipe, event.as_ref());
    let unit = fitting(walk, &name, given, code)?;
    let grounds = if takes_days {
        Some(need_grounds(walk, fields))
    } else {
        grounds(walk, fields)
    };
    let (max, step) = match (unit.dimension, code) {
        (Dimension::Percent, _) => (100, Milli(1)),
        (_, "wk") => (i64::from(DAYS_MAX / 7), Milli::whole(1)),
        (_, "a") => (AGE_YEARS_MAX, Milli::whole(1)),
        _ => (i64::from(DAYS_MAX), Milli::whole(1)),
    };
    let max = Milli::whole(max);
    let kind = MeasureKind::Number {
        unit,
        min: Milli(0),
        max,
        step,
    };
    let measure = worked_out(&name, kind, worse, Origin::Computed(computed?));
    let event = event.filter(|_| takes_event);
    Some(MeasureDraft {
        event,
        grounds,
        ..MeasureDraft::plain(name, measure)
    })
}

fn worked_by(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    recipe: Recipe,
    event: Option<&LocatedText>,
) -> Option<Computed> {
    match recipe {
        Recipe::Combined(_) => None,
        Recipe::Plain(recipe) => Some(recipe()),
        Recipe::ShareDone => {
            let days = fields.need_count(walk, "days", &(1..=DAYS_MAX))?;
            Some(Computed::ShareDone { days })
        }
        Recipe::DaysSince | Recipe::WeeksSince => {
            fields.need(walk, "event");
            let event = event?.text.as_str().into();
            Some(match recipe {
                Recipe::DaysSince => Computed::DaysSince(event),
                _ => Computed::WeeksSince(event),
            })
        }
    }
}

/// The unit given, where it is the recipe's own; reported, and the recipe's own, where it is another.
fn fitting(
    walk: &mut Walk<'_, '_>,
    name: &LocatedText,
    given: Option<At<Unit>>,
    code: &str,
) -> Option<Unit> {
    let own = unit::find(code)?;
    let Some(given) = given else { return Some(own) };
    if unit::same(&given.value, &own) {
        return Some(given.value);
    }
    let message = format!(
        "`{}` counts in `{code}`, not in `{}`",
        name.text, given.value.code
    );
    let note = Note::new(Code::UnknownUnit, given.at, message);
    walk.findings.add(
        note.help(format!("write `unit = \"{code}\"`"))
            .replace(format!("\"{code}\"")),
    );
    Some(own)
}

//! What a person tells: values of measures from symptoms.
//!
//! Leaves to others: which measures there are (`super::ready`), when something is told (`super::life`).

use super::draw::Purpose;
use super::model::Of;
use super::person::{MICRO, Person};
use super::ready::{Ready, Role, Scale, Told};
use rungwise_engine::fact::{Reading, Value};
use rungwise_pack::model::Carrier;
use rungwise_pack::quantity::Milli;

/// On which day something is told, and of what.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    /// The day.
    pub(super) day: u32,
    /// How bad it is, in millionths of the way from state 1000 to state 0.
    pub(super) symptoms: i64,
    /// How much worse a dose makes it, in millionths of a measure's range.
    pub(super) added: i64,
    /// The warning sign that there is, as an item of draws.
    pub(super) sign: Option<u64>,
}

/// Every value of a carrier's measures.
pub(super) fn readings(
    ready: &Ready<'_>,
    person: &Person<'_>,
    carrier: Carrier,
    moment: Moment,
) -> Vec<Reading> {
    // An appointment's values are all taken.
    let may_lack = !matches!(carrier, Carrier::Assessment | Carrier::Screening);
    let told = ready.told.iter().filter(|one| one.carrier == carrier);
    told.filter(|one| {
        // Who leaves a question out leaves it out for every exercise.
        let permille = person.has(Of::ValueTold);
        let draws = person.draws;
        !may_lack || draws.chance(permille, Purpose::ValueTold, moment.day, one.item)
    })
    .map(|one| Reading {
        measure: one.name.clone(),
        value: value(one, person, moment),
    })
    .collect()
}

/// The other side, at its best.
pub(super) fn other_side(ready: &Ready<'_>) -> Vec<Reading> {
    let told = ready.told.iter().filter(|one| one.both_sides);
    told.map(|one| Reading {
        measure: one.name.clone(),
        value: match &one.role {
            Role::Fixed(value) => value.clone(),
            Role::Symptom(_) | Role::Sign => one.scale.at(0),
        },
    })
    .collect()
}

fn value(one: &Told, person: &Person<'_>, moment: Moment) -> Value {
    match &one.role {
        Role::Fixed(value) => value.clone(),
        Role::Sign => one.scale.at(if moment.sign == Some(one.item) {
            MICRO
        } else {
            0
        }),
        Role::Symptom(model) => {
            let whole = model.worst_permille - model.recovered_permille;
            let mut bad = model.recovered_permille.saturating_mul(1000);
            bad = bad.saturating_add(whole.saturating_mul(moment.symptoms) / 1000);
            bad = bad.saturating_add(moment.added);
            if one.carrier == Carrier::Assessment && whole != 0 {
                bad = bad.saturating_add(off(one, person, moment.day));
            }
            one.scale.at(bad)
        }
    }
}

/// How far a value of an assessment is off.
fn off(one: &Told, person: &Person<'_>, day: u32) -> i64 {
    let far = person.has(Of::AssessmentScatter).saturating_mul(1000);
    let spread = super::model::Spread {
        low: -far,
        high: far,
    };
    person.draws.even(spread, Purpose::Value, day, one.item)
}

impl Scale {
    /// The value so many millionths of the way from best to worst, the nearest that can be told.
    pub(super) fn at(&self, bad: i64) -> Value {
        let bad = bad.clamp(0, MICRO);
        match self {
            Self::Number { best, step, steps } => {
                let steps = (steps.saturating_mul(bad).saturating_add(MICRO / 2)) / MICRO;
                Value::Number(Milli(best.saturating_add(steps.saturating_mul(*step))))
            }
            Self::Choice(choices) => {
                let count = i64::try_from(choices.len()).unwrap_or(1);
                let at = usize::try_from(count.saturating_mul(bad) / MICRO).unwrap_or(0);
                let choice = choices.get(at).or_else(|| choices.last());
                choice.map_or(Value::CouldNot, |choice| Value::Choice(choice.clone()))
            }
        }
    }
}

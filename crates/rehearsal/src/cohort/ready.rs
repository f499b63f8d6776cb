//! A pack made ready for a simulation: which measures tell symptoms and which warning signs, how much each exercise weighs,
//! what has happened before care begins. No name of a measure or an exercise means anything here: it follows from how the
//! pack declares and reads it.
//!
//! Leaves to others: the values (`super::report`), the course (`super::life`).

use super::draw::item_of;
use super::model::{MeasureModel, Model, ModelError, Of};
use super::person::MICRO;
use crate::best::events_of_a_course_that_ends;
use crate::course::values::{reads, sentences, undirected};
use crate::course::{OPENED, everything_owned};
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_engine::fact::Value;
use rungwise_pack::model::{
    Carrier, CheckedPack, Criterion, Exercise, ExerciseIx, Measure, MeasureIx, MeasureKind, Origin,
    Polarity, RuleKind,
};
use rungwise_pack::quantity::Key;

/// Longest course, in weeks.
pub const WEEKS_MAX: u32 = 260;

/// A pack made ready.
#[derive(Debug)]
pub struct Ready<'p> {
    pub(super) pack: &'p CheckedPack,
    pub(super) model: &'p Model,
    /// Every day of the course, and one more.
    pub(super) dates: Vec<Date>,
    pub(super) told: Vec<Told>,
    pub(super) events: Vec<Key>,
    pub(super) flare_up_event: Option<Key>,
    pub(super) owned: Vec<Key>,
    /// By exercise: its name as an item, and the first phase that has it.
    exercises: Vec<(u64, i64)>,
}

/// A measure that is told.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) name: Key,
    pub(super) item: u64,
    pub(super) carrier: Carrier,
    pub(super) both_sides: bool,
    pub(super) role: Role,
    pub(super) scale: Scale,
}

/// What a measure tells.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Role {
    /// Symptoms: from how bad at state 1000 to how bad at state 0.
    Symptom(MeasureModel),
    /// A warning sign: at its best but for a rare day.
    Sign,
    /// Always this value: no end of it is better.
    Fixed(Value),
}

/// The values of a measure, from best to worst.
#[derive(Clone, Debug)]
pub(super) enum Scale {
    /// Whole steps from a best number to a worst, in thousandths.
    Number {
        /// The best.
        best: i64,
        /// Signed: towards the worst.
        step: i64,
        /// How many steps to the worst.
        steps: i64,
    },
    /// The choices.
    Choice(Vec<Key>),
}

impl<'p> Ready<'p> {
    /// Makes a pack ready for so many weeks, at most [`WEEKS_MAX`].
    #[must_use]
    pub fn new(pack: &'p CheckedPack, model: &'p Model, weeks: u32) -> Self {
        let days = weeks.min(WEEKS_MAX).saturating_mul(7);
        let date = |day: u32| OPENED.checked_add(i64::from(day).days()).ok();
        let named = |name: &str| pack.events.iter().find(|event| &***event == name).cloned();
        let events = model.events_at_start.as_ref().map_or_else(
            || events_of_a_course_that_ends(pack).unwrap_or_default(),
            |names| names.iter().filter_map(|name| named(name)).collect(),
        );
        Self {
            pack,
            model,
            dates: (0..=days).filter_map(date).collect(),
            told: told(pack, model),
            events,
            flare_up_event: named(&model.flare_up_event),
            owned: everything_owned(pack),
            exercises: exercises(pack),
        }
    }

    /// The pack.
    #[must_use]
    pub const fn pack(&self) -> &'p CheckedPack {
        self.pack
    }

    /// What happened before care begins, by the pack's names.
    #[must_use]
    pub fn events(&self) -> &[Key] {
        &self.events
    }

    /// An exercise's name as an item of draws.
    pub(super) fn item(&self, exercise: ExerciseIx) -> u64 {
        self.exercises.get(exercise.at()).map_or(0, |one| one.0)
    }

    /// How much a dose weighs, in millionths: 0 the first phase's gentlest, 1,000,000 the last phase's hardest. The dose is
    /// one index for each of the exercise's rows.
    pub(super) fn weight(&self, ix: ExerciseIx, exercise: &Exercise, dose: &[u16]) -> i64 {
        let come: i64 = dose.iter().map(|at| i64::from(*at)).sum();
        let rows = exercise.rows.iter();
        let whole = rows.map(|row| i64::try_from(row.values.len().saturating_sub(1)).unwrap_or(0));
        let within = come
            .saturating_mul(MICRO)
            .checked_div(whole.sum())
            .unwrap_or(0);
        let first = self.exercises.get(ix.at()).map_or(0, |one| one.1);
        let phases = i64::try_from(self.pack.phases.len()).unwrap_or(1).max(1);
        first.saturating_mul(MICRO).saturating_add(within) / phases
    }
}

/// What in a model no pack of a simulation has.
#[must_use]
pub fn unknown_to(model: &Model, packs: &[&CheckedPack]) -> Vec<ModelError> {
    let is_symptom = |name: &str| {
        packs.iter().any(|pack| {
            let told = told(pack, model);
            let named = told.iter().find(|one| &*one.name == name);
            named.is_some_and(|one| matches!(one.role, Role::Symptom(_)))
        })
    };
    let measures = model.measures.keys().filter(|name| !is_symptom(name));
    let measures = measures.map(|name| ModelError::NoSuchMeasure { name: name.clone() });
    let is_event = |name: &str| {
        let mut events = packs.iter().flat_map(|pack| &pack.events);
        events.any(|event| &**event == name)
    };
    let events = model.events_at_start.iter().flatten();
    let events = events.filter(|name| !is_event(name));
    let events = events.map(|name| ModelError::NoSuchEvent { name: name.clone() });
    measures.chain(events).collect()
}

fn exercises(pack: &CheckedPack) -> Vec<(u64, i64)> {
    let exercises = (0_u16..).map(ExerciseIx).zip(&pack.exercises);
    exercises
        .map(|(ix, exercise)| {
            let mut phases = pack.phases.iter();
            let first = phases.position(|phase| phase.exercises.contains(&ix));
            let first = first.and_then(|first| i64::try_from(first).ok());
            (item_of(&exercise.key), first.unwrap_or(0))
        })
        .collect()
}

/// Every reported measure that facts should carry or an upward rule reads.
fn told(pack: &CheckedPack, model: &Model) -> Vec<Told> {
    let measures = (0_u16..).map(MeasureIx).zip(&pack.measures);
    let reported = measures.filter(|(_, one)| matches!(one.origin, Origin::Reported));
    reported
        .filter_map(|(ix, measure)| {
            let upward = is_read(pack, ix, |kind| kind.polarity() == Polarity::Upward);
            let refers = is_read(pack, ix, |kind| matches!(kind, RuleKind::Refer { .. }));
            if !(measure.expected || upward || refers) {
                return None;
            }
            let role = if let Some(value) = undirected(pack, ix, measure) {
                Role::Fixed(value)
            } else if refers && !upward {
                Role::Sign
            } else {
                Role::Symptom(symptom(model, measure))
            };
            Some(Told {
                name: measure.name.clone(),
                item: item_of(&measure.name),
                carrier: measure.carrier,
                both_sides: measure.both_sides,
                role,
                scale: scale(measure),
            })
        })
        .collect()
}

fn symptom(model: &Model, measure: &Measure) -> MeasureModel {
    let share = match measure.carrier {
        Carrier::Assessment | Carrier::Screening => Of::AssessmentShare,
        Carrier::Exercise | Carrier::Session | Carrier::MorningAfter | Carrier::Nothing => {
            Of::EverydayShare
        }
    };
    let usual = MeasureModel {
        recovered_permille: 0,
        worst_permille: model.same(share),
    };
    model.measures.get(&*measure.name).copied().unwrap_or(usual)
}

fn scale(measure: &Measure) -> Scale {
    use rungwise_pack::model::Worse;
    match &measure.kind {
        MeasureKind::Choice { choices } => Scale::Choice(choices.clone()),
        MeasureKind::Number { min, max, step, .. } => {
            let steps = max.0.saturating_sub(min.0).checked_div(step.0).unwrap_or(0);
            let (best, step) = match measure.worse {
                Worse::Lower => (min.0.saturating_add(steps.saturating_mul(step.0)), -step.0),
                Worse::Higher | Worse::Neither => (min.0, step.0),
            };
            Scale::Number { best, step, steps }
        }
    }
}

/// Whether a rule of such a kind reads a measure, by itself or through one that is worked out from it.
fn is_read(pack: &CheckedPack, ix: MeasureIx, of: impl Fn(RuleKind) -> bool + Copy) -> bool {
    // Bounded: a measure is worked out from ones declared apart from it, at most once around.
    let mut wanted = vec![ix];
    let mut at = 0;
    while let Some(&one) = wanted.get(at) {
        at += 1;
        for (other, measure) in (0_u16..).map(MeasureIx).zip(&pack.measures) {
            if !wanted.contains(&other) && is_part(pack, measure, one) {
                wanted.push(other);
            }
        }
    }
    let reads = |criterion: &Criterion| {
        let read = sentences(pack, criterion);
        let mut read = read.into_iter();
        read.any(|sentence| wanted.iter().any(|one| reads(sentence, *one)))
    };
    pack.rules
        .iter()
        .any(|rule| of(rule.kind) && reads(&rule.when))
}

fn is_part(pack: &CheckedPack, whole: &Measure, part: MeasureIx) -> bool {
    match &whole.origin {
        Origin::Combined(combined) => combined.parts().contains(&part),
        Origin::Defined(defined) => defined.features.iter().any(|(_, criterion)| {
            let mut read = sentences(pack, criterion).into_iter();
            read.any(|sentence| reads(sentence, part))
        }),
        Origin::Reported | Origin::Computed(_) => false,
    }
}

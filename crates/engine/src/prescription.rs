//! The prescription in force on a date: exercises with their doses, what bounds them, limits and cautions.
//!
//! A prescription is worked out from what stands and never stored: places keep their rungs, and bounds act on the dose.
//!
//! Leaves to others: what stands (`crate::history`), the patient's words (`crate::sheet`).

mod band;
mod bound;
mod comfortable;
mod referred;

pub use band::{BandItem, change_permille};
pub use bound::{Bound, BoundBy, Bounded, bound_dose};
pub use referred::referred_since;

use crate::band::{Bench, Binds};
use crate::decide::{InForce, in_force};
use crate::decision::{Place, State};
use crate::fact::{DecisionNo, Order, Position};
use crate::history::History;
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{
    CheckedPack, Exercise, Limit, Measure, Pack, Phase, RowValue, RuleKind,
};
use rungwise_pack::quantity::{Key, Variable};

/// What is prescribed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Prescription {
    /// The date it is for.
    pub as_of: Date,
    /// The decision in force; none before the first.
    pub decision: Option<DecisionNo>,
    /// The phase; none before the first prescription.
    pub phase: Option<Key>,
    /// Whether and why something is prescribed.
    pub standing: Standing,
    /// The exercises, in the pack's order of lines. Empty unless in force or kept up after discharge.
    pub items: Vec<Item>,
    /// What is left out, and why.
    pub left_out: Vec<LeftOut>,
    /// The limits that hold: the pack's, the phase's, then each exercise's.
    pub limits: Vec<LimitInForce>,
    /// Text keys of the cautions, always.
    pub cautions: Vec<Key>,
    /// The last day on which it holds without another look; none before the first decision.
    pub valid_until: Option<Date>,
}

/// Whether something is prescribed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Standing {
    /// Nothing was prescribed yet.
    NotBegun,
    /// It is in force.
    InForce,
    /// A directive pauses it.
    Paused(Position),
    /// These refer rules stop exercise: latched by the last decision, or by another episode of the person since.
    Stopped(Vec<Key>),
    /// Care has ended; the items keep up what was reached.
    Discharged,
}

/// One exercise prescribed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Item {
    /// Its line.
    pub line: Key,
    /// The exercise.
    pub exercise: Key,
    /// Its dose in the order in which it is read aloud, relief and bounds counted.
    pub dose: ladder::Values,
    /// Steps of relief taken off its rung, oldest first.
    pub relief: Vec<Variable>,
    /// What bounds the dose below its place, by variable.
    pub bounded: Vec<(Variable, BoundBy)>,
    /// How its band is held, where it has one.
    pub band: Option<BandItem>,
}

/// An exercise that is not prescribed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LeftOut {
    /// The exercise.
    pub exercise: Key,
    /// Why.
    pub why: WhyLeftOut,
}

/// Why an exercise is not prescribed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum WhyLeftOut {
    /// It was withdrawn because of pain.
    Withdrawn,
    /// A directive leaves it out.
    Directive(Position),
    /// No value of its ladder keeps this bound.
    Bound(BoundBy),
    /// The pack has no exercise or no rung for its place.
    Unmapped,
    /// Nothing that is owned gives its load or less.
    NoBand(Binds),
}

/// A limit in force.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LimitInForce {
    /// The limit.
    pub limit: Key,
    /// The one exercise it holds for; none: for every one, or for the person.
    pub exercise: Option<Key>,
    /// Its sentence, verbatim.
    pub sentence: String,
    /// Text key of the patient's wording.
    pub text: Key,
}

/// What a prescription is worked out from.
#[derive(Clone, Debug)]
struct Basis<'a> {
    /// The date.
    as_of: Date,
    /// The decision in force.
    decision: Option<DecisionNo>,
    /// What stands.
    state: State,
    /// The directive that pauses, if one does.
    paused: Option<Position>,
    /// Exercises left out by directives.
    left_out: Vec<(Key, Position)>,
    /// Bounds ordered, each for one exercise (none: for every one).
    bounds: Vec<(Option<Key>, Bound)>,
    /// For exercises with a comfortable range, the value last reported.
    comfortable: Vec<(Key, RowValue)>,
    /// What there is to set a bounded load with; none: nothing is known of it.
    bench: Option<Bench<'a>>,
    /// When to look again at the latest.
    next_review: Option<Date>,
}

/// The prescription in force on `as_of`.
#[must_use]
pub fn prescription(pack: &CheckedPack, history: &History, as_of: Date) -> Prescription {
    let indexed = history.indexed(pack);
    prescribe(pack, &basis(pack, &indexed, as_of))
}

/// `history` is indexed for the pack.
fn basis<'a>(pack: &CheckedPack, history: &'a History, as_of: Date) -> Basis<'a> {
    let InForce {
        mut state,
        decision,
        directives,
        ..
    } = in_force(pack, history, as_of);
    for rule in referred_since(history, as_of) {
        if !state.latched.contains(&rule) {
            state.latched.push(rule);
        }
    }
    let reported = |place: &Place| {
        let index = ladder::find_exercise(pack, &place.exercise)?;
        let value = comfortable::last_reported(pack, history, index, as_of)?;
        Some((pack.exercises.get(index.at())?.key.clone(), value))
    };
    let mut basis = Basis {
        as_of,
        decision,
        paused: None,
        left_out: Vec::new(),
        bounds: Vec::new(),
        comfortable: state.places.iter().filter_map(reported).collect(),
        bench: Some(Bench::on(pack, history, as_of)),
        next_review: decision
            .and_then(|number| history.decision(number))
            .map(|(_, decision)| decision.next_review),
        state,
    };
    for (position, directive) in directives {
        match directive.order {
            Order::Pause => basis.paused = Some(position),
            Order::LeaveOut { exercise } => basis.left_out.push((exercise, position)),
            Order::Cap {
                exercise,
                variable,
                at_most,
            } => {
                let by = BoundBy::Directive(position);
                basis.bounds.push((
                    exercise,
                    Bound {
                        variable,
                        at_most,
                        by,
                    },
                ));
            }
            Order::SetDose { exercise, dose } => {
                basis
                    .bounds
                    .extend(dose.into_iter().map(|(variable, at_most)| {
                        let by = BoundBy::Directive(position);
                        (
                            Some(exercise.clone()),
                            Bound {
                                variable,
                                at_most,
                                by,
                            },
                        )
                    }));
            }
            _ => {}
        }
    }
    basis
}

fn prescribe(pack: &Pack, basis: &Basis<'_>) -> Prescription {
    let state = &basis.state;
    let standing = standing(pack, basis);
    let mut prescription = Prescription {
        as_of: basis.as_of,
        decision: basis.decision,
        phase: state.phase.clone(),
        standing,
        items: Vec::new(),
        left_out: Vec::new(),
        limits: Vec::new(),
        cautions: pack.cautions.clone(),
        valid_until: basis.next_review,
    };
    for withdrawal in &state.withdrawals {
        let (exercise, why) = (withdrawal.exercise.clone(), WhyLeftOut::Withdrawn);
        prescription.left_out.push(LeftOut { exercise, why });
    }
    if matches!(
        prescription.standing,
        Standing::InForce | Standing::Discharged
    ) {
        let is_discharged = prescription.standing == Standing::Discharged;
        for place in &state.places {
            match item(pack, basis, place, is_discharged) {
                Ok(item) => prescription.items.push(item),
                Err(why) => {
                    let exercise = place.exercise.clone();
                    prescription.left_out.push(LeftOut { exercise, why });
                }
            }
        }
    }
    prescription.limits = limits(pack, &prescription);
    prescription
}

fn standing(pack: &Pack, basis: &Basis<'_>) -> Standing {
    let latched = basis.state.latched.iter();
    let stopping: Vec<Key> = latched.filter(|rule| stops(pack, rule)).cloned().collect();
    if basis.state.began.is_none() {
        Standing::NotBegun
    } else if !stopping.is_empty() {
        Standing::Stopped(stopping)
    } else if let Some(position) = basis.paused {
        Standing::Paused(position)
    } else if basis.state.discharged {
        Standing::Discharged
    } else {
        Standing::InForce
    }
}

/// Whether a latched rule stops exercise. One that the pack no longer has does.
pub(crate) fn stops(pack: &Pack, rule: &Key) -> bool {
    let rule = pack.rule(rule).and_then(|index| pack.rules.get(index.at()));
    rule.is_none_or(|rule| matches!(rule.kind, RuleKind::Refer { stops: true }))
}

fn item(
    pack: &Pack,
    basis: &Basis<'_>,
    place: &Place,
    is_discharged: bool,
) -> Result<Item, WhyLeftOut> {
    let exercise = ladder::find_exercise(pack, &place.exercise)
        .and_then(|index| pack.exercises.get(index.at()))
        .ok_or(WhyLeftOut::Unmapped)?;
    if let Some((_, position)) = basis
        .left_out
        .iter()
        .find(|(key, _)| is_called(exercise, key))
    {
        return Err(WhyLeftOut::Directive(*position));
    }
    let rung = ladder::map_rung(exercise, &place.rung).ok_or(WhyLeftOut::Unmapped)?;
    let relief = ladder::map_relief(exercise, rung, &place.relief);
    let dose = ladder::dose(exercise, rung, &relief);
    let bounded = bound_dose(exercise, &dose, &bounds_of(pack, basis, exercise))
        .map_err(WhyLeftOut::Bound)?;
    let band = band::item(basis, exercise, place, &bounded.dose)?;
    let mut dose = ladder::dose_values(exercise, &bounded.dose);
    if let Some(maintenance) = exercise.maintenance.as_ref().filter(|_| is_discharged) {
        dose = replace(&dose, &maintenance.dose);
    }
    let line = pack
        .lines
        .get(exercise.line.at())
        .map_or_else(|| place.line.clone(), |line| line.key.clone());
    Ok(Item {
        line,
        exercise: exercise.key.clone(),
        dose,
        relief,
        bounded: bounded.by,
        band,
    })
}

/// Whether the exercise goes by this key, or went by it in an earlier version of the pack.
fn is_called(exercise: &Exercise, key: &Key) -> bool {
    exercise.key == *key || exercise.was.contains(key)
}

/// Every bound on one exercise: the directives', then its comfortable range.
fn bounds_of(pack: &Pack, basis: &Basis<'_>, exercise: &Exercise) -> Vec<Bound> {
    let ordered = basis
        .bounds
        .iter()
        .filter(|(of, _)| of.as_ref().is_none_or(|of| is_called(exercise, of)));
    let mut bounds: Vec<Bound> = ordered.map(|(_, bound)| bound.clone()).collect();
    let reported = basis.comfortable.iter().find(|(of, _)| *of == exercise.key);
    let measure: Option<&Measure> = exercise
        .comfortable
        .and_then(|measure| pack.measures.get(measure.at()));
    if let (Some((_, value)), Some(measure)) = (reported, measure) {
        let by = BoundBy::Comfortable(measure.name.clone());
        bounds.push(Bound {
            variable: Variable::Range,
            at_most: value.clone(),
            by,
        });
    }
    bounds
}

/// A dose with some of its values replaced (or added), in reading order.
fn replace(dose: &[(Variable, RowValue)], by: &[(Variable, RowValue)]) -> ladder::Values {
    let value = |variable: &Variable| {
        let of = |list: &[(Variable, RowValue)]| {
            list.iter()
                .find(|(of, _)| of == variable)
                .map(|(_, value)| value.clone())
        };
        of(by).or_else(|| of(dose)).map(|value| (*variable, value))
    };
    Variable::ALL.iter().filter_map(value).collect()
}

fn limits(pack: &Pack, prescription: &Prescription) -> Vec<LimitInForce> {
    let phase: Option<&Phase> = prescription
        .phase
        .as_ref()
        .and_then(|key| pack.phase(key))
        .and_then(|index| pack.phases.get(index.at()));
    let said = |limit: &Limit, exercise: Option<&Key>| LimitInForce {
        limit: limit.key.clone(),
        exercise: exercise.cloned(),
        sentence: pack
            .sentences
            .get(limit.sentence.at())
            .map_or_else(String::new, |sentence| sentence.text.clone()),
        text: limit.text.clone(),
    };
    let general = pack
        .limits
        .iter()
        .chain(phase.into_iter().flat_map(|phase| &phase.limits));
    let mut limits: Vec<LimitInForce> = general.map(|limit| said(limit, None)).collect();
    for item in &prescription.items {
        let exercise = pack
            .exercise(&item.exercise)
            .and_then(|index| pack.exercises.get(index.at()));
        let own = exercise.into_iter().flat_map(|exercise| &exercise.limits);
        limits.extend(own.map(|limit| said(limit, Some(&item.exercise))));
    }
    limits
}

#[cfg(test)]
mod tests;

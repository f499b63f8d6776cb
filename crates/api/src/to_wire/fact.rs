//! Facts to messages.
//!
//! Leaves to others: where a fact stands in the ledger (`rungwise-server`).

use super::band::{band_to_wire, length_to_wire};
use super::{date_or_empty, dose_to_wire, dose_value_to_wire, reporter_to_wire, words};
use crate::content::Side;
use crate::name::EpisodeName;
use crate::v1::{self, directive::Order as Wire, fact::Kind};
use rungwise_engine::fact::{
    Directive, Done, Equipment, ExerciseReport, Fact, FactKind, MorningAfter, Order, Reading,
    SetDone, Value,
};
use rungwise_pack::model::{MeasureKind, Pack};
use rungwise_pack::quantity::Key;

/// A fact of `episode`. Units are those that `pack` gives the measures.
#[must_use]
pub fn fact_to_wire(pack: &Pack, episode: &EpisodeName, fact: &Fact) -> v1::Fact {
    let kind = match &fact.kind {
        FactKind::Session(session) => Kind::Session(v1::Session {
            number: session.number.into(),
            followed: session.followed.map(|decision| decision.0),
            readings: readings_to_wire(pack, &session.readings),
            exercises: session
                .exercises
                .iter()
                .map(|report| report_to_wire(pack, report))
                .collect(),
        }),
        FactKind::MorningAfter(after) => Kind::MorningAfter(morning_after_to_wire(pack, after)),
        FactKind::Assessment(assessment) => Kind::Assessment(v1::Assessment {
            readings: readings_to_wire(pack, &assessment.readings),
            other_side: readings_to_wire(pack, &assessment.other_side),
            other_side_sound: assessment.other_side_sound,
        }),
        FactKind::Screening(readings) => Kind::Screening(v1::Screening {
            readings: readings_to_wire(pack, readings),
        }),
        FactKind::Event(event) => Kind::Event(v1::Event {
            event: event.to_string(),
        }),
        FactKind::Away { until } => Kind::Away(v1::Away {
            until: until.to_string(),
        }),
        FactKind::Equipment(equipment) => Kind::Equipment(equipment_to_wire(equipment)),
        FactKind::Directive(directive) => Kind::Directive(directive_to_wire(episode, directive)),
        FactKind::SignOff {
            decision,
            accepted,
            who,
        } => Kind::SignOff(v1::SignOff {
            decision: decision.0,
            accepted: *accepted,
            who: who.to_string(),
        }),
        FactKind::PersonRefer { rule } => Kind::PersonRefer(v1::PersonRefer {
            rule: rule.to_string(),
        }),
        FactKind::Correction(correction) => Kind::Correction(Box::new(v1::Correction {
            of: episode.fact(correction.of.0),
            who: correction.who.to_string(),
            why: correction.why.clone(),
            replacement: correction
                .replacement
                .as_deref()
                .map(|fact| Box::new(fact_to_wire(pack, episode, fact))),
        })),
    };
    v1::Fact {
        date: fact.date.to_string(),
        reported_by: reporter_to_wire(fact.by),
        kind: Some(kind),
    }
}

/// A side of the body.
#[must_use]
pub const fn side_to_wire(side: Side) -> v1::Side {
    match side {
        Side::Left => v1::Side::Left,
        Side::Right => v1::Side::Right,
        Side::Without => v1::Side::None,
    }
}

fn readings_to_wire(pack: &Pack, readings: &[Reading]) -> Vec<v1::Reading> {
    readings
        .iter()
        .map(|reading| reading_to_wire(pack, reading))
        .collect()
}

fn reading_to_wire(pack: &Pack, reading: &Reading) -> v1::Reading {
    use v1::reading::Value as Wire;
    let measure = pack
        .measure(&reading.measure)
        .and_then(|index| pack.measures.get(index.at()));
    let unit = match (&reading.value, measure.map(|measure| &measure.kind)) {
        (Value::Number(_), Some(MeasureKind::Number { unit, .. })) => unit.code.to_string(),
        _ => String::new(),
    };
    let value = match &reading.value {
        Value::Number(number) => Wire::Number(number.to_string()),
        Value::Choice(choice) => Wire::Choice(choice.to_string()),
        Value::CouldNot => Wire::CouldNot(v1::CouldNot {}),
    };
    v1::Reading {
        measure: reading.measure.to_string(),
        value: Some(value),
        unit,
    }
}

fn report_to_wire(pack: &Pack, report: &ExerciseReport) -> v1::ExerciseReport {
    let set = |set: &SetDone| v1::SetDone {
        reps: set.reps.map(u32::from),
        hold_s: set.hold_s.map(u32::from),
    };
    v1::ExerciseReport {
        exercise: report.exercise.to_string(),
        done: match report.done {
            Done::Done => v1::Done::Done,
            Done::SkippedForPain => v1::Done::SkippedForPain,
            Done::SkippedOtherwise => v1::Done::SkippedOtherwise,
        }
        .into(),
        sets: report.sets.iter().map(set).collect(),
        readings: readings_to_wire(pack, &report.readings),
    }
}

fn morning_after_to_wire(pack: &Pack, after: &MorningAfter) -> v1::MorningAfter {
    v1::MorningAfter {
        session_date: after.session_date.to_string(),
        session_number: after.session_number.map(u32::from).unwrap_or_default(),
        readings: readings_to_wire(pack, &after.readings),
    }
}

pub(super) fn directive_to_wire(episode: &EpisodeName, directive: &Directive) -> v1::Directive {
    let word = |key: &Key| key.to_string();
    let order = match &directive.order {
        Order::Hold => Wire::Hold(v1::HoldOrder {}),
        Order::Cap {
            exercise,
            variable,
            at_most,
        } => Wire::Cap(v1::CapOrder {
            exercise: exercise.as_ref().map(word).unwrap_or_default(),
            at_most: Some(dose_value_to_wire(&(*variable, at_most.clone()), false)),
        }),
        Order::LeaveOut { exercise } => Wire::LeaveOut(v1::LeaveOutOrder {
            exercise: word(exercise),
        }),
        Order::Add { exercise } => Wire::Add(v1::AddOrder {
            exercise: word(exercise),
        }),
        Order::SetDose { exercise, dose } => Wire::SetDose(v1::SetDoseOrder {
            exercise: word(exercise),
            dose: dose_to_wire(dose, false),
        }),
        Order::Place { phase, places } => Wire::Place(v1::PlaceOrder {
            phase: word(phase),
            places: places
                .iter()
                .map(|(exercise, dose)| v1::ExercisePlace {
                    exercise: word(exercise),
                    dose: dose_to_wire(dose, false),
                })
                .collect(),
        }),
        Order::NewBaseline => Wire::NewBaseline(v1::NewBaselineOrder {}),
        Order::Clear { rules } => Wire::Clear(v1::ClearOrder {
            rules: words(rules),
        }),
        Order::Pause => Wire::Pause(v1::PauseOrder {}),
        Order::Discharge => Wire::Discharge(v1::DischargeOrder {}),
        Order::Reopen => Wire::Reopen(v1::ReopenOrder {}),
        Order::Confirm => Wire::Confirm(v1::ConfirmOrder {}),
        Order::Withdraw { directive } => Wire::Withdraw(v1::WithdrawOrder {
            directive: episode.fact(directive.0),
        }),
    };
    v1::Directive {
        who: directive.who.to_string(),
        why: directive.why.clone(),
        until: date_or_empty(directive.until),
        clinic_wide: directive.clinic_wide,
        order: Some(order),
    }
}

fn equipment_to_wire(equipment: &Equipment) -> v1::Equipment {
    v1::Equipment {
        owned: words(&equipment.owned),
        bands: equipment.bands.iter().map(band_to_wire).collect(),
        room_mm: equipment.room_mm.map(length_to_wire),
    }
}

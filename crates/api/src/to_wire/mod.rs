//! The engine's values to messages.
//!
//! Leaves to others: reading messages (`crate::from_wire`).

mod band;
mod decision;
mod explanation;
mod fact;
mod pack;
mod prescription;
mod step;

pub use band::{band_to_wire, roll_to_wire, roll_withdrawal_to_wire};
pub use decision::{DecisionAt, ask_to_wire, decision_to_wire, outcome_to_wire};
pub use explanation::explanation_to_wire;
pub use fact::{fact_to_wire, side_to_wire};
pub use pack::{exercises_to_wire, measures_to_wire, phases_to_wire, rules_to_wire};
pub use prescription::prescription_to_wire;
pub use step::{clinic_directive_to_wire, proposal_to_wire, signed_to_wire};

use crate::v1;
use jiff::civil::Date;
use rungwise_pack::model::{Reporter, RowValue};
use rungwise_pack::quantity::{Key, Variable};

/// Milliseconds since 1970 UTC as a timestamp.
#[must_use]
pub fn timestamp_from_ms(ms: u64) -> prost_types::Timestamp {
    prost_types::Timestamp {
        seconds: i64::try_from(ms / 1000).unwrap_or(i64::MAX),
        nanos: i32::try_from((ms % 1000) * 1_000_000).unwrap_or(0),
    }
}

fn words(keys: &[Key]) -> Vec<String> {
    keys.iter().map(ToString::to_string).collect()
}

fn word_or_empty(key: Option<&Key>) -> String {
    key.map(ToString::to_string).unwrap_or_default()
}

fn date_or_empty(date: Option<Date>) -> String {
    date.map(|date| date.to_string()).unwrap_or_default()
}

fn reporter_to_wire(by: Reporter) -> i32 {
    match by {
        Reporter::Patient => v1::ReportedBy::Patient,
        Reporter::Carer => v1::ReportedBy::Carer,
        Reporter::Clinician => v1::ReportedBy::Clinician,
        Reporter::Device => v1::ReportedBy::Device,
    }
    .into()
}

fn variable_to_wire(variable: Variable) -> v1::Variable {
    match variable {
        Variable::Sets => v1::Variable::Sets,
        Variable::Reps => v1::Variable::Reps,
        Variable::HoldTime => v1::Variable::HoldTime,
        Variable::Effort => v1::Variable::Effort,
        Variable::Load => v1::Variable::Load,
        Variable::Range => v1::Variable::Range,
        Variable::Position => v1::Variable::Position,
        Variable::Tempo => v1::Variable::Tempo,
        Variable::Support => v1::Variable::Support,
        Variable::Rest => v1::Variable::Rest,
        Variable::TimesADay => v1::Variable::TimesADay,
        Variable::DaysAWeek => v1::Variable::DaysAWeek,
    }
}

/// `has_band`: loads are torques.
fn dose_value_to_wire((variable, value): &(Variable, RowValue), has_band: bool) -> v1::DoseValue {
    use v1::dose_value::Value;
    let unit = match (variable, value) {
        (Variable::Load, RowValue::Number(_)) if has_band => "N.m",
        (Variable::HoldTime | Variable::Rest, RowValue::Number(_)) => "s",
        (Variable::Range, RowValue::Number(_)) => "deg",
        (Variable::Effort, RowValue::Number(_)) => "%",
        _ => "",
    };
    v1::DoseValue {
        variable: variable_to_wire(*variable).into(),
        value: Some(match value {
            RowValue::Number(number) => Value::Number(number.to_string()),
            RowValue::Label(label) => Value::Label(label.to_string()),
        }),
        unit: unit.to_owned(),
    }
}

fn dose_to_wire(dose: &[(Variable, RowValue)], has_band: bool) -> Vec<v1::DoseValue> {
    dose.iter()
        .map(|value| dose_value_to_wire(value, has_band))
        .collect()
}

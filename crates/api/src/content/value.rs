//! The small values that stored content is made of: dates, numbers, words, dose values.
//!
//! Leaves to others: everything made of them (the rest of `crate::content`).

use super::DecodeError;
use crate::stored;
use jiff::civil::Date;
use rungwise_engine::fact::{DecisionNo, Reading, Value};
use rungwise_pack::model::{Reporter, RowValue};
use rungwise_pack::quantity::{Key, Milli, Variable};

pub(super) fn unknown(what: &'static str, value: impl Into<i64>) -> DecodeError {
    DecodeError::Unknown {
        what,
        value: value.into(),
    }
}

/// `year * 512 + month * 32 + day`.
pub(super) fn date_to_stored(date: Date) -> i32 {
    i32::from(date.year())
        .wrapping_mul(512)
        .wrapping_add(i32::from(date.month()).wrapping_mul(32))
        .wrapping_add(i32::from(date.day()))
}

pub(super) fn date_from_stored(what: &'static str, stored: i32) -> Result<Date, DecodeError> {
    let part = |value: i32| i8::try_from(value).map_err(|_| unknown(what, stored));
    let year = i16::try_from(stored.div_euclid(512)).map_err(|_| unknown(what, stored))?;
    let day_of_year = stored.rem_euclid(512);
    let (month, day) = (
        part(day_of_year.div_euclid(32))?,
        part(day_of_year.rem_euclid(32))?,
    );
    Date::new(year, month, day).map_err(|_| unknown(what, stored))
}

/// 0 stands for none: no date is stored as 0, since no month is 0.
pub(super) fn date_or_none_to_stored(date: Option<Date>) -> i32 {
    date.map_or(0, date_to_stored)
}

pub(super) fn date_or_none_from_stored(
    what: &'static str,
    stored: i32,
) -> Result<Option<Date>, DecodeError> {
    if stored == 0 {
        Ok(None)
    } else {
        date_from_stored(what, stored).map(Some)
    }
}

pub(super) fn digest_from_stored(
    what: &'static str,
    bytes: &[u8],
) -> Result<[u8; 32], DecodeError> {
    bytes.try_into().map_err(|_| DecodeError::Absent(what))
}

pub(super) fn small<T: TryFrom<u32>>(what: &'static str, value: u32) -> Result<T, DecodeError> {
    T::try_from(value).map_err(|_| unknown(what, value))
}

pub(super) fn words(keys: &[Key]) -> Vec<String> {
    keys.iter().map(ToString::to_string).collect()
}

pub(super) fn keys(words: Vec<String>) -> Vec<Key> {
    words.into_iter().map(Key::from).collect()
}

pub(super) fn numbers_or_none(number: Option<DecisionNo>) -> Option<u32> {
    number.map(|number| number.0)
}

pub(super) fn reporter_to_stored(by: Reporter) -> i32 {
    match by {
        Reporter::Patient => stored::Reporter::Patient,
        Reporter::Carer => stored::Reporter::Carer,
        Reporter::Clinician => stored::Reporter::Clinician,
        Reporter::Device => stored::Reporter::Device,
    }
    .into()
}

pub(super) fn reporter_from_stored(
    what: &'static str,
    value: i32,
) -> Result<Reporter, DecodeError> {
    match stored::Reporter::try_from(value) {
        Ok(stored::Reporter::Patient) => Ok(Reporter::Patient),
        Ok(stored::Reporter::Carer) => Ok(Reporter::Carer),
        Ok(stored::Reporter::Clinician) => Ok(Reporter::Clinician),
        Ok(stored::Reporter::Device) => Ok(Reporter::Device),
        Ok(stored::Reporter::Unspecified) | Err(_) => Err(unknown(what, value)),
    }
}

pub(super) fn variable_to_stored(variable: Variable) -> i32 {
    match variable {
        Variable::Sets => stored::Variable::Sets,
        Variable::Reps => stored::Variable::Reps,
        Variable::HoldTime => stored::Variable::HoldTime,
        Variable::Effort => stored::Variable::Effort,
        Variable::Load => stored::Variable::Load,
        Variable::Range => stored::Variable::Range,
        Variable::Position => stored::Variable::Position,
        Variable::Tempo => stored::Variable::Tempo,
        Variable::Support => stored::Variable::Support,
        Variable::Rest => stored::Variable::Rest,
        Variable::TimesADay => stored::Variable::TimesADay,
        Variable::DaysAWeek => stored::Variable::DaysAWeek,
    }
    .into()
}

pub(super) fn variable_from_stored(value: i32) -> Result<Variable, DecodeError> {
    Ok(match stored::Variable::try_from(value) {
        Ok(stored::Variable::Sets) => Variable::Sets,
        Ok(stored::Variable::Reps) => Variable::Reps,
        Ok(stored::Variable::HoldTime) => Variable::HoldTime,
        Ok(stored::Variable::Effort) => Variable::Effort,
        Ok(stored::Variable::Load) => Variable::Load,
        Ok(stored::Variable::Range) => Variable::Range,
        Ok(stored::Variable::Position) => Variable::Position,
        Ok(stored::Variable::Tempo) => Variable::Tempo,
        Ok(stored::Variable::Support) => Variable::Support,
        Ok(stored::Variable::Rest) => Variable::Rest,
        Ok(stored::Variable::TimesADay) => Variable::TimesADay,
        Ok(stored::Variable::DaysAWeek) => Variable::DaysAWeek,
        Ok(stored::Variable::Unspecified) | Err(_) => return Err(unknown("variable", value)),
    })
}

pub(super) fn variables_from_stored(values: Vec<i32>) -> Result<Vec<Variable>, DecodeError> {
    values.into_iter().map(variable_from_stored).collect()
}

pub(super) fn dose_value_to_stored(variable: Variable, value: &RowValue) -> stored::DoseValue {
    use stored::dose_value::Value as Stored;
    stored::DoseValue {
        variable: variable_to_stored(variable),
        value: Some(match value {
            RowValue::Number(number) => Stored::Number(number.0),
            RowValue::Label(label) => Stored::Label(label.to_string()),
        }),
    }
}

pub(super) fn dose_value_from_stored(
    stored: stored::DoseValue,
) -> Result<(Variable, RowValue), DecodeError> {
    use stored::dose_value::Value as Stored;
    let value = match stored.value.ok_or(DecodeError::Absent("dose value"))? {
        Stored::Number(number) => RowValue::Number(Milli(number)),
        Stored::Label(label) => RowValue::Label(label.into()),
    };
    Ok((variable_from_stored(stored.variable)?, value))
}

pub(super) fn dose_to_stored(dose: &[(Variable, RowValue)]) -> Vec<stored::DoseValue> {
    dose.iter()
        .map(|(variable, value)| dose_value_to_stored(*variable, value))
        .collect()
}

pub(super) fn dose_from_stored(
    dose: Vec<stored::DoseValue>,
) -> Result<Vec<(Variable, RowValue)>, DecodeError> {
    dose.into_iter().map(dose_value_from_stored).collect()
}

pub(super) fn readings_to_stored(readings: &[Reading]) -> Vec<stored::Reading> {
    use stored::reading::Value as Stored;
    let one = |reading: &Reading| stored::Reading {
        measure: reading.measure.to_string(),
        value: Some(match &reading.value {
            Value::Number(number) => Stored::Number(number.0),
            Value::Choice(choice) => Stored::Choice(choice.to_string()),
            Value::CouldNot => Stored::CouldNot(true),
        }),
    };
    readings.iter().map(one).collect()
}

pub(super) fn readings_from_stored(
    readings: Vec<stored::Reading>,
) -> Result<Vec<Reading>, DecodeError> {
    use stored::reading::Value as Stored;
    let one = |reading: stored::Reading| {
        let value = match reading.value.ok_or(DecodeError::Absent("reading.value"))? {
            Stored::Number(number) => Value::Number(Milli(number)),
            Stored::Choice(choice) => Value::Choice(choice.into()),
            Stored::CouldNot(_) => Value::CouldNot,
        };
        Ok(Reading {
            measure: reading.measure.into(),
            value,
        })
    };
    readings.into_iter().map(one).collect()
}

//! Messages to the engine's values. Everything that is wrong with a message is found, each under its path.
//!
//! What a number or a name means under the pack is judged here only as far as a value cannot be made without it (a unit,
//! a decimal); the rest is the engine's admission.
//!
//! Leaves to others: whether a fact may be recorded (`rungwise_engine::admit`).

mod directive;
mod equipment;
mod fact;
mod roll;

pub use directive::{clinic_directive_from_wire, place_from_wire};
pub use fact::fact_from_wire;
pub use roll::roll_from_wire;

use crate::v1::{self, Reason};
use crate::violation::Violation;
use jiff::civil::Date;
use rungwise_pack::decimal;
use rungwise_pack::model::{Reporter, RowValue};
use rungwise_pack::quantity::Variable;

/// Reads fields and keeps what is wrong with them.
#[derive(Debug, Default)]
pub struct Reader {
    /// What was wrong, in the order of the fields.
    pub violations: Vec<Violation>,
}

impl Reader {
    /// Keeps a violation; gives nothing, so that it can end an expression.
    pub fn refuse<T>(
        &mut self,
        path: &str,
        reason: Reason,
        wrong: impl Into<String>,
        right: impl Into<String>,
    ) -> Option<T> {
        self.violations
            .push(Violation::new(path, reason, wrong, right));
        None
    }

    /// Refuses a required field that is absent.
    pub fn missing<T>(&mut self, path: &str, right: &str) -> Option<T> {
        self.refuse(path, Reason::FieldMissing, "it is required", right)
    }

    /// A civil date, `YYYY-MM-DD`, of a year with four digits.
    pub fn date(&mut self, path: &str, text: &str) -> Option<Date> {
        if text.is_empty() {
            return self.missing(path, "give a civil date, `YYYY-MM-DD`");
        }
        match date_from_text(text) {
            Some(date) => Some(date),
            None => {
                let wrong = format!("`{}` is not a civil date", shown(text));
                self.refuse(
                    path,
                    Reason::FieldMalformed,
                    wrong,
                    "give a date such as `2026-03-09`",
                )
            }
        }
    }

    /// A civil date, or nothing where the field is empty.
    pub fn date_or_none(&mut self, path: &str, text: &str) -> Option<Option<Date>> {
        if text.is_empty() {
            Some(None)
        } else {
            self.date(path, text).map(Some)
        }
    }

    /// A text that is not empty and not longer than it may be.
    pub fn text(&mut self, path: &str, text: &str, bytes_max: usize) -> Option<String> {
        if text.trim().is_empty() {
            return self.missing(path, &format!("give 1 to {bytes_max} bytes"));
        }
        if text.len() > bytes_max {
            let wrong = format!("{} bytes are too long", text.len());
            return self.refuse(
                path,
                Reason::TextTooLong,
                wrong,
                format!("at most {bytes_max} bytes"),
            );
        }
        Some(text.to_owned())
    }

    /// Who reports.
    pub fn reporter(&mut self, path: &str, value: i32) -> Option<Reporter> {
        match v1::ReportedBy::try_from(value) {
            Ok(v1::ReportedBy::Patient) => Some(Reporter::Patient),
            Ok(v1::ReportedBy::Carer) => Some(Reporter::Carer),
            Ok(v1::ReportedBy::Clinician) => Some(Reporter::Clinician),
            Ok(v1::ReportedBy::Device) => Some(Reporter::Device),
            Ok(v1::ReportedBy::Unspecified) | Err(_) => self.unknown_enum(
                path,
                value,
                "say who reported it: patient, carer, clinician or device",
            ),
        }
    }

    /// Refuses an enum field that is unspecified or unknown.
    pub fn unknown_enum<T>(&mut self, path: &str, value: i32, right: &str) -> Option<T> {
        let wrong = if value == 0 {
            "unspecified".to_owned()
        } else {
            format!("{value} is not known")
        };
        self.refuse(path, Reason::EnumUnknown, wrong, right)
    }

    /// A number that must fit a small one.
    fn small<T: TryFrom<u32>>(&mut self, path: &str, value: u32, max: u32) -> Option<T> {
        match T::try_from(value) {
            Ok(value) => Some(value),
            Err(_) => {
                let wrong = format!("{value} is out of bounds");
                self.refuse(path, Reason::OutOfBounds, wrong, format!("at most {max}"))
            }
        }
    }

    fn dose_value(&mut self, path: &str, value: &v1::DoseValue) -> Option<(Variable, RowValue)> {
        use v1::dose_value::Value;
        let variable = match variable_from_wire(value.variable) {
            Some(variable) => Some(variable),
            None => {
                let path = format!("{path}.variable");
                self.unknown_enum(
                    &path,
                    value.variable,
                    "name a variable of the exercise's ladder",
                )
            }
        };
        let value = match &value.value {
            None => self.missing(&format!("{path}.value"), "give a number or a label"),
            Some(Value::Label(label)) => self
                .text(&format!("{path}.label"), label, LABEL_BYTES_MAX)
                .map(|label| RowValue::Label(label.into())),
            Some(Value::Number(text)) => match decimal::parse(text) {
                Ok(number) => Some(RowValue::Number(number)),
                Err(why) => {
                    let wrong = format!("`{}` is {why}", shown(text));
                    let right = "give digits with at most three after the point, such as `1.5`";
                    self.refuse(&format!("{path}.number"), Reason::NotANumber, wrong, right)
                }
            },
        };
        Some((variable?, value?))
    }

    /// A dose: values of variables, each under its place in the list.
    pub fn dose(
        &mut self,
        path: &str,
        dose: &[v1::DoseValue],
    ) -> Option<Vec<(Variable, RowValue)>> {
        let values: Vec<_> = dose
            .iter()
            .enumerate()
            .map(|(at, value)| self.dose_value(&format!("{path}[{at}]"), value))
            .collect();
        values.into_iter().collect()
    }
}

/// Longest label of a dose value, bytes.
const LABEL_BYTES_MAX: usize = 200;

/// The date of `YYYY-MM-DD`.
#[must_use]
pub fn date_from_text(text: &str) -> Option<Date> {
    let well_formed = text.len() == 10
        && text.bytes().enumerate().all(|(at, byte)| match at {
            4 | 7 => byte == b'-',
            _ => byte.is_ascii_digit(),
        });
    if !well_formed {
        return None;
    }
    let year = text.get(0..4)?.parse().ok()?;
    let month = text.get(5..7)?.parse().ok()?;
    let day = text.get(8..10)?.parse().ok()?;
    Date::new(year, month, day)
        .ok()
        .filter(|date| date.year() > 0)
}

/// What was given, cut to a length that a message can carry.
#[must_use]
pub fn shown(text: &str) -> String {
    const CHARS_MAX: usize = 40;
    let mut cut: String = text.chars().take(CHARS_MAX).collect();
    if cut.len() < text.len() {
        cut.push('…');
    }
    cut
}

/// The variable of a message.
fn variable_from_wire(value: i32) -> Option<Variable> {
    Some(match v1::Variable::try_from(value).ok()? {
        v1::Variable::Unspecified => return None,
        v1::Variable::Sets => Variable::Sets,
        v1::Variable::Reps => Variable::Reps,
        v1::Variable::HoldTime => Variable::HoldTime,
        v1::Variable::Effort => Variable::Effort,
        v1::Variable::Load => Variable::Load,
        v1::Variable::Range => Variable::Range,
        v1::Variable::Position => Variable::Position,
        v1::Variable::Tempo => Variable::Tempo,
        v1::Variable::Support => Variable::Support,
        v1::Variable::Rest => Variable::Rest,
        v1::Variable::TimesADay => Variable::TimesADay,
        v1::Variable::DaysAWeek => Variable::DaysAWeek,
    })
}

#[cfg(test)]
mod tests;

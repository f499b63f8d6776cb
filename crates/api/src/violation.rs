//! A field that is wrong: its path in the request, the named reason, what is wrong and what would be right.
//!
//! Leaves to others: the status it travels in (`rungwise-server`).

use crate::v1::Reason;
use rungwise_engine::admit::Refusal;

/// One wrong field.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Violation {
    /// Its path from the request, such as `facts[2].session.readings[0].unit`.
    pub field: String,
    /// The named reason.
    pub reason: Reason,
    /// What is wrong, in one clause.
    pub wrong: String,
    /// What would be right.
    pub right: String,
}

impl Violation {
    /// A field that is wrong for this reason.
    pub fn new(
        field: impl Into<String>,
        reason: Reason,
        wrong: impl Into<String>,
        right: impl Into<String>,
    ) -> Self {
        Self {
            field: field.into(),
            reason,
            wrong: wrong.into(),
            right: right.into(),
        }
    }

    /// What is wrong and what would be right, for people.
    #[must_use]
    pub fn description(&self) -> String {
        format!("{}; {}", self.wrong, self.right)
    }

    /// A refusal of admission under the request's own path. `parent` is the fact's path with its point, or empty.
    #[must_use]
    pub fn from_refusal(parent: &str, refusal: &Refusal) -> Self {
        let reason = Reason::from_str_name(&format!("REASON_{}", refusal.wrong.name()));
        Self {
            field: format!("{parent}{}", wire_path(&refusal.path)),
            reason: reason.unwrap_or(Reason::FieldMalformed),
            wrong: refusal.wrong.wrong(),
            right: refusal.wrong.right(),
        }
    }
}

/// The message's path for the engine's, where the two shapes differ.
fn wire_path(path: &str) -> String {
    let path = path.replace("directive.cap.variable", "directive.cap.at_most.variable");
    if let Some(at) = path.strip_prefix("equipment[") {
        return format!("equipment.owned[{at}");
    }
    match path.as_str() {
        "by" => "reported_by".to_owned(),
        "event" => "event.event".to_owned(),
        "screening" => "screening.readings".to_owned(),
        _ => path,
    }
}

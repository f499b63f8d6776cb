//! The computed measures of a generated pack: one of each recipe.
//!
//! Leaves to others: the reported and the defined ones (`super::pack`).

use super::pack::GROUNDS;
use std::fmt::Write as _;

/// Their tables.
pub(super) fn computed_measures() -> String {
    let mut text = String::new();
    for (name, recipe, unit, worse) in [
        ("computed-last", "days since last session", "d", "higher"),
        ("computed-sessions", "sessions in phase", "1", ""),
        ("computed-days", "days in phase", "d", ""),
        ("computed-weeks", "weeks in phase", "wk", ""),
        ("computed-care", "weeks in care", "wk", ""),
        ("computed-share", "share done", "%", "lower"),
        ("computed-dose", "days since dose changed", "d", ""),
        ("computed-age", "age", "a", ""),
        ("computed-event", "days since event", "d", ""),
    ] {
        let more = match recipe {
            "share done" => "days = 5\n",
            "days since event" => "event = \"event-a\"\n",
            _ => "",
        };
        let worse = if worse.is_empty() {
            String::new()
        } else {
            format!("worse = \"{worse}\"\n")
        };
        let _ = write!(
            text,
            "[[measure]]\nname = \"{name}\"\ncomputed = \"{recipe}\"\nunit = \"{unit}\"\n{worse}{more}{GROUNDS}\n\n"
        );
    }
    text
}

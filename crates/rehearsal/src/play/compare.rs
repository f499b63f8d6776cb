//! A decision beside what a diary expects of it.
//!
//! Leaves to others: making the decision (`rungwise-engine`).

use super::prescribed;
use crate::diary::Expected;
use rungwise_engine::decision::{Cause, Decision};
use rungwise_engine::history::History;
use rungwise_pack::model::{CheckedPack, RowValue};
use rungwise_pack::quantity::Key;
use std::fmt;

/// Something that is not as expected.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Difference {
    /// What, such as `outcome` or the move of a line.
    pub what: String,
    /// What the diary says.
    pub expected: String,
    /// What was decided.
    pub got: String,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: expected {}, got {}",
            self.what, self.expected, self.got
        )
    }
}

/// Everything that is not as expected, in the order in which a diary names it.
pub(super) fn differences(
    pack: &CheckedPack,
    history: &History,
    decision: &Decision,
    expected: &Expected,
) -> Vec<Difference> {
    let mut differences = Vec::new();
    let mut compare = |what: String, expected: &str, got: &str| {
        if expected != got {
            differences.push(Difference {
                what,
                expected: expected.to_owned(),
                got: got.to_owned(),
            });
        }
    };
    let after = decision.if_accepted.as_ref().unwrap_or(&decision.state);
    if let Some(outcome) = expected.outcome {
        compare(
            "outcome".to_owned(),
            outcome.word(),
            decision.outcome.word(),
        );
    }
    if let Some(phase) = &expected.phase {
        compare(
            "phase".to_owned(),
            phase,
            after.phase.as_deref().unwrap_or(NOTHING),
        );
    }
    for (line, mv) in &expected.moves {
        let got = decision
            .moves
            .iter()
            .find(|given| given.line == *line)
            .map_or(NOTHING, |given| given.mv.word());
        compare(format!("move of {line}"), mv.word(), got);
    }
    for (line, exercise) in &expected.places {
        let got = after.places.iter().find(|place| place.line == *line);
        compare(
            format!("place on {line}"),
            exercise,
            got.map_or(NOTHING, |place| &*place.exercise),
        );
    }
    let in_force = prescribed(pack, history, decision.as_of);
    for (exercise, dose) in &expected.doses {
        let given = in_force.iter().find(|one| one.exercise == *exercise);
        for (variable, value) in dose {
            let got = given.and_then(|one| one.dose.iter().find(|(of, _)| of == variable));
            let got = got.map_or_else(|| NOTHING.to_owned(), |(_, value)| said(value));
            compare(
                format!("{} of {exercise}", variable.word()),
                &said(value),
                &got,
            );
        }
    }
    for exercise in &expected.absent {
        let given = in_force.iter().any(|one| one.exercise == *exercise);
        compare(
            format!("prescription of {exercise}"),
            NOTHING,
            if given { "prescribed" } else { NOTHING },
        );
    }
    let causes = causes(decision);
    for rule in &expected.because {
        if !causes.contains(&rule) {
            let got = causes
                .iter()
                .map(|key| &***key)
                .collect::<Vec<_>>()
                .join(", ");
            compare(
                "because".to_owned(),
                rule,
                if got.is_empty() { NOTHING } else { &got },
            );
        }
    }
    differences
}

const NOTHING: &str = "nothing";

fn said(value: &RowValue) -> String {
    match value {
        RowValue::Number(number) => number.to_string(),
        RowValue::Label(label) => label.to_string(),
    }
}

/// The rules and limits among the causes of a decision and of its moves.
fn causes(decision: &Decision) -> Vec<&Key> {
    let moves = decision.moves.iter().flat_map(|given| &given.because);
    let all = decision.because.iter().chain(moves);
    let mut keys: Vec<&Key> = all
        .filter_map(|cause| match cause {
            Cause::Met(key)
            | Cause::Doubt(key)
            | Cause::MetBefore(key)
            | Cause::Latched(key)
            | Cause::NotMet(key)
            | Cause::LimitValueMissing(key) => Some(key),
            Cause::OverLimit { limit, .. } | Cause::OverLimitTwice { limit, .. } => limit.as_ref(),
            _ => None,
        })
        .collect();
    keys.sort();
    keys.dedup();
    keys
}

//! A decision beside what a diary expects of it.
//!
//! Leaves to others: making the decision (`rungwise-engine`).

use crate::diary::{Expected, Prescribed};
use rungwise_engine::decision::{Cause, Decision, Wanted};
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::{Key, Variable};
use std::fmt;

/// What a diary expects something of.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Field {
    /// The outcome.
    Outcome,
    /// The phase in force afterwards.
    Phase,
    /// A line's move.
    Move(Key),
    /// The exercise in place on a line.
    Place(Key),
    /// A variable of an exercise's dose.
    Dose(Key, Variable),
    /// An exercise that must not be prescribed.
    Absent(Key),
    /// A rule or limit that must be among the causes.
    Because(Key),
    /// The review rules that ask for a clinician's look.
    Reviews,
}

impl fmt::Display for Field {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Outcome => f.write_str("outcome"),
            Self::Phase => f.write_str("phase"),
            Self::Move(line) => write!(f, "move of {line}"),
            Self::Place(line) => write!(f, "place on {line}"),
            Self::Dose(exercise, variable) => write!(f, "{} of {exercise}", variable.word()),
            Self::Absent(exercise) => write!(f, "prescription of {exercise}"),
            Self::Because(_) => f.write_str("because"),
            Self::Reviews => f.write_str("reviews"),
        }
    }
}

/// Something that is not as expected.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Difference {
    /// What, such as the outcome or the move of a line.
    pub what: Field,
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
    in_force: &[Prescribed],
    decision: &Decision,
    expected: &Expected,
) -> Vec<Difference> {
    let mut differences = Vec::new();
    let mut compare = |what: Field, expected: &str, got: &str| {
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
        compare(Field::Outcome, outcome.word(), decision.outcome.word());
    }
    if let Some(phase) = &expected.phase {
        compare(
            Field::Phase,
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
        compare(Field::Move(line.clone()), mv.word(), got);
    }
    for (line, exercise) in &expected.places {
        let got = after.places.iter().find(|place| place.line == *line);
        compare(
            Field::Place(line.clone()),
            exercise,
            got.map_or(NOTHING, |place| &*place.exercise),
        );
    }
    for (exercise, dose) in &expected.doses {
        let given = in_force.iter().find(|one| one.exercise == *exercise);
        for (variable, value) in dose {
            let got = given.and_then(|one| one.dose.iter().find(|(of, _)| of == variable));
            let got = got.map_or_else(|| NOTHING.to_owned(), |(_, value)| said(value));
            compare(Field::Dose(exercise.clone(), *variable), &said(value), &got);
        }
    }
    for exercise in &expected.absent {
        let given = in_force.iter().any(|one| one.exercise == *exercise);
        compare(
            Field::Absent(exercise.clone()),
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
                Field::Because(rule.clone()),
                rule,
                if got.is_empty() { NOTHING } else { &got },
            );
        }
    }
    if let Some(expected) = &expected.reviews {
        compare(
            Field::Reviews,
            &list(expected.iter()),
            &list(reviews(decision).into_iter()),
        );
    }
    differences
}

/// The review rules that ask for a clinician's look, in their order.
pub(crate) fn reviews(decision: &Decision) -> Vec<&Key> {
    let asks = decision.asks.iter();
    let asks = asks.filter(|ask| ask.what == Wanted::Review);
    let mut rules: Vec<&Key> = asks.filter_map(|ask| ask.rule.as_ref()).collect();
    rules.sort();
    rules
}

fn list<'k>(keys: impl Iterator<Item = &'k Key>) -> String {
    let keys: Vec<&str> = keys.map(|key| &**key).collect();
    if keys.is_empty() {
        NOTHING.to_owned()
    } else {
        keys.join(", ")
    }
}

/// What stands for a value that is not there.
pub(crate) const NOTHING: &str = "nothing";

fn said(value: &RowValue) -> String {
    match value {
        RowValue::Number(number) => number.to_string(),
        RowValue::Label(label) => label.to_string(),
    }
}

/// The rules and limits among the causes of a decision and of its moves.
pub(crate) fn causes(decision: &Decision) -> Vec<&Key> {
    let moves = decision.moves.iter().flat_map(|given| &given.because);
    let all = decision.because.iter().chain(moves);
    let mut keys: Vec<&Key> = all.filter_map(named).collect();
    keys.sort();
    keys.dedup();
    keys
}

/// The rule or limit that a cause names.
pub(crate) const fn named(cause: &Cause) -> Option<&Key> {
    match cause {
        Cause::Met(key)
        | Cause::Doubt(key)
        | Cause::MetBefore(key)
        | Cause::Latched(key)
        | Cause::NotMet(key)
        | Cause::LimitValueMissing(key) => Some(key),
        Cause::OverLimit { limit, .. } | Cause::OverLimitTwice { limit, .. } => limit.as_ref(),
        _ => None,
    }
}

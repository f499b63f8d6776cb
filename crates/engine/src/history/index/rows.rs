//! The rows of the index.

use crate::fact::{DecisionNo, Done, Position, SetDone};
use jiff::civil::Date;
use rungwise_pack::model::{ExerciseIx, MeasureIx};
use rungwise_pack::quantity::Key;

/// A reported value by the pack's numbers; *could not* is the worst there is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Val {
    /// Thousandths of the measure's unit.
    Number(i64),
    /// A choice's index.
    Choice(u16),
}

/// Values by measure, one each, in order of measure.
pub(crate) type Values = Vec<(MeasureIx, Val)>;

/// The value of a measure in a short list.
pub(crate) fn value_in(values: &[(MeasureIx, Val)], measure: MeasureIx) -> Option<Val> {
    // Values are in order of measure.
    if values.len() > 8 {
        let at = values.binary_search_by_key(&measure, |(of, _)| *of).ok()?;
        return values.get(at).map(|(_, value)| *value);
    }
    let found = values.iter().find(|(of, _)| *of == measure);
    found.map(|(_, value)| *value)
}

/// What orders sessions: date, number, position of the original fact.
pub(crate) type SessionKey = (Date, u8, Position);

/// A session with its morning-afters.
#[derive(Clone, Debug)]
pub(crate) struct SessionFact {
    /// Civil date.
    pub(crate) date: Date,
    /// Which of the day's.
    pub(crate) number: u8,
    /// Position of the (original) fact.
    pub(crate) position: Position,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
    /// The decision that it followed.
    pub(crate) followed: Option<DecisionNo>,
    /// Values of the session as a whole.
    pub(crate) values: Values,
    /// The worst over its exercises of every measure that each of them has a value for.
    pub(crate) worst: Values,
    /// Its exercises.
    pub(crate) exercises: Vec<Exercised>,
    /// Its morning-afters.
    pub(crate) mornings: Vec<Morning>,
}

impl SessionFact {
    /// What it is ordered by.
    pub(crate) const fn key(&self) -> SessionKey {
        (self.date, self.number, self.position)
    }

    /// One exercise's report.
    pub(crate) fn exercise(&self, exercise: ExerciseIx) -> Option<&Exercised> {
        self.exercises.iter().find(|done| done.exercise == exercise)
    }
}

/// What looking back over sessions needs of each, kept close together.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    /// Civil date.
    pub(crate) date: Date,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
    /// The decision that it followed.
    pub(crate) followed: Option<DecisionNo>,
    /// The newest decision that it or any session before it followed: where to stop looking back.
    pub(crate) followed_top: Option<DecisionNo>,
}

/// One exercise of a session.
#[derive(Clone, Debug)]
pub(crate) struct Exercised {
    /// Which.
    pub(crate) exercise: ExerciseIx,
    /// Whether it was done.
    pub(crate) done: Done,
    /// Set by set.
    pub(crate) sets: Vec<SetDone>,
    /// The worst value of each measure.
    pub(crate) values: Values,
}

impl Exercised {
    /// Whether it belongs to the exercise's series: done, or skipped for pain.
    pub(crate) fn counts(&self) -> bool {
        self.done != Done::SkippedOtherwise
    }
}

/// A morning-after report.
#[derive(Clone, Debug)]
pub(crate) struct Morning {
    /// The date of the report.
    pub(crate) date: Date,
    /// Position of the (original) fact.
    pub(crate) position: Position,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
    /// Whether it names its session's number.
    pub(crate) numbered: bool,
    /// Its values.
    pub(crate) values: Values,
}

/// An assessment or a screening.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    /// Civil date.
    pub(crate) date: Date,
    /// Position of the (original) fact.
    pub(crate) position: Position,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
    /// Values.
    pub(crate) values: Values,
    /// Values of the other side, where it was reported sound.
    pub(crate) other: Values,
}

/// An event.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Event {
    /// Civil date.
    pub(crate) date: Date,
    /// Position of the (original) fact.
    pub(crate) position: Position,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
    /// Index into the pack's list of events.
    pub(crate) event: u16,
}

/// Days away, both included.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Away {
    /// First day.
    pub(crate) from: Date,
    /// Last day.
    pub(crate) until: Date,
    /// Position from which it is known.
    pub(crate) known: Position,
}

/// A directive, kept in its record.
#[derive(Clone, Copy, Debug)]
pub(crate) struct DirectiveAt {
    /// First day on which it binds.
    pub(crate) date: Date,
    /// Position of the (original) fact.
    pub(crate) position: Position,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
    /// Index of the record that holds it.
    pub(crate) record: u32,
}

/// A proposal accepted while it could be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Accepted {
    /// The decision.
    pub(crate) decision: DecisionNo,
    /// Date of the sign-off.
    pub(crate) date: Date,
    /// Position of the (original) sign-off.
    pub(crate) position: Position,
    /// Position from which this version of it is known.
    pub(crate) known: Position,
}

/// A refer rule that latched in another episode of the person.
#[derive(Clone, Debug)]
pub(crate) struct PersonRefer {
    /// Civil date.
    pub(crate) date: Date,
    /// Position from which it is known.
    pub(crate) known: Position,
    /// The rule's key.
    pub(crate) rule: Key,
}

/// A correction applied.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CorrectionAt {
    /// Date of the correction.
    pub(crate) date: Date,
    /// Its position.
    pub(crate) position: Position,
    /// Position of the fact corrected (the original, where corrections were corrected).
    pub(crate) of: Position,
    /// Date of the original fact.
    pub(crate) of_date: Date,
}

/// Something that became known.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Touch {
    /// When it happened.
    pub(crate) date: Date,
    /// Position from which it is known.
    pub(crate) known: Position,
    /// The session that it is, or belongs to.
    pub(crate) session: Option<SessionKey>,
}

/// A list of what the person owns.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EquipmentAt {
    /// Its date.
    pub(crate) date: Date,
    /// Position of the original.
    pub(crate) position: Position,
    /// Position from which this version is known.
    pub(crate) known: Position,
    /// Index of the record that holds it.
    pub(crate) record: u32,
}

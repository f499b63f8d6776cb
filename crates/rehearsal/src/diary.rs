//! A diary as data: an ordered list of steps, each with what was reported on a date and what was asked.
//!
//! Sessions may be written relative to the prescription in force ("everything done as prescribed"); [`Entry::resolve`]
//! turns them into facts once that prescription is known, in a rehearsal as over the wire.
//!
//! Leaves to others: reading a diary from text (`crate::read`), running it (`crate::play`).

use jiff::civil::Date;
use rungwise_engine::decision::Move;
use rungwise_engine::fact::{
    DecisionNo, Done, Episode, ExerciseReport, Fact, FactKind, Reading, Session, SetDone,
};
use rungwise_pack::model::{Outcome, Reporter, RowValue};
use rungwise_pack::quantity::{Key, Milli, Variable};
use std::ops::Range;

pub use crate::read::read;

/// Most steps of one diary, repeated days counted one by one.
pub const STEPS_MAX: usize = 5_000;

/// One course of care.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Diary {
    /// The file's name, as it was given.
    pub file: String,
    /// Stable name.
    pub name: Key,
    /// Whose course this is and what it shows; an invented person is said to be invented.
    pub about: String,
    /// What is fixed when the episode opens.
    pub episode: Episode,
    /// What happened, in order of date.
    pub steps: Vec<Step>,
}

/// What was reported at one moment of a day, and whether the next prescription was asked for after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Step {
    /// The civil date on which it is told; what happened may be dated earlier.
    pub date: Date,
    /// Where the day stands in the file: bytes of its table's header.
    pub span: Range<usize>,
    /// Its line in the file, from 1.
    pub line: usize,
    /// Which of the file's days it is, from 0.
    pub day: usize,
    /// What was reported, in order.
    pub entries: Vec<Entry>,
    /// Whether the next prescription is asked for, and what is expected.
    pub ask: Option<Expected>,
}

/// Something reported.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Entry {
    /// A fact that needs nothing else to be known.
    Fact(Fact),
    /// A session told relative to the prescription in force.
    Session(SessionPlan),
    /// A clinician's answer to the proposal that is open.
    SignOff {
        /// The civil date.
        date: Date,
        /// Whether it was accepted.
        accepted: bool,
        /// By whom.
        who: Key,
    },
}

/// A session told relative to the prescription in force.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SessionPlan {
    /// The civil date.
    pub date: Date,
    /// Which of the day's sessions, from 1.
    pub number: u8,
    /// Values of the session as a whole.
    pub readings: Vec<Reading>,
    /// Where given, every exercise in force that is not named below was done as prescribed, with these values.
    pub rest: Option<Vec<Reading>>,
    /// Exercises told one by one.
    pub exercises: Vec<ExercisePlan>,
}

/// An exercise of a session.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ExercisePlan {
    /// Which.
    pub exercise: Key,
    /// How it was done.
    pub how: How,
    /// Its values.
    pub readings: Vec<Reading>,
}

/// How an exercise was done.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum How {
    /// Every prescribed set, repetition and second.
    AsPrescribed,
    /// These sets.
    Sets(Vec<SetDone>),
    /// Skipped because of pain.
    SkippedForPain,
    /// Skipped otherwise.
    SkippedOtherwise,
}

/// One exercise of a prescription in force, as far as a session plan needs it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Prescribed {
    /// The exercise.
    pub exercise: Key,
    /// Its dose.
    pub dose: Vec<(Variable, RowValue)>,
}

/// What is expected of a decision. What is not named is not compared.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Expected {
    /// The outcome.
    pub outcome: Option<Outcome>,
    /// The phase in force afterwards (of a proposal: once it is accepted).
    pub phase: Option<Key>,
    /// Moves by line.
    pub moves: Vec<(Key, Move)>,
    /// Exercises in place afterwards, by line.
    pub places: Vec<(Key, Key)>,
    /// Parts of doses prescribed, by exercise.
    pub doses: Vec<(Key, Vec<(Variable, RowValue)>)>,
    /// Rules and limits that must be among the causes.
    pub because: Vec<Key>,
    /// Exercises that must not be prescribed.
    pub absent: Vec<Key>,
    /// Every review rule that asks for a clinician's look, and no other.
    pub reviews: Option<Vec<Key>>,
}

impl Entry {
    /// The civil date on which it happened.
    #[must_use]
    pub const fn date(&self) -> Date {
        match self {
            Self::Fact(fact) => fact.date,
            Self::Session(plan) => plan.date,
            Self::SignOff { date, .. } => *date,
        }
    }

    /// The fact to report, given what is prescribed and which proposal is open. None for an answer while nothing is
    /// proposed.
    #[must_use]
    pub fn resolve(&self, prescribed: &[Prescribed], proposal: Option<DecisionNo>) -> Option<Fact> {
        match self {
            Self::Fact(fact) => Some(fact.clone()),
            Self::Session(plan) => Some(plan.resolve(prescribed)),
            Self::SignOff {
                date,
                accepted,
                who,
            } => Some(Fact {
                date: *date,
                by: Reporter::Clinician,
                kind: FactKind::SignOff {
                    decision: proposal?,
                    accepted: *accepted,
                    who: who.clone(),
                },
            }),
        }
    }
}

impl SessionPlan {
    /// The session as a fact, given what is prescribed. An exercise told as prescribed that is not prescribed was done
    /// in no set.
    #[must_use]
    pub fn resolve(&self, prescribed: &[Prescribed]) -> Fact {
        let mut exercises: Vec<ExerciseReport> = Vec::new();
        if let Some(rest) = &self.rest {
            let others = prescribed.iter().filter(|one| !self.names(&one.exercise));
            exercises.extend(others.map(|one| ExerciseReport {
                exercise: one.exercise.clone(),
                done: Done::Done,
                sets: as_prescribed(&one.dose),
                readings: rest.clone(),
            }));
        }
        exercises.extend(self.exercises.iter().map(|plan| {
            let dose = prescribed.iter().find(|one| one.exercise == plan.exercise);
            let (done, sets) = match &plan.how {
                How::AsPrescribed => (
                    Done::Done,
                    dose.map(|one| as_prescribed(&one.dose)).unwrap_or_default(),
                ),
                How::Sets(sets) => (Done::Done, sets.clone()),
                How::SkippedForPain => (Done::SkippedForPain, Vec::new()),
                How::SkippedOtherwise => (Done::SkippedOtherwise, Vec::new()),
            };
            ExerciseReport {
                exercise: plan.exercise.clone(),
                done,
                sets,
                readings: plan.readings.clone(),
            }
        }));
        Fact {
            date: self.date,
            by: Reporter::Patient,
            kind: FactKind::Session(Session {
                number: self.number,
                followed: None,
                readings: self.readings.clone(),
                exercises,
            }),
        }
    }

    fn names(&self, exercise: &Key) -> bool {
        self.exercises.iter().any(|plan| plan.exercise == *exercise)
    }
}

/// Every prescribed set in full; one where the dose counts no sets.
pub(crate) fn as_prescribed(dose: &[(Variable, RowValue)]) -> Vec<SetDone> {
    let count = |variable: Variable| {
        dose.iter()
            .find(|(of, _)| *of == variable)
            .and_then(|(_, value)| match value {
                RowValue::Number(Milli(number)) => u16::try_from(number / 1000).ok(),
                RowValue::Label(_) => None,
            })
    };
    let set = SetDone {
        reps: count(Variable::Reps),
        hold_s: count(Variable::HoldTime),
    };
    vec![set; usize::from(count(Variable::Sets).unwrap_or(1))]
}

#[cfg(test)]
mod tests;

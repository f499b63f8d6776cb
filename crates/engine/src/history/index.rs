//! The index of a history: facts by the pack's own numbers, in the order in which they happened.
//!
//! Corrections are applied here: a voided fact is left out, a replacement stands at the original's position and is
//! known from the correction's on. What a pack does not know is left out too; admitting refuses it beforehand.
//!
//! Leaves to others: which facts a sentence reads (`crate::evaluate`).

mod build;
mod rows;
mod values;

pub(crate) use rows::{
    Accepted, Away, CorrectionAt, DirectiveAt, EquipmentAt, Event, Exercised, Mark, Morning,
    PersonRefer, SessionFact, SessionKey, Sheet, Touch, Val, Values, value_in,
};
pub(crate) use values::{worse_of, worst_end};

use crate::decision::Decision;
use crate::fact::{Body, DecisionNo, Fact, FactKind, Position, Record};
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, ExerciseIx};

/// Facts by the pack's numbers. Every list of facts is in order of date, then position.
#[derive(Clone, Debug)]
pub(crate) struct Index {
    /// Digest of the pack whose numbers these are.
    pub(crate) pack: [u8; 32],
    /// Records that are decisions, by number.
    pub(crate) decisions: Vec<u32>,
    /// By decision: the exercises that its state has in force, and those once it is accepted.
    pub(crate) prescribed: Vec<[Vec<ExerciseIx>; 2]>,
    /// Sessions in order of date, number, position.
    pub(crate) sessions: Vec<SessionFact>,
    /// What looking back needs of each session, in the same order.
    pub(crate) marks: Vec<Mark>,
    /// Whether no session followed an older decision than one before it.
    pub(crate) in_step: bool,
    /// By exercise: the sessions (indexes into `sessions`) in which it was done or skipped for pain.
    pub(crate) of_exercise: Vec<Vec<u32>>,
    /// Assessments.
    pub(crate) assessments: Vec<Sheet>,
    /// Screenings.
    pub(crate) screenings: Vec<Sheet>,
    /// Events.
    pub(crate) events: Vec<Event>,
    /// Lists of what the person owns.
    pub(crate) equipment: Vec<EquipmentAt>,
    /// Days away.
    pub(crate) aways: Vec<Away>,
    /// Directives, in order of position.
    pub(crate) directives: Vec<DirectiveAt>,
    /// Sign-offs that accepted a proposal that could still be accepted, in order of position.
    pub(crate) accepted: Vec<Accepted>,
    /// Proposals that a clinician rejected.
    pub(crate) rejected: Vec<DecisionNo>,
    /// Refer rules of the person that latched elsewhere.
    pub(crate) person_refers: Vec<PersonRefer>,
    /// Corrections, in order of position.
    pub(crate) corrections: Vec<CorrectionAt>,
    /// What became known when, in that order.
    pub(crate) touches: Vec<Touch>,
    /// Indexes into `touches`, in order of date.
    pub(crate) touches_by_date: Vec<u32>,
    /// Dates of sessions for which a morning-after came before the session was known.
    pub(crate) orphans: Vec<Date>,
}

impl Index {
    /// An index of nothing.
    pub(crate) fn new(pack: &CheckedPack) -> Self {
        Self {
            pack: pack.digest,
            decisions: Vec::new(),
            prescribed: Vec::new(),
            sessions: Vec::new(),
            marks: Vec::new(),
            in_step: true,
            of_exercise: vec![Vec::new(); pack.exercises.len()],
            assessments: Vec::new(),
            screenings: Vec::new(),
            events: Vec::new(),
            equipment: Vec::new(),
            aways: Vec::new(),
            directives: Vec::new(),
            accepted: Vec::new(),
            rejected: Vec::new(),
            person_refers: Vec::new(),
            corrections: Vec::new(),
            touches: Vec::new(),
            touches_by_date: Vec::new(),
            orphans: Vec::new(),
        }
    }

    /// The sessions in which an exercise was done or skipped for pain, as indexes into [`Index::sessions`].
    pub(crate) fn sessions_of(&self, exercise: ExerciseIx) -> &[u32] {
        self.of_exercise
            .get(exercise.at())
            .map_or(&[], Vec::as_slice)
    }

    /// The exercises that decision `no` prescribed on `date`: of a proposal those once accepted from the day on which it
    /// was.
    pub(crate) fn prescribed_on(&self, no: DecisionNo, date: Date) -> &[ExerciseIx] {
        let Some([stands, accepted]) = self.prescribed.get(no.0 as usize) else {
            return &[];
        };
        let mut acceptances = self.accepted.iter();
        if acceptances.any(|one| one.decision == no && one.date <= date) {
            accepted
        } else {
            stands
        }
    }

    /// Where a session stands in [`Index::sessions`].
    pub(crate) fn session_at(&self, key: SessionKey) -> Option<usize> {
        self.sessions
            .binary_search_by_key(&key, SessionFact::key)
            .ok()
    }
}

/// The fact that a record holds: its own, or the replacement that it brings as a correction.
pub(crate) fn fact_of(record: &Record) -> Option<&Fact> {
    match &record.body {
        Body::Fact(fact) => match &fact.kind {
            FactKind::Correction(correction) => correction.replacement.as_deref(),
            _ => Some(fact),
        },
        Body::Decision(_) => None,
    }
}

/// The decision that a record holds.
pub(crate) fn decision_of(record: &Record) -> Option<&Decision> {
    match &record.body {
        Body::Decision(decision) => Some(decision),
        Body::Fact(_) => None,
    }
}

/// Where `position` stands among records in order of position.
pub(crate) fn record_at(records: &[Record], position: Position) -> Option<usize> {
    records
        .binary_search_by_key(&position, |record| record.position)
        .ok()
}

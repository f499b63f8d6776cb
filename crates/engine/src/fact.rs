//! Facts: what was reported, independent of any pack, by name.
//!
//! A [`Record`] is a fact or a decision with its place in the ledger. Facts that a pack does not know are refused
//! before they are recorded (`crate::admit`), so that deciding is total.
//!
//! Leaves to others: what the names mean (`rungwise-pack`) and how facts are stored (`rungwise-api`).

use crate::decision::Decision;
use jiff::civil::Date;
use rungwise_pack::model::Reporter;
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::{Key, Milli, Variable};

/// A position in the clinic's ledger. It orders everything of an episode, clinic-wide directives included, by when it
/// became known here.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Position(pub u64);

/// The how-manieth decision of an episode, from 0, counting every decision recorded.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct DecisionNo(pub u32);

/// What is fixed when an episode opens.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Episode {
    /// The day it opened. Nothing but an imported history is dated before it.
    pub opened_on: Date,
    /// Date of birth, where known.
    pub born_on: Option<Date>,
    /// Whether it was imported mid-course: sessions from before it opened are welcome.
    pub imported: bool,
}

/// A fact or a decision at its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Record {
    /// Where it stands in the ledger.
    pub position: Position,
    /// The civil date of the day on which it was recorded here (UTC), for "known here at".
    pub recorded_on: Date,
    /// What it is.
    pub body: Body,
}

/// What a record holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Body {
    /// Something reported.
    Fact(Fact),
    /// Something decided.
    Decision(Box<Decision>),
}

/// One fact.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Fact {
    /// The civil date on which it happened.
    pub date: Date,
    /// Who reported it.
    pub by: Reporter,
    /// What happened.
    pub kind: FactKind,
}

/// What a fact says.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum FactKind {
    /// A session of exercise.
    Session(Session),
    /// How it was the morning after a session.
    MorningAfter(MorningAfter),
    /// A clinician's assessment.
    Assessment(Assessment),
    /// Answers to the screening questions.
    Screening(Vec<Reading>),
    /// Something that happened, by the pack's name for it.
    Event(Key),
    /// Days away, from the fact's date to `until`, both included. They leave adherence and not lay-off.
    Away {
        /// Last day away.
        until: Date,
    },
    /// What the person owns. Replaces what was owned before.
    Equipment(Equipment),
    /// A clinician's word.
    Directive(Directive),
    /// A clinician's answer to a proposal.
    SignOff {
        /// The proposed decision.
        decision: DecisionNo,
        /// Whether it was accepted.
        accepted: bool,
        /// By whom.
        who: Key,
    },
    /// A refer rule of the person latched in another episode of theirs.
    PersonRefer {
        /// The rule.
        rule: Key,
    },
    /// A correction of an earlier fact.
    Correction(Correction),
}

/// What a person owns, and the room there is.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Equipment {
    /// Pieces by the pack's names.
    pub owned: Vec<Key>,
    /// Bands that were measured.
    pub bands: Vec<MeasuredBand>,
    /// The furthest that there is room to stand from an anchor, in mm; none: as far as the pack allows.
    pub room_mm: Option<i64>,
}

/// A band, cut to a length, with what a hanging scale said of it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MeasuredBand {
    /// What the clinic calls it.
    pub label: Key,
    /// Its length where nothing pulls, in mm.
    pub rest_length_mm: i64,
    /// The readings.
    pub points: Vec<BandPoint>,
    /// How far it may be stretched, in percent of its rest length; at most as far as it was measured.
    pub elongation_max: Milli,
    /// Whether it may be folded double.
    pub may_be_doubled: bool,
}

/// One reading of a hanging scale.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct BandPoint {
    /// By how much it was longer than at rest, in percent of its rest length.
    pub elongation: Milli,
    /// The force, in N.
    pub force: Milli,
}

/// One value of one measure.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Reading {
    /// The measure's name.
    pub measure: Key,
    /// Its value.
    pub value: Value,
}

/// A reported value.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Value {
    /// A number in the measure's unit.
    Number(Milli),
    /// A choice by its word.
    Choice(Key),
    /// Could not, because of pain: counts as the worst end of the measure's range, or its worst choice. Refused for a
    /// measure without a worse direction.
    CouldNot,
}

/// A session. Two on one day carry their numbers, 1 and 2.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Session {
    /// Which of the day's sessions, from 1.
    pub number: u8,
    /// The decision it followed; by default the last one in force, recorded before this fact and dated on or before
    /// this session's date. A session that followed none counts for nothing upwards.
    pub followed: Option<DecisionNo>,
    /// Values of the session as a whole.
    pub readings: Vec<Reading>,
    /// Exercise by exercise. A prescribed exercise that is absent counts as skipped for another reason.
    pub exercises: Vec<ExerciseReport>,
}

/// One exercise of a session.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ExerciseReport {
    /// Which.
    pub exercise: Key,
    /// Whether it was done.
    pub done: Done,
    /// Set by set; empty where it was not done.
    pub sets: Vec<SetDone>,
    /// Values of its measures; several of one measure (one a set) are reduced to the worst.
    pub readings: Vec<Reading>,
}

/// Whether an exercise was done.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Done {
    /// It was, in whole or in part.
    Done,
    /// Skipped because of pain: over its limit, and its measures are at their worst.
    SkippedForPain,
    /// Skipped otherwise: a missing value for enter and discharge, nothing for the rest.
    SkippedOtherwise,
}

/// One set as done. What is absent was not reported and reaches no rung that asks for it.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct SetDone {
    /// Repetitions.
    pub reps: Option<u16>,
    /// Hold time in seconds.
    pub hold_s: Option<u16>,
}

/// A morning-after report.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MorningAfter {
    /// The date of the session that it belongs to; by default the day before the fact's date.
    pub session_date: Date,
    /// Which of that day's sessions; by default the day's last.
    pub session_number: Option<u8>,
    /// Its values.
    pub readings: Vec<Reading>,
}

/// An assessment.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Assessment {
    /// Values of the affected side, or of the person.
    pub readings: Vec<Reading>,
    /// Values of the other side.
    pub other_side: Vec<Reading>,
    /// Whether the other side was reported sound; not said is not sound.
    pub other_side_sound: bool,
}

/// A clinician's directive.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Directive {
    /// Who gave it.
    pub who: Key,
    /// Why.
    pub why: String,
    /// The last day on which it binds; none: until withdrawn.
    pub until: Option<Date>,
    /// Whether it was given for the whole clinic (cautious kinds only).
    pub clinic_wide: bool,
    /// What it says.
    pub order: Order,
}

/// What a directive orders. Only `Place`, `Clear` and `Reopen` move anything; the rest bound from above.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Order {
    /// Nothing goes up while it binds (at most HOLD).
    Hold,
    /// The dose of an exercise (or of every one) in this variable is at most this value.
    Cap {
        /// Which exercise; none: every one.
        exercise: Option<Key>,
        /// Which variable.
        variable: Variable,
        /// The highest allowed value, compared by the row's own order; a number that is not in the row means the
        /// highest row value at or below it.
        at_most: RowValue,
    },
    /// An exercise is not prescribed. Its line keeps its slot.
    LeaveOut {
        /// Which.
        exercise: Key,
    },
    /// An exercise that the phase does not list is allowed in it, from its start rung, as if the phase listed it.
    Add {
        /// Which.
        exercise: Key,
    },
    /// The dose of an exercise is set (bounded from above: it never raises the dose in force).
    SetDose {
        /// Which.
        exercise: Key,
        /// Values of some of its rows.
        dose: Vec<(Variable, RowValue)>,
    },
    /// Phase and places from here on. Starts a new stay, sets every place anew, ends withdrawals of exercises placed.
    Place {
        /// The phase.
        phase: Key,
        /// Exercises with the values of their rows (rows not named: the start rung's). Lines not named are
        /// introduced as usual.
        places: Vec<(Key, Vec<(Variable, RowValue)>)>,
    },
    /// "First" and "best" assessments count from this date on.
    NewBaseline,
    /// Unlatches these refer rules.
    Clear {
        /// Which rules.
        rules: Vec<Key>,
    },
    /// Nothing is prescribed while it binds (at most HOLD, every line not prescribed, places kept).
    Pause,
    /// Discharge now, with the maintenance prescription.
    Discharge,
    /// Ends a discharge: begins a new stay in the phase left, every place set anew where it stood.
    Reopen,
    /// A corrected fact's consequences were looked at (rule 10): the hold that it caused ends.
    Confirm,
    /// Ends an earlier directive.
    Withdraw {
        /// Where that one stands.
        directive: Position,
    },
}

/// A correction.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Correction {
    /// The corrected fact's place.
    pub of: Position,
    /// Who corrects.
    pub who: Key,
    /// Why.
    pub why: String,
    /// What stands in its place; none: the fact is void. A replacement is dated by itself, stands at the *original's*
    /// position for ordering, and is new at the correction's position.
    pub replacement: Option<Box<Fact>>,
}

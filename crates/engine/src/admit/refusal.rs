//! What may be wrong with a fact: one named variant each, saying what is wrong and what would be right.
//!
//! Leaves to others: finding it (the rest of `crate::admit`), and how it travels (`rungwise-api`).

use jiff::civil::Date;
use rungwise_pack::decimal::DecimalError;
use rungwise_pack::quantity::{Key, Milli, Variable};
use std::fmt;

/// One thing wrong with a fact.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Refusal {
    /// The field, such as `session.exercises[2].readings[0].value`.
    pub path: String,
    /// What is wrong with it.
    pub wrong: Wrong,
}

/// What a name stands for, where it is not known.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Noun {
    /// A measure.
    Measure,
    /// An exercise.
    Exercise,
    /// A kind of event.
    Event,
    /// A piece of equipment.
    Equipment,
    /// A rule.
    Rule,
    /// A phase.
    Phase,
}

impl Noun {
    /// The word, and the name of the refusal.
    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Measure => ("measure", "UNKNOWN_MEASURE"),
            Self::Exercise => ("exercise", "UNKNOWN_EXERCISE"),
            Self::Event => ("kind of event", "UNKNOWN_EVENT"),
            Self::Equipment => ("equipment", "UNKNOWN_EQUIPMENT"),
            Self::Rule => ("rule", "UNKNOWN_RULE"),
            Self::Phase => ("phase", "UNKNOWN_PHASE"),
        }
    }
}

/// What is wrong with a field of a fact.
#[derive(Clone, PartialEq, Eq, Debug)]
#[allow(
    missing_docs,
    reason = "the fields are the words of the message, which `wrong` and `right` spell out"
)]
pub enum Wrong {
    /// The pack has nothing of that name.
    Unknown {
        noun: Noun,
        name: Key,
        meant: Option<Key>,
        known: Vec<Key>,
    },
    /// The pack works the measure out; nobody reports it.
    WorkedOut { measure: Key },
    /// The measure belongs to another kind of fact, or to another part of it.
    WrongCarrier { measure: Key, carrier: &'static str },
    /// A number where a choice is wanted, or the other way round.
    WrongKind { measure: Key, wanted: &'static str },
    /// Not one of the measure's choices.
    UnknownChoice {
        measure: Key,
        given: Key,
        choices: Vec<Key>,
    },
    /// Outside the measure's range.
    OutOfRange {
        given: Milli,
        min: Milli,
        max: Milli,
        unit: Key,
    },
    /// Inside the range but between two steps.
    OffStep {
        given: Milli,
        step: Milli,
        below: Milli,
        above: Milli,
        unit: Key,
    },
    /// Not a plain decimal number, or finer than thousandths.
    NotANumber { given: String, why: DecimalError },
    /// A value in another unit than the measure's. Values are never converted.
    WrongUnit {
        measure: Key,
        given: String,
        wanted: Key,
    },
    /// `could not` for a measure of which no end is worse.
    NoWorseEnd { measure: Key },
    /// The other side given for a measure of the person.
    OneSided { measure: Key },
    /// The same name twice where one is allowed.
    Twice { name: Key },
    /// Dated before the episode opened, which was not imported.
    BeforeOpened { opened_on: Date },
    /// Dated before the person was born.
    BeforeBirth { born_on: Date },
    /// Dated more than a day ahead.
    InTheFuture { latest: Date },
    /// Ends before it begins.
    EndsBeforeItBegins { begins: Date },
    /// Longer than is accepted.
    TooLong { days_max: i32 },
    /// More of something than is accepted.
    TooMany { count: usize, count_max: usize },
    /// A number outside what is accepted.
    OutOfBounds { given: u32, min: u32, max: u32 },
    /// A session of that date and number was reported already.
    DuplicateSession { date: Date, number: u8 },
    /// No decision of that number.
    UnknownDecision { count: usize },
    /// The session is dated before the decision that it is said to follow, or that decision prescribes nothing.
    FollowsNothing { decision: u32, why: &'static str },
    /// Sets or values of an exercise that was not done.
    NotDone,
    /// A morning-after dated on or before its session's day.
    NotYetMorning { earliest: Date },
    /// A morning-after of a session that nobody reported.
    NoSuchSession { date: Date, number: Option<u8> },
    /// A second morning-after of the same session.
    DuplicateMorningAfter { date: Date, number: u8 },
    /// The position holds no fact of this episode.
    NotAFact { position: u64 },
    /// The fact was voided already.
    AlreadyVoid { position: u64 },
    /// A fact of a kind that is ended in another way.
    NotCorrectable {
        kind: &'static str,
        instead: &'static str,
    },
    /// A replacement of another kind than the fact it replaces.
    OtherKind {
        was: &'static str,
        given: &'static str,
    },
    /// No proposal waits under this decision number.
    NoOpenProposal { decision: u32, why: &'static str },
    /// Only cautious directives may bind a whole clinic.
    TooBoldForAClinic { order: &'static str },
    /// Only a clinician may say this.
    NotAClinician { what: &'static str },
    /// Left empty.
    Empty,
    /// Longer than is accepted.
    TextTooLong { bytes: usize, bytes_max: usize },
    /// A value that the exercise's ladder does not have.
    UnknownValue {
        variable: Variable,
        given: String,
        values: Vec<String>,
    },
    /// A variable that the exercise's ladder does not have.
    NoSuchRow {
        exercise: Option<Key>,
        variable: Variable,
        variables: Vec<&'static str>,
    },
    /// Each value is on the ladder, but no rung combines them.
    NoSuchRung {
        exercise: Key,
        nearest: Option<String>,
    },
    /// An exercise that the phase does not have.
    NotInPhase { exercise: Key, phase: Key },
    /// Two exercises of one line.
    SameLine { exercise: Key, other: Key },
    /// A rule that is not a refer rule (or not one of the person).
    NotARefer { rule: Key, wanted: &'static str },
    /// The position holds no directive that still stands.
    NotADirective { position: u64 },
    /// There is no discharge to end.
    NotDischarged,
    /// No reading of a band that is stretched.
    TooFewReadings,
    /// A band's force that does not rise with its elongation.
    NotRising {
        elongation: Milli,
        force: Milli,
        below_elongation: Milli,
        below_force: Milli,
    },
}

impl Wrong {
    /// The stable name of this refusal, for programs. Never reused for another meaning.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Unknown { noun, .. } => noun.words().1,
            Self::WorkedOut { .. } => "MEASURE_WORKED_OUT",
            Self::WrongCarrier { .. } => "WRONG_CARRIER",
            Self::WrongKind { .. } => "WRONG_KIND",
            Self::UnknownChoice { .. } => "UNKNOWN_CHOICE",
            Self::OutOfRange { .. } => "OUT_OF_RANGE",
            Self::OffStep { .. } => "OFF_STEP",
            Self::NotANumber { .. } => "NOT_A_NUMBER",
            Self::WrongUnit { .. } => "WRONG_UNIT",
            Self::NoWorseEnd { .. } => "NO_WORSE_END",
            Self::OneSided { .. } => "ONE_SIDED",
            Self::Twice { .. } => "NAMED_TWICE",
            Self::BeforeOpened { .. } => "BEFORE_OPENED",
            Self::BeforeBirth { .. } => "BEFORE_BIRTH",
            Self::InTheFuture { .. } => "IN_THE_FUTURE",
            Self::EndsBeforeItBegins { .. } => "ENDS_BEFORE_IT_BEGINS",
            Self::TooLong { .. } => "TOO_LONG",
            Self::TooMany { .. } => "TOO_MANY",
            Self::OutOfBounds { .. } => "OUT_OF_BOUNDS",
            Self::DuplicateSession { .. } => "DUPLICATE_SESSION",
            Self::UnknownDecision { .. } => "UNKNOWN_DECISION",
            Self::FollowsNothing { .. } => "FOLLOWS_NOTHING",
            Self::NotDone => "NOT_DONE",
            Self::NotYetMorning { .. } => "NOT_YET_MORNING",
            Self::NoSuchSession { .. } => "NO_SUCH_SESSION",
            Self::DuplicateMorningAfter { .. } => "DUPLICATE_MORNING_AFTER",
            Self::NotAFact { .. } => "NOT_A_FACT",
            Self::AlreadyVoid { .. } => "ALREADY_VOID",
            Self::NotCorrectable { .. } => "NOT_CORRECTABLE",
            Self::OtherKind { .. } => "OTHER_KIND",
            Self::NoOpenProposal { .. } => "NO_OPEN_PROPOSAL",
            Self::TooBoldForAClinic { .. } => "TOO_BOLD_FOR_A_CLINIC",
            Self::NotAClinician { .. } => "NOT_A_CLINICIAN",
            Self::Empty => "EMPTY",
            Self::TextTooLong { .. } => "TEXT_TOO_LONG",
            Self::UnknownValue { .. } => "UNKNOWN_VALUE",
            Self::NoSuchRow { .. } => "NO_SUCH_ROW",
            Self::NoSuchRung { .. } => "NO_SUCH_RUNG",
            Self::NotInPhase { .. } => "NOT_IN_PHASE",
            Self::SameLine { .. } => "SAME_LINE",
            Self::NotARefer { .. } => "NOT_A_REFER_RULE",
            Self::NotADirective { .. } => "NOT_A_DIRECTIVE",
            Self::NotDischarged => "NOT_DISCHARGED",
            Self::TooFewReadings => "TOO_FEW_READINGS",
            Self::NotRising { .. } => "NOT_RISING",
        }
    }

    /// What is wrong, in one clause.
    #[must_use]
    pub fn wrong(&self) -> String {
        self.wrong_value()
            .or_else(|| self.wrong_time())
            .unwrap_or_else(|| self.wrong_order())
    }

    fn wrong_value(&self) -> Option<String> {
        Some(match self {
            Self::Unknown { noun, name, .. } => format!("unknown {} `{name}`", noun.words().0),
            Self::WorkedOut { measure } => format!("`{measure}` is worked out and not reported"),
            Self::WrongCarrier { measure, .. } => format!("`{measure}` is not reported here"),
            Self::WrongKind { measure, .. } => format!("`{measure}` takes another kind of value"),
            Self::UnknownChoice { measure, given, .. } => {
                format!("`{given}` is not a choice of `{measure}`")
            }
            Self::OutOfRange { given, unit, .. } => {
                format!("{} is out of range", with_unit(*given, unit))
            }
            Self::OffStep { given, unit, .. } => {
                format!("{} is between two steps", with_unit(*given, unit))
            }
            Self::NotANumber { given, why } => format!("`{given}` is {why}"),
            Self::WrongUnit { measure, given, .. } if given.is_empty() => {
                format!("`{measure}` came without a unit")
            }
            Self::WrongUnit { measure, given, .. } => {
                format!("`{measure}` is not measured in `{given}`")
            }
            Self::NoWorseEnd { measure } => {
                format!("`could not` says nothing of `{measure}`, of which no end is worse")
            }
            Self::OneSided { measure } => format!("`{measure}` has no other side"),
            Self::Twice { name } => format!("`{name}` is named twice"),
            Self::NotDone => "the exercise was not done".into(),
            Self::TooMany { count, .. } => format!("{count} are too many"),
            Self::OutOfBounds { given, .. } => format!("{given} is out of bounds"),
            Self::Empty => "left empty".into(),
            Self::TextTooLong { bytes, .. } => format!("{bytes} bytes are too long"),
            Self::TooFewReadings => "no reading of the band stretched".into(),
            Self::NotRising {
                elongation,
                force,
                below_elongation,
                below_force,
            } => format!(
                "{force} N at {elongation} % is not above {below_force} N at {below_elongation} %"
            ),
            _ => return None,
        })
    }

    fn wrong_time(&self) -> Option<String> {
        Some(match self {
            Self::BeforeOpened { .. } => "dated before the episode opened".into(),
            Self::BeforeBirth { .. } => "dated before the person was born".into(),
            Self::InTheFuture { .. } => "dated in the future".into(),
            Self::EndsBeforeItBegins { .. } => "ends before it begins".into(),
            Self::TooLong { .. } => "lasts too long".into(),
            Self::DuplicateSession { date, number } => {
                format!("session {number} of {date} was reported already")
            }
            Self::UnknownDecision { .. } => "no decision has this number".into(),
            Self::FollowsNothing { decision, why } => format!("decision {decision} {why}"),
            Self::NotYetMorning { .. } => "dated before the morning after".into(),
            Self::NoSuchSession { date, number: None } => {
                format!("no session of {date} was reported")
            }
            Self::NoSuchSession {
                date,
                number: Some(number),
            } => {
                format!("no session {number} of {date} was reported")
            }
            Self::DuplicateMorningAfter { date, number } => {
                format!("the morning after session {number} of {date} was reported already")
            }
            Self::NotAFact { position } => {
                format!("position {position} holds no fact of this episode")
            }
            Self::AlreadyVoid { position } => {
                format!("the fact at position {position} is void already")
            }
            Self::NotCorrectable { kind, .. } => format!("a {kind} cannot be corrected"),
            Self::OtherKind { was, given } => format!("`{given}` cannot replace `{was}`"),
            _ => return None,
        })
    }

    fn wrong_order(&self) -> String {
        match self {
            Self::NoOpenProposal { decision, why } => format!("decision {decision} {why}"),
            Self::TooBoldForAClinic { order } => format!("`{order}` cannot bind a whole clinic"),
            Self::NotAClinician { what } => format!("a {what} is a clinician's"),
            Self::UnknownValue {
                variable, given, ..
            } => {
                format!("the ladder has no {} `{given}`", variable.word())
            }
            Self::NoSuchRow {
                exercise: Some(exercise),
                variable,
                ..
            } => {
                format!("the ladder of `{exercise}` has no {}", variable.word())
            }
            Self::NoSuchRow {
                exercise: None,
                variable,
                ..
            } => {
                format!("no ladder has {}", variable.word())
            }
            Self::NoSuchRung { exercise, .. } => {
                format!("no rung of `{exercise}` combines these values")
            }
            Self::NotInPhase { exercise, phase } => {
                format!("`{exercise}` is not an exercise of `{phase}`")
            }
            Self::SameLine { exercise, other } => {
                format!("`{exercise}` is of the same line as `{other}`")
            }
            Self::NotARefer { rule, wanted } => format!("`{rule}` is not {wanted}"),
            Self::NotADirective { position } => {
                format!("position {position} holds no directive that stands")
            }
            _ => "there is no discharge to end".into(),
        }
    }

    /// What would be right, as an instruction.
    #[must_use]
    pub fn right(&self) -> String {
        self.right_value()
            .or_else(|| self.right_time())
            .unwrap_or_else(|| self.right_order())
    }

    fn right_value(&self) -> Option<String> {
        Some(match self {
            Self::Unknown {
                meant: Some(meant), ..
            } => format!("did you mean `{meant}`?"),
            Self::Unknown { known, .. } if known.is_empty() => "this pack declares none".into(),
            Self::Unknown { known, .. } => format!("one of {}", listed(known)),
            Self::WorkedOut { .. } => "leave it out".into(),
            Self::WrongCarrier { carrier, .. } => format!("report it with {carrier}"),
            Self::WrongKind { wanted, .. } => format!("give {wanted}"),
            Self::UnknownChoice { choices, .. } => format!("one of {}", listed(choices)),
            Self::OutOfRange { min, max, unit, .. } => {
                format!("{min} to {}", with_unit(*max, unit))
            }
            Self::OffStep {
                step,
                below,
                above,
                unit,
                ..
            } => {
                format!("steps of {}: {below} or {above}", with_unit(*step, unit))
            }
            Self::NotANumber { .. } => {
                "digits with at most three after the point, such as `1.5`".into()
            }
            Self::WrongUnit { wanted, .. } if wanted.is_empty() => {
                "give no unit with a choice".into()
            }
            Self::WrongUnit { wanted, .. } => {
                format!("give it in `{wanted}`; values are never converted")
            }
            Self::NoWorseEnd { .. } => "give a value or leave it out".into(),
            Self::OneSided { .. } => "give it once, with the affected side".into(),
            Self::Twice { .. } => "name it once".into(),
            Self::NotDone => "leave its sets and values out, or say that it was done".into(),
            Self::TooMany { count_max, .. } => format!("at most {count_max}"),
            Self::OutOfBounds { min, max, .. } => format!("{min} to {max}"),
            Self::Empty => "say who, why or what".into(),
            Self::TextTooLong { bytes_max, .. } => format!("at most {bytes_max} bytes"),
            Self::TooFewReadings => "at least one reading above 0 %; two or more are better".into(),
            Self::NotRising { below_force, .. } => {
                format!("above {below_force} N; a band pulls harder the further it is stretched")
            }
            _ => return None,
        })
    }

    fn right_time(&self) -> Option<String> {
        Some(match self {
            Self::BeforeOpened { opened_on } => {
                format!("a date from {opened_on} on; only an imported episode holds older sessions")
            }
            Self::BeforeBirth { born_on } => format!("a date from {born_on} on"),
            Self::InTheFuture { latest } => format!("a date up to {latest}"),
            Self::EndsBeforeItBegins { begins } => format!("a last day from {begins} on"),
            Self::TooLong { days_max } => format!("at most {days_max} days"),
            Self::DuplicateSession { .. } => {
                "give a second session of the day its own number, or correct the first".into()
            }
            Self::UnknownDecision { count: 0 } => "no decision was made yet".into(),
            Self::UnknownDecision { count } => format!("0 to {}", count.saturating_sub(1)),
            Self::FollowsNothing { .. } => {
                "leave it out to mean the decision in force on the session's date".into()
            }
            Self::NotYetMorning { earliest } => format!("a date from {earliest} on"),
            Self::NoSuchSession { .. } => "report the session first, or give its date".into(),
            Self::DuplicateMorningAfter { .. } => "correct the first one".into(),
            Self::NotAFact { .. } => "the position of a fact of this episode".into(),
            Self::AlreadyVoid { .. } => "report the fact anew".into(),
            Self::NotCorrectable { instead, .. } => (*instead).into(),
            Self::OtherKind { was, .. } => format!("void it, or replace it by another `{was}`"),
            _ => return None,
        })
    }

    fn right_order(&self) -> String {
        match self {
            Self::NoOpenProposal { .. } => "ask for the decision in force".into(),
            Self::TooBoldForAClinic { .. } => {
                "`hold`, `cap`, `leave out` or `pause`; the rest is given to one episode".into()
            }
            Self::NotAClinician { .. } => "report it by a clinician".into(),
            Self::UnknownValue { values, .. } => format!("one of {}", listed(values)),
            Self::NoSuchRow { variables, .. } => format!("one of {}", listed(variables)),
            Self::NoSuchRung {
                nearest: Some(nearest),
                ..
            } => {
                format!("the highest rung not above them is {nearest}")
            }
            Self::NoSuchRung { nearest: None, .. } => "its start rung, by naming no values".into(),
            Self::NotInPhase { .. } => {
                "add it first by a directive, or choose another phase".into()
            }
            Self::SameLine { .. } => "an episode has at most one place on each line".into(),
            Self::NotARefer { wanted, .. } => format!("the key of {wanted}"),
            Self::NotADirective { .. } => "the position of a directive of this episode".into(),
            _ => "leave it out".into(),
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.path, self.wrong.wrong())
    }
}

impl std::error::Error for Refusal {}

/// A number with its unit, which is left away where it says only that something is counted or scored.
fn with_unit(number: Milli, unit: &str) -> String {
    if unit == "1" || unit.starts_with('{') {
        return number.to_string();
    }
    format!("{number} {unit}")
}

/// Most names that one message lists.
const LISTED_MAX: usize = 12;

fn listed(names: &[impl AsRef<str>]) -> String {
    let mut text: Vec<String> = names
        .iter()
        .take(LISTED_MAX)
        .map(|name| format!("`{}`", name.as_ref()))
        .collect();
    if names.len() > LISTED_MAX {
        text.push(format!("{} more", names.len() - LISTED_MAX));
    }
    text.join(", ")
}

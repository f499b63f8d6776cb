//! Measures: the named things that facts give a value to, or that are worked out.

use super::{ChoiceIx, Combined, Criterion, MeasureIx};
use crate::quantity::{Key, Milli, Unit};

/// One measure.
#[derive(Clone, Debug)]
pub struct Measure {
    /// The name used verbatim in sentences, messages and explanations.
    pub name: Key,
    /// Number or choice.
    pub kind: MeasureKind,
    /// Which way is worse. A choice is always [`Worse::Higher`]: choices are declared best first.
    pub worse: Worse,
    /// Reported, combined, computed or defined.
    pub origin: Origin,
    /// Which fact carries it: of a combined measure, its parts. Computed and defined ones have [`Carrier::Nothing`].
    pub carrier: Carrier,
    /// Whether every fact of its carrier should carry it: lacking there, it is missing. Of a combined measure: whether a
    /// part of it should be carried.
    pub expected: bool,
    /// Whether the other side may be reported with it (assessments only).
    pub both_sides: bool,
    /// Whether percentages of it make sense (it has a true zero).
    pub ratio: bool,
    /// Days after its fact's date during which a value counts; later it is stale, which is missing.
    pub fresh_days: Option<u32>,
    /// Who is asked for it.
    pub reported_by: Vec<Reporter>,
}

/// What values a measure takes.
#[derive(Clone, Debug)]
pub enum MeasureKind {
    /// A number with its unit and its range, both ends included, in steps of `step` from `min`.
    Number {
        /// UCUM unit.
        unit: Unit,
        /// Least possible value.
        min: Milli,
        /// Greatest possible value.
        max: Milli,
        /// Resolution; a value must be `min` plus a whole number of steps.
        step: Milli,
    },
    /// One of a list, declared best first.
    Choice {
        /// The choices, best first, at least two.
        choices: Vec<Key>,
    },
}

/// Which way is worse.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Worse {
    /// Larger numbers (later choices) are worse.
    Higher,
    /// Smaller numbers are worse.
    Lower,
    /// Neither; the measure has no direction.
    Neither,
}

/// Where a value comes from.
#[derive(Clone, Debug)]
pub enum Origin {
    /// A fact says it.
    Reported,
    /// Worked out from what one fact says, so that it has a series like a reported one.
    Combined(Combined),
    /// Worked out from the history by a fixed recipe.
    Computed(Computed),
    /// Worked out from other sentences of the pack.
    Defined(Defined),
}

/// The fixed list of recipes. All but the last count whole days or whole sessions.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Computed {
    /// Whole days from the last session's date to `as_of`; from the first prescription's date while there is no
    /// session; unknown before the first prescription.
    DaysSinceLastSession,
    /// Sessions that followed a decision of this stay in the phase (in upward rules: the counted sessions).
    SessionsInPhase,
    /// Whole days since this stay in the phase began.
    DaysInPhase,
    /// Whole weeks (days divided by 7, rounded down) since this stay in the phase began.
    WeeksInPhase,
    /// Whole weeks since the episode opened.
    WeeksInCare,
    /// Sessions reported in the last `days` days as a percentage of those prescribed: 100 x sessions / (the phase's
    /// sessions a week x days / 7), over the days on which a prescription was in force and the person was not away.
    /// Never above 100. Not yet full while fewer than `days` days count since the first prescription.
    ShareDone {
        /// Length of the window, ending at `as_of`.
        days: u32,
    },
    /// Whole days since the decision that last set this exercise's place anew (exercise rules), or since the newest
    /// such decision over all places (phase rules).
    DaysSinceDoseChanged,
    /// Whole years of age at `as_of`; missing where the date of birth is not known.
    Age,
    /// Whole days since the latest event of this kind; never where there was none.
    DaysSince(Key),
    /// Whole weeks since the latest event of this kind; never where there was none.
    WeeksSince(Key),
    /// By how many per cent the seven days up to the newest session of an exercise are above the seven before them (exercise
    /// rules, or `of` one; elsewhere the highest over the exercises in force).
    WeekOnWeek {
        /// Of which volume load or time under tension.
        of: MeasureIx,
        /// Whether a week's total is compared; else the average of its sessions.
        in_total: bool,
    },
}

/// A choice worked out as the worst feature: the worst choice whose criterion is met, the best choice where none is.
/// Where a worse choice's criterion is unknown, the value is one of those choices or the one found: missing in part.
#[derive(Clone, Debug)]
pub struct Defined {
    /// Criteria by choice, at most one for each, none for the best choice.
    pub features: Vec<(ChoiceIx, Criterion)>,
}

/// Which fact carries a measure.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Carrier {
    /// Each exercise of a session (a list of one value a set is reduced to its worst).
    Exercise,
    /// A session as a whole.
    Session,
    /// A morning-after report, which belongs to its session.
    MorningAfter,
    /// An assessment.
    Assessment,
    /// A screening.
    Screening,
    /// Nothing: it is computed or defined.
    Nothing,
}

/// Who reports.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Reporter {
    /// The person treated.
    Patient,
    /// Somebody who cares for them.
    Carer,
    /// A licensed clinician.
    Clinician,
    /// A measuring device.
    Device,
}

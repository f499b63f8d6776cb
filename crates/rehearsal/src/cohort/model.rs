//! What virtual people are made of: every parameter with its unit, its range and what it stands for. Each is an assumption,
//! and none is evidence.
//!
//! A person has a hidden state from 0 (as bad as can be) to 1000 (recovered). Time and training lift it, a dose beyond what it
//! bears and flare-ups lower it, and what the pack asks about is told from it. A dose weighs by where it stands between the
//! first phase's gentlest and the last phase's hardest: a ladder that is cut otherwise weighs otherwise.
//!
//! Leaves to others: reading a file of them (`read`), drawing people (`super::person`), what they go through
//! (`super::life`).

mod read;

pub use read::ModelError;

use std::collections::BTreeMap;

/// A parameter: what it is called, what it stands for and what it is unless a file says otherwise.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Parameter {
    /// Its key in a file; the unit stands last.
    pub key: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Least allowed value.
    pub least: i64,
    /// Greatest allowed value.
    pub most: i64,
    /// What it is unless a file says otherwise.
    pub usual: Spread,
    /// Whether it is drawn for each person (or each flare-up, each time away) from a spread; else it is the same for all.
    pub drawn: bool,
    /// What it stands for.
    pub says: &'static str,
}

/// From the least to the greatest value that is drawn, both included.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Spread {
    /// The least.
    pub low: i64,
    /// The greatest.
    pub high: i64,
}

macro_rules! parameters {
    ($($name:ident, $key:literal, $unit:literal, $least:literal..=$most:literal, $usual:expr, $says:literal;)*) => {
        /// The parameters by name.
        #[derive(Clone, Copy, PartialEq, Eq, Debug)]
        pub(super) enum Of { $($name,)* }

        /// Every parameter, in the order in which they are told.
        pub const PARAMETERS: &[Parameter] = &[$({
            let (usual, drawn) = $usual;
            Parameter { key: $key, unit: $unit, least: $least, most: $most, usual, drawn, says: $says }
        },)*];
    };
}

/// Drawn for each.
const fn drawn(low: i64, high: i64) -> (Spread, bool) {
    (Spread { low, high }, true)
}

/// The same for all.
const fn same(value: i64) -> (Spread, bool) {
    let spread = Spread {
        low: value,
        high: value,
    };
    (spread, false)
}

parameters! {
    Start, "start_permille", "‰", 0..=1000, drawn(350, 700),
        "state on the first day";
    Ceiling, "ceiling_permille", "‰", 0..=1000, drawn(880, 1000),
        "state that the person comes to in the end";
    Recovery, "recovery_permille_a_week", "‰ a week", 0..=1000, drawn(100, 300),
        "share of what is missing up to there that a week of full training wins back";
    Untrained, "untrained_permille", "‰", 0..=1000, same(300),
        "share of that recovery that comes without training";
    FullWeek, "full_week_sessions", "sessions a week", 1..=14, same(3),
        "sessions a week at a dose near what is borne that make training full";
    LightDose, "light_dose_permille", "‰", 0..=1000, same(500),
        "what the lightest dose does of one near what is borne";
    Spare, "spare_permille", "‰", 0..=1000, same(150),
        "how far a dose may stand above the state before it is beyond what is borne";
    Irritability, "irritability_permille", "‰", 0..=10000, drawn(300, 2500),
        "symptoms that a dose adds, as a share of how far it is beyond what is borne";
    Lasting, "lasting_permille", "‰", 0..=1000, same(500),
        "share of these that is still felt the next morning";
    OverloadDrop, "overload_drop_permille", "‰", 0..=1000, same(50),
        "state lost for each session, as a share of how far it was beyond what is borne";
    OverloadFlare, "overload_flare_up_permille", "‰", 0..=10000, same(500),
        "chance of a flare-up after a session, as a share of how far it was beyond what is borne";
    Scatter, "scatter_permille", "‰", 0..=1000, drawn(5, 35),
        "how far symptoms are off from day to day, up or down; neighbouring days resemble each other";
    ExerciseScatter, "exercise_scatter_permille", "‰", 0..=1000, same(60),
        "how far an exercise hurts more or less than the others, for each person and exercise";
    AssessmentScatter, "assessment_scatter_permille", "‰", 0..=1000, same(10),
        "how far a value of an assessment is off, of the measure's range";
    EverydayShare, "everyday_share_permille", "‰", 0..=1000, same(500),
        "how bad a value of a session or a morning after is at state 0, of the measure's range";
    AssessmentShare, "assessment_share_permille", "‰", 0..=1000, same(600),
        "how bad a value of an assessment is at state 0, of the measure's range";
    Kept, "kept_permille", "‰", 0..=1000, drawn(750, 1000),
        "chance that a session that is due is kept on an ordinary day";
    KeptInFlareUp, "kept_in_flare_up_permille", "‰", 0..=1000, same(600),
        "chance, besides, that it is kept in a flare-up";
    ExerciseKept, "exercise_kept_permille", "‰", 0..=1000, drawn(985, 1000),
        "chance that an exercise of a kept session is not left out for another reason than pain";
    SkippedAt, "skipped_for_pain_from_permille", "‰", 0..=1000, same(750),
        "symptoms from which an exercise is skipped because of pain";
    SetsTold, "sets_told_permille", "‰", 0..=1000, drawn(950, 1000),
        "chance that the sets of a session are told";
    MorningTold, "morning_told_permille", "‰", 0..=1000, drawn(800, 1000),
        "chance that the morning after is told";
    ValueTold, "value_told_permille", "‰", 0..=1000, drawn(985, 1000),
        "chance that a value of a told session or morning after is told";
    FlareUps, "flare_ups_permille_a_year", "‰ a year", 0..=100000, drawn(0, 3000),
        "flare-ups that begin of themselves; 1000 is one a year";
    FlareUpDays, "flare_up_days", "days", 1..=90, drawn(3, 12),
        "how long a flare-up lasts; it wanes evenly";
    FlareUpDrop, "flare_up_drop_permille", "‰", 0..=1000, drawn(80, 300),
        "how far it lowers the state on its first day";
    FlareUpTold, "flare_up_told_permille", "‰", 0..=1000, same(800),
        "chance that it is told as an event";
    Away, "away_permille_a_year", "‰ a year", 0..=100000, drawn(0, 4000),
        "times away without training; 1000 is one a year";
    AwayDays, "away_days", "days", 1..=180, drawn(3, 14),
        "how long a time away lasts";
    AwayTold, "away_told_permille", "‰", 0..=1000, same(700),
        "chance that it is told beforehand; else it is a lay-off that nobody spoke of";
    WarningSigns, "warning_signs_permille_a_year", "‰ a year", 0..=100000, same(20),
        "warning signs that refer rules ask about; 1000 is one a year";
    OtherSideSound, "other_side_sound_permille", "‰", 0..=1000, same(900),
        "people whose other side is sound; it is then at its best";
    Age, "age_years", "years", 0..=110, drawn(30, 75),
        "age on the first day";
    AskedEvery, "asked_every_days", "days", 1..=28, same(3),
        "the next prescription is asked for, in the morning, every so many days";
    AssessedEvery, "assessed_every_days", "days", 1..=182, same(14),
        "an assessment every so many days, and not while away";
    ScreenedEvery, "screened_every_days", "days", 1..=182, same(42),
        "the screening questions every so many days, and not while away";
    AcceptedAfter, "accepted_after_days", "days", 0..=60, same(1),
        "a clinician accepts what is proposed after so many days";
    ClearedAfter, "cleared_after_days", "days", 1..=365, same(14),
        "a clinician clears a referral after so many days, its sign being gone";
    StuckWeeks, "stuck_weeks", "weeks", 1..=52, same(6),
        "stuck: so many weeks in which no line went up and no further phase was entered";
}

/// What a measure that a file names is like, in thousandths of its range from best to worst.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct MeasureModel {
    /// How bad it is at state 1000.
    pub recovered_permille: i64,
    /// How bad it is at state 0.
    pub worst_permille: i64,
}

/// A model: every parameter's value.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Model {
    values: Vec<Spread>,
    /// The event that tells a flare-up, where a pack has it.
    pub flare_up_event: String,
    /// Events of the first day; none: those without which a best course does not end.
    pub events_at_start: Option<Vec<String>>,
    /// Measures that are not as the rest of their carrier.
    pub measures: BTreeMap<String, MeasureModel>,
}

impl Default for Model {
    fn default() -> Self {
        Self {
            values: PARAMETERS.iter().map(|one| one.usual).collect(),
            flare_up_event: "flare-up".to_owned(),
            events_at_start: None,
            measures: BTreeMap::new(),
        }
    }
}

impl Model {
    /// Reads a file of TOML: what it does not name is as usual.
    ///
    /// # Errors
    /// Everything that is wrong with it, each naming its key.
    pub fn read(text: &str) -> Result<Self, Vec<ModelError>> {
        read::read(text)
    }

    /// The value of a parameter, or the spread from which it is drawn.
    #[must_use]
    pub fn value(&self, parameter: &Parameter) -> Spread {
        let at = PARAMETERS.iter().position(|one| one.key == parameter.key);
        at.and_then(|at| self.values.get(at).copied())
            .unwrap_or(parameter.usual)
    }

    /// The spread of a parameter.
    pub(super) fn spread(&self, of: Of) -> Spread {
        let none = Spread { low: 0, high: 0 };
        self.values.get(of as usize).copied().unwrap_or(none)
    }

    /// The value of a parameter that is the same for all.
    pub(super) fn same(&self, of: Of) -> i64 {
        self.spread(of).low
    }

    /// A number of days that is the same for all.
    pub(super) fn days(&self, of: Of) -> u32 {
        u32::try_from(self.same(of)).unwrap_or(0)
    }

    /// The weeks without progress after which somebody is stuck.
    #[must_use]
    pub fn stuck_weeks(&self) -> u32 {
        self.days(Of::StuckWeeks)
    }
}

impl std::fmt::Display for Spread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.low == self.high {
            write!(f, "{}", self.low)
        } else {
            write!(f, "{} to {}", self.low, self.high)
        }
    }
}

#[cfg(test)]
mod tests;

//! A pack as it was read: typed, with the place of everything that may still turn out wrong, and names not yet looked up.
//!
//! Leaves to others: looking names up and refusing what does not fit (`crate::check`).

use crate::model::{
    BandMotion, ChoiceIx, Grounds, Measure, Method, Outcome, RowValue, RuleKind, Urgency, Worse,
};
use crate::quantity::{Key, Milli, Unit, Variable};
use crate::source::{At, LocatedText, Location};
use std::collections::BTreeMap;

/// Who vouches, and where that stands.
#[derive(Clone, Debug)]
pub(crate) struct GroundsDraft {
    pub(crate) grounds: Grounds,
    pub(crate) at: Location,
}

/// Sentences combined, not yet parsed.
#[derive(Clone, Debug)]
pub(crate) enum CriterionDraft {
    Sentence(LocatedText),
    All(Vec<CriterionDraft>),
    Any(Vec<CriterionDraft>),
    None(Vec<CriterionDraft>),
}

impl CriterionDraft {
    /// How many sentences there are in it.
    fn sentences(&self) -> usize {
        match self {
            Self::Sentence(_) => 1,
            Self::All(parts) | Self::Any(parts) | Self::None(parts) => {
                parts.iter().map(Self::sentences).sum()
            }
        }
    }
}

#[derive(Clone, Debug)]
pub(crate) struct RuleDraft {
    pub(crate) key: LocatedText,
    pub(crate) kind: RuleKind,
    pub(crate) when: Option<CriterionDraft>,
    pub(crate) reason: String,
    pub(crate) grounds: GroundsDraft,
}

#[derive(Clone, Debug)]
pub(crate) struct ReferDraft {
    pub(crate) rule: RuleDraft,
    pub(crate) urgency: Urgency,
    pub(crate) route: String,
    pub(crate) of_person: bool,
}

#[derive(Clone, Debug)]
pub(crate) struct LimitDraft {
    pub(crate) key: LocatedText,
    pub(crate) sentence: Option<LocatedText>,
    pub(crate) condition: Option<CriterionDraft>,
    pub(crate) text: Option<LocatedText>,
    pub(crate) grounds: GroundsDraft,
}

#[derive(Clone, Debug)]
pub(crate) struct LayOffDraft {
    pub(crate) days: u32,
    pub(crate) steps: u16,
    pub(crate) review: bool,
    pub(crate) grounds: GroundsDraft,
    pub(crate) at: Location,
    /// Where the days and the steps stand.
    pub(crate) numbers: [Location; 2],
}

/// `pack.toml`.
#[derive(Clone, Debug)]
pub(crate) struct HeadDraft {
    pub(crate) id: String,
    pub(crate) version: String,
    pub(crate) title: String,
    pub(crate) scope: String,
    pub(crate) language: Option<LocatedText>,
    pub(crate) languages: Vec<LocatedText>,
    pub(crate) cautions: Vec<LocatedText>,
    pub(crate) sources: BTreeMap<String, At<String>>,
    pub(crate) sign_off: Vec<Outcome>,
    pub(crate) review_days: u32,
    pub(crate) events: Vec<LocatedText>,
    pub(crate) equipment: Vec<LocatedText>,
    /// The measure of the person's standing height, which bands need.
    pub(crate) height: Option<LocatedText>,
    pub(crate) lay_off: Vec<LayOffDraft>,
    pub(crate) rules: Vec<RuleDraft>,
    pub(crate) limits: Vec<LimitDraft>,
}

/// One measure. Its origin is [`crate::model::Origin::Reported`] until `combined` or `features` are resolved.
#[derive(Clone, Debug)]
pub(crate) struct MeasureDraft {
    pub(crate) name: LocatedText,
    pub(crate) measure: Measure,
    /// The name of the numbered measures that it is one of.
    pub(crate) numbered: Option<LocatedText>,
    /// What a combined measure is worked out from.
    pub(crate) combined: Option<CombinedDraft>,
    /// Criteria of a defined measure, by choice.
    pub(crate) features: Option<Vec<(ChoiceIx, CriterionDraft)>>,
    /// The event that a computed measure counts from.
    pub(crate) event: Option<LocatedText>,
    pub(crate) grounds: Option<GroundsDraft>,
}

impl MeasureDraft {
    /// A measure of which nothing is left to be resolved.
    pub(crate) const fn plain(name: LocatedText, measure: Measure) -> Self {
        Self {
            name,
            measure,
            numbered: None,
            combined: None,
            features: None,
            event: None,
            grounds: None,
        }
    }
}

/// A measure worked out from other values of the same fact, its parts by name.
#[derive(Clone, Debug)]
pub(crate) struct CombinedDraft {
    pub(crate) parts: PartsDraft,
    pub(crate) unit: Option<At<Unit>>,
    pub(crate) worse: Option<At<Worse>>,
}

#[derive(Clone, Debug)]
pub(crate) enum PartsDraft {
    Maximum {
        method: Method,
        load: LocatedText,
        repetitions: Option<LocatedText>,
        in_reserve: Option<LocatedText>,
        repetitions_max: u32,
    },
    OtherSide {
        of: LocatedText,
    },
    Ratio {
        of: LocatedText,
        to: LocatedText,
        method: Key,
    },
    /// Each item is a measure, or the name of numbered ones.
    Mean {
        items: Vec<LocatedText>,
        by_scale: bool,
        percent: bool,
        answered_min: At<u32>,
    },
    VolumeLoad,
    TimeUnderTension,
    /// Of one of the two before.
    WeekOnWeek {
        of: LocatedText,
        in_total: bool,
    },
}

#[derive(Clone, Debug)]
pub(crate) struct PhaseDraft {
    pub(crate) key: LocatedText,
    pub(crate) aim: String,
    pub(crate) exercises: Vec<LocatedText>,
    pub(crate) sessions_a_week: u16,
    pub(crate) climb_max: Option<u16>,
    pub(crate) introduce_max: Option<u16>,
    pub(crate) lines_max: Option<u16>,
    pub(crate) limits: Vec<LimitDraft>,
    pub(crate) rules: Vec<RuleDraft>,
}

#[derive(Clone, Debug)]
pub(crate) struct LineDraft {
    pub(crate) key: LocatedText,
    pub(crate) exercises: Vec<ExerciseDraft>,
}

#[derive(Clone, Debug)]
pub(crate) struct ExerciseDraft {
    pub(crate) key: LocatedText,
    pub(crate) was: Vec<LocatedText>,
    /// Text keys of name, how and cues, with the place that a missing text is reported at.
    pub(crate) name: At<Key>,
    pub(crate) how: At<Key>,
    pub(crate) cues: Vec<LocatedText>,
    pub(crate) equipment: Vec<LocatedText>,
    /// Whether there is a band table, readable or not.
    pub(crate) has_band: bool,
    pub(crate) band: Option<BandDraft>,
    pub(crate) rows: Vec<RowDraft>,
    pub(crate) start: Vec<(Variable, At<RowValue>)>,
    pub(crate) return_at: Option<At<u16>>,
    pub(crate) gives_way: Vec<At<Variable>>,
    pub(crate) comfortable: Option<LocatedText>,
    pub(crate) limits: Vec<LimitDraft>,
    pub(crate) climb: Option<RuleDraft>,
    pub(crate) bring_back: Option<RuleDraft>,
    pub(crate) maintenance: Option<Vec<(Variable, At<RowValue>)>>,
}

/// `[line.exercise.band]`.
#[derive(Clone, Debug)]
pub(crate) struct BandDraft {
    pub(crate) motion: BandMotion,
    pub(crate) from: At<i64>,
    pub(crate) to: Option<At<i64>>,
    pub(crate) load_at: At<i64>,
    pub(crate) step_min: Option<At<i64>>,
    pub(crate) step_max: At<i64>,
    pub(crate) start_mn_min: i64,
    pub(crate) grounds: GroundsDraft,
    pub(crate) at: Location,
}

#[derive(Clone, Debug)]
pub(crate) struct RowDraft {
    pub(crate) variable: At<Variable>,
    pub(crate) values: Vec<RowStepDraft>,
    /// Where the values are a sequence.
    pub(crate) sequence: Option<SequenceDraft>,
    pub(crate) returns: bool,
    pub(crate) grounds: GroundsDraft,
    pub(crate) at: Location,
}

/// A sequence's step, in thousandths of a percent.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SequenceDraft {
    pub(crate) step_mpct: i64,
    pub(crate) at: Location,
}

#[derive(Clone, Debug)]
pub(crate) struct RowStepDraft {
    pub(crate) value: At<RowValue>,
    pub(crate) needs: Option<CriterionDraft>,
    /// Of a tempo: seconds of one repetition.
    pub(crate) seconds: Option<Milli>,
}

/// `text/<language>.toml`.
#[derive(Clone, Debug)]
pub(crate) struct TextDraft {
    pub(crate) file: usize,
    pub(crate) texts: BTreeMap<String, At<String>>,
}

/// Everything that could be read.
#[derive(Clone, Debug, Default)]
pub(crate) struct PackDraft {
    pub(crate) head: Option<HeadDraft>,
    pub(crate) measures: Vec<MeasureDraft>,
    /// Names of measures that could not be read: nothing more is said of sentences about them.
    pub(crate) unread: Vec<String>,
    pub(crate) refers: Vec<ReferDraft>,
    pub(crate) phases: Vec<PhaseDraft>,
    pub(crate) lines: Vec<LineDraft>,
    pub(crate) texts: BTreeMap<String, TextDraft>,
}

impl PackDraft {
    fn exercises(&self) -> impl Iterator<Item = &ExerciseDraft> {
        self.lines.iter().flat_map(|line| &line.exercises)
    }

    /// Every rule.
    pub(crate) fn rules(&self) -> impl Iterator<Item = &RuleDraft> {
        let refers = self.refers.iter().map(|refer| &refer.rule);
        let wide = self.head.iter().flat_map(|head| &head.rules);
        let of_phases = self.phases.iter().flat_map(|phase| &phase.rules);
        let of_exercises = self
            .exercises()
            .flat_map(|exercise| exercise.climb.iter().chain(&exercise.bring_back));
        refers.chain(wide).chain(of_phases).chain(of_exercises)
    }

    /// Every limit.
    pub(crate) fn limits(&self) -> impl Iterator<Item = &LimitDraft> {
        let wide = self.head.iter().flat_map(|head| &head.limits);
        let of_phases = self.phases.iter().flat_map(|phase| &phase.limits);
        let of_exercises = self.exercises().flat_map(|exercise| &exercise.limits);
        wide.chain(of_phases).chain(of_exercises)
    }

    /// How many sentences there are.
    pub(crate) fn sentences(&self) -> usize {
        let rules = self.rules().filter_map(|rule| rule.when.as_ref());
        let conditions = self.limits().filter_map(|limit| limit.condition.as_ref());
        let features = self
            .measures
            .iter()
            .filter_map(|measure| measure.features.as_ref());
        let features = features.flatten().map(|(_, criterion)| criterion);
        let rows = self.exercises().flat_map(|exercise| &exercise.rows);
        let needs = rows
            .flat_map(|row| &row.values)
            .filter_map(|step| step.needs.as_ref());
        let criteria = rules.chain(conditions).chain(features).chain(needs);
        self.limits().count() + criteria.map(CriterionDraft::sentences).sum::<usize>()
    }
}

/// A number in thousandths as a count; the reader has checked its bounds.
pub(crate) fn small(count: u32) -> u16 {
    u16::try_from(count).unwrap_or(u16::MAX)
}

/// The kinds that a value of this variable may have in a row.
pub(crate) const fn takes_number(variable: Variable) -> bool {
    !matches!(
        variable,
        Variable::Position | Variable::Tempo | Variable::Support
    )
}

/// The kinds that a value of this variable may have in a row.
pub(crate) const fn takes_label(variable: Variable) -> bool {
    matches!(
        variable,
        Variable::Effort
            | Variable::Load
            | Variable::Range
            | Variable::Position
            | Variable::Tempo
            | Variable::Support
    )
}

/// Counts are whole; the rest may have thousandths. All are positive, and range may start at zero.
pub(crate) fn number_fits(variable: Variable, number: Milli) -> bool {
    let whole = number.0 % 1000 == 0;
    let at_most = |units: i64| number.0 <= units * 1000;
    match variable {
        Variable::Reps | Variable::Sets => whole && number.0 > 0 && at_most(1000),
        Variable::TimesADay => whole && number.0 > 0 && at_most(24),
        Variable::DaysAWeek => whole && number.0 > 0 && at_most(7),
        Variable::HoldTime => whole && number.0 > 0 && at_most(3600),
        Variable::Rest => whole && number.0 >= 0 && at_most(3600),
        Variable::Effort => number.0 > 0 && at_most(100),
        Variable::Range => number.0 >= 0 && at_most(360),
        Variable::Load => number.0 > 0 && at_most(5000),
        Variable::Position | Variable::Tempo | Variable::Support => false,
    }
}

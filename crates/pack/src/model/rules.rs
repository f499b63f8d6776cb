//! Rules, limits and phases.

use super::{ExerciseIx, Grounds, PhaseIx, RuleIx, SentenceIx};
use crate::quantity::Key;

/// Outcomes, most cautious first. `BEGIN` ranks as `CONTINUE`, `AWAIT` as `HOLD`: compare with [`Outcome::rank`].
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Outcome {
    /// To be seen by a doctor.
    Refer,
    /// Back to the phase before.
    Regress,
    /// Stay.
    Hold,
    /// Nothing to prescribe yet (a HOLD).
    Await,
    /// Go on within the phase.
    Continue,
    /// The first prescription (ranks as CONTINUE).
    Begin,
    /// Into the next phase.
    Progress,
    /// Care ends with a maintenance prescription.
    Discharge,
}

impl Outcome {
    /// Every outcome, in the order of the enum.
    pub const ALL: [Self; 8] = [
        Self::Refer,
        Self::Regress,
        Self::Hold,
        Self::Await,
        Self::Continue,
        Self::Begin,
        Self::Progress,
        Self::Discharge,
    ];

    /// Rank by caution: a smaller rank is more cautious.
    #[must_use]
    pub const fn rank(self) -> u8 {
        match self {
            Self::Refer => 0,
            Self::Regress => 1,
            Self::Hold | Self::Await => 2,
            Self::Continue | Self::Begin => 3,
            Self::Progress => 4,
            Self::Discharge => 5,
        }
    }

    /// The word in capitals, as used everywhere.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Refer => "REFER",
            Self::Regress => "REGRESS",
            Self::Hold => "HOLD",
            Self::Await => "AWAIT",
            Self::Continue => "CONTINUE",
            Self::Begin => "BEGIN",
            Self::Progress => "PROGRESS",
            Self::Discharge => "DISCHARGE",
        }
    }
}

/// Sentences combined. `None` is met when none of its parts is. An empty `All` is met; the checker refuses empty
/// lists where a rule would then always be met.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Criterion {
    /// One sentence.
    Sentence(SentenceIx),
    /// Every part.
    All(Vec<Criterion>),
    /// At least one part.
    Any(Vec<Criterion>),
    /// No part.
    None(Vec<Criterion>),
}

impl Criterion {
    /// Calls `each` with every sentence, in order.
    pub fn each_sentence(&self, each: &mut dyn FnMut(SentenceIx)) {
        match self {
            Self::Sentence(ix) => each(*ix),
            Self::All(parts) | Self::Any(parts) | Self::None(parts) => {
                for part in parts {
                    part.each_sentence(each);
                }
            }
        }
    }
}

/// What a rule is for.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum RuleKind {
    /// A doctor must see the person. `stops` withdraws exercise meanwhile.
    Refer {
        /// Whether exercise stops.
        stops: bool,
    },
    /// Back to the phase before.
    Regress,
    /// Stay.
    Hold,
    /// Every line one step easier.
    Ease,
    /// Adds an ask and nothing else.
    Review,
    /// Into this phase.
    Enter,
    /// Begin in this phase instead of the first.
    Start,
    /// Out of the last phase.
    Discharge,
    /// Up this exercise's ladder.
    Climb,
    /// End this exercise's withdrawal.
    BringBack,
}

/// In which direction a rule moves a person, which says what doubt and double windows resolve to.
///
/// INVARIANT (caution-is-monotone): the checker holds every sentence to the polarity of its rule, so that a worse value
/// never makes an upward rule met, nor a cautious one not met.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Polarity {
    /// Met means up: enter, start, discharge, climb, bring back, and a row value's `needs`.
    Upward,
    /// Met means caution: refer, regress, hold, ease, review, a limit's condition.
    Cautious,
}

impl RuleKind {
    /// The kind's polarity.
    #[must_use]
    pub const fn polarity(self) -> Polarity {
        match self {
            Self::Enter | Self::Start | Self::Discharge | Self::Climb | Self::BringBack => {
                Polarity::Upward
            }
            Self::Refer { .. } | Self::Regress | Self::Hold | Self::Ease | Self::Review => {
                Polarity::Cautious
            }
        }
    }
}

/// One rule.
#[derive(Clone, Debug)]
pub struct Rule {
    /// Stable name, never reused, unique in the pack.
    pub key: Key,
    /// What it is for.
    pub kind: RuleKind,
    /// When it is met.
    pub when: Criterion,
    /// Why it is there, in a clinician's words.
    pub reason: String,
    /// The phase it belongs to; none for screening, pack-wide and exercise rules.
    pub phase: Option<PhaseIx>,
    /// The exercise it belongs to.
    pub exercise: Option<ExerciseIx>,
}

/// How soon a referral must be acted on.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Urgency {
    /// Now, by emergency services.
    Emergency,
    /// The same day.
    SameDay,
    /// Within the pack's urgent route.
    Urgent,
    /// At the next ordinary opportunity.
    Routine,
}

/// The rest of a refer rule.
#[derive(Clone, Debug)]
pub struct Screening {
    /// The refer rule.
    pub rule: RuleIx,
    /// How soon.
    pub urgency: Urgency,
    /// To whom, in words.
    pub route: String,
    /// Whether it latches for every open episode of the person.
    pub of_person: bool,
}

/// A limit: over it when `sentence` is not met (for a directed comparison: strictly beyond it).
///
/// A limit on a per-exercise measure, or declared by an exercise, is that exercise's; any other is the person's.
#[derive(Clone, Debug)]
pub struct Limit {
    /// Stable name.
    pub key: Key,
    /// The sentence that must be met in each session. Always about one session (no window).
    pub sentence: SentenceIx,
    /// Where given, the limit holds in a session only while this is met (or cannot be ruled out).
    pub condition: Option<Criterion>,
    /// Text key of the patient's wording.
    pub text: Key,
}

/// One phase.
#[derive(Clone, Debug)]
pub struct Phase {
    /// Stable name.
    pub key: Key,
    /// What it is for.
    pub aim: String,
    /// Its exercises. A line is of the phase when at least one of its exercises is.
    pub exercises: Vec<ExerciseIx>,
    /// Sessions a week that it prescribes, for adherence.
    pub sessions_a_week: u16,
    /// Most lines that may climb for one counted session; none: no bound.
    pub climb_max: Option<u16>,
    /// Most lines introduced in one decision; none: no bound.
    pub introduce_max: Option<u16>,
    /// Most lines prescribed; none: no bound.
    pub lines_max: Option<u16>,
    /// Limits of this phase (the pack's own hold besides).
    pub limits: Vec<Limit>,
    /// Rules whose phase this is: enter, start, hold, regress, ease, review, discharge. Enter rules are those *into*
    /// this phase; all of them must be met.
    pub rules: Vec<RuleIx>,
}

/// A row of the lay-off table.
#[derive(Clone, Debug)]
pub struct LayOffRow {
    /// From so many days since the last session.
    pub days: u32,
    /// Steps eased in all for a gap that reaches this row.
    pub steps: u16,
    /// Whether a clinician should look.
    pub review: bool,
    /// Who vouches for it.
    pub grounds: Grounds,
}

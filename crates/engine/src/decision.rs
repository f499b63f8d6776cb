//! A decision as data: what was decided, what stands from then on, and why.
//!
//! Everything is by key and value, so that a decision can be read under a later pack. [`State`] carries all that the
//! next decision needs of the earlier ones, so that deciding does not walk the past.
//!
//! Leaves to others: making it (`crate::decide`), saying it in words (`crate::explain`).

use crate::band::{Binds, Setting};
use crate::fact::{DecisionNo, Position};
use jiff::civil::Date;
use rungwise_pack::model::{Outcome, RowValue, RuleIx, SentenceIx};
use rungwise_pack::quantity::{Key, Milli, Variable};

/// A decision.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Decision {
    /// The date it was made for.
    pub as_of: Date,
    /// Revision of the semantics ([`crate::SEMANTICS`]).
    pub semantics: u32,
    /// The pack's digest.
    pub pack: [u8; 32],
    /// The outcome.
    pub outcome: Outcome,
    /// Whether it waits for a clinician's sign-off.
    pub proposed: bool,
    /// Whether it prescribes. AWAIT does not, nor does a REFER before the first prescription. A decision that stops
    /// everything does (its prescription is empty).
    pub prescribes: bool,
    /// What happens to each line that had or gets a place, in the pack's order of lines.
    pub moves: Vec<LineMove>,
    /// What is in force once this is recorded. Of a proposal: only its cautious moves.
    pub state: State,
    /// What is in force once this proposal is accepted.
    pub if_accepted: Option<State>,
    /// Every rule judged, in the pack's order, then limits.
    pub findings: Vec<Finding>,
    /// What decided: causes in the order of the outcome table, without duplicates.
    pub because: Vec<Cause>,
    /// The smallest list of what is missing for the next phase (or discharge).
    pub to_progress: Vec<Missing>,
    /// What is wanted, of whom, by when.
    pub asks: Vec<Ask>,
    /// When to look again at the latest.
    pub next_review: Date,
}

/// What a decision does to a line. Ordered by caution, most cautious first; `Introduce` and `Return` rank as `Forward`
/// ([`Move::rank`]).
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Move {
    /// Taken out.
    Withdraw,
    /// Back to an exercise of the phase before (or ended with it).
    Back,
    /// One step easier.
    Ease,
    /// As it was.
    Keep,
    /// One step harder.
    Climb,
    /// To the line's exercise in the next phase (or ended there).
    Forward,
    /// A line begun.
    Introduce,
    /// A withdrawn line begun again.
    Return,
}

impl Move {
    /// Every move, in the order of the enum.
    pub const ALL: [Self; 8] = [
        Self::Withdraw,
        Self::Back,
        Self::Ease,
        Self::Keep,
        Self::Climb,
        Self::Forward,
        Self::Introduce,
        Self::Return,
    ];

    /// Rank by caution: a smaller rank is more cautious.
    #[must_use]
    pub const fn rank(self) -> u8 {
        match self {
            Self::Withdraw => 0,
            Self::Back => 1,
            Self::Ease => 2,
            Self::Keep => 3,
            Self::Climb => 4,
            Self::Forward | Self::Introduce | Self::Return => 5,
        }
    }

    /// The word in capitals.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Withdraw => "WITHDRAW",
            Self::Back => "BACK",
            Self::Ease => "EASE",
            Self::Keep => "KEEP",
            Self::Climb => "CLIMB",
            Self::Forward => "FORWARD",
            Self::Introduce => "INTRODUCE",
            Self::Return => "RETURN",
        }
    }
}

/// One line's move.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LineMove {
    /// The line.
    pub line: Key,
    /// The move.
    pub mv: Move,
    /// Exercise before, where there was one.
    pub from: Option<Key>,
    /// Exercise after, where there is one.
    pub to: Option<Key>,
    /// Why this and nothing higher.
    pub because: Vec<Cause>,
}

/// Why. Data; the words are `crate::explain`'s.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Cause {
    /// A rule was met.
    Met(Key),
    /// A rule is in doubt: its missing values could make it met.
    Doubt(Key),
    /// A regress rule is met by facts from before this stay: it holds and does not act.
    MetBefore(Key),
    /// A refer rule stays latched.
    Latched(Key),
    /// An upward rule was not met.
    NotMet(Key),
    /// Over a limit in one new session.
    OverLimit {
        /// The limit; none: the exercise was skipped because of pain.
        limit: Option<Key>,
        /// The session's date and number.
        session: (Date, u8),
    },
    /// Over a limit in two consecutive sessions.
    OverLimitTwice {
        /// The limit of the second; none: the exercise was skipped because of pain.
        limit: Option<Key>,
        /// The second session.
        session: (Date, u8),
    },
    /// Nothing left to give, so withdrawn (or kept, where it was not the exercise's own).
    NothingLeft,
    /// A lay-off eased or held.
    LayOff {
        /// Days of the gap so far.
        days: u32,
    },
    /// A directive binds.
    Directive(Position),
    /// A corrected fact made an earlier upward move unsupported (rule 10).
    Corrected(Position),
    /// No session counts yet.
    NoCountedSession,
    /// No fact is new since the last decision: time alone never raises.
    NothingNew,
    /// The newest counted session lacks a value that a limit reads.
    LimitValueMissing(Key),
    /// The prescribed sets did not reach the rung.
    RungNotReached,
    /// A value on the next rung needs something not met or unknown.
    Needs(Variable),
    /// At the top of what the phase has.
    AtTop,
    /// Another line has the slot (bounds on climbs, introductions, lines).
    NoSlot,
    /// Withdrawn or blocked by a withdrawal.
    Withdrawn,
    /// Screening is not answered.
    ScreeningUnanswered,
    /// Followed from the outcome alone.
    Outcome,
    /// Care has ended; it stands until reopened.
    Discharged,
    /// The comfortable range reported caps it.
    Comfortable,
    /// The new phase or pack has no place for the line.
    LineEnds,
    /// An exercise of the old pack has no place in the new one.
    Unmapped(Key),
    /// The load is not measured, and a load that is not known is not raised.
    LoadUnmeasured,
    /// Nothing that is owned gives the load within the bounds of the exercise.
    NoBandFits(Binds),
}

/// What stands after a decision.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct State {
    /// The phase; none before the first prescription.
    pub phase: Option<Key>,
    /// The decision that began this stay in the phase, and its date.
    pub stay: Option<(DecisionNo, Date)>,
    /// The date of the first prescription.
    pub began: Option<Date>,
    /// The last decision that introduced a line, returned one or entered a phase.
    pub introduced: Option<DecisionNo>,
    /// Places in force, in the pack's order of lines.
    pub places: Vec<Place>,
    /// Where exercises that are not in force stood last, by exercise key.
    pub last_places: Vec<LastPlace>,
    /// Withdrawals in force, by exercise key.
    pub withdrawals: Vec<Withdrawal>,
    /// For an exercise that came back after a withdrawal: its run of over-limit sessions counts from sessions that
    /// followed this decision. By exercise key.
    pub run_from: Vec<(Key, DecisionNo)>,
    /// Latched refer rules, by rule key.
    pub latched: Vec<Key>,
    /// Lay-offs acted on: for a gap by the date it began, the last row of the table reached. The two newest.
    pub lay_offs: Vec<(Date, u16)>,
    /// Lines that went up in the latest decision in which any did (in this stay).
    pub climbed_last: Vec<Key>,
    /// Whether care has ended.
    pub discharged: bool,
}

/// A line's place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Place {
    /// The line.
    pub line: Key,
    /// The exercise.
    pub exercise: Key,
    /// The rung, as values of its rows in the pack's order of rows.
    pub rung: Vec<(Variable, RowValue)>,
    /// Steps given, oldest first; regained from the newest.
    pub relief: Vec<Variable>,
    /// The decision that set it anew.
    pub set_anew: DecisionNo,
    /// What it asks of a band; none: its exercise has none, or a *place* put it there since.
    pub setting: Option<Setting>,
}

/// Where an exercise stood last.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LastPlace {
    /// The exercise.
    pub exercise: Key,
    /// Its rung.
    pub rung: Vec<(Variable, RowValue)>,
    /// Its relief.
    pub relief: Vec<Variable>,
    /// What it asked of a band.
    pub setting: Option<Setting>,
}

/// A withdrawal.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Withdrawal {
    /// The exercise.
    pub exercise: Key,
    /// The decision that withdrew it.
    pub by: DecisionNo,
}

/// A rule judged.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Finding {
    /// The rule.
    pub rule: RuleIx,
    /// Its verdict.
    pub verdict: RuleVerdict,
    /// Its sentences, in the rule's order.
    pub sentences: Judgements,
}

/// Sentences with their verdicts. Most rules have few, and a decision judges every rule: so many stand in place.
pub type Judgements = smallvec::SmallVec<[(SentenceIx, Verdict); 4]>;

/// A rule's verdict.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum RuleVerdict {
    /// Met.
    Met,
    /// Not met.
    NotMet,
    /// Its missing values could make it met.
    InDoubt,
}

/// A sentence's verdict.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Verdict {
    /// Met, whatever is missing.
    Met,
    /// Not met, whatever is missing.
    NotMet,
    /// A missing value decides.
    Unknown,
    /// Fewer sessions (or assessments) than it asks for, and those there are do not decide it.
    NotYetFull,
}

/// One thing that the next phase (or discharge) still wants.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Missing {
    /// The rule.
    pub rule: Key,
    /// The sentence.
    pub sentence: SentenceIx,
    /// Its verdict.
    pub verdict: Verdict,
    /// How many more sessions it needs at least, where sessions are counted.
    pub sessions_more: Option<u16>,
    /// The value that counts now and the value wanted, where both are numbers.
    pub distance: Option<(Milli, Milli)>,
}

/// Something wanted.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Ask {
    /// What.
    pub what: Wanted,
    /// Of whom.
    pub of: rungwise_pack::model::Reporter,
    /// By when.
    pub by: Date,
    /// For which rule, where one asked.
    pub rule: Option<Key>,
}

/// What may be wanted.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Wanted {
    /// A value of this measure.
    Measure(Key),
    /// The morning-after of the session of this date and number.
    MorningAfter(Date, u8),
    /// A session.
    Session,
    /// A clinician's look: a review rule, a lay-off, an empty prescription.
    Review,
    /// A referral acted on, and cleared by a clinician.
    Clearance(Key),
    /// A sign-off of the decision just proposed.
    SignOff,
    /// A confirmation after a correction.
    Confirmation(Position),
    /// A place in the new pack for an exercise that could not be mapped.
    Placement(Key),
    /// A measured band, the person's height, or room for the load of this exercise.
    Band(Key),
}

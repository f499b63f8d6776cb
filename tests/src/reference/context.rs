//! For what a sentence is read: which rule's direction, whose exercise, which sessions count.
//!
//! Leaves to others: reading it (`super::sentence`).

use super::possible::{Possible, Ratio};
use super::view::{Morning, SessionAt, View, days_between};
use jiff::civil::Date;
use rungwise_engine::decision::State;
use rungwise_engine::fact::{DecisionNo, Position, Reading, Value};
use rungwise_pack::model::{
    Carrier, CheckedPack, ExerciseIx, Measure, MeasureIx, MeasureKind, PhaseIx, Polarity,
};

/// Which sessions a rule reads.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Counted {
    /// All of them.
    Everything,
    /// Those that followed this decision or a later one.
    Since(DecisionNo),
    /// Those of this exercise that followed this decision or a later one.
    Of(ExerciseIx, DecisionNo),
}

/// A reading situation.
#[derive(Clone, Debug)]
pub struct Context<'a> {
    /// What is known.
    pub view: &'a View<'a>,
    /// Every session that is known.
    pub sessions: Vec<SessionAt>,
    /// What is in force.
    pub state: &'a State,
    /// The rule's direction.
    pub polarity: Polarity,
    /// The rule's exercise.
    pub exercise: Option<ExerciseIx>,
    /// Which sessions the rule reads.
    pub counted: Counted,
    /// Whether a prescribed exercise that was not done is missing (enter and discharge).
    pub prescribed_too: bool,
    /// Whether values from before a clearance were taken out: what is not there then reads as not met.
    pub cleared: bool,
    /// Whether no session is too old (a limit on the session that it is about).
    pub ageless: bool,
}

impl<'a> Context<'a> {
    /// A cautious reading of everything.
    #[must_use]
    pub fn cautious(view: &'a View<'a>, state: &'a State) -> Self {
        Self {
            view,
            sessions: view.sessions(),
            state,
            polarity: Polarity::Cautious,
            exercise: None,
            counted: Counted::Everything,
            prescribed_too: false,
            cleared: false,
            ageless: false,
        }
    }

    /// An upward reading of these sessions.
    #[must_use]
    pub fn upward(view: &'a View<'a>, state: &'a State, counted: Counted) -> Self {
        Self {
            polarity: Polarity::Upward,
            counted,
            ..Self::cautious(view, state)
        }
    }

    /// The same for an exercise's rule.
    #[must_use]
    pub fn of(self, exercise: ExerciseIx) -> Self {
        Self {
            exercise: Some(exercise),
            ..self
        }
    }

    /// The rules.
    #[must_use]
    pub fn pack(&self) -> &'a CheckedPack {
        self.view.pack
    }

    /// A measure.
    #[must_use]
    pub fn measure(&self, measure: MeasureIx) -> &'a Measure {
        &self.pack().measures[measure.at()]
    }

    /// The phase in force.
    #[must_use]
    pub fn phase(&self) -> Option<PhaseIx> {
        self.state
            .phase
            .as_ref()
            .and_then(|phase| self.pack().phase(phase))
    }

    /// Whether the rule reads this session.
    #[must_use]
    pub fn counts(&self, session: &SessionAt) -> bool {
        match self.counted {
            Counted::Everything => true,
            Counted::Since(number) => session.followed_since(number),
            Counted::Of(exercise, number) => {
                session.followed_since(number) && session.tried(self.pack(), exercise).is_some()
            }
        }
    }

    /// The sessions that the rule reads, oldest first.
    #[must_use]
    pub fn counted_sessions(&self) -> Vec<&SessionAt> {
        self.sessions
            .iter()
            .filter(|session| self.counts(session))
            .collect()
    }

    /// Whether a value of a fact of this date is too old today.
    #[must_use]
    pub fn is_stale(&self, measure: &Measure, date: Date) -> bool {
        let session_time = matches!(
            measure.carrier,
            Carrier::Session | Carrier::Exercise | Carrier::MorningAfter
        );
        !(self.ageless && session_time)
            && measure
                .fresh_days
                .is_some_and(|days| days_between(date, self.view.today) > i64::from(days))
    }

    /// Exercises that the decision which a session followed prescribed.
    #[must_use]
    pub fn prescribed(&self, session: &SessionAt) -> Vec<ExerciseIx> {
        let Some(decided) = session
            .followed
            .and_then(|number| self.view.decided(number))
        else {
            return Vec::new();
        };
        let accepted = self
            .view
            .was_accepted(decided, session.date, Position(u64::MAX));
        let state = match &decided.decision.if_accepted {
            Some(state) if accepted => state,
            _ => &decided.decision.state,
        };
        state
            .places
            .iter()
            .filter_map(|place| self.pack().exercise(&place.exercise))
            .collect()
    }
}

/// What a list of readings says of a measure: the worst of several, nothing where it is not there.
#[must_use]
pub fn read(measure: &Measure, readings: &[Reading]) -> Option<Possible> {
    readings
        .iter()
        .filter(|reading| reading.measure == measure.name)
        .map(|reading| value_of(measure, &reading.value))
        .reduce(|worst, value| worst.worse(&value, measure.worse))
}

fn value_of(measure: &Measure, value: &Value) -> Possible {
    match (value, &measure.kind) {
        (Value::Number(number), _) => Possible::number(Ratio::milli(*number)),
        (Value::CouldNot, _) => Possible::worst_end(measure),
        (Value::Choice(choice), MeasureKind::Choice { choices }) => {
            Possible::choice(choices.iter().position(|known| known == choice).unwrap() as u16)
        }
        (Value::Choice(_), MeasureKind::Number { .. }) => panic!("a choice for a number"),
    }
}

/// The record that told of a session's morning.
#[must_use]
pub fn told_at(session: &SessionAt) -> Option<Position> {
    match &session.morning {
        Morning::Told { known, .. } => Some(*known),
        _ => None,
    }
}

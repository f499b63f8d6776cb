//! What an episode holds before a fact is admitted: sessions, positions, decisions, as far as admission asks.
//!
//! Leaves to others: what the facts mean (`crate::history`).

use crate::decision::{Decision, Move};
use crate::fact::{
    Body, Correction, DecisionNo, Directive, Episode, Fact, FactKind, MorningAfter, Order,
    Position, Record, Session,
};
use jiff::civil::Date;

/// A fact with what has become of it.
#[derive(Clone, Debug)]
struct Held<'a> {
    /// None while its batch is not recorded.
    position: Option<Position>,
    /// As it was first recorded.
    first: &'a Fact,
    /// As it stands now; none: void.
    stands: Option<&'a Fact>,
}

/// The episode before a fact.
#[derive(Clone, Debug)]
pub struct Before<'a> {
    /// The episode.
    pub(super) episode: &'a Episode,
    held: Vec<Held<'a>>,
    decisions: Vec<&'a Decision>,
    /// For each sign-off: the decision answered.
    answered: Vec<DecisionNo>,
    /// Whether care has ended, as far as decided or ordered.
    discharged: bool,
}

impl<'a> Before<'a> {
    /// The episode with its records, in order of position.
    pub fn new(episode: &'a Episode, records: impl IntoIterator<Item = &'a Record>) -> Self {
        let mut before = Self {
            episode,
            held: Vec::new(),
            decisions: Vec::new(),
            answered: Vec::new(),
            discharged: false,
        };
        for record in records {
            match &record.body {
                Body::Fact(fact) => before.hold(Some(record.position), fact),
                Body::Decision(decision) => {
                    before.discharged = decision.state.discharged;
                    before.decisions.push(decision);
                }
            }
        }
        before
    }

    /// Adds a fact just admitted, so that the next of its batch is judged after it.
    pub fn add(&mut self, fact: &'a Fact) {
        self.hold(None, fact);
    }

    fn hold(&mut self, position: Option<Position>, fact: &'a Fact) {
        match &fact.kind {
            FactKind::Correction(correction) => self.correct(correction),
            FactKind::SignOff {
                decision, accepted, ..
            } => {
                self.answered.push(*decision);
                let accepted = self.decision(*decision).filter(|_| *accepted);
                if let Some(state) = accepted.and_then(|decision| decision.if_accepted.as_ref()) {
                    self.discharged = state.discharged;
                }
            }
            FactKind::Directive(Directive {
                order: Order::Discharge,
                ..
            }) => self.discharged = true,
            FactKind::Directive(Directive {
                order: Order::Reopen,
                ..
            }) => self.discharged = false,
            _ => {}
        }
        self.held.push(Held {
            position,
            first: fact,
            stands: Some(fact),
        });
    }

    fn correct(&mut self, correction: &'a Correction) {
        if let Some(held) = self
            .held
            .iter_mut()
            .find(|held| held.position == Some(correction.of))
        {
            held.stands = correction.replacement.as_deref();
        }
    }

    /// The same without the fact at this position, as its replacement is judged.
    pub(super) fn without(&self, position: Position) -> Self {
        let mut before = self.clone();
        before.held.retain(|held| held.position != Some(position));
        before
    }

    /// The fact first recorded at this position, and what stands of it.
    pub(super) fn fact(&self, position: Position) -> Option<(&'a Fact, Option<&'a Fact>)> {
        let held = self
            .held
            .iter()
            .find(|held| held.position == Some(position))?;
        Some((held.first, held.stands))
    }

    fn standing(&self) -> impl Iterator<Item = &'a Fact> + '_ {
        self.held.iter().filter_map(|held| held.stands)
    }

    fn sessions(&self) -> impl Iterator<Item = (Date, &'a Session)> + '_ {
        self.standing().filter_map(|fact| match &fact.kind {
            FactKind::Session(session) => Some((fact.date, session)),
            _ => None,
        })
    }

    /// Whether this session was reported.
    pub(super) fn has_session(&self, date: Date, number: u8) -> bool {
        self.sessions()
            .any(|(on, session)| on == date && session.number == number)
    }

    /// The session that a morning-after belongs to: the one it numbers, or the day's last.
    pub(super) fn session_of(&self, after: &MorningAfter) -> Option<u8> {
        let of_day = self.sessions().filter(|(on, _)| *on == after.session_date);
        let numbers = of_day.map(|(_, session)| session.number);
        match after.session_number {
            Some(wanted) => numbers.into_iter().find(|number| *number == wanted),
            None => numbers.max(),
        }
    }

    /// Whether this session's morning-after was reported.
    pub(super) fn has_morning_after(&self, date: Date, number: u8) -> bool {
        self.standing().any(|fact| match &fact.kind {
            FactKind::MorningAfter(after) => {
                after.session_date == date && self.session_of(after) == Some(number)
            }
            _ => false,
        })
    }

    /// How many decisions there are.
    pub(super) const fn decision_count(&self) -> usize {
        self.decisions.len()
    }

    /// The decision of this number.
    pub(super) fn decision(&self, number: DecisionNo) -> Option<&'a Decision> {
        self.decisions.get(usize::try_from(number.0).ok()?).copied()
    }

    /// Why this decision cannot be signed off on this date; none where it is an open proposal.
    pub(super) fn not_open(&self, number: DecisionNo, on: Date) -> Option<&'static str> {
        let Some(decision) = self.decision(number) else {
            return Some("does not exist");
        };
        if !decision.proposed {
            return Some("is not a proposal");
        }
        if decision.as_of > on {
            return Some("was made for a later date");
        }
        if self.answered.contains(&number) {
            return Some("was answered already");
        }
        let later = self
            .decisions
            .iter()
            .skip(usize::try_from(number.0).unwrap_or(usize::MAX));
        let overtaken = later.skip(1).any(|later| {
            later.outcome.rank() < decision.outcome.rank()
                || later
                    .moves
                    .iter()
                    .any(|line| line.mv.rank() < Move::Keep.rank())
        });
        overtaken.then_some("was overtaken by a more cautious one")
    }

    /// The directives of this episode that were not ended by another one, by position.
    pub(super) fn directive(&self, position: Position) -> Option<&'a Directive> {
        let ended = self.directives().any(|directive| {
            matches!(&directive.order, Order::Withdraw { directive } if *directive == position)
        });
        match &self.fact(position)?.1?.kind {
            FactKind::Directive(directive) if !ended => Some(directive),
            _ => None,
        }
    }

    /// Every directive that was not voided.
    pub(super) fn directives(&self) -> impl Iterator<Item = &'a Directive> + '_ {
        self.standing().filter_map(|fact| match &fact.kind {
            FactKind::Directive(directive) => Some(directive),
            _ => None,
        })
    }

    /// Whether care has ended, as far as decided or ordered.
    pub(super) const fn is_discharged(&self) -> bool {
        self.discharged
    }
}

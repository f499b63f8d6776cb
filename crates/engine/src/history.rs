//! The history of one episode: its records in the order in which they became known, with an index by the pack's own
//! numbers so that deciding reads only the tail that its windows ask for.
//!
//! Leaves to others: what a fact may look like (`crate::admit`), what the history means (`crate::decide`).

mod index;

pub(crate) use index::{
    CorrectionAt, Exercised, Index, SessionFact, Sheet, Val, fact_of, record_at, value_in,
    worse_of, worst_end,
};

use crate::decide::Stand;
use crate::decision::{Decision, State};
use crate::fact::{Body, DecisionNo, Directive, Episode, FactKind, Order, Position, Record};
use jiff::civil::Date;
use rungwise_pack::model::CheckedPack;
use std::borrow::Cow;

/// A directive that was given and not withdrawn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Given<'a> {
    /// Its position.
    pub(crate) position: Position,
    /// The position from which it is known.
    pub(crate) known: Position,
    /// Its date.
    pub(crate) date: Date,
    /// What it says.
    pub(crate) directive: &'a Directive,
}

/// Everything known of an episode, indexed for one pack.
#[derive(Clone, Debug)]
pub struct History {
    episode: Episode,
    records: Vec<Record>,
    index: Index,
    /// The last decision's state by the pack's numbers.
    standing: Stand,
}

impl History {
    /// An episode of which nothing is known yet.
    #[must_use]
    pub fn new(pack: &CheckedPack, episode: Episode) -> Self {
        Self {
            index: Index::new(pack),
            episode,
            records: Vec::new(),
            standing: Stand::default(),
        }
    }

    /// The same records indexed for `pack`. Deciding under a pack for which a history is not indexed does this by
    /// itself, each time.
    #[must_use]
    pub fn under(&self, pack: &CheckedPack) -> Self {
        Self::of(pack, self.episode.clone(), self.records.clone())
    }

    /// The history indexed for `pack`: itself where it is.
    pub(crate) fn indexed(&self, pack: &CheckedPack) -> Cow<'_, Self> {
        if self.index.pack == pack.digest {
            Cow::Borrowed(self)
        } else {
            Cow::Owned(self.under(pack))
        }
    }

    /// An episode with these records, in order of position.
    #[must_use]
    pub fn of(pack: &CheckedPack, episode: Episode, records: Vec<Record>) -> Self {
        let mut history = Self {
            episode,
            index: Index::build(pack, &records, None),
            records,
            standing: Stand::default(),
        };
        history.stand(pack);
        history
    }

    /// Takes in one more record. Its position must be above every earlier one's. Costs little for facts in the order
    /// of their dates; a late session or a correction indexes the history again.
    pub fn push(&mut self, pack: &CheckedPack, record: Record) {
        let decided = matches!(record.body, Body::Decision(_));
        self.records.push(record);
        if self.index.pack != pack.digest || !self.index.append(pack, &self.records) {
            let changed = self.index.pack != pack.digest;
            self.index = Index::build(pack, &self.records, None);
            if changed {
                self.stand(pack);
            }
        }
        if decided {
            self.stand(pack);
        }
    }

    /// Every record, in order of position.
    #[must_use]
    pub fn records(&self) -> &[Record] {
        &self.records
    }

    /// What was fixed when the episode opened.
    #[must_use]
    pub const fn episode(&self) -> &Episode {
        &self.episode
    }

    /// The decisions, oldest first, with their positions. The how-manieth is its [`DecisionNo`].
    pub fn decisions(&self) -> impl DoubleEndedIterator<Item = (Position, &Decision)> + '_ {
        self.index
            .decisions
            .iter()
            .filter_map(|at| self.decision_at(*at))
    }

    /// How many decisions there are, which is the number of the next one.
    #[must_use]
    pub fn next_no(&self) -> DecisionNo {
        DecisionNo(u32::try_from(self.index.decisions.len()).unwrap_or(u32::MAX))
    }

    /// A decision by its number.
    #[must_use]
    pub fn decision(&self, no: DecisionNo) -> Option<(Position, &Decision)> {
        let at = self.index.decisions.get(no.0 as usize)?;
        self.decision_at(*at)
    }

    /// The newest decision, with its number and position.
    #[must_use]
    pub fn last_decision(&self) -> Option<(DecisionNo, Position, &Decision)> {
        let no = DecisionNo(self.next_no().0.checked_sub(1)?);
        let (position, decision) = self.decision(no)?;
        Some((no, position, decision))
    }

    /// The history as it stood just before `position`: what a decision recorded there had seen.
    #[must_use]
    pub fn until(&self, pack: &CheckedPack, position: Position) -> Self {
        let records = self.records.iter();
        let before = records
            .take_while(|record| record.position < position)
            .cloned();
        Self::of(pack, self.episode.clone(), before.collect())
    }

    /// The same history as seen on `as_of`: corrections dated later are not applied.
    pub(crate) fn seen_on(&self, pack: &CheckedPack, as_of: Date) -> Self {
        Self {
            episode: self.episode.clone(),
            index: Index::build(pack, &self.records, Some(as_of)),
            records: self.records.clone(),
            standing: self.standing.clone(),
        }
    }

    /// Every directive, withdrawn or not, in order of position.
    pub(crate) fn directives(&self) -> impl Iterator<Item = Given<'_>> {
        self.index.directives.iter().filter_map(|one| {
            let record = self.records.get(one.record as usize)?;
            match &fact_of(record)?.kind {
                FactKind::Directive(directive) => Some(Given {
                    position: one.position,
                    known: one.known,
                    date: one.date,
                    directive,
                }),
                _ => None,
            }
        })
    }

    /// The directives dated up to `as_of` that none dated up to then withdraws, in order of position.
    pub(crate) fn directives_until(&self, as_of: Date) -> Vec<Given<'_>> {
        let directives = self.directives();
        let mut given: Vec<Given<'_>> = directives.filter(|one| one.date <= as_of).collect();
        let withdrawn: Vec<Position> = given
            .iter()
            .filter_map(|one| match one.directive.order {
                Order::Withdraw { directive } => Some(directive),
                _ => None,
            })
            .collect();
        given.retain(|one| !withdrawn.contains(&one.position));
        given
    }

    pub(crate) const fn standing(&self) -> &Stand {
        &self.standing
    }

    fn stand(&mut self, pack: &CheckedPack) {
        let last = self.last_decision().map(|(_, _, last)| &last.state);
        let none = State::default();
        self.standing = Stand::read(pack, last.unwrap_or(&none));
    }

    pub(crate) const fn index(&self) -> &Index {
        &self.index
    }

    fn decision_at(&self, at: u32) -> Option<(Position, &Decision)> {
        let record = self.records.get(at as usize)?;
        match &record.body {
            Body::Decision(decision) => Some((record.position, decision)),
            Body::Fact(_) => None,
        }
    }
}

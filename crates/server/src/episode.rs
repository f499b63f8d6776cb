//! One episode as read from its stream: opening, history, whether it is closed.
//!
//! Leaves to others: keeping it (`crate::cache`), deciding (`rungwise-engine`), writing (`crate::write`).

use crate::clinic::versions::Course;
use crate::clinic::{Clinic, KeptPack, decoded};
use crate::clock::date_of_ms;
use crate::limits::READ_ENTRIES;
use crate::refusal::Refusal;
use jiff::civil::Date;
use rungwise_api::content::{Closing, Content, Opening};
use rungwise_api::name::EpisodeName;
use rungwise_api::to_wire::{
    DecisionAt, ask_to_wire, decision_to_wire, fact_to_wire, side_to_wire, timestamp_from_ms,
};
use rungwise_api::v1;
use rungwise_engine::decide::in_force;
use rungwise_engine::decision::State;
use rungwise_engine::fact::{Body, DecisionNo, Episode, Fact, FactKind, Order, Position, Record};
use rungwise_engine::history::History;
use rungwise_engine::prescription::referred_since;
use rungwise_pack::quantity::Key;
use rungwise_store::{Entry, KeyId, Kind, Store, StreamId};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What an entry's content takes in memory, by estimate: so many times its bytes.
const MEMORY_FACTOR: usize = 8;
/// What an episode takes in memory besides, bytes, by estimate.
const MEMORY_BASE: usize = 2_048;

/// When and where a record was recorded.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stamp {
    /// Its place in the stream; none for a directive of the whole clinic, which stands in the clinic's.
    pub(crate) sequence: Option<u64>,
    /// Milliseconds since 1970 UTC.
    pub(crate) recorded_at_ms: u64,
}

/// An episode as read.
#[derive(Debug)]
pub(crate) struct Loaded {
    /// Its name.
    pub(crate) name: EpisodeName,
    /// Its stream.
    pub(crate) stream: StreamId,
    /// Where its opening stands in the ledger.
    pub(crate) opened_at: u64,
    /// How it opened.
    pub(crate) opening: Opening,
    /// How it closed.
    pub(crate) closed: Option<Closing>,
    /// The person's key.
    pub(crate) key: KeyId,
    /// The sequence that its next entry gets.
    pub(crate) next_sequence: u64,
    /// What is known of it, indexed for `pack`; directives of the whole clinic stand in it by their positions.
    pub(crate) history: History,
    /// The version of its pack that decides today.
    pub(crate) pack: Arc<KeptPack>,
    /// How many directives of the whole clinic it has.
    bound: usize,
    /// One for each record of the history.
    pub(crate) stamps: Vec<Stamp>,
    /// Bytes of the contents read.
    pub(crate) content_bytes: usize,
    /// How many entries its last snapshot has; 0 without one.
    pub(crate) snapshot_at: u64,
}

impl Loaded {
    /// Reads an episode from its snapshot and its stream, as it is decided today.
    pub(crate) fn read(
        store: &Store,
        clinic: &Clinic,
        name: &EpisodeName,
        today: Date,
    ) -> Result<Self, Refusal> {
        let missing = || Refusal::no_episode(name);
        let stream = StreamId::new(name.episode.clone()).map_err(|_| missing())?;
        if let Some(mut loaded) = Self::from_snapshot(store, clinic, name, &stream, today)? {
            loaded.catch_up(store, clinic, today)?;
            return Ok(loaded);
        }
        let first = store.stream(&clinic.id, &stream, 0, 1)?;
        let entry = first
            .first()
            .filter(|entry| entry.kind == Kind::Open)
            .ok_or_else(missing)?;
        let Content::Opening(opening) = decoded(entry)? else {
            return Err(Refusal::Damaged(format!(
                "entry {} is no opening",
                entry.position
            )));
        };
        let mut loaded = Self::begun(
            clinic,
            name,
            (stream, entry.key),
            (entry.position, opening),
            today,
        )?;
        loaded.content_bytes = entry.content.len();
        loaded.catch_up(store, clinic, today)?;
        Ok(loaded)
    }

    /// An episode of which only its opening was read.
    pub(crate) fn begun(
        clinic: &Clinic,
        name: &EpisodeName,
        (stream, key): (StreamId, KeyId),
        (opened_at, opening): (u64, Opening),
        today: Date,
    ) -> Result<Self, Refusal> {
        let pack = clinic
            .for_new(&opening.pack, today)
            .or_else(|| clinic.first_version(&opening.pack))
            .ok_or_else(|| Refusal::Fault(format!("pack `{}` is not in force", opening.pack)))?;
        let episode = Episode {
            opened_on: opening.opened_on,
            born_on: opening.born_on,
            imported: opening.imported,
        };
        Ok(Self {
            name: name.clone(),
            stream,
            closed: None,
            key,
            next_sequence: 1,
            history: History::new(&pack.pack, episode),
            pack,
            bound: 0,
            opened_at,
            stamps: Vec::new(),
            content_bytes: 0,
            snapshot_at: 0,
            opening,
        })
    }

    /// Reads on to the stream's end, under the version that decides it today, bound by what binds every episode.
    pub(crate) fn catch_up(
        &mut self,
        store: &Store,
        clinic: &Clinic,
        today: Date,
    ) -> Result<(), Refusal> {
        // Looked up first: whatever of the episode stands before these is there to be read now, so that what is read later
        // stands after them.
        let binding = clinic.binding(&self.opening.pack, self.bound);
        let end = store.next_sequence(&clinic.id, &self.stream)?;
        while self.next_sequence < end {
            let entries =
                store.stream(&clinic.id, &self.stream, self.next_sequence, READ_ENTRIES)?;
            if entries.is_empty() {
                break;
            }
            for entry in &entries {
                self.take(entry)?;
            }
        }
        self.bind(binding);
        let pack = self.pack_on(clinic, today);
        if pack.pack.digest != self.pack.pack.digest {
            self.history = self.history.under(&pack.pack);
            self.pack = pack;
        }
        Ok(())
    }

    /// The version of its pack that decides it for this date.
    pub(crate) fn pack_on(&self, clinic: &Clinic, as_of: Date) -> Arc<KeptPack> {
        let mut records = self.history.records().iter().zip(&self.stamps);
        let first = records.find(|(_, stamp)| stamp.sequence.is_some());
        let imported_on = first.map(|(first, _)| first.recorded_on);
        let opened_on = imported_on
            .filter(|_| self.opening.imported)
            .unwrap_or(self.opening.opened_on);
        let course = Course {
            opened_at: self.opened_at,
            opened_on,
            history: &self.history,
        };
        let pack = clinic.for_course(&self.opening.pack, &course, as_of);
        pack.unwrap_or_else(|| self.pack.clone())
    }

    /// Takes in directives of the whole clinic, each where it stands in the ledger: some may stand before what was read of
    /// the episode already.
    fn bind(&mut self, new: Vec<(u64, Record)>) {
        if new.is_empty() {
            return;
        }
        self.bound = self.bound.saturating_add(new.len());
        let last = self.history.records().last();
        let last = last.map(|record| record.position);
        if new
            .first()
            .is_some_and(|(_, first)| last.is_none_or(|last| last < first.position))
        {
            for (recorded_at_ms, record) in new {
                self.history.push(&self.pack.pack, record);
                self.stamps.push(Stamp {
                    sequence: None,
                    recorded_at_ms,
                });
            }
            return;
        }
        let own = self.history.records().iter().cloned();
        let mut all: Vec<(Record, Stamp)> = own.zip(self.stamps.iter().copied()).collect();
        all.extend(new.into_iter().map(|(recorded_at_ms, record)| {
            let stamp = Stamp {
                sequence: None,
                recorded_at_ms,
            };
            (record, stamp)
        }));
        all.sort_by_key(|(record, _)| record.position);
        let (records, stamps) = all.into_iter().unzip();
        let episode = self.history.episode().clone();
        self.history = History::of(&self.pack.pack, episode, records);
        self.stamps = stamps;
    }

    fn take(&mut self, entry: &Entry) -> Result<(), Refusal> {
        self.next_sequence = entry.sequence.saturating_add(1);
        self.content_bytes = self.content_bytes.saturating_add(entry.content.len());
        let body = match decoded(entry)? {
            Content::Fact(fact) => Body::Fact(fact),
            Content::Decision(decision) => Body::Decision(decision),
            Content::Closing(closing) => {
                self.closed = Some(closing);
                return Ok(());
            }
            Content::Opening(_)
            | Content::PackPart(_)
            | Content::Roll(_)
            | Content::RollWithdrawal(_)
            | Content::Leads(_)
            | Content::Approval(_)
            | Content::ProposalWithdrawal(_)
            | Content::ClinicDirective(_) => {
                return Err(Refusal::Damaged(format!(
                    "entry {} does not belong here",
                    entry.position
                )));
            }
        };
        let position = Position(entry.position);
        let recorded_on = date_of_ms(entry.recorded_at_ms);
        self.history.push(
            &self.pack.pack,
            Record {
                position,
                recorded_on,
                body,
            },
        );
        self.stamps.push(Stamp {
            sequence: Some(entry.sequence),
            recorded_at_ms: entry.recorded_at_ms,
        });
        Ok(())
    }

    /// Memory that it takes, bytes, by estimate.
    pub(crate) fn memory_bytes(&self) -> usize {
        MEMORY_BASE.saturating_add(self.content_bytes.saturating_mul(MEMORY_FACTOR))
    }

    /// The stamp of the record at this position.
    pub(crate) fn stamp(&self, position: Position) -> Option<Stamp> {
        let records = self.history.records();
        let at = records
            .binary_search_by_key(&position, |record| record.position)
            .ok()?;
        self.stamps.get(at).copied()
    }

    /// The number of the decision at this position.
    pub(crate) fn number_at(&self, position: Position) -> Option<DecisionNo> {
        let at = self
            .history
            .decisions()
            .position(|(stands, _)| stands == position)?;
        u32::try_from(at).ok().map(DecisionNo)
    }

    /// A decision as it stands in the ledger.
    pub(crate) fn decision_to_wire(
        &self,
        clinic: &Clinic,
        number: DecisionNo,
    ) -> Option<v1::Decision> {
        let (position, decision) = self.history.decision(number)?;
        let stamp = self.stamp(position)?;
        let at = DecisionAt {
            number: number.0,
            position: position.0,
            recorded_at_ms: stamp.recorded_at_ms,
        };
        let pack = clinic
            .pack(&decision.pack)
            .unwrap_or_else(|| self.pack.clone());
        Some(decision_to_wire(&pack.pack, &self.name, Some(at), decision))
    }

    /// The fact of this record as it stands in the ledger; none where it is a decision.
    pub(crate) fn recorded_fact(&self, record: &Record) -> Option<v1::RecordedFact> {
        let Body::Fact(fact) = &record.body else {
            return None;
        };
        let stamp = self.stamp(record.position)?;
        Some(v1::RecordedFact {
            name: self.name.fact(record.position.0),
            position: record.position.0,
            sequence: stamp.sequence.unwrap_or_default(),
            recorded_at: Some(timestamp_from_ms(stamp.recorded_at_ms)),
            fact: Some(fact_to_wire(&self.pack.pack, &self.name, fact)),
        })
    }

    /// Refer rules latched in it now.
    pub(crate) fn latched(&self) -> Vec<Key> {
        self.standing().latched
    }

    /// What is in force by everything known now, with the referrals of the person that the next decision will latch and
    /// without the rules that were cleared since.
    fn standing(&self) -> State {
        let records = self.history.records();
        let dates = records.iter().map(|record| match &record.body {
            Body::Fact(fact) => fact.date,
            Body::Decision(decision) => decision.as_of,
        });
        let as_of = dates.max().unwrap_or(self.opening.opened_on);
        let mut state = in_force(&self.pack.pack, &self.history, as_of).state;
        for (position, fact) in self.undecided() {
            if let FactKind::Directive(directive) = &fact.kind
                && let Order::Clear { rules } = &directive.order
                && !self.is_withdrawn(position)
            {
                state.latched.retain(|rule| !rules.contains(rule));
            }
        }
        state.latched.extend(referred_since(&self.history, as_of));
        state.latched.sort();
        state.latched.dedup();
        state
    }

    /// The facts that the last decision did not see.
    fn undecided(&self) -> impl Iterator<Item = (Position, &Fact)> {
        let last = self.history.last_decision();
        let seen = last.map(|(_, position, decision)| (position, decision.as_of));
        self.history.records().iter().filter_map(move |record| {
            let Body::Fact(fact) = &record.body else {
                return None;
            };
            let is_new = seen
                .is_none_or(|(position, as_of)| record.position > position || fact.date > as_of);
            is_new.then_some((record.position, fact))
        })
    }

    fn is_withdrawn(&self, position: Position) -> bool {
        self.undecided().any(|(_, fact)| match &fact.kind {
            FactKind::Directive(directive) => {
                matches!(&directive.order, Order::Withdraw { directive } if *directive == position)
            }
            _ => false,
        })
    }

    /// The date of the last session reported, as corrected.
    pub(crate) fn last_session_on(&self) -> Option<Date> {
        let mut standing: BTreeMap<Position, Date> = BTreeMap::new();
        for record in self.history.records() {
            match &record.body {
                Body::Fact(Fact {
                    date,
                    kind: FactKind::Session(_),
                    ..
                }) => {
                    standing.insert(record.position, *date);
                }
                Body::Fact(Fact {
                    kind: FactKind::Correction(correction),
                    ..
                }) => {
                    let earlier = standing.remove(&correction.of);
                    let replacement = correction
                        .replacement
                        .as_ref()
                        .filter(|_| earlier.is_some());
                    standing.extend(replacement.map(|fact| (correction.of, fact.date)));
                }
                _ => {}
            }
        }
        standing.into_values().max()
    }

    /// The episode as a message, as it was when it opened.
    pub(crate) fn opened_to_wire(&self) -> v1::Episode {
        v1::Episode {
            closed: false,
            sequence: 1,
            phase: String::new(),
            discharged: false,
            latched_rules: Vec::new(),
            last_session_on: String::new(),
            last_decision: String::new(),
            asks: Vec::new(),
            ..self.to_wire()
        }
    }

    /// The episode as a message.
    pub(crate) fn to_wire(&self) -> v1::Episode {
        let last = self.history.last_decision();
        let state = self.standing();
        let text = |date: Option<Date>| date.map(|date| date.to_string()).unwrap_or_default();
        v1::Episode {
            name: self.name.to_string(),
            person: self.opening.person.to_string(),
            side: side_to_wire(self.opening.side).into(),
            pack: self.opening.pack.to_string(),
            opened_on: self.opening.opened_on.to_string(),
            born_on: text(self.opening.born_on),
            external_id: self
                .opening
                .external_id
                .as_deref()
                .unwrap_or_default()
                .to_owned(),
            imported: self.opening.imported,
            closed: self.closed.is_some(),
            sequence: self.next_sequence,
            phase: state.phase.as_deref().unwrap_or_default().to_owned(),
            discharged: state.discharged,
            latched_rules: state.latched.iter().map(ToString::to_string).collect(),
            last_session_on: text(self.last_session_on()),
            last_decision: last
                .map(|(number, _, _)| self.name.decision(number.0))
                .unwrap_or_default(),
            asks: last
                .map(|(_, _, decision)| {
                    decision
                        .asks
                        .iter()
                        .map(|ask| ask_to_wire(&self.name, ask))
                        .collect()
                })
                .unwrap_or_default(),
        }
    }
}

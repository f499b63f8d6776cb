//! Whether appends land, one after another in a batch, and the record that commits those that do.
//!
//! Leaves to others: making the record durable (`crate::journal`), its effect (`crate::apply`).

use crate::append::{AppendError, Appended};
use crate::id::{ClinicId, KeyId, StreamId};
use crate::log::LogError;
use crate::requests::NameMac;
use crate::seal::{Sealed, SealedEntry, SealedRequest, open_answer};
use crate::shared::{Shared, read};
use rungwise_ledger::entry::{encode_entry, sealed_digest};
use rungwise_ledger::tree::GrowingTree;
use rungwise_ledger::v1::{
    Envelope, HeadMove, JournalAppend, JournalBatch, JournalRequest, RequestRow,
};
use std::collections::BTreeMap;

/// What becomes of an append once the batch is durable.
pub(crate) enum Outcome {
    /// It landed.
    Landed(Appended),
    /// It repeats a request, which was answered so.
    Repeated(Result<Appended, AppendError>),
    /// It did not land.
    Refused(AppendError),
}

/// A ledger as it stands after the appends staged so far.
struct StagedLedger {
    number: Option<u32>,
    tree: GrowingTree,
    recorded_at_ms: u64,
    next: BTreeMap<StreamId, u64>,
}

/// A batch being put together.
pub(crate) struct Stage<'a> {
    shared: &'a Shared,
    now_ms: u64,
    ledgers: BTreeMap<ClinicId, StagedLedger>,
    requests: BTreeMap<NameMac, RequestRow>,
    appends: Vec<JournalAppend>,
}

impl<'a> Stage<'a> {
    /// Begins a batch at a time.
    pub(crate) fn new(shared: &'a Shared, now_ms: u64) -> Self {
        Self {
            shared,
            now_ms,
            ledgers: BTreeMap::new(),
            requests: BTreeMap::new(),
            appends: Vec::new(),
        }
    }

    /// Adds an append to the batch if it lands.
    pub(crate) fn add(&mut self, sealed: Sealed) -> Result<Outcome, LogError> {
        if let Some(request) = &sealed.request {
            let earlier = match self.requests.get(&request.name) {
                Some(row) => Some(row.clone()),
                None => find_request(self.shared, &request.name)?,
            };
            if let Some(row) = earlier {
                return Ok(repeat(self.shared, &sealed.clinic, request, row));
            }
        }
        self.open_ledger(&sealed.clinic);
        let (shared, now_ms) = (self.shared, self.now_ms);
        let Some(ledger) = self.ledgers.get_mut(&sealed.clinic) else {
            return Ok(Outcome::Refused(AppendError::Overloaded));
        };
        for (stream, expected) in sealed.expects {
            let found = ledger.next_sequence(shared, &stream)?;
            if found != expected {
                return Ok(Outcome::Refused(AppendError::Conflict {
                    stream,
                    expected,
                    found,
                }));
            }
        }
        let first_position = ledger.tree.size();
        let recorded_at_ms = now_ms.max(ledger.recorded_at_ms);
        ledger.recorded_at_ms = recorded_at_ms;
        let mut sequences = Vec::with_capacity(sealed.entries.len());
        let mut entries = Vec::with_capacity(sealed.entries.len());
        for entry in sealed.entries {
            let sequence = ledger.next_sequence(shared, &entry.stream)?;
            ledger
                .next
                .insert(entry.stream.clone(), sequence.saturating_add(1));
            sequences.push(sequence);
            entries.push(ledger.push(&sealed.clinic, sequence, entry));
        }
        let request = sealed
            .request
            .map(|request| journal_request(request, recorded_at_ms, &sequences));
        if let Some(request) = &request {
            let row = RequestRow {
                clinic: sealed.clinic.to_string(),
                first_position,
                request: Some(request.clone()),
            };
            let name = request
                .id_mac
                .as_slice()
                .try_into()
                .map_err(|_| LogError::Row("requests"))?;
            self.requests.insert(name, row);
        }
        let positions = (first_position..).take(entries.len()).collect();
        self.appends.push(JournalAppend {
            clinic: sealed.clinic.to_string(),
            first_position,
            entries,
            request,
        });
        Ok(Outcome::Landed(Appended {
            positions,
            sequences,
            recorded_at_ms,
            repeated: None,
        }))
    }

    fn open_ledger(&mut self, clinic: &ClinicId) {
        if !self.ledgers.contains_key(clinic) {
            let known = read(&self.shared.ledgers).get(clinic).cloned();
            let staged = StagedLedger {
                number: known.as_ref().map(|ledger| ledger.number),
                recorded_at_ms: known.as_ref().map_or(0, |ledger| ledger.recorded_at_ms),
                tree: known.map_or_else(GrowingTree::new, |ledger| ledger.tree),
                next: BTreeMap::new(),
            };
            self.ledgers.insert(clinic.clone(), staged);
        }
    }

    /// The batch, if anything landed.
    pub(crate) fn finish(self) -> Option<JournalBatch> {
        if self.appends.is_empty() {
            return None;
        }
        let appends = self.appends;
        let moved = |clinic: &ClinicId| {
            appends
                .iter()
                .any(|append| append.clinic == clinic.as_str())
        };
        let heads =
            self.ledgers
                .iter()
                .filter(|(clinic, _)| moved(clinic))
                .map(|(clinic, ledger)| {
                    let head = ledger.tree.head();
                    HeadMove {
                        clinic: clinic.to_string(),
                        size: head.size,
                        root: head.root.to_vec(),
                    }
                });
        let heads = heads.collect();
        Some(JournalBatch { appends, heads })
    }
}

impl StagedLedger {
    fn next_sequence(&self, shared: &Shared, stream: &StreamId) -> Result<u64, LogError> {
        match (self.next.get(stream), self.number) {
            (Some(next), _) => Ok(*next),
            (None, Some(number)) => read(&shared.index).next_sequence(&shared.log, number, stream),
            (None, None) => Ok(0),
        }
    }

    /// Encodes an entry for good and adds its leaf.
    fn push(&mut self, clinic: &ClinicId, sequence: u64, entry: SealedEntry) -> Vec<u8> {
        let envelope = Envelope {
            clinic: clinic.to_string(),
            stream: entry.stream.to_string(),
            sequence,
            kind: entry.kind.into(),
            recorded_at_ms: self.recorded_at_ms,
            semantics: entry.semantics,
            pack_digest: entry
                .pack_digest
                .map_or_else(Vec::new, |digest| digest.to_vec()),
            commitment: entry.content.commitment.to_vec(),
            key_id: entry.key.0.to_vec(),
            sealed_digest: sealed_digest(&entry.content.sealed).to_vec(),
        };
        let (leaf, stored) = encode_entry(&envelope, entry.content.sealed);
        self.tree.push(leaf);
        stored
    }
}

fn journal_request(
    request: SealedRequest,
    recorded_at_ms: u64,
    sequences: &[u64],
) -> JournalRequest {
    JournalRequest {
        id_mac: request.name.to_vec(),
        fingerprint: request.fingerprint.to_vec(),
        sealed_answer: request.answer,
        key_id: request.key.0.to_vec(),
        recorded_at_ms,
        sequences: sequences.to_vec(),
    }
}

/// The row of a request that is remembered.
pub(crate) fn find_request(
    shared: &Shared,
    name: &NameMac,
) -> Result<Option<RequestRow>, LogError> {
    let key = read(&shared.requests).find(name);
    key.map_or(Ok(None), |key| shared.log.request(key))
}

/// What a request that is remembered is answered with.
fn repeat(shared: &Shared, clinic: &ClinicId, request: &SealedRequest, row: RequestRow) -> Outcome {
    Outcome::Repeated(answer_again(
        shared,
        clinic,
        &request.name,
        &request.fingerprint,
        &request.request_id,
        row,
    ))
}

/// What a remembered request is answered with, if it is the same request.
pub(crate) fn answer_again(
    shared: &Shared,
    clinic: &ClinicId,
    name: &NameMac,
    fingerprint: &[u8; 32],
    request_id: &str,
    row: RequestRow,
) -> Result<Appended, AppendError> {
    let reused = || AppendError::RequestReused {
        request_id: request_id.to_owned(),
    };
    let earlier = row.request.ok_or_else(reused)?;
    if earlier.fingerprint.as_slice() != fingerprint {
        return Err(reused());
    }
    let key = KeyId(earlier.key_id.as_slice().try_into().map_err(|_| reused())?);
    let answer = open_answer(&shared.keys, clinic, name, key, &earlier.sealed_answer)?;
    Ok(Appended {
        positions: (row.first_position..)
            .take(earlier.sequences.len())
            .collect(),
        sequences: earlier.sequences,
        recorded_at_ms: earlier.recorded_at_ms,
        repeated: Some(answer),
    })
}

//! A committed batch takes effect: rows in the log, positions in the index, heads moved. The same for a batch just
//! committed and for one read back from the journal; applying one again changes nothing.
//!
//! Leaves to others: what lands (`crate::stage`), when the log is synced (`crate::writer`).

use crate::id::{ClinicId, IdError, StreamId};
use crate::journal::Mark;
use crate::log::{LogError, Rows, request_key};
use crate::shared::{Ledger, Shared, lock, read, write};
use rungwise_ledger::entry::{EntryError, ParsedEntry};
use rungwise_ledger::tree::GrowingTree;
use rungwise_ledger::v1::{JournalAppend, JournalBatch, RequestRow};
use std::collections::BTreeMap;

/// Why a committed batch could not take effect. It is durable, and applied when the store is opened anew.
#[derive(Debug, thiserror::Error)]
pub enum ApplyError {
    /// The log failed.
    #[error("the log failed: {0}")]
    Log(#[from] LogError),
    /// A name in the batch is none.
    #[error("batch {batch}: {cause}")]
    Name {
        /// The batch.
        batch: u64,
        /// Why.
        cause: IdError,
    },
    /// An entry of the batch is none.
    #[error("batch {batch}: an entry of `{clinic}` at {position}: {cause}")]
    Entry {
        /// The batch.
        batch: u64,
        /// The ledger.
        clinic: ClinicId,
        /// Leaf index.
        position: u64,
        /// Why.
        cause: EntryError,
    },
    /// The batch does not go on where the ledger stands.
    #[error("batch {batch} does not go on where the ledger `{clinic}` stands: {what}")]
    Order {
        /// The batch.
        batch: u64,
        /// The ledger.
        clinic: ClinicId,
        /// What does not fit.
        what: String,
    },
}

/// An entry's place, to be noted once its row is written.
struct Note {
    ledger: u32,
    clinic: ClinicId,
    stream: StreamId,
    sequence: u64,
    position: u64,
}

/// A request, to be remembered once its row is written.
struct Remembered {
    name: [u8; 32],
    key: [u8; 12],
    recorded_at_ms: u64,
}

struct Applying {
    batch: u64,
    rows: Rows,
    notes: Vec<Note>,
    remembered: Vec<Remembered>,
    ledgers: BTreeMap<ClinicId, Ledger>,
    next_number: u32,
}

/// Applies a committed batch.
pub(crate) fn apply(shared: &Shared, mark: Mark, batch: JournalBatch) -> Result<(), ApplyError> {
    let mut applying = Applying {
        batch: mark.batch,
        rows: Rows::default(),
        notes: Vec::new(),
        remembered: Vec::new(),
        ledgers: BTreeMap::new(),
        next_number: u32::try_from(read(&shared.ledgers).len()).unwrap_or(u32::MAX),
    };
    for (index, append) in (0..).zip(batch.appends) {
        applying.append(shared, index, append)?;
    }
    for head in batch.heads {
        let clinic = applying.clinic(&head.clinic)?;
        let found = applying
            .ledgers
            .get(&clinic)
            .map(|ledger| ledger.tree.head());
        // A ledger whose row was written later than the mark is ahead of the batches applied again.
        let fits = found.is_some_and(|found| {
            found.size > head.size
                || (found.size == head.size && found.root.as_slice() == head.root)
        });
        if !fits {
            return Err(applying.order(
                clinic,
                format!("it does not lead to the head of {} entries", head.size),
            ));
        }
    }
    applying.publish(shared)
}

impl Applying {
    fn clinic(&self, name: &str) -> Result<ClinicId, ApplyError> {
        ClinicId::new(name).map_err(|cause| ApplyError::Name {
            batch: self.batch,
            cause,
        })
    }

    fn order(&self, clinic: ClinicId, what: String) -> ApplyError {
        ApplyError::Order {
            batch: self.batch,
            clinic,
            what,
        }
    }

    fn append(
        &mut self,
        shared: &Shared,
        index: u32,
        append: JournalAppend,
    ) -> Result<(), ApplyError> {
        let clinic = self.clinic(&append.clinic)?;
        let mut ledger = self.ledger(shared, &clinic);
        let (size, count) = (ledger.tree.size(), append.entries.len() as u64);
        let is_new = append.first_position == size;
        if !is_new && append.first_position.saturating_add(count) > size {
            let what = format!(
                "it has {size} entries, the next are at {}",
                append.first_position
            );
            return Err(self.order(clinic, what));
        }
        for (position, stored) in (append.first_position..).zip(append.entries) {
            let entry = ParsedEntry::parse(&stored).map_err(|cause| ApplyError::Entry {
                batch: self.batch,
                clinic: clinic.clone(),
                position,
                cause,
            })?;
            if is_new {
                ledger.tree.push(entry.leaf);
                ledger.recorded_at_ms = ledger.recorded_at_ms.max(entry.envelope.recorded_at_ms);
            }
            let stream =
                StreamId::new(entry.envelope.stream).map_err(|cause| ApplyError::Name {
                    batch: self.batch,
                    cause,
                })?;
            let (number, sequence) = (ledger.number, entry.envelope.sequence);
            self.notes.push(Note {
                ledger: number,
                clinic: clinic.clone(),
                stream,
                sequence,
                position,
            });
            self.rows.entry(number, position, stored);
        }
        if let Some(request) = append.request {
            let name = request
                .id_mac
                .as_slice()
                .try_into()
                .map_err(|_| LogError::Row("requests"))?;
            let (key, recorded_at_ms) = (request_key(self.batch, index), request.recorded_at_ms);
            let row = RequestRow {
                clinic: append.clinic,
                first_position: append.first_position,
                request: Some(request),
            };
            self.rows.request(key, &row);
            self.remembered.push(Remembered {
                name,
                key,
                recorded_at_ms,
            });
        }
        ledger.unwritten = true;
        self.ledgers.insert(clinic, ledger);
        Ok(())
    }

    /// Where a ledger stands so far; a new one gets the next number.
    fn ledger(&mut self, shared: &Shared, clinic: &ClinicId) -> Ledger {
        let known = self
            .ledgers
            .get(clinic)
            .cloned()
            .or_else(|| read(&shared.ledgers).get(clinic).cloned());
        known.unwrap_or_else(|| {
            let number = self.next_number;
            self.next_number = number.saturating_add(1);
            Ledger {
                number,
                tree: GrowingTree::new(),
                recorded_at_ms: 0,
                unwritten: true,
            }
        })
    }

    fn publish(mut self, shared: &Shared) -> Result<(), ApplyError> {
        shared.log.write(std::mem::take(&mut self.rows))?;
        let mut index = write(&shared.index);
        for note in std::mem::take(&mut self.notes) {
            let name = note.stream.to_string();
            if let Err(out) = index.note(
                &shared.log,
                note.ledger,
                note.stream,
                note.sequence,
                note.position,
            )? {
                let what = format!(
                    "stream `{name}` stands at {}, the entry at {}",
                    out.next, note.sequence
                );
                return Err(self.order(note.clinic, what));
            }
        }
        drop(index);
        let mut requests = write(&shared.requests);
        self.remembered
            .iter()
            .for_each(|r| requests.remember(r.name, r.key, r.recorded_at_ms));
        drop(requests);
        let sizes: Vec<_> = self
            .ledgers
            .iter()
            .map(|(clinic, ledger)| (clinic.clone(), ledger.tree.size()))
            .collect();
        write(&shared.ledgers).append(&mut self.ledgers);
        let senders = lock(&shared.sizes);
        for (clinic, size) in sizes {
            if let Some(sender) = senders.get(&clinic) {
                sender.send_replace(size);
            }
        }
        Ok(())
    }
}

//! Derived rows (snapshots of episodes): a second database that may be lost, deleted or damaged at any time without harm.
//!
//! Rows are sealed, collected in memory and written on the writer's cadence.
//!
//! Leaves to others: what a snapshot holds, and taking another when there is none.

use crate::files::FileError;
use crate::id::{ClinicId, KeyId, StreamId};
use crate::keys::{Keys, random};
use crate::log::{LogError, open_guarded};
use crate::read::Snapshot;
use rungwise_ledger::seal::{seal, unseal};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

/// Cache of the database, bytes.
const CACHE_BYTES: u64 = 16 * 1_048_576;
/// Most bytes that wait to be written; beyond it snapshots are dropped.
const WAITING_BYTES_MAX: usize = 16 * 1_048_576;

/// Most bytes of a row under one key. sled 0.34.7 keeps a value of 128 KiB or more in a file of its own; where that file
/// cannot be written, every later flush, of any database of the process, waits for ever.
const PART_BYTES_MAX: usize = 4 * 1024;

/// The derived rows.
pub(crate) struct Derived {
    db: sled::Db,
    waiting: Mutex<Waiting>,
}

#[derive(Default)]
struct Waiting {
    rows: BTreeMap<Vec<u8>, Vec<u8>>,
    bytes: usize,
}

fn row_key(clinic: &ClinicId, stream: &StreamId) -> Vec<u8> {
    [clinic.as_str().as_bytes(), &[0], stream.as_str().as_bytes()].concat()
}

fn context(clinic: &ClinicId, stream: &StreamId) -> Vec<u8> {
    [b"rungwise snapshot ".as_slice(), &row_key(clinic, stream)].concat()
}

/// The key of one part of a row: the number of parts stands before the first.
fn part_key(row_key: &[u8], part: u32) -> Vec<u8> {
    [row_key, &[0], &part.to_be_bytes()].concat()
}

impl Derived {
    /// Opens the database in `dir`. One that does not open is deleted and begun anew.
    pub(crate) fn open(dir: &Path) -> Result<Self, LogError> {
        let db = match open_guarded(dir, CACHE_BYTES) {
            Ok(db) => db,
            Err(_) => {
                fs::remove_dir_all(dir).map_err(|cause| FileError {
                    path: dir.to_owned(),
                    cause,
                })?;
                open_guarded(dir, CACHE_BYTES)?
            }
        };
        Ok(Self {
            db,
            waiting: Mutex::new(Waiting::default()),
        })
    }

    /// Keeps a snapshot, or drops it when it cannot.
    pub(crate) fn put(
        &self,
        keys: &Keys,
        clinic: &ClinicId,
        stream: &StreamId,
        key_id: KeyId,
        snapshot: &Snapshot,
    ) {
        let Some(key) = keys.get(clinic, key_id) else {
            return;
        };
        let Ok(nonce) = random() else { return };
        let content = [
            snapshot.next_sequence.to_be_bytes().as_slice(),
            &snapshot.content,
        ]
        .concat();
        let Ok(sealed) = seal(&key, &nonce, &context(clinic, stream), &content) else {
            return;
        };
        let row = [key_id.0.as_slice(), &sealed].concat();
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        if waiting.bytes.saturating_add(row.len()) <= WAITING_BYTES_MAX {
            waiting.bytes = waiting.bytes.saturating_add(row.len());
            waiting.rows.insert(row_key(clinic, stream), row);
        }
    }

    /// The snapshot kept, if it can still be read.
    pub(crate) fn get(
        &self,
        keys: &Keys,
        clinic: &ClinicId,
        stream: &StreamId,
    ) -> Option<Snapshot> {
        let row_key = row_key(clinic, stream);
        let waiting = self
            .waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .rows
            .get(&row_key)
            .cloned();
        let row = match waiting {
            Some(row) => row,
            None => self.written(&row_key)?,
        };
        let (key_id, sealed) = row.split_first_chunk::<16>()?;
        let mut content = unseal(
            &keys.get(clinic, KeyId(*key_id))?,
            &context(clinic, stream),
            sealed,
        )
        .ok()?;
        let next_sequence = u64::from_be_bytes(*content.first_chunk()?);
        content.drain(..8);
        Some(Snapshot {
            next_sequence,
            content,
        })
    }

    /// A row put together from its parts. Parts of two writes do not open together, so none is mistaken for a row.
    fn written(&self, row_key: &[u8]) -> Option<Vec<u8>> {
        let first = self.db.get(part_key(row_key, 0)).ok()??;
        let (count, first) = first.split_first_chunk()?;
        let mut row = first.to_vec();
        for part in 1..u32::from_be_bytes(*count) {
            row.extend_from_slice(&self.db.get(part_key(row_key, part)).ok()??);
        }
        Some(row)
    }

    /// Writes what waits. Failing loses only derived rows.
    pub(crate) fn write_waiting(&self) {
        let rows = self
            .waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .rows
            .clone();
        let mut batch = sled::Batch::default();
        for (key, row) in &rows {
            let parts = row.chunks(PART_BYTES_MAX);
            let count = u32::try_from(parts.len()).unwrap_or(u32::MAX).to_be_bytes();
            for (part, bytes) in (0u32..).zip(parts) {
                let head: &[u8] = if part == 0 { &count } else { &[] };
                batch.insert(part_key(key, part), [head, bytes].concat());
            }
        }
        let written = self.db.apply_batch(batch).is_ok();
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        // What was put meanwhile under the same key stays for the next time.
        waiting
            .rows
            .retain(|key, row| rows.get(key).is_none_or(|was| was != row) && written);
        waiting.bytes = waiting.rows.values().map(Vec::len).sum();
    }
}

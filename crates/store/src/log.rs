//! The queryable log: sled, opened guarded, in few trees, with sequential keys where many rows are written.
//!
//! sled 0.34.7 is not durable by its own `flush` and may panic on damaged files, so it stands behind the journal: whatever
//! it loses since the last sync is applied again. Nothing but this module and `crate::derived` names sled.
//!
//! Leaves to others: what to write when (`crate::apply`, `crate::writer`).

use crate::files::{About, FileError};
use crate::journal::Mark;
use prost::Message;
use rungwise_ledger::v1::{LedgerRow, RequestRow};
use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

/// How often opening is tried while another handle lets go of the lock, and how long apart.
const LOCK_TRIES: u32 = 20;
const LOCK_WAIT: Duration = Duration::from_millis(50);

/// Key of the mark in the ledgers' tree; keys of ledger rows have four bytes.
const MARK_KEY: &[u8] = b"m";

/// Why the log failed.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// The database below said so.
    #[error("{0}")]
    Database(String),
    /// sled panicked, as it may on damaged files.
    #[error("opening it failed within: {0}")]
    Panicked(String),
    /// A file of it could not be synced.
    #[error("{0}")]
    File(#[from] FileError),
    /// A row is not what was written.
    #[error("a row of `{0}` does not read back")]
    Row(&'static str),
}

impl From<sled::Error> for LogError {
    fn from(error: sled::Error) -> Self {
        Self::Database(error.to_string())
    }
}

/// Key of an entry; its bytes sort as ledger and position do.
fn entry_key(ledger: u32, position: u64) -> [u8; 12] {
    let mut key = [0; 12];
    let parts = ledger
        .to_be_bytes()
        .into_iter()
        .chain(position.to_be_bytes());
    key.iter_mut().zip(parts).for_each(|(to, from)| *to = from);
    key
}

/// Key of a block of a stream's positions. A stream's name has no zero byte, so blocks sort by name, then number.
pub(crate) fn block_key(ledger: u32, stream: &str, block: u32) -> Vec<u8> {
    [
        &ledger.to_be_bytes(),
        stream.as_bytes(),
        &[0],
        &block.to_be_bytes(),
    ]
    .concat()
}

/// Key of a remembered request: the batch it landed in, and its place there.
pub(crate) fn request_key(batch: u64, index: u32) -> [u8; 12] {
    let mut key = [0; 12];
    let parts = batch.to_be_bytes().into_iter().chain(index.to_be_bytes());
    key.iter_mut().zip(parts).for_each(|(to, from)| *to = from);
    key
}

/// The queryable log, open.
#[derive(Clone)]
pub(crate) struct Log {
    db: sled::Db,
    entries: sled::Tree,
    streams: sled::Tree,
    requests: sled::Tree,
    ledgers: sled::Tree,
}

/// Rows to be written together.
#[derive(Default)]
pub(crate) struct Rows {
    entries: sled::Batch,
    requests: sled::Batch,
}

impl Rows {
    /// Writes an entry.
    pub(crate) fn entry(&mut self, ledger: u32, position: u64, stored: Vec<u8>) {
        self.entries.insert(&entry_key(ledger, position), stored);
    }

    /// Remembers a request.
    pub(crate) fn request(&mut self, key: [u8; 12], row: &RequestRow) {
        self.requests.insert(&key, row.encode_to_vec());
    }
}

/// The state of ledgers and streams to be written on a cadence.
#[derive(Default)]
pub(crate) struct StateRows {
    ledgers: sled::Batch,
    streams: sled::Batch,
    forgotten: sled::Batch,
}

impl StateRows {
    /// Writes where a ledger stands.
    pub(crate) fn ledger(&mut self, ledger: u32, row: &LedgerRow) {
        self.ledgers
            .insert(&ledger.to_be_bytes(), row.encode_to_vec());
    }

    /// Writes a block of a stream's positions.
    pub(crate) fn block(&mut self, key: Vec<u8>, positions: &[u64]) {
        let bytes: Vec<u8> = positions.iter().flat_map(|p| p.to_be_bytes()).collect();
        self.streams.insert(key, bytes);
    }

    /// Forgets a request.
    pub(crate) fn forget(&mut self, key: [u8; 12]) {
        self.forgotten.remove(&key);
    }

    /// Says that everything up to here was synced before.
    pub(crate) fn mark(&mut self, mark: Mark) {
        let value = [mark.batch.to_be_bytes().as_slice(), &mark.hash].concat();
        self.ledgers.insert(MARK_KEY, value);
    }
}

impl Log {
    /// Opens the log in `dir`, creating it where there is none.
    pub(crate) fn open(dir: &Path, cache_bytes: u64) -> Result<Self, LogError> {
        let db = open_guarded(dir, cache_bytes)?;
        let log = Self {
            entries: db.open_tree("entries")?,
            streams: db.open_tree("streams")?,
            requests: db.open_tree("requests")?,
            ledgers: db.open_tree("ledgers")?,
            db,
        };
        Ok(log)
    }

    /// Where everything was synced up to when this was written.
    pub(crate) fn mark(&self) -> Result<Mark, LogError> {
        let Some(value) = self.ledgers.get(MARK_KEY)? else {
            return Ok(Mark::START);
        };
        let (batch, hash) = value
            .split_first_chunk::<8>()
            .ok_or(LogError::Row("ledgers"))?;
        let hash = hash.try_into().map_err(|_| LogError::Row("ledgers"))?;
        Ok(Mark {
            batch: u64::from_be_bytes(*batch),
            hash,
        })
    }

    /// Where every ledger stood when its row was written.
    pub(crate) fn ledgers(&self) -> Result<Vec<(u32, LedgerRow)>, LogError> {
        let mut rows = Vec::new();
        for item in self.ledgers.iter() {
            let (key, value) = item?;
            let Ok(number) = <[u8; 4]>::try_from(key.as_ref()) else {
                continue;
            };
            let row = LedgerRow::decode(value.as_ref()).map_err(|_| LogError::Row("ledgers"))?;
            rows.push((u32::from_be_bytes(number), row));
        }
        Ok(rows)
    }

    /// Writes rows; readable at once, durable later.
    pub(crate) fn write(&self, rows: Rows) -> Result<(), LogError> {
        self.entries.apply_batch(rows.entries)?;
        self.requests.apply_batch(rows.requests)?;
        Ok(())
    }

    /// Writes the state of ledgers and streams; readable at once, durable later.
    pub(crate) fn write_state(&self, rows: StateRows) -> Result<(), LogError> {
        self.streams.apply_batch(rows.streams)?;
        self.requests.apply_batch(rows.forgotten)?;
        self.ledgers.apply_batch(rows.ledgers)?;
        Ok(())
    }

    /// Stored entries of a ledger from a position on, in order.
    pub(crate) fn entries(
        &self,
        ledger: u32,
        from: u64,
    ) -> impl Iterator<Item = Result<(u64, sled::IVec), LogError>> + use<> {
        self.entries
            .range(entry_key(ledger, from)..=entry_key(ledger, u64::MAX))
            .map(|item| {
                let (key, value) = item?;
                let position = key
                    .last_chunk::<8>()
                    .copied()
                    .ok_or(LogError::Row("entries"))?;
                Ok((u64::from_be_bytes(position), value))
            })
    }

    /// One stored entry.
    pub(crate) fn entry(&self, ledger: u32, position: u64) -> Result<Option<sled::IVec>, LogError> {
        Ok(self.entries.get(entry_key(ledger, position))?)
    }

    /// One block of a stream's positions; empty where there is none.
    pub(crate) fn block(
        &self,
        ledger: u32,
        stream: &str,
        block: u32,
    ) -> Result<Vec<u64>, LogError> {
        self.streams
            .get(block_key(ledger, stream, block))?
            .map_or(Ok(Vec::new()), |value| positions(&value))
    }

    /// The last block of a stream: its number and positions.
    pub(crate) fn last_block(
        &self,
        ledger: u32,
        stream: &str,
    ) -> Result<Option<(u32, Vec<u64>)>, LogError> {
        let range = block_key(ledger, stream, 0)..=block_key(ledger, stream, u32::MAX);
        let Some(item) = self.streams.range(range).next_back() else {
            return Ok(None);
        };
        let (key, value) = item?;
        let block = key
            .last_chunk::<4>()
            .copied()
            .ok_or(LogError::Row("streams"))?;
        Ok(Some((u32::from_be_bytes(block), positions(&value)?)))
    }

    /// Name of the first stream after a name.
    pub(crate) fn stream_after(
        &self,
        ledger: u32,
        after: Option<&str>,
    ) -> Result<Option<String>, LogError> {
        let prefix = ledger.to_be_bytes();
        // A name is followed by a zero byte, so what follows it with a one byte is past all its blocks.
        let from = after.map_or(prefix.to_vec(), |name| {
            [&prefix, name.as_bytes(), &[1]].concat()
        });
        let Some(item) = self.streams.range(from..).next() else {
            return Ok(None);
        };
        let (key, _) = item?;
        let Some(rest) = key.strip_prefix(prefix.as_slice()) else {
            return Ok(None);
        };
        let name = rest.split(|byte| *byte == 0).next().unwrap_or_default();
        String::from_utf8(name.to_vec())
            .map(Some)
            .map_err(|_| LogError::Row("streams"))
    }

    /// Every remembered request, oldest first.
    pub(crate) fn requests(
        &self,
    ) -> impl Iterator<Item = Result<([u8; 12], RequestRow), LogError>> + use<> {
        self.requests.iter().map(|item| {
            let (key, value) = item?;
            let key = key
                .as_ref()
                .try_into()
                .map_err(|_| LogError::Row("requests"))?;
            Ok((
                key,
                RequestRow::decode(value.as_ref()).map_err(|_| LogError::Row("requests"))?,
            ))
        })
    }

    /// One remembered request.
    pub(crate) fn request(&self, key: [u8; 12]) -> Result<Option<RequestRow>, LogError> {
        let Some(value) = self.requests.get(key)? else {
            return Ok(None);
        };
        RequestRow::decode(value.as_ref())
            .map(Some)
            .map_err(|_| LogError::Row("requests"))
    }

    /// Hands everything written to the operating system.
    pub(crate) fn flush(&self) -> Result<(), LogError> {
        self.db.flush()?;
        Ok(())
    }
}

fn positions(value: &[u8]) -> Result<Vec<u64>, LogError> {
    let (chunks, rest) = value.as_chunks::<8>();
    if rest.is_empty() {
        Ok(chunks.iter().map(|c| u64::from_be_bytes(*c)).collect())
    } else {
        Err(LogError::Row("streams"))
    }
}

/// Makes the log's files durable, which sled's own flush does not.
pub(crate) struct LogFiles {
    main: File,
    path: PathBuf,
    blobs: PathBuf,
    blobs_synced: BTreeSet<OsString>,
}

impl LogFiles {
    /// Opens the files of the log in `dir` for syncing.
    pub(crate) fn open(dir: &Path) -> Result<Self, FileError> {
        let path = dir.join("db");
        let main = File::open(&path).about(&path)?;
        crate::files::sync_dir(dir)?;
        Ok(Self {
            main,
            path,
            blobs: dir.join("blobs"),
            blobs_synced: BTreeSet::new(),
        })
    }

    /// Makes durable what was flushed.
    pub(crate) fn sync(&mut self) -> Result<(), FileError> {
        self.main.sync_data().about(&self.path)?;
        // Rows too large for the log's file have files of their own, each written once.
        let items = match fs::read_dir(&self.blobs) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
            items => items.about(&self.blobs)?,
        };
        let mut there = BTreeSet::new();
        for item in items {
            let item = item.about(&self.blobs)?;
            let (name, path) = (item.file_name(), item.path());
            if !self.blobs_synced.contains(&name) {
                match File::open(&path).and_then(|file| file.sync_all()) {
                    Err(error) if error.kind() == io::ErrorKind::NotFound => continue,
                    done => done.about(&path)?,
                }
            }
            there.insert(name);
        }
        if there.iter().any(|name| !self.blobs_synced.contains(name)) {
            crate::files::sync_dir(&self.blobs)?;
        }
        self.blobs_synced = there;
        Ok(())
    }
}

/// Opens a sled database on a thread of its own, where a panic ends nothing else, waiting shortly for its lock.
pub(crate) fn open_guarded(dir: &Path, cache_bytes: u64) -> Result<sled::Db, LogError> {
    let mut tries = 0_u32;
    loop {
        match open_once(dir, cache_bytes)? {
            Err(sled::Error::Io(error)) if is_locked(&error) && tries < LOCK_TRIES => {
                tries = tries.saturating_add(1);
                thread::sleep(LOCK_WAIT);
            }
            // A snapshot cut by a crash is refused by sled, which reads its log instead once the snapshot is out of the way.
            Err(sled::Error::Corruption { at: None, .. }) if set_snapshots_aside(dir)? => {}
            opened => return Ok(opened?),
        }
    }
}

fn open_once(dir: &Path, cache_bytes: u64) -> Result<sled::Result<sled::Db>, LogError> {
    let config = sled::Config::new()
        .path(dir)
        .cache_capacity(cache_bytes)
        .flush_every_ms(Some(500));
    let opening = thread::Builder::new()
        .name("log-open".to_owned())
        .spawn(move || config.open());
    let opening = opening.map_err(|error| LogError::Database(error.to_string()))?;
    opening.join().map_err(|panic| {
        let text = panic.downcast_ref::<String>().map(String::as_str);
        let text = text
            .or_else(|| panic.downcast_ref::<&str>().copied())
            .unwrap_or("panic");
        LogError::Panicked(text.to_owned())
    })
}

/// Whether sled could not take its lock. It wraps the error, so its text has to tell.
fn is_locked(error: &io::Error) -> bool {
    error.kind() == io::ErrorKind::WouldBlock
        || error.to_string().contains("could not acquire lock")
}

/// Moves sled's snapshots out of its way; false when there are none.
fn set_snapshots_aside(dir: &Path) -> Result<bool, FileError> {
    let mut moved = false;
    for item in fs::read_dir(dir).about(dir)? {
        let path = item.about(dir)?.path();
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .unwrap_or_default();
        if name.starts_with("snap.") {
            let aside = dir.join(format!("aside.{name}"));
            fs::rename(&path, &aside).about(&path)?;
            moved = true;
        }
    }
    Ok(moved)
}

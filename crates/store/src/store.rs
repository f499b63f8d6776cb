//! The store as its users see it.
//!
//! Leaves to others: writing (`crate::writer`), opening (`crate::open`), making appends ready (`crate::seal`).

use crate::append::{Append, AppendError, Appended, Pending, Request};
use crate::checkpoints::CheckpointError;
use crate::id::{ClinicId, KeyId, StreamId};
use crate::index::positions_in_log;
use crate::keys::KeyError;
use crate::log::LogError;
use crate::open::{OpenError, Opened, open};
use crate::options::StoreOptions;
use crate::read::{Entry, ReadError, Snapshot, StreamHead, open_entry};
use crate::seal::prepare;
use crate::shared::{Shared, lock, read};
use crate::stage::{answer_again, find_request};
use crate::state::{State, StopReason};
use crate::verify::{Verified, VerifyError, verify};
use crate::writer::{Job, Writer};
use rungwise_ledger::fingerprint;
use rungwise_ledger::tree::{GrowingTree, Head};
use std::fmt;
use std::fs::File;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex};
use std::thread::{self, JoinHandle};
use tokio::sync::{oneshot, watch};

/// Most appends that wait for the writer.
pub const QUEUE_APPENDS_MAX: usize = 4_096;
/// Most bytes that wait for the writer.
pub const QUEUE_BYTES_MAX: usize = 64 * 1_048_576;

/// A store, open. Share it in an `Arc`; dropping the last one drains it.
pub struct Store {
    shared: Arc<Shared>,
    queue: SyncSender<Job>,
    queued_bytes: Arc<AtomicUsize>,
    writer: Mutex<Option<JoinHandle<()>>>,
    /// Held as long as the store is open.
    _lock: File,
}

impl fmt::Debug for Store {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Store")
            .field("state", &self.state())
            .finish_non_exhaustive()
    }
}

impl Store {
    /// Opens the store in `dir`, creating it if the directory is missing or empty, and recovers what was acknowledged.
    ///
    /// # Errors
    /// In use by another process; damaged; or its parts contradict each other, in which case both are named and nothing
    /// is changed.
    pub fn open(dir: &Path, options: StoreOptions) -> Result<Self, OpenError> {
        let Opened {
            shared,
            journal,
            files,
            marked,
            lock,
        } = open(dir, &options)?;
        let shared = Arc::new(shared);
        let (queue, jobs) = sync_channel(QUEUE_APPENDS_MAX);
        let queued_bytes = Arc::new(AtomicUsize::new(0));
        let writer = Writer::new(
            Arc::clone(&shared),
            options.clock,
            journal,
            files,
            jobs,
            Arc::clone(&queued_bytes),
            marked,
        );
        let writer = thread::Builder::new()
            .name("store-writer".to_owned())
            .spawn(move || writer.run());
        let writer = Mutex::new(Some(writer.map_err(OpenError::Thread)?));
        Ok(Self {
            shared,
            queue,
            queued_bytes,
            writer,
            _lock: lock,
        })
    }

    /// Appends: all of it lands, durably, before the answer is ready, or none of it does.
    ///
    /// Contents are sealed on the calling thread, then queued; await the result, or [`Pending::wait`]. Once queued it
    /// goes on whether the caller waits or not. A repeated request is answered as it was the first time, before anything
    /// else is looked at.
    pub fn append(&self, append: Append) -> Pending {
        if let State::Stopped(reason) = self.state() {
            return Pending::refused(AppendError::Stopped(reason));
        }
        let sealed = match prepare(&self.shared.keys, &self.shared.secrets.fingerprint, append) {
            Ok(sealed) => sealed,
            Err(error) => return Pending::refused(error),
        };
        let bytes = sealed.bytes;
        if self
            .queued_bytes
            .fetch_add(bytes, Ordering::Relaxed)
            .saturating_add(bytes)
            > QUEUE_BYTES_MAX
        {
            self.queued_bytes.fetch_sub(bytes, Ordering::Relaxed);
            return Pending::refused(AppendError::Overloaded);
        }
        let (answer, waiting) = oneshot::channel();
        match self.queue.try_send(Job::Append(Box::new(sealed), answer)) {
            Ok(()) => Pending::waiting(waiting, self.state_changes()),
            Err(error) => {
                self.queued_bytes.fetch_sub(bytes, Ordering::Relaxed);
                Pending::refused(match error {
                    TrySendError::Full(_) => AppendError::Overloaded,
                    TrySendError::Disconnected(_) => AppendError::Stopped(self.stop_reason()),
                })
            }
        }
    }

    /// What a request was answered with, if it landed before: to be asked before work is done for it. [`Store::append`]
    /// looks again.
    ///
    /// # Errors
    /// The id was used for another value ([`AppendError::RequestReused`]), or its answer cannot be opened any more.
    pub fn answered(
        &self,
        clinic: &ClinicId,
        request: &Request,
    ) -> Result<Option<Appended>, AppendError> {
        let key = &self.shared.secrets.fingerprint;
        let name =
            fingerprint::request_name(key, clinic.as_str(), &request.caller, &request.request_id);
        // A log that cannot be read is found again, and said, by the append.
        let Ok(Some(row)) = find_request(&self.shared, &name) else {
            return Ok(None);
        };
        answer_again(
            &self.shared,
            clinic,
            &name,
            &request.fingerprint,
            &request.request_id,
            row,
        )
        .map(Some)
    }

    /// Makes a key in the clinic's table for a subject (or for the clinic's own entries). It is durable before the first
    /// entry under it is answered.
    ///
    /// # Errors
    /// The table cannot be written.
    pub fn create_key(&self, clinic: &ClinicId) -> Result<KeyId, KeyError> {
        self.shared.keys.create(clinic)
    }

    /// Rewrites the clinic's key table under a new epoch key and destroys the old one: a copy of the old table opens
    /// nothing any more. Blocks for several file writes.
    ///
    /// # Errors
    /// A file cannot be written; table and epoch key fit each other all the same.
    pub fn renew_epoch(&self, clinic: &ClinicId) -> Result<(), KeyError> {
        self.shared.keys.renew_epoch(clinic)
    }

    /// Keyed fingerprint of a request's converted value, for [`Request::fingerprint`].
    #[must_use]
    pub fn fingerprint(&self, clinic: &ClinicId, value: &[u8]) -> [u8; 32] {
        fingerprint::request_value(&self.shared.secrets.fingerprint, clinic.as_str(), value)
    }

    /// The clinics that have a ledger, in order of id.
    #[must_use]
    pub fn clinics(&self) -> Vec<ClinicId> {
        read(&self.shared.ledgers).keys().cloned().collect()
    }

    /// Size and root of the clinic's ledger; size 0 where it has none.
    #[must_use]
    pub fn head(&self, clinic: &ClinicId) -> Head {
        read(&self.shared.ledgers)
            .get(clinic)
            .map_or_else(|| GrowingTree::new().head(), |ledger| ledger.tree.head())
    }

    /// Number and size of a ledger.
    fn ledger(&self, clinic: &ClinicId) -> Option<(u32, u64)> {
        read(&self.shared.ledgers)
            .get(clinic)
            .map(|ledger| (ledger.number, ledger.tree.size()))
    }

    /// Entries of a stream from a sequence on, in order, at most `limit`.
    ///
    /// # Errors
    /// The log cannot be read, an entry is damaged, or its key is gone.
    pub fn stream(
        &self,
        clinic: &ClinicId,
        stream: &StreamId,
        from_sequence: u64,
        limit: usize,
    ) -> Result<Vec<Entry>, ReadError> {
        let Some((number, _)) = self.ledger(clinic) else {
            return Ok(Vec::new());
        };
        let (log, keys) = (&self.shared.log, &self.shared.keys);
        let (first, recent) = read(&self.shared.index)
            .in_memory(number, stream)
            .unwrap_or((u64::MAX, Vec::new()));
        let mut positions = positions_in_log(log, number, stream, from_sequence, first, limit)?;
        let skip = usize::try_from(from_sequence.saturating_sub(first)).unwrap_or(usize::MAX);
        positions.extend(
            recent
                .into_iter()
                .skip(skip)
                .take(limit.saturating_sub(positions.len())),
        );
        let read = |position| {
            let stored = log
                .entry(number, position)?
                .ok_or_else(|| missing(position))?;
            open_entry(keys, clinic, position, &stored)
        };
        positions.into_iter().map(read).collect()
    }

    /// The sequence the stream's next entry gets; 0 where it has none.
    ///
    /// # Errors
    /// The log cannot be read.
    pub fn next_sequence(&self, clinic: &ClinicId, stream: &StreamId) -> Result<u64, ReadError> {
        let Some((number, _)) = self.ledger(clinic) else {
            return Ok(0);
        };
        Ok(read(&self.shared.index).next_sequence(&self.shared.log, number, stream)?)
    }

    /// Entries of the whole ledger from a position on, in order, at most `limit`.
    ///
    /// # Errors
    /// The log cannot be read, an entry is damaged, or its key is gone.
    pub fn entries(
        &self,
        clinic: &ClinicId,
        from_position: u64,
        limit: usize,
    ) -> Result<Vec<Entry>, ReadError> {
        let Some((number, size)) = self.ledger(clinic) else {
            return Ok(Vec::new());
        };
        let rows = self.shared.log.entries(number, from_position);
        let mut entries = Vec::new();
        for (item, wanted) in rows.zip(from_position..size).take(limit) {
            let (position, stored) = item?;
            if position != wanted {
                return Err(missing(wanted));
            }
            entries.push(open_entry(&self.shared.keys, clinic, position, &stored)?);
        }
        Ok(entries)
    }

    /// One entry; none past the end.
    ///
    /// # Errors
    /// The log cannot be read, the entry is damaged, or its key is gone.
    pub fn entry(&self, clinic: &ClinicId, position: u64) -> Result<Option<Entry>, ReadError> {
        Ok(self.entries(clinic, position, 1)?.pop())
    }

    /// The clinic's streams in order of id, after `after`, at most `limit`.
    ///
    /// # Errors
    /// The log cannot be read.
    pub fn streams(
        &self,
        clinic: &ClinicId,
        after: Option<&StreamId>,
        limit: usize,
    ) -> Result<Vec<StreamHead>, ReadError> {
        let Some((number, _)) = self.ledger(clinic) else {
            return Ok(Vec::new());
        };
        Ok(read(&self.shared.index).list(&self.shared.log, number, after, limit)?)
    }

    /// The size of the clinic's ledger as it grows: read [`Store::entries`] up to it, then wait for the next change.
    #[must_use]
    pub fn subscribe(&self, clinic: &ClinicId) -> watch::Receiver<u64> {
        let mut sizes = lock(&self.shared.sizes);
        // The size is read while new sizes cannot be sent, so none is missed.
        let size = self.ledger(clinic).map_or(0, |(_, size)| size);
        sizes
            .entry(clinic.clone())
            .or_insert_with(|| watch::channel(size).0)
            .subscribe()
    }

    /// The head, signed: a C2SP checkpoint note. Kept on disk before it is returned; at most one new signature a second
    /// for a ledger that changed, so it may be behind [`Store::head`]. Blocks for a file write.
    ///
    /// # Errors
    /// It cannot be kept, so nothing was signed.
    pub fn checkpoint(&self, clinic: &ClinicId) -> Result<String, CheckpointError> {
        self.shared.checkpoints.sign(clinic, self.head(clinic))
    }

    /// Verifier key of the clinic's checkpoints (C2SP `name+id+key`), to hand to whoever checks them.
    ///
    /// # Errors
    /// The store's origin makes no name of a signer.
    pub fn verifier_key(&self, clinic: &ClinicId) -> Result<String, CheckpointError> {
        self.shared.checkpoints.verifier(clinic)
    }

    /// Keeps a derived row beside a stream, sealed under `key`; the last one given wins. Lost without harm: written on a
    /// cadence, dropped when too much waits.
    pub fn put_snapshot(
        &self,
        clinic: &ClinicId,
        stream: &StreamId,
        key: KeyId,
        snapshot: &Snapshot,
    ) {
        self.shared
            .derived
            .put(&self.shared.keys, clinic, stream, key, snapshot);
    }

    /// The derived row kept beside a stream; none when there is none, none that can still be read, or when it was taken
    /// beyond the stream's end.
    #[must_use]
    pub fn snapshot(&self, clinic: &ClinicId, stream: &StreamId) -> Option<Snapshot> {
        let snapshot = self.shared.derived.get(&self.shared.keys, clinic, stream)?;
        let next = self.next_sequence(clinic, stream).ok()?;
        Some(snapshot).filter(|snapshot| snapshot.next_sequence <= next)
    }

    /// Walks the whole ledger: every entry's bytes, sequences, times, commitments; the root against the head and the
    /// last checkpoint. Writes nothing.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn verify(&self, clinic: &ClinicId) -> Result<Verified, VerifyError> {
        verify(&self.shared, clinic)
    }

    /// Whether it takes writes.
    #[must_use]
    pub fn state(&self) -> State {
        self.shared.state.borrow().clone()
    }

    fn stop_reason(&self) -> StopReason {
        match self.state() {
            State::Stopped(reason) => reason,
            State::Serving => StopReason::Ended,
        }
    }

    /// Whether it takes writes, as it changes.
    #[must_use]
    pub fn state_changes(&self) -> watch::Receiver<State> {
        self.shared.state.subscribe()
    }

    /// Takes no more appends, finishes those queued, syncs everything and ends the writer. Reads go on. Blocks.
    ///
    /// # Errors
    /// It had stopped for another reason, or stopped while draining.
    pub fn drain(&self) -> Result<(), StopReason> {
        if let Some(writer) = lock(&self.writer).take() {
            // A writer that has ended already takes no jobs; a panic in it was caught and said in its state.
            let _ = self.queue.send(Job::Drain);
            let _ = writer.join();
        }
        match self.stop_reason() {
            StopReason::Drained => Ok(()),
            other => Err(other),
        }
    }
}

impl Drop for Store {
    fn drop(&mut self) {
        // Why it could not be drained has been said to everyone who waited for the writer.
        let _ = self.drain();
    }
}

fn missing(position: u64) -> ReadError {
    ReadError::Damaged {
        position,
        what: "it is missing".to_owned(),
    }
}

impl From<LogError> for ReadError {
    fn from(error: LogError) -> Self {
        Self::Log(error.to_string())
    }
}

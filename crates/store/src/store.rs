//! The store as its users see it.
//!
//! Leaves to others: writing (`crate::writer`), opening (`crate::open`).

use crate::append::{Append, AppendError, Pending};
use crate::id::{ClinicId, KeyId, StreamId};
use crate::options::StoreOptions;
use crate::read::{Entry, ReadError, Snapshot, StreamHead};
use crate::state::{State, StopReason};
use std::path::Path;
use tokio::sync::watch;

/// Size and root of a clinic's ledger.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Head {
    /// How many entries.
    pub size: u64,
    /// RFC 9162 root.
    pub root: [u8; 32],
}

/// Why a store could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// To be refined.
    #[error("{0}")]
    Failed(String),
}

/// Why no key was made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// The table could not be read or written.
    #[error("the key table cannot be written: {0}")]
    Table(String),
}

/// Why no checkpoint was signed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CheckpointError {
    /// The checkpoint could not be made durable, so it was not signed.
    #[error("the checkpoint cannot be kept: {0}")]
    Keep(String),
}

/// What verifying a ledger found sound.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Verified {
    /// The head that the entries add up to.
    pub head: Head,
    /// How many streams.
    pub streams: u64,
    /// Size of the last signed checkpoint, which the entries extend.
    pub checkpoint_size: Option<u64>,
}

/// What verifying a ledger found wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum VerifyError {
    /// An entry is not what it should be.
    #[error("entry {position}: {what}")]
    Entry {
        /// Leaf index.
        position: u64,
        /// What is wrong.
        what: String,
    },
    /// The entries do not add up to the head or the checkpoint.
    #[error("{0}")]
    Ledger(String),
}

/// A store, open. Dropping it drains it.
#[derive(Debug)]
pub struct Store {}

impl Store {
    /// Opens the store in `dir`, creating it if the directory is missing or empty, and recovers what was acknowledged.
    ///
    /// # Errors
    /// In use by another process; damaged; or its parts contradict each other, in which case both are named and nothing
    /// is changed.
    pub fn open(dir: &Path, options: StoreOptions) -> Result<Self, OpenError> {
        let _ = (dir, options);
        Err(OpenError::Failed("not built yet".to_owned()))
    }

    /// Appends: all of it lands, durably, before the answer is ready, or none of it does.
    ///
    /// Contents are sealed on the calling thread, then queued; await the result, or [`Pending::wait`]. Once queued it
    /// goes on whether the caller waits or not.
    #[must_use]
    pub fn append(&self, append: Append) -> Pending {
        let _ = append;
        Pending::refused(AppendError::Overloaded)
    }

    /// Makes a key in the clinic's table for a subject (or for the clinic's own entries). It is durable before the first
    /// entry under it is answered.
    ///
    /// # Errors
    /// The table cannot be written.
    pub fn create_key(&self, clinic: &ClinicId) -> Result<KeyId, KeyError> {
        let _ = clinic;
        Err(KeyError::Table(String::new()))
    }

    /// Keyed fingerprint of a request's converted value, for [`crate::Request::fingerprint`].
    #[must_use]
    pub fn fingerprint(&self, clinic: &ClinicId, value: &[u8]) -> [u8; 32] {
        let _ = (clinic, value);
        [0; 32]
    }

    /// The clinics that have a ledger, in order of id.
    #[must_use]
    pub fn clinics(&self) -> Vec<ClinicId> {
        Vec::new()
    }

    /// Size and root of the clinic's ledger; size 0 where it has none.
    #[must_use]
    pub fn head(&self, clinic: &ClinicId) -> Head {
        let _ = clinic;
        Head {
            size: 0,
            root: [0; 32],
        }
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
        let _ = (clinic, stream, from_sequence, limit);
        Ok(Vec::new())
    }

    /// The sequence the stream's next entry gets; 0 where it has none.
    ///
    /// # Errors
    /// The log cannot be read.
    pub fn next_sequence(&self, clinic: &ClinicId, stream: &StreamId) -> Result<u64, ReadError> {
        let _ = (clinic, stream);
        Ok(0)
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
        let _ = (clinic, from_position, limit);
        Ok(Vec::new())
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
        let _ = (clinic, after, limit);
        Ok(Vec::new())
    }

    /// The size of the clinic's ledger as it grows: read [`Store::entries`] up to it, then wait for the next change.
    #[must_use]
    pub fn subscribe(&self, clinic: &ClinicId) -> watch::Receiver<u64> {
        let _ = clinic;
        watch::channel(0).1
    }

    /// The head, signed: a C2SP checkpoint note. Kept on disk before it is returned; at most one new signature a second
    /// for a ledger that changed, so it may be behind [`Store::head`]. Blocks for a file write.
    ///
    /// # Errors
    /// It cannot be kept, so nothing was signed.
    pub fn checkpoint(&self, clinic: &ClinicId) -> Result<String, CheckpointError> {
        let _ = clinic;
        Err(CheckpointError::Keep(String::new()))
    }

    /// Verifier key of the clinic's checkpoints (C2SP `name+id+key`), to hand to whoever checks them.
    #[must_use]
    pub fn verifier_key(&self, clinic: &ClinicId) -> String {
        let _ = clinic;
        String::new()
    }

    /// Keeps a derived row beside a stream, sealed under `key`; the last one given wins. Lost without harm: written on a
    /// cadence, dropped when too much waits.
    pub fn put_snapshot(
        &self,
        clinic: &ClinicId,
        stream: &StreamId,
        key: KeyId,
        snapshot: Snapshot,
    ) {
        let _ = (clinic, stream, key, snapshot);
    }

    /// The derived row kept beside a stream; none when there is none, or none that can still be read.
    #[must_use]
    pub fn snapshot(&self, clinic: &ClinicId, stream: &StreamId) -> Option<Snapshot> {
        let _ = (clinic, stream);
        None
    }

    /// Walks the whole ledger: every entry's bytes, sequences, times, commitments; the root against the head and the
    /// last checkpoint. Writes nothing.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn verify(&self, clinic: &ClinicId) -> Result<Verified, VerifyError> {
        let _ = clinic;
        Err(VerifyError::Ledger(String::new()))
    }

    /// Whether it takes writes.
    #[must_use]
    pub fn state(&self) -> State {
        State::Serving
    }

    /// Whether it takes writes, as it changes.
    #[must_use]
    pub fn state_changes(&self) -> watch::Receiver<State> {
        watch::channel(State::Serving).1
    }

    /// Takes no more appends, finishes those queued, syncs everything and ends the writer. Reads go on. Blocks.
    ///
    /// # Errors
    /// It had stopped for another reason, or stopped while draining.
    pub fn drain(&self) -> Result<(), StopReason> {
        Ok(())
    }
}

//! The ledger on a disk: journal, queryable log, key table, recovery.
//!
//! [`Store::open`] gives a handle that may be shared (`Arc<Store>`). One thread writes; [`Store::append`] is answered only
//! when what it appended is durable (`record-first`). Reads see everything that was answered.
//!
//! Leaves to others: what entries mean, which streams there are, who may read what. Nothing of sled leaves this crate.

mod append;
mod id;
pub mod journal;
mod options;
pub mod packs;
mod read;
mod state;
mod store;

pub use append::{
    APPEND_BYTES_MAX, APPEND_ENTRIES_MAX, Append, AppendError, Appended, NewEntry, Pending,
    REQUEST_NAME_BYTES_MAX, REQUEST_RETENTION_MS, REQUESTS_RETAINED_MAX, Request,
};
pub use id::{CLINIC_ID_BYTES_MAX, ClinicId, IdError, KeyId, Kind, STREAM_ID_BYTES_MAX, StreamId};
pub use options::{Clock, LOG_CACHE_BYTES, SEGMENT_BYTES, StoreOptions};
pub use read::{Entry, ReadError, Snapshot, StreamHead};
pub use state::{State, StopReason};
pub use store::{CheckpointError, Head, KeyError, OpenError, Store, Verified, VerifyError};

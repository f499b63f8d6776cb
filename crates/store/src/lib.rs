//! The ledger on a disk: journal, queryable log, key table, recovery.
//!
//! [`Store::open`] gives a handle that may be shared (`Arc<Store>`). One thread writes; [`Store::append`] is answered only
//! when what it appended is durable (`record-first`). Reads see everything that was answered.
//!
//! Leaves to others: what entries mean, which streams there are, who may read what. Nothing of sled leaves this crate.

mod append;
mod apply;
mod checkpoints;
mod derived;
mod files;
mod id;
mod index;
pub mod journal;
mod keys;
mod log;
mod open;
mod options;
pub mod packs;
mod read;
mod requests;
mod seal;
mod secrets;
mod shared;
mod stage;
mod state;
mod store;
mod verify;
mod writer;

pub use append::{
    APPEND_BYTES_MAX, APPEND_ENTRIES_MAX, Append, AppendError, Appended, ENTRY_BYTES_MAX, NewEntry,
    Pending, REQUEST_NAME_BYTES_MAX, REQUEST_RETENTION_MS, REQUESTS_RETAINED_MAX, Request,
};
pub use apply::ApplyError;
pub use checkpoints::{CheckpointError, SIGNATURE_INTERVAL};
pub use files::FileError;
pub use id::{CLINIC_ID_BYTES_MAX, ClinicId, IdError, KeyId, Kind, STREAM_ID_BYTES_MAX, StreamId};
pub use keys::{KEYS_MAX, KeyError};
pub use log::LogError;
pub use open::OpenError;
pub use options::{Clock, LOG_CACHE_BYTES, SEGMENT_BYTES, StoreOptions};
pub use read::{Entry, ReadError, Snapshot, StreamHead};
pub use rungwise_ledger::tree::Head;
pub use secrets::SecretError;
pub use state::{State, StopReason};
pub use store::{QUEUE_APPENDS_MAX, QUEUE_BYTES_MAX, Store};
pub use verify::{Verified, VerifyError};

//! What the writer and the readers of an open store share.
//!
//! Only the writer changes ledgers, index and requests, and publishes entries in this order: the log, the index, the
//! ledgers. So what a reader finds by the later can be read from the earlier.
//!
//! Leaves to others: changing it (`crate::apply`), reading it (`crate::store`).

use crate::checkpoints::Checkpoints;
use crate::derived::Derived;
use crate::id::ClinicId;
use crate::index::StreamIndex;
use crate::keys::Keys;
use crate::log::Log;
use crate::requests::RequestIndex;
use crate::secrets::Secrets;
use crate::state::State;
use rungwise_ledger::tree::GrowingTree;
use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use tokio::sync::watch;

/// Where a ledger stands.
#[derive(Clone, Debug)]
pub(crate) struct Ledger {
    /// Its number in keys of the log: ledgers are numbered in order of their first entry.
    pub(crate) number: u32,
    /// Its tree.
    pub(crate) tree: GrowingTree,
    /// When its last entry was recorded, milliseconds since 1970 UTC.
    pub(crate) recorded_at_ms: u64,
    /// Whether its row in the log is behind.
    pub(crate) unwritten: bool,
}

/// The parts of an open store.
pub(crate) struct Shared {
    pub(crate) log: Log,
    pub(crate) derived: Derived,
    pub(crate) keys: Keys,
    pub(crate) secrets: Secrets,
    pub(crate) checkpoints: Checkpoints,
    pub(crate) ledgers: RwLock<BTreeMap<ClinicId, Ledger>>,
    pub(crate) index: RwLock<StreamIndex>,
    pub(crate) requests: RwLock<RequestIndex>,
    /// Sizes of ledgers, for those who wait for them to grow.
    pub(crate) sizes: Mutex<BTreeMap<ClinicId, watch::Sender<u64>>>,
    pub(crate) state: watch::Sender<State>,
}

/// A lock for reading. What it guards is whole even after a panic elsewhere: each change is one call.
pub(crate) fn read<T>(lock: &RwLock<T>) -> RwLockReadGuard<'_, T> {
    lock.read().unwrap_or_else(PoisonError::into_inner)
}

/// A lock for writing; see [`read`].
pub(crate) fn write<T>(lock: &RwLock<T>) -> RwLockWriteGuard<'_, T> {
    lock.write().unwrap_or_else(PoisonError::into_inner)
}

/// A lock; see [`read`].
pub(crate) fn lock<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

//! What a store is opened with.
//!
//! Leaves to others: reading a configuration.

use crate::journal::{Disk, RealDisk};
use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// Gives the time, milliseconds since 1970 UTC. May go back; what is recorded does not.
pub type Clock = Arc<dyn Fn() -> u64 + Send + Sync>;

/// Size of a journal segment unless said otherwise, bytes.
pub const SEGMENT_BYTES: u64 = 8 * 1_048_576;
/// sled's cache, bytes. It does not bound sled's memory, which follows what is being written.
pub const LOG_CACHE_BYTES: u64 = 64 * 1_048_576;

/// What a store is opened with. [`StoreOptions::default`] suits one process on one disk.
#[derive(Clone)]
pub struct StoreOptions {
    /// The time.
    pub clock: Clock,
    /// Directory of the epoch keys, one file a clinic; created if missing. Keep it apart from the store and from every
    /// backup of it: who holds both can open what was erased. Default: `epoch` inside the store.
    pub epoch_key_dir: Option<PathBuf>,
    /// First part of a checkpoint's origin, a URL without scheme; the clinic's id is added after a slash.
    pub origin: String,
    /// Size of a journal segment, bytes; a multiple of 4,096, at least 4 MiB outside tests.
    pub segment_bytes: u64,
    /// sled's cache, bytes.
    pub log_cache_bytes: u64,
    /// What journal segments are written through; for tests of failing disks.
    pub disk: Arc<dyn Disk>,
}

impl Default for StoreOptions {
    fn default() -> Self {
        Self {
            clock: Arc::new(system_ms),
            epoch_key_dir: None,
            origin: "rungwise.invalid/ledger".to_owned(),
            segment_bytes: SEGMENT_BYTES,
            log_cache_bytes: LOG_CACHE_BYTES,
            disk: Arc::new(RealDisk),
        }
    }
}

impl fmt::Debug for StoreOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("StoreOptions")
            .field("epoch_key_dir", &self.epoch_key_dir)
            .field("origin", &self.origin)
            .field("segment_bytes", &self.segment_bytes)
            .field("log_cache_bytes", &self.log_cache_bytes)
            .finish_non_exhaustive()
    }
}

/// The system's clock, milliseconds since 1970 UTC; 0 before that.
fn system_ms() -> u64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |d| u64::try_from(d.as_millis()).unwrap_or(u64::MAX))
}

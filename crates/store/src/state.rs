//! Whether a store takes writes, and why not.
//!
//! Leaves to others: health answers on the wire.

/// Whether a store takes writes.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum State {
    /// It takes writes.
    Serving,
    /// It takes none any more; reads go on.
    Stopped(StopReason),
}

/// Why a store takes no more writes.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum StopReason {
    /// It was drained.
    #[error("drained")]
    Drained,
    /// A write or a sync failed. What was acknowledged is durable; open the store anew to recover.
    #[error("writing failed: {0}")]
    Failed(String),
    /// Its writer ended without saying why.
    #[error("its writer ended")]
    Ended,
}

//! The service where a test must reach into its process: the clock, small limits, the store under it, packs changed.
//!
//! Leaves to others: everything that clinic software meets (`tests/service`, over the real binary).

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::too_many_lines,
    reason = "a test fails by panicking, and tells its whole story in one place"
)]

mod edges;
mod impact;
mod invariants;
mod leads;
mod life;
mod packs;
mod rig;
mod snapshots;

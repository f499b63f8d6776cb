//! The service as a client meets it: a real server on a temporary store, over real connections.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::too_many_lines,
    reason = "a test fails by panicking, and tells its whole story in one place"
)]

mod course;
mod edges;
mod episodes;
mod invariants;
mod lists;
mod refusals;
mod rig;
mod streams;
mod writes;

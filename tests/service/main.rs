//! The service as clinic software meets it: the real binary, a real gRPC connection, nothing else of the server in reach.
//!
//! The binary is the one that `tests/all` built (RUNGWISE_BIN); without it every test here fails. People and clinics are
//! invented.
//!
//! Leaves to others: commands, crashes and system calls (`tests/program`), other languages (`tests/clients`), what is
//! decided (`differential`, `check_values`).
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first thing that is not as it should be"
)]

mod bands;
mod clinic;
mod course;
mod edges;
mod episodes;
mod facts;
mod orders;
mod packs;
mod refusals;
mod server;
mod streams;
mod together;
mod writing;

//! The real binary, run as its users run it: commands, a server under `kill -9`, the order of its system calls, the
//! README's commands.
//!
//! The binary is the one that `tests/all` built (RUNGWISE_BIN); without it every test here fails.
//!
//! Leaves to others: what the service answers to bad input (`crates/server`), other languages (`tests/clients`).
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first thing that is not as it should be"
)]

mod begun;
mod binary;
mod chart;
mod cohort;
mod commands;
mod crash;
mod guide;
mod held;
mod hostile;
mod readme;
mod service;
mod syscalls;
mod writer;

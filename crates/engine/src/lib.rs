//! What the rules decide.
//!
//! Facts in, a decision with its reasons out: a pure function of a checked pack, a history and a civil date. No clock,
//! no disk, no randomness, no float, no hash-ordered iteration: the same input gives the same bytes everywhere.
//!
//! It leaves to others: reading packs (`rungwise-pack`), keeping and sealing facts (`rungwise-ledger`,
//! `rungwise-store`), the wire (`rungwise-api`).

pub mod admit;
pub mod band;
pub mod decide;
pub mod decision;
pub mod evaluate;
pub mod explain;
pub mod fact;
pub mod history;
pub mod ladder;
pub mod prescription;
pub mod recompute;
#[cfg(test)]
mod sample;
pub mod sheet;
pub mod wanted;

/// The revision of the semantics. Any change in any decision's bytes makes a new one.
pub const SEMANTICS: u32 = 1;

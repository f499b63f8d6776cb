//! Check values from outside, held against the packs of `rules/` and against the mechanics of bands: each with the
//! published source that states it beside it, `(memory)` where it was recalled and not seen, or `common practice, no source`.
//!
//! A value of the pack is tried through the engine: a person of whom everything is as good as can be, save the one value in
//! question, and the verdict that the pack's own rule gives.
//!
//! Leaves to others: whole courses of care (the pack's diaries), and the arithmetic of sentences (the engine's tests).
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

mod bands;
mod changes;
mod course;
mod flags;
mod loads;
mod pain;
mod person;
mod phases;
mod repair;
mod repetitions;
mod scores;
mod strength;
mod tension;
mod torque;
mod trade;
mod worked;

use rungwise_engine::decision::RuleVerdict;

const MET: RuleVerdict = RuleVerdict::Met;
const NOT_MET: RuleVerdict = RuleVerdict::NotMet;

//! What the tests share: the reference evaluator and the generators.
//!
//! Leaves to others: the tests themselves (beside this folder) and everything that is shipped.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "test support: a broken assumption should stop the test"
)]

pub mod cases;
pub mod change;
pub mod fuzz;
pub mod generate;
pub mod moment;
pub mod perfect;
pub mod play;
pub mod reference;

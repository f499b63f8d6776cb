//! Every rule of design section 5 on an invented pack, by its number.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "for tests only, which may fail loudly"
)]

mod bands;
mod course;
mod rules_10_and_11;
mod rules_1_to_3;
mod rules_4_to_6;
mod rules_7_to_9;
mod theorems;

//! The wire contract and the stored content: generated code and the conversions both ways, nothing else.
//!
//! [`v1`] holds the messages and services of `proto/rungwise/v1`; [`stored`] those of
//! `proto/rungwise/ledger/v1/content.proto`. [`content`] turns facts and decisions into stored bytes and back;
//! [`from_wire`] and [`to_wire`] turn messages into the engine's values and back.
//!
//! It leaves to others: whether what was said is true of an episode (`rungwise_engine::admit`), and answering
//! (`rungwise-server`).

pub mod content;
pub mod from_wire;
mod generated;
pub mod name;
pub mod to_wire;
mod violation;

pub use generated::{DESCRIPTORS, stored, v1};
pub use violation::Violation;

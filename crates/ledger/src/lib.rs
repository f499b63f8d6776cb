//! What was decided, as bytes: envelope, sealing, Merkle tree, heads, checkpoints, and verifying them.
//!
//! Everything is a function of its arguments; random bytes are passed in, and nothing here can write.
//!
//! Leaves to others: where the bytes are kept (the `store` crate), what a content means, who may read it.

#![no_std]

extern crate alloc;

pub mod checkpoint;
pub mod entry;
pub mod fingerprint;
pub mod note;
pub mod proof;
pub mod seal;
pub mod step;
pub mod tree;
pub mod verify;

#[cfg(test)]
mod testing;

/// The stored messages, generated from `proto/rungwise/ledger/v1`.
#[allow(missing_docs, clippy::all, clippy::pedantic, reason = "generated")]
pub mod v1 {
    include!(concat!(env!("OUT_DIR"), "/rungwise.ledger.v1.rs"));
}

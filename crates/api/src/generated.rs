//! What the build compiles from `proto/`. Its comments are the API reference; it leaves everything else to the crate.

#![allow(
    missing_docs,
    unreachable_pub,
    clippy::all,
    clippy::pedantic,
    clippy::nursery,
    rustdoc::all,
    reason = "generated from the proto files, whose comments are linted there"
)]

/// Messages and services of the public contract.
pub mod v1 {
    tonic::include_proto!("rungwise.v1");
}

/// Messages of what is sealed inside ledger entries.
pub mod stored {
    tonic::include_proto!("rungwise.ledger.v1");
}

/// The encoded descriptors of the public contract, for reflection.
pub const DESCRIPTORS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/contract.binpb"));

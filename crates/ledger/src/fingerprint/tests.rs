//! Fingerprints against values made by another implementation (Python's `hmac`), and kept apart by key and parts.

use super::*;
use crate::testing::hash;

fn key() -> [u8; 32] {
    core::array::from_fn(|n| n as u8)
}

#[test]
fn fingerprints_are_hmac_sha_256_of_the_parts_with_their_lengths() {
    let value = request_value(&key(), "north", b"abc");
    assert_eq!(
        value,
        hash("111310fb33d7afe66f64aa60edccf641244382c92d3f0165e5836fceae8d71ec")
    );
    let name = request_name(&key(), "north", "caller", "r-1");
    assert_eq!(
        name,
        hash("c2df397b7e1d0c913bf4b2764285af250b495275c936ad8b2e2fc1ff619e3a91")
    );
}

#[test]
fn keys_clinics_and_parts_keep_fingerprints_apart() {
    let one = request_name(&key(), "north", "caller", "r-1");
    assert_ne!(one, request_name(&[0; 32], "north", "caller", "r-1"));
    assert_ne!(one, request_name(&key(), "south", "caller", "r-1"));
    assert_ne!(
        one,
        request_name(&key(), "north", "callerr", "-1"),
        "parts do not run together"
    );
    assert_ne!(
        request_value(&key(), "north", b"abc"),
        request_value(&key(), "northa", b"bc")
    );
}

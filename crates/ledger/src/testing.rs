//! Help for this crate's tests: bytes from hexadecimal, numbered leaves.

use crate::tree::{Hash, leaf_hash};
use alloc::format;
use alloc::vec::Vec;

/// Bytes written in hexadecimal.
pub(crate) fn hex(text: &str) -> Vec<u8> {
    text.as_bytes()
        .chunks(2)
        .map(|pair| u8::from_str_radix(core::str::from_utf8(pair).unwrap_or("?"), 16).unwrap_or(0))
        .collect()
}

/// A hash written in hexadecimal.
pub(crate) fn hash(text: &str) -> Hash {
    hex(text).try_into().unwrap_or([0; 32])
}

/// Leaf hashes of `leaf 0`, `leaf 1` and so on.
pub(crate) fn numbered_leaves(count: u64) -> Vec<Hash> {
    (0..count)
        .map(|n| leaf_hash(format!("leaf {n}").as_bytes()))
        .collect()
}

/// The eight leaves that RFC 9162 implementations share as check values, from `rfc6962_test.go` of
/// <https://github.com/transparency-dev/merkle>.
pub(crate) fn shared_leaves() -> Vec<Hash> {
    [
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    ]
    .iter()
    .map(|input| leaf_hash(&hex(input)))
    .collect()
}

//! Keyed fingerprints (HMAC-SHA-256) of requests: equal values have equal ones, and without the key they tell nothing.
//!
//! Leaves to others: how long they are kept, which value of a request is fingerprinted.

use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

/// Fingerprint of a request's converted value.
#[must_use]
pub fn request_value(key: &[u8; 32], clinic: &str, value: &[u8]) -> [u8; 32] {
    keyed(key, &[b"rungwise request value", clinic.as_bytes(), value])
}

/// Fingerprint of whose request it is, under which id.
#[must_use]
pub fn request_name(key: &[u8; 32], clinic: &str, caller: &str, request_id: &str) -> [u8; 32] {
    keyed(
        key,
        &[
            b"rungwise request name",
            clinic.as_bytes(),
            caller.as_bytes(),
            request_id.as_bytes(),
        ],
    )
}

/// MAC of parts, each preceded by its length, so that no two lists of parts run together.
fn keyed(key: &[u8; 32], parts: &[&[u8]]) -> [u8; 32] {
    // A 32-byte key is shorter than the block, for which this constructor takes any length up to the block's.
    let mut block = [0_u8; 64];
    for (to, from) in block.iter_mut().zip(key) {
        *to = *from;
    }
    let mut mac = Hmac::<Sha256>::new(&block.into());
    for part in parts {
        mac.update(&(part.len() as u64).to_be_bytes());
        mac.update(part);
    }
    mac.finalize().into_bytes().into()
}

#[cfg(test)]
mod tests;

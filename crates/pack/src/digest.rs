//! The digest that names a pack exactly.
//!
//! Leaves to others: who trusts it.

use crate::source::{SourceFiles, is_diary};
use sha2::{Digest, Sha256};

/// SHA-256 over the pack's files in name order: for each its name and its text, each after its length in bytes as a
/// big-endian 64-bit number. Diaries are left out: they say what is expected of a pack and not what it says.
#[must_use]
pub fn digest(files: &SourceFiles) -> [u8; 32] {
    let mut hash = Sha256::new();
    for file in files.files().iter().filter(|file| !is_diary(&file.name)) {
        for part in [&file.name, &file.text] {
            hash.update((part.len() as u64).to_be_bytes());
            hash.update(part.as_bytes());
        }
    }
    hash.finalize().into()
}

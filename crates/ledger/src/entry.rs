//! An entry: its content committed to and sealed, its envelope encoded once and hashed as it is stored.
//!
//! Leaves to others: the order of entries (`crate::verify`), what a content means.

use crate::seal::{Nonce, SealError, SecretKey, seal, unseal};
use crate::tree::{Hash, leaf_hash};
use crate::v1;
use alloc::vec::Vec;
use prost::Message;
use sha2::{Digest, Sha256};
use zeroize::Zeroize;

/// Length of the random bytes that blind a commitment.
pub const BLIND_BYTES: usize = 32;

/// Separates the contexts of sealed contents from every other use of a key.
const CONTENT_CONTEXT: &[u8] = b"rungwise.ledger.v1 content";

/// What a content is sealed for; it opens for nothing else.
#[derive(Clone, Copy, Debug)]
pub struct Context<'a> {
    /// The ledger.
    pub clinic: &'a str,
    /// The stream.
    pub stream: &'a str,
    /// What it is.
    pub kind: v1::EntryKind,
    /// Key it is sealed under.
    pub key_id: &'a [u8; 16],
}

impl Context<'_> {
    fn bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::from(CONTENT_CONTEXT);
        for part in [self.clinic.as_bytes(), self.stream.as_bytes(), self.key_id] {
            bytes.extend_from_slice(&(part.len() as u64).to_be_bytes());
            bytes.extend_from_slice(part);
        }
        bytes.extend_from_slice(&i32::from(self.kind).to_be_bytes());
        bytes
    }
}

/// A content, committed to and sealed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SealedContent {
    /// [`commitment`] of the content.
    pub commitment: Hash,
    /// What is stored: nonce, ciphertext, tag.
    pub sealed: Vec<u8>,
}

/// SHA-256(blind ‖ content).
#[must_use]
pub fn commitment(blind: &[u8; BLIND_BYTES], content: &[u8]) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(blind);
    hasher.update(content);
    hasher.finalize().into()
}

/// Commits to a content and seals it. `blind` and `nonce` are random, each used once.
///
/// # Errors
/// The content is too long.
pub fn seal_content(
    key: &SecretKey,
    blind: &[u8; BLIND_BYTES],
    nonce: &Nonce,
    context: &Context<'_>,
    content: &[u8],
) -> Result<SealedContent, SealError> {
    let mut inner = Vec::with_capacity(BLIND_BYTES.saturating_add(content.len()));
    inner.extend_from_slice(blind);
    inner.extend_from_slice(content);
    let sealed = seal(key, nonce, &context.bytes(), &inner);
    inner.zeroize();
    Ok(SealedContent {
        commitment: commitment(blind, content),
        sealed: sealed?,
    })
}

/// Encodes an envelope and the sealed content it names, as they are stored from then on: the leaf's hash, and the bytes.
#[must_use]
pub fn encode_entry(envelope: &v1::Envelope, sealed: Vec<u8>) -> (Hash, Vec<u8>) {
    let envelope = envelope.encode_to_vec();
    (
        leaf_hash(&envelope),
        v1::StoredEntry { envelope, sealed }.encode_to_vec(),
    )
}

/// Digest of a sealed content, for [`v1::Envelope::sealed_digest`].
#[must_use]
pub fn sealed_digest(sealed: &[u8]) -> Hash {
    Sha256::digest(sealed).into()
}

/// An entry read from its stored bytes, its fields of the right form and its sealed content the one that it names.
#[derive(Clone, PartialEq, Debug)]
pub struct ParsedEntry {
    /// The envelope.
    pub envelope: v1::Envelope,
    /// What it is.
    pub kind: v1::EntryKind,
    /// Key its content is sealed under.
    pub key_id: [u8; 16],
    /// Digest of the pack, where there is one.
    pub pack_digest: Option<Hash>,
    /// Commitment to the content.
    pub commitment: Hash,
    /// The sealed content.
    pub sealed: Vec<u8>,
    /// Hash of the leaf.
    pub leaf: Hash,
}

/// Why stored bytes are no entry.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum EntryError {
    /// Not the message it should be.
    #[error("it does not decode")]
    Decode,
    /// Written by a later revision.
    #[error("its kind {0} is not known here")]
    Kind(i32),
    /// A field of fixed length has another.
    #[error("its `{field}` has {found} bytes")]
    Length {
        /// The field.
        field: &'static str,
        /// How long it is.
        found: usize,
    },
    /// The sealed content is not the one the envelope names.
    #[error("its sealed content is not the one its envelope names")]
    SealedDigest,
    /// The sealed content does not open under the key.
    #[error("its sealed content does not open under its key")]
    Unseal,
    /// The content is not the one committed to.
    #[error("its content is not the one committed to")]
    Commitment,
}

fn fixed<const N: usize>(field: &'static str, bytes: &[u8]) -> Result<[u8; N], EntryError> {
    bytes.try_into().map_err(|_| EntryError::Length {
        field,
        found: bytes.len(),
    })
}

impl ParsedEntry {
    /// Reads stored bytes.
    ///
    /// # Errors
    /// They are no entry, or its sealed content is another's.
    pub fn parse(stored: &[u8]) -> Result<Self, EntryError> {
        let v1::StoredEntry {
            envelope: bytes,
            sealed,
        } = v1::StoredEntry::decode(stored).map_err(|_| EntryError::Decode)?;
        let envelope = v1::Envelope::decode(bytes.as_slice()).map_err(|_| EntryError::Decode)?;
        let kind = v1::EntryKind::try_from(envelope.kind)
            .ok()
            .filter(|kind| *kind != v1::EntryKind::Unspecified)
            .ok_or(EntryError::Kind(envelope.kind))?;
        if fixed::<32>("sealed_digest", &envelope.sealed_digest)? != sealed_digest(&sealed) {
            return Err(EntryError::SealedDigest);
        }
        let pack_digest = match envelope.pack_digest.as_slice() {
            [] => None,
            digest => Some(fixed("pack_digest", digest)?),
        };
        Ok(Self {
            kind,
            key_id: fixed("key_id", &envelope.key_id)?,
            pack_digest,
            commitment: fixed("commitment", &envelope.commitment)?,
            leaf: leaf_hash(&bytes),
            envelope,
            sealed,
        })
    }

    /// Opens the content and checks it against the commitment.
    ///
    /// # Errors
    /// It does not open, or it is another content.
    pub fn open(&self, key: &SecretKey) -> Result<Vec<u8>, EntryError> {
        let context = Context {
            clinic: &self.envelope.clinic,
            stream: &self.envelope.stream,
            kind: self.kind,
            key_id: &self.key_id,
        };
        let mut inner =
            unseal(key, &context.bytes(), &self.sealed).map_err(|_| EntryError::Unseal)?;
        let Some((blind, content)) = inner.split_first_chunk::<BLIND_BYTES>() else {
            return Err(EntryError::Commitment);
        };
        if commitment(blind, content) != self.commitment {
            return Err(EntryError::Commitment);
        }
        inner.drain(..BLIND_BYTES);
        Ok(inner)
    }
}

#[cfg(test)]
mod tests;

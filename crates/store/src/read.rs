//! What reading gives back.
//!
//! Leaves to others: what the content means.

use crate::id::{ClinicId, KeyId, Kind, StreamId};
use crate::keys::Keys;
use crate::seal::kind_of;
use rungwise_ledger::entry::ParsedEntry;

/// An entry read back, its content opened and checked against its commitment.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Entry {
    /// Leaf index in the clinic's ledger, from 0.
    pub position: u64,
    /// The stream.
    pub stream: StreamId,
    /// Sequence in the stream, from 0.
    pub sequence: u64,
    /// What it is.
    pub kind: Kind,
    /// When it was recorded, milliseconds since 1970 UTC; never goes back within a ledger.
    pub recorded_at_ms: u64,
    /// Revision of the semantics it was made under; 0 where that means nothing.
    pub semantics: u32,
    /// Digest of the pack it was made under, where there is one.
    pub pack_digest: Option<[u8; 32]>,
    /// The key it is sealed under.
    pub key: KeyId,
    /// The content, in clear.
    pub content: Vec<u8>,
}

/// A stream in a listing.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StreamHead {
    /// The stream.
    pub stream: StreamId,
    /// The sequence its next entry gets: how many it has.
    pub next_sequence: u64,
}

/// A derived row kept beside a stream. May be lost at any time without harm.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Snapshot {
    /// Sequence of the stream that it was taken at: entries from here on are not in it.
    pub next_sequence: u64,
    /// The caller's bytes.
    pub content: Vec<u8>,
}

/// Why something could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// The key it is sealed under is gone or was never there.
    #[error("the key `{0}` is not in the clinic's table")]
    KeyMissing(KeyId),
    /// Stored bytes are not what was stored.
    #[error("entry {position} is damaged: {what}")]
    Damaged {
        /// Leaf index.
        position: u64,
        /// What does not fit.
        what: String,
    },
    /// The log below failed.
    #[error("the log cannot be read: {0}")]
    Log(String),
}

/// Opens a stored entry of a clinic.
pub(crate) fn open_entry(
    keys: &Keys,
    clinic: &ClinicId,
    position: u64,
    stored: &[u8],
) -> Result<Entry, ReadError> {
    let damaged = |what: String| ReadError::Damaged { position, what };
    let parsed = ParsedEntry::parse(stored).map_err(|error| damaged(error.to_string()))?;
    if parsed.envelope.clinic != clinic.as_str() {
        return Err(damaged(format!(
            "it is of the clinic `{}`",
            parsed.envelope.clinic
        )));
    }
    let key_id = KeyId(parsed.key_id);
    let key = keys
        .get(clinic, key_id)
        .ok_or(ReadError::KeyMissing(key_id))?;
    let content = parsed
        .open(&key)
        .map_err(|error| damaged(error.to_string()))?;
    Ok(Entry {
        position,
        kind: kind_of(parsed.kind).ok_or_else(|| damaged("it is of no kind".to_owned()))?,
        sequence: parsed.envelope.sequence,
        recorded_at_ms: parsed.envelope.recorded_at_ms,
        semantics: parsed.envelope.semantics,
        pack_digest: parsed.pack_digest,
        key: key_id,
        stream: StreamId::new(parsed.envelope.stream)
            .map_err(|error| damaged(error.to_string()))?,
        content,
    })
}

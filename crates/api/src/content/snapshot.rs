//! Snapshots of episodes to bytes and back: everything read of one, in one message.
//!
//! Leaves to others: when one is taken and whether it still fits its stream (`rungwise-server`).

use super::decision::{decision_from_stored, decision_to_stored};
use super::fact::{fact_from_stored, fact_to_stored};
use super::{DecodeError, Opening, opening_from_stored, opening_to_stored};
use crate::stored;
use prost::Message as _;
use rungwise_engine::fact::{Body, Position};

/// An episode as read up to some entry.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct EpisodeSnapshot {
    /// The clinic's id.
    pub clinic: String,
    /// The episode's stream.
    pub stream: String,
    /// The id of the person's key.
    pub key: [u8; 16],
    /// The stream's first entry.
    pub opening: Opening,
    /// The position of the stream's first entry in the ledger.
    pub opened_at: Position,
    /// The entries after it, in order and without a gap.
    pub records: Vec<SnapshotRecord>,
}

/// A fact or a decision in a snapshot.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SnapshotRecord {
    /// Where it stands in the ledger.
    pub position: Position,
    /// When it was recorded, milliseconds since 1970 UTC.
    pub recorded_at_ms: u64,
    /// What it is.
    pub body: Body,
}

/// The bytes of a snapshot.
#[must_use]
pub fn encode_snapshot(snapshot: &EpisodeSnapshot) -> Vec<u8> {
    use stored::snapshot_record::What;
    let record = |record: &SnapshotRecord| stored::SnapshotRecord {
        position: record.position.0,
        recorded_at_ms: record.recorded_at_ms,
        what: Some(match &record.body {
            Body::Fact(fact) => What::Fact(fact_to_stored(fact)),
            Body::Decision(decision) => What::Decision(decision_to_stored(decision)),
        }),
    };
    stored::EpisodeSnapshot {
        clinic: snapshot.clinic.clone(),
        stream: snapshot.stream.clone(),
        key: snapshot.key.to_vec(),
        opening: Some(opening_to_stored(&snapshot.opening)),
        records: snapshot.records.iter().map(record).collect(),
        opened_at: Some(snapshot.opened_at.0),
    }
    .encode_to_vec()
}

/// The snapshot of these bytes.
///
/// # Errors
/// The bytes are no snapshot, or of a revision that this one does not know.
pub fn decode_snapshot(bytes: &[u8]) -> Result<EpisodeSnapshot, DecodeError> {
    use stored::snapshot_record::What;
    let snapshot = stored::EpisodeSnapshot::decode(bytes)?;
    let record = |record: stored::SnapshotRecord| -> Result<SnapshotRecord, DecodeError> {
        let body = match record.what.ok_or(DecodeError::Absent("records.what"))? {
            What::Fact(fact) => Body::Fact(fact_from_stored(fact)?),
            What::Decision(decision) => Body::Decision(Box::new(decision_from_stored(decision)?)),
        };
        Ok(SnapshotRecord {
            position: Position(record.position),
            recorded_at_ms: record.recorded_at_ms,
            body,
        })
    };
    let key = snapshot.key.as_slice().try_into();
    let opening = snapshot.opening.ok_or(DecodeError::Absent("opening"))?;
    Ok(EpisodeSnapshot {
        clinic: snapshot.clinic,
        stream: snapshot.stream,
        key: key.map_err(|_| DecodeError::Absent("key"))?,
        opening: opening_from_stored(opening)?,
        opened_at: Position(snapshot.opened_at.ok_or(DecodeError::Absent("opened_at"))?),
        records: snapshot
            .records
            .into_iter()
            .map(record)
            .collect::<Result<_, _>>()?,
    })
}

//! Snapshots of episodes: what was read of one, kept beside its stream, so that reading it again opens one row and the
//! stream's tail instead of every entry.
//!
//! A snapshot holds the records themselves and nothing worked out from them, so it outlives packs and revisions. One is
//! taken after a decision once the episode has [`SNAPSHOT_RECORDS_MIN`] more records than the last one had and half as
//! many again: however long an episode grows, each of its records is encoded three times at most, on average.
//!
//! Leaves to others: sealing and keeping rows (`rungwise-store`), their bytes (`rungwise_api::content`).

use crate::clinic::Clinic;
use crate::clock::date_of_ms;
use crate::episode::{Loaded, Stamp};
use crate::limits::{SNAPSHOT_BYTES_MAX, SNAPSHOT_RECORDS_MIN};
use crate::refusal::Refusal;
use jiff::civil::Date;
use rungwise_api::content::{EpisodeSnapshot, SnapshotRecord, decode_snapshot, encode_snapshot};
use rungwise_api::name::EpisodeName;
use rungwise_engine::fact::{Position, Record};
use rungwise_engine::history::History;
use rungwise_store::{KeyId, Snapshot, Store, StreamId};

impl Loaded {
    /// The episode as its snapshot has it, to be read on from there. None without one; one that is not what it should be
    /// is left alone with a warning.
    pub(crate) fn from_snapshot(
        store: &Store,
        clinic: &Clinic,
        name: &EpisodeName,
        stream: &StreamId,
        today: Date,
    ) -> Result<Option<Self>, Refusal> {
        let Some(row) = store.snapshot(&clinic.id, stream) else {
            return Ok(None);
        };
        let snapshot = match sound(store, clinic, stream, &row) {
            Ok(snapshot) => snapshot,
            Err(why) => {
                tracing::warn!(episode = %name, %why, "its snapshot is of no use; the whole stream is read");
                return Ok(None);
            }
        };
        let key = KeyId(snapshot.key);
        let opening = (snapshot.opened_at.0, snapshot.opening);
        let mut loaded = Self::begun(clinic, name, (stream.clone(), key), opening, today)?;
        let stamps = snapshot.records.iter().zip(1..);
        loaded.stamps = stamps
            .map(|(record, sequence)| Stamp {
                sequence: Some(sequence),
                recorded_at_ms: record.recorded_at_ms,
            })
            .collect();
        let records = snapshot.records.into_iter().map(|record| Record {
            position: record.position,
            recorded_on: date_of_ms(record.recorded_at_ms),
            body: record.body,
        });
        let episode = loaded.history.episode().clone();
        loaded.history = History::of(&loaded.pack.pack, episode, records.collect());
        loaded.content_bytes = row.content.len();
        loaded.next_sequence = row.next_sequence;
        loaded.snapshot_at = row.next_sequence;
        Ok(Some(loaded))
    }

    /// Takes a snapshot, if it is time for one.
    pub(crate) fn keep_snapshot(&mut self, store: &Store, clinic: &Clinic) {
        let (last, now) = (self.snapshot_at, self.next_sequence);
        let is_due = now >= last.saturating_add(SNAPSHOT_RECORDS_MIN)
            && now.saturating_mul(2) >= last.saturating_mul(3);
        if !is_due || self.closed.is_some() || self.content_bytes > SNAPSHOT_BYTES_MAX {
            return;
        }
        let records = self.history.records().iter().zip(&self.stamps);
        let own = records.filter(|(_, stamp)| stamp.sequence.is_some());
        let snapshot = EpisodeSnapshot {
            clinic: clinic.id.to_string(),
            stream: self.stream.to_string(),
            key: self.key.0,
            opening: self.opening.clone(),
            opened_at: Position(self.opened_at),
            records: own
                .map(|(record, stamp)| SnapshotRecord {
                    position: record.position,
                    recorded_at_ms: stamp.recorded_at_ms,
                    body: record.body.clone(),
                })
                .collect(),
        };
        let row = Snapshot {
            next_sequence: now,
            content: encode_snapshot(&snapshot),
        };
        store.put_snapshot(&clinic.id, &self.stream, self.key, &row);
        self.snapshot_at = now;
    }
}

/// The snapshot of a row, if it is one of this stream as it stands.
fn sound(
    store: &Store,
    clinic: &Clinic,
    stream: &StreamId,
    row: &Snapshot,
) -> Result<EpisodeSnapshot, String> {
    let snapshot = decode_snapshot(&row.content).map_err(|error| error.to_string())?;
    if snapshot.clinic != clinic.id.as_str() || snapshot.stream != stream.as_str() {
        return Err("it is of another stream".to_owned());
    }
    let count = u64::try_from(snapshot.records.len()).unwrap_or(u64::MAX);
    let last = snapshot.records.last();
    let Some(last) = last.filter(|_| count.saturating_add(1) == row.next_sequence) else {
        return Err("it has a gap".to_owned());
    };
    let there = store
        .stream(&clinic.id, stream, count, 1)
        .map_err(|error| error.to_string())?;
    let is_there = there.first().is_some_and(|entry| {
        entry.position == last.position.0 && entry.recorded_at_ms == last.recorded_at_ms
    });
    if is_there {
        Ok(snapshot)
    } else {
        Err("it does not end where the stream stands".to_owned())
    }
}

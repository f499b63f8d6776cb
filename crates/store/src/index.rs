//! Which positions belong to which stream: full blocks in the log, the last one of a stream in use in memory.
//!
//! Streams are many and their names random, so blocks are written on a cadence and not with every entry; what a crash loses
//! of them is applied again from the journal.
//!
//! Leaves to others: the entries themselves, locking.

use crate::id::StreamId;
use crate::log::{Log, LogError, StateRows, block_key};
use crate::read::StreamHead;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::ops::Bound;

/// Positions in a block.
const BLOCK_POSITIONS: usize = 64;
/// How many streams are kept in memory after a cadence; beyond it those not in use are read again when needed.
const TAILS_KEPT_MAX: usize = 16_384;

/// The last positions of a stream.
#[derive(Clone, Debug, Default)]
struct Tail {
    /// Number of the block that `positions` begins with.
    first_block: u32,
    /// Positions from the beginning of that block on; full blocks among them are not in the log yet.
    positions: Vec<u64>,
    /// Whether the log lacks some of them.
    unwritten: bool,
}

impl Tail {
    fn first_sequence(&self) -> u64 {
        u64::from(self.first_block).saturating_mul(BLOCK_POSITIONS as u64)
    }

    fn next_sequence(&self) -> u64 {
        self.first_sequence()
            .saturating_add(self.positions.len() as u64)
    }
}

/// A stream does not go on where an entry says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct OutOfSequence {
    /// The sequence the stream's next entry gets.
    pub(crate) next: u64,
}

/// The streams in use.
#[derive(Default)]
pub(crate) struct StreamIndex {
    /// By number of the ledger and name of the stream.
    tails: BTreeMap<u32, BTreeMap<StreamId, Tail>>,
}

impl StreamIndex {
    /// The sequence the stream's next entry gets.
    pub(crate) fn next_sequence(
        &self,
        log: &Log,
        ledger: u32,
        stream: &StreamId,
    ) -> Result<u64, LogError> {
        match self.tails.get(&ledger).and_then(|tails| tails.get(stream)) {
            Some(tail) => Ok(tail.next_sequence()),
            None => Ok(load(log, ledger, stream)?.next_sequence()),
        }
    }

    /// Notes that an entry of a stream is at a position. Noting again what was noted changes nothing.
    pub(crate) fn note(
        &mut self,
        log: &Log,
        ledger: u32,
        stream: StreamId,
        sequence: u64,
        position: u64,
    ) -> Result<Result<(), OutOfSequence>, LogError> {
        let tail = match self.tails.entry(ledger).or_default().entry(stream) {
            Entry::Occupied(tail) => tail.into_mut(),
            Entry::Vacant(vacant) => {
                let tail = load(log, ledger, vacant.key())?;
                vacant.insert(tail)
            }
        };
        let next = tail.next_sequence();
        if sequence > next {
            return Ok(Err(OutOfSequence { next }));
        }
        if sequence == next {
            tail.positions.push(position);
            tail.unwritten = true;
        }
        Ok(Ok(()))
    }

    /// Collects the blocks that the log lacks.
    pub(crate) fn unwritten(&self, rows: &mut StateRows) {
        for (ledger, tails) in &self.tails {
            for (stream, tail) in tails.iter().filter(|(_, tail)| tail.unwritten) {
                for (block, positions) in
                    (tail.first_block..).zip(tail.positions.chunks(BLOCK_POSITIONS))
                {
                    rows.block(block_key(*ledger, stream.as_str(), block), positions);
                }
            }
        }
    }

    /// Lets go of what the log has now, once the rows of [`StreamIndex::unwritten`] are written.
    pub(crate) fn written(&mut self) {
        let kept: usize = self.tails.values().map(BTreeMap::len).sum();
        if kept > TAILS_KEPT_MAX {
            self.tails
                .values_mut()
                .for_each(|tails| tails.retain(|_, tail| tail.unwritten));
        }
        for tail in self
            .tails
            .values_mut()
            .flat_map(BTreeMap::values_mut)
            .filter(|tail| tail.unwritten)
        {
            let full = tail.positions.len() / BLOCK_POSITIONS;
            tail.positions.drain(..full.saturating_mul(BLOCK_POSITIONS));
            tail.first_block = tail
                .first_block
                .saturating_add(u32::try_from(full).unwrap_or(u32::MAX));
            tail.unwritten = false;
        }
    }

    /// The positions kept in memory of a stream: the sequence of the first, and they.
    pub(crate) fn in_memory(&self, ledger: u32, stream: &StreamId) -> Option<(u64, Vec<u64>)> {
        let tail = self.tails.get(&ledger)?.get(stream)?;
        Some((tail.first_sequence(), tail.positions.clone()))
    }

    /// Streams in order of name after one, at most `limit`, from memory and from the log.
    pub(crate) fn list(
        &self,
        log: &Log,
        ledger: u32,
        after: Option<&StreamId>,
        limit: usize,
    ) -> Result<Vec<StreamHead>, LogError> {
        let from = after.map_or(Bound::Unbounded, Bound::Excluded);
        let recent = self
            .tails
            .get(&ledger)
            .into_iter()
            .flat_map(|tails| tails.range((from, Bound::Unbounded)));
        let mut found: BTreeMap<StreamId, u64> = recent
            .filter(|(_, tail)| tail.next_sequence() > 0)
            .take(limit)
            .map(|(stream, tail)| (stream.clone(), tail.next_sequence()))
            .collect();
        let mut name = after.map(|stream| stream.as_str().to_owned());
        for _ in 0..limit {
            let Some(next) = log.stream_after(ledger, name.as_deref())? else {
                break;
            };
            let stream = StreamId::new(next.clone()).map_err(|_| LogError::Row("streams"))?;
            if let Entry::Vacant(vacant) = found.entry(stream) {
                let next_sequence = load(log, ledger, vacant.key())?.next_sequence();
                vacant.insert(next_sequence);
            }
            name = Some(next);
        }
        let heads = found.into_iter().map(|(stream, next_sequence)| StreamHead {
            stream,
            next_sequence,
        });
        Ok(heads.take(limit).collect())
    }
}

fn load(log: &Log, ledger: u32, stream: &StreamId) -> Result<Tail, LogError> {
    let last = log.last_block(ledger, stream.as_str())?;
    Ok(
        last.map_or_else(Tail::default, |(first_block, positions)| Tail {
            first_block,
            positions,
            unwritten: false,
        }),
    )
}

/// Positions of a stream from a sequence on, at most `limit`, from the log; only those below sequence `end`.
pub(crate) fn positions_in_log(
    log: &Log,
    ledger: u32,
    stream: &StreamId,
    from: u64,
    end: u64,
    limit: usize,
) -> Result<Vec<u64>, LogError> {
    let mut found = Vec::new();
    let mut sequence = from;
    while sequence < end && found.len() < limit {
        let block = u32::try_from(sequence / BLOCK_POSITIONS as u64).unwrap_or(u32::MAX);
        let skip = usize::try_from(sequence % BLOCK_POSITIONS as u64).unwrap_or(0);
        let positions = log.block(ledger, stream.as_str(), block)?;
        let room = usize::try_from(end.saturating_sub(sequence)).unwrap_or(usize::MAX);
        let before = found.len();
        found.extend(
            positions
                .iter()
                .skip(skip)
                .take(room.min(limit.saturating_sub(before))),
        );
        let read = found.len().saturating_sub(before);
        sequence = sequence.saturating_add(read as u64);
        if read == 0 || positions.len() < BLOCK_POSITIONS {
            break;
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests;

//! One record of the journal as bytes: a header that checks itself, a body, and a hash over both.
//!
//! A record begins on a block of its own, so that writing the next one never rewrites a block that holds an acknowledged
//! one. The hash that ends a record is the "previous record's hash" of the next.
//!
//! Leaves to others: segments (`super::segment`), reading a journal back (`super::scan`).

use sha2::{Digest, Sha256};

/// What records begin on, bytes: the usual page and physical sector.
pub(crate) const BLOCK_BYTES: u64 = 4_096;
/// What a disk writes whole or not at all, bytes.
const SECTOR_BYTES: usize = 512;
/// Length of a header, bytes.
pub(crate) const HEADER_BYTES: usize = 64;
/// Length of a header and the hash that ends a record, bytes.
const FRAME_BYTES: usize = HEADER_BYTES + 32;
const MAGIC: [u8; 8] = *b"RWJREC01";

/// A record's number and hash: where a journal stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Mark {
    /// Number of the batch, from 1; 0 before the first.
    pub(crate) batch: u64,
    /// Hash of its record; zeros before the first.
    pub(crate) hash: [u8; 32],
}

impl Mark {
    /// Before the first record.
    pub(crate) const START: Self = Self {
        batch: 0,
        hash: [0; 32],
    };
}

/// A header read back.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Header {
    pub(crate) batch: u64,
    pub(crate) body_bytes: u64,
    pub(crate) previous: [u8; 32],
}

impl Header {
    fn encode(&self) -> [u8; HEADER_BYTES] {
        let mut bytes = [0; HEADER_BYTES];
        let fields: [&[u8]; 4] = [
            &MAGIC,
            &self.batch.to_be_bytes(),
            &self.body_bytes.to_be_bytes(),
            &self.previous,
        ];
        let digest = Sha256::digest(fields.concat());
        let all = fields.into_iter().flatten().chain(digest.iter().take(8));
        bytes.iter_mut().zip(all).for_each(|(to, from)| *to = *from);
        bytes
    }

    /// Reads a header; none where there is none or it is damaged.
    pub(crate) fn parse(bytes: &[u8]) -> Option<Self> {
        let bytes = bytes.first_chunk::<HEADER_BYTES>()?;
        let (magic, rest) = bytes.split_first_chunk::<8>()?;
        let (batch, rest) = rest.split_first_chunk::<8>()?;
        let (body_bytes, rest) = rest.split_first_chunk::<8>()?;
        let (previous, _) = rest.split_first_chunk::<32>()?;
        let header = Self {
            batch: u64::from_be_bytes(*batch),
            body_bytes: u64::from_be_bytes(*body_bytes),
            previous: *previous,
        };
        (*magic == MAGIC && header.encode() == *bytes).then_some(header)
    }

    /// Length of the whole record, bytes.
    pub(crate) fn record_bytes(&self) -> u64 {
        self.body_bytes.saturating_add(FRAME_BYTES as u64)
    }
}

/// A record as it is written, padded with zeros to whole blocks, and where the journal stands once it is.
pub(crate) fn encode(after: Mark, body: &[u8]) -> (Vec<u8>, Mark) {
    let header = Header {
        batch: after.batch.saturating_add(1),
        body_bytes: body.len() as u64,
        previous: after.hash,
    };
    let mut bytes = Vec::with_capacity(
        body.len()
            .saturating_add(FRAME_BYTES)
            .next_multiple_of(BLOCK_BYTES as usize),
    );
    bytes.extend_from_slice(&header.encode());
    bytes.extend_from_slice(body);
    let hash: [u8; 32] = Sha256::digest(&bytes).into();
    bytes.extend_from_slice(&hash);
    bytes.resize(bytes.len().next_multiple_of(BLOCK_BYTES as usize), 0);
    (
        bytes,
        Mark {
            batch: header.batch,
            hash,
        },
    )
}

/// The body and the hash of a record whose header is sound; none when the hash does not fit.
pub(crate) fn check<'a>(header: &Header, record: &'a [u8]) -> Option<(&'a [u8], [u8; 32])> {
    let (covered, hash) = record.split_last_chunk::<32>()?;
    let computed: [u8; 32] = Sha256::digest(covered).into();
    let body = covered.get(HEADER_BYTES..)?;
    (computed == *hash && body.len() as u64 == header.body_bytes).then_some((body, computed))
}

/// Whether a record that does not fit its hash looks as if it was never written to its end: a sector of it is all zeros,
/// as its segment was before. Sealed contents and hashes have no such sectors.
pub(crate) fn is_torn(record: &[u8]) -> bool {
    record
        .chunks(SECTOR_BYTES)
        .any(|sector| sector.iter().all(|byte| *byte == 0))
}

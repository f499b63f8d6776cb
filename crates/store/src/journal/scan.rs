//! Reading a journal back: every record in order, its hash, its place in the chain, and where the journal ends.
//!
//! What was never written to its end is passed over, for it was never acknowledged. Anything else that does not fit is
//! damage, and is named: nothing is guessed.
//!
//! Leaves to others: comparing the journal with the log and the checkpoints (`crate::open`).

use super::record::{BLOCK_BYTES, HEADER_BYTES, Header, Mark, check, is_torn};
use super::segment::{self, SEGMENT_BYTES_MAX};
use crate::files::{FileError, read_if_there};
use std::path::{Path, PathBuf};

/// What is wrong with a journal.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// A file could not be read or written.
    #[error("the journal cannot be read: {0}")]
    File(#[from] FileError),
    /// A segment was cut, lengthened, or is no segment.
    #[error(
        "journal segment `{path}` has {found} bytes and says it has {stated:?}: it was cut or is damaged"
    )]
    Segment {
        /// The segment.
        path: PathBuf,
        /// Its length.
        found: u64,
        /// The length it says it has, if it says so.
        stated: Option<u64>,
    },
    /// A segment between others is gone.
    #[error("journal segment {wanted} is missing: after the ones before comes {found}")]
    Gap {
        /// Number of the missing segment.
        wanted: u64,
        /// Number of the next one there is.
        found: u64,
    },
    /// A record is not what was written.
    #[error("journal segment `{path}` is damaged at byte {offset}: {what}")]
    Damaged {
        /// The segment.
        path: PathBuf,
        /// Where in it.
        offset: u64,
        /// What does not fit.
        what: &'static str,
    },
}

/// A record of the journal.
pub(crate) struct Record<'a> {
    /// Where the journal stands before it.
    pub(crate) previous: Mark,
    /// Where the journal stands after it.
    pub(crate) mark: Mark,
    /// Its body.
    pub(crate) body: &'a [u8],
}

/// Where a journal ends.
#[derive(Debug)]
pub(crate) struct End {
    /// Segments with the number of the last batch up to their end, in order; at least one.
    pub(crate) segments: Vec<(u64, u64)>,
    /// Where the next record goes in the last segment.
    pub(crate) offset: u64,
    /// Length of the last segment.
    pub(crate) segment_bytes: u64,
    /// The last record; none where the journal has none.
    pub(crate) mark: Option<Mark>,
    /// Whether the last segment has bytes after the end (a record never finished) that must be wiped.
    pub(crate) unclean: bool,
}

/// Reads the journal in `dir`. None when it has no segment.
///
/// # Errors
/// Damage, a cut or missing segment, a failure to read, or the visitor's own.
pub(crate) fn scan<E: From<JournalError>>(
    dir: &Path,
    mut visit: impl FnMut(&Record<'_>) -> Result<(), E>,
) -> Result<Option<End>, E> {
    let numbers = segment::list(dir).map_err(JournalError::from)?;
    let Some((&first, &last)) = numbers.first().zip(numbers.last()) else {
        return Ok(None);
    };
    let mut end = End {
        segments: Vec::new(),
        offset: BLOCK_BYTES,
        segment_bytes: 0,
        mark: None,
        unclean: false,
    };
    for (wanted, found) in (first..).zip(numbers) {
        if wanted != found {
            return Err(JournalError::Gap { wanted, found }.into());
        }
        let path = segment::path_of(dir, found);
        let content = read_segment(&path)?;
        let mut reader = Reader {
            path: &path,
            content: &content,
            offset: BLOCK_BYTES,
        };
        while let Some(record) = reader.next(end.mark, found == last)? {
            visit(&record)?;
            end.mark = Some(record.mark);
        }
        end.segments
            .push((found, end.mark.map_or(0, |mark| mark.batch)));
        end.offset = reader.offset;
        end.segment_bytes = content.len() as u64;
        end.unclean = reader.rest().iter().any(|byte| *byte != 0);
        if end.unclean && found != last {
            return Err(reader
                .damaged("bytes after the last record of a full segment")
                .into());
        }
    }
    Ok(Some(end))
}

fn read_segment(path: &Path) -> Result<Vec<u8>, JournalError> {
    let content = read_if_there(path, SEGMENT_BYTES_MAX)?.unwrap_or_default();
    let (found, stated) = (content.len() as u64, segment::stated_bytes(&content));
    if stated == Some(found) {
        Ok(content)
    } else {
        Err(JournalError::Segment {
            path: path.to_owned(),
            found,
            stated,
        })
    }
}

struct Reader<'a> {
    path: &'a Path,
    content: &'a [u8],
    offset: u64,
}

impl<'a> Reader<'a> {
    fn at(&self, offset: u64) -> &'a [u8] {
        usize::try_from(offset)
            .ok()
            .and_then(|offset| self.content.get(offset..))
            .unwrap_or_default()
    }

    fn rest(&self) -> &'a [u8] {
        self.at(self.offset)
    }

    fn damaged(&self, what: &'static str) -> JournalError {
        JournalError::Damaged {
            path: self.path.to_owned(),
            offset: self.offset,
            what,
        }
    }

    /// The next record; none at the end of the segment or where a record was never finished.
    fn next(
        &mut self,
        after: Option<Mark>,
        last_segment: bool,
    ) -> Result<Option<Record<'a>>, JournalError> {
        let rest = self.rest();
        let Some(head) = rest.first_chunk::<HEADER_BYTES>() else {
            return Ok(None);
        };
        if *head == [0; HEADER_BYTES] {
            return self.ended(after);
        }
        let header = Header::parse(head).ok_or_else(|| self.damaged("no record begins here"))?;
        let previous = Mark {
            batch: header.batch.saturating_sub(1),
            hash: header.previous,
        };
        if header.batch == 0 || after.is_some_and(|after| after != previous) {
            return Err(self.damaged("the record does not follow the one before it"));
        }
        let record = usize::try_from(header.record_bytes())
            .ok()
            .and_then(|bytes| rest.get(..bytes))
            .ok_or_else(|| self.damaged("the record is longer than its segment"))?;
        let Some((body, hash)) = check(&header, record) else {
            return if last_segment && is_torn(record) {
                self.ended(Some(previous))
            } else {
                Err(self.damaged("the record does not fit its hash"))
            };
        };
        self.offset = self
            .offset
            .saturating_add(header.record_bytes())
            .next_multiple_of(BLOCK_BYTES);
        Ok(Some(Record {
            previous,
            mark: Mark {
                batch: header.batch,
                hash,
            },
            body,
        }))
    }

    /// Ends the segment here, unless a record that follows shows that one is lost.
    fn ended(&self, after: Option<Mark>) -> Result<Option<Record<'a>>, JournalError> {
        let mut offset = self.offset.saturating_add(BLOCK_BYTES);
        while !self.at(offset).is_empty() {
            let later = Header::parse(self.at(offset));
            if later.is_some_and(|later| after.is_none_or(|after| later.batch > after.batch)) {
                return Err(self.damaged("a record is missing before a later one"));
            }
            offset = offset.saturating_add(BLOCK_BYTES);
        }
        Ok(None)
    }
}

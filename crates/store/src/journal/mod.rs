//! The journal: the commit point. Preallocated segment files, one record a batch, one sync a record.
//!
//! Leaves to others: what is in a record (`crate::stage`), what becomes of it (`crate::apply`).

mod disk;
mod record;
mod scan;
mod segment;

pub use disk::{Disk, RealDisk, SegmentFile};
pub(crate) use record::Mark;
pub use scan::JournalError;
pub(crate) use scan::{End, Record, scan};

use crate::files::{About, FileError};
use record::{BLOCK_BYTES, encode};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::{self, JoinHandle};

/// Whether there is a journal in a directory.
pub(crate) fn is_there(dir: &Path) -> Result<bool, FileError> {
    Ok(!segment::list(dir)?.is_empty())
}

/// A journal being written. Used by one thread.
pub(crate) struct Journal {
    dir: PathBuf,
    disk: Arc<dyn Disk>,
    /// Length of segments made from now on.
    new_segment_bytes: u64,
    file: Box<dyn SegmentFile>,
    number: u64,
    offset: u64,
    segment_bytes: u64,
    /// Where the journal stands.
    mark: Mark,
    /// Segments before the current one: number, last batch.
    earlier: VecDeque<(u64, u64)>,
    /// Makes the next segment ahead of need.
    spare: Option<JoinHandle<Result<(), FileError>>>,
}

impl Journal {
    /// Begins a journal in a directory that has none.
    pub(crate) fn create(
        dir: &Path,
        disk: Arc<dyn Disk>,
        segment_bytes: u64,
    ) -> Result<Self, FileError> {
        segment::make_spare(dir, segment_bytes)?;
        let file = segment::take_spare(dir, 1)?;
        let mut journal = Self {
            dir: dir.to_owned(),
            file: disk.segment(file),
            disk,
            new_segment_bytes: segment_bytes,
            number: 1,
            offset: BLOCK_BYTES,
            segment_bytes,
            mark: Mark::START,
            earlier: VecDeque::new(),
            spare: None,
        };
        journal.prepare();
        Ok(journal)
    }

    /// Goes on where a journal ended. A record that was never finished is wiped first.
    pub(crate) fn resume(
        dir: &Path,
        disk: Arc<dyn Disk>,
        new_segment_bytes: u64,
        end: End,
        mark: Mark,
    ) -> Result<Self, FileError> {
        let mut earlier = VecDeque::from(end.segments);
        let (number, _) = earlier.pop_back().unwrap_or((1, 0));
        let path = segment::path_of(dir, number);
        let file = disk.segment(segment::open(&path)?);
        if end.unclean {
            let left = usize::try_from(end.segment_bytes.saturating_sub(end.offset)).unwrap_or(0);
            file.write_all_at(&vec![0; left], end.offset)
                .and_then(|()| file.sync())
                .about(&path)?;
        }
        let mut journal = Self {
            dir: dir.to_owned(),
            disk,
            new_segment_bytes,
            file,
            number,
            offset: end.offset,
            segment_bytes: end.segment_bytes,
            mark,
            earlier,
            spare: None,
        };
        journal.prepare();
        Ok(journal)
    }

    /// Where the journal stands.
    pub(crate) const fn mark(&self) -> Mark {
        self.mark
    }

    /// Commits a batch: once this returns it is durable.
    ///
    /// # Errors
    /// It is not known whether it is durable; the journal must not be used any more.
    pub(crate) fn commit(&mut self, body: &[u8]) -> Result<Mark, FileError> {
        let (bytes, mark) = encode(self.mark, body);
        if self.offset.saturating_add(bytes.len() as u64) > self.segment_bytes {
            self.next_segment(bytes.len() as u64)?;
        }
        let path = segment::path_of(&self.dir, self.number);
        // INVARIANT (record-first): the sync of the record that an answer is about precedes the answer.
        self.file
            .write_all_at(&bytes, self.offset)
            .and_then(|()| self.file.sync())
            .about(&path)?;
        self.offset = self.offset.saturating_add(bytes.len() as u64);
        self.mark = mark;
        Ok(mark)
    }

    fn next_segment(&mut self, record_bytes: u64) -> Result<(), FileError> {
        self.finish_spare()?;
        let bytes = self
            .new_segment_bytes
            .max(record_bytes.saturating_add(BLOCK_BYTES));
        segment::make_spare(&self.dir, bytes)?;
        let file = segment::take_spare(&self.dir, self.number.saturating_add(1))?;
        self.earlier.push_back((self.number, self.mark.batch));
        self.number = self.number.saturating_add(1);
        self.file = self.disk.segment(file);
        self.offset = BLOCK_BYTES;
        self.segment_bytes = bytes;
        self.prepare();
        Ok(())
    }

    /// Has the next segment made on another thread.
    fn prepare(&mut self) {
        let (dir, bytes) = (self.dir.clone(), self.new_segment_bytes);
        self.spare = Some(thread::spawn(move || segment::make_spare(&dir, bytes)));
    }

    /// Waits for the next segment, if it is being made.
    fn finish_spare(&mut self) -> Result<(), FileError> {
        // A thread that panicked made nothing; the segment is then made here.
        self.spare
            .take()
            .map_or(Ok(()), |making| making.join().unwrap_or(Ok(())))
    }

    /// Removes segments whose records are all synced in the log, but never the one that holds the last record.
    pub(crate) fn recycle(&mut self, synced_batch: u64) -> Result<(), FileError> {
        let needed = |last_batch: u64| last_batch > synced_batch || last_batch >= self.mark.batch;
        while let Some((number, _)) = self
            .earlier
            .front()
            .copied()
            .filter(|(_, last)| !needed(*last))
        {
            segment::remove(&self.dir, number)?;
            self.earlier.pop_front();
        }
        Ok(())
    }
}

impl Drop for Journal {
    fn drop(&mut self) {
        // A spare that could not be made is made when it is needed, and its failure said then.
        let _ = self.finish_spare();
    }
}

#[cfg(test)]
mod tests;

//! The few things that a journal asks of a disk, behind a trait so that tests can make them fail.
//!
//! Leaves to others: where records go.

use std::fs::File;
use std::io;
use std::os::unix::fs::FileExt;

/// Hands out segment files to write to.
pub trait Disk: Send + Sync {
    /// Takes over a segment file opened for writing.
    fn segment(&self, file: File) -> Box<dyn SegmentFile>;
}

/// A segment file being written.
pub trait SegmentFile: Send {
    /// Writes all of `bytes` at `offset`.
    ///
    /// # Errors
    /// Not all could be written.
    fn write_all_at(&self, bytes: &[u8], offset: u64) -> io::Result<()>;

    /// Makes what was written durable.
    ///
    /// # Errors
    /// It is not known what is durable.
    fn sync(&self) -> io::Result<()>;
}

/// The disk there is.
#[derive(Debug, Clone, Copy, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn segment(&self, file: File) -> Box<dyn SegmentFile> {
        Box::new(RealFile(file))
    }
}

struct RealFile(File);

impl SegmentFile for RealFile {
    fn write_all_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        FileExt::write_all_at(&self.0, bytes, offset)
    }

    fn sync(&self) -> io::Result<()> {
        self.0.sync_data()
    }
}

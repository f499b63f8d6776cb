//! Segment files: preallocated with zeros so that a sync of a record touches no metadata, one after another.
//!
//! Leaves to others: what is in a record.

use super::record::BLOCK_BYTES;
use crate::files::{About, FileError, rename, sync_dir};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

const MAGIC: [u8; 8] = *b"RWJSEG01";
/// A segment made ahead of need.
const SPARE: &str = "spare";
/// Largest segment that is read, bytes.
pub(crate) const SEGMENT_BYTES_MAX: u64 = 256 * 1_048_576;

/// Path of a segment by number.
pub(crate) fn path_of(dir: &Path, number: u64) -> PathBuf {
    dir.join(format!("{number:016x}.journal"))
}

/// Numbers of the segments there are, in order.
pub(crate) fn list(dir: &Path) -> Result<Vec<u64>, FileError> {
    let mut numbers = Vec::new();
    for item in fs::read_dir(dir).about(dir)? {
        let name = item.about(dir)?.file_name();
        let number = name
            .to_str()
            .and_then(|n| n.strip_suffix(".journal"))
            .map(|n| u64::from_str_radix(n, 16));
        if let Some(Ok(number)) = number {
            numbers.push(number);
        }
    }
    numbers.sort_unstable();
    Ok(numbers)
}

/// The first block of a segment: it says how long the file is, so that a cut one is noticed.
fn header(bytes: u64) -> Vec<u8> {
    let mut block = Vec::from(MAGIC);
    block.extend_from_slice(&bytes.to_be_bytes());
    block.resize(BLOCK_BYTES as usize, 0);
    block
}

/// The length that a segment says it has.
pub(crate) fn stated_bytes(content: &[u8]) -> Option<u64> {
    let bytes = u64::from_be_bytes(*content.get(8..)?.first_chunk()?);
    (content.get(..BLOCK_BYTES as usize)? == header(bytes)).then_some(bytes)
}

/// Makes a segment ahead of need, unless there is one of the right length.
pub(crate) fn make_spare(dir: &Path, bytes: u64) -> Result<(), FileError> {
    let spare = dir.join(SPARE);
    if fs::metadata(&spare).is_ok_and(|found| found.len() == bytes) {
        return Ok(());
    }
    let next = dir.join("spare.next");
    let mut file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .open(&next)
        .about(&next)?;
    fill(&mut file, bytes)
        .and_then(|()| file.sync_all())
        .about(&next)?;
    rename(&next, &spare)
}

fn fill(file: &mut File, bytes: u64) -> io::Result<()> {
    file.write_all(&header(bytes))?;
    let zeros = vec![0; 1 << 18];
    let mut left = bytes.saturating_sub(BLOCK_BYTES);
    while left > 0 {
        let part = usize::try_from(left).unwrap_or(usize::MAX).min(zeros.len());
        file.write_all(zeros.get(..part).unwrap_or_default())?;
        left = left.saturating_sub(part as u64);
    }
    Ok(())
}

/// Puts the spare to use under a number and opens it.
pub(crate) fn take_spare(dir: &Path, number: u64) -> Result<File, FileError> {
    let path = path_of(dir, number);
    rename(&dir.join(SPARE), &path)?;
    open(&path)
}

/// Opens a segment for writing.
pub(crate) fn open(path: &Path) -> Result<File, FileError> {
    OpenOptions::new()
        .read(true)
        .write(true)
        .open(path)
        .about(path)
}

/// Removes a segment that is not needed any more.
pub(crate) fn remove(dir: &Path, number: u64) -> Result<(), FileError> {
    let path = path_of(dir, number);
    fs::remove_file(&path).about(&path)?;
    sync_dir(dir)
}

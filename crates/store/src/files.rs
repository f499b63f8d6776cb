//! Writing files so that a crash leaves the old one or the new one, and secrets so that only their owner reads them.
//!
//! Leaves to others: what is in the files.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// A file could not be read or written.
#[derive(Debug, thiserror::Error)]
#[error("`{path}`: {cause}")]
pub struct FileError {
    /// The file or directory.
    pub path: PathBuf,
    /// Why.
    pub cause: io::Error,
}

/// Says which file an error was about.
pub(crate) trait About<T> {
    /// Names the file.
    fn about(self, path: &Path) -> Result<T, FileError>;
}

impl<T> About<T> for io::Result<T> {
    fn about(self, path: &Path) -> Result<T, FileError> {
        self.map_err(|cause| FileError {
            path: path.to_owned(),
            cause,
        })
    }
}

/// Makes a directory's entries durable.
pub(crate) fn sync_dir(dir: &Path) -> Result<(), FileError> {
    File::open(dir).and_then(|file| file.sync_all()).about(dir)
}

/// Makes a directory, and its entry in the one above durable.
pub(crate) fn make_dir(dir: &Path) -> Result<(), FileError> {
    fs::create_dir_all(dir).about(dir)?;
    dir.parent()
        .filter(|above| above.is_dir())
        .map_or(Ok(()), sync_dir)
}

/// Replaces a file: after a crash there is the old one whole or the new one whole, and once this returns the new one.
/// Only its owner can read it.
pub(crate) fn replace(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    let next = path.with_extension("next");
    let mut file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .mode(0o600)
        .open(&next)
        .about(&next)?;
    file.write_all(bytes)
        .and_then(|()| file.sync_all())
        .about(&next)?;
    rename(&next, path)
}

/// Renames within one directory, durably.
pub(crate) fn rename(from: &Path, to: &Path) -> Result<(), FileError> {
    fs::rename(from, to).about(to)?;
    to.parent().map_or(Ok(()), sync_dir)
}

/// Reads a file if it is there; at most `bytes_max`.
pub(crate) fn read_if_there(path: &Path, bytes_max: u64) -> Result<Option<Vec<u8>>, FileError> {
    let found = match fs::metadata(path) {
        Ok(found) => found.len(),
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(cause) => {
            return Err(FileError {
                path: path.to_owned(),
                cause,
            });
        }
    };
    if found > bytes_max {
        let cause = io::Error::new(
            io::ErrorKind::InvalidData,
            format!("{found} bytes, more than {bytes_max}"),
        );
        return Err(FileError {
            path: path.to_owned(),
            cause,
        });
    }
    fs::read(path).about(path).map(Some)
}

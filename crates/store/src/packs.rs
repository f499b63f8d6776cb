//! Rule packs as files: the texts of a directory, bounded. Nothing is parsed here.
//!
//! Leaves to others: what the texts say (the `pack` crate).

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Most files of a pack.
pub const PACK_FILES_MAX: usize = 512;
/// Largest file of a pack, bytes.
pub const PACK_FILE_BYTES_MAX: u64 = 1_048_576;
/// Largest pack, bytes.
pub const PACK_BYTES_MAX: u64 = 8 * 1_048_576;
/// Most entries of a pack's directories, whatever they are.
pub const PACK_ENTRIES_MAX: usize = 4_096;
/// How deep directories go below the pack's own.
pub const PACK_DEPTH_MAX: usize = 3;

/// Why a pack directory could not be read.
#[derive(Debug, thiserror::Error)]
pub enum PackReadError {
    /// A file or directory could not be read.
    #[error("`{path}` cannot be read: {cause}")]
    Io {
        /// The file or directory.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// A file is not text.
    #[error("`{0}` is not UTF-8 text")]
    NotText(PathBuf),
    /// What should be a file of the pack is no ordinary file.
    #[error("`{path}` is {what}; put the file itself there")]
    NotAFile {
        /// Where it stands.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// A bound of this module is exceeded.
    #[error("`{path}` has more than {max} {what}")]
    TooLarge {
        /// The file or directory.
        path: PathBuf,
        /// What is bounded.
        what: &'static str,
        /// The bound.
        max: u64,
    },
}

/// Reads every `.toml` file of a pack directory and those below it.
///
/// Names are relative to the directory with `/` between parts (`text/en.toml`), in order of name. Hidden files and other
/// endings are passed over. A symbolic link is never followed: what it leads to may stand outside, and change.
///
/// # Errors
/// Something cannot be read, is not text, is a link, a pipe or a device, or exceeds a bound.
pub fn read_dir(path: &Path) -> Result<Vec<(String, String)>, PackReadError> {
    let mut reader = Reader {
        files: Vec::new(),
        bytes: 0,
        entries: 0,
    };
    reader.walk(path, path, "", 0)?;
    reader.files.sort();
    Ok(reader.files)
}

struct Reader {
    files: Vec<(String, String)>,
    bytes: u64,
    entries: usize,
}

impl Reader {
    fn walk(
        &mut self,
        root: &Path,
        dir: &Path,
        prefix: &str,
        depth: usize,
    ) -> Result<(), PackReadError> {
        if depth > PACK_DEPTH_MAX {
            return Err(too_large(
                dir,
                "levels of directories",
                PACK_DEPTH_MAX as u64,
            ));
        }
        let failed = |cause| PackReadError::Io {
            path: dir.to_owned(),
            cause,
        };
        for item in fs::read_dir(dir).map_err(failed)? {
            let item = item.map_err(failed)?;
            self.entries = self.entries.saturating_add(1);
            if self.entries > PACK_ENTRIES_MAX {
                return Err(too_large(
                    root,
                    "files and folders",
                    PACK_ENTRIES_MAX as u64,
                ));
            }
            let kind = item.file_type().map_err(failed)?;
            let path = item.path();
            let Ok(file_name) = item.file_name().into_string() else {
                continue;
            };
            if file_name.starts_with('.') {
                continue;
            }
            let name = format!("{prefix}{file_name}");
            if kind.is_dir() {
                self.walk(root, &path, &format!("{name}/"), depth.saturating_add(1))?;
            } else if file_name.ends_with(".toml") {
                if !kind.is_file() {
                    let what = if kind.is_symlink() {
                        "a symbolic link"
                    } else {
                        "a pipe or a device"
                    };
                    return Err(PackReadError::NotAFile { path, what });
                }
                if self.files.len() >= PACK_FILES_MAX {
                    return Err(too_large(root, "files", PACK_FILES_MAX as u64));
                }
                let text = read_text(&path)?;
                self.bytes = self.bytes.saturating_add(text.len() as u64);
                if self.bytes > PACK_BYTES_MAX {
                    return Err(too_large(root, "bytes", PACK_BYTES_MAX));
                }
                self.files.push((name, text));
            }
        }
        Ok(())
    }
}

fn read_text(path: &Path) -> Result<String, PackReadError> {
    let failed = |cause| PackReadError::Io {
        path: path.to_owned(),
        cause,
    };
    let mut bytes = Vec::new();
    let file = fs::File::open(path).map_err(failed)?;
    file.take(PACK_FILE_BYTES_MAX.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() as u64 > PACK_FILE_BYTES_MAX {
        return Err(too_large(path, "bytes", PACK_FILE_BYTES_MAX));
    }
    String::from_utf8(bytes).map_err(|_| PackReadError::NotText(path.to_owned()))
}

fn too_large(path: &Path, what: &'static str, max: u64) -> PackReadError {
    PackReadError::TooLarge {
        path: path.to_owned(),
        what,
        max,
    }
}

#[cfg(test)]
mod tests;

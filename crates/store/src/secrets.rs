//! The store's own secrets: the key that signs checkpoints and the key of fingerprints, a file each, made with the store.
//!
//! Leaves to others: subjects' keys (`crate::keys`).

use crate::files::{FileError, make_dir, read_if_there, replace};
use crate::keys::random;
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

/// Why a secret could not be had.
#[derive(Debug, thiserror::Error)]
pub enum SecretError {
    /// A file could not be read or written.
    #[error("a secret cannot be read: {0}")]
    File(#[from] FileError),
    /// A store that has a past lacks one.
    #[error("`{0}` is missing, though the store was used before")]
    Missing(PathBuf),
    /// A file is not 32 bytes.
    #[error("`{0}` is not a key of 32 bytes")]
    Length(PathBuf),
    /// The operating system gave no random bytes.
    #[error("no random bytes: {0}")]
    Random(String),
}

/// The store's own secrets.
pub(crate) struct Secrets {
    /// Signs checkpoints.
    pub(crate) signing: Zeroizing<[u8; 32]>,
    /// Fingerprints requests.
    pub(crate) fingerprint: Zeroizing<[u8; 32]>,
}

impl Secrets {
    /// Reads the secrets in `dir`; makes those that are missing only while the store is new.
    pub(crate) fn open(dir: &Path, is_new: bool) -> Result<Self, SecretError> {
        make_dir(dir)?;
        Ok(Self {
            signing: secret(&dir.join("signing.key"), is_new)?,
            fingerprint: secret(&dir.join("fingerprint.key"), is_new)?,
        })
    }
}

fn secret(path: &Path, is_new: bool) -> Result<Zeroizing<[u8; 32]>, SecretError> {
    let bytes = match read_if_there(path, 32)?.map(Zeroizing::new) {
        Some(bytes) => bytes,
        None if is_new => {
            let made = random::<32>().map_err(|error| SecretError::Random(error.to_string()))?;
            replace(path, &made)?;
            Zeroizing::new(made.to_vec())
        }
        None => return Err(SecretError::Missing(path.to_owned())),
    };
    let secret = bytes
        .as_slice()
        .try_into()
        .map_err(|_| SecretError::Length(path.to_owned()))?;
    Ok(Zeroizing::new(secret))
}

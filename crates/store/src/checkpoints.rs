//! Signed checkpoints: kept on disk before they are given away, never of a smaller ledger than one signed before.
//!
//! Leaves to others: the form of a checkpoint (the `ledger` crate), whether it is the ledger's (`crate::open`, `verify`).

use crate::files::{About, FileError, make_dir, read_if_there, replace};
use crate::id::ClinicId;
use rungwise_ledger::checkpoint::{CheckpointError as FormError, open_checkpoint, sign_checkpoint};
use rungwise_ledger::note::{NoteError, NoteSigner};
use rungwise_ledger::tree::Head;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};
use zeroize::Zeroizing;

/// Shortest time between two signatures of one ledger.
pub const SIGNATURE_INTERVAL: Duration = Duration::from_secs(1);
const CHECKPOINT_BYTES_MAX: u64 = 4_096;

/// Why no checkpoint was signed, or a kept one is not accepted.
#[derive(Debug, thiserror::Error)]
pub enum CheckpointError {
    /// It could not be kept, so it was not given away.
    #[error("the checkpoint cannot be kept: {0}")]
    File(#[from] FileError),
    /// The kept one is not this store's, or altered.
    #[error("the kept checkpoint `{path}` is not accepted: {cause}")]
    Kept {
        /// The file.
        path: PathBuf,
        /// Why.
        cause: FormError,
    },
    /// The origin makes no name of a signer.
    #[error("the origin makes no checkpoint: {0}")]
    Origin(#[from] FormError),
    /// A larger ledger was signed before.
    #[error("a checkpoint of {signed} entries was signed, and the ledger has {size}")]
    Smaller {
        /// Size signed before.
        signed: u64,
        /// Size now.
        size: u64,
    },
}

/// A checkpoint that was given away.
struct Signed {
    head: Head,
    note: String,
    /// When it was signed by this process.
    at: Option<Instant>,
}

/// The checkpoints of a store.
pub(crate) struct Checkpoints {
    dir: PathBuf,
    origin: String,
    secret: Zeroizing<[u8; 32]>,
    last: Mutex<BTreeMap<ClinicId, Signed>>,
}

impl Checkpoints {
    /// Opens the checkpoints kept in `dir`.
    pub(crate) fn open(
        dir: &Path,
        origin: &str,
        secret: Zeroizing<[u8; 32]>,
    ) -> Result<Self, CheckpointError> {
        make_dir(dir)?;
        let mut kept = BTreeMap::new();
        let checkpoints = Self {
            dir: dir.to_owned(),
            origin: origin.to_owned(),
            secret,
            last: Mutex::new(BTreeMap::new()),
        };
        for item in fs::read_dir(dir).about(dir)? {
            let path = item.about(dir)?.path();
            if path.extension().is_none_or(|ending| ending != "checkpoint") {
                continue;
            }
            let refuse = |cause| CheckpointError::Kept {
                path: path.clone(),
                cause,
            };
            let name = path
                .file_stem()
                .and_then(|stem| stem.to_str())
                .map(ClinicId::new);
            let Some(Ok(clinic)) = name else {
                return Err(refuse(FormError::Malformed));
            };
            let bytes = read_if_there(&path, CHECKPOINT_BYTES_MAX)?.unwrap_or_default();
            let note = String::from_utf8(bytes).map_err(|_| refuse(FormError::Malformed))?;
            let signer = checkpoints
                .signer(&clinic)
                .map_err(|error| refuse(error.into()))?;
            let head = open_checkpoint(&note, signer.verifier()).map_err(refuse)?;
            kept.insert(
                clinic,
                Signed {
                    head,
                    note,
                    at: None,
                },
            );
        }
        *checkpoints
            .last
            .lock()
            .unwrap_or_else(PoisonError::into_inner) = kept;
        Ok(checkpoints)
    }

    fn signer(&self, clinic: &ClinicId) -> Result<NoteSigner, NoteError> {
        NoteSigner::new(&format!("{}/{clinic}", self.origin), &self.secret)
    }

    /// Verifier key of a clinic's checkpoints.
    pub(crate) fn verifier(&self, clinic: &ClinicId) -> Result<String, CheckpointError> {
        Ok(self
            .signer(clinic)
            .map_err(FormError::from)?
            .verifier()
            .to_string())
    }

    /// The last head signed of every clinic.
    pub(crate) fn heads(&self) -> Vec<(ClinicId, Head)> {
        let last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        last.iter()
            .map(|(clinic, signed)| (clinic.clone(), signed.head))
            .collect()
    }

    /// The last head signed of a clinic.
    pub(crate) fn last_head(&self, clinic: &ClinicId) -> Option<Head> {
        self.last
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .get(clinic)
            .map(|signed| signed.head)
    }

    /// Signs a head that is durable, or gives the last signature again when it is of this head or not a second old.
    pub(crate) fn sign(&self, clinic: &ClinicId, head: Head) -> Result<String, CheckpointError> {
        let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(signed) = last.get(clinic) {
            let recent = signed
                .at
                .is_some_and(|at| at.elapsed() < SIGNATURE_INTERVAL);
            if signed.head == head || recent {
                return Ok(signed.note.clone());
            }
            // INVARIANT (append-only): every checkpoint extends the last.
            if head.size <= signed.head.size {
                return Err(CheckpointError::Smaller {
                    signed: signed.head.size,
                    size: head.size,
                });
            }
        }
        let signer = self.signer(clinic).map_err(FormError::from)?;
        let note = sign_checkpoint(&signer, &head)?;
        replace(
            &self.dir.join(format!("{clinic}.checkpoint")),
            note.as_bytes(),
        )?;
        last.insert(
            clinic.clone(),
            Signed {
                head,
                note: note.clone(),
                at: Some(Instant::now()),
            },
        );
        Ok(note)
    }
}

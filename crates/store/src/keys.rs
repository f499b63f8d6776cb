//! Key tables: one file a clinic, slots of (id, wrapped key), wrapped by an epoch key that is kept in a file elsewhere.
//!
//! A slot is written when its key is made and synced before the first entry under it is acknowledged. The table is
//! rewritten whole under a new epoch key to take the old one out of force; a backup of the old table is then worth nothing
//! to who has not kept the old epoch key too.
//!
//! Leaves to others: which keys are to be erased; where epoch keys are backed up, if at all.

use crate::files::{About, FileError, make_dir, read_if_there, rename, replace};
use crate::id::{ClinicId, KeyId};
use rungwise_ledger::seal::{Nonce, SecretKey, WRAPPED_KEY_BYTES, unwrap_key, wrap_key};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::os::unix::fs::{FileExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use zeroize::Zeroizing;

const TABLE_MAGIC: [u8; 8] = *b"RWKEYS01";
const EPOCH_MAGIC: [u8; 8] = *b"RWEPOC01";
const HEADER_BYTES: usize = 32;
const SLOT_BYTES: usize = 16 + WRAPPED_KEY_BYTES + 8;
/// Most keys of a clinic.
pub const KEYS_MAX: usize = 1_000_000;
const TABLE_BYTES_MAX: u64 = (KEYS_MAX * SLOT_BYTES + HEADER_BYTES) as u64;
const EPOCH_BYTES: usize = 8 + 16 + 32;

/// Why a key table could not be used.
#[derive(Debug, thiserror::Error)]
pub enum KeyError {
    /// A file could not be read or written.
    #[error("the key table cannot be used: {0}")]
    File(#[from] FileError),
    /// A table or an epoch key is not what was written.
    #[error("`{path}` is damaged: {what}")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What does not fit.
        what: &'static str,
    },
    /// There is a table but not the epoch key that opens it.
    #[error("the epoch key of the table `{table}` is not in `{epoch_dir}`")]
    EpochMissing {
        /// The table.
        table: PathBuf,
        /// Where its epoch key should be.
        epoch_dir: PathBuf,
    },
    /// The table is full.
    #[error("the clinic has {KEYS_MAX} keys, the most there can be")]
    Full,
    /// The operating system gave no random bytes.
    #[error("no random bytes: {0}")]
    Random(String),
    /// The table's clinic is not a clinic's name.
    #[error("`{0}` is not the name of a key table")]
    Name(PathBuf),
}

pub(crate) fn random<const N: usize>() -> Result<[u8; N], getrandom::Error> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes)?;
    Ok(bytes)
}

fn random_here<const N: usize>() -> Result<[u8; N], KeyError> {
    random().map_err(|error| KeyError::Random(error.to_string()))
}

/// All key tables of a store.
pub(crate) struct Keys {
    dir: PathBuf,
    epoch_dir: PathBuf,
    tables: RwLock<BTreeMap<ClinicId, Arc<Table>>>,
}

impl Keys {
    /// Opens the tables in `dir`; their epoch keys are in `epoch_dir`.
    pub(crate) fn open(dir: &Path, epoch_dir: &Path) -> Result<Self, KeyError> {
        make_dir(dir)?;
        make_dir(epoch_dir)?;
        let mut tables = BTreeMap::new();
        for item in fs::read_dir(dir).about(dir)? {
            let path = item.about(dir)?.path();
            if path.extension().is_some_and(|ending| ending == "keys") {
                let name = path
                    .file_stem()
                    .and_then(|stem| stem.to_str())
                    .map(ClinicId::new);
                let Some(Ok(clinic)) = name else {
                    return Err(KeyError::Name(path));
                };
                let table = Table::open(&clinic, &path, epoch_dir)?;
                tables.insert(clinic, Arc::new(table));
            }
        }
        Ok(Self {
            dir: dir.to_owned(),
            epoch_dir: epoch_dir.to_owned(),
            tables: RwLock::new(tables),
        })
    }

    fn table(&self, clinic: &ClinicId) -> Option<Arc<Table>> {
        self.tables
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(clinic)
            .cloned()
    }

    /// Makes a key in the clinic's table, which is made with the first.
    pub(crate) fn create(&self, clinic: &ClinicId) -> Result<KeyId, KeyError> {
        if let Some(table) = self.table(clinic) {
            return table.create();
        }
        let mut tables = self.tables.write().unwrap_or_else(PoisonError::into_inner);
        let table = match tables.get(clinic) {
            Some(table) => Arc::clone(table),
            None => {
                let path = self.dir.join(format!("{clinic}.keys"));
                let table = Arc::new(Table::make(clinic, &path, &self.epoch_dir)?);
                tables.insert(clinic.clone(), Arc::clone(&table));
                table
            }
        };
        drop(tables);
        table.create()
    }

    /// A key, if it is there and opens.
    pub(crate) fn get(&self, clinic: &ClinicId, id: KeyId) -> Option<SecretKey> {
        self.table(clinic)?.get(id)
    }

    /// Makes the clinic's keys durable.
    pub(crate) fn sync(&self, clinic: &ClinicId) -> Result<(), FileError> {
        self.table(clinic).map_or(Ok(()), |table| table.sync())
    }

    /// Rewrites the clinic's table under a new epoch key and destroys the old one.
    pub(crate) fn renew_epoch(&self, clinic: &ClinicId) -> Result<(), KeyError> {
        self.table(clinic)
            .map_or(Ok(()), |table| table.renew_epoch(&self.epoch_dir))
    }
}

/// One clinic's keys.
struct Table {
    clinic: ClinicId,
    path: PathBuf,
    inner: RwLock<Inner>,
}

struct Inner {
    file: Arc<File>,
    epoch: Epoch,
    slots: BTreeMap<KeyId, [u8; WRAPPED_KEY_BYTES]>,
    /// Where the next slot goes.
    end: u64,
    /// How many slots were written, and how many of these are known to be durable.
    written: u64,
    synced: u64,
}

#[derive(Clone)]
struct Epoch {
    id: [u8; 16],
    key: SecretKey,
}

impl Epoch {
    fn new() -> Result<Self, KeyError> {
        Ok(Self {
            id: random_here()?,
            key: SecretKey::take(&mut random_here()?),
        })
    }

    fn file(epoch_dir: &Path, clinic: &ClinicId) -> PathBuf {
        epoch_dir.join(format!("{clinic}.epoch"))
    }

    fn write(&self, path: &Path) -> Result<(), FileError> {
        replace(
            path,
            &Zeroizing::new([EPOCH_MAGIC.as_slice(), &self.id, self.key.expose()].concat()),
        )
    }

    fn read(path: &Path) -> Result<Option<Self>, KeyError> {
        let Some(bytes) = read_if_there(path, EPOCH_BYTES as u64)?.map(Zeroizing::new) else {
            return Ok(None);
        };
        let damaged = || KeyError::Damaged {
            path: path.to_owned(),
            what: "it is no epoch key",
        };
        let rest = bytes
            .strip_prefix(EPOCH_MAGIC.as_slice())
            .ok_or_else(damaged)?;
        let (id, key) = rest.split_first_chunk::<16>().ok_or_else(damaged)?;
        let mut key = <[u8; 32]>::try_from(key).map_err(|_| damaged())?;
        Ok(Some(Self {
            id: *id,
            key: SecretKey::take(&mut key),
        }))
    }
}

fn slot_context(clinic: &ClinicId, id: KeyId) -> Vec<u8> {
    [
        b"rungwise key slot ".as_slice(),
        &id.0,
        clinic.as_str().as_bytes(),
    ]
    .concat()
}

fn header(epoch: &Epoch) -> Vec<u8> {
    let mut bytes = [TABLE_MAGIC.as_slice(), &epoch.id].concat();
    let digest = Sha256::digest(&bytes);
    bytes.extend(digest.iter().take(8));
    bytes
}

fn encode_slot(id: KeyId, wrapped: &[u8; WRAPPED_KEY_BYTES]) -> Vec<u8> {
    let mut bytes = [id.0.as_slice(), wrapped].concat();
    let digest = Sha256::digest(&bytes);
    bytes.extend(digest.iter().take(8));
    bytes
}

/// Reads a slot; none where it was never written to its end (its key was then never used) or was zeroed.
fn decode_slot(bytes: &[u8]) -> Option<(KeyId, [u8; WRAPPED_KEY_BYTES])> {
    let (id, rest) = bytes.split_first_chunk::<16>()?;
    let wrapped = rest.first_chunk::<WRAPPED_KEY_BYTES>()?;
    (encode_slot(KeyId(*id), wrapped) == bytes).then_some((KeyId(*id), *wrapped))
}

impl Table {
    fn make(clinic: &ClinicId, path: &Path, epoch_dir: &Path) -> Result<Self, KeyError> {
        let epoch = Epoch::new()?;
        epoch.write(&Epoch::file(epoch_dir, clinic))?;
        replace(path, &header(&epoch))?;
        Self::open(clinic, path, epoch_dir)
    }

    fn open(clinic: &ClinicId, path: &Path, epoch_dir: &Path) -> Result<Self, KeyError> {
        let damaged = |what| KeyError::Damaged {
            path: path.to_owned(),
            what,
        };
        let bytes = read_if_there(path, TABLE_BYTES_MAX)?.unwrap_or_default();
        let (head, slots) = bytes
            .split_first_chunk::<HEADER_BYTES>()
            .ok_or_else(|| damaged("it has no header"))?;
        let epoch = Self::find_epoch(clinic, head, path, epoch_dir)?;
        let whole = slots.len().saturating_sub(slots.len() % SLOT_BYTES);
        let file = OpenOptions::new()
            .write(true)
            .mode(0o600)
            .open(path)
            .about(path)?;
        let inner = Inner {
            file: Arc::new(file),
            epoch,
            slots: slots
                .chunks_exact(SLOT_BYTES)
                .filter_map(decode_slot)
                .collect(),
            end: (HEADER_BYTES as u64).saturating_add(whole as u64),
            // What was written by a process that ended may not be durable yet.
            written: 1,
            synced: 0,
        };
        Ok(Self {
            clinic: clinic.clone(),
            path: path.to_owned(),
            inner: RwLock::new(inner),
        })
    }

    /// The epoch key that the header names: the current one, or the next one when a renewal was cut short.
    fn find_epoch(
        clinic: &ClinicId,
        head: &[u8],
        path: &Path,
        epoch_dir: &Path,
    ) -> Result<Epoch, KeyError> {
        let current = Epoch::file(epoch_dir, clinic);
        let pending = current.with_extension("pending");
        for (candidate, is_pending) in [(&current, false), (&pending, true)] {
            let found = match Epoch::read(candidate) {
                // A renewal wipes the old key before the new one takes its name.
                Err(KeyError::Damaged { .. }) => None,
                found => found?,
            };
            if let Some(epoch) = found.filter(|epoch| header(epoch) == head) {
                if is_pending {
                    rename(&pending, &current)?;
                }
                return Ok(epoch);
            }
        }
        Err(KeyError::EpochMissing {
            table: path.to_owned(),
            epoch_dir: epoch_dir.to_owned(),
        })
    }

    fn create(&self) -> Result<KeyId, KeyError> {
        let (id, key) = (KeyId(random_here()?), SecretKey::take(&mut random_here()?));
        let nonce: Nonce = random_here()?;
        let mut inner = self.inner.write().unwrap_or_else(PoisonError::into_inner);
        if inner.slots.len() >= KEYS_MAX {
            return Err(KeyError::Full);
        }
        let wrapped = wrap_key(
            &inner.epoch.key,
            &nonce,
            &slot_context(&self.clinic, id),
            &key,
        )
        .map_err(|_| KeyError::Damaged {
            path: self.path.clone(),
            what: "a key cannot be wrapped",
        })?;
        inner
            .file
            .write_all_at(&encode_slot(id, &wrapped), inner.end)
            .about(&self.path)?;
        inner.end = inner.end.saturating_add(SLOT_BYTES as u64);
        inner.written = inner.written.saturating_add(1);
        inner.slots.insert(id, wrapped);
        Ok(id)
    }

    fn get(&self, id: KeyId) -> Option<SecretKey> {
        let inner = self.inner.read().unwrap_or_else(PoisonError::into_inner);
        let wrapped = inner.slots.get(&id)?;
        unwrap_key(&inner.epoch.key, &slot_context(&self.clinic, id), wrapped).ok()
    }

    fn sync(&self) -> Result<(), FileError> {
        let inner = self.inner.read().unwrap_or_else(PoisonError::into_inner);
        let (file, written, synced) = (Arc::clone(&inner.file), inner.written, inner.synced);
        drop(inner);
        if written != synced {
            file.sync_data().about(&self.path)?;
            let mut inner = self.inner.write().unwrap_or_else(PoisonError::into_inner);
            inner.synced = inner.synced.max(written);
        }
        Ok(())
    }

    fn renew_epoch(&self, epoch_dir: &Path) -> Result<(), KeyError> {
        let mut inner = self.inner.write().unwrap_or_else(PoisonError::into_inner);
        let epoch = Epoch::new()?;
        let mut bytes = header(&epoch);
        let mut slots = BTreeMap::new();
        let unusable = || KeyError::Damaged {
            path: self.path.clone(),
            what: "a slot does not open",
        };
        for (id, wrapped) in &inner.slots {
            let context = slot_context(&self.clinic, *id);
            let key = unwrap_key(&inner.epoch.key, &context, wrapped).map_err(|_| unusable())?;
            let wrapped =
                wrap_key(&epoch.key, &random_here()?, &context, &key).map_err(|_| unusable())?;
            bytes.extend_from_slice(&encode_slot(*id, &wrapped));
            slots.insert(*id, wrapped);
        }
        // The new key first, then the table under it, then the old key goes: a crash between leaves a pair that fits.
        let current = Epoch::file(epoch_dir, &self.clinic);
        let pending = current.with_extension("pending");
        epoch.write(&pending)?;
        replace(&self.path, &bytes)?;
        // From here on the table is the new one whatever fails, so slots must go to it.
        inner.file = Arc::new(
            OpenOptions::new()
                .write(true)
                .open(&self.path)
                .about(&self.path)?,
        );
        (inner.epoch, inner.slots, inner.end) = (epoch, slots, bytes.len() as u64);
        let old = OpenOptions::new()
            .write(true)
            .open(&current)
            .about(&current)?;
        old.write_all_at(&[0; EPOCH_BYTES], 0)
            .and_then(|()| old.sync_all())
            .about(&current)?;
        Ok(rename(&pending, &current)?)
    }
}

#[cfg(test)]
mod tests;

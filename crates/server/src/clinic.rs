//! A clinic as the service knows it: the packs that were ever in force, its band catalogue, and who has which episodes.
//!
//! All are read from the ledger and read on as it grows, so that another process may write to it too.
//!
//! Leaves to others: one episode (`crate::episode`), writing (`crate::write`).

use crate::catalogue::Catalogue;
use crate::limits::{CALLS_OF_CLINIC_MAX, NEW_KEYS_MAX, PACK_PART_BYTES, READ_ENTRIES};
use crate::refusal::Refusal;
use rungwise_api::content::{self, Content, Opening, PackPart};
use rungwise_api::v1::Reason;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::quantity::Key;
use rungwise_pack::source::{SourceFiles, is_diary};
use rungwise_store::{Append, ClinicId, Entry, KeyId, Kind, NewEntry, Store, StreamId};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock};
use tokio::sync::{Semaphore, SemaphorePermit};

/// The stream of the clinic itself.
pub(crate) const CLINIC_STREAM: &str = "clinic";

/// A pack that is or was in force.
#[derive(Debug)]
pub(crate) struct KeptPack {
    /// What it says.
    pub(crate) pack: CheckedPack,
    /// Its files, diaries left out.
    pub(crate) files: SourceFiles,
    /// When it came into force, milliseconds since 1970 UTC.
    pub(crate) activated_at_ms: u64,
}

/// The clinic's stream as read so far.
#[derive(Debug, Default)]
struct Stream {
    next_sequence: u64,
    key: Option<KeyId>,
    packs: BTreeMap<[u8; 32], Arc<KeptPack>>,
    /// In the order in which they first came into force.
    order: Vec<[u8; 32]>,
    in_force: BTreeMap<Key, [u8; 32]>,
    /// Parts of a pack that has not come into force yet.
    parts: BTreeMap<String, String>,
    catalogue: Catalogue,
}

/// An episode in the directory.
#[derive(Clone, Debug)]
pub(crate) struct Listed {
    /// Where its opening stands in the ledger.
    pub(crate) position: u64,
    /// Its stream.
    pub(crate) stream: StreamId,
    /// The person.
    pub(crate) person: Key,
    /// The caller's own id for it.
    pub(crate) external_id: Option<Key>,
    /// The person's key.
    pub(crate) key: KeyId,
}

/// Every episode of the clinic, oldest first.
#[derive(Debug, Default)]
struct Directory {
    scanned: u64,
    episodes: Vec<Listed>,
    of_person: BTreeMap<Key, Vec<usize>>,
}

/// A clinic.
#[derive(Debug)]
pub(crate) struct Clinic {
    /// Its id.
    pub(crate) id: ClinicId,
    /// Its own stream.
    pub(crate) stream: StreamId,
    store: Arc<Store>,
    calls: Semaphore,
    read: RwLock<Stream>,
    directory: Mutex<Directory>,
    /// Keys of persons whose first opening is on its way, so that a person gets one.
    new_keys: Mutex<BTreeMap<Key, KeyId>>,
}

impl Clinic {
    /// The clinic of this id, as its ledger stands.
    pub(crate) fn read(store: Arc<Store>, id: ClinicId) -> Result<Self, Refusal> {
        let clinic = Self {
            id,
            stream: StreamId::new(CLINIC_STREAM)
                .map_err(|error| Refusal::Fault(error.to_string()))?,
            new_keys: Mutex::default(),
            store,
            calls: Semaphore::new(CALLS_OF_CLINIC_MAX),
            read: RwLock::default(),
            directory: Mutex::default(),
        };
        clinic.catch_up()?;
        Ok(clinic)
    }

    /// Takes one of the calls that the clinic may have answered at once.
    pub(crate) fn enter(&self) -> Result<SemaphorePermit<'_>, Refusal> {
        self.calls
            .try_acquire()
            .map_err(|_| Refusal::Busy(Reason::TooManyCallsOfClinic))
    }

    /// Waits for one of the calls that the clinic may have answered at once.
    pub(crate) async fn wait_to_enter(&self) -> Result<SemaphorePermit<'_>, Refusal> {
        self.calls.acquire().await.map_err(|_| Refusal::Stopping)
    }

    /// Reads the clinic's stream on to its end; gives the sequence that its next entry gets.
    pub(crate) fn catch_up(&self) -> Result<u64, Refusal> {
        let end = self.store.next_sequence(&self.id, &self.stream)?;
        if self
            .read
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .next_sequence
            >= end
        {
            return Ok(end);
        }
        let mut read = self.read.write().unwrap_or_else(PoisonError::into_inner);
        loop {
            let entries =
                self.store
                    .stream(&self.id, &self.stream, read.next_sequence, READ_ENTRIES)?;
            if entries.is_empty() {
                return Ok(read.next_sequence);
            }
            for entry in entries {
                read.take(&entry)?;
            }
        }
    }

    /// The version of this pack that is in force.
    pub(crate) fn in_force(&self, pack_id: &str) -> Option<Arc<KeptPack>> {
        let read = self.read.read().unwrap_or_else(PoisonError::into_inner);
        read.packs.get(read.in_force.get(pack_id)?).cloned()
    }

    /// The pack of this digest.
    pub(crate) fn pack(&self, digest: &[u8; 32]) -> Option<Arc<KeptPack>> {
        self.read
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .packs
            .get(digest)
            .cloned()
    }

    /// Every pack that was ever in force, in the order in which they came into force, and whether it is.
    pub(crate) fn packs(&self) -> Vec<(Arc<KeptPack>, bool)> {
        let read = self.read.read().unwrap_or_else(PoisonError::into_inner);
        let is_in_force =
            |digest: &[u8; 32]| read.in_force.values().any(|in_force| in_force == digest);
        let known = read.order.iter();
        known
            .filter_map(|digest| Some((read.packs.get(digest)?.clone(), is_in_force(digest))))
            .collect()
    }

    /// Brings a pack into force, unless that version is. It must have been checked.
    pub(crate) async fn activate(
        &self,
        pack: &CheckedPack,
        files: &SourceFiles,
    ) -> Result<(), Refusal> {
        if self
            .in_force(&pack.id)
            .is_some_and(|kept| kept.pack.digest == pack.digest)
        {
            return Ok(());
        }
        let next_sequence = self.catch_up()?;
        let key = self.own_key()?;
        let entry = |part: PackPart| NewEntry {
            stream: self.stream.clone(),
            kind: Kind::Pack,
            semantics: 0,
            pack_digest: Some(pack.digest),
            content: content::encode(&Content::PackPart(part)),
            key,
        };
        let append = Append {
            clinic: self.id.clone(),
            expects: vec![(self.stream.clone(), next_sequence)],
            entries: parts_of(files).into_iter().map(entry).collect(),
            request: None,
            answer: Vec::new(),
        };
        self.store.append(append).await?;
        self.catch_up()?;
        Ok(())
    }

    /// The key of the clinic's own entries, made if it has none.
    pub(crate) fn own_key(&self) -> Result<KeyId, Refusal> {
        let known = self.read.read().unwrap_or_else(PoisonError::into_inner).key;
        match known {
            Some(key) => Ok(key),
            None => self
                .store
                .create_key(&self.id)
                .map_err(|error| Refusal::StoreStopped(error.to_string())),
        }
    }

    /// What `read` finds in the band catalogue as read so far.
    pub(crate) fn in_catalogue<T>(&self, read: impl FnOnce(&Catalogue) -> T) -> T {
        let stream = self.read.read().unwrap_or_else(PoisonError::into_inner);
        read(&stream.catalogue)
    }

    fn directory(&self) -> Result<MutexGuard<'_, Directory>, Refusal> {
        let mut directory = self
            .directory
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        let size = self.store.head(&self.id).size;
        while directory.scanned < size {
            let entries = self
                .store
                .entries(&self.id, directory.scanned, READ_ENTRIES)?;
            let Some(last) = entries.last().map(|entry| entry.position) else {
                break;
            };
            for entry in &entries {
                directory.take(entry)?;
            }
            directory.scanned = last.saturating_add(1);
        }
        Ok(directory)
    }

    /// The person's key, made if they have none.
    pub(crate) fn key_of(&self, person: &Key) -> Result<KeyId, Refusal> {
        // Held from the look into the directory on, so that two openings of one person do not both make a key.
        let mut new_keys = self.new_keys.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(key) = new_keys.get(person) {
            return Ok(*key);
        }
        if let Some(listed) = self.of_person(person)?.first() {
            return Ok(listed.key);
        }
        let key = self
            .store
            .create_key(&self.id)
            .map_err(|error| Refusal::StoreStopped(error.to_string()))?;
        if new_keys.len() >= NEW_KEYS_MAX {
            new_keys.pop_first();
        }
        new_keys.insert(person.clone(), key);
        Ok(key)
    }

    /// Takes note that an opening of the person has landed: their key is in the directory from now on.
    pub(crate) fn settle_key(&self, person: &Key) {
        self.new_keys
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .remove(person);
    }

    /// The person's episodes, closed ones too.
    pub(crate) fn of_person(&self, person: &str) -> Result<Vec<Listed>, Refusal> {
        let directory = self.directory()?;
        let indexes = directory
            .of_person
            .get(person)
            .map(Vec::as_slice)
            .unwrap_or_default();
        Ok(indexes
            .iter()
            .filter_map(|index| directory.episodes.get(*index).cloned())
            .collect())
    }

    /// Episodes opened at or after a position, oldest first, at most so many.
    pub(crate) fn opened_from(&self, position: u64, limit: usize) -> Result<Vec<Listed>, Refusal> {
        let directory = self.directory()?;
        let start = directory
            .episodes
            .partition_point(|listed| listed.position < position);
        Ok(directory
            .episodes
            .iter()
            .skip(start)
            .take(limit)
            .cloned()
            .collect())
    }
}

impl Stream {
    fn take(&mut self, entry: &Entry) -> Result<(), Refusal> {
        self.key.get_or_insert(entry.key);
        self.next_sequence = entry.sequence.saturating_add(1);
        match decoded(entry)? {
            Content::PackPart(part) => self.take_part(entry, part),
            Content::Roll(roll) => {
                self.catalogue
                    .record(entry.position, entry.recorded_at_ms, roll);
            }
            Content::RollWithdrawal(withdrawal) => self.catalogue.withdraw(withdrawal),
            Content::Opening(_) | Content::Closing(_) | Content::Fact(_) | Content::Decision(_) => {
            }
        }
        Ok(())
    }

    fn take_part(&mut self, entry: &Entry, part: PackPart) {
        for (path, text) in part.files {
            self.parts.entry(path).or_default().push_str(&text);
        }
        if !part.is_last {
            return;
        }
        let files = SourceFiles::new(std::mem::take(&mut self.parts).into_iter().collect());
        let Some(pack) = rungwise_pack::check(&files).pack else {
            tracing::error!(
                position = entry.position,
                "a pack that was in force is no longer accepted"
            );
            return;
        };
        let digest = pack.digest;
        self.in_force.insert(pack.id.clone(), digest);
        if !self.packs.contains_key(&digest) {
            self.order.push(digest);
            let kept = KeptPack {
                pack,
                files,
                activated_at_ms: entry.recorded_at_ms,
            };
            self.packs.insert(digest, Arc::new(kept));
        }
    }
}

impl Directory {
    fn take(&mut self, entry: &Entry) -> Result<(), Refusal> {
        if entry.kind != Kind::Open {
            return Ok(());
        }
        let Content::Opening(Opening {
            person,
            external_id,
            ..
        }) = decoded(entry)?
        else {
            return Err(Refusal::Damaged(format!(
                "entry {} is no opening",
                entry.position
            )));
        };
        self.of_person
            .entry(person.clone())
            .or_default()
            .push(self.episodes.len());
        self.episodes.push(Listed {
            position: entry.position,
            stream: entry.stream.clone(),
            person,
            external_id,
            key: entry.key,
        });
        Ok(())
    }
}

/// What an entry holds.
pub(crate) fn decoded(entry: &Entry) -> Result<Content, Refusal> {
    content::decode(&entry.content)
        .map_err(|error| Refusal::Damaged(format!("entry {}: {error}", entry.position)))
}

/// A pack's files, diaries left out, in parts that each fit an entry.
fn parts_of(files: &SourceFiles) -> Vec<PackPart> {
    let mut parts = vec![PackPart {
        files: Vec::new(),
        is_last: false,
    }];
    let mut room = PACK_PART_BYTES;
    for file in files.files().iter().filter(|file| !is_diary(&file.name)) {
        let mut rest = file.text.as_str();
        loop {
            let cut = floor_boundary(rest, room);
            let (now, later) = rest.split_at_checked(cut).unwrap_or((rest, ""));
            if let Some(part) = parts.last_mut().filter(|_| cut > 0 || rest.is_empty()) {
                part.files.push((file.name.clone(), now.to_owned()));
            }
            room = room.saturating_sub(cut);
            rest = later;
            if rest.is_empty() {
                break;
            }
            parts.push(PackPart {
                files: Vec::new(),
                is_last: false,
            });
            room = PACK_PART_BYTES;
        }
    }
    if let Some(last) = parts.last_mut() {
        last.is_last = true;
    }
    parts
}

/// The greatest character boundary at or below `bytes`.
fn floor_boundary(text: &str, bytes: usize) -> usize {
    let end = bytes.min(text.len());
    (0..=end)
        .rev()
        .find(|at| text.is_char_boundary(*at))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests;

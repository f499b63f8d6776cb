//! A clinic as the service knows it: its own stream (packs, leads, directives, bands), and who has which episodes.
//!
//! Both are read from the ledger and read on as it grows, so that another process may write to it too.
//!
//! Leaves to others: one episode (`crate::episode`), writing (`crate::write`).

mod directory;
mod parts;
mod stream;
pub(crate) mod versions;

pub(crate) use directory::Listed;
pub(crate) use parts::parts_of;
pub(crate) use stream::{KeptDirective, KeptPack, KeptProposal, Stream};

use crate::limits::{APPEND_TRIES_MAX, CALLS_OF_CLINIC_MAX, NEW_KEYS_MAX, READ_ENTRIES};
use crate::refusal::Refusal;
use crate::write::{fingerprinted, request};
use directory::Directory;
use jiff::civil::Date;
use rungwise_api::content::{self, Content};
use rungwise_api::name::clinic_name;
use rungwise_api::v1::Reason;
use rungwise_engine::fact::Record;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::quantity::Key;
use rungwise_pack::source::{SourceFiles, is_diary};
use rungwise_store::{
    Append, AppendError, ClinicId, Entry, KeyId, Kind, NewEntry, Store, StreamId,
};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use tokio::sync::{Semaphore, SemaphorePermit};
use versions::{Course, for_course};

/// The stream of the clinic itself.
pub(crate) const CLINIC_STREAM: &str = "clinic";

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
        if self.in_stream(|stream| stream.next_sequence) >= end {
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

    /// The version of this pack under which an episode comes that opens on this date.
    pub(crate) fn for_new(&self, pack_id: &str, date: Date) -> Option<Arc<KeptPack>> {
        self.in_stream(|stream| stream.for_new(pack_id, date).cloned())
    }

    /// The version of this pack that came into force first.
    pub(crate) fn first_version(&self, pack_id: &str) -> Option<Arc<KeptPack>> {
        self.in_stream(|stream| {
            let first = stream.versions_of(pack_id).first()?;
            stream.packs.get(&first.digest).cloned()
        })
    }

    /// The version of this pack that decides an episode for this date.
    pub(crate) fn for_course(
        &self,
        pack_id: &str,
        course: &Course<'_>,
        as_of: Date,
    ) -> Option<Arc<KeptPack>> {
        self.in_stream(|stream| {
            let digest = for_course(stream.versions_of(pack_id), course, as_of)?;
            stream.packs.get(&digest).cloned()
        })
    }

    /// What binds the episodes of this pack from the `after`-th on, each with when it was recorded, in order of position.
    pub(crate) fn binding(&self, pack_id: &str, after: usize) -> Vec<(u64, Record)> {
        self.in_stream(|stream| {
            let new = stream.binding(pack_id).skip(after);
            new.map(|(at_ms, record)| (at_ms, record.clone())).collect()
        })
    }

    /// The pack of this digest, if it was ever in force or approved to be.
    pub(crate) fn pack(&self, digest: &[u8; 32]) -> Option<Arc<KeptPack>> {
        self.in_stream(|stream| stream.packs.get(digest).cloned())
    }

    /// Every pack that was ever in force or approved to be, in that order, and whether an episode opened on this date
    /// comes under it.
    pub(crate) fn packs(&self, date: Date) -> Vec<(Arc<KeptPack>, bool)> {
        self.in_stream(|stream| {
            let known = stream.order.iter().filter_map(|one| stream.packs.get(one));
            known
                .map(|kept| {
                    let new = stream.for_new(&kept.pack.id, date);
                    let is_it = new.is_some_and(|new| new.pack.digest == kept.pack.digest);
                    (kept.clone(), is_it)
                })
                .collect()
        })
    }

    /// Brings a pack into force for every decision from now on, unless that version is. It must have been checked.
    pub(crate) async fn activate(
        &self,
        pack: &CheckedPack,
        files: &SourceFiles,
    ) -> Result<(), Refusal> {
        let newest = self.in_stream(|stream| {
            let newest = stream.newest_version(&pack.id);
            newest.map(|version| version.digest)
        });
        if newest == Some(pack.digest) {
            return Ok(());
        }
        let files = files.files().iter().filter(|file| !is_diary(&file.name));
        let parts = parts_of(files).into_iter().map(Content::PackPart);
        let entries = parts.map(|part| (Kind::Pack, Some(pack.digest), part));
        self.append_own(&entries.collect::<Vec<_>>()).await
    }

    /// Appends to the clinic's stream what no call asked for.
    pub(crate) async fn append_own(
        &self,
        entries: &[(Kind, Option<[u8; 32]>, Content)],
    ) -> Result<(), Refusal> {
        let next_sequence = self.catch_up()?;
        let append = Append {
            clinic: self.id.clone(),
            expects: vec![(self.stream.clone(), next_sequence)],
            entries: self.own_entries(entries)?,
            request: None,
            answer: Vec::new(),
        };
        self.store.append(append).await?;
        self.catch_up()?;
        Ok(())
    }

    fn own_entries(
        &self,
        entries: &[(Kind, Option<[u8; 32]>, Content)],
    ) -> Result<Vec<NewEntry>, Refusal> {
        let key = self.own_key()?;
        let entry = |(kind, pack_digest, content): &(Kind, Option<[u8; 32]>, Content)| NewEntry {
            stream: self.stream.clone(),
            kind: *kind,
            semantics: 0,
            pack_digest: *pack_digest,
            content: content::encode(content),
            key,
        };
        Ok(entries.iter().map(entry).collect())
    }

    /// Appends to the clinic's stream for a call what `judge` lets pass of the clinic as it stands; gives the last one's
    /// position. Repeated, it is answered as before and not judged again.
    pub(crate) async fn write(
        &self,
        (call, id): (&'static str, String),
        entries: &[(Kind, Option<[u8; 32]>, Content)],
        judge: impl Fn(&Stream) -> Result<(), Refusal>,
    ) -> Result<u64, Refusal> {
        let contents: Vec<Vec<u8>> = entries
            .iter()
            .map(|(.., content)| content::encode(content))
            .collect();
        let value = fingerprinted(call, self.id.as_str(), &contents);
        let request = request(&self.store, self, id, &value);
        for _ in 0..APPEND_TRIES_MAX {
            let next_sequence = self.catch_up()?;
            let appended = match self.store.answered(&self.id, &request)? {
                Some(earlier) => Ok(earlier),
                None => {
                    self.in_stream(&judge)?;
                    let append = Append {
                        clinic: self.id.clone(),
                        expects: vec![(self.stream.clone(), next_sequence)],
                        entries: self.own_entries(entries)?,
                        request: Some(request.clone()),
                        answer: Vec::new(),
                    };
                    self.store.append(append).await
                }
            };
            match appended {
                Ok(appended) => {
                    self.catch_up()?;
                    let position = appended.positions.last().copied();
                    return position.ok_or_else(|| {
                        Refusal::Fault("what was recorded has no position".to_owned())
                    });
                }
                Err(AppendError::Conflict { .. }) => {}
                Err(error) => return Err(error.into()),
            }
        }
        Err(Refusal::Contended {
            episode: clinic_name(self.id.as_str()),
        })
    }

    /// The key of the clinic's own entries, made if it has none.
    pub(crate) fn own_key(&self) -> Result<KeyId, Refusal> {
        match self.in_stream(|stream| stream.key) {
            Some(key) => Ok(key),
            None => self
                .store
                .create_key(&self.id)
                .map_err(|error| Refusal::StoreStopped(error.to_string())),
        }
    }

    /// What `read` finds in the clinic's stream as read so far.
    pub(crate) fn in_stream<T>(&self, read: impl FnOnce(&Stream) -> T) -> T {
        read(&self.read.read().unwrap_or_else(PoisonError::into_inner))
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
}

/// What an entry holds.
pub(crate) fn decoded(entry: &Entry) -> Result<Content, Refusal> {
    content::decode(&entry.content)
        .map_err(|error| Refusal::Damaged(format!("entry {}: {error}", entry.position)))
}

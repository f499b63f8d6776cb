//! Every episode of a clinic, by whom it is of and by when it opened.
//!
//! Leaves to others: what is in an episode (`crate::episode`).

use super::{Clinic, decoded};
use crate::limits::READ_ENTRIES;
use crate::refusal::Refusal;
use rungwise_api::content::{Content, Opening};
use rungwise_pack::quantity::Key;
use rungwise_store::{Entry, KeyId, Kind, StreamId};
use std::collections::BTreeMap;
use std::sync::{MutexGuard, PoisonError};

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
pub(super) struct Directory {
    scanned: u64,
    episodes: Vec<Listed>,
    of_person: BTreeMap<Key, Vec<usize>>,
}

impl Clinic {
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

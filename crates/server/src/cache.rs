//! Episodes read lately, bounded in bytes: what was used longest ago goes first.
//!
//! What goes is read again from its stream when it is asked for. Leaves to others: reading (`crate::episode`).

use crate::episode::Loaded;
use rungwise_api::name::EpisodeName;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// An episode that several calls may hold.
pub(crate) type Shared = Arc<Mutex<Loaded>>;

#[derive(Debug)]
struct Slot {
    episode: Shared,
    bytes: usize,
    used: u64,
}

#[derive(Debug, Default)]
struct Slots {
    by_name: BTreeMap<EpisodeName, Slot>,
    by_use: BTreeMap<u64, EpisodeName>,
    bytes: usize,
    uses: u64,
}

/// The cache.
#[derive(Debug)]
pub(crate) struct Cache {
    bytes_max: usize,
    slots: Mutex<Slots>,
}

impl Cache {
    /// One that holds about so many bytes.
    pub(crate) fn new(bytes_max: usize) -> Self {
        Self {
            bytes_max,
            slots: Mutex::default(),
        }
    }

    /// The episode of this name, if it is held.
    pub(crate) fn get(&self, name: &EpisodeName) -> Option<Shared> {
        let mut slots = self.slots.lock().unwrap_or_else(PoisonError::into_inner);
        slots.touch(name, None)
    }

    /// Keeps an episode, unless another call has kept it meanwhile; gives the one kept.
    pub(crate) fn keep(&self, episode: Loaded) -> Shared {
        let mut slots = self.slots.lock().unwrap_or_else(PoisonError::into_inner);
        let (name, bytes) = (episode.name.clone(), episode.memory_bytes());
        if let Some(kept) = slots.touch(&name, None) {
            return kept;
        }
        let episode = Arc::new(Mutex::new(episode));
        slots.uses = slots.uses.saturating_add(1);
        slots.bytes = slots.bytes.saturating_add(bytes);
        let used = slots.uses;
        slots.by_use.insert(used, name.clone());
        slots.by_name.insert(
            name,
            Slot {
                episode: episode.clone(),
                bytes,
                used,
            },
        );
        slots.shrink(self.bytes_max);
        episode
    }

    /// Takes note that an episode has grown.
    pub(crate) fn resize(&self, name: &EpisodeName, bytes: usize) {
        let mut slots = self.slots.lock().unwrap_or_else(PoisonError::into_inner);
        slots.touch(name, Some(bytes));
        slots.shrink(self.bytes_max);
    }
}

impl Slots {
    fn touch(&mut self, name: &EpisodeName, bytes: Option<usize>) -> Option<Shared> {
        let slot = self.by_name.get_mut(name)?;
        self.uses = self.uses.saturating_add(1);
        self.by_use.remove(&slot.used);
        slot.used = self.uses;
        self.by_use.insert(slot.used, name.clone());
        if let Some(bytes) = bytes {
            self.bytes = self.bytes.saturating_sub(slot.bytes).saturating_add(bytes);
            slot.bytes = bytes;
        }
        Some(slot.episode.clone())
    }

    fn shrink(&mut self, bytes_max: usize) {
        while self.bytes > bytes_max && self.by_use.len() > 1 {
            let Some((_, name)) = self.by_use.pop_first() else {
                return;
            };
            if let Some(slot) = self.by_name.remove(&name) {
                self.bytes = self.bytes.saturating_sub(slot.bytes);
            }
        }
    }
}

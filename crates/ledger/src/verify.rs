//! Verifying a ledger from its stored bytes: every entry's form, order, time and commitment, and the heads on the way.
//!
//! Nothing here can write, and nothing it needs can either.
//!
//! Leaves to others: reading the bytes, holding the keys.

use crate::entry::{EntryError, ParsedEntry};
use crate::seal::SecretKey;
use crate::tree::{GrowingTree, Head};
use alloc::collections::BTreeMap;
use alloc::string::String;
use alloc::vec::Vec;

/// What is wrong with an entry at its place.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum EntryFault {
    /// The entry itself is wrong.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// It belongs to another ledger.
    #[error("it is of the clinic `{0}`")]
    Clinic(String),
    /// A gap, a repetition or an exchange in its stream.
    #[error("its sequence in stream `{stream}` is {found}, not {wanted}")]
    Sequence {
        /// The stream.
        stream: String,
        /// The sequence it should have.
        wanted: u64,
        /// The one it has.
        found: u64,
    },
    /// It was recorded before the entry before it.
    #[error("it was recorded at {found} ms, before the entry before it at {before} ms")]
    Time {
        /// When the entry before was recorded.
        before: u64,
        /// When it was.
        found: u64,
    },
    /// The entries up to here do not add up to a head that was given.
    #[error("the ledger of {size} entries has another root than its head")]
    Root {
        /// The head's size.
        size: u64,
    },
}

/// What a verified ledger holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Summary {
    /// The head that the entries add up to.
    pub head: Head,
    /// The streams, and how many entries each has.
    pub streams: BTreeMap<String, u64>,
    /// How many entries could not be opened because their key is gone; their commitments were not checked.
    pub unopened: u64,
}

/// Takes a ledger's entries in order of position, and says of each whether it belongs there.
#[derive(Clone, Debug)]
pub struct LedgerVerifier {
    clinic: String,
    tree: GrowingTree,
    next: BTreeMap<String, u64>,
    recorded_at_ms: u64,
    unopened: u64,
    heads: Vec<Head>,
}

impl LedgerVerifier {
    /// Begins with no entry. `heads` (signed or stored) must be met on the way.
    ///
    /// # Errors
    /// A head of size 0 with a root that no empty ledger has.
    pub fn new(clinic: &str, mut heads: Vec<Head>) -> Result<Self, EntryFault> {
        heads.sort_by_key(|head| core::cmp::Reverse(head.size));
        let mut verifier = Self {
            clinic: clinic.into(),
            tree: GrowingTree::new(),
            next: BTreeMap::new(),
            recorded_at_ms: 0,
            unopened: 0,
            heads,
        };
        verifier.meet_heads()?;
        Ok(verifier)
    }

    /// Takes the next entry's stored bytes; `key` gives the key of an id where it is there.
    ///
    /// # Errors
    /// What is wrong with it. The verifier is of no use afterwards.
    pub fn push(
        &mut self,
        stored: &[u8],
        key: impl FnOnce(&[u8; 16]) -> Option<SecretKey>,
    ) -> Result<(), EntryFault> {
        let entry = ParsedEntry::parse(stored)?;
        match key(&entry.key_id) {
            Some(key) => drop(entry.open(&key)?),
            None => self.unopened = self.unopened.saturating_add(1),
        }
        let envelope = entry.envelope;
        if envelope.clinic != self.clinic {
            return Err(EntryFault::Clinic(envelope.clinic));
        }
        let wanted = self.next.get(&envelope.stream).copied().unwrap_or(0);
        if envelope.sequence != wanted {
            return Err(EntryFault::Sequence {
                stream: envelope.stream,
                wanted,
                found: envelope.sequence,
            });
        }
        if envelope.recorded_at_ms < self.recorded_at_ms {
            return Err(EntryFault::Time {
                before: self.recorded_at_ms,
                found: envelope.recorded_at_ms,
            });
        }
        self.recorded_at_ms = envelope.recorded_at_ms;
        self.next.insert(envelope.stream, wanted.saturating_add(1));
        self.tree.push(entry.leaf);
        self.meet_heads()
    }

    fn meet_heads(&mut self) -> Result<(), EntryFault> {
        while let Some(head) = self.heads.pop_if(|head| head.size <= self.tree.size()) {
            if self.tree.head() != head {
                return Err(EntryFault::Root { size: head.size });
            }
        }
        Ok(())
    }

    /// Ends the ledger.
    ///
    /// # Errors
    /// A head that was given lies beyond the last entry.
    pub fn finish(self) -> Result<Summary, EntryFault> {
        if let Some(head) = self.heads.last() {
            return Err(EntryFault::Root { size: head.size });
        }
        Ok(Summary {
            head: self.tree.head(),
            streams: self.next,
            unopened: self.unopened,
        })
    }
}

#[cfg(test)]
mod tests;

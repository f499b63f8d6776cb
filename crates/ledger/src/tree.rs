//! The Merkle tree of a ledger, RFC 9162 section 2.1: hashes, and a tree that grows while keeping only its right edge.
//!
//! Leaves to others: proofs (`crate::proof`), where hashes are kept.

use alloc::vec::Vec;
use sha2::{Digest, Sha256};

/// A SHA-256 hash.
pub type Hash = [u8; 32];

/// Hash of a leaf: SHA-256(0x00 ‖ bytes), RFC 9162 section 2.1.1.
#[must_use]
pub fn leaf_hash(bytes: &[u8]) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update([0x00]);
    hasher.update(bytes);
    hasher.finalize().into()
}

/// Hash of a node: SHA-256(0x01 ‖ left ‖ right), RFC 9162 section 2.1.1.
#[must_use]
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update([0x01]);
    hasher.update(left);
    hasher.update(right);
    hasher.finalize().into()
}

/// Root of a tree without leaves: SHA-256 of nothing.
#[must_use]
pub fn empty_root() -> Hash {
    Sha256::digest([]).into()
}

/// Size and root of a ledger: what a checkpoint signs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Head {
    /// How many leaves.
    pub size: u64,
    /// The root.
    pub root: Hash,
}

/// A tree that grows by leaves and knows its root, keeping only the roots of its complete subtrees (one a bit that is set
/// in its size).
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct GrowingTree {
    size: u64,
    /// Roots of the complete subtrees, largest (leftmost) first.
    edge: Vec<Hash>,
}

/// A size and an edge that do not belong together.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("a tree of {size} leaves has an edge of {wanted} hashes, not {found}")]
pub struct EdgeError {
    size: u64,
    wanted: u32,
    found: usize,
}

impl GrowingTree {
    /// A tree without leaves.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            size: 0,
            edge: Vec::new(),
        }
    }

    /// Takes up a tree where it was left.
    ///
    /// # Errors
    /// The edge has another number of hashes than the size has bits set.
    pub fn from_edge(size: u64, edge: Vec<Hash>) -> Result<Self, EdgeError> {
        let wanted = size.count_ones();
        if usize::try_from(wanted) == Ok(edge.len()) {
            Ok(Self { size, edge })
        } else {
            Err(EdgeError {
                size,
                wanted,
                found: edge.len(),
            })
        }
    }

    /// Adds a leaf by its hash.
    pub fn push(&mut self, leaf: Hash) {
        let mut hash = leaf;
        // Each complete subtree as large as what is added is joined with it: one for every bit that the size carries.
        let mut carried = self.size;
        while carried & 1 == 1 {
            if let Some(left) = self.edge.pop() {
                hash = node_hash(&left, &hash);
            }
            carried >>= 1;
        }
        self.edge.push(hash);
        self.size = self.size.saturating_add(1);
    }

    /// How many leaves.
    #[must_use]
    pub const fn size(&self) -> u64 {
        self.size
    }

    /// Roots of the complete subtrees, largest first.
    #[must_use]
    pub fn edge(&self) -> &[Hash] {
        &self.edge
    }

    /// Size and root.
    #[must_use]
    pub fn head(&self) -> Head {
        let mut smallest_first = self.edge.iter().rev();
        let root = smallest_first.next().map_or_else(empty_root, |last| {
            smallest_first.fold(*last, |right, left| node_hash(left, &right))
        });
        Head {
            size: self.size,
            root,
        }
    }
}

/// Root of the tree of these leaf hashes.
#[must_use]
pub fn root_of(leaves: &[Hash]) -> Hash {
    let mut tree = GrowingTree::new();
    leaves.iter().for_each(|leaf| tree.push(*leaf));
    tree.head().root
}

#[cfg(test)]
mod tests;

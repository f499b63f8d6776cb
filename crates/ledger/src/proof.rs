//! Inclusion and consistency proofs, RFC 9162 sections 2.1.3 and 2.1.4: made from leaf hashes, and verified.
//!
//! Leaves to others: fetching leaf hashes; keeping subtree roots so that a proof costs less than its leaves.

use crate::tree::{Hash, Head, node_hash, root_of};
use alloc::vec::Vec;

/// Why a proof could not be made.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum ProveError {
    /// The leaf is not in the tree.
    #[error("leaf {index} is not in a tree of {size}")]
    LeafOutside {
        /// The leaf.
        index: u64,
        /// How many leaves there are.
        size: u64,
    },
    /// The earlier tree is not a beginning of the later one.
    #[error("a tree of {earlier} leaves is no beginning of one of {later}")]
    SizeOutside {
        /// Size of the earlier tree.
        earlier: u64,
        /// Size of the later tree.
        later: u64,
    },
}

/// Why a proof does not hold.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum VerifyProofError {
    /// The leaf or the earlier size is outside the tree, so there is no such proof.
    #[error("the proof is about something outside the tree")]
    Outside,
    /// It has too few or too many hashes.
    #[error("the proof has {found} hashes, not {wanted}")]
    Length {
        /// How many it must have.
        wanted: usize,
        /// How many it has.
        found: usize,
    },
    /// Its hashes do not lead to the root (or the earlier root).
    #[error("the proof leads to another root")]
    Root,
}

/// The largest power of two below `size`, which is at least 2.
const fn split(size: u64) -> u64 {
    1 << (u64::BITS - 1 - (size - 1).leading_zeros())
}

fn size_of(leaves: &[Hash]) -> u64 {
    leaves.len() as u64
}

/// Divides leaves where their tree divides; the slices are never empty for two leaves or more.
fn halves(leaves: &[Hash]) -> (&[Hash], &[Hash], u64) {
    let at = split(size_of(leaves));
    let (left, right) = leaves
        .split_at_checked(usize::try_from(at).unwrap_or(usize::MAX))
        .unwrap_or((leaves, &[]));
    (left, right, at)
}

/// Proof that leaf `index` is in the tree of `leaves`: sibling hashes from the leaf up.
///
/// # Errors
/// There is no such leaf.
pub fn prove_inclusion(leaves: &[Hash], index: u64) -> Result<Vec<Hash>, ProveError> {
    if index >= size_of(leaves) {
        return Err(ProveError::LeafOutside {
            index,
            size: size_of(leaves),
        });
    }
    let (mut proof, mut rest, mut index) = (Vec::new(), leaves, index);
    while rest.len() > 1 {
        let (left, right, at) = halves(rest);
        if index < at {
            proof.push(root_of(right));
            rest = left;
        } else {
            proof.push(root_of(left));
            rest = right;
            index -= at;
        }
    }
    proof.reverse();
    Ok(proof)
}

/// Proof that the tree of the first `earlier` of `leaves` is a beginning of the tree of all of them.
///
/// Empty for the same size.
///
/// # Errors
/// `earlier` is 0 or more than there are.
pub fn prove_consistency(leaves: &[Hash], earlier: u64) -> Result<Vec<Hash>, ProveError> {
    let later = size_of(leaves);
    if earlier == 0 || earlier > later {
        return Err(ProveError::SizeOutside { earlier, later });
    }
    let (mut proof, mut rest, mut earlier) = (Vec::new(), leaves, earlier);
    // Whether `rest` is still a left part of the tree: its root is then what the verifier holds, and is not sent.
    let mut whole = true;
    while earlier != size_of(rest) {
        let (left, right, at) = halves(rest);
        if earlier <= at {
            proof.push(root_of(right));
            rest = left;
        } else {
            proof.push(root_of(left));
            rest = right;
            earlier -= at;
            whole = false;
        }
    }
    if !whole {
        proof.push(root_of(rest));
    }
    proof.reverse();
    Ok(proof)
}

/// Checks that `leaf` is leaf `index` of the tree with this head (RFC 9162 section 2.1.3.2).
///
/// # Errors
/// It does not hold; the head, the leaf or the proof is not what it is said to be.
pub fn verify_inclusion(
    head: &Head,
    index: u64,
    leaf: &Hash,
    proof: &[Hash],
) -> Result<(), VerifyProofError> {
    if index >= head.size {
        return Err(VerifyProofError::Outside);
    }
    let wanted = inclusion_length(index, head.size);
    if proof.len() != wanted {
        return Err(VerifyProofError::Length {
            wanted,
            found: proof.len(),
        });
    }
    let (mut node, mut last, mut hash) = (index, head.size - 1, *leaf);
    for sibling in proof {
        if node & 1 == 1 || node == last {
            hash = node_hash(sibling, &hash);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        node >>= 1;
        last >>= 1;
    }
    if hash == head.root {
        Ok(())
    } else {
        Err(VerifyProofError::Root)
    }
}

/// Checks that the earlier tree is a beginning of the later one (RFC 9162 section 2.1.4.2).
///
/// # Errors
/// It does not hold. An earlier tree without leaves is outside: anything extends it, so it proves nothing.
pub fn verify_consistency(
    earlier: &Head,
    later: &Head,
    proof: &[Hash],
) -> Result<(), VerifyProofError> {
    if earlier.size == 0 || earlier.size > later.size {
        return Err(VerifyProofError::Outside);
    }
    let wanted = consistency_length(earlier.size, later.size);
    if proof.len() != wanted {
        return Err(VerifyProofError::Length {
            wanted,
            found: proof.len(),
        });
    }
    if earlier.size == later.size {
        return if earlier.root == later.root {
            Ok(())
        } else {
            Err(VerifyProofError::Root)
        };
    }
    let mut path = proof.iter();
    let start = if earlier.size.is_power_of_two() {
        Some(&earlier.root)
    } else {
        path.next()
    };
    let Some(start) = start else {
        return Err(VerifyProofError::Root);
    };
    let (mut node, mut last) = (earlier.size - 1, later.size - 1);
    while node & 1 == 1 {
        node >>= 1;
        last >>= 1;
    }
    let (mut earlier_hash, mut later_hash) = (*start, *start);
    for sibling in path {
        if node & 1 == 1 || node == last {
            earlier_hash = node_hash(sibling, &earlier_hash);
            later_hash = node_hash(sibling, &later_hash);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            later_hash = node_hash(&later_hash, sibling);
        }
        node >>= 1;
        last >>= 1;
    }
    if earlier_hash == earlier.root && later_hash == later.root {
        Ok(())
    } else {
        Err(VerifyProofError::Root)
    }
}

/// How many hashes an inclusion proof has.
fn inclusion_length(index: u64, size: u64) -> usize {
    let (mut length, mut index, mut size) = (0_usize, index, size);
    while size > 1 {
        let at = split(size);
        if index < at {
            size = at;
        } else {
            index -= at;
            size -= at;
        }
        length = length.saturating_add(1);
    }
    length
}

/// How many hashes a consistency proof has.
fn consistency_length(earlier: u64, later: u64) -> usize {
    let (mut length, mut earlier, mut later, mut whole) = (0_usize, earlier, later, true);
    while earlier != later {
        let at = split(later);
        if earlier <= at {
            later = at;
        } else {
            earlier -= at;
            later -= at;
            whole = false;
        }
        length = length.saturating_add(1);
    }
    if whole {
        length
    } else {
        length.saturating_add(1)
    }
}

#[cfg(test)]
mod tests;

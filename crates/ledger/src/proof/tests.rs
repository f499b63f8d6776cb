//! Proofs against the check values that RFC 9162 implementations share (`testdata` of
//! <https://github.com/transparency-dev/merkle>, recomputed by an independent implementation), against `ct-merkle`, and
//! altered in every way that its negative cases name.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;
use crate::testing::{hash, numbered_leaves, shared_leaves};
use alloc::format;
use alloc::vec;
use ct_merkle::mem_backed_tree::MemoryBackedTree;
use ct_merkle::{ConsistencyProof, InclusionProof};
use proptest::prelude::*;
use sha2::Sha256;

fn head_of(leaves: &[Hash]) -> Head {
    Head {
        size: leaves.len() as u64,
        root: root_of(leaves),
    }
}

#[test]
fn proofs_are_the_shared_ones() {
    let leaves = shared_leaves();
    let pair = hash("5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e");
    let right = hash("6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4");
    let last_pair = hash("ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0");
    let third_pair = hash("0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a");
    let root = |size: usize| root_of(&leaves[..size]);
    let inclusion = |index, size: usize| prove_inclusion(&leaves[..size], index).unwrap();
    assert_eq!(inclusion(0, 8), [leaves[1], pair, right]);
    assert_eq!(inclusion(5, 8), [leaves[4], last_pair, root(4)]);
    assert_eq!(inclusion(2, 3), [root(2)]);
    assert_eq!(inclusion(1, 5), [leaves[0], pair, leaves[4]]);
    let consistency = |earlier, later: usize| prove_consistency(&leaves[..later], earlier).unwrap();
    assert_eq!(consistency(1, 8), [leaves[1], pair, right]);
    assert_eq!(consistency(6, 8), [third_pair, last_pair, root(4)]);
    assert_eq!(consistency(2, 5), [pair, leaves[4]]);
    assert_eq!(consistency(6, 7), [third_pair, leaves[6], root(4)]);
}

#[test]
fn every_proof_of_small_trees_holds_and_only_there() {
    let leaves = numbered_leaves(40);
    for size in 1..=40_usize {
        let head = head_of(&leaves[..size]);
        for index in 0..size as u64 {
            let proof = prove_inclusion(&leaves[..size], index).unwrap();
            verify_inclusion(&head, index, &leaves[index as usize], &proof).unwrap();
            for other in (0..=size as u64).filter(|other| *other != index) {
                assert!(verify_inclusion(&head, other, &leaves[index as usize], &proof).is_err());
            }
        }
        for earlier in 1..=size as u64 {
            let proof = prove_consistency(&leaves[..size], earlier).unwrap();
            verify_consistency(&head_of(&leaves[..earlier as usize]), &head, &proof).unwrap();
        }
    }
    assert!(prove_inclusion(&leaves, 40).is_err());
    assert!(prove_consistency(&leaves, 0).is_err());
    assert!(prove_consistency(&leaves, 41).is_err());
}

/// A proof with something wrong in it, in each way.
fn altered(proof: &[Hash]) -> Vec<Vec<Hash>> {
    let mut all = vec![[&[[0; 32]], proof].concat(), [proof, &[[0; 32]]].concat()];
    for n in 0..proof.len() {
        let mut flipped = proof.to_vec();
        flipped[n][n % 32] ^= 1;
        let mut short = proof.to_vec();
        short.remove(n);
        all.extend([flipped, short]);
        if n > 0 && proof[n] != proof[0] {
            let mut swapped = proof.to_vec();
            swapped.swap(0, n);
            all.push(swapped);
        }
    }
    all
}

#[test]
fn altered_proofs_do_not_hold() {
    let leaves = numbered_leaves(23);
    let head = head_of(&leaves);
    let other_root = Head {
        root: [7; 32],
        ..head
    };
    for index in 0..23_u64 {
        let leaf = &leaves[index as usize];
        let proof = prove_inclusion(&leaves, index).unwrap();
        for wrong in altered(&proof) {
            assert!(verify_inclusion(&head, index, leaf, &wrong).is_err());
        }
        assert!(verify_inclusion(&head, index, &[1; 32], &proof).is_err());
        assert!(verify_inclusion(&other_root, index, leaf, &proof).is_err());
    }
    for earlier in 1..=23_u64 {
        let from = head_of(&leaves[..earlier as usize]);
        let proof = prove_consistency(&leaves, earlier).unwrap();
        for wrong in altered(&proof) {
            assert!(verify_consistency(&from, &head, &wrong).is_err());
        }
        assert!(
            verify_consistency(
                &Head {
                    root: [9; 32],
                    ..from
                },
                &head,
                &proof
            )
            .is_err()
        );
        assert!(verify_consistency(&from, &other_root, &proof).is_err());
        assert!(verify_consistency(&Head { size: 24, ..from }, &head, &proof).is_err());
        assert!(verify_consistency(&Head { size: 0, ..from }, &head, &proof).is_err());
        if earlier != 23 {
            assert!(
                verify_consistency(&head, &from, &proof).is_err(),
                "roots exchanged"
            );
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// The same proofs as `ct-merkle`, byte for byte, and each verifies the other's.
    #[test]
    fn proofs_agree_with_ct_merkle(size in 1_u64..=2_000, at in 0_u64..2_000, from in 0_u64..2_000) {
        let (index, earlier) = (at % size, from % size + 1);
        let leaves = numbered_leaves(size);
        let mut other = MemoryBackedTree::<Sha256, Vec<u8>>::new();
        (0..size).for_each(|n| other.push(format!("leaf {n}").into_bytes()));

        let head = head_of(&leaves);
        let proof = prove_inclusion(&leaves, index).unwrap();
        let theirs = other.prove_inclusion(index as usize);
        prop_assert_eq!(proof.concat(), theirs.as_bytes());
        let ours = InclusionProof::<Sha256>::try_from_bytes(proof.concat()).unwrap();
        let value = format!("leaf {index}").into_bytes();
        prop_assert!(other.root().verify_inclusion(&value, index, &ours).is_ok());
        prop_assert!(verify_inclusion(&head, index, &leaves[index as usize], &proof).is_ok());

        let proof = prove_consistency(&leaves, earlier).unwrap();
        let begin = head_of(&leaves[..earlier as usize]);
        prop_assert!(verify_consistency(&begin, &head, &proof).is_ok());
        if earlier < size {
            let theirs = other.prove_consistency((size - earlier) as usize);
            prop_assert_eq!(proof.concat(), theirs.as_bytes());
            prop_assert!(ConsistencyProof::<Sha256>::try_from_bytes(proof.concat()).is_ok());
        }
    }
}

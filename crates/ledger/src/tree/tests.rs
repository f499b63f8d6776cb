//! Hashes and roots against the check values that RFC 9162 implementations share
//! (`rfc6962_test.go` and `testdata` of <https://github.com/transparency-dev/merkle>), and against `ct-merkle`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;
use crate::testing::{hash, shared_leaves};
use alloc::format;
use ct_merkle::mem_backed_tree::MemoryBackedTree;

#[test]
fn single_hashes_are_the_shared_ones() {
    assert_eq!(
        empty_root(),
        hash("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
    );
    assert_eq!(
        leaf_hash(b""),
        hash("6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d")
    );
    assert_eq!(
        leaf_hash(b"L123456"),
        hash("395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56")
    );
}

#[test]
fn leaves_and_roots_are_the_shared_ones() {
    let leaves = [
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
        "07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "4271a26be0d8a84f0bd54c8c302e7cb3a3b5d1fa6780a40bcce2873477dab658",
        "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
        "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
    ];
    let roots = [
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
        "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
        "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
    ];
    let mut tree = GrowingTree::new();
    assert_eq!(
        tree.head(),
        Head {
            size: 0,
            root: empty_root()
        }
    );
    for (n, leaf) in shared_leaves().into_iter().enumerate() {
        assert_eq!(leaf, hash(leaves[n]), "leaf {n}");
        tree.push(leaf);
        assert_eq!(
            tree.head(),
            Head {
                size: n as u64 + 1,
                root: hash(roots[n])
            }
        );
    }
}

#[test]
fn roots_agree_with_ct_merkle_up_to_2000_leaves() {
    let mut tree = GrowingTree::new();
    let mut other = MemoryBackedTree::<Sha256, alloc::vec::Vec<u8>>::new();
    for n in 0..2_000_u64 {
        let leaf = format!("leaf {n}").into_bytes();
        tree.push(leaf_hash(&leaf));
        other.push(leaf);
        // ct-merkle's root walks the tree; each size near a power of two, and a spread of the others.
        if n < 140 || (n + 2).is_power_of_two() || n.is_power_of_two() || n % 97 == 0 || n == 1_999
        {
            assert_eq!(
                tree.head().root.as_slice(),
                other.root().as_bytes().as_slice(),
                "{} leaves",
                n + 1
            );
        }
    }
}

#[test]
fn a_tree_is_taken_up_where_it_was_left() {
    let mut whole = GrowingTree::new();
    for (n, leaf) in crate::testing::numbered_leaves(70).into_iter().enumerate() {
        let mut resumed = GrowingTree::from_edge(n as u64, whole.edge().to_vec()).unwrap();
        whole.push(leaf);
        resumed.push(leaf);
        assert_eq!(whole, resumed);
    }
    assert!(GrowingTree::from_edge(3, alloc::vec![[0; 32]]).is_err());
}

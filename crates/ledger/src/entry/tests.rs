//! Entries: encoded once, opened for their own place only, every altered byte noticed.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;
use crate::testing::{hash, hex};
use alloc::string::ToString;
use alloc::vec;

fn key() -> SecretKey {
    SecretKey::take(&mut [5; 32])
}

fn sealed() -> SealedContent {
    let context = Context {
        clinic: "north",
        stream: "e1",
        kind: v1::EntryKind::Fact,
        key_id: &[4; 16],
    };
    seal_content(&key(), &[1; 32], &[2; 24], &context, b"content").unwrap()
}

fn envelope(content: &SealedContent) -> v1::Envelope {
    v1::Envelope {
        clinic: "north".to_string(),
        stream: "e1".to_string(),
        sequence: 3,
        kind: v1::EntryKind::Fact.into(),
        recorded_at_ms: 1_790_000_000_000,
        semantics: 1,
        pack_digest: vec![8; 32],
        commitment: content.commitment.to_vec(),
        key_id: vec![4; 16],
        sealed_digest: sealed_digest(&content.sealed).to_vec(),
    }
}

#[test]
fn an_entry_comes_back_and_its_leaf_is_the_envelope_as_stored() {
    let content = sealed();
    let envelope = envelope(&content);
    let (leaf, stored) = encode_entry(&envelope, content.sealed.clone());
    let parsed = ParsedEntry::parse(&stored).unwrap();
    assert_eq!(parsed.envelope, envelope);
    assert_eq!(parsed.leaf, leaf);
    assert_eq!(parsed.leaf, leaf_hash(&envelope.encode_to_vec()));
    assert_eq!(parsed.open(&key()).unwrap(), b"content");
    // What an auditor does with a disclosed entry, without its key.
    assert_eq!(commitment(&[1; 32], b"content"), parsed.commitment);
    assert_ne!(commitment(&[1; 32], b"another"), parsed.commitment);
}

#[test]
fn every_altered_byte_is_noticed() {
    let content = sealed();
    let (leaf, stored) = encode_entry(&envelope(&content), content.sealed.clone());
    for n in 0..stored.len() {
        for bit in 0..8 {
            let mut flipped = stored.clone();
            flipped[n] ^= 1 << bit;
            let noticed = match ParsedEntry::parse(&flipped) {
                Err(_) => true,
                Ok(parsed) => parsed.leaf != leaf,
            };
            assert!(noticed, "byte {n} bit {bit}");
        }
        assert!(ParsedEntry::parse(&stored[..n]).is_err(), "cut to {n}");
    }
}

#[test]
fn a_content_opens_at_its_own_place_only() {
    let content = sealed();
    let alter: [fn(&mut v1::Envelope); 4] = [
        |e| e.clinic = "south".to_string(),
        |e| e.stream = "e2".to_string(),
        |e| e.kind = v1::EntryKind::Decision.into(),
        |e| e.key_id = vec![3; 16],
    ];
    for alter in alter {
        let mut moved = envelope(&content);
        alter(&mut moved);
        let parsed = ParsedEntry::parse(&encode_entry(&moved, content.sealed.clone()).1).unwrap();
        assert_eq!(parsed.open(&key()), Err(EntryError::Unseal));
    }
    let mut other = envelope(&content);
    other.commitment = vec![0; 32];
    let parsed = ParsedEntry::parse(&encode_entry(&other, content.sealed.clone()).1).unwrap();
    assert_eq!(parsed.open(&key()), Err(EntryError::Commitment));
}

#[test]
fn wrong_forms_are_named() {
    let content = sealed();
    let check = |alter: fn(&mut v1::Envelope), wanted: EntryError| {
        let mut wrong = envelope(&content);
        alter(&mut wrong);
        assert_eq!(
            ParsedEntry::parse(&encode_entry(&wrong, content.sealed.clone()).1),
            Err(wanted)
        );
    };
    check(|e| e.kind = 0, EntryError::Kind(0));
    check(|e| e.kind = 99, EntryError::Kind(99));
    check(
        |e| e.key_id = vec![1],
        EntryError::Length {
            field: "key_id",
            found: 1,
        },
    );
    check(
        |e| e.pack_digest = vec![1; 31],
        EntryError::Length {
            field: "pack_digest",
            found: 31,
        },
    );
    check(
        |e| e.commitment = vec![],
        EntryError::Length {
            field: "commitment",
            found: 0,
        },
    );
    check(|e| e.sealed_digest = vec![0; 32], EntryError::SealedDigest);
}

/// The bytes of an entry as this revision stores them. What a ledger holds must stay readable: this text is never changed,
/// only others are added.
#[test]
fn entries_kept_from_revision_1_are_the_same_and_open() {
    let kept = hex(concat!(
        "0a90010a056e6f72746812026531180320032880d8c1a28c3430013a2008080808080808080808080808080808080808",
        "08080808080808080808080808422005374e150c6627174f65ac9c8a77a4e1a166f7341ac5dc52aaa801213a9268e84a",
        "10040404040404040404040404040404045220c0a16249e022623d4585dc600b5fb314a50770434c8aa4e53e75954450",
        "8a759d124f0202020202020202020202020202020202020202020202027e165d64d562c08f37b76f345153479aba76bc",
        "0d771818d8bed713ac086ff0c630faeec528f6fb6623a42569f91652f768e0fc233286d6"
    ));
    let content = sealed();
    assert_eq!(encode_entry(&envelope(&content), content.sealed).1, kept);
    let parsed = ParsedEntry::parse(&kept).unwrap();
    assert_eq!(
        parsed.leaf,
        hash("f0c29cd4e7d93d519e020adb5813bd3a805c0e04970101b33b4f4ecf684d3adc")
    );
    assert_eq!(parsed.open(&key()).unwrap(), b"content");
}

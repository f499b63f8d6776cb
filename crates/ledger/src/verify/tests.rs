//! A ledger that is sound is found sound; every single thing wrong with it is found.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;
use crate::entry::{Context, encode_entry, seal_content, sealed_digest};
use crate::v1;
use alloc::string::ToString;

fn key() -> SecretKey {
    SecretKey::take(&mut [5; 32])
}

fn stored(clinic: &str, stream: &str, sequence: u64, recorded_at_ms: u64) -> Vec<u8> {
    let context = Context {
        clinic,
        stream,
        kind: v1::EntryKind::Fact,
        key_id: &[4; 16],
    };
    let content = seal_content(&key(), &[1; 32], &[2; 24], &context, b"content").unwrap();
    let envelope = v1::Envelope {
        clinic: clinic.to_string(),
        stream: stream.to_string(),
        sequence,
        kind: v1::EntryKind::Fact.into(),
        recorded_at_ms,
        semantics: 1,
        pack_digest: Vec::new(),
        commitment: content.commitment.to_vec(),
        key_id: [4; 16].to_vec(),
        sealed_digest: sealed_digest(&content.sealed).to_vec(),
    };
    encode_entry(&envelope, content.sealed).1
}

fn ledger() -> Vec<Vec<u8>> {
    [
        ("a", 0, 10),
        ("b", 0, 10),
        ("a", 1, 11),
        ("a", 2, 11),
        ("b", 1, 15),
    ]
    .map(|(stream, sequence, at)| stored("north", stream, sequence, at))
    .to_vec()
}

fn check(entries: &[Vec<u8>], heads: Vec<Head>) -> Result<Summary, EntryFault> {
    let mut verifier = LedgerVerifier::new("north", heads)?;
    for entry in entries {
        verifier.push(entry, |_| Some(key()))?;
    }
    verifier.finish()
}

#[test]
fn a_sound_ledger_adds_up() {
    let summary = check(&ledger(), Vec::new()).unwrap();
    assert_eq!((summary.head.size, summary.unopened), (5, 0));
    assert_eq!(
        summary.streams,
        BTreeMap::from([("a".to_string(), 3), ("b".to_string(), 2)])
    );
    let earlier = check(&ledger()[..3], Vec::new()).unwrap().head;
    let empty = check(&[], Vec::new()).unwrap().head;
    assert_eq!(
        check(&ledger(), [summary.head, empty, earlier].to_vec()),
        Ok(summary)
    );
}

#[test]
fn without_keys_all_but_the_contents_is_checked() {
    let mut verifier = LedgerVerifier::new("north", Vec::new()).unwrap();
    ledger()
        .iter()
        .for_each(|entry| verifier.push(entry, |_| None).unwrap());
    assert_eq!(verifier.finish().unwrap().unopened, 5);
}

#[test]
fn what_is_wrong_is_named() {
    let swap = |n: usize, entry: Vec<u8>| {
        let mut entries = ledger();
        entries[n] = entry;
        check(&entries, Vec::new()).unwrap_err()
    };
    let sequence = |wanted, found| EntryFault::Sequence {
        stream: "a".to_string(),
        wanted,
        found,
    };
    assert_eq!(swap(2, stored("north", "a", 0, 11)), sequence(1, 0));
    assert_eq!(swap(2, stored("north", "a", 2, 11)), sequence(1, 2));
    assert_eq!(
        swap(2, stored("north", "a", 1, 9)),
        EntryFault::Time {
            before: 10,
            found: 9
        }
    );
    assert_eq!(
        swap(2, stored("south", "a", 1, 11)),
        EntryFault::Clinic("south".to_string())
    );
    assert!(matches!(
        swap(2, b"nonsense".to_vec()),
        EntryFault::Entry(_)
    ));

    let whole = check(&ledger(), Vec::new()).unwrap().head;
    assert_eq!(
        check(&ledger()[..4], [whole].to_vec()),
        Err(EntryFault::Root { size: 5 }),
        "an entry is missing"
    );
    let mut replaced = ledger();
    replaced[4] = stored("north", "b", 1, 16);
    assert_eq!(
        check(&replaced, [whole].to_vec()),
        Err(EntryFault::Root { size: 5 }),
        "an entry was exchanged"
    );
    let wrong = Head {
        size: 0,
        root: [1; 32],
    };
    assert_eq!(
        check(&ledger(), [wrong].to_vec()),
        Err(EntryFault::Root { size: 0 })
    );
}

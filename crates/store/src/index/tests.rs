//! The index: positions of streams longer than a block, in memory, in the log, and applied again after a crash.
#![allow(clippy::unwrap_used, reason = "a failing set-up should stop the test")]

use super::*;

fn name(name: &str) -> StreamId {
    StreamId::new(name).unwrap()
}

fn all(index: &StreamIndex, log: &Log, stream: &str, from: u64) -> Vec<u64> {
    let (first, recent) = index
        .in_memory(1, &name(stream))
        .unwrap_or((u64::MAX, Vec::new()));
    let mut found = positions_in_log(log, 1, &name(stream), from, first, 1_000).unwrap();
    found.extend(
        recent
            .iter()
            .skip(usize::try_from(from.saturating_sub(first)).unwrap_or(usize::MAX)),
    );
    found
}

fn write(index: &mut StreamIndex, log: &Log) {
    let mut rows = StateRows::default();
    index.unwritten(&mut rows);
    log.write_state(rows).unwrap();
    index.written();
}

#[test]
fn positions_come_back_whatever_is_in_memory_and_what_in_the_log() {
    let dir = tempfile::tempdir().unwrap();
    let log = Log::open(dir.path(), 1 << 20).unwrap();
    let mut index = StreamIndex::default();
    for n in 0..300_u64 {
        index.note(&log, 1, name("a"), n, n * 10).unwrap().unwrap();
        if n % 70 == 0 {
            write(&mut index, &log);
        }
        let wanted: Vec<u64> = (0..=n).map(|n| n * 10).collect();
        for from in [0, 1, 63, 64, 65, 130, n] {
            let from = from.min(n);
            assert_eq!(
                all(&index, &log, "a", from),
                wanted[usize::try_from(from).unwrap()..],
                "{n} from {from}"
            );
        }
    }
    write(&mut index, &log);
    let loaded = StreamIndex::default();
    assert_eq!(loaded.next_sequence(&log, 1, &name("a")).unwrap(), 300);
    assert_eq!(all(&loaded, &log, "a", 0).len(), 300);
    assert_eq!(
        positions_in_log(&log, 1, &name("a"), 60, u64::MAX, 8).unwrap(),
        (60..68).map(|n| n * 10).collect::<Vec<_>>()
    );
    assert_eq!(
        loaded.next_sequence(&log, 2, &name("a")).unwrap(),
        0,
        "another ledger's stream"
    );
}

#[test]
fn noting_again_changes_nothing_and_a_gap_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let log = Log::open(dir.path(), 1 << 20).unwrap();
    let mut index = StreamIndex::default();
    (0..5).for_each(|n| index.note(&log, 1, name("a"), n, n).unwrap().unwrap());
    (2..5).for_each(|n| index.note(&log, 1, name("a"), n, n).unwrap().unwrap());
    assert_eq!(
        index.note(&log, 1, name("a"), 6, 6).unwrap(),
        Err(OutOfSequence { next: 5 })
    );
    assert_eq!(all(&index, &log, "a", 0), [0, 1, 2, 3, 4]);
}

#[test]
fn streams_that_begin_alike_are_kept_apart() {
    let dir = tempfile::tempdir().unwrap();
    let log = Log::open(dir.path(), 1 << 20).unwrap();
    let mut index = StreamIndex::default();
    for (n, stream) in ["a", "ab", "a.b", "a-b", "a"].into_iter().enumerate() {
        let sequence = index.next_sequence(&log, 1, &name(stream)).unwrap();
        index
            .note(&log, 1, name(stream), sequence, n as u64)
            .unwrap()
            .unwrap();
    }
    write(&mut index, &log);
    let index = StreamIndex::default();
    assert_eq!(all(&index, &log, "a", 0), [0, 4]);
    let listed = index.list(&log, 1, None, 9).unwrap();
    let listed: Vec<_> = listed
        .iter()
        .map(|head| (head.stream.as_str(), head.next_sequence))
        .collect();
    assert_eq!(listed, [("a", 2), ("a-b", 1), ("a.b", 1), ("ab", 1)]);
}

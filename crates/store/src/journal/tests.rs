//! The journal: what was committed is read back; a record never finished is passed over; any other difference is refused.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use super::*;
use std::fs;

const SEGMENT_BYTES: u64 = 65_536;

fn begin(dir: &Path) -> Journal {
    Journal::create(dir, Arc::new(RealDisk), SEGMENT_BYTES).unwrap()
}

/// Commits records of differing lengths, as many as asked.
fn fill(journal: &mut Journal, records: usize) -> Vec<Vec<u8>> {
    let body = |n: usize| vec![b'a' + (n % 26) as u8; 100 + n * 777 % 9_000];
    let bodies: Vec<_> = (0..records).map(body).collect();
    for body in &bodies {
        journal.commit(body).unwrap();
    }
    bodies
}

fn read_back(dir: &Path) -> Result<(Vec<Vec<u8>>, Option<End>), JournalError> {
    let mut bodies = Vec::new();
    let end = scan::<JournalError>(dir, |record| {
        assert_eq!(record.mark.batch, record.previous.batch + 1);
        bodies.push(record.body.to_vec());
        Ok(())
    })?;
    Ok((bodies, end))
}

fn resume(dir: &Path) -> Journal {
    let end = read_back(dir).unwrap().1.unwrap();
    let mark = end.mark.unwrap_or(Mark::START);
    Journal::resume(dir, Arc::new(RealDisk), SEGMENT_BYTES, end, mark).unwrap()
}

#[test]
fn records_are_read_back_over_many_segments_and_openings() {
    let dir = tempfile::tempdir().unwrap();
    assert!(read_back(dir.path()).unwrap().1.is_none());
    let mut bodies = fill(&mut begin(dir.path()), 40);
    for _ in 0..3 {
        bodies.extend(fill(&mut resume(dir.path()), 7));
        let (found, end) = read_back(dir.path()).unwrap();
        assert_eq!(found, bodies);
        let end = end.unwrap();
        assert!(end.segments.len() > 3 && !end.unclean);
        assert_eq!(end.mark.unwrap().batch, bodies.len() as u64);
    }
    // One larger than a segment gets a segment of its own.
    let large = vec![b'x'; 100_000];
    resume(dir.path()).commit(&large).unwrap();
    assert_eq!(read_back(dir.path()).unwrap().0.pop(), Some(large));
}

#[test]
fn segments_go_once_synced_but_never_the_last_record() {
    let dir = tempfile::tempdir().unwrap();
    let mut journal = begin(dir.path());
    let bodies = fill(&mut journal, 40);
    let segments = || segment::list(dir.path()).unwrap();
    let (before, ends) = (segments(), Vec::from(journal.earlier.clone()));
    journal.recycle(ends[2].1 - 1).unwrap();
    assert_eq!(
        segments(),
        before[2..],
        "a segment stays while one of its records is needed"
    );
    journal.recycle(ends[2].1).unwrap();
    assert_eq!(segments(), before[3..]);
    journal.recycle(1_000).unwrap();
    assert_eq!(segments(), [*before.last().unwrap()]);
    drop(journal);
    let (found, end) = read_back(dir.path()).unwrap();
    assert!(!found.is_empty() && bodies.ends_with(&found));
    assert_eq!(end.unwrap().mark.unwrap().batch, 40);
}

/// Cuts the last record short at every sector, as a crash in the middle of writing it would.
#[test]
fn a_record_never_finished_is_passed_over_and_wiped() {
    let dir = tempfile::tempdir().unwrap();
    let mut journal = begin(dir.path());
    let bodies = fill(&mut journal, 3);
    let (path, from) = (segment::path_of(dir.path(), 1), journal.offset as usize);
    journal.commit(&[b'z'; 9_000]).unwrap();
    drop(journal);
    let whole = fs::read(&path).unwrap();
    for written in (0..9_000).step_by(512) {
        let mut torn = whole.clone();
        torn[from + written..].fill(0);
        fs::write(&path, &torn).unwrap();
        let (found, end) = read_back(dir.path()).unwrap();
        assert_eq!(
            (found, end.as_ref().unwrap().unclean),
            (bodies.clone(), written > 0),
            "{written} bytes"
        );
        resume(dir.path()).commit(b"next").unwrap();
        assert_eq!(read_back(dir.path()).unwrap().0[3..], [b"next"]);
    }
    // A hole in the middle of what was written: sectors land in any order.
    let mut torn = whole.clone();
    torn[from + 1_024..from + 1_536].fill(0);
    fs::write(&path, &torn).unwrap();
    assert_eq!(read_back(dir.path()).unwrap().0, bodies);
    // The first sector did not land and later ones did.
    let mut torn = whole;
    torn[from..from + 512].fill(0);
    fs::write(&path, &torn).unwrap();
    assert!(read_back(dir.path()).unwrap().1.unwrap().unclean);
    resume(dir.path()).commit(b"next").unwrap();
    assert_eq!(read_back(dir.path()).unwrap().0[3..], [b"next"]);
}

#[test]
fn a_flipped_bit_never_changes_what_is_read_and_never_loses_a_record() {
    let dir = tempfile::tempdir().unwrap();
    let bodies = fill(&mut begin(dir.path()), 12);
    for number in segment::list(dir.path()).unwrap() {
        let path = segment::path_of(dir.path(), number);
        let whole = fs::read(&path).unwrap();
        for at in (0..whole.len()).step_by(97) {
            let mut flipped = whole.clone();
            flipped[at] ^= 1 << (at % 8);
            fs::write(&path, &flipped).unwrap();
            if let Ok((found, _)) = read_back(dir.path()) {
                assert_eq!(found, bodies, "segment {number}, byte {at}");
            }
        }
        fs::write(&path, &whole).unwrap();
    }
    // And within records it is always refused.
    let path = segment::path_of(dir.path(), 1);
    let whole = fs::read(&path).unwrap();
    for at in (4_096..4_096 + 196).step_by(7) {
        let mut flipped = whole.clone();
        flipped[at] ^= 0x20;
        fs::write(&path, &flipped).unwrap();
        assert!(
            matches!(read_back(dir.path()), Err(JournalError::Damaged { .. })),
            "byte {at}"
        );
    }
}

#[test]
fn what_is_cut_missing_exchanged_or_wiped_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    fill(&mut begin(dir.path()), 40);
    let path = |number| segment::path_of(dir.path(), number);
    let check = |wanted: &str| {
        let Err(error) = read_back(dir.path()) else {
            panic!("{wanted}: was read")
        };
        assert!(error.to_string().contains(wanted), "{error}");
    };
    let first = fs::read(path(1)).unwrap();
    for length in [0, 10, 4_096, 20_000, first.len() - 1, first.len() + 1] {
        let mut cut = first.clone();
        cut.resize(length, 0);
        fs::write(path(1), cut).unwrap();
        check("it was cut or is damaged");
    }
    let second = fs::read(path(2)).unwrap();
    fs::write(path(1), &second).unwrap();
    check("does not follow");
    fs::write(path(1), &first).unwrap();
    fs::remove_file(path(2)).unwrap();
    check("segment 2 is missing");
    fs::write(path(2), &second).unwrap();
    let mut wiped = first;
    wiped[4_096..8_192].fill(0);
    fs::write(path(1), wiped).unwrap();
    check("missing before a later one");
}

//! A disk that fails: nothing is acknowledged from then on, everyone who waits is told, and opening anew recovers what was
//! acknowledged before.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a failing set-up should stop the test"
)]

mod support;

use rungwise_store::journal::{Disk, RealDisk, SegmentFile};
use rungwise_store::{AppendError, State, StopReason, Store, StoreOptions};
use std::fs::File;
use std::io;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, RwLock};
use support::{Time, append, clinic, contents, entry, open, options, put};

/// What fails, from which call on.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Fault {
    Write,
    Sync,
}

struct FailingDisk {
    fault: Fault,
    calls_left: Arc<AtomicU64>,
}

struct FailingFile {
    inner: Box<dyn SegmentFile>,
    fault: Fault,
    calls_left: Arc<AtomicU64>,
}

impl Disk for FailingDisk {
    fn segment(&self, file: File) -> Box<dyn SegmentFile> {
        Box::new(FailingFile {
            inner: RealDisk.segment(file),
            fault: self.fault,
            calls_left: Arc::clone(&self.calls_left),
        })
    }
}

impl FailingFile {
    fn pass(&self, call: Fault) -> io::Result<()> {
        let spend = |left: u64| left.checked_sub(1);
        if call == self.fault
            && self
                .calls_left
                .fetch_update(Ordering::SeqCst, Ordering::SeqCst, spend)
                .is_err()
        {
            return Err(io::Error::new(
                io::ErrorKind::StorageFull,
                "no space left in this test",
            ));
        }
        Ok(())
    }
}

impl SegmentFile for FailingFile {
    fn write_all_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        self.pass(Fault::Write)?;
        self.inner.write_all_at(bytes, offset)
    }

    fn sync(&self) -> io::Result<()> {
        self.pass(Fault::Sync)?;
        self.inner.sync()
    }
}

fn failing(fault: Fault, after: u64) -> (StoreOptions, Arc<AtomicU64>) {
    let calls_left = Arc::new(AtomicU64::new(after));
    let disk = Arc::new(FailingDisk {
        fault,
        calls_left: Arc::clone(&calls_left),
    });
    (
        StoreOptions {
            disk,
            ..options(&Time::at(1_000))
        },
        calls_left,
    )
}

#[test]
fn after_a_failed_write_or_sync_nothing_is_acknowledged_and_nothing_is_lost() {
    for fault in [Fault::Write, Fault::Sync] {
        let dir = tempfile::tempdir().unwrap();
        let (options, calls_left) = failing(fault, 5);
        let store = Store::open(dir.path(), options).unwrap();
        let key = store.create_key(&clinic("north")).unwrap();
        let mut states = store.state_changes();
        for n in 0..5 {
            put(&store, "a", &n.to_string(), key).unwrap();
        }
        let waiting: Vec<_> = (0..20)
            .map(|_| store.append(append("north", vec![entry("a", "never acknowledged", key)])))
            .collect();
        for pending in waiting {
            let Err(AppendError::Stopped(StopReason::Failed(why))) = pending.wait() else {
                panic!("{fault:?}: acknowledged without a sync")
            };
            assert!(why.contains("no space left"), "{why}");
        }
        assert!(states.has_changed().unwrap());
        assert!(matches!(
            *states.borrow_and_update(),
            State::Stopped(StopReason::Failed(_))
        ));
        // The disk works again; the store does not carry on.
        calls_left.store(u64::MAX, Ordering::SeqCst);
        assert!(matches!(
            put(&store, "a", "x", key),
            Err(AppendError::Stopped(StopReason::Failed(_)))
        ));
        assert_eq!(
            contents(&store, "a"),
            ["0", "1", "2", "3", "4"],
            "reads go on with what was acknowledged"
        );
        assert!(store.drain().is_err());
        drop(store);
        let store = open(dir.path());
        let found = contents(&store, "a");
        assert_eq!(found[..5], ["0", "1", "2", "3", "4"]);
        assert!(
            found[5..]
                .iter()
                .all(|content| content == "never acknowledged")
        );
        put(&store, "a", "goes on", key).unwrap();
        store.verify(&clinic("north")).unwrap();
    }
}

/// A disk whose syncs take as long as the gate is closed, and are counted.
#[derive(Clone, Default)]
struct GatedDisk {
    gate: Arc<RwLock<()>>,
    syncs: Arc<AtomicU64>,
}

struct GatedFile(Box<dyn SegmentFile>, GatedDisk);

impl Disk for GatedDisk {
    fn segment(&self, file: File) -> Box<dyn SegmentFile> {
        Box::new(GatedFile(RealDisk.segment(file), self.clone()))
    }
}

impl SegmentFile for GatedFile {
    fn write_all_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        self.0.write_all_at(bytes, offset)
    }

    fn sync(&self) -> io::Result<()> {
        drop(self.1.gate.read().unwrap());
        self.1.syncs.fetch_add(1, Ordering::SeqCst);
        self.0.sync()
    }
}

#[test]
fn too_much_waiting_is_refused_at_once_and_what_waits_lands() {
    let dir = tempfile::tempdir().unwrap();
    let disk = Arc::new(GatedDisk::default());
    let gate = Arc::clone(&disk.gate);
    let store = Store::open(
        dir.path(),
        StoreOptions {
            disk,
            ..options(&Time::at(1_000))
        },
    )
    .unwrap();
    let key = store.create_key(&clinic("north")).unwrap();
    let closed = gate.write().unwrap();
    let waiting: Vec<_> = (0..6_000)
        .map(|_| store.append(append("north", vec![entry("a", "x", key)])))
        .collect();
    drop(closed);
    let results: Vec<_> = waiting
        .into_iter()
        .map(rungwise_store::Pending::wait)
        .collect();
    let refused = results
        .iter()
        .filter(|result| **result == Err(AppendError::Overloaded))
        .count();
    let landed = results.iter().filter(|result| result.is_ok()).count();
    assert_eq!(refused + landed, 6_000);
    let bound = rungwise_store::QUEUE_APPENDS_MAX;
    assert!(
        (bound..bound + 513).contains(&landed),
        "{landed} landed: the queue and a batch on its way"
    );
    assert_eq!(contents(&store, "a").len(), landed);
}

#[test]
fn writers_who_wait_share_one_sync_and_a_lone_one_waits_for_nobody() {
    let dir = tempfile::tempdir().unwrap();
    let disk = Arc::new(GatedDisk::default());
    let (gate, syncs) = (Arc::clone(&disk.gate), Arc::clone(&disk.syncs));
    let store = Store::open(
        dir.path(),
        StoreOptions {
            disk,
            ..options(&Time::at(1_000))
        },
    )
    .unwrap();
    let key = store.create_key(&clinic("north")).unwrap();
    for n in 0..10 {
        put(&store, "a", "alone", key).unwrap();
        assert_eq!(
            syncs.load(Ordering::SeqCst),
            n + 1,
            "one sync, and an answer"
        );
    }
    let closed = gate.write().unwrap();
    let waiting: Vec<_> = (0..200)
        .map(|_| store.append(append("north", vec![entry("a", "x", key)])))
        .collect();
    drop(closed);
    waiting
        .into_iter()
        .for_each(|pending| drop(pending.wait().unwrap()));
    assert!(
        syncs.load(Ordering::SeqCst) <= 12,
        "the first of them, and all who came meanwhile"
    );
}

//! Help for the store's tests: a store on a temporary directory with a clock that the test sets, and short ways to append.
#![allow(dead_code, reason = "each test file uses its part")]
#![allow(clippy::unwrap_used, reason = "a failing set-up should stop the test")]

use rungwise_store::{
    Append, AppendError, Appended, ClinicId, KeyId, Kind, NewEntry, Request, Store, StoreOptions,
    StreamId,
};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Small segments, so that tests go through several.
pub(crate) const SEGMENT_BYTES: u64 = 65_536;

/// A clock that a test sets.
#[derive(Clone)]
pub(crate) struct Time(Arc<AtomicU64>);

impl Time {
    pub(crate) fn at(ms: u64) -> Self {
        Self(Arc::new(AtomicU64::new(ms)))
    }

    pub(crate) fn set(&self, ms: u64) {
        self.0.store(ms, Ordering::SeqCst);
    }
}

/// Options with a clock and small segments.
pub(crate) fn options(time: &Time) -> StoreOptions {
    let time = time.clone();
    StoreOptions {
        clock: Arc::new(move || time.0.load(Ordering::SeqCst)),
        segment_bytes: SEGMENT_BYTES,
        ..StoreOptions::default()
    }
}

pub(crate) fn open(dir: &Path) -> Store {
    Store::open(dir, options(&Time::at(1_000))).unwrap()
}

pub(crate) fn clinic(name: &str) -> ClinicId {
    ClinicId::new(name).unwrap()
}

pub(crate) fn stream(name: &str) -> StreamId {
    StreamId::new(name).unwrap()
}

pub(crate) fn entry(on: &str, content: &str, key: KeyId) -> NewEntry {
    NewEntry {
        stream: stream(on),
        kind: Kind::Fact,
        semantics: 1,
        pack_digest: Some([7; 32]),
        content: content.as_bytes().to_vec(),
        key,
    }
}

pub(crate) fn append(clinic_name: &str, entries: Vec<NewEntry>) -> Append {
    Append {
        clinic: clinic(clinic_name),
        expects: Vec::new(),
        entries,
        request: None,
        answer: Vec::new(),
    }
}

pub(crate) fn request(store: &Store, caller: &str, id: &str, value: &str) -> Request {
    Request {
        caller: caller.to_owned(),
        request_id: id.to_owned(),
        fingerprint: store.fingerprint(&clinic("north"), value.as_bytes()),
    }
}

/// Appends one entry to a stream of the clinic `north`.
pub(crate) fn put(
    store: &Store,
    on: &str,
    content: &str,
    key: KeyId,
) -> Result<Appended, AppendError> {
    store
        .append(append("north", vec![entry(on, content, key)]))
        .wait()
}

/// The contents of a stream of the clinic `north`, in order.
pub(crate) fn contents(store: &Store, on: &str) -> Vec<String> {
    let entries = store
        .stream(&clinic("north"), &stream(on), 0, usize::MAX)
        .unwrap();
    entries
        .into_iter()
        .map(|entry| String::from_utf8(entry.content).unwrap())
        .collect()
}

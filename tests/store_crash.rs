//! The store is killed (`kill -9`) again and again under concurrent writers: nothing that was acknowledged is ever missing.
//!
//! The process that is killed is this test program itself, started again to be the child. The same over the real server is
//! `program/crash.rs`'s.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a failing set-up should stop the test"
)]

use rungwise_store::{
    Append, AppendError, ClinicId, Kind, NewEntry, Request, Store, StoreOptions, StreamId,
};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

const CYCLES: usize = 50;
const WRITERS: usize = 8;
/// Where the child finds its store; set only for the child.
const STORE_DIR: &str = "RUNGWISE_TEST_STORE_DIR";

fn clinic() -> ClinicId {
    ClinicId::new("north").unwrap()
}

/// Small segments, so that every few cycles go through new ones and past ones are removed.
fn open(dir: &Path) -> Store {
    let options = StoreOptions {
        segment_bytes: 1 << 18,
        ..StoreOptions::default()
    };
    Store::open(dir, options).expect("a killed store opens")
}

/// What the entry at a place in a stream holds: a function of the place, so that a check needs nothing else.
fn content(stream: &str, sequence: u64) -> Vec<u8> {
    let length = usize::try_from(sequence * 37 % 400).unwrap();
    format!("{stream} {sequence} ")
        .into_bytes()
        .into_iter()
        .chain(vec![b'.'; length])
        .collect()
}

fn request(store: &Store, stream: &str, sequence: u64) -> Request {
    Request {
        caller: "writer".to_owned(),
        request_id: format!("{stream}-{sequence}"),
        fingerprint: store.fingerprint(&clinic(), &content(stream, sequence)),
    }
}

/// The child: writers of a stream each, and all of them of one they share, until it is killed. Says what was acknowledged.
fn child(dir: &Path) {
    let store = Arc::new(open(dir));
    let writers: Vec<_> = (0..WRITERS)
        .map(|n| {
            let store = Arc::clone(&store);
            std::thread::spawn(move || {
                let key = store.create_key(&clinic()).unwrap();
                loop {
                    for name in [format!("own-{n}"), "shared".to_owned()] {
                        let stream = StreamId::new(name.clone()).unwrap();
                        let sequence = store.next_sequence(&clinic(), &stream).unwrap();
                        let entry = NewEntry {
                            stream: stream.clone(),
                            kind: Kind::Fact,
                            semantics: 1,
                            pack_digest: None,
                            content: content(&name, sequence),
                            key,
                        };
                        let append = Append {
                            clinic: clinic(),
                            expects: vec![(stream, sequence)],
                            entries: vec![entry],
                            // Another writer's request in the shared stream would be the same one; theirs are not named.
                            request: name
                                .starts_with("own")
                                .then(|| request(&store, &name, sequence)),
                            answer: content(&name, sequence),
                        };
                        match store.append(append).wait() {
                            Ok(landed) => {
                                let line = format!("{name} {sequence} {}\n", landed.positions[0]);
                                let _ = std::io::stdout().lock().write_all(line.as_bytes());
                            }
                            Err(AppendError::Conflict { .. }) => {}
                            Err(error) => unreachable!("{error}"),
                        }
                    }
                }
            })
        })
        .collect();
    writers
        .into_iter()
        .for_each(|writer| writer.join().unwrap());
}

/// Runs the child for a while, kills it, and gives what it said was acknowledged: stream, sequence, position.
fn run_and_kill(dir: &Path, after: Duration) -> Vec<(String, u64, u64)> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["record_first", "--exact", "--nocapture", "--test-threads=1"])
        .env(STORE_DIR, dir)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut said = BufReader::new(child.stdout.take().unwrap());
    let mut lines = Vec::new();
    let mut line = String::new();
    // The clock runs from the first acknowledgement on.
    while !line.starts_with("own") {
        line.clear();
        assert!(
            said.read_line(&mut line).unwrap() > 0,
            "the child ended by itself"
        );
    }
    lines.push(line.trim_end().to_owned());
    let reader = std::thread::spawn(move || {
        lines.extend(said.lines().map_while(Result::ok));
        lines
    });
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    let parse = |line: String| {
        let mut words = line.split(' ');
        let stream = words.next()?.to_owned();
        Some((
            stream,
            words.next()?.parse().ok()?,
            words.next()?.parse().ok()?,
        ))
    };
    reader
        .join()
        .unwrap()
        .into_iter()
        .filter_map(parse)
        .collect()
}

/// INVARIANT `record-first`: no answer leaves before its record is durable.
#[test]
fn record_first() {
    if let Some(dir) = std::env::var_os(STORE_DIR) {
        return child(Path::new(&dir));
    }
    let dir = tempfile::tempdir().unwrap();
    let mut random = fastrand::Rng::with_seed(7);
    let mut acknowledged = BTreeMap::new();
    for cycle in 0..CYCLES {
        let mut said = run_and_kill(dir.path(), Duration::from_millis(random.u64(0..250)));
        assert!(!said.is_empty());
        let store = open(dir.path());
        for (stream, sequence, position) in said.drain(..) {
            let entry = store
                .entry(&clinic(), position)
                .unwrap()
                .expect("an acknowledged entry is there");
            assert_eq!(
                (entry.stream.as_str(), entry.sequence),
                (stream.as_str(), sequence),
                "cycle {cycle}"
            );
            assert_eq!(entry.content, content(&stream, sequence), "cycle {cycle}");
            let end = acknowledged.entry(stream).or_insert(0);
            *end = (*end).max(sequence + 1);
        }
        for (stream, end) in &acknowledged {
            let name = StreamId::new(stream.clone()).unwrap();
            let next = store.next_sequence(&clinic(), &name).unwrap();
            assert!(
                next >= *end,
                "cycle {cycle}: `{stream}` has {next} entries of {end}"
            );
            let last = store.stream(&clinic(), &name, next - 1, 9).unwrap();
            assert_eq!(last.len(), 1);
            assert_eq!(last[0].content, content(stream, next - 1));
            if stream.starts_with("own") {
                let again = store
                    .answered(&clinic(), &request(&store, stream, end - 1))
                    .unwrap();
                let answer = again.and_then(|again| again.repeated);
                assert_eq!(
                    answer,
                    Some(content(stream, end - 1)),
                    "cycle {cycle}: a request is forgotten"
                );
            }
        }
        if cycle % 10 == 9 {
            let verified = store.verify(&clinic()).unwrap();
            assert_eq!(verified.streams, acknowledged.len() as u64);
            // From here on every later ledger must extend this one.
            store.checkpoint(&clinic()).unwrap();
        }
    }
    assert_eq!(acknowledged.len(), WRITERS + 1);
}

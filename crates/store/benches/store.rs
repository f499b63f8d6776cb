//! How fast the store appends, as a share of what the disk gives to a bare append and sync in the same run, and how long
//! opening takes. Prints a table; fails when opening 100,000 entries takes a second or more.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_macros,
    clippy::float_arithmetic,
    clippy::print_stdout,
    reason = "a bench prints, and a failing set-up should stop it"
)]

use rungwise_store::{Append, ClinicId, KeyId, Kind, NewEntry, Store, StoreOptions, StreamId};
use std::fs::File;
use std::io::{Seek, Write};
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How long a turn is measured, and how many turns raw and store take, one after the other: what else the machine does
/// then falls on both.
const TURN: Duration = Duration::from_millis(500);
const TURNS: usize = 5;
/// Length of a content, bytes.
const CONTENT_BYTES: usize = 300;
/// Entries of the store that is opened, in streams of 20.
const OPENED_ENTRIES: u64 = 100_000;
const OPENED_TARGET: Duration = Duration::from_secs(1);

/// What one writer does, over and over.
type Append1 = Arc<dyn Fn(usize, u64) + Send + Sync>;

/// Runs writers side by side; appends a second, and the times of each append, sorted.
fn measure(writers: usize, append: &Append1) -> (f64, Vec<Duration>) {
    let began = Instant::now();
    let threads: Vec<_> = (0..writers)
        .map(|writer| {
            let append = Arc::clone(append);
            std::thread::spawn(move || {
                let mut times = Vec::new();
                while began.elapsed() < TURN {
                    let one = Instant::now();
                    append(writer, times.len() as u64);
                    times.push(one.elapsed());
                }
                times
            })
        })
        .collect();
    let mut times: Vec<_> = threads
        .into_iter()
        .flat_map(|t| t.join().unwrap())
        .collect();
    times.sort_unstable();
    (times.len() as f64 / began.elapsed().as_secs_f64(), times)
}

/// A file that is appended to and synced, by one thread for all writers as the store does: what the disk gives.
fn raw(dir: &Path) -> Append1 {
    type Job = (Vec<u8>, SyncSender<()>);
    let (queue, jobs): (SyncSender<Job>, Receiver<Job>) = sync_channel(4_096);
    let mut file = File::create(dir.join("raw")).unwrap();
    // Preallocated with zeros as a journal segment is, or every sync would write the file's length too.
    file.write_all(&vec![0; 64 << 20]).unwrap();
    file.sync_all().unwrap();
    file.rewind().unwrap();
    std::thread::spawn(move || {
        while let Ok(first) = jobs.recv() {
            let batch: Vec<Job> = std::iter::once(first)
                .chain(jobs.try_iter().take(511))
                .collect();
            let bytes: Vec<u8> = batch.iter().flat_map(|(bytes, _)| bytes.clone()).collect();
            file.write_all(&bytes).unwrap();
            file.sync_data().unwrap();
            batch
                .iter()
                .for_each(|(_, answer)| answer.send(()).unwrap());
        }
    });
    let queue = Mutex::new(queue);
    Arc::new(move |_, _| {
        let (answer, done) = sync_channel(1);
        let sender = queue.lock().unwrap().clone();
        sender.send((vec![b'x'; CONTENT_BYTES], answer)).unwrap();
        done.recv().unwrap();
    })
}

fn clinic() -> ClinicId {
    ClinicId::new("bench").unwrap()
}

fn entry(stream: String, key: KeyId) -> NewEntry {
    NewEntry {
        stream: StreamId::new(stream).unwrap(),
        kind: Kind::Fact,
        semantics: 1,
        pack_digest: Some([1; 32]),
        content: vec![b'x'; CONTENT_BYTES],
        key,
    }
}

fn append(entries: Vec<NewEntry>) -> Append {
    Append {
        clinic: clinic(),
        expects: Vec::new(),
        entries,
        request: None,
        answer: Vec::new(),
    }
}

fn store(dir: &Path) -> Append1 {
    let store = Store::open(&dir.join("store"), StoreOptions::default()).unwrap();
    let key = store.create_key(&clinic()).unwrap();
    Arc::new(move |writer, n| {
        // A writer's streams have 20 entries each, as a short episode would.
        let stream = format!("e{writer}-{}", n / 20);
        store
            .append(append(vec![entry(stream, key)]))
            .wait()
            .unwrap();
    })
}

fn row(what: &str, writers: usize, turns: &[(f64, Vec<Duration>)], ratio: Option<f64>) -> f64 {
    let rate = turns.iter().map(|(rate, _)| rate).sum::<f64>() / turns.len() as f64;
    let mut times: Vec<_> = turns.iter().flat_map(|(_, times)| times.clone()).collect();
    times.sort_unstable();
    let at = |share: f64| {
        times
            .get((times.len() as f64 * share) as usize)
            .map_or(0, Duration::as_micros)
    };
    let ratio = ratio.map_or_else(String::new, |raw| format!("{:.2} of raw", rate / raw));
    println!(
        "{what:<22} {writers:>3} writers {rate:>9.0}/s  p50 {:>6} µs  p99 {:>6} µs  {ratio}",
        at(0.5),
        at(0.99)
    );
    rate
}

fn appending() {
    for writers in [1, 8, 64] {
        let dir = tempfile::tempdir().unwrap();
        let (bare, ours) = (raw(dir.path()), store(dir.path()));
        let turns: Vec<_> = (0..TURNS)
            .map(|_| (measure(writers, &bare), measure(writers, &ours)))
            .collect();
        let (bare, ours): (Vec<_>, Vec<_>) = turns.into_iter().unzip();
        let raw = row("append and fdatasync", writers, &bare, None);
        row("store append", writers, &ours, Some(raw));
    }
}

/// Resident memory of this process, MiB; 0 where it cannot be told.
fn resident_mib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok())
        .map_or(0, |kib| kib / 1_024)
}

/// Files of a store as a crash would leave them now.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for item in std::fs::read_dir(from).unwrap() {
        let item = item.unwrap();
        if item.file_type().unwrap().is_dir() {
            copy(&item.path(), &to.join(item.file_name()));
        } else {
            std::fs::copy(item.path(), to.join(item.file_name())).unwrap();
        }
    }
}

fn opening() -> bool {
    let dir = tempfile::tempdir().unwrap();
    let store = Store::open(dir.path(), StoreOptions::default()).unwrap();
    let key = store.create_key(&clinic()).unwrap();
    let began = Instant::now();
    for hundred in 0..OPENED_ENTRIES / 2_000 {
        let streams = hundred * 100..(hundred + 1) * 100;
        let appends = streams.map(|n| append(vec![entry(format!("e{n}"), key); 20]));
        let waiting: Vec<_> = appends.map(|append| store.append(append)).collect();
        waiting
            .into_iter()
            .for_each(|pending| drop(pending.wait().unwrap()));
    }
    println!(
        "filling                {OPENED_ENTRIES} entries in {} ms",
        began.elapsed().as_millis()
    );
    println!("resident               {} MiB", resident_mib());
    let crashed = tempfile::tempdir().unwrap();
    copy(dir.path(), crashed.path());
    drop(store);
    let mut fast = true;
    for (what, place) in [("drained", dir.path()), ("crashed", crashed.path())] {
        let began = Instant::now();
        let store = Store::open(place, StoreOptions::default()).unwrap();
        let took = began.elapsed();
        assert_eq!(store.head(&clinic()).size, OPENED_ENTRIES);
        println!(
            "opening, {what:<13} {OPENED_ENTRIES} entries in {} ms",
            took.as_millis()
        );
        fast &= took < OPENED_TARGET;
        let began = Instant::now();
        store.verify(&clinic()).unwrap();
        println!(
            "verifying              {OPENED_ENTRIES} entries in {} ms",
            began.elapsed().as_millis()
        );
    }
    fast
}

fn main() {
    appending();
    assert!(
        opening(),
        "opening took {} ms or more",
        OPENED_TARGET.as_millis()
    );
}

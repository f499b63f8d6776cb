//! The order of system calls, seen by strace: an acknowledgement never precedes the sync that covers its write. Killing a
//! process cannot show this, for the operating system keeps what was written; losing power would.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a failing set-up should stop the test"
)]

use rungwise_store::{Append, ClinicId, Kind, NewEntry, Store, StoreOptions, StreamId};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// Where the child finds its store; set only for the child.
const STORE_DIR: &str = "RUNGWISE_TEST_STORE_DIR";
/// Acknowledgements; enough to go through several segments.
const ACKNOWLEDGED: usize = 60;

/// The child: one append after another, each acknowledged on its standard output.
fn child(dir: &Path) {
    let options = StoreOptions {
        segment_bytes: 65_536,
        ..StoreOptions::default()
    };
    let store = Store::open(dir, options).unwrap();
    let clinic = ClinicId::new("north").unwrap();
    for n in 0..ACKNOWLEDGED {
        let entry = NewEntry {
            stream: StreamId::new("a").unwrap(),
            kind: Kind::Fact,
            semantics: 1,
            pack_digest: None,
            content: n.to_string().into_bytes(),
            // Every entry under a key just made, whose slot must be durable first too.
            key: store.create_key(&clinic).unwrap(),
        };
        let append = Append {
            clinic: clinic.clone(),
            expects: Vec::new(),
            entries: vec![entry],
            request: None,
            answer: Vec::new(),
        };
        store.append(append).wait().unwrap();
        let _ = std::io::stdout()
            .lock()
            .write_all(format!("acknowledged {n}\n").as_bytes());
    }
}

/// A system call that ended well: what, on which file, and its arguments as strace shows them.
#[derive(Debug, Clone, PartialEq)]
struct Call {
    name: String,
    file: String,
    arguments: String,
}

/// The calls of a trace (`strace -f -y`) in the order they ended; but for acknowledgements, in the order they began.
fn calls(trace: &str) -> Vec<Call> {
    let mut begun: BTreeMap<&str, &str> = BTreeMap::new();
    let mut calls = Vec::new();
    for line in trace.lines() {
        let Some((thread, rest)) = line.split_once(' ') else {
            continue;
        };
        let rest = rest.trim_start();
        if let Some(beginning) = rest.strip_suffix("<unfinished ...>") {
            if beginning.contains("\"acknowledged") {
                calls.extend(call(beginning));
            } else {
                begun.insert(thread, beginning);
            }
        } else if rest.starts_with("<... ") {
            if let Some(beginning) = begun.remove(thread).filter(|_| ended_well(rest)) {
                calls.extend(call(beginning));
            }
        } else if ended_well(rest) {
            calls.extend(call(rest));
        }
    }
    calls
}

fn ended_well(line: &str) -> bool {
    line.rsplit_once(" = ")
        .is_some_and(|(_, result)| !result.starts_with('-'))
}

fn call(line: &str) -> Option<Call> {
    let (name, arguments) = line.split_once('(')?;
    let (_, rest) = arguments.split_once('<')?;
    let (file, _) = rest.split_once('>')?;
    Some(Call {
        name: name.to_owned(),
        file: file.to_owned(),
        arguments: arguments.to_owned(),
    })
}

/// What is wrong with the order of calls, if anything; and how many acknowledgements there were.
fn check(calls: &[Call]) -> Result<usize, String> {
    // Files written and not yet synced since.
    let mut unsynced: BTreeMap<&str, usize> = BTreeMap::new();
    let (mut records, mut acknowledged) = (0, 0);
    for (at, call) in calls.iter().enumerate() {
        let durable = call.file.ends_with(".journal") || call.file.ends_with(".keys");
        match call.name.as_str() {
            "pwrite64" if durable => {
                records += usize::from(call.file.ends_with(".journal"));
                unsynced.insert(&call.file, at);
            }
            "fdatasync" | "fsync" => {
                unsynced.remove(call.file.as_str());
            }
            "write" if call.arguments.contains("\"acknowledged") => {
                acknowledged += 1;
                if let Some(file) = unsynced.keys().next() {
                    return Err(format!(
                        "acknowledgement {acknowledged} before a sync of {file}"
                    ));
                }
                if acknowledged > records {
                    return Err(format!(
                        "acknowledgement {acknowledged} after {records} records"
                    ));
                }
            }
            _ => {}
        }
    }
    Ok(acknowledged)
}

#[test]
fn an_acknowledgement_never_precedes_the_sync_that_covers_its_write() {
    if let Some(dir) = std::env::var_os(STORE_DIR) {
        return child(Path::new(&dir));
    }
    let dir = tempfile::tempdir().unwrap();
    let trace = dir.path().join("trace");
    let status = Command::new("strace")
        .args([
            "-f",
            "-y",
            "-e",
            "trace=pwrite64,write,fdatasync,fsync",
            "-o",
        ])
        .arg(&trace)
        .arg(std::env::current_exe().unwrap())
        .args([
            "an_acknowledgement_never_precedes_the_sync_that_covers_its_write",
            "--exact",
            "--nocapture",
            "--test-threads=1",
        ])
        .env(STORE_DIR, dir.path().join("store"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .expect("strace is there: `apt-get install strace`");
    assert!(status.success());
    let trace = std::fs::read_to_string(trace).unwrap();
    assert_eq!(check(&calls(&trace)), Ok(ACKNOWLEDGED));
}

/// A check that cannot fail is none: traces in a wrong order are found.
#[test]
fn wrong_orders_are_found() {
    let write = "11 pwrite64(5</x/1.journal>, \"RWJ\"..., 4096, 4096) = 4096";
    let slot = "10 pwrite64(6</x/north.keys>, \"k\"..., 96, 32) = 96";
    let sync = "11 fdatasync(5</x/1.journal>) = 0";
    let sync_slot = "11 fdatasync(6</x/north.keys>) = 0";
    let begin = "11 fdatasync(5</x/1.journal> <unfinished ...>";
    let end = "11 <... fdatasync resumed>)         = 0";
    let failed = "11 fdatasync(5</x/1.journal>) = -1 EIO (Input/output error)";
    let ack = "10 write(1<pipe:[7]>, \"acknowledged 0\\n\", 15) = 15";
    let of = |lines: &[&str]| check(&calls(&lines.join("\n")));
    assert_eq!(of(&[write, sync, ack]), Ok(1));
    assert_eq!(of(&[slot, sync_slot, write, begin, end, ack]), Ok(1));
    assert!(of(&[write, ack, sync]).is_err());
    assert!(of(&[write, begin, ack, end]).is_err());
    assert!(of(&[write, failed, ack]).is_err());
    assert!(of(&[sync, ack]).is_err());
    assert!(of(&[write, sync, write, ack]).is_err());
    assert!(of(&[slot, write, sync, ack]).is_err());
    let (begun, ended) = (
        "10 write(1<pipe:[7]>, \"acknowledged 0\\n\", 15 <unfinished ...>",
        "10 <... write resumed>) = 15",
    );
    assert!(of(&[write, begun, sync, ended]).is_err());
}

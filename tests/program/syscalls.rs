//! INVARIANT (record-first), seen from outside: no answer to a write leaves the real server before the `fdatasync` that
//! covers it has returned.
//!
//! The server runs under strace while one client makes one write after the other. In the trace, an answer is a write of
//! HTTP/2 HEADERS to a socket; what it answers for is the writes to files before it. Between a client's request and its
//! answer there must be a write to the journal, then a sync of that same file that succeeded, and no other sync makes up
//! for it.

use super::binary::{Server, path};
use super::writer::Writer;
use std::collections::BTreeMap;
use std::process::Command;

/// Writes made one after the other.
const WRITES: usize = 40;

#[test]
fn record_first_no_answer_leaves_before_the_sync_that_covers_it() {
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("trace");
    let mut strace = Command::new("strace");
    strace
        .args(["-f", "-xx", "-s", "4096", "-e", "signal=none", "-e"])
        .arg("trace=openat,close,pwrite64,pwritev,write,writev,sendto,sendmsg,fdatasync,fsync")
        .arg("-o")
        .arg(&trace)
        .arg(path());
    let server = Server::start_under(strace, &folder.path().join("ledger"));
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let writes = runtime.block_on(async {
        let mut writer = Writer::new(&server.url, 0)
            .await
            .expect("the server answers");
        writer.open().await.expect("an episode opens");
        let mut done = 1; // opening the episode
        for _ in 0..WRITES {
            writer.record().await.expect("a fact is recorded");
            done += 1;
        }
        done
    });
    drop(runtime); // hangs up, so that the server has nobody to wait for
    server.stop_traced();
    let trace = std::fs::read_to_string(&trace).unwrap();
    let covered = covered_answers(&trace).unwrap_or_else(|fault| panic!("{fault}"));
    assert!(
        covered >= writes,
        "{covered} answers followed a synced write; {writes} writes were made"
    );
}

/// What one traced line shows.
#[derive(Clone, PartialEq, Eq, Debug)]
enum Seen {
    /// A write to the journal began.
    Written(String),
    /// A sync of the journal returned.
    Synced(String),
    /// HTTP/2 HEADERS began to leave: an answer.
    Answered,
}

/// Counts the answers before which a journal write was synced; an answer that leaves while a journal write is not yet
/// synced is a fault.
fn covered_answers(trace: &str) -> Result<usize, String> {
    let mut covered = 0;
    let mut unsynced: Option<String> = None;
    let mut synced_since = false;
    for seen in events(trace) {
        match seen {
            Seen::Written(file) => unsynced = Some(file),
            Seen::Synced(file) if unsynced.as_ref() == Some(&file) => {
                unsynced = None;
                synced_since = true;
            }
            Seen::Synced(_) => {}
            Seen::Answered => {
                if let Some(file) = &unsynced {
                    return Err(format!(
                        "an answer left while a write to `{file}` was not synced"
                    ));
                }
                if std::mem::take(&mut synced_since) {
                    covered += 1;
                }
            }
        }
    }
    Ok(covered)
}

/// The events of a trace, in order. A write counts from its beginning, a sync from its return.
fn events(trace: &str) -> Vec<Seen> {
    let mut files: BTreeMap<String, String> = BTreeMap::new(); // descriptor to file
    let mut open: BTreeMap<&str, String> = BTreeMap::new(); // thread to the call it is in
    let mut events = Vec::new();
    for line in trace.lines() {
        let Some((thread, rest)) = line.split_once(char::is_whitespace) else {
            continue;
        };
        let rest = rest.trim_start();
        if let Some(resumed) = rest.strip_prefix("<... ") {
            let Some(call) = open.remove(thread) else {
                continue;
            };
            let result = resumed.rsplit(" = ").next().unwrap_or_default();
            events.extend(returned(&call, result, &mut files));
        } else if let Some(call) = rest.strip_suffix(" <unfinished ...>") {
            events.extend(began(call, &mut files));
            open.insert(thread, call.to_owned());
        } else if let Some((call, result)) = rest.rsplit_once(" = ") {
            events.extend(began(call, &mut files));
            events.extend(returned(call, result, &mut files));
        }
    }
    events
}

/// What the beginning of a call shows.
fn began(call: &str, files: &mut BTreeMap<String, String>) -> Option<Seen> {
    let (name, arguments) = call.split_once('(')?;
    let descriptor = descriptor_of(arguments);
    if name == "close" {
        files.remove(descriptor);
    }
    match (name, files.get(descriptor)) {
        ("pwrite64" | "pwritev" | "write" | "writev", Some(file)) if is_journal(file) => {
            Some(Seen::Written(file.clone()))
        }
        ("write" | "writev" | "sendto" | "sendmsg", None) if has_headers(arguments) => {
            Some(Seen::Answered)
        }
        _ => None,
    }
}

/// The first argument of a call that is about a descriptor.
fn descriptor_of(arguments: &str) -> &str {
    arguments
        .split([',', ')'])
        .next()
        .unwrap_or_default()
        .trim()
}

/// What the return of a call shows.
fn returned(call: &str, result: &str, files: &mut BTreeMap<String, String>) -> Option<Seen> {
    let (name, arguments) = call.split_once('(')?;
    let ok = result.split_whitespace().next()?;
    match name {
        "openat" if !ok.starts_with('-') => {
            let file = text_of(arguments.split('"').nth(1)?);
            files.insert(ok.to_owned(), file);
            None
        }
        "fdatasync" | "fsync" if ok == "0" => {
            let file = files.get(descriptor_of(arguments))?;
            is_journal(file).then(|| Seen::Synced(file.clone()))
        }
        _ => None,
    }
}

/// Whether a file is a segment of the journal in use; one made ahead of need has another name.
fn is_journal(file: &str) -> bool {
    file.ends_with(".journal")
}

/// The text of strace's `\x2f\x74…`.
fn text_of(hexadecimal: &str) -> String {
    String::from_utf8_lossy(&bytes_of(hexadecimal)).into_owned()
}

fn bytes_of(hexadecimal: &str) -> Vec<u8> {
    hexadecimal
        .split("\\x")
        .skip(1)
        .filter_map(|byte| u8::from_str_radix(byte.get(..2)?, 16).ok())
        .collect()
}

/// Whether what is written holds an HTTP/2 HEADERS frame (type 1), walking from frame to frame.
fn has_headers(arguments: &str) -> bool {
    let bytes: Vec<u8> = arguments
        .split('"')
        .skip(1)
        .step_by(2)
        .flat_map(bytes_of)
        .collect();
    let mut rest = bytes.as_slice();
    while let [a, b, c, kind, ..] = rest {
        if *kind == 1 {
            return true;
        }
        let length = usize::from(*a) << 16 | usize::from(*b) << 8 | usize::from(*c);
        rest = rest.get(9 + length..).unwrap_or_default();
    }
    false
}

/// Text as strace writes it.
#[cfg(test)]
fn as_traced(text: &[u8]) -> String {
    text.iter().map(|byte| format!("\\x{byte:02x}")).collect()
}

#[test]
fn syscalls_canary() {
    let open = format!(
        "7 openat(AT_FDCWD, \"{}\", O_RDWR) = 9",
        as_traced(b"/s/journal/1.journal")
    );
    let write = "7 pwrite64(9, \"\\x61\", 1, 0) = 1";
    let sync = "7 fdatasync(9)                  = 0";
    let answer = format!(
        "8 writev(12, [{{iov_base=\"{}\", iov_len=9}}], 1) = 9",
        as_traced(&[0, 0, 0, 1, 4, 0, 0, 0, 1])
    );
    let ping = format!(
        "8 writev(12, [{{iov_base=\"{}\", iov_len=9}}], 1) = 9",
        as_traced(&[0, 0, 0, 6, 1, 0, 0, 0, 0])
    );
    let trace = |lines: &[&str]| covered_answers(&lines.join("\n"));
    assert_eq!(trace(&[&open, write, sync, &answer]), Ok(1));
    assert_eq!(trace(&[&open, write, &ping, sync, &answer]), Ok(1));
    assert!(
        trace(&[&open, write, &answer, sync]).is_err(),
        "an answer before the sync"
    );
    assert_eq!(trace(&[&open, sync, &answer]), Ok(0), "nothing was written");
    let unfinished = [
        "7 fdatasync(9 <unfinished ...>",
        &answer,
        "7 <... fdatasync resumed>) = 0",
    ];
    assert!(
        trace(&[&open, write, unfinished[0], unfinished[1], unfinished[2]]).is_err(),
        "an answer during the sync"
    );
}

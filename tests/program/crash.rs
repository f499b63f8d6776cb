//! The real server killed again and again while clients write: nothing that it acknowledged is lost, nothing changes, and
//! the ledger adds up at the end.
//!
//! `kill -9` shows what a crash of the process does. What a power cut does is shown by the order of system calls
//! (`super::syscalls`).

use super::binary::Server;
use super::writer::{Acknowledged, check, verify, write_until_cut_off};
use std::path::Path;
use std::time::Duration;

/// How many times the server is killed.
const KILLS: u64 = 50;
/// Clients that write at the same time.
const WRITERS: u64 = 4;
/// Shortest and longest time between the server's start and its end, ms.
const LIFE_MS: (u64, u64) = (20, 220);

#[test]
fn record_first_nothing_acknowledged_is_lost_when_the_server_is_killed() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("ledger");
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .unwrap();
    let mut acknowledged: Vec<Acknowledged> = Vec::new();
    for round in 0..KILLS {
        let (before, now) = runtime.block_on(one_life(&store, round, &acknowledged));
        assert_eq!(before, acknowledged.len(), "checked too few");
        acknowledged.extend(now);
    }
    assert!(
        acknowledged.len() as u64 > KILLS,
        "only {} writes in {KILLS} lives",
        acknowledged.len()
    );
    let server = Server::start(&store);
    runtime.block_on(async {
        assert_eq!(check(&server.url, &acknowledged).await, acknowledged.len());
        let verified = verify(&server.url).await;
        assert!(verified.sound, "{:?}", verified.faults);
        assert!(verified.size >= acknowledged.len() as u64);
    });
    assert_eq!(server.stop(), Some(0));
}

/// Starts the server, checks a sample of what was acknowledged in earlier lives, lets clients write, kills it; how many were
/// checked or are left for the end, and what was acknowledged in this life.
async fn one_life(
    store: &Path,
    round: u64,
    earlier: &[Acknowledged],
) -> (usize, Vec<Acknowledged>) {
    let server = Server::start(store);
    // The newest ones are those that a crash would lose; all of them are checked once more at the end.
    let newest = &earlier[earlier.len().saturating_sub(200)..];
    let checked = check(&server.url, newest).await + (earlier.len() - newest.len());
    let writers: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let url = server.url.clone();
            tokio::spawn(async move { write_until_cut_off(&url, round * WRITERS + writer).await })
        })
        .collect();
    tokio::time::sleep(life(round)).await;
    server.kill();
    let mut now = Vec::new();
    for writer in writers {
        now.extend(writer.await.expect("a writer ends by itself"));
    }
    (checked, now)
}

/// How long the server lives in a round: spread over the range, the same in every run.
fn life(round: u64) -> Duration {
    let (least, most) = LIFE_MS;
    Duration::from_millis(least + round.wrapping_mul(0x9e37_79b9_7f4a_7c15) % (most - least))
}

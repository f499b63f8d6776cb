//! The release binary as a whole: how long `demo` takes, how long a server takes to start again over what it kept, and how
//! much memory it holds with 10,000 open episodes that were each decided once.
//!
//! Targets: the demo under 5 s, memory under 150 MiB. Memory is also given as a ratio to the same server just started.
//!
//!     cargo build --release
//!     RUNGWISE_BIN=target/release/rungwise cargo bench -p rungwise-tests --bench program
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a bench may stop at the first thing that is not as it should be, and uses a part of what the tests share"
)]

#[path = "../program/binary.rs"]
mod binary;
mod measure;
#[path = "../program/writer.rs"]
mod writer;

use binary::Server;
use measure::Table;
use std::path::Path;
use std::time::Instant;
use writer::Writer;

/// Episodes opened.
const EPISODES: u64 = 10_000;
/// Clients that open them at the same time.
const CLIENTS: u64 = 16;

fn main() {
    let mut table = Table::new("program");
    let began = Instant::now();
    let demo = binary::run(&["demo"]);
    table.row("demo", began.elapsed());
    assert!(demo.status.success(), "{}", binary::complaint(&demo));

    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = folder.path().join("store");
    let fresh = {
        let server = Server::start(&store);
        let fresh = resident_kib(server.id());
        let began = Instant::now();
        open_episodes(&server.url);
        table.row(
            "10,000 episodes opened, told of and decided",
            began.elapsed(),
        );
        println!("resident, just started:        {:>8.1} MiB", mib(fresh));
        let full = resident_kib(server.id());
        println!(
            "resident, 10,000 open episodes: {:>7.1} MiB ({:.2} × just started)",
            mib(full),
            ratio(full, fresh)
        );
        assert_eq!(server.stop(), Some(0));
        fresh
    };
    let began = Instant::now();
    let server = Server::start(&store);
    table.row("starting again over them", began.elapsed());
    let again = resident_kib(server.id());
    println!(
        "resident, started again:       {:>8.1} MiB ({:.2} × just started)",
        mib(again),
        ratio(again, fresh)
    );
    assert_eq!(server.stop(), Some(0));
    table.print();
}

fn open_episodes(url: &str) {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("threads");
    runtime.block_on(async {
        let clients: Vec<_> = (0..CLIENTS)
            .map(|client| {
                let url = url.to_owned();
                tokio::spawn(async move {
                    let mut writer = Writer::new(&url, client).await.expect("the server answers");
                    for _ in 0..EPISODES / CLIENTS {
                        writer.open().await.expect("an episode opens");
                        writer.record().await.expect("a fact is recorded");
                        writer.next().await.expect("a decision is made");
                    }
                })
            })
            .collect();
        for client in clients {
            client.await.expect("a client ends by itself");
        }
    });
}

/// Resident memory of a process, KiB.
fn resident_kib(process: u32) -> u64 {
    let status =
        std::fs::read_to_string(Path::new("/proc").join(process.to_string()).join("status"))
            .expect("its status");
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmRSS:"))
        .expect("its memory");
    line.trim()
        .trim_end_matches(" kB")
        .trim()
        .parse()
        .expect("a number")
}

fn mib(kib: u64) -> f64 {
    kib as f64 / 1024.0
}

fn ratio(kib: u64, of: u64) -> f64 {
    kib as f64 / of as f64
}

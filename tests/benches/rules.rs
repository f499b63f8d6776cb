//! What a lead waits for: a pack checked and proved, rehearsed, and its impact on the past from one sealed block an episode,
//! beside opening and decoding the blocks alone.
//!
//! Targets: check and proofs of the largest pack under 300 ms; 100,000 past decisions a second on one core.
//!
//!     cargo bench -p rungwise-tests --bench rules
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a bench may stop at the first thing that is not as it should be"
)]

mod measure;

use jiff::civil::Date;
use measure::{Table, median_of};
use rungwise_api::content::{
    EpisodeSnapshot, Opening, Side, SnapshotRecord, decode_snapshot, encode_snapshot,
};
use rungwise_engine::fact::{Position, Record};
use rungwise_ledger::seal::{SecretKey, seal, unseal};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::{SourceFiles, is_diary};
use rungwise_rehearsal::impact::past;
use rungwise_rehearsal::readiness::readiness;
use rungwise_rehearsal::{diary, play, prove};
use std::hint::black_box;
use std::path::Path;

const CONTEXT: &[u8] = b"bench";

/// An episode as one sealed block.
struct Block {
    sealed: Vec<u8>,
    decisions: usize,
}

fn main() {
    let mut table = Table::new("rules");
    for name in ["achilles-midportion", "rotator-cuff", "rotator-cuff-repair"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../rules")
            .join(name);
        let files = rungwise_store::packs::read_dir(&folder).expect("the pack's files");
        one_pack(&mut table, name, &SourceFiles::new(files));
    }
    table.print();
}

fn one_pack(table: &mut Table, name: &str, files: &SourceFiles) {
    let checked = median_of(5, 1, || {
        let checked = rungwise_pack::check(black_box(files));
        black_box(prove(files, &checked));
    });
    table.row(&format!("{name}: check and proofs"), checked);
    let ready = median_of(3, 1, || {
        assert!(readiness(black_box(files)).is_ready());
    });
    table.row(&format!("{name}: the same, and its diaries"), ready);

    let pack = rungwise_pack::check(files).pack.expect("a sound pack");
    let key = SecretKey::take(&mut [7; 32]);
    let blocks = blocks(&pack, files, &key);
    let decisions: usize = blocks.iter().map(|block| block.decisions).sum();
    let opened = median_of(5, 1, || {
        for block in &blocks {
            black_box(open(block, &key));
        }
    });
    table.row(&format!("{name}: {} blocks opened", blocks.len()), opened);
    let assessed = median_of(5, 1, || {
        for block in &blocks {
            let snapshot = open(block, &key);
            let (count, changed, _) = past(&pack, &episode(&snapshot.opening), &records(snapshot));
            assert_eq!((count, changed.len()), (block.decisions, 0));
        }
    });
    table.row(
        &format!("{name}: {decisions} past decisions of them"),
        assessed,
    );
    println!(
        "{name}: {:.0} past decisions a second on one core; opening and decoding is {:.1} % of it",
        decisions as f64 / assessed.as_secs_f64(),
        100.0 * opened.as_secs_f64() / assessed.as_secs_f64()
    );
}

/// Every diary of the pack, as it went.
fn blocks(pack: &CheckedPack, files: &SourceFiles, key: &SecretKey) -> Vec<Block> {
    let diaries = files.files().iter().filter(|file| is_diary(&file.name));
    diaries
        .map(|file| {
            let diary = diary::read(pack, &file.name, &file.text).expect("a sound diary");
            let history = play(pack, &diary).history;
            let episode = history.episode();
            let snapshot = EpisodeSnapshot {
                clinic: "invented".into(),
                stream: "invented".into(),
                key: [0; 16],
                opening: Opening {
                    person: "invented".into(),
                    side: Side::Right,
                    pack: pack.id.clone(),
                    opened_on: episode.opened_on,
                    born_on: episode.born_on,
                    external_id: None,
                    imported: episode.imported,
                },
                opened_at: Position(0),
                records: history.records().iter().map(kept).collect(),
            };
            Block {
                sealed: seal(key, &[9; 24], CONTEXT, &encode_snapshot(&snapshot)).expect("sealed"),
                decisions: history.decisions().count(),
            }
        })
        .collect()
}

fn kept(record: &Record) -> SnapshotRecord {
    SnapshotRecord {
        position: record.position,
        recorded_at_ms: 0,
        body: record.body.clone(),
    }
}

fn open(block: &Block, key: &SecretKey) -> EpisodeSnapshot {
    let content = unseal(key, CONTEXT, &block.sealed).expect("its own key");
    decode_snapshot(&content).expect("a snapshot")
}

fn episode(opening: &Opening) -> rungwise_engine::fact::Episode {
    rungwise_engine::fact::Episode {
        opened_on: opening.opened_on,
        born_on: opening.born_on,
        imported: opening.imported,
    }
}

fn records(snapshot: EpisodeSnapshot) -> Vec<Record> {
    let records = snapshot.records.into_iter();
    records
        .map(|record| Record {
            position: record.position,
            recorded_on: Date::constant(2026, 1, 1),
            body: record.body,
        })
        .collect()
}

//! How long one decision takes, warm, with the whole pack, after 10, 60 and 1,000 sessions; and what the 60-session
//! explanation and a history's rebuilding cost beside it.
//!
//! Each figure stands beside a yardstick measured in the same run (SHA-256 of 16 KiB), so that runs on different machines
//! can be compared. Targets: under 20 µs at 60 sessions, and flat.
//!
//!     cargo bench -p rungwise-tests --bench decision
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a bench may stop at the first thing that is not as it should be"
)]

mod measure;

use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use measure::{Table, median_of};
use rungwise_engine::decide::decide;
use rungwise_engine::explain::{View, explain};
use rungwise_engine::history::History;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::{diary, play};
use std::fmt::Write as _;
use std::hint::black_box;
use std::path::{Path, PathBuf};

const SESSIONS: [u32; 3] = [10, 60, 1_000];
const OPENED: Date = date(2023, 1, 2);

fn main() {
    let (pack, head) = pack();
    let mut table = Table::new("decision");
    for sessions in SESSIONS {
        let played = play(
            &pack,
            &diary::read(&pack, "bench", &course(&head, sessions)).expect("a sound diary"),
        );
        assert!(played.refused.is_empty(), "{:?}", played.refused.first());
        let as_of = OPENED
            .checked_add((i64::from(sessions) + 2).days())
            .expect("a date");
        let history = played.history;
        table.row(
            &format!("one decision after {sessions} sessions"),
            median_of(200, 20, || {
                black_box(decide(black_box(&pack), black_box(&history), as_of));
            }),
        );
        if sessions == 60 {
            other_work(&mut table, &pack, &history);
        }
    }
    table.print();
}

fn other_work(table: &mut Table, pack: &CheckedPack, history: &History) {
    let (last, _, _) = history.last_decision().expect("a decision");
    table.row(
        "its full explanation",
        median_of(50, 5, || {
            black_box(
                explain(pack, history, last, View::Full)
                    .expect("an explanation")
                    .text(),
            );
        }),
    );
    table.row(
        "its history built anew from records",
        median_of(20, 2, || {
            black_box(History::of(
                pack,
                history.episode().clone(),
                history.records().to_vec(),
            ));
        }),
    );
}

/// The first pack of `rules/` that has a demo diary, and the head of that diary: usual values and the first visit.
fn pack() -> (CheckedPack, String) {
    let rules = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules");
    let mut folders: Vec<PathBuf> = std::fs::read_dir(rules)
        .expect("rules")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    folders.sort();
    let folder = folders
        .into_iter()
        .find(|folder| folder.join("diaries/demo.toml").is_file())
        .expect("a demo diary");
    let files =
        SourceFiles::new(rungwise_store::packs::read_dir(&folder).expect("the pack's files"));
    let text = files
        .get("diaries/demo.toml")
        .expect("the demo diary")
        .text
        .clone();
    let pack = rungwise_pack::check(&files).pack.expect("a sound pack");
    let second_day = text
        .match_indices("[[day]]")
        .nth(1)
        .expect("a second day")
        .0;
    (pack, text[..second_day].to_owned())
}

/// A course of so many daily sessions, each with its morning after, an ask every third day, and every fourth week a visit
/// at which all is asked and measured again as at the first, so that nothing is too old to decide by. It never gets past
/// what hurts a little, so that the same lines stay in force.
fn course(head: &str, sessions: u32) -> String {
    let opened = head
        .lines()
        .find_map(|line| line.strip_prefix("opened = "))
        .expect("an opening date");
    let moved = head.replace(opened, &format!("\"{OPENED}\""));
    let visit: Vec<&str> = head
        .lines()
        .filter(|line| {
            ["screening = ", "assessment = ", "other_side"]
                .iter()
                .any(|key| line.starts_with(key))
        })
        .collect();
    assert!(visit.len() >= 2, "the first visit screens and assesses");
    let visit = visit.join("\n");
    let mut text = moved;
    for number in 1..=sessions {
        let day = OPENED
            .checked_add(i64::from(number).days())
            .expect("a date");
        write!(
            text,
            "\n[[day]]\ndate = \"{day}\"\nsession = [{{ next_morning = {{}} }}]\n"
        )
        .expect("a String takes it");
        if number % 28 == 0 {
            text.push_str(&visit);
            text.push('\n');
        }
        if number % 3 == 0 {
            text.push_str("ask = true\n");
        }
    }
    text
}

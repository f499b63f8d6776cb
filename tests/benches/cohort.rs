//! How long a cohort of 10,000 people takes for 26 weeks, on all cores and on one, and beside it the engine alone: as many bare
//! decisions on the longest course of the pack's own diaries.
//!
//! Target: under 10 s on two cores.
//!
//!     cargo bench -p rungwise-tests --bench cohort
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a bench may stop at the first thing that is not as it should be"
)]

mod measure;

use jiff::ToSpan as _;
use measure::{Table, median_of};
use rungwise_engine::decide::decide;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::cohort::{Cohort, Model, Ready, cohort};
use rungwise_rehearsal::{diary, play};
use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

const PEOPLE: u64 = 10_000;
/// People on one core, from whom the whole is worked out.
const PEOPLE_ALONE: u64 = 1_000;
const WEEKS: u32 = 26;

fn main() {
    let mut table = Table::new("cohort");
    let rules = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules");
    let mut folders: Vec<_> = std::fs::read_dir(rules)
        .expect("rules")
        .map(|entry| entry.expect("an entry").path())
        .filter(|folder| folder.join("pack.toml").is_file())
        .collect();
    folders.sort();
    for folder in folders {
        let files =
            SourceFiles::new(rungwise_store::packs::read_dir(&folder).expect("the pack's files"));
        one_pack(&mut table, &files);
    }
    table.print();
}

fn checked(files: &SourceFiles) -> CheckedPack {
    rungwise_pack::check(files).pack.expect("a sound pack")
}

fn one_pack(table: &mut Table, files: &SourceFiles) {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let (took, sums) = spread(files, PEOPLE, cores);
    let pack = checked(files);
    table.row(
        &format!("{}: {PEOPLE} people, {cores} cores", pack.id),
        took,
    );
    let (alone, some) = spread(files, PEOPLE_ALONE, 1);
    table.row(
        &format!("{}: {PEOPLE_ALONE} people, one core", pack.id),
        alone,
    );
    let one = bare(&pack, files);
    let bare = one * u32::try_from(some.decisions).expect("a count");
    table.row(
        &format!("  its {} decisions, bare, one core", some.decisions),
        bare,
    );
    println!(
        "{}: {} decisions for 10,000 people, {:.1} µs a decision and its days, bare {:.1} µs ({:.2} ×)",
        pack.id,
        sums.decisions,
        alone.as_secs_f64() * 1e6 / some.decisions as f64,
        one.as_secs_f64() * 1e6,
        alone.as_secs_f64() / bare.as_secs_f64()
    );
}

/// As `rungwise rules cohort` spreads them: each core with packs of its own.
fn spread(files: &SourceFiles, people: u64, cores: usize) -> (Duration, Cohort) {
    let model = Model::default();
    let began = Instant::now();
    let cohorts: Vec<Cohort> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..cores)
            .map(|core| {
                let model = &model;
                scope.spawn(move || {
                    let pack = checked(files);
                    let ready = Ready::new(&pack, model, WEEKS);
                    let people = (core as u64..people).step_by(cores);
                    cohort(&ready, 1, people)
                })
            })
            .collect();
        threads
            .into_iter()
            .map(|thread| thread.join().expect("it ends"))
            .collect()
    });
    let mut cohorts = cohorts.into_iter();
    let mut sum = cohorts.next().expect("a core");
    for more in cohorts {
        sum.merge(&more);
    }
    (began.elapsed(), sum)
}

/// One decision on the longest history of the pack's own diaries.
fn bare(pack: &CheckedPack, files: &SourceFiles) -> Duration {
    let diaries = files
        .files()
        .iter()
        .filter(|file| file.name.starts_with("diaries/"));
    let histories = diaries.map(|file| {
        let diary = diary::read(pack, &file.name, &file.text).expect("a sound diary");
        play(pack, &diary).history
    });
    let history = histories
        .max_by_key(|history| history.records().len())
        .expect("a diary");
    let (_, _, last) = history.last_decision().expect("a decision");
    let as_of = last.as_of.checked_add(3.days()).expect("a date");
    median_of(100, 20, || {
        black_box(decide(black_box(pack), black_box(&history), as_of));
    })
}

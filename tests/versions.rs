//! Two versions of a generated pack: where it is proved that the newer is never bolder, it never is.
//!
//! Leaves to others: what is told of an edit (`crates/pack/tests/compare.rs`).

#![allow(
    clippy::panic,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test"
)]

use rungwise_pack::check;
use rungwise_pack::compare::compare;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::places::Number;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::bolder::bolder;
use rungwise_tests::cases::{from_environment, run};
use rungwise_tests::generate::Dice;
use rungwise_tests::generate::pack::{ANYTHING, files};
use rungwise_tests::moment::{Moment, told_moves};
use std::sync::atomic::{AtomicU64, Ordering};

/// Histories, where the environment does not say otherwise.
const CASES: u64 = 10_000;

/// The pack with some of its numbers a step up or down; none where that is no sound pack.
fn edited(files: &SourceFiles, numbers: &[Number], dice: &mut Dice) -> Option<CheckedPack> {
    let mut texts: Vec<(String, String)> = files
        .files()
        .iter()
        .map(|file| (file.name.clone(), file.text.clone()))
        .collect();
    let mut chosen: Vec<&Number> = (0..dice.count(1, 3)).map(|_| dice.pick(numbers)).collect();
    // From the end, so that what stands before keeps its place.
    chosen.sort_by_key(|number| std::cmp::Reverse(number.place.start));
    chosen.dedup_by_key(|number| number.place.clone());
    for number in chosen {
        let to = if dice.percent(50) {
            number.lower
        } else {
            number.higher
        };
        let (_, text) = texts
            .iter_mut()
            .find(|(name, _)| *name == number.place.file)?;
        text.replace_range(number.place.start..number.place.end, &to?.to_string());
    }
    check(&SourceFiles::new(texts)).pack
}

/// Proves, for decisions on the same history, what `Comparison::is_never_bolder` says; both ways, since one of an edit and
/// the edit taken back is often proved.
#[test]
fn a_pack_proved_never_to_be_bolder_never_is() {
    let proved = AtomicU64::new(0);
    let differ = AtomicU64::new(0);
    run(
        from_environment("RUNGWISE_CASES").unwrap_or(CASES),
        |seed| {
            let Some(moment) = Moment::of(seed, ANYTHING) else {
                return Ok(());
            };
            let files = files(seed / 20, ANYTHING);
            let numbers = check(&files).places.numbers;
            let mut dice = Dice::new(seed ^ 0xed17);
            let Some(other) = edited(&files, &numbers, &mut dice) else {
                return Ok(());
            };
            let (here, there) = (moment.decide_by(&moment.pack), moment.decide_by(&other));
            for (old, new, before, after) in [
                (&moment.pack, &other, &here, &there),
                (&other, &moment.pack, &there, &here),
            ] {
                let comparison = compare(old, new);
                if !comparison.is_never_bolder() {
                    continue;
                }
                proved.fetch_add(1, Ordering::Relaxed);
                if before.outcome != after.outcome || before.moves != after.moves {
                    differ.fetch_add(1, Ordering::Relaxed);
                }
                if let Some(why) = bolder(after, before) {
                    return Err(format!(
                        "{}\n{:#?}\n{why}\n  before {}\n  after  {}",
                        moment.story,
                        comparison.changes,
                        told_moves(before),
                        told_moves(after)
                    ));
                }
            }
            Ok(())
        },
    );
    // A proof that is never given, or of packs that always decide alike, would show nothing.
    if from_environment("RUNGWISE_SEED").is_none() {
        let (proved, differ) = (proved.into_inner(), differ.into_inner());
        println!("proved {proved}, of which {differ} decide otherwise");
        assert!(
            proved > 100 && differ > 10,
            "proved {proved}, {differ} differ"
        );
    }
}

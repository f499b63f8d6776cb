//! The engine against the reference evaluator on generated packs and histories.
//!
//! `RUNGWISE_HISTORIES` says how many, `RUNGWISE_SEED` plays one again, `RUNGWISE_REPORTS` says how many different
//! disagreements are looked for before stopping.

#![allow(
    clippy::panic,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test"
)]

use jiff::civil::Date;
use rungwise_engine::band::Hold;
use rungwise_engine::decision::{Decision, Verdict};
use rungwise_engine::fact::{Body, FactKind, Order};
use rungwise_pack::model::{CheckedPack, RuleKind, SentenceIx, Subject};
use rungwise_tests::cases::run;
use rungwise_tests::generate::combined::{combined_files, combined_pack};
use rungwise_tests::generate::history::Step;
use rungwise_tests::generate::pack::{ANYTHING, checked, files};
use rungwise_tests::generate::report::story;
use rungwise_tests::play::{Disagreement, Played, play, shortest, told};
use rungwise_tests::reference::dose::unrolls_right;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// Histories played where the environment does not say otherwise.
const HISTORIES: u64 = 100_000;

/// Histories played under packs with combined measures.
const HISTORIES_COMBINED: u64 = 4_000;

/// Packs whose ladders are unrolled by hand.
const PACKS_UNROLLED: u64 = 300;

/// Histories of which every finding is explained.
const HISTORIES_EXPLAINED: u64 = 10_000;

/// Histories to a pack.
const HISTORIES_A_PACK: u64 = 50;

fn from_environment(name: &str, otherwise: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(otherwise)
}

fn examine(seed: u64, pack: &CheckedPack) -> Option<Disagreement> {
    let (episode, steps) = told(pack, seed);
    play(pack, &episode, &steps).map(|found| shortest(pack, &episode, found))
}

fn report(seed: u64, found: &Disagreement) -> String {
    let mut text = format!("RUNGWISE_SEED={seed} (pack {})\n", seed / HISTORIES_A_PACK);
    text += &story(&found.steps, &found.decided);
    for difference in &found.differences {
        let _ = writeln!(text, "    {difference}");
    }
    text
}

/// Proves that the pack's list of rungs is what its rows unroll to by hand.
#[test]
fn ladders_unroll_alike() {
    for seed in 0..PACKS_UNROLLED {
        let pack = checked(seed, ANYTHING);
        let wrong = pack
            .exercises
            .iter()
            .find(|exercise| !unrolls_right(exercise));
        assert!(wrong.is_none(), "pack {seed}: {wrong:#?}");
    }
}

/// Where the sentences of a decision come to something else when they are read for an explanation. Of refer rules that
/// a directive cleared the explanation shows more than was decided by: they are left out.
fn read_otherwise(played: &Played<'_>, pack: &CheckedPack, as_of: Date) -> Vec<String> {
    let decision = played.preview(as_of);
    let cleared = played.records().iter().any(|record| {
        matches!(&record.body, Body::Fact(fact)
            if matches!(&fact.kind, FactKind::Directive(one) if matches!(one.order, Order::Clear { .. })))
    });
    let findings = decision.findings.iter().filter(|finding| {
        !cleared || !matches!(pack.rules[finding.rule.at()].kind, RuleKind::Refer { .. })
    });
    findings
        .filter_map(|finding| {
            let general = played.explained(as_of, finding.rule);
            let key = &pack.rules[finding.rule.at()].key;
            (general != finding.sentences.as_slice()).then(|| {
                format!(
                    "{key}: decided {:?}, explained {general:?}",
                    finding.sentences
                )
            })
        })
        .collect()
}

/// Proves that the quick reading of the common case gives what the general one gives, which explanations use.
#[test]
fn quick_and_general_readings_agree() {
    run(HISTORIES_EXPLAINED, |seed| {
        let pack = checked(seed / HISTORIES_A_PACK, ANYTHING);
        let (episode, steps) = told(&pack, seed);
        let mut played = Played::new(&pack, episode.clone());
        let mut today = episode.opened_on;
        for (position, step) in &steps {
            match step {
                Step::Record(fact) => {
                    today = today.max(fact.date);
                    played.record(*position, today, Body::Fact(fact.clone()));
                }
                Step::Ask(date) => {
                    today = today.max(*date);
                    let wrong = read_otherwise(&played, &pack, *date);
                    if !wrong.is_empty() {
                        return Err(format!("{}{wrong:#?}", story(&steps, &played.decided)));
                    }
                    played.ask(*position, *date);
                }
            }
        }
        Ok(())
    });
}

/// Proves that bands are among what is compared: set, raised by a step, brought nearer, kept unmeasured, and left out.
#[test]
fn bands_are_among_the_histories() {
    let mut seen: BTreeMap<&str, u32> = BTreeMap::new();
    for pack_seed in 0..PACKS_UNROLLED {
        let pack = checked(pack_seed, ANYTHING);
        if pack.height.is_none() {
            continue;
        }
        for seed in pack_seed * HISTORIES_A_PACK..pack_seed * HISTORIES_A_PACK + 10 {
            let (episode, steps) = told(&pack, seed);
            let mut played = Played::new(&pack, episode);
            for (position, step) in steps {
                match step {
                    Step::Record(fact) => played.record(position, fact.date, Body::Fact(fact)),
                    Step::Ask(date) => {
                        for what in held(played.ask(position, date)) {
                            *seen.entry(what).or_default() += 1;
                        }
                    }
                }
            }
        }
    }
    for what in ["set", "raised", "short", "unmeasured", "none fits"] {
        assert!(
            seen.get(what).is_some_and(|count| *count > 5),
            "{what}: {seen:?}"
        );
    }
}

/// Proves that volumes are among what is compared: each measure with every verdict that it can have.
#[test]
fn volumes_are_among_the_histories() {
    let mut seen: BTreeMap<(&str, String), u32> = BTreeMap::new();
    // Torques that are known for two weeks are rare.
    for pack_seed in 0..8 * PACKS_UNROLLED {
        let pack = checked(pack_seed, ANYTHING);
        let kind = |finding: &(SentenceIx, Verdict)| {
            let Subject::Measure { measure, .. } = &pack.sentences[finding.0.at()].subject else {
                return None;
            };
            let name = &pack.measures[measure.at()].name;
            let kinds = [
                "volume-torque",
                "volume-force",
                "volume-time",
                "weekly-torque",
            ];
            let kinds = kinds.into_iter().chain(["weekly-force", "weekly-time"]);
            kinds.into_iter().find(|kind| name.starts_with(kind))
        };
        let has = |name: &str| pack.measures.iter().any(|one| one.name.starts_with(name));
        let histories = match (has("volume-torque"), has("volume-")) {
            (true, _) => HISTORIES_A_PACK,
            (false, true) if pack_seed < PACKS_UNROLLED => 20,
            _ => continue,
        };
        let first = pack_seed * HISTORIES_A_PACK;
        for seed in first..first + histories {
            let (episode, steps) = told(&pack, seed);
            let mut played = Played::new(&pack, episode);
            for (position, step) in steps {
                let date = match step {
                    Step::Record(fact) => {
                        played.record(position, fact.date, Body::Fact(fact));
                        continue;
                    }
                    Step::Ask(date) => date,
                };
                let decision = played.ask(position, date);
                for found in decision.findings.iter().flat_map(|one| &one.sentences) {
                    if let Some(kind) = kind(found) {
                        *seen.entry((kind, format!("{:?}", found.1))).or_default() += 1;
                    }
                }
            }
        }
    }
    for kind in [
        "volume-torque",
        "volume-force",
        "volume-time",
        "weekly-torque",
        "weekly-force",
        "weekly-time",
    ] {
        for verdict in ["Met", "NotMet", "Unknown", "NotYetFull"] {
            let count = seen.get(&(kind, verdict.to_owned()));
            assert!(
                count.is_some_and(|count| *count > 5),
                "{kind} {verdict}: {seen:#?}"
            );
        }
    }
}

/// What a decision says of the bands of its places.
fn held(decision: &Decision) -> Vec<&'static str> {
    let mut found = Vec::new();
    for setting in decision
        .state
        .places
        .iter()
        .filter_map(|place| place.setting.as_ref())
    {
        match &setting.hold {
            Hold::Unmeasured => found.push("unmeasured"),
            Hold::None(_) => found.push("none fits"),
            Hold::Set(held) => {
                found.push("set");
                let before = held.before.as_ref();
                if before.is_some_and(|(_, before)| held.torque_mnm > *before) {
                    found.push("raised");
                }
                if held.is_short {
                    found.push("short");
                }
            }
        }
    }
    found
}

/// Proves that the engine and the reference decide alike on every generated history.
#[test]
fn engine_and_reference_agree() {
    if let Ok(seed) = std::env::var("RUNGWISE_SEED") {
        let seed: u64 = seed.parse().unwrap();
        let pack = checked(seed / HISTORIES_A_PACK, ANYTHING);
        if let Some(found) = examine(seed, &pack) {
            for file in files(seed / HISTORIES_A_PACK, ANYTHING).files() {
                println!("# ---- {}\n{}", file.name, file.text);
            }
            panic!("{}", report(seed, &found));
        }
        return;
    }
    let histories = from_environment("RUNGWISE_HISTORIES", HISTORIES);
    let reports = from_environment("RUNGWISE_REPORTS", 1) as usize;
    let next = AtomicU64::new(0);
    let found: Mutex<BTreeMap<String, (u64, String)>> = Mutex::new(BTreeMap::new());
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let pack_seed = next.fetch_add(1, Ordering::Relaxed);
                    let first = pack_seed * HISTORIES_A_PACK;
                    if first >= histories || found.lock().unwrap().len() >= reports {
                        return;
                    }
                    let pack = checked(pack_seed, ANYTHING);
                    for seed in first..(first + HISTORIES_A_PACK).min(histories) {
                        if let Some(disagreement) = examine(seed, &pack) {
                            let kind = disagreement.differences[0].clone();
                            let kind = kind.lines().next().unwrap_or_default();
                            let kind = kind.trim_end_matches(|end: char| end.is_ascii_digit());
                            let kind = kind.to_owned();
                            let text = report(seed, &disagreement);
                            let mut found = found.lock().unwrap();
                            found
                                .entry(kind)
                                .and_modify(|known| known.0 += 1)
                                .or_insert((1, text));
                        }
                    }
                }
            });
        }
    });
    let found = found.into_inner().unwrap();
    let mut text = String::new();
    for (kind, (count, one)) in &found {
        let _ = writeln!(text, "== {count} times: {kind}\n{one}");
    }
    assert!(found.is_empty(), "{text}");
}

/// Proves the same under packs whose sentences are about measures combined from one fact.
#[test]
fn engine_and_reference_agree_on_combined_measures() {
    let one = from_environment("RUNGWISE_SEED", u64::MAX);
    let seeds = if one == u64::MAX {
        0..from_environment("RUNGWISE_HISTORIES", HISTORIES_COMBINED)
    } else {
        one..one + 1
    };
    let mut pack = None;
    for seed in seeds {
        let number = seed / HISTORIES_A_PACK;
        if pack.as_ref().is_none_or(|(known, _)| *known != number) {
            pack = Some((number, combined_pack(number)));
        }
        let (_, pack) = pack.as_ref().unwrap();
        if let Some(found) = examine(seed, pack) {
            for file in combined_files(number).files() {
                println!("# ---- {}\n{}", file.name, file.text);
            }
            panic!("{}", report(seed, &found));
        }
    }
}

//! The fuzzers' targets on the kept corpus and on seeded changes of sound files.
//!
//! The corpus (`tests/fuzz/corpus`) holds inputs that were hard once; each is tried anew. `RUNGWISE_FUZZ_S=600` changes
//! corpus and sound files at random for so many seconds, as a campaign where no libFuzzer is at hand.
//!
//! Leaves to others: what the targets hold (`rungwise_tests::fuzz`).
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first thing that is not as it should be"
)]

use proptest::prelude::*;
use rungwise_tests::fuzz::{SMALL, assert_sound, diary, pack, sentence, with_file};
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// What is fed.
type Target = fn(&[u8]);

/// Each target with the folder of its corpus.
const TARGETS: [(&str, Target); 3] = [("pack", pack), ("sentence", sentence), ("diary", diary)];

/// Most changes of one input.
const CHANGES_MAX: usize = 6;

/// Pieces that files and sentences are made of, so that changes reach past the first error.
const PIECES: [&str; 52] = [
    "at most",
    "at least",
    "between",
    "and",
    "is",
    "is not",
    "no worse than",
    "up by at least",
    "below",
    "above",
    "in",
    "any",
    "every",
    "exercise",
    "pain during exercise",
    "irritability",
    "er-banded",
    "has reached",
    "reps",
    "load",
    "in each of the last",
    "sessions",
    "on average",
    "over the last",
    "days",
    "since the first assessment",
    "%",
    "of the other side",
    "3",
    "-1",
    "99999999999999999999",
    "0.0001",
    "{ all = [",
    "] }",
    "none = [",
    "\"",
    "\\\"",
    "\n",
    "[[phase]]",
    "é",
    "[[day]]\n",
    "date = \"2026-02-30\"\n",
    "date = \"9999-12-31\"\n",
    "until = \"9999-12-31\"\n",
    "every = 1\n",
    "session = [{}]\n",
    "expect = {}\n",
    "could not",
    "65535",
    "4294967296",
    "\\u0000",
    "=",
];

fn corpus(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/corpus")
        .join(target);
    let mut inputs: Vec<(PathBuf, Vec<u8>)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.clone(), std::fs::read(path).unwrap()))
        .collect();
    inputs.sort();
    assert!(!inputs.is_empty(), "no corpus of {target}");
    inputs
}

/// The corpus, and sound files and diaries in the form of inputs.
fn seeds(target: &str) -> Vec<Vec<u8>> {
    let mut seeds: Vec<Vec<u8>> = corpus(target).into_iter().map(|(_, input)| input).collect();
    if target == "pack" {
        seeds.extend(SMALL.map(|(name, text)| format!("{name}\n{text}").into_bytes()));
    }
    seeds
}

#[test]
fn the_corpus() {
    for (name, target) in TARGETS {
        for (path, input) in corpus(name) {
            let run = catch_unwind(|| target(&input));
            assert!(run.is_ok(), "{name}: {}", path.display());
        }
    }
}

/// An input with some stretches cut out, doubled, or replaced by pieces and bytes.
fn changed(random: &mut fastrand::Rng, seeds: &[Vec<u8>]) -> Vec<u8> {
    let mut input = seeds[random.usize(..seeds.len())].clone();
    for _ in 0..random.usize(1..=CHANGES_MAX) {
        let from = random.usize(..=input.len());
        let to = (from + random.usize(..24)).min(input.len());
        let piece: Vec<u8> = match random.u8(..5) {
            0 => Vec::new(),
            1 => vec![random.u8(..)],
            2 => input[from..to].repeat(2),
            3 => {
                let other = &seeds[random.usize(..seeds.len())];
                let from = random.usize(..=other.len());
                other[from..(from + random.usize(..64)).min(other.len())].to_vec()
            }
            _ => PIECES[random.usize(..PIECES.len())].as_bytes().to_vec(),
        };
        input.splice(from..to, piece);
    }
    input
}

/// Tries `count` changed inputs, or as many as a time allows; what fails is written beside the corpus.
fn campaign(seed: u64, enough: impl Fn(u64) -> bool) -> u64 {
    let mut random = fastrand::Rng::with_seed(seed);
    let seeds = TARGETS.map(|(name, _)| seeds(name));
    let mut tried = 0;
    while !enough(tried) {
        let at = random.usize(..TARGETS.len());
        let (name, target) = TARGETS[at];
        let input = changed(&mut random, &seeds[at]);
        if catch_unwind(|| target(&input)).is_err() {
            let kept = std::env::temp_dir().join(format!("rungwise-fuzz-{name}-{seed}-{tried}"));
            std::fs::write(&kept, &input).unwrap();
            panic!(
                "{name} fails on {}; put it into tests/fuzz/corpus/{name}",
                kept.display()
            );
        }
        tried += 1;
    }
    tried
}

#[test]
fn seeded_changes_of_sound_files() {
    match std::env::var("RUNGWISE_FUZZ_S") {
        Ok(seconds) => {
            let seconds = Duration::from_secs(seconds.parse().expect("whole seconds"));
            let (begun, seed) = (Instant::now(), fastrand::u64(..));
            let tried = campaign(seed, |_| begun.elapsed() > seconds);
            println!("seed {seed}: {tried} inputs in {seconds:?}");
        }
        Err(_) => {
            campaign(2026, |tried| tried >= 400);
        }
    }
}

#[test]
fn brackets_without_end() {
    for open in ["[", "{ a = ", "{ all = ["] {
        let deep = format!("x = {}", open.repeat(20_000));
        assert_sound(&with_file("phases.toml", |_| deep.clone()));
        let when = format!("when = {}", open.repeat(500));
        assert_sound(&with_file("phases.toml", |phases| {
            phases.replace("when = \"rest pain above 6\"", &when)
        }));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn any_text_as_a_file(name in proptest::sample::select(&SMALL[..]), text in "\\PC{0,200}") {
        pack(format!("{}\n{text}", name.0).as_bytes());
    }

    #[test]
    fn any_text_as_a_sentence(text in "[^\"\\\\\\p{C}]{0,80}") {
        sentence(text.as_bytes());
    }

    #[test]
    fn any_row_of_words_as_a_sentence(words in proptest::collection::vec(proptest::sample::select(&PIECES[..29]), 0..9)) {
        let words = words.join(" ");
        sentence(words.as_bytes());
        sentence(format!("rest pain {words}").as_bytes());
    }

    #[test]
    fn any_text_as_a_diary(text in "\\PC{0,200}") {
        diary(text.as_bytes());
    }
}

//! Measuring: the median of many timed batches, and a table in which each figure stands beside a yardstick of the same run.

use sha2::{Digest as _, Sha256};
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Bytes that the yardstick hashes.
const YARDSTICK_BYTES: usize = 16 * 1024;

/// The median time of one call, over `batches` batches of `calls` calls each, after one batch that does not count.
pub(crate) fn median_of(batches: usize, calls: u32, mut call: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..=batches)
        .map(|_| {
            let began = Instant::now();
            for _ in 0..calls {
                call();
            }
            began.elapsed() / calls
        })
        .skip(1)
        .collect();
    times.sort();
    times.get(times.len() / 2).copied().unwrap_or_default()
}

/// SHA-256 of 16 KiB: what the figures of a run are compared with.
fn yardstick() -> Duration {
    let bytes = vec![0x5a_u8; YARDSTICK_BYTES];
    median_of(50, 20, || {
        black_box(Sha256::digest(black_box(&bytes)));
    })
}

/// Figures of one run.
pub(crate) struct Table {
    title: &'static str,
    yardstick: Duration,
    rows: Vec<(String, Duration)>,
}

impl Table {
    /// An empty table; measures the yardstick.
    pub(crate) fn new(title: &'static str) -> Self {
        Self {
            title,
            yardstick: yardstick(),
            rows: Vec::new(),
        }
    }

    /// Adds a figure.
    pub(crate) fn row(&mut self, what: &str, took: Duration) {
        self.rows.push((what.to_owned(), took));
    }

    /// Prints every figure with its ratio to the yardstick.
    pub(crate) fn print(&self) {
        let per = self.yardstick.as_secs_f64();
        println!(
            "{} (yardstick: SHA-256 of 16 KiB, {:.1} µs)",
            self.title,
            per * 1e6
        );
        for (what, took) in &self.rows {
            println!(
                "  {what:<44} {:>12.1} µs {:>10.2} ×",
                took.as_secs_f64() * 1e6,
                took.as_secs_f64() / per
            );
        }
    }
}

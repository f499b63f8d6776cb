//! Many cases on every core, the first failure told with its number.
//!
//! Leaves to others: what a case is.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// A whole number from the environment.
///
/// # Panics
///
/// Where the variable is set and no number.
#[must_use]
pub fn from_environment(name: &str) -> Option<u64> {
    std::env::var(name)
        .ok()
        .map(|text| text.parse().expect("a whole number"))
}

/// Runs `case` for 0 up to `count`, or for `RUNGWISE_SEED` alone; `case` says what is wrong, if anything.
///
/// # Panics
///
/// Where a case fails: with its number and what it said.
pub fn run(count: u64, case: impl Fn(u64) -> Result<(), String> + Sync) {
    if let Some(seed) = from_environment("RUNGWISE_SEED") {
        if let Err(wrong) = case(seed) {
            panic!("RUNGWISE_SEED={seed}\n{wrong}");
        }
        return;
    }
    let next = AtomicU64::new(0);
    let failed: Mutex<Option<(u64, String)>> = Mutex::new(None);
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= count || failed.lock().unwrap().is_some() {
                        return;
                    }
                    if let Err(wrong) = case(seed) {
                        failed.lock().unwrap().get_or_insert((seed, wrong));
                    }
                }
            });
        }
    });
    if let Some((seed, wrong)) = failed.into_inner().unwrap() {
        panic!("RUNGWISE_SEED={seed}\n{wrong}");
    }
}

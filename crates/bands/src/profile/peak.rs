//! Where the torque of an arc is highest: about which of its steps, and between them.
//!
//! Leaves to others: what the torque is (`super`).

use super::Exact;

/// Where the torques seen so far were highest, the first where there are several.
#[derive(Clone, Copy, Debug)]
pub(super) struct Highest {
    pub(super) band_index: i64,
    band_nm: f64,
    pub(super) whole_index: i64,
    whole_nm: f64,
}

impl Default for Highest {
    fn default() -> Self {
        Self {
            band_index: 0,
            band_nm: f64::NEG_INFINITY,
            whole_index: 0,
            whole_nm: f64::NEG_INFINITY,
        }
    }
}

impl Highest {
    pub(super) fn see(&mut self, index: i64, exact: &Exact) {
        if exact.band_nm > self.band_nm {
            (self.band_index, self.band_nm) = (index, exact.band_nm);
        }
        if exact.whole_nm() > self.whole_nm {
            (self.whole_index, self.whole_nm) = (index, exact.whole_nm());
        }
    }
}

/// Where a function of whole thousandths of a degree is highest between two of them, by Fibonacci's search: one evaluation
/// more for each step, at most 26 steps for half a turn. Never less than at `seen_mdeg`.
pub(super) fn highest_between(
    [low_mdeg, high_mdeg]: [i64; 2],
    seen_mdeg: i64,
    of: impl Fn(i64) -> f64,
) -> (i64, f64) {
    let (mut short, mut long) = (1, 1);
    while short + long < high_mdeg - low_mdeg {
        (short, long) = (long, short + long);
    }
    let of_within = |mdeg| {
        if mdeg <= high_mdeg {
            of(mdeg)
        } else {
            f64::NEG_INFINITY
        }
    };
    let mut best = (seen_mdeg, of(seen_mdeg));
    let mut start_mdeg = low_mdeg;
    let (mut left, mut right) = (of_within(low_mdeg + short), of_within(low_mdeg + long));
    while short > 0 {
        let (at_mdeg, higher) = if left < right {
            (start_mdeg + long, right)
        } else {
            (start_mdeg + short, left)
        };
        if higher > best.1 {
            best = (at_mdeg, higher);
        }
        let shorter = long - short;
        if left < right {
            start_mdeg += short;
            (left, right) = (right, of_within(start_mdeg + short));
        } else {
            (left, right) = (of_within(start_mdeg + shorter), left);
        }
        (short, long) = (shorter, short);
    }
    best
}

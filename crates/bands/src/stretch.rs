//! How far an arc stretches a band: at its ends, and where it is shortest and longest on the way.
//!
//! Leaves to others: how hard it then pulls (`curve`), and what of it is too little or too much (`profile`, `solve`).

use crate::motion::{Arc, Path, Turned};
use crate::thousandths::up;

/// A share of the rest length below which a stretch is noise of the arithmetic, as in `thousandths`.
const NOISE: f64 = 1e-11;

/// The ends of an arc, as what is needed of their angles.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ends {
    pub(crate) from: Turned,
    pub(crate) to: Turned,
}

impl Ends {
    pub(crate) fn of(arc: Arc) -> Self {
        Self {
            from: Turned::by(arc.from_mdeg),
            to: Turned::by(arc.to_mdeg),
        }
    }
}

/// Lengths of a band on an arc, in m, whatever its rest length.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lengths {
    pub(crate) start_m: f64,
    pub(crate) end_m: f64,
    pub(crate) shortest_m: f64,
    pub(crate) longest_m: f64,
}

impl Lengths {
    pub(crate) fn on(path: &Path, ends: &Ends) -> Self {
        let (start_m, end_m) = (path.length_m(ends.from), path.length_m(ends.to));
        let (shortest_m, longest_m) = match path.turning_length_m(ends.from, ends.to) {
            Some(turning_m) => (
                start_m.min(end_m).min(turning_m),
                start_m.max(end_m).max(turning_m),
            ),
            None => (start_m.min(end_m), start_m.max(end_m)),
        };
        Self {
            start_m,
            end_m,
            shortest_m,
            longest_m,
        }
    }

    /// How far a band is from being just tight where it is shortest, in mm, rounded up; none where it is tight.
    pub(crate) fn slack_mm(&self, rest_m: f64) -> Option<i64> {
        let is_slack = elongation(self.shortest_m, rest_m) < 0.0;
        is_slack.then(|| up(rest_m - self.shortest_m).unwrap_or(i64::MAX).max(1))
    }

    /// The greatest elongation, in thousandths of a percent, rounded up.
    pub(crate) fn elongation_mpct(&self, rest_m: f64) -> Option<i64> {
        up(100.0 * elongation(self.longest_m, rest_m))
    }
}

/// Elongation as a share of the rest length: nought where only noise makes it negative.
pub(crate) fn elongation(length_m: f64, rest_m: f64) -> f64 {
    let elongation = (length_m - rest_m) / rest_m;
    if elongation < 0.0 && elongation > -NOISE {
        0.0
    } else {
        elongation
    }
}

/// A rest length in m.
pub(crate) fn rest_m(working_length_mm: u32) -> f64 {
    f64::from(working_length_mm) / 1000.0
}

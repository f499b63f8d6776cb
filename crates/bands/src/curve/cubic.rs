//! The monotone piecewise cubic through points: between two neighbours it never leaves the forces of the two.
//!
//! Source: F. N. Fritsch and R. E. Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17 (1980), 238–246;
//! slopes at inner points are the weighted harmonic mean of Fritsch and Butland (1984), those at the ends the three-point
//! formula kept monotone. SciPy's `PchipInterpolator` takes the same; `tests/curves` holds this one to it.
//!
//! Leaves to others: what the points are and whether they rise (`super`).

use super::{bracket, limited};
use alloc::vec::Vec;

/// The curve: one cubic for each pair of neighbouring points.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cubic {
    pieces: Vec<Piece>,
}

/// From one point to the next: `y + s (c1 + s (c2 + s c3))`, where `s` is how far past `x`.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Piece {
    x: f64,
    x_end: f64,
    y: f64,
    y_end: f64,
    c1: f64,
    c2: f64,
    c3: f64,
    /// The integral of all pieces before this one.
    area_before: f64,
}

impl Piece {
    fn between(a: (f64, f64), b: (f64, f64), slopes: (f64, f64), area_before: f64) -> Self {
        let width = b.0 - a.0;
        let chord = (b.1 - a.1) / width;
        let bend = (slopes.0 + slopes.1 - 2.0 * chord) / width;
        Self {
            x: a.0,
            x_end: b.0,
            y: a.1,
            y_end: b.1,
            c1: slopes.0,
            c2: (chord - slopes.0) / width - bend,
            c3: bend / width,
            area_before,
        }
    }

    /// How far past the piece's beginning, within the piece.
    fn past(&self, x: f64) -> f64 {
        limited(x, self.x, self.x_end) - self.x
    }

    /// The rise is computed apart from the height it is added to, and roundings never carry it past the next point.
    fn at(&self, x: f64) -> f64 {
        let s = self.past(x);
        let y = self.y + s * (self.c1 + s * (self.c2 + s * self.c3));
        if x >= self.x_end {
            self.y_end
        } else {
            limited(y, self.y, self.y_end)
        }
    }

    /// The integral from where the piece begins.
    fn area(&self, x: f64) -> f64 {
        let s = self.past(x);
        s * (self.y + s * (self.c1 / 2.0 + s * (self.c2 / 3.0 + s * self.c3 / 4.0)))
    }
}

impl Cubic {
    /// Through points that rise in both coordinates. Fewer than two make a curve without a piece.
    pub(super) fn through(points: &[(f64, f64)]) -> Self {
        let slopes = slopes(points);
        let mut pieces = Vec::with_capacity(points.len());
        let mut area_before = 0.0;
        for ((a, b), (slope, slope_end)) in neighbours(points).zip(neighbours(&slopes)) {
            let piece = Piece::between(a, b, (slope, slope_end), area_before);
            area_before += piece.area(b.0);
            pieces.push(piece);
        }
        Self { pieces }
    }

    /// The height at `x`; that of the first or last point before or behind them.
    pub(super) fn at(&self, x: f64) -> f64 {
        self.piece(|piece| piece.x <= x)
            .map_or(0.0, |piece| piece.at(x))
    }

    /// The integral from the first point to `x`.
    pub(super) fn area(&self, x: f64) -> f64 {
        self.piece(|piece| piece.x <= x)
            .map_or(0.0, |piece| piece.area_before + piece.area(x))
    }

    /// The greatest `x` at which the height is not above `y`, which lies between those of the first and the last point.
    pub(super) fn x_for(&self, y: f64) -> f64 {
        self.piece(|piece| piece.y <= y).map_or(0.0, |piece| {
            bracket(piece.x, piece.x_end, |x| piece.at(x) <= y)
        })
    }

    /// The last piece that begins where `begins` holds, which it does for the first few and for no other.
    fn piece(&self, begins: impl Fn(&Piece) -> bool) -> Option<&Piece> {
        let count = self.pieces.partition_point(begins);
        self.pieces.get(count.saturating_sub(1))
    }
}

/// Each element with the one after it.
fn neighbours<T: Copy>(of: &[T]) -> impl Iterator<Item = (T, T)> {
    of.iter().copied().zip(of.iter().copied().skip(1))
}

/// The slope at each point.
fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let steps: Vec<Step> = neighbours(points)
        .map(|(a, b)| Step {
            width: b.0 - a.0,
            chord: (b.1 - a.1) / (b.0 - a.0),
        })
        .collect();
    let (Some(&first), Some(&last)) = (steps.first(), steps.last()) else {
        return Vec::new();
    };
    if steps.len() == 1 {
        return [first.chord, first.chord].into();
    }
    let second = steps.get(1).copied().unwrap_or(first);
    let before_last = steps.iter().rev().nth(1).copied().unwrap_or(last);
    let mut slopes = Vec::with_capacity(points.len());
    slopes.push(end_slope(first, second));
    slopes.extend(neighbours(&steps).map(|(a, b)| inner_slope(a, b)));
    slopes.push(end_slope(last, before_last));
    slopes
}

/// From one point to the next.
#[derive(Clone, Copy)]
struct Step {
    width: f64,
    /// The slope of the straight line, above 0.
    chord: f64,
}

/// The harmonic mean of the chords on both sides, the nearer side weighing more.
fn inner_slope(before: Step, after: Step) -> f64 {
    let weight_before = 2.0 * after.width + before.width;
    let weight_after = after.width + 2.0 * before.width;
    let mean = (weight_before / before.chord + weight_after / after.chord)
        / (weight_before + weight_after);
    1.0 / mean
}

/// The slope of the parabola through the three points at an end, if it does not fall. (It is above three chords only where
/// the next chord falls.)
fn end_slope(end: Step, next: Step) -> f64 {
    let slope = ((2.0 * end.width + next.width) * end.chord - end.width * next.chord)
        / (end.width + next.width);
    if slope > 0.0 { slope } else { 0.0 }
}

#[cfg(test)]
mod tests;

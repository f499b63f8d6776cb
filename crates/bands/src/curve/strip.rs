//! The neo-Hookean strip: the force of a rubber band of which one reading is known.
//!
//! A strip of shear modulus `G` and unstretched cross-section `A`, pulled to `s` times its rest length, pulls with
//! `G A (s - 1/s²)`. One reading gives `G A`; it is the only number needed. Source: L. R. G. Treloar, The Physics of Rubber
//! Elasticity (from memory); the figures held against it are in the tests.
//!
//! Leaves to others: how far it holds (`super::Curve` asks no strip about more stretch than was measured).

use super::bracket;

/// A strip by its stiffness. Values are `f64` for plots, tests and this crate; no verdict may use them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strip {
    stiffness_n: f64,
}

impl Strip {
    /// A strip by `G A` in newtons. Given `G` alone in MPa, what follows is stress in MPa instead of force.
    #[must_use]
    pub fn of_stiffness(stiffness_n: f64) -> Self {
        Self { stiffness_n }
    }

    /// The strip that pulls with `force_n` at `stretch`, a length as a multiple of the rest length, above 1.
    #[must_use]
    pub fn through(stretch: f64, force_n: f64) -> Self {
        Self::of_stiffness(force_n / shape(stretch))
    }

    /// `G A` in newtons.
    #[must_use]
    pub fn stiffness_n(self) -> f64 {
        self.stiffness_n
    }

    /// Force in newtons at a stretch of at least 1.
    #[must_use]
    pub fn force_n(self, stretch: f64) -> f64 {
        self.stiffness_n * shape(stretch)
    }

    /// How fast force grows with stretch, in newtons per rest length: `3 G A` at rest, falling toward `G A`.
    #[must_use]
    pub fn slope_n(self, stretch: f64) -> f64 {
        self.stiffness_n * (1.0 + 2.0 / (stretch * stretch * stretch))
    }

    /// What stretching a strip of 1 m from rest costs, in joules: `G A / 2 (s² + 2/s - 3)`.
    #[must_use]
    pub fn energy_j_per_m(self, stretch: f64) -> f64 {
        // As (s - 1)² (s + 2) / s, which keeps its digits near rest.
        let over = stretch - 1.0;
        self.stiffness_n / 2.0 * (over * over * (stretch + 2.0) / stretch)
    }

    /// The greatest stretch up to `stretch_max` at which the strip pulls with no more than `force_n`.
    pub(super) fn stretch_for(self, force_n: f64, stretch_max: f64) -> f64 {
        bracket(1.0, stretch_max, |stretch| self.force_n(stretch) <= force_n)
    }
}

/// `s - 1/s²`, as (s - 1)(s² + s + 1)/s², which keeps its digits near rest and is exactly 0 there.
fn shape(stretch: f64) -> f64 {
    (stretch - 1.0) * (stretch * stretch + stretch + 1.0) / (stretch * stretch)
}

#[cfg(test)]
mod tests;

//! The band's line from where the hand holds it to its other end: on a circle about the joint with the other end anywhere,
//! or from hand to hand.
//!
//! Leaves to others: which motion has which line (`super`).

use crate::body::float;
use core::f64::consts::PI;

/// An angle, as what is needed of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// Its sine.
    pub sin: f64,
    /// Its cosine.
    pub cos: f64,
}

impl Turned {
    /// Of an angle in thousandths of a degree; exact at every quarter turn. The sine and cosine asked of `libm` are those of
    /// at most an eighth of a turn, where it needs no reduction.
    #[must_use]
    pub fn by(angle_mdeg: i64) -> Self {
        let rest_mdeg = angle_mdeg.rem_euclid(90_000);
        let (sin, cos) = if rest_mdeg <= 45_000 {
            libm::sincos(radians(rest_mdeg))
        } else {
            let (cos, sin) = libm::sincos(radians(90_000 - rest_mdeg));
            (sin, cos)
        };
        match angle_mdeg.div_euclid(90_000).rem_euclid(4) {
            0 => Self { sin, cos },
            1 => Self {
                sin: cos,
                cos: -sin,
            },
            2 => Self {
                sin: -sin,
                cos: -cos,
            },
            _ => Self {
                sin: -cos,
                cos: sin,
            },
        }
    }
}

/// Thousandths of a degree in rad.
pub(super) fn radians(angle_mdeg: i64) -> f64 {
    float(angle_mdeg) * (PI / 180_000.0)
}

/// A motion of one body, whatever the stance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    pub(super) kind: Kind,
    pub(super) weight: Weight,
}

/// What the limb's weight does about the axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Weight {
    /// Nothing: the axis is vertical.
    Aside,
    /// Something, but the mass is not known.
    Unknown,
    /// So much where the limb is level.
    Acts { level_nm: f64 },
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    Circle(Circle),
    Apart { breadth_m: f64, level_m: f64 },
}

/// A hand on a circle in the plane of the first two coordinates about their origin, from the first axis to the second, and
/// an anchor anywhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Circle {
    pub(super) radius_m: f64,
    /// The anchor at a stance of nought, in m.
    pub(super) fixed: [f64; 3],
    /// How it moves with each m of stance.
    pub(super) with_stance: [f64; 3],
}

impl Course {
    /// The motion at a stance, in mm; without an anchor on a wall every stance is the same.
    #[must_use]
    pub fn at_stance(&self, stance_mm: u32) -> Path {
        let line = match self.kind {
            Kind::Circle(circle) => {
                let stance_m = f64::from(stance_mm) / 1000.0;
                let [fixed_x, fixed_y, fixed_off] = circle.fixed;
                let [with_x, with_y, with_off] = circle.with_stance;
                let x_m = fixed_x + stance_m * with_x;
                let y_m = fixed_y + stance_m * with_y;
                let off_m = fixed_off + stance_m * with_off;
                Line::Circle {
                    radius_m: circle.radius_m,
                    x_m,
                    y_m,
                    sum_m2: circle.radius_m * circle.radius_m
                        + x_m * x_m
                        + y_m * y_m
                        + off_m * off_m,
                }
            }
            Kind::Apart { breadth_m, level_m } => Line::Apart { breadth_m, level_m },
        };
        Path {
            line,
            weight: self.weight,
        }
    }
}

/// The band's line at a stance. Its functions are for plots, tests and the modules here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Path {
    line: Line,
    weight: Weight,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Line {
    Circle {
        radius_m: f64,
        x_m: f64,
        y_m: f64,
        sum_m2: f64,
    },
    Apart {
        breadth_m: f64,
        level_m: f64,
    },
}

impl Path {
    /// From where the hand holds the band to its other end, in m; nought where they meet.
    #[must_use]
    pub fn length_m(&self, angle: Turned) -> f64 {
        match self.line {
            Line::Circle {
                radius_m,
                x_m,
                y_m,
                sum_m2,
            } => root(sum_m2 - 2.0 * radius_m * (x_m * angle.cos + y_m * angle.sin)),
            Line::Apart { breadth_m, level_m } => breadth_m + 2.0 * level_m * angle.sin,
        }
    }

    /// Moment arm of the band's pull about the axis in m, where the band is `length_m` long: positive where it hinders.
    #[must_use]
    pub fn moment_arm_m(&self, angle: Turned, length_m: f64) -> f64 {
        match self.line {
            Line::Circle {
                radius_m, x_m, y_m, ..
            } if length_m > 0.0 => radius_m * (x_m * angle.sin - y_m * angle.cos) / length_m,
            Line::Circle { .. } => 0.0,
            Line::Apart { level_m, .. } => level_m * angle.cos,
        }
    }

    /// Torque that the limb's own weight asks for, in N·m: negative where it helps; none where the mass is not known.
    #[must_use]
    pub fn limb_torque_nm(&self, angle: Turned) -> Option<f64> {
        match self.weight {
            Weight::Aside => Some(0.0),
            Weight::Unknown => None,
            Weight::Acts { level_nm } => Some(level_nm * angle.sin),
        }
    }

    /// Work that the limb's own weight asks for between two angles, in J.
    #[must_use]
    pub fn limb_work_j(&self, from: Turned, to: Turned) -> Option<f64> {
        match self.weight {
            Weight::Aside => Some(0.0),
            Weight::Unknown => None,
            Weight::Acts { level_nm } => Some(level_nm * (from.cos - to.cos)),
        }
    }

    /// The length at which the band turns from lengthening to shortening, or back, on the way from one angle to another at
    /// most half a turn on, in m; none where it does not.
    #[must_use]
    pub fn turning_length_m(&self, from: Turned, to: Turned) -> Option<f64> {
        let Line::Circle {
            radius_m,
            x_m,
            y_m,
            sum_m2,
        } = self.line
        else {
            return None;
        };
        // It lengthens where the hand goes away from the anchor's direction, and shortens where it comes nearer to it.
        let away_at_start = x_m * from.sin - y_m * from.cos;
        let away_at_end = x_m * to.sin - y_m * to.cos;
        let across_m = || libm::sqrt(x_m * x_m + y_m * y_m);
        if away_at_start > 0.0 && away_at_end < 0.0 {
            Some(root(sum_m2 + 2.0 * radius_m * across_m()))
        } else if away_at_start < 0.0 && away_at_end > 0.0 {
            Some(root(sum_m2 - 2.0 * radius_m * across_m()))
        } else {
            None
        }
    }

    /// Whether the limb's weight acts about the axis, known or not.
    pub(crate) const fn gravity_acts(&self) -> bool {
        !matches!(self.weight, Weight::Aside)
    }

    /// How many such limbs pull on one band.
    pub(crate) const fn limbs(&self) -> f64 {
        match self.line {
            Line::Circle { .. } => 1.0,
            Line::Apart { .. } => 2.0,
        }
    }
}

/// The root of what is nought where rounding made it negative.
fn root(square: f64) -> f64 {
    libm::sqrt(square.max(0.0))
}

//! Elastic-resistance mechanics: a band's curve and what it pulls with at a length; the limb that moves it and the torque at
//! every angle of a motion; and the setting, in whole centimetres, that gives a wanted torque with the bands that one owns.
//!
//! Computes in `f64` with `+`, `-`, `*`, `/` and the pinned `libm` alone, so that the same input gives the same bits on
//! every machine. What leaves is whole thousandths, rounded toward caution by [`thousandths`]; a function that gives an
//! `f64` is there for plots, tests and the other modules here, and no verdict may use it.
//!
//! Leaves to others: which exercises there are and where their anchors are (rule packs), which load is wanted (the engine),
//! and who owns what (facts).

#![no_std]

extern crate alloc;

pub mod band;
pub mod body;
pub mod curve;
pub mod motion;
pub mod profile;
#[cfg(test)]
mod sample;
pub mod solve;
mod stretch;
pub mod thousandths;

//! Drawings as SVG, in black on white: what a line means is said by its stroke, its marks and words beside it, never by a
//! colour. The same data give the same bytes.
//!
//! Leaves to others: what is drawn, in thousandths; only the places on the page are computed in floats.

mod courses;
mod curve;
mod torque;

pub(super) use courses::{Course, Load, courses};
pub(super) use curve::curve;
pub(super) use torque::{Told, torque};

use crate::failure::Failure;
use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea as _};
use plotters::style::{BLACK, Color as _, IntoFont as _, ShapeStyle, TextStyle, WHITE};
use std::fmt::Display;

/// A part of the page.
pub(crate) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// Sizes of text, in px.
const TITLE_PX: u32 = 22;
const AXIS_PX: u32 = 17;
const NOTE_PX: u32 = 16;

/// A page of a size in px, white, with what is drawn on it.
pub(crate) fn page(
    size: (u32, u32),
    draw: impl FnOnce(&Area<'_>) -> Result<(), Failure>,
) -> Result<String, Failure> {
    let mut svg = String::new();
    {
        let area = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        area.fill(&WHITE).map_err(failed)?;
        draw(&area)?;
        area.present().map_err(failed)?;
    }
    Ok(svg)
}

/// Whatever the drawing library says. It draws into memory, so it has nothing to say.
pub(crate) fn failed(error: impl Display) -> Failure {
    Failure::Draw(error.to_string())
}

pub(crate) fn text(size_px: u32) -> TextStyle<'static> {
    ("sans-serif", size_px).into_font().color(&BLACK)
}

pub(crate) fn stroke(width: u32) -> ShapeStyle {
    BLACK.stroke_width(width)
}

/// The lines of a grid: so faint that they cannot be taken for what is drawn.
pub(crate) fn grid() -> ShapeStyle {
    BLACK.mix(0.12).stroke_width(1)
}

/// Thousandths as a place on the page.
#[allow(
    clippy::cast_precision_loss,
    reason = "a place on a page, of a number below 1e9"
)]
fn real(thousandths: i64) -> f64 {
    thousandths as f64 / 1000.0
}

/// The end of an axis that has room above what is drawn on it.
fn end_of(largest: f64) -> f64 {
    if largest > 0.0 { largest * 1.15 } else { 1.0 }
}

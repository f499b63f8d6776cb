//! `rungwise band`: what a band pulls with, what an exercise then asks at every angle, and a course of loads beside another.
//!
//! Leaves to others: the mechanics (`rungwise-bands`), and which load is prescribed (`rungwise-engine`).

pub(crate) mod args;
mod compare;
pub(crate) mod drawing;
mod fit;
mod number;
pub(crate) mod points;
mod show;

use crate::Answer;
use crate::failure::Failure;
use crate::input;
use crate::screen::Screen;
use args::{BandCommand, BandOf};
use points::Points;
use rungwise_bands::band::Band;
use std::path::Path;

/// Does what is asked about bands.
pub(crate) fn run(command: &BandCommand, screen: &mut Screen) -> Result<Answer, Failure> {
    match command {
        BandCommand::Fit(args) => fit::run(args, screen),
        BandCommand::Show(args) => show::run(args, screen),
        BandCommand::Compare(args) => compare::run(args, screen),
    }
}

/// The readings of a file, and the band that they make.
fn read(path: &Path, of: &BandOf, rest_length_mm: u32) -> Result<(Points, Band), Failure> {
    let text = input::text_of(path)?;
    let points =
        Points::read(&text, of.rest_length_mm).map_err(|mistakes| Failure::PointsRefused {
            path: path.to_owned(),
            mistakes,
        })?;
    let label = path
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned())
        .unwrap_or_default();
    let safe_mpct = match &of.elongation_max_pct {
        Some(percent) => percent.0,
        None => points.curve.last_elongation_mpct(),
    };
    let band = Band::new(label, rest_length_mm, points.curve.clone(), safe_mpct)?;
    Ok((points, band))
}

/// Writes a drawing and says where it is.
fn keep(svg: &str, path: &Path, screen: &mut Screen) -> Result<(), Failure> {
    std::fs::write(path, svg).map_err(|cause| Failure::Write {
        path: path.to_owned(),
        cause,
    })?;
    screen.remark(&format!("drawn in {}", path.display()));
    Ok(())
}

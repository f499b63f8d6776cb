//! The command line of `rungwise band`.
//!
//! Leaves to others: doing what is asked.

use clap::{Args, Subcommand};
use rungwise_pack::decimal;
use std::path::PathBuf;
use std::str::FromStr;

/// A decimal number of the command line in whole thousandths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Thousandths(pub(crate) i64);

impl FromStr for Thousandths {
    type Err = decimal::DecimalError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        decimal::parse(text).map(|number| Self(number.0))
    }
}

/// `rungwise band …`.
#[derive(Subcommand, Debug)]
pub(crate) enum BandCommand {
    /// Calibrate a band: the curve through readings of a hanging scale, their spread, and how far it may be stretched.
    #[command(after_help = "\
Examples:
  rungwise band fit POINTS.csv --rest-length-mm 1000
  rungwise band fit POINTS.csv --rest-length-mm 1000 --elongation-max-pct 180 --svg curve.svg

The file has a header that names its two columns with their units, then a line for each reading:
  elongation [%],force [N]      or      length [mm],force [kgf]
  50,8.2                                1500,0.84
Lines that begin with # are remarks. Read every elongation two or three times, and the spread is known; readings at one
elongation alone give a neo-Hookean strip. Nothing is assumed beyond the last reading.")]
    Fit(FitArgs),
    /// Show force and torque through the range of an exercise, with one band held in one way.
    #[command(after_help = "\
Examples:
  rungwise band show --pack DIR --exercise KEY --height-mm 1720 --points POINTS.csv --rest-length-mm 1000 --stance-mm 1500
  rungwise band show … --cut-mm 1800 --strands 2 --range 60 --svg torque.svg

An exercise with an anchor takes `--stance-mm`; one with the band under the foot or between the hands takes
`--working-length-mm`. Exit code 1 means that the band cannot be held so: it is slack or stretched too far, and what would
be allowed is said.")]
    Show(Box<ShowArgs>),
    /// Compare two courses of loads, step by step.
    #[command(after_help = "\
Examples:
  rungwise band compare COURSES.toml
  rungwise band compare COURSES.toml --svg courses.svg

The file:
  title = \"Inward turn\"
  until = \"2026-04-30\"

  [[course]]
  name = \"by distance, and then by band\"
  loads = [
    { from = \"2026-04-01\", torque_mnm = 1500, note = \"roll a\" },
    { from = \"2026-04-05\", torque_mnm = 1620 },
  ]
and another `[[course]]`. Loads are in thousandths of a N.m, by rising date; a note says what else is new.")]
    Compare(CompareArgs),
}

/// A band of which readings are in a file.
#[derive(Args, Debug)]
pub(crate) struct BandOf {
    /// Length in mm, when nothing pulls, of what the readings were taken with.
    #[arg(long, value_name = "MM")]
    pub(crate) rest_length_mm: u32,
    /// How far it may be stretched, in percent. [default: the last reading]
    #[arg(long, value_name = "PERCENT")]
    pub(crate) elongation_max_pct: Option<Thousandths>,
}

/// What comes out of either command.
#[derive(Args, Debug)]
pub(crate) struct Shown {
    /// Print JSON: whole numbers, each with its unit in its name.
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw it, too (SVG).
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
}

/// `rungwise band fit`.
#[derive(Args, Debug)]
pub(crate) struct FitArgs {
    /// Readings of a hanging scale (CSV).
    #[arg(value_name = "POINTS")]
    pub(crate) points: PathBuf,
    #[command(flatten)]
    pub(crate) band: BandOf,
    #[command(flatten)]
    pub(crate) shown: Shown,
}

/// `rungwise band show`.
#[derive(Args, Debug)]
pub(crate) struct ShowArgs {
    /// The rule pack's folder. [default: of the packs that came with the program, the one that has the exercise]
    #[arg(long, value_name = "DIR")]
    pub(crate) pack: Option<PathBuf>,
    /// The exercise, by its key in the pack.
    #[arg(long, value_name = "KEY")]
    pub(crate) exercise: String,
    /// The person's standing height in mm; segments are taken from it by published ratios.
    #[arg(long, value_name = "MM")]
    pub(crate) height_mm: i64,
    /// The person's mass in kg, where the limb's weight is to be counted.
    #[arg(long, value_name = "KG")]
    pub(crate) mass_kg: Option<Thousandths>,
    /// Readings of a hanging scale (CSV), as in `rungwise band fit`.
    #[arg(long, value_name = "FILE")]
    pub(crate) points: PathBuf,
    #[command(flatten)]
    pub(crate) band: BandOf,
    /// Length in mm of the piece that is used, where it is another than was read.
    #[arg(long, value_name = "MM")]
    pub(crate) cut_mm: Option<u32>,
    /// Distance from the anchor in mm.
    #[arg(long, value_name = "MM")]
    pub(crate) stance_mm: Option<u32>,
    /// How short the band is held: rest length of each strand in mm. [default: the exercise's, else all that there is]
    #[arg(long, value_name = "MM")]
    pub(crate) working_length_mm: Option<u32>,
    /// 2 where the band is folded over its middle.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) strands: u8,
    /// How far the motion goes from its start, in degrees. [default: the exercise's, or the widest of its ladder]
    #[arg(long, value_name = "DEG")]
    pub(crate) range: Option<Thousandths>,
    /// How many angles the table has, at equal distances. [default: one every 10 degrees, or 11]
    #[arg(long, value_name = "N")]
    pub(crate) angles: Option<u16>,
    #[command(flatten)]
    pub(crate) shown: Shown,
}

/// `rungwise band compare`.
#[derive(Args, Debug)]
pub(crate) struct CompareArgs {
    /// Two courses of loads (TOML).
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) shown: Shown,
}

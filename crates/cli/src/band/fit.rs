//! `rungwise band fit`: a band calibrated from readings of a hanging scale.

use super::args::FitArgs;
use super::number::{away, up};
use super::points::Points;
use super::{drawing, keep, read};
use crate::Answer;
use crate::failure::Failure;
use crate::screen::{Screen, bold};
use rungwise_bands::band::{Band, length_at};
use rungwise_bands::curve::{Kind, Knot, Residual};
use rungwise_bands::thousandths::Shown;
use serde_json::{Value, json};

/// From one line of the table of the curve to the next, in thousandths of a percent.
const STEP_MPCT: usize = 25_000;

/// Reads the points and prints what they say of the band.
pub(crate) fn run(args: &FitArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let (points, band) = read(&args.points, &args.band, args.band.rest_length_mm)?;
    let fit = Fit {
        points: &points,
        band: &band,
    };
    if args.shown.json {
        screen.json(&fit.as_json())?;
    } else {
        screen.line(&fit.lines().join("\n"))?;
    }
    if let Some(path) = &args.shown.svg {
        keep(&drawing::curve(&band)?, path, screen)?;
    }
    Ok(Answer::Yes)
}

struct Fit<'a> {
    points: &'a Points,
    band: &'a Band,
}

impl Fit<'_> {
    fn residuals(&self) -> &[Residual] {
        self.band.curve.residuals()
    }

    /// The reading that stands furthest off the curve, with its line.
    fn furthest(&self) -> Option<(u64, &Residual)> {
        let lines = self.points.lines.iter().copied();
        lines
            .zip(self.residuals())
            .max_by_key(|(line, one)| (one.residual_mn.abs(), std::cmp::Reverse(*line)))
    }

    /// Root of the mean square of the readings' distances from the curve, in thousandths of a N, rounded up.
    fn typical_mn(&self) -> i64 {
        let square = |one: &Residual| u128::from(one.residual_mn.unsigned_abs()).pow(2);
        let sum: u128 = self.residuals().iter().map(square).sum();
        let count = self.residuals().len().max(1);
        let mean = sum.div_ceil(u128::try_from(count).unwrap_or(1));
        let root = mean.isqrt();
        let up = root + u128::from(root * root < mean);
        i64::try_from(up).unwrap_or(i64::MAX)
    }

    /// Elongations of the table of the curve: even steps as far as it may be stretched, and that.
    fn steps(&self) -> Vec<i64> {
        let safe_mpct = self.band.safe_mpct();
        let mut steps: Vec<i64> = (0..safe_mpct).step_by(STEP_MPCT).skip(1).collect();
        steps.push(safe_mpct);
        steps
    }

    /// All of it, for people.
    fn lines(&self) -> Vec<String> {
        let band = self.band;
        let knots = band.curve.knots();
        let shape = match band.curve.kind() {
            Kind::Cubic => "a monotone cubic through the mean at each elongation",
            Kind::Strip => "a neo-Hookean strip: the readings are at one elongation",
        };
        let mut lines = vec![
            format!(
                "Band {}: {} at {}, {} mm at rest",
                band.label,
                counted(self.residuals().len(), "reading"),
                counted(knots.len(), "elongation"),
                band.rest_length_mm
            ),
            format!("Curve: {shape}"),
            String::new(),
            bold("Readings"),
            "  elongation    length  readings    lowest      mean   highest  off the curve"
                .to_owned(),
        ];
        lines.extend(knots.iter().map(|knot| self.in_line(knot)));
        lines.extend(self.scatter());
        lines.extend([
            String::new(),
            bold("Curve"),
            "  elongation    length     force".to_owned(),
        ]);
        lines.extend(self.steps().into_iter().map(|mpct| {
            format!(
                "  {:>8} % {:>6} mm {:>7} N",
                Shown(mpct).to_string(),
                length_at(band.rest_length_mm, mpct),
                up(band.curve.force_mn(mpct).unwrap_or_default(), 2)
            )
        }));
        let why = if band.safe_mpct() == band.curve.last_elongation_mpct() {
            ": nothing is known beyond the last reading"
        } else {
            ""
        };
        lines.extend([
            String::new(),
            bold("Allowed"),
            format!(
                "  Stretch it to {} %, {} mm, and no further{why}.",
                Shown(band.safe_mpct()),
                length_at(band.rest_length_mm, band.safe_mpct()),
            ),
        ]);
        lines
    }

    /// How far the readings scatter, in words.
    fn scatter(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if let Some((line, one)) = self.furthest().filter(|(_, one)| one.residual_mn != 0) {
            lines.push(format!(
                "  Readings stand off the curve by {} N (root mean square); the furthest by {} N, in line {line}.",
                up(self.typical_mn(), 2),
                away(one.residual_mn, 2)
            ));
        }
        if self
            .band
            .curve
            .knots()
            .iter()
            .all(|knot| knot.readings == 1)
        {
            lines.push(
                "  Nothing was read twice: how far readings scatter is not known.".to_owned(),
            );
        }
        lines
    }

    fn in_line(&self, knot: &Knot) -> String {
        let at = self.residuals().iter();
        let off = at
            .filter(|one| one.measured.elongation_mpct == knot.elongation_mpct)
            .map(|one| one.residual_mn)
            .max_by_key(|off| off.abs());
        format!(
            "  {:>8} % {:>6} mm {:>9} {:>7} N {:>7} N {:>7} N {:>12} N",
            Shown(knot.elongation_mpct).to_string(),
            length_at(self.band.rest_length_mm, knot.elongation_mpct),
            knot.readings,
            up(knot.lowest_mn, 2),
            up(knot.force_mn, 2),
            up(knot.highest_mn, 2),
            away(off.unwrap_or_default(), 2)
        )
    }

    fn as_json(&self) -> Value {
        let band = self.band;
        let rest_mm = band.rest_length_mm;
        let kind = match band.curve.kind() {
            Kind::Cubic => "cubic",
            Kind::Strip => "strip",
        };
        let lines = self.points.lines.iter();
        json!({
            "label": band.label,
            "rest_length_mm": rest_mm,
            "kind": kind,
            "means": band.curve.knots().iter().map(|knot| json!({
                "elongation_mpct": knot.elongation_mpct,
                "length_mm": length_at(rest_mm, knot.elongation_mpct),
                "readings": knot.readings,
                "lowest_mn": knot.lowest_mn,
                "mean_mn": knot.force_mn,
                "highest_mn": knot.highest_mn,
            })).collect::<Vec<_>>(),
            "readings": lines.zip(self.residuals()).map(|(line, one)| json!({
                "line": line,
                "elongation_mpct": one.measured.elongation_mpct,
                "force_mn": one.measured.force_mn,
                "off_the_curve_mn": one.residual_mn,
            })).collect::<Vec<_>>(),
            "off_the_curve_mn_root_mean_square": self.typical_mn(),
            "curve": self.steps().into_iter().map(|mpct| json!({
                "elongation_mpct": mpct,
                "length_mm": length_at(rest_mm, mpct),
                "force_mn": band.curve.force_mn(mpct),
            })).collect::<Vec<_>>(),
            "elongation_mpct_max": band.safe_mpct(),
            "length_mm_max": length_at(rest_mm, band.safe_mpct()),
        })
    }
}

/// So many things, in words.
fn counted(count: usize, thing: &str) -> String {
    if count == 1 {
        format!("1 {thing}")
    } else {
        format!("{count} {thing}s")
    }
}

#[cfg(test)]
mod tests;

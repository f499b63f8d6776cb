//! The curve of a band: force over elongation, with readings and the spread of those that were repeated.

use super::{AXIS_PX, NOTE_PX, TITLE_PX, end_of, failed, grid, page, real, stroke, text};
use crate::failure::Failure;
use plotters::chart::ChartBuilder;
use plotters::element::{Circle, ErrorBar, Text};
use plotters::series::{DashedLineSeries, LineSeries};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use rungwise_bands::band::Band;
use rungwise_bands::curve::Knot;

const SIZE_PX: (u32, u32) = (800, 560);

/// Between how many places the curve is drawn.
const STEPS: i64 = 200;

/// Draws the curve of a band.
pub(crate) fn curve(band: &Band) -> Result<String, Failure> {
    let last_mpct = band.curve.last_elongation_mpct();
    let safe = real(band.safe_mpct());
    let line: Vec<(f64, f64)> = (0..=STEPS)
        .map(|step| last_mpct * step / STEPS)
        .filter_map(|mpct| Some((real(mpct), band.curve.force_n(real(mpct) / 100.0)?)))
        .collect();
    let readings = band.curve.residuals().iter().map(|one| one.measured);
    let highest = readings.clone().map(|one| one.force_mn).max();
    let top = end_of(real(highest.unwrap_or_default()));
    page(SIZE_PX, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(16)
            .caption(
                format!("Force of band {} by elongation", band.label),
                text(TITLE_PX),
            )
            .x_label_area_size(54)
            .y_label_area_size(70)
            .build_cartesian_2d(0.0..end_of(real(last_mpct)), 0.0..top)
            .map_err(failed)?;
        chart
            .configure_mesh()
            .x_desc("elongation, % of the rest length")
            .y_desc("force, N")
            .x_label_formatter(&|percent| format!("{percent:.0}"))
            .y_label_formatter(&|newtons| format!("{newtons:.0}"))
            .label_style(text(NOTE_PX))
            .axis_desc_style(text(AXIS_PX))
            .bold_line_style(grid())
            .light_line_style(plotters::style::TRANSPARENT)
            .draw()
            .map_err(failed)?;
        chart
            .draw_series(LineSeries::new(line, stroke(2)))
            .map_err(failed)?;
        let spread = band.curve.knots().iter().filter(|knot| knot.readings > 1);
        chart.draw_series(spread.map(bar)).map_err(failed)?;
        chart
            .draw_series(readings.map(|one| {
                let place = (real(one.elongation_mpct), real(one.force_mn));
                Circle::new(place, 3, stroke(1))
            }))
            .map_err(failed)?;
        chart
            .draw_series(DashedLineSeries::new(
                [(safe, 0.0), (safe, top)],
                6,
                5,
                stroke(1),
            ))
            .map_err(failed)?;
        let beside = text(NOTE_PX).pos(Pos::new(HPos::Right, VPos::Top));
        chart
            .draw_series([Text::new(
                "no further than this ",
                (safe, top * 0.99),
                beside,
            )])
            .map_err(failed)?;
        Ok(())
    })
}

/// From the lowest to the highest reading at one elongation.
fn bar(knot: &Knot) -> ErrorBar<f64, f64, plotters::element::ErrorBarOrientV<f64, f64>> {
    ErrorBar::new_vertical(
        real(knot.elongation_mpct),
        real(knot.lowest_mn),
        real(knot.force_mn),
        real(knot.highest_mn),
        stroke(1),
        20,
    )
}

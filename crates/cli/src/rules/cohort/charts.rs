//! The charts of a page, as SVG in black on white: stairs of who has come by which week, and hatched bars. What a line means is
//! said by its stroke and a name beside it, and every bar carries its number.
//!
//! Leaves to others: what is drawn (`super::page`), drawing as such (`plotters`).

use crate::band::drawing::{failed, grid, page, stroke, text};
use crate::failure::Failure;
use plotters::chart::ChartBuilder;
use plotters::element::{PathElement, Rectangle, Text};
use plotters::series::{DashedLineSeries, LineSeries};
use plotters::style::BLACK;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Sizes of text, in px.
const TITLE_PX: u32 = 17;
const NOTE_PX: u32 = 14;

/// A panel of stairs.
const PANEL_PX: (u32, u32) = (330, 250);
/// Most panels beside each other.
const PANELS_A_ROW: usize = 3;

/// A row of bars, and the room for its words.
const ROW_PX: i32 = 46;
const BAR_PX: i32 = 14;
const WIDTH_PX: u32 = 1000;
/// Longest bar.
const LONGEST_PX: i32 = 760;

/// How many had come by each day, as shares of all.
#[derive(Clone)]
pub(super) struct Stairs {
    /// By day, from 0: how many came that day.
    pub(super) by_day: Vec<u64>,
    /// Of how many.
    pub(super) people: u64,
}

/// Stairs of one phase, of one pack or of two.
pub(super) struct Panel {
    pub(super) title: String,
    pub(super) first: Stairs,
    pub(super) second: Option<Stairs>,
}

/// A share with its words, of one pack or of two.
pub(super) struct Bar {
    pub(super) words: String,
    /// In thousandths, and as told.
    pub(super) first: (u64, String),
    pub(super) second: Option<(u64, String)>,
}

impl Stairs {
    /// The corners, week by share in per cent.
    #[allow(
        clippy::cast_precision_loss,
        reason = "a place on a page, of a count below 1e8"
    )]
    fn corners(&self, weeks: u32) -> Vec<(f64, f64)> {
        let mut corners = vec![(0.0, 0.0)];
        let mut came = 0;
        let last = usize::try_from(weeks).unwrap_or(0) * 7;
        for day in 0..=last {
            let more = self.by_day.get(day).copied().unwrap_or(0);
            let week = day as f64 / 7.0;
            let share = |came: u64| came as f64 * 100.0 / self.people.max(1) as f64;
            if more > 0 {
                corners.push((week, share(came)));
                came += more;
                corners.push((week, share(came)));
            }
            if day == last {
                corners.push((week, share(came)));
            }
        }
        corners
    }
}

/// Panels beside and below each other, all on the same axes. A second pack's stairs are broken.
pub(super) fn stairs(panels: &[Panel], weeks: u32) -> Result<String, Failure> {
    let rows = panels.len().div_ceil(PANELS_A_ROW).max(1);
    let columns = panels.len().clamp(1, PANELS_A_ROW);
    let count = |count: usize| u32::try_from(count).unwrap_or(1);
    let size = (PANEL_PX.0 * count(columns), PANEL_PX.1 * count(rows));
    page(size, |area| {
        for (area, panel) in area.split_evenly((rows, columns)).iter().zip(panels) {
            let mut chart = ChartBuilder::on(area)
                .margin(8)
                .margin_right(16)
                .caption(&panel.title, text(TITLE_PX))
                .x_label_area_size(40)
                .y_label_area_size(48)
                .build_cartesian_2d(0.0..f64::from(weeks), 0.0..104.0)
                .map_err(failed)?;
            chart
                .configure_mesh()
                .x_labels(6)
                .y_labels(5)
                .x_desc("week")
                .y_desc("% of all")
                .x_label_formatter(&|week| format!("{week:.0}"))
                .y_label_formatter(&|percent| format!("{percent:.0}"))
                .label_style(text(NOTE_PX))
                .axis_desc_style(text(NOTE_PX))
                .bold_line_style(grid())
                .light_line_style(plotters::style::TRANSPARENT)
                .draw()
                .map_err(failed)?;
            chart
                .draw_series(LineSeries::new(panel.first.corners(weeks), stroke(2)))
                .map_err(failed)?;
            if let Some(second) = &panel.second {
                let line = DashedLineSeries::new(second.corners(weeks), 5, 4, stroke(2));
                chart.draw_series(line).map_err(failed)?;
            }
        }
        Ok(())
    })
}

/// Bars below each other, each under its words and beside its number: the first pack's hatched, the second's empty.
pub(super) fn bars(bars: &[Bar]) -> Result<String, Failure> {
    let two = bars.iter().any(|bar| bar.second.is_some());
    let row_px = if two { ROW_PX + BAR_PX + 4 } else { ROW_PX };
    let longest = bars.iter().flat_map(|bar| {
        let second = bar.second.iter().map(|(permille, _)| *permille);
        std::iter::once(bar.first.0).chain(second)
    });
    let longest = i64::try_from(longest.max().unwrap_or(0))
        .unwrap_or(0)
        .max(1);
    let rows = i32::try_from(bars.len().max(1)).unwrap_or(1);
    let size = (WIDTH_PX, u32::try_from(rows * row_px + 8).unwrap_or(0));
    page(size, |area| {
        for (bar, row) in bars.iter().zip(0..) {
            let top = 4 + row * row_px;
            let words = Text::new(bar.words.clone(), (8, top), text(NOTE_PX));
            area.draw(&words).map_err(failed)?;
            let told = std::iter::once((&bar.first, true))
                .chain(bar.second.iter().map(|second| (second, false)));
            for (((permille, number), hatched), at) in told.zip(0..) {
                let top = top + 19 + at * (BAR_PX + 4);
                let share = i64::try_from(*permille).unwrap_or(0);
                let px = i64::from(LONGEST_PX) * share / longest;
                let right = 8 + i32::try_from(px).unwrap_or(LONGEST_PX).max(1);
                let corners = [(8, top), (right, top + BAR_PX)];
                if hatched {
                    for line in hatching(corners) {
                        area.draw(&PathElement::new(line, stroke(1)))
                            .map_err(failed)?;
                    }
                }
                area.draw(&Rectangle::new(corners, BLACK)).map_err(failed)?;
                let beside = text(NOTE_PX).pos(Pos::new(HPos::Left, VPos::Center));
                let place = (right + 8, top + BAR_PX / 2);
                area.draw(&Text::new(number.clone(), place, beside))
                    .map_err(failed)?;
            }
        }
        Ok(())
    })
}

/// Slanting lines across a rectangle, cut off at its sides.
fn hatching([(left, top), (right, bottom)]: [(i32, i32); 2]) -> Vec<[(i32, i32); 2]> {
    const APART_PX: usize = 6;
    let high = bottom - top;
    let from = (left - high..right).step_by(APART_PX);
    let lines = from.map(|x| {
        // From below left to above right, one px to the side for each up.
        let low = (x.max(left), bottom - (x.max(left) - x));
        let up = (x + high).min(right);
        [low, (up, bottom - (up - x))]
    });
    lines.filter(|[low, up]| low.0 < up.0).collect()
}

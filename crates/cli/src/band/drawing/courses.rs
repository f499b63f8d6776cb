//! Courses of loads beside each other, as stairs with the height of every step in percent.

use super::{AXIS_PX, NOTE_PX, TITLE_PX, end_of, failed, grid, page, real, stroke, text};
use crate::band::number::change;
use crate::failure::Failure;
use jiff::civil::Date;
use plotters::backend::SVGBackend;
use plotters::chart::{ChartBuilder, ChartContext, SeriesLabelPosition};
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::{RangedCoordf64, RangedCoordi64};
use plotters::element::{Circle, EmptyElement, PathElement, Text, TriangleMarker};
use plotters::series::{DashedLineSeries, LineSeries};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{BLACK, WHITE};

const SIZE_PX: (u32, u32) = (1000, 620);

/// Size of the text that says how high a step is, in px.
const STEP_PX: u32 = 14;

/// A load from a date on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Load {
    /// From when.
    pub(crate) from: Date,
    /// Torque in thousandths of a N.m.
    pub(crate) torque_mnm: i64,
    /// What is new about it, where that is more than the load: another band.
    pub(crate) note: Option<String>,
}

/// Loads by rising date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Course {
    /// How it was dosed.
    pub(crate) name: String,
    /// The loads.
    pub(crate) loads: Vec<Load>,
}

impl Course {
    /// How high the step to each load is, in percent; none for the first.
    pub(crate) fn steps(&self) -> impl Iterator<Item = Option<String>> {
        let before = std::iter::once(None).chain(self.loads.iter().map(Some));
        self.loads
            .iter()
            .zip(before)
            .map(|(load, before)| before.map(|before| change(before.torque_mnm, load.torque_mnm)))
    }
}

type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordi64, RangedCoordf64>>;

/// Draws two courses: the first as a whole line with dots, the second broken with triangles. Both end on the date `until`.
pub(crate) fn courses(
    title: &str,
    [first, second]: [&Course; 2],
    until: Date,
) -> Result<String, Failure> {
    let loads = || first.loads.iter().chain(&second.loads);
    let begin = loads().map(|load| load.from).min().unwrap_or(until);
    let highest = loads().map(|load| load.torque_mnm).max();
    let days = day(begin, until).max(1);
    let date = |days: &i64| {
        let date = begin.checked_add(jiff::Span::new().days(*days));
        date.map_or_else(|_| String::new(), |date| date.to_string())
    };
    page(SIZE_PX, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(16)
            .margin_right(56)
            .caption(title, text(TITLE_PX))
            .x_label_area_size(54)
            .y_label_area_size(74)
            .build_cartesian_2d(-1..days + 1, 0.0..end_of(real(highest.unwrap_or_default())))
            .map_err(failed)?;
        chart
            .configure_mesh()
            .x_desc("date of the prescription")
            .y_desc("load at the joint, N.m")
            .x_labels(7)
            .x_label_formatter(&date)
            .y_label_formatter(&|torque| format!("{torque:.1}"))
            .label_style(text(NOTE_PX))
            .axis_desc_style(text(AXIS_PX))
            .bold_line_style(grid())
            .light_line_style(plotters::style::TRANSPARENT)
            .draw()
            .map_err(failed)?;
        whole(&mut chart, first, begin, days)?;
        broken(&mut chart, second, begin, days)?;
        chart
            .configure_series_labels()
            .position(SeriesLabelPosition::UpperLeft)
            .label_font(text(NOTE_PX))
            .border_style(BLACK)
            .background_style(WHITE)
            .legend_area_size(44)
            .margin(8)
            .draw()
            .map_err(failed)
    })
}

/// The first course: a whole line, a dot on each load, the height of the step below it.
fn whole<'a, 'b: 'a>(
    chart: &mut Chart<'a, 'b>,
    course: &Course,
    begin: Date,
    days: i64,
) -> Result<(), Failure> {
    chart
        .draw_series(LineSeries::new(stairs(course, begin, days), stroke(2)))
        .map_err(failed)?
        .label(course.name.clone())
        .legend(|(x, y)| {
            EmptyElement::at((x, y))
                + PathElement::new([(0, 0), (36, 0)], stroke(2))
                + Circle::new((18, 0), 4, stroke(1).filled())
        });
    let style = text(STEP_PX).pos(Pos::new(HPos::Left, VPos::Top));
    chart
        .draw_series(marks(course, begin).map(|(place, said, _)| {
            EmptyElement::at(place)
                + Circle::new((0, 0), 4, stroke(1).filled())
                + Text::new(said, (5, 6), style.clone())
        }))
        .map_err(failed)?;
    Ok(())
}

/// The second course: a broken line, a triangle on each load, the height of the step above it.
fn broken<'a, 'b: 'a>(
    chart: &mut Chart<'a, 'b>,
    course: &Course,
    begin: Date,
    days: i64,
) -> Result<(), Failure> {
    chart
        .draw_series(DashedLineSeries::new(
            stairs(course, begin, days),
            7,
            5,
            stroke(2),
        ))
        .map_err(failed)?
        .label(course.name.clone())
        .legend(|(x, y)| {
            EmptyElement::at((x, y))
                + PathElement::new([(0, 0), (8, 0)], stroke(2))
                + PathElement::new([(28, 0), (36, 0)], stroke(2))
                + TriangleMarker::new((18, 0), 7, stroke(1).filled())
        });
    chart
        .draw_series(marks(course, begin).map(|(place, said, is_first)| {
            // Left of the first load there is no room.
            let (side, shift) = if is_first {
                (HPos::Left, 5)
            } else {
                (HPos::Right, -6)
            };
            let style = text(STEP_PX).pos(Pos::new(side, VPos::Bottom));
            EmptyElement::at(place)
                + TriangleMarker::new((0, 0), 7, stroke(1).filled())
                + Text::new(said, (shift, -6), style)
        }))
        .map_err(failed)?;
    Ok(())
}

/// Days from one date to another.
fn day(begin: Date, date: Date) -> i64 {
    let span = begin.until(date);
    span.map_or(0, |span| i64::from(span.get_days()))
}

/// The line of a course: level until the next load, then straight up or down, level until the end.
fn stairs(course: &Course, begin: Date, days: i64) -> Vec<(i64, f64)> {
    let mut line = Vec::with_capacity(2 * course.loads.len() + 1);
    let mut level = None;
    for load in &course.loads {
        let at = day(begin, load.from);
        line.extend(level.map(|level| (at, level)));
        line.push((at, real(load.torque_mnm)));
        level = Some(real(load.torque_mnm));
    }
    line.extend(level.map(|level| (days, level)));
    line
}

/// Where each load begins, with how high the step to it is and what is new.
fn marks(course: &Course, begin: Date) -> impl Iterator<Item = ((i64, f64), String, bool)> {
    course
        .loads
        .iter()
        .zip(course.steps())
        .map(move |(load, step)| {
            let place = (day(begin, load.from), real(load.torque_mnm));
            let is_first = step.is_none();
            let said = [step, load.note.clone()].into_iter().flatten();
            (place, said.collect::<Vec<_>>().join(", "), is_first)
        })
}

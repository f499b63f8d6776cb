//! Force of a band and torque at the joint, over the range of an exercise.

use super::{AXIS_PX, Area, NOTE_PX, TITLE_PX, end_of, failed, grid, page, real, stroke, text};
use crate::band::number::{down, up};
use crate::failure::Failure;
use plotters::backend::SVGBackend;
use plotters::chart::{ChartBuilder, ChartContext};
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::element::{Circle, EmptyElement, Text};
use plotters::series::{DashedLineSeries, LineSeries};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use rungwise_bands::profile::{Point, Profile};

const SIZE_PX: (u32, u32) = (800, 820);

/// What is drawn.
pub(crate) struct Told<'a> {
    /// What it is called.
    pub(crate) title: &'a str,
    /// Every angle.
    pub(crate) profile: &'a Profile,
    /// What there is at the angle at which the exercise's loads are stated.
    pub(crate) stated: &'a Point,
}

type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Draws force and torque over the angle.
pub(crate) fn torque(told: &Told<'_>) -> Result<String, Failure> {
    page(SIZE_PX, |area| {
        let (head, rest) = area.margin(10, 0, 0, 0).split_vertically(44);
        head.titled(told.title, text(TITLE_PX)).map_err(failed)?;
        let (upper, lower) = rest.split_vertically(350);
        force_over_angle(told, &upper)?;
        torque_over_angle(told, &lower)
    })
}

fn force_over_angle(told: &Told<'_>, area: &Area<'_>) -> Result<(), Failure> {
    let line = line(told.profile, |point| Some(point.force_mn));
    let mut chart = chart(told, area, &[&line], "force of the band, N", "")?;
    chart
        .draw_series(LineSeries::new(line.iter().copied(), stroke(2)))
        .map_err(failed)?;
    let summary = &told.profile.summary;
    let ends = [
        (
            line.first(),
            (HPos::Left, VPos::Top),
            down(summary.start_mn, 1),
            "start",
        ),
        (
            line.last(),
            (HPos::Right, VPos::Bottom),
            up(summary.end_mn, 1),
            "end",
        ),
    ];
    for (place, side, newtons, word) in ends {
        if let Some(place) = place {
            mark(&mut chart, *place, side, format!("{word} {newtons} N"))?;
        }
    }
    Ok(())
}

fn torque_over_angle(told: &Told<'_>, area: &Area<'_>) -> Result<(), Failure> {
    let band = line(told.profile, |point| Some(point.band_mnm));
    let differs = |point: &Point| point.limb_mnm.is_some_and(|limb| limb != 0);
    let limb_counts = told.profile.points.iter().any(differs);
    let whole = if limb_counts {
        line(told.profile, |point| point.whole_mnm)
    } else {
        Vec::new()
    };
    let mut chart = chart(told, area, &[&band, &whole], "torque, N.m", "angle, deg")?;
    chart
        .draw_series(LineSeries::new(band.iter().copied(), stroke(2)))
        .map_err(failed)?;
    let summary = &told.profile.summary;
    let peak = &summary.band;
    let place = (real(peak.peak_at_mdeg), real(peak.peak_mnm));
    let note = format!(
        "peak {} N.m at {} deg",
        up(peak.peak_mnm, 2),
        up(peak.peak_at_mdeg, 0)
    );
    let side = (towards(told, peak.peak_at_mdeg), VPos::Bottom);
    mark(&mut chart, place, side, note)?;
    if let Some(last) = whole.last() {
        chart
            .draw_series(DashedLineSeries::new(whole.clone(), 8, 5, stroke(2)))
            .map_err(failed)?;
        mark(
            &mut chart,
            *last,
            (HPos::Right, VPos::Bottom),
            "with the limb's weight".to_owned(),
        )?;
    }
    let stated = (real(told.stated.at_mdeg), real(told.stated.band_mnm));
    chart
        .draw_series(DashedLineSeries::new(
            [(stated.0, 0.0), stated],
            3,
            4,
            stroke(1),
        ))
        .map_err(failed)?;
    let note = format!("stated {} N.m ", up(told.stated.band_mnm, 2));
    let style = text(NOTE_PX).pos(Pos::new(towards(told, told.stated.at_mdeg), VPos::Bottom));
    chart
        .draw_series([EmptyElement::at((stated.0, 0.0)) + Text::new(note, (4, -6), style)])
        .map_err(failed)?;
    Ok(())
}

/// On which side of a place its words have room.
fn towards(told: &Told<'_>, at_mdeg: i64) -> HPos {
    let points = &told.profile.points;
    let ends = points.first().zip(points.last());
    match ends {
        Some((first, last)) if 2 * at_mdeg > first.at_mdeg + last.at_mdeg => HPos::Right,
        _ => HPos::Left,
    }
}

fn line(profile: &Profile, of: impl Fn(&Point) -> Option<i64>) -> Vec<(f64, f64)> {
    profile
        .points
        .iter()
        .filter_map(|point| Some((real(point.at_mdeg), real(of(point)?))))
        .collect()
}

/// Axes around lines.
fn chart<'a, 'b>(
    told: &Told<'_>,
    area: &'a Area<'b>,
    lines: &[&Vec<(f64, f64)>],
    y_desc: &str,
    x_desc: &str,
) -> Result<Chart<'a, 'b>, Failure> {
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    for (_, value) in lines.iter().copied().flatten() {
        low = low.min(*value);
        high = high.max(*value);
    }
    let low = if low < 0.0 { -end_of(-low) } else { 0.0 };
    let points = &told.profile.points;
    let at = |point: Option<&Point>| point.map_or(0.0, |point| real(point.at_mdeg));
    let mut chart = ChartBuilder::on(area)
        .margin(16)
        .x_label_area_size(50)
        .y_label_area_size(70)
        .build_cartesian_2d(at(points.first())..at(points.last()), low..end_of(high))
        .map_err(failed)?;
    chart
        .configure_mesh()
        .x_desc(x_desc)
        .y_desc(y_desc)
        .x_label_formatter(&|degrees| format!("{degrees:.0}"))
        .label_style(text(NOTE_PX))
        .axis_desc_style(text(AXIS_PX))
        .bold_line_style(grid())
        .light_line_style(plotters::style::TRANSPARENT)
        .draw()
        .map_err(failed)?;
    Ok(chart)
}

/// A dot with words beside it.
fn mark(
    chart: &mut Chart<'_, '_>,
    place: (f64, f64),
    (side, level): (HPos, VPos),
    note: String,
) -> Result<(), Failure> {
    let shift = match side {
        HPos::Right => -6,
        HPos::Left | HPos::Center => 6,
    };
    let fall = if matches!(level, VPos::Top) { 8 } else { -8 };
    let style = text(NOTE_PX).pos(Pos::new(side, level));
    chart
        .draw_series([EmptyElement::at(place)
            + Circle::new((0, 0), 4, stroke(1).filled())
            + Text::new(note, (shift, fall), style)])
        .map_err(failed)?;
    Ok(())
}

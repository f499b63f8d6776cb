//! The course at a glance: phases from left to right in order of care, and under each the exercises that it has, line by line,
//! the gentlest first.
//!
//! Leaves to others: rules and ladders (`blocks`).

use super::part::{Edge, Part, Share};
use super::said::{Chart, LineSaid};
use super::sheets::{BODY_MM, GAP_MM, HEAD_MM, INNER_MM, NOTE_MM};

/// Width of the column with the lines' names.
const NAMES_MM: f32 = 56.0;
/// Free on both sides of a bar, so that bars of neighbouring phases do not touch.
const BETWEEN_MM: f32 = 2.0;

/// Size of the exercises' names.
const BAR_MM: f32 = 4.8;

/// The head of the sheet, and a row for each line.
pub(super) fn overview(chart: &Chart) -> (Part, Vec<Part>) {
    let width = phase_mm(chart);
    let cell = |part: Part| {
        Part::column(0.0, vec![part])
            .edge(Edge::Bare, (BETWEEN_MM, 0.0))
            .share(Share::Mm(width))
    };
    let of = chart.phases.len();
    let heads = chart.phases.iter().enumerate();
    let heads = heads.map(|(at, phase)| cell(phase_head(at, of, &phase.key)));
    let aims = chart.phases.iter().map(|phase| {
        let mut said = vec![Part::text(&*phase.aim, BODY_MM)];
        said.extend(phase.pace.iter().map(|pace| Part::bold(&**pace, NOTE_MM)));
        cell(Part::column(1.0, said))
    });
    let scope = Part::text(&*chart.scope, NOTE_MM);
    let head = Part::column(
        GAP_MM,
        vec![
            scope,
            row(Part::text("", BODY_MM), heads.collect()),
            row(
                Part::text(
                    "Which exercise is of which phase. In each line the gentlest comes first.",
                    NOTE_MM,
                ),
                aims.collect(),
            ),
        ],
    );
    let rows = chart.lines.iter().map(|line| line_row(chart, line, width));
    (head, rows.collect())
}

/// A phase's number and key.
pub(super) fn phase_head(at: usize, of: usize, key: &str) -> Part {
    let parts = vec![
        Part::text(format!("phase {} of {of}", at + 1), NOTE_MM),
        Part::bold(key, HEAD_MM),
    ];
    let edge = if at + 1 < of {
        Edge::Arrow
    } else {
        Edge::Thick
    };
    Part::column(0.5, parts).edge(edge, (3.0, 2.0))
}

#[allow(clippy::cast_precision_loss, reason = "a few phases")]
fn phase_mm(chart: &Chart) -> f32 {
    (INNER_MM - NAMES_MM) / chart.phases.len().max(1) as f32
}

fn row(name: Part, cells: Vec<Part>) -> Part {
    let mut parts = vec![name.share(Share::Mm(NAMES_MM))];
    parts.extend(cells);
    Part::row(0.0, parts)
}

/// A line: each exercise as a bar under the phases that have it. Bars that are under no phase together share a row.
fn line_row(chart: &Chart, line: &LineSaid, width: f32) -> Part {
    let mut rows: Vec<(usize, Vec<Part>)> = Vec::new();
    for exercise in &line.exercises {
        let runs = runs(&exercise.phases);
        let Some((first, _)) = runs.first() else {
            continue;
        };
        let free = rows.iter().position(|(end, _)| end <= first);
        let at = free.unwrap_or_else(|| {
            rows.push((0, Vec::new()));
            rows.len() - 1
        });
        for (from, to) in runs {
            if let Some((end, cells)) = rows.get_mut(at) {
                cells.push(space(from.saturating_sub(*end), width));
                cells.push(bar(&exercise.name, times(to - from, width)));
                *end = to;
            }
        }
    }
    let rows = rows.into_iter().map(|(_, cells)| Part::row(0.0, cells));
    let rows = Part::column(1.6, rows.collect());
    let of_phases = times(chart.phases.len(), width);
    row(
        Part::bold(&*line.key, BAR_MM),
        vec![rows.share(Share::Mm(of_phases))],
    )
    .edge(Edge::Above, (0.0, 2.2))
}

fn bar(name: &str, width: f32) -> Part {
    let bar = Part::column(0.0, vec![Part::bold(name, BAR_MM)]).edge(Edge::Thin, (2.0, 1.4));
    Part::column(0.0, vec![bar])
        .edge(Edge::Bare, (BETWEEN_MM, 0.0))
        .share(Share::Mm(width))
}

fn space(phases: usize, width: f32) -> Part {
    Part::column(0.0, Vec::new()).share(Share::Mm(times(phases, width)))
}

#[allow(clippy::cast_precision_loss, reason = "a few phases")]
fn times(phases: usize, width: f32) -> f32 {
    phases as f32 * width
}

/// Neighbouring indexes together, each run as its first and one past its last.
fn runs(at: &[usize]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &at in at {
        match runs.last_mut() {
            Some((_, end)) if *end == at => *end += 1,
            _ => runs.push((at, at + 1)),
        }
    }
    runs
}

//! A chart as sheets for a wall: what stands on each, and where a sheet ends. All lengths are in mm.
//!
//! Sheets are A3 across. Nothing is cut: what does not fit goes on to the next sheet, and a single part that is higher than a
//! sheet makes that sheet higher.
//!
//! Leaves to others: what is said (`said`), single parts (`blocks`, `overview`), where these come to stand (`part`).

use super::blocks::{Block, blocks_of, card, heading, line_heading};
use super::overview::overview;
use super::part::{Edge, Part, Placed, Share, height_mm, place};
use super::said::Chart;
use crate::failure::Failure;
use std::collections::VecDeque;

/// A3 across.
pub(super) const SHEET_MM: (f32, f32) = (420.0, 297.0);
/// Free at every edge, for printers and pins.
const MARGIN_MM: f32 = 12.0;
/// Width inside the margins.
pub(super) const INNER_MM: f32 = SHEET_MM.0 - 2.0 * MARGIN_MM;
/// Between columns and between blocks.
pub(super) const GAP_MM: f32 = 4.0;
/// Most columns that can still be read from a metre.
const COLUMNS_MAX: usize = 4;

/// Sizes of text. At a metre, letters of 4 mm are twice as high as an eye needs.
pub(super) const TITLE_MM: f32 = 8.0;
pub(super) const HEAD_MM: f32 = 5.5;
pub(super) const BODY_MM: f32 = 4.0;
pub(super) const NOTE_MM: f32 = 3.4;

/// A sheet.
#[derive(Debug)]
pub(super) struct Sheet {
    /// Width and height.
    pub(super) size_mm: (f32, f32),
    /// What stands on it.
    pub(super) placed: Placed,
}

/// What stands on one sheet before it is numbered.
struct Content {
    heading: String,
    parts: Vec<Part>,
}

/// Every sheet of a chart.
pub(super) fn sheets(chart: &Chart) -> Result<Vec<Sheet>, Failure> {
    let mut contents = Vec::new();
    course(chart, &mut contents)?;
    phases(chart, &mut contents)?;
    if !chart.always.is_empty() {
        let blocks = blocks_of(&chart.always);
        newspaper(chart, "In every phase", blocks, &mut contents)?;
    }
    referrals(chart, &mut contents)?;
    lines(chart, &mut contents)?;
    let of = contents.len();
    let numbered = contents.into_iter().enumerate();
    numbered
        .map(|(at, content)| sheet(chart, &content, at + 1, of))
        .collect()
}

/// How the sheet begins.
fn top(chart: &Chart, heading: &str, number: &str) -> Part {
    Part::column(
        1.0,
        vec![
            Part::row(
                GAP_MM,
                vec![
                    Part::bold(heading, TITLE_MM).share(Share::Of(1.0)),
                    Part::text(number, NOTE_MM),
                ],
            ),
            Part::row(
                GAP_MM,
                vec![
                    Part::text(&*chart.title, BODY_MM).share(Share::Of(1.0)),
                    Part::text(&*chart.identity, NOTE_MM),
                ],
            ),
        ],
    )
}

fn sheet(chart: &Chart, content: &Content, number: usize, of: usize) -> Result<Sheet, Failure> {
    let mut parts = vec![top(
        chart,
        &content.heading,
        &format!("sheet {number} of {of}"),
    )];
    parts.extend(content.parts.iter().cloned());
    let whole = Part::column(GAP_MM, parts).edge(Edge::Bare, (MARGIN_MM, MARGIN_MM));
    let placed = place(&whole, SHEET_MM.0)?;
    Ok(Sheet {
        size_mm: (SHEET_MM.0, placed.height_mm().max(SHEET_MM.1)),
        placed,
    })
}

/// The height that is left on a sheet under its top and `head`.
fn room(chart: &Chart, heading: &str, head: Option<&Part>) -> Result<f32, Failure> {
    let top = height_mm(&top(chart, heading, "sheet 99 of 99"), INNER_MM)?;
    let head = match head {
        Some(head) => height_mm(head, INNER_MM)? + GAP_MM,
        None => 0.0,
    };
    Ok(SHEET_MM.1 - 2.0 * MARGIN_MM - top - GAP_MM - head)
}

/// Fills sheets from top to bottom with parts of the whole width, `head` on every one.
fn stack(
    chart: &Chart,
    name: &str,
    head: Option<&Part>,
    blocks: Vec<Part>,
    contents: &mut Vec<Content>,
) -> Result<(), Failure> {
    let high = room(chart, name, head)?;
    let mut left = high;
    let mut parts: Vec<Part> = Vec::new();
    let mut sheets = Vec::new();
    for block in blocks {
        let height = height_mm(&block, INNER_MM)?;
        if height > left && !parts.is_empty() {
            sheets.push(std::mem::take(&mut parts));
            left = high;
        }
        left -= height + GAP_MM;
        parts.push(block);
    }
    sheets.push(parts);
    contents.extend(sheets.into_iter().enumerate().map(|(at, parts)| Content {
        heading: continued(name, at),
        parts: head.cloned().into_iter().chain(parts).collect(),
    }));
    Ok(())
}

fn continued(name: &str, at: usize) -> String {
    if at == 0 {
        name.to_owned()
    } else {
        format!("{name}, continued")
    }
}

/// Takes from a column what fits into a height; at least one block.
fn take(
    blocks: &mut VecDeque<Block>,
    high: f32,
    width: f32,
    under: &mut Option<String>,
) -> Result<Part, Failure> {
    let mut parts: Vec<Part> = Vec::new();
    let mut left = high;
    let mut named: Option<String> = None;
    while let Some(block) = blocks.front() {
        let mut part = block.body.clone();
        if named.as_ref() != Some(&block.under) {
            let goes_on = under.as_ref() == Some(&block.under);
            part = heading(&block.under, goes_on, part);
        }
        let height = height_mm(&part, width)?;
        if height > left && !parts.is_empty() {
            break;
        }
        left -= height + GAP_MM;
        parts.push(part);
        named = Some(block.under.clone());
        under.clone_from(&named);
        blocks.pop_front();
    }
    Ok(Part::column(GAP_MM, parts).share(Share::Mm(width)))
}

/// The first sheet: the phases from left to right, and under them which exercise is of which phase.
fn course(chart: &Chart, contents: &mut Vec<Content>) -> Result<(), Failure> {
    let (head, rows) = overview(chart);
    stack(chart, "The course", Some(&head), rows, contents)
}

/// Each phase in a column of its own.
fn phases(chart: &Chart, contents: &mut Vec<Content>) -> Result<(), Failure> {
    let numbered: Vec<usize> = (0..chart.phases.len()).collect();
    for group in numbered.chunks(COLUMNS_MAX) {
        let of = group.iter().filter_map(|at| chart.phases.get(*at));
        let columns = of.map(|phase| blocks_of(&phase.groups)).collect();
        let heads = group
            .iter()
            .filter_map(|at| Some((*at, chart.phases.get(*at)?)))
            .map(|(at, phase)| super::overview::phase_head(at, chart.phases.len(), &phase.key))
            .collect();
        side_by_side(chart, "Phase by phase", heads, columns, contents)?;
    }
    Ok(())
}

/// Who is sent to a doctor: one column for each urgency, soonest on the left.
fn referrals(chart: &Chart, contents: &mut Vec<Content>) -> Result<(), Failure> {
    if chart.refer.is_empty() {
        return Ok(());
    }
    let heads = chart.refer.iter().map(|group| {
        Part::column(0.0, vec![Part::bold(&*group.heading, HEAD_MM)]).edge(Edge::Thick, (2.5, 2.0))
    });
    let columns = chart.refer.iter().map(|group| {
        let rules = group.rules.iter();
        rules.map(Block::bare).collect()
    });
    side_by_side(
        chart,
        "To be seen by a doctor",
        heads.collect(),
        columns.collect(),
        contents,
    )
}

/// Columns that each go on under their own head.
fn side_by_side(
    chart: &Chart,
    name: &str,
    heads: Vec<Part>,
    columns: Vec<VecDeque<Block>>,
    contents: &mut Vec<Content>,
) -> Result<(), Failure> {
    let width = column_mm(columns.len().max(2));
    let heads = heads.into_iter().map(|head| head.share(Share::Mm(width)));
    let head = Part::row(GAP_MM, heads.collect());
    let high = room(chart, &continued(name, 1), Some(&head))?;
    let mut under: Vec<Option<String>> = vec![None; columns.len()];
    let mut columns = columns;
    let mut at = 0;
    while at == 0 || columns.iter().any(|column| !column.is_empty()) {
        let taken = columns.iter_mut().zip(&mut under);
        let taken = taken
            .map(|(column, under)| take(column, high, width, under))
            .collect::<Result<_, _>>()?;
        contents.push(Content {
            heading: continued(name, at),
            parts: vec![head.clone(), Part::row(GAP_MM, taken)],
        });
        at += 1;
    }
    Ok(())
}

/// Blocks down one column and on down the next.
fn newspaper(
    chart: &Chart,
    name: &str,
    mut blocks: VecDeque<Block>,
    contents: &mut Vec<Content>,
) -> Result<(), Failure> {
    let width = column_mm(COLUMNS_MAX);
    let high = room(chart, &continued(name, 1), None)?;
    let mut under = None;
    let mut at = 0;
    while !blocks.is_empty() {
        let mut columns = Vec::new();
        while !blocks.is_empty() && columns.len() < COLUMNS_MAX {
            columns.push(take(&mut blocks, high, width, &mut under)?);
        }
        contents.push(Content {
            heading: continued(name, at),
            parts: vec![Part::row(GAP_MM, columns)],
        });
        at += 1;
    }
    Ok(())
}

/// Each line in a row of its own, gentlest on the left.
fn lines(chart: &Chart, contents: &mut Vec<Content>) -> Result<(), Failure> {
    let mut rows = Vec::new();
    for (at, line) in chart.lines.iter().enumerate() {
        let width = column_mm(line.exercises.len().clamp(2, COLUMNS_MAX));
        for (row, exercises) in line.exercises.chunks(COLUMNS_MAX).enumerate() {
            let first = row * COLUMNS_MAX;
            let cards = exercises
                .iter()
                .enumerate()
                .map(|(rank, one)| card(chart, first + rank, one).share(Share::Mm(width)));
            let head = line_heading(at, chart.lines.len(), &line.key, row > 0);
            rows.push(
                Part::column(2.0, vec![head, Part::row(GAP_MM, cards.collect())])
                    .edge(Edge::Above, (0.0, 2.0)),
            );
        }
    }
    if rows.is_empty() {
        return Ok(());
    }
    stack(
        chart,
        "Lines and ladders, gentlest on the left",
        None,
        rows,
        contents,
    )
}

/// The width of one of so many columns.
#[allow(clippy::cast_precision_loss, reason = "a few columns")]
fn column_mm(columns: usize) -> f32 {
    let count = columns.max(1) as f32;
    (INNER_MM - (count - 1.0) * GAP_MM) / count
}

//! The parts of which sheets are made: a rule, a criterion, an exercise with its ladder.
//!
//! How sentences are combined is said in words and shown by the line on their left: whole for all, broken for any, dotted for
//! none.
//!
//! Leaves to others: which sheet they come to stand on (`sheets`).

use super::part::{Edge, Part, Share};
use super::said::{Chart, ExerciseSaid, Group, How, RowSaid, Said, Statement};
use super::sheets::{BODY_MM, HEAD_MM, NOTE_MM};
use std::collections::VecDeque;

/// Width of the words in front of a ladder's values, in mm.
const LABEL_MM: f32 = 25.0;

/// Size of what is asked of an exercise and of its ladder, in mm: a whole line with four cards stands on one sheet.
const CARD_MM: f32 = 3.7;

/// A part under a heading that is said again where a column begins.
pub(super) struct Block {
    pub(super) under: String,
    pub(super) body: Part,
}

impl Block {
    /// A rule under no heading.
    pub(super) fn bare(rule: &Statement) -> Self {
        Self {
            under: String::new(),
            body: boxed(rule),
        }
    }
}

/// Groups of rules as blocks.
pub(super) fn blocks_of(groups: &[Group]) -> VecDeque<Block> {
    let blocks = groups.iter().flat_map(|group| {
        group.rules.iter().map(|rule| Block {
            under: group.heading.clone(),
            body: boxed(rule),
        })
    });
    blocks.collect()
}

/// A part with the heading of its group.
pub(super) fn heading(name: &str, goes_on: bool, part: Part) -> Part {
    if name.is_empty() {
        return part;
    }
    let name = if goes_on {
        format!("{name} (continued)")
    } else {
        name.to_owned()
    };
    Part::column(1.5, vec![Part::bold(name, BODY_MM), part]).edge(Edge::Above, (0.0, 1.2))
}

fn boxed(rule: &Statement) -> Part {
    Part::column(0.8, statement(rule, BODY_MM)).edge(Edge::Thin, (2.5, 1.5))
}

/// The key, what is asked, and what follows.
fn statement(rule: &Statement, size_mm: f32) -> Vec<Part> {
    let key = (!rule.key.is_empty()).then(|| Part::text(&*rule.key, NOTE_MM));
    let note = rule.note.as_ref();
    let note = note.map(|note| Part::bold(format!("→ {note}"), NOTE_MM));
    let when = rule.when.iter().map(|said| criterion(said, size_mm));
    key.into_iter().chain(when).chain(note).collect()
}

fn criterion(said: &Said, size_mm: f32) -> Part {
    match said {
        Said::Sentence(text) => Part::text(&**text, size_mm),
        Said::Group(how, parts) => {
            let edge = match how {
                How::All | How::While => Edge::Whole,
                How::Any => Edge::Broken,
                How::None => Edge::Dotted,
            };
            let words = Part::bold(how.words(), NOTE_MM);
            let parts =
                std::iter::once(words).chain(parts.iter().map(|part| criterion(part, size_mm)));
            Part::column(1.4, parts.collect()).edge(edge, (2.5, 0.3))
        }
    }
}

/// What a row of a line's cards begins with.
pub(super) fn line_heading(at: usize, of: usize, key: &str, goes_on: bool) -> Part {
    let more = if goes_on { ", continued" } else { "" };
    Part::bold(format!("Line {} of {of}: {key}{more}", at + 1), HEAD_MM)
}

/// An exercise with its ladder.
pub(super) fn card(chart: &Chart, rank: usize, exercise: &ExerciseSaid) -> Part {
    let phases = exercise.phases.iter();
    let phases = phases.filter_map(|at| Some(format!("{} {}", at + 1, chart.phases.get(*at)?.key)));
    let phases = phases.collect::<Vec<_>>().join(", ");
    let mut parts = vec![
        Part::bold(format!("{}. {}", rank + 1, exercise.name), BODY_MM),
        Part::text(&*exercise.key, NOTE_MM),
    ];
    if !phases.is_empty() {
        parts.push(labelled("in phase", &phases));
    }
    parts.push(labelled("starts with", &exercise.start));
    parts.push(Part::bold("goes up, the first row fastest:", NOTE_MM));
    parts.push(ladder(&exercise.rows));
    parts.extend(exercise.notes.iter().map(|(what, how)| labelled(what, how)));
    for limit in &exercise.limits {
        parts.push(Part::bold("own limit:", NOTE_MM));
        parts.extend(statement(limit, CARD_MM));
    }
    for (what, rule) in [
        ("climbs when", &exercise.climb),
        ("returns when", &exercise.bring_back),
    ] {
        if let Some(rule) = rule {
            parts.push(Part::row(
                2.0,
                vec![
                    Part::bold(what, NOTE_MM),
                    Part::text(&*rule.key, NOTE_MM).share(Share::Of(1.0)),
                ],
            ));
            parts.extend(rule.when.iter().map(|said| criterion(said, CARD_MM)));
        }
    }
    Part::column(1.0, parts).edge(Edge::Thin, (2.5, 2.0))
}

fn labelled(what: &str, how: &str) -> Part {
    Part::row(
        2.0,
        vec![
            Part::bold(what, NOTE_MM).share(Share::Mm(LABEL_MM)),
            Part::text(how, NOTE_MM).share(Share::Of(1.0)),
        ],
    )
}

/// The rows of a ladder, the fastest on top.
fn ladder(rows: &[RowSaid]) -> Part {
    let said = rows.iter().flat_map(|row| {
        let full = match row.full {
            Some("returns") => ", then from the start again",
            Some(_) => ", then stays",
            None => "",
        };
        let values = Part::row(
            2.0,
            vec![
                Part::text(&*row.variable, NOTE_MM).share(Share::Mm(LABEL_MM)),
                Part::text(format!("{}{full}", row.values), CARD_MM).share(Share::Of(1.0)),
            ],
        );
        let needs = row.needs.iter().map(|(value, needs)| {
            Part::column(
                0.6,
                vec![
                    Part::bold(format!("{value} needs:"), NOTE_MM),
                    criterion(needs, CARD_MM),
                ],
            )
            .edge(Edge::Bare, (4.0, 0.0))
        });
        std::iter::once(values).chain(needs)
    });
    Part::column(0.8, said.collect()).edge(Edge::Whole, (2.5, 0.3))
}

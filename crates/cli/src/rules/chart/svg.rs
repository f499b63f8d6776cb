//! A sheet as SVG, in black on white. The same parts give the same bytes.
//!
//! Leaves to others: where everything stands (`part`).

use super::part::{Edge, Kind, Placed};
use super::width::{FONTS, Style};
use svg::Document;
use svg::node::element::{Line, Polygon, Rectangle, Text};

/// Strokes, in mm.
const THIN_MM: f32 = 0.3;
const THICK_MM: f32 = 0.9;

/// By how much a line on the left ends before its part does, so that those of neighbours stay apart.
const APART_MM: f32 = 0.6;

/// How far an arrow's point stands out of its box, in mm.
const POINT_MM: f32 = 3.0;

/// From the top of a line of text to the foot of its letters, as a part of the text's size.
const FOOT: f32 = 0.97;

/// Draws a sheet of a size in mm.
pub(super) fn draw(title: &str, size_mm: (f32, f32), placed: &Placed) -> String {
    let (width, height) = size_mm;
    let mut page = Document::new()
        .set("width", format!("{}mm", short(width)))
        .set("height", format!("{}mm", short(height)))
        .set("viewBox", format!("0 0 {} {}", short(width), short(height)))
        .set("font-family", FONTS)
        .add(svg::node::element::Title::new(title))
        .add(
            Rectangle::new()
                .set("width", short(width))
                .set("height", short(height))
                .set("fill", "white"),
        );
    page = add(page, placed);
    let mut text = page.to_string();
    text.push('\n');
    text
}

fn add(page: Document, part: &Placed) -> Document {
    let mut page = edge(page, part);
    if let Kind::Text(text, style) = &part.kind {
        page = set(page, text, *style, part.at);
    }
    part.parts.iter().fold(page, add)
}

fn set(mut page: Document, text: &str, style: Style, at: [f32; 4]) -> Document {
    let [x, y, width, _] = at;
    let mut top = y;
    for line in style.wrap(text, width) {
        let mut drawn = Text::new(line)
            .set("x", short(x))
            .set("y", short(top + style.size_mm * FOOT))
            .set("font-size", short(style.size_mm));
        if style.bold {
            drawn = drawn.set("font-weight", "bold");
        }
        page = page.add(drawn);
        top += style.line_mm();
    }
    page
}

fn edge(page: Document, part: &Placed) -> Document {
    let [x, y, width, height] = part.at;
    let left = |dashes: Option<&'static str>| {
        let line = Line::new()
            .set("x1", short(x))
            .set("y1", short(y + APART_MM))
            .set("x2", short(x))
            .set("y2", short(y + height - APART_MM))
            .set("stroke", "black")
            .set("stroke-width", THICK_MM);
        match dashes {
            Some(dashes) => line.set("stroke-dasharray", dashes),
            None => line,
        }
    };
    match part.edge {
        Edge::Bare => page,
        Edge::Thin | Edge::Thick => page.add(
            Rectangle::new()
                .set("x", short(x))
                .set("y", short(y))
                .set("width", short(width))
                .set("height", short(height))
                .set("fill", "none")
                .set("stroke", "black")
                .set(
                    "stroke-width",
                    if part.edge == Edge::Thin {
                        THIN_MM
                    } else {
                        THICK_MM
                    },
                ),
        ),
        Edge::Arrow => page.add(
            Polygon::new()
                .set(
                    "points",
                    [
                        (x, y),
                        (x + width, y),
                        (x + width + POINT_MM, y + height / 2.0),
                        (x + width, y + height),
                        (x, y + height),
                    ]
                    .map(|(x, y)| format!("{},{}", short(x), short(y)))
                    .join(" "),
                )
                .set("fill", "none")
                .set("stroke", "black")
                .set("stroke-width", THICK_MM),
        ),
        Edge::Above => page.add(
            Line::new()
                .set("x1", short(x))
                .set("y1", short(y))
                .set("x2", short(x + width))
                .set("y2", short(y))
                .set("stroke", "black")
                .set("stroke-width", THICK_MM),
        ),
        Edge::Whole => page.add(left(None)),
        Edge::Broken => page.add(left(Some("2.4 1.4"))),
        Edge::Dotted => page.add(left(Some("0.9 1.1"))),
    }
}

/// A length in hundredths of a mm: the same on every machine.
fn short(mm: f32) -> String {
    let text = format!("{mm:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}

//! Parts of a sheet: texts and boxes inside each other, and where they come to stand. All lengths are in mm.
//!
//! Leaves to others: what stands in them (`sheets`) and how they are drawn (`svg`).

use super::width::Style;
use crate::failure::Failure;
use std::fmt::Display;
use taffy::prelude::{
    AvailableSpace, FlexDirection, NodeId, Size, TaffyAuto as _, TaffyMaxContent as _, TaffyTree,
    length,
};
use taffy::{
    AlignItems, Dimension, LengthPercentage, LengthPercentageAuto, Rect, compute_leaf_layout,
};

/// What is drawn around a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Edge {
    /// Nothing.
    Bare,
    /// A thin box.
    Thin,
    /// A thick box.
    Thick,
    /// A box that points to the right.
    Arrow,
    /// A thick line above.
    Above,
    /// A whole line on the left.
    Whole,
    /// A broken line on the left.
    Broken,
    /// A dotted line on the left.
    Dotted,
}

/// How wide a part is in a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Share {
    /// As wide as what is in it.
    Own,
    /// A part of what is left.
    Of(f32),
    /// So wide.
    Mm(f32),
}

/// What a part is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Kind {
    /// A text.
    Text(String, Style),
    /// Parts from left to right.
    Row,
    /// Parts from top to bottom.
    Column,
}

/// A part of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Part {
    pub(super) kind: Kind,
    pub(super) edge: Edge,
    pub(super) share: Share,
    /// Room inside: left and right, above and below (under a line above: only above).
    pub(super) inside: (f32, f32),
    /// Room between the parts.
    pub(super) gap: f32,
    pub(super) parts: Vec<Part>,
}

impl Part {
    fn new(kind: Kind, gap: f32, parts: Vec<Self>) -> Self {
        Self {
            kind,
            edge: Edge::Bare,
            share: Share::Own,
            inside: (0.0, 0.0),
            gap,
            parts,
        }
    }

    pub(super) fn text(text: impl Into<String>, size_mm: f32) -> Self {
        let style = Style {
            size_mm,
            bold: false,
        };
        Self::new(Kind::Text(text.into(), style), 0.0, Vec::new())
    }

    pub(super) fn bold(text: impl Into<String>, size_mm: f32) -> Self {
        let style = Style {
            size_mm,
            bold: true,
        };
        Self::new(Kind::Text(text.into(), style), 0.0, Vec::new())
    }

    pub(super) fn row(gap: f32, parts: Vec<Self>) -> Self {
        Self::new(Kind::Row, gap, parts)
    }

    pub(super) fn column(gap: f32, parts: Vec<Self>) -> Self {
        Self::new(Kind::Column, gap, parts)
    }

    pub(super) fn edge(self, edge: Edge, inside: (f32, f32)) -> Self {
        Self {
            edge,
            inside,
            ..self
        }
    }

    pub(super) fn share(self, share: Share) -> Self {
        Self { share, ..self }
    }
}

/// A part where it stands on the sheet.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    /// What it is.
    pub(super) kind: Kind,
    pub(super) edge: Edge,
    /// Left, top, width, height.
    pub(super) at: [f32; 4],
    /// What is in it.
    pub(super) parts: Vec<Placed>,
}

impl Placed {
    pub(super) fn height_mm(&self) -> f32 {
        let [_, _, _, height] = self.at;
        height
    }
}

/// Where a part and what is in it come to stand, in a width.
pub(super) fn place(part: &Part, width_mm: f32) -> Result<Placed, Failure> {
    let mut tree: TaffyTree<(String, Style)> = TaffyTree::new();
    tree.disable_rounding();
    let root = node(&mut tree, part, Some(width_mm))?;
    tree.compute_layout_with_measure(
        root,
        Size {
            width: AvailableSpace::Definite(width_mm),
            height: AvailableSpace::MAX_CONTENT,
        },
        |inputs, _, text, style| {
            let nothing_worked_out = |_, _| 0.0;
            compute_leaf_layout(inputs, style, nothing_worked_out, |known, available| {
                text.map_or(Size::ZERO, |(text, style)| {
                    measure(text, *style, known, available)
                })
            })
        },
    )
    .map_err(failed)?;
    placed(&tree, root, part, (0.0, 0.0))
}

/// The height of a part in a width.
pub(super) fn height_mm(part: &Part, width_mm: f32) -> Result<f32, Failure> {
    Ok(place(part, width_mm)?.height_mm())
}

fn measure(
    text: &str,
    style: Style,
    known: Size<Option<f32>>,
    available: Size<AvailableSpace>,
) -> Size<f32> {
    let whole = style.width_mm(text);
    let width = known.width.unwrap_or(match available.width {
        AvailableSpace::Definite(width) => whole.min(width),
        AvailableSpace::MaxContent => whole,
        AvailableSpace::MinContent => text
            .split_whitespace()
            .map(|word| style.width_mm(word))
            .fold(0.0, f32::max),
    });
    let lines = style.wrap(text, width).len();
    Size {
        width,
        height: known.height.unwrap_or(lines_mm(lines, style)),
    }
}

#[allow(
    clippy::cast_precision_loss,
    reason = "a number of lines, far below 2^23"
)]
fn lines_mm(lines: usize, style: Style) -> f32 {
    lines as f32 * style.line_mm()
}

fn node(
    tree: &mut TaffyTree<(String, Style)>,
    part: &Part,
    width_mm: Option<f32>,
) -> Result<NodeId, Failure> {
    let (across, along) = part.inside;
    let (grow, basis) = match part.share {
        Share::Own => (0.0, Dimension::AUTO),
        Share::Of(share) => (share, length(0.0)),
        Share::Mm(width) => (0.0, length(width)),
    };
    let room = |mm: f32| -> LengthPercentage { length(mm) };
    let style = taffy::Style {
        flex_direction: if part.kind == Kind::Row {
            FlexDirection::Row
        } else {
            FlexDirection::Column
        },
        align_items: AlignItems::STRETCH,
        flex_grow: grow,
        flex_shrink: if part.share == Share::Own { 1.0 } else { 0.0 },
        flex_basis: basis,
        size: Size {
            width: width_mm.map_or(Dimension::AUTO, length),
            height: Dimension::AUTO,
        },
        min_size: Size {
            width: length(0.0),
            height: LengthPercentageAuto::AUTO,
        },
        padding: Rect {
            left: room(across),
            right: room(across),
            top: room(along),
            bottom: room(if part.edge == Edge::Above { 0.0 } else { along }),
        },
        gap: Size {
            width: room(part.gap),
            height: room(part.gap),
        },
        ..taffy::Style::DEFAULT
    };
    if let Kind::Text(text, set) = &part.kind {
        return tree
            .new_leaf_with_context(style, (text.clone(), *set))
            .map_err(failed);
    }
    let children: Vec<NodeId> = part
        .parts
        .iter()
        .map(|part| node(tree, part, None))
        .collect::<Result<_, _>>()?;
    tree.new_with_children(style, &children).map_err(failed)
}

fn placed(
    tree: &TaffyTree<(String, Style)>,
    node: NodeId,
    part: &Part,
    origin: (f32, f32),
) -> Result<Placed, Failure> {
    let layout = tree.layout(node).map_err(failed)?;
    let (x, y) = (origin.0 + layout.location.x, origin.1 + layout.location.y);
    let children = tree.children(node).map_err(failed)?;
    let parts = children.into_iter().zip(&part.parts);
    Ok(Placed {
        kind: part.kind.clone(),
        edge: part.edge,
        at: [x, y, layout.size.width, layout.size.height],
        parts: parts
            .map(|(child, part)| placed(tree, child, part, (x, y)))
            .collect::<Result<_, _>>()?,
    })
}

fn failed(error: impl Display) -> Failure {
    Failure::Draw(error.to_string())
}

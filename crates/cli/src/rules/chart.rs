//! `rungwise rules chart`: a pack's phases, rules, lines and ladders to read aloud, and as sheets to pin to a wall.
//!
//! Meaning is carried by place, by lines and by words; sheets are black on white. Everything said is the pack's own.
//!
//! Leaves to others: what a pack says (`rungwise-pack`).

mod blocks;
mod overview;
mod part;
mod said;
mod sheets;
mod svg;
mod text;
mod width;

use super::args::ChartArgs;
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::Screen;
use rungwise_pack::model::Pack;
use std::path::{Path, PathBuf};

/// Prints the chart of a pack and draws its sheets.
pub(crate) fn run(args: &ChartArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let pack = PackFiles::of_folder(&args.pack)?.checked()?;
    let language = language(&pack, args.language.as_deref())?;
    let chart = said::chart(&pack, language);
    screen.line(&text::text(&chart))?;
    if let Some(path) = &args.svg {
        draw(&chart, path, screen)?;
    }
    Ok(Answer::Yes)
}

/// The language asked for, which the pack must have.
fn language<'p>(pack: &'p Pack, asked: Option<&'p str>) -> Result<&'p str, Failure> {
    let Some(asked) = asked else {
        return Ok(&pack.language);
    };
    if pack.texts.contains_key(asked) {
        return Ok(asked);
    }
    let known: Vec<&str> = pack.texts.keys().map(|key| &**key).collect();
    Err(Failure::NoSuchLanguage {
        given: asked.to_owned(),
        known: known.join(", "),
    })
}

/// Writes the sheets: one into the file itself, several into files numbered after it.
fn draw(chart: &said::Chart, path: &Path, screen: &mut Screen) -> Result<(), Failure> {
    let sheets = sheets::sheets(chart)?;
    let of = sheets.len();
    for (at, sheet) in sheets.iter().enumerate() {
        let file = if of == 1 {
            path.to_owned()
        } else {
            numbered(path, at + 1)
        };
        let drawn = svg::draw(&chart.title, sheet.size_mm, &sheet.placed);
        std::fs::write(&file, drawn).map_err(|cause| Failure::Write {
            path: file.clone(),
            cause,
        })?;
        screen.remark(&format!(
            "sheet {} of {of} drawn in {}",
            at + 1,
            file.display()
        ));
    }
    Ok(())
}

/// `wall.svg` as `wall-2.svg`.
fn numbered(path: &Path, number: usize) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{number}"));
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}

#[cfg(test)]
mod tests;

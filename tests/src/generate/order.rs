//! Packs with the rules of their files in another order.
//!
//! Leaves to others: making them (`super::pack`).

use super::Dice;
use rungwise_pack::source::SourceFiles;

/// The same pack with the rules of each file in another order.
#[must_use]
pub fn shuffled(files: &SourceFiles, seed: u64) -> SourceFiles {
    let mut dice = Dice::new(seed);
    let turned = files.files().iter().map(|file| {
        let text = match file.name.as_str() {
            "phases.toml" => turned_under(&mut dice, &file.text, "[[phase]]"),
            "screening.toml" | "pack.toml" => turned_tables(&mut dice, &file.text),
            _ => file.text.clone(),
        };
        (file.name.clone(), text)
    });
    SourceFiles::new(turned.collect())
}

/// Turns the order of the tables below each `header`.
fn turned_under(dice: &mut Dice, text: &str, header: &str) -> String {
    let mut parts = text.split(header);
    let mut turned = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        turned += header;
        turned += &turned_tables(dice, part);
    }
    turned
}

/// Turns the order of the tables in a text, but for what stands before the first and for the lay-off table.
fn turned_tables(dice: &mut Dice, text: &str) -> String {
    let mut tables: Vec<String> = vec![String::new()];
    for line in text.split_inclusive('\n') {
        if line.starts_with("[[") {
            tables.push(String::new());
        }
        *tables.last_mut().unwrap() += line;
    }
    let (mut fixed, mut loose) = (vec![tables.remove(0)], Vec::new());
    for table in tables {
        if table.starts_with("[[lay_off]]") {
            fixed.push(table)
        } else {
            loose.push(table)
        }
    }
    while !loose.is_empty() {
        let at = dice.count(0, loose.len() - 1);
        fixed.push(loose.swap_remove(at));
    }
    fixed.concat()
}

//! `rungwise rules schema`: JSON Schemas of a pack's files, by which editors complete keys and mark mistakes.
//!
//! The schemas stand in `rules/schema`; the program carries them.
//!
//! Leaves to others: what a pack means, which only `rules check` judges.

use super::args::SchemaArgs;
use crate::Answer;
use crate::failure::Failure;
use crate::screen::Screen;
use std::fs;
use std::path::Path;

/// One for each kind of file: its file's name, and the schema.
const SCHEMAS: [(&str, &str); 7] = [
    (
        "pack.json",
        include_str!("../../../../rules/schema/pack.json"),
    ),
    (
        "measures.json",
        include_str!("../../../../rules/schema/measures.json"),
    ),
    (
        "screening.json",
        include_str!("../../../../rules/schema/screening.json"),
    ),
    (
        "phases.json",
        include_str!("../../../../rules/schema/phases.json"),
    ),
    (
        "exercises.json",
        include_str!("../../../../rules/schema/exercises.json"),
    ),
    (
        "text.json",
        include_str!("../../../../rules/schema/text.json"),
    ),
    (
        "diary.json",
        include_str!("../../../../rules/schema/diary.json"),
    ),
];

/// What every schema of ours holds, so that nobody else's file of the same name is written over.
const OURS: &str = "\"$id\": \"urn:rungwise:schema:";

/// Writes the schemas into a folder.
pub(crate) fn run(args: &SchemaArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    write_into(&args.folder)?;
    screen.remark(&format!(
        "{} schemas written into {}",
        SCHEMAS.len(),
        args.folder.display()
    ));
    Ok(Answer::Yes)
}

/// Writes every schema into a folder, over older ones; none where a file of the same name is not one.
pub(super) fn write_into(folder: &Path) -> Result<(), Failure> {
    for (name, _) in SCHEMAS {
        let path = folder.join(name);
        if path.exists() && !fs::read_to_string(&path).is_ok_and(|text| text.contains(OURS)) {
            return Err(Failure::NotOurs { path });
        }
    }
    fs::create_dir_all(folder).map_err(|cause| Failure::Write {
        path: folder.to_owned(),
        cause,
    })?;
    for (name, schema) in SCHEMAS {
        let path = folder.join(name);
        fs::write(&path, schema).map_err(|cause| Failure::Write { path, cause })?;
    }
    Ok(())
}

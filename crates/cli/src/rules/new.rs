//! `rungwise rules new`: a small sound pack with a diary, to change line by line into one's own.
//!
//! Its words stand in `template/`; the schemas go into a hidden folder beside them, which no digest covers.
//!
//! Leaves to others: the schemas (`super::schema`).

use super::args::NewArgs;
use super::{schema, write_new};
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::Screen;
use std::fs;
use std::path::{Path, PathBuf};

/// The files of the pack.
const FILES: [(&str, &str); 7] = [
    ("pack.toml", include_str!("new/template/pack.toml")),
    ("measures.toml", include_str!("new/template/measures.toml")),
    (
        "screening.toml",
        include_str!("new/template/screening.toml"),
    ),
    ("phases.toml", include_str!("new/template/phases.toml")),
    (
        "exercises.toml",
        include_str!("new/template/exercises.toml"),
    ),
    ("text/en.toml", include_str!("new/template/text/en.toml")),
    (
        "diaries/first.toml",
        include_str!("new/template/diaries/first.toml"),
    ),
];

/// What stands in the template for what the command line may give.
const ID: &str = "id = \"my-pack\"";
const TITLE: &str = "title = \"A pack to begin with\"";

/// Writes the pack into a folder that holds nothing yet.
pub(crate) fn run(args: &NewArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let folder = &args.folder;
    refuse_filled(folder)?;
    let files = FILES.map(|(name, text)| (name, named(text, args)));
    check(&files)?;
    for (name, text) in &files {
        let path = folder.join(name);
        make_folder(path.parent().unwrap_or(folder))?;
        write_new(&path, text)?;
    }
    schema::write_into(&folder.join(".schema"))?;
    let shown = folder.display();
    screen.line(&format!(
        "a pack to begin with stands in {shown}; begin with {shown}/pack.toml"
    ))?;
    screen.line(&format!("`rungwise rules check {shown}` and `rungwise rules rehearse {shown}` say whether it is sound"))?;
    Ok(Answer::Yes)
}

/// A file of the template with the identity and the title that were given.
fn named(text: &str, args: &NewArgs) -> String {
    let mut text = text.to_owned();
    for (key, standing, given) in [("id", ID, &args.id), ("title", TITLE, &args.title)] {
        if let Some(given) = given {
            let value = toml::Value::String(given.clone());
            text = text.replacen(standing, &format!("{key} = {value}"), 1);
        }
    }
    text
}

/// What was given may make the pack unsound, as an identity with a capital does: then nothing is written.
fn check(files: &[(&str, String); 7]) -> Result<(), Failure> {
    let files = files
        .iter()
        .map(|(name, text)| ((*name).to_owned(), text.clone()));
    let pack = PackFiles::of_texts("the pack to be written", files.collect());
    pack.checked().map(|_| ())
}

/// A folder that is there must hold nothing.
fn refuse_filled(folder: &Path) -> Result<(), Failure> {
    let filled = match fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_some(),
        Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => false,
        Err(cause) => {
            return Err(Failure::Read {
                path: folder.to_owned(),
                cause,
            });
        }
    };
    if filled {
        return Err(Failure::Filled {
            path: folder.to_owned(),
        });
    }
    Ok(())
}

fn make_folder(folder: &Path) -> Result<(), Failure> {
    fs::create_dir_all(folder).map_err(|cause| Failure::Write {
        path: PathBuf::from(folder),
        cause,
    })
}

//! What the commands read: rule packs from a folder or from the program itself, and diaries.
//!
//! Leaves to others: what they say (`rungwise-pack`, `rungwise-rehearsal`).

use crate::failure::Failure;
use rungwise_pack::diagnostic::{Style, render};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::diary::{self, Diary};
use std::fs;
use std::io::{self, Read as _};
use std::path::Path;

/// The packs that came with the program: each with its folder's name and its files.
const EMBEDDED: &[(&str, &[(&str, &str)])] = include!(concat!(env!("OUT_DIR"), "/embedded.rs"));

/// A rule pack as files, with what it is called in messages.
#[derive(Clone, Debug)]
pub(crate) struct PackFiles {
    /// The folder, or the name under which the program carries it.
    pub(crate) called: String,
    /// Its files.
    pub(crate) files: SourceFiles,
}

impl PackFiles {
    /// The files of a folder.
    pub(crate) fn of_folder(folder: &Path) -> Result<Self, Failure> {
        let files = rungwise_store::packs::read_dir(folder)?;
        Ok(Self {
            called: folder.display().to_string(),
            files: SourceFiles::new(files),
        })
    }

    /// Files as a server gave them.
    pub(crate) fn of_answer(called: &str, files: &[rungwise_api::v1::PackFile]) -> Self {
        let files = files.iter();
        Self {
            called: called.to_owned(),
            files: SourceFiles::new(
                files
                    .map(|file| (file.path.clone(), file.text.clone()))
                    .collect(),
            ),
        }
    }

    /// Its files as a request has them.
    pub(crate) fn to_draft(&self) -> rungwise_api::v1::PackDraft {
        let files = self.files.files().iter();
        rungwise_api::v1::PackDraft {
            files: files
                .map(|file| rungwise_api::v1::PackFile {
                    path: file.name.clone(),
                    text: file.text.clone(),
                })
                .collect(),
        }
    }

    /// Files that stand nowhere yet.
    pub(crate) fn of_texts(called: &str, files: Vec<(String, String)>) -> Self {
        Self {
            called: called.to_owned(),
            files: SourceFiles::new(files),
        }
    }

    /// The packs that came with the program, in order of name.
    pub(crate) fn embedded() -> impl Iterator<Item = Self> {
        EMBEDDED.iter().map(|(name, files)| Self {
            called: format!("built-in {name}"),
            files: SourceFiles::new(
                files
                    .iter()
                    .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
                    .collect(),
            ),
        })
    }

    /// The pack, if nothing is wrong with it.
    pub(crate) fn checked(&self) -> Result<CheckedPack, Failure> {
        let checked = rungwise_pack::check(&self.files);
        checked.pack.ok_or_else(|| Failure::PackRefused {
            pack: self.called.clone(),
            findings: render(&self.files, &checked.diagnostics, Style::Plain),
        })
    }

    /// A diary of the pack, by its file's name in the folder `diaries`.
    pub(crate) fn diary(&self, name: &str) -> Option<&str> {
        self.files
            .get(&format!("diaries/{name}"))
            .map(|file| file.text.as_str())
    }
}

/// Largest file that is read whole, in bytes: as large as one of a pack.
const TEXT_BYTES_MAX: u64 = rungwise_store::packs::PACK_FILE_BYTES_MAX;

/// The text of a file, bounded: what is named may be a device that never ends.
pub(crate) fn text_of(path: &Path) -> Result<String, Failure> {
    let failed = |cause| Failure::Read {
        path: path.to_owned(),
        cause,
    };
    let mut text = String::new();
    let file = fs::File::open(path).map_err(failed)?;
    file.take(TEXT_BYTES_MAX + 1)
        .read_to_string(&mut text)
        .map_err(failed)?;
    if text.len() as u64 > TEXT_BYTES_MAX {
        let why = format!("it has more than {TEXT_BYTES_MAX} bytes");
        return Err(failed(io::Error::other(why)));
    }
    Ok(text)
}

/// Reads a diary of a pack.
pub(crate) fn diary(pack: &CheckedPack, name: &str, text: &str) -> Result<Diary, Failure> {
    diary::read(pack, name, text).map_err(|diagnostics| {
        let file = SourceFiles::new(vec![(name.to_owned(), text.to_owned())]);
        Failure::DiaryRefused {
            diary: name.to_owned(),
            findings: render(&file, &diagnostics, Style::Plain),
        }
    })
}

/// The pack that a diary belongs to: the one named, else the one whose folder it stands in, else the first that came with
/// the program.
pub(crate) fn pack_for(diary: &Path, named: Option<&Path>) -> Result<PackFiles, Failure> {
    if let Some(folder) = named {
        return PackFiles::of_folder(folder);
    }
    let around = diary.parent().and_then(Path::parent);
    if let Some(folder) = around.filter(|folder| folder.join("pack.toml").is_file()) {
        return PackFiles::of_folder(folder);
    }
    PackFiles::embedded().next().ok_or(Failure::NoPack)
}

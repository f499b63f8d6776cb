//! What is refused: from the files of a pack to a [`CheckedPack`], or to everything that is wrong with it.
//!
//! The steps: read every file (`crate::read`), look every name up and parse every sentence (`resolve`), judge each
//! sentence by itself (`types`), then the rules by the forms that keep caution monotone and silence from progressing
//! (`forms`, `bounds`), ladders (`ladders`) and texts (`texts`). All of them report into one list.
//!
//! Leaves to others: what a pack decides (`rungwise-engine`).

mod band;
mod bounds;
mod combined;
mod exercises;
mod forms;
mod ladders;
mod mean;
mod measures;
mod names;
mod reached;
mod resolve;
mod texts;
mod types;
mod uses;
mod volume;

pub(crate) use bounds::reads_reference;
pub(crate) use resolve::{Site, Sites};
pub(crate) use uses::{leaves, uses};

use crate::diagnostic::{Diagnostic, Findings};
use crate::model::CheckedPack;
use crate::places::Places;
use crate::source::SourceFiles;

/// What checking found.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The pack, unless there is an error.
    pub pack: Option<CheckedPack>,
    /// Errors and warnings, in file order.
    pub diagnostics: Vec<Diagnostic>,
    /// Where the pack's sentences and numbers stand; nothing where there is an error.
    pub places: Places,
    /// Places of everything, for what is proved further.
    pub(crate) sites: Option<Sites>,
}

/// Checks a pack: everything wrong with it, and the pack itself where nothing is an error.
#[must_use]
pub fn check(files: &SourceFiles) -> Checked {
    let mut findings = Findings::new(files);
    let pack = crate::read::read(files, &mut findings).and_then(|draft| {
        let digest = crate::digest(files);
        let (pack, sites) = resolve::resolve(draft, digest, &mut findings)?;
        forms::judge(&pack, &sites, &mut findings);
        bounds::judge(&pack, &sites, &mut findings);
        measures::judge(&pack, &sites, &mut findings);
        volume::judge(&pack, &sites, &mut findings);
        Some((pack, sites))
    });
    let sound = if findings.has_errors() { None } else { pack };
    let places = sound
        .as_ref()
        .map_or_else(Places::default, |(pack, sites)| {
            Places::of(files, pack, sites)
        });
    let (pack, sites) = sound.unzip();
    Checked {
        pack: pack.map(CheckedPack::seal),
        diagnostics: findings.finish(),
        places,
        sites,
    }
}

//! `--mutate`: every number moved by one step each way, on all cores, and those that no diary notices.
//!
//! Leaves to others: moving one number (`rungwise_rehearsal::mutate`).

use super::{Here, at, percent};
use crate::failure::Failure;
use crate::screen::Screen;
use indicatif::{ProgressBar, ProgressStyle};
use rungwise_pack::places::NumberOf;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::coverage::{Owner, owners, tenths_of_percent};
use rungwise_rehearsal::diary::Diary;
use rungwise_rehearsal::mutate::{Fate, Nudge, Trial, Tried, by_number, nudges};
use serde_json::{Value, json};
use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// What became of every number.
pub(super) struct Mutation<'p> {
    here: Here<'p>,
    owners: Vec<Option<Owner>>,
    tried: Vec<Tried<'p>>,
}

impl<'p> Mutation<'p> {
    pub(super) fn new(here: Here<'p>, files: &SourceFiles, diaries: &[&Diary]) -> Self {
        let trial = Trial::new(files, here.pack, diaries.iter().copied());
        let nudges: Vec<Nudge<'_>> = nudges(here.places).collect();
        Self {
            here,
            owners: owners(here.pack),
            tried: by_number(here.places, fates(&trial, &nudges)),
        }
    }

    /// Whether every number that can be moved is pinned.
    pub(super) fn is_whole(&self) -> bool {
        self.here.places.escaped.is_empty() && self.pinned() == self.movable()
    }

    fn movable(&self) -> usize {
        self.tried.iter().filter(|one| one.is_movable()).count()
    }

    fn pinned(&self) -> usize {
        self.tried.iter().filter(|one| one.is_pinned()).count()
    }

    fn percent(&self) -> String {
        percent(tenths_of_percent(self.pinned(), self.movable()))
    }

    /// How many steps had this fate.
    fn count(&self, of: &Fate) -> usize {
        let steps = self.tried.iter().flat_map(|one| &one.steps);
        steps.filter(|(_, fate)| fate == of).count()
    }

    /// What a number belongs to, and the words around it.
    fn told(&self, of: NumberOf) -> (String, &'p str) {
        match of {
            NumberOf::LayOff(row) => (format!("row {} of the lay-off table", row + 1), ""),
            NumberOf::Sentence(ix) => {
                let owner = self.owners.get(ix.at()).and_then(Option::as_ref);
                let sentence = self.here.pack.sentences.get(ix.at());
                (
                    owner.map(ToString::to_string).unwrap_or_default(),
                    sentence.map_or("", |one| one.text.as_str()),
                )
            }
        }
    }

    fn loose(&self) -> impl Iterator<Item = (&Tried<'p>, Vec<String>)> {
        let tried = self.tried.iter();
        tried
            .map(|one| (one, one.unnoticed().map(|to| to.to_string()).collect()))
            .filter(|(_, unnoticed): &(_, Vec<String>)| !unnoticed.is_empty())
    }

    pub(super) fn print(&self, screen: &mut Screen) -> Result<(), Failure> {
        screen.heading("Numbers")?;
        screen.line(&format!(
            "{} of {} numbers are pinned: {} %",
            self.pinned(),
            self.movable(),
            self.percent()
        ))?;
        let fixed = self.tried.len().saturating_sub(self.movable());
        screen.line(&format!(
            "the checker refuses {} steps, and {} ask less of a need than its climb rule does; {fixed} numbers have no other step and do not count",
            self.count(&Fate::Refused),
            self.count(&Fate::Moot)
        ))?;
        let mut first = true;
        for (tried, unnoticed) in self.loose() {
            if first {
                screen.line("\nNo diary notices:")?;
                first = false;
            }
            let (owner, words) = self.told(tried.number.of);
            screen.line(&format!(
                "  {} {owner}: {} as {}{}{words}",
                at(&tried.number.place),
                tried.number.value,
                unnoticed.join(" or "),
                if words.is_empty() { "" } else { ": " },
            ))?;
        }
        for ix in &self.here.places.escaped {
            let place = self.here.places.sentences.get(ix.at());
            screen.line(&format!(
                "  {} is written with escapes, and its numbers were not moved; write it without",
                place.map(at).unwrap_or_default()
            ))?;
        }
        Ok(())
    }

    pub(super) fn as_json(&self) -> Value {
        let escaped = self.here.places.escaped.iter();
        let escaped = escaped.filter_map(|ix| self.here.places.sentences.get(ix.at()));
        json!({
            "numbers": self.movable(),
            "pinned": self.pinned(),
            "percent": self.percent(),
            "refused_steps": self.count(&Fate::Refused),
            "moot_steps": self.count(&Fate::Moot),
            "not_pinned": self.loose().map(|(tried, unnoticed)| {
                let (owner, words) = self.told(tried.number.of);
                json!({
                    "at": at(&tried.number.place),
                    "of": owner,
                    "sentence": words,
                    "value": tried.number.value.to_string(),
                    "unnoticed": unnoticed,
                })
            }).collect::<Vec<_>>(),
            "not_moved": escaped.map(at).collect::<Vec<_>>(),
        })
    }
}

/// The fate of every nudge, in their order.
fn fates(trial: &Trial<'_>, nudges: &[Nudge<'_>]) -> Vec<Fate> {
    // It draws nothing where standard error is no terminal.
    let bar = ProgressBar::new(u64::try_from(nudges.len()).unwrap_or(u64::MAX));
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len} steps, {eta} left") {
        bar.set_style(style);
    }
    let next = AtomicUsize::new(0);
    let work = || {
        let mut found = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(nudge) = nudges.get(at) else {
                return found;
            };
            found.push((at, trial.fate(nudge)));
            bar.inc(1);
        }
    };
    let threads = thread::available_parallelism().map_or(1, NonZero::get);
    let mut found: Vec<(usize, Fate)> = thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        let mut found = work();
        for other in others {
            match other.join() {
                Ok(more) => found.extend(more),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        found
    });
    bar.finish_and_clear();
    found.sort_unstable_by_key(|(at, _)| *at);
    found.into_iter().map(|(_, fate)| fate).collect()
}

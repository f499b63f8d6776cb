//! `--coverage`: which sentences the diaries have not seen met, not met or unknown.
//!
//! Leaves to others: what counts as covered (`rungwise_rehearsal::coverage`).

use super::{Here, at, percent};
use crate::failure::Failure;
use crate::screen::Screen;
use rungwise_engine::evaluate::Watch;
use rungwise_rehearsal::coverage::{Covered, coverage, tenths_of_percent};
use serde_json::{Value, json};

/// The coverage of a pack.
pub(super) struct Coverage<'p> {
    here: Here<'p>,
    sentences: Vec<Covered>,
}

impl<'p> Coverage<'p> {
    pub(super) fn new(here: Here<'p>, watch: &Watch) -> Self {
        Self {
            here,
            sentences: coverage(here.pack, watch),
        }
    }

    /// Whether every sentence is covered.
    pub(super) fn is_whole(&self) -> bool {
        self.sentences.iter().all(Covered::is_whole)
    }

    fn covered(&self) -> usize {
        let sentences = self.sentences.iter();
        sentences.filter(|one| one.is_whole()).count()
    }

    fn percent(&self) -> String {
        percent(tenths_of_percent(self.covered(), self.sentences.len()))
    }

    /// How many sentences cannot be unknown.
    fn always_known(&self) -> usize {
        let sentences = self.sentences.iter();
        sentences.filter(|one| !one.can_be_unknown).count()
    }

    /// How many sentences are needs that repeat their climb rule.
    fn repeating(&self) -> usize {
        self.sentences.iter().filter(|one| one.repeats).count()
    }

    fn lists(&self) -> [(&'static str, &'static str, Vec<&Covered>); 3] {
        let list = |keep: fn(&Covered) -> bool| {
            let all = self.sentences.iter();
            all.filter(|one| keep(one)).collect::<Vec<_>>()
        };
        [
            ("never_met", "Never met", list(|one| !one.seen.met)),
            (
                "never_not_met",
                "Never not met",
                list(Covered::lacks_not_met),
            ),
            (
                "never_unknown",
                "Never unknown",
                list(Covered::lacks_unknown),
            ),
        ]
    }

    /// Place, owner and words of a sentence.
    fn told(&self, covered: &Covered) -> (String, String, &'p str) {
        let place = self.here.places.sentences.get(covered.sentence.at());
        let sentence = self.here.pack.sentences.get(covered.sentence.at());
        (
            place.map(at).unwrap_or_default(),
            covered
                .owner
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default(),
            sentence.map_or("", |one| one.text.as_str()),
        )
    }

    pub(super) fn print(&self, screen: &mut Screen) -> Result<(), Failure> {
        screen.heading("Coverage")?;
        screen.line(&format!(
            "{} of {} sentences were seen met, not met and unknown: {} %",
            self.covered(),
            self.sentences.len(),
            self.percent()
        ))?;
        screen.line(&format!(
            "{} of them cannot be unknown: on dates, events and decisions, or on what a session need not carry",
            self.always_known()
        ))?;
        if self.repeating() > 0 {
            screen.line(&format!(
                "{} of them are needs that repeat their climb rule: they are read only where it is met, and need only be met",
                self.repeating()
            ))?;
        }
        for (_, title, list) in self.lists() {
            if list.is_empty() {
                continue;
            }
            screen.line(&format!("\n{title}: {}", list.len()))?;
            for covered in list {
                let (place, owner, words) = self.told(covered);
                screen.line(&format!("  {place} {owner}: {words}"))?;
            }
        }
        Ok(())
    }

    pub(super) fn as_json(&self) -> Value {
        let mut document = json!({
            "sentences": self.sentences.len(),
            "covered": self.covered(),
            "cannot_be_unknown": self.always_known(),
            "repeat_their_climb_rule": self.repeating(),
            "percent": self.percent(),
        });
        for (key, _, list) in self.lists() {
            let list = list.into_iter().map(|covered| {
                let (place, owner, words) = self.told(covered);
                json!({ "at": place, "of": owner, "sentence": words })
            });
            if let Some(document) = document.as_object_mut() {
                document.insert(key.to_owned(), list.collect());
            }
        }
        document
    }
}

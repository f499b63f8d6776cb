//! An invented pack with one worked-out measure, and what sentences about it come to: by the engine, and held beside the
//! reference evaluator each time.
//!
//! Leaves to others: the check values (`super::strength`, `super::scores`).

use crate::person::texts;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::decision::Verdict;
use rungwise_engine::fact::{Assessment, Body, Episode, Fact, FactKind, Position, Reading, Value};
use rungwise_pack::diagnostic::{Style, render};
use rungwise_pack::model::{CheckedPack, Reporter};
use rungwise_pack::quantity::Milli;
use rungwise_pack::source::SourceFiles;
use rungwise_tests::play::Played;
use std::path::Path;

const OPENED: Date = date(2026, 1, 5);

/// A number of thousandths over a count.
pub(crate) type Exact = (i64, i64);

/// Measures, the worked-out one among them, and what must stand beside a sentence about it.
pub(crate) struct Worked {
    pub(crate) name: &'static str,
    pub(crate) measures: String,
    /// Whether larger numbers are worse.
    pub(crate) higher_is_worse: bool,
    /// A sentence that never holds, with the number that the checker wants beside one that reads a reference.
    pub(crate) beside: &'static str,
}

/// What one assessment says: by measure, in decimals.
pub(crate) type Said<'a> = &'a [(&'a str, &'a str)];

impl Worked {
    fn pack(&self, sentences: &[String]) -> CheckedPack {
        small_with(|name, mut text| {
            if name == "measures.toml" {
                text += &self.measures;
            }
            if name == "screening.toml" {
                for (at, sentence) in sentences.iter().enumerate() {
                    text += &format!(
                        "\n[[refer]]\nrule = \"probe-{at}\"\nwhen = {{ any = [\"{sentence}\", \"{}\"] }}\n\
                         urgency = \"same day\"\nroute = \"Nobody.\"\nexercise = \"kept\"\nof_person = false\n\
                         reason = \"Invented.\"\nsource = \"invented\"\n",
                        self.beside
                    );
                }
            }
            text
        })
    }

    /// The verdicts of sentences after these facts, a week apart.
    pub(crate) fn verdicts(&self, sentences: &[String], facts: &[FactKind]) -> Vec<Verdict> {
        let pack = self.pack(sentences);
        let episode = Episode {
            opened_on: OPENED,
            born_on: None,
            imported: false,
        };
        let mut played = Played::new(&pack, episode);
        let mut today = OPENED;
        for (at, kind) in (1i64..).zip(facts) {
            today = OPENED.checked_add((7 * at).days()).unwrap();
            let fact = Fact {
                date: today,
                by: Reporter::Clinician,
                kind: kind.clone(),
            };
            played.record(Position(at.unsigned_abs()), today, Body::Fact(fact));
        }
        assert_eq!(played.disagreements(today), Vec::<String>::new());
        let decision = played.preview(today);
        (0..sentences.len())
            .map(|at| {
                let rule = pack.rule(&format!("probe-{at}")).unwrap();
                let mut findings = decision.findings.iter();
                let found = findings.find(|finding| finding.rule == rule).unwrap();
                found.sentences[0].1
            })
            .collect()
    }

    /// That one assessment gives exactly this.
    pub(crate) fn gives(&self, row: &str, fact: &FactKind, (num, den): Exact) {
        let name = self.name;
        let (low, exact) = (num.div_euclid(den), num % den == 0);
        let of = |relation: &str, milli: i64| format!("{name} {relation} {}", Milli(milli));
        let (met, not) = match (self.higher_is_worse, exact) {
            (true, true) => (of("at least", low), of("above", low)),
            (true, false) => (of("above", low), of("at least", low + 1)),
            (false, true) => (of("at most", low), of("below", low)),
            (false, false) => (of("below", low + 1), of("at most", low)),
        };
        let found = self.verdicts(&[met.clone(), not.clone()], std::slice::from_ref(fact));
        assert_eq!(
            found,
            [Verdict::Met, Verdict::NotMet],
            "{row}: `{met}` and not `{not}`"
        );
    }

    /// What a sentence comes to.
    pub(crate) fn is(&self, row: &str, sentence: &str, facts: &[FactKind], wanted: Verdict) {
        let sentence = format!("{} {sentence}", self.name);
        let found = self.verdicts(std::slice::from_ref(&sentence), facts);
        assert_eq!(found, [wanted], "{row}: {sentence}");
    }
}

/// The small pack, each of its texts changed.
pub(crate) fn small_with(mut changed: impl FnMut(&str, String) -> String) -> CheckedPack {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/pack/tests-data/small");
    let files = texts(&root).into_iter().map(|(name, text)| {
        let text = changed(&name, text);
        (name, text)
    });
    let files = SourceFiles::new(files.collect());
    let checked = rungwise_pack::check(&files);
    let said = render(&files, &checked.diagnostics, Style::Plain);
    checked.pack.unwrap_or_else(|| panic!("{said}"))
}

fn readings(said: Said<'_>) -> Vec<Reading> {
    let readings = said.iter().map(|(measure, value)| Reading {
        measure: (*measure).into(),
        value: Value::Number(milli(value)),
    });
    readings.collect()
}

/// Decimals as thousandths.
fn milli(text: &str) -> Milli {
    let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
    Milli(format!("{whole}{rest:0<3}").parse().unwrap())
}

/// An assessment of one side.
pub(crate) fn assessed(said: Said<'_>) -> FactKind {
    FactKind::Assessment(Assessment {
        readings: readings(said),
        other_side: Vec::new(),
        other_side_sound: false,
    })
}

/// An assessment of both sides.
pub(crate) fn both_sides(own: Said<'_>, other: Said<'_>, sound: bool) -> FactKind {
    FactKind::Assessment(Assessment {
        readings: readings(own),
        other_side: readings(other),
        other_side_sound: sound,
    })
}

/// A reported number as a pack writes it.
pub(crate) fn number(
    name: &str,
    unit: &str,
    range: (i64, i64, &str),
    worse: &str,
    more: &str,
) -> String {
    let (min, max, step) = range;
    format!(
        "\n[[measure]]\nname = \"{name}\"\nunit = \"{unit}\"\nmin = {min}\nmax = {max}\nstep = {step}\n\
         worse = \"{worse}\"\ncarrier = \"assessment\"\nexpected = false\nreported_by = [\"clinician\"]\n\
         source = \"invented\"\n{more}\n"
    )
}

/// A worked-out one.
pub(crate) fn computed(name: &str, recipe: &str, unit: &str, more: &str) -> String {
    format!(
        "\n[[measure]]\nname = \"{name}\"\ncomputed = \"{recipe}\"\nunit = \"{unit}\"\nsource = \"invented\"\n{more}\n"
    )
}

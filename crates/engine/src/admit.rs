//! Whether a fact may be recorded: every fact that a pack does not understand is refused before it is written, by name,
//! with the field and what would be right. What passes here is what deciding may rely on.
//!
//! All refusals of a fact come together. Nothing is changed or rounded on the way.
//!
//! Leaves to others: what a fact means for the next decision (`crate::decide`), who may report (`rungwise-server`), and
//! sequences and request ids (`rungwise-store`).

mod before;
mod equipment;
mod order;
mod reading;
mod refusal;
mod report;

pub use before::Before;
pub use equipment::band;
pub use reading::{Given, reading};
pub use refusal::{Noun, Refusal, Wrong};

use crate::fact::{Correction, Fact, FactKind};
use jiff::ToSpan;
use jiff::civil::Date;
use reading::unknown;
use rungwise_pack::model::{Carrier, CheckedPack, Exercise, ExerciseIx, Phase, Reporter};
use rungwise_pack::quantity::Key;

/// Most sessions on one day.
pub const SESSIONS_A_DAY_MAX: u8 = 8;
/// Most exercises in one session, and pieces of equipment in one list.
pub const EXERCISES_MAX: usize = 64;
/// Most values in one list.
pub const READINGS_MAX: usize = 256;
/// Most sets of one exercise in one session.
pub const SETS_MAX: usize = 20;
/// Most repetitions in one set.
pub const REPS_MAX: u16 = 500;
/// Longest hold, in seconds.
pub const HOLD_S_MAX: u16 = 3600;
/// Longest time away, in days.
pub const AWAY_DAYS_MAX: i32 = 366;
/// Longest label of a band, in bytes.
pub const LABEL_BYTES_MAX: usize = 60;
/// Longest name of who says something, in bytes.
pub const WHO_BYTES_MAX: usize = 200;
/// Longest reason, in bytes.
pub const WHY_BYTES_MAX: usize = 4000;
/// How many days ahead of UTC's date a civil date may be: somewhere it is tomorrow already.
pub const AHEAD_DAYS_MAX: i32 = 1;

/// Judges a fact against a pack and what the episode holds. `today` is the civil date in UTC.
///
/// # Errors
/// Everything that is wrong with it, in the order of its fields; never empty.
pub fn admit(
    pack: &CheckedPack,
    before: &Before<'_>,
    fact: &Fact,
    today: Date,
) -> Result<(), Vec<Refusal>> {
    let mut admission = Admission {
        pack,
        before,
        today,
        refusals: Vec::new(),
    };
    admission.fact("", fact);
    if admission.refusals.is_empty() {
        Ok(())
    } else {
        Err(admission.refusals)
    }
}

/// A fact being judged.
struct Admission<'p> {
    pack: &'p CheckedPack,
    before: &'p Before<'p>,
    today: Date,
    refusals: Vec<Refusal>,
}

impl<'p> Admission<'p> {
    fn refuse(&mut self, path: String, wrong: Wrong) {
        self.refusals.push(Refusal { path, wrong });
    }

    /// `path` is empty, or a parent with its point.
    fn fact(&mut self, path: &str, fact: &Fact) {
        self.date(path, fact);
        match &fact.kind {
            FactKind::Session(session) => self.session(path, fact.date, session),
            FactKind::MorningAfter(after) => self.morning_after(path, fact.date, after),
            FactKind::Assessment(assessment) => self.assessment(path, assessment),
            FactKind::Screening(readings) => {
                self.readings(
                    &format!("{path}screening.readings"),
                    readings,
                    Carrier::Screening,
                );
            }
            FactKind::Event(event) => self.event(path, event),
            FactKind::Away { until } => self.away(path, fact.date, *until),
            FactKind::Equipment(owned) => self.equipment(path, owned),
            FactKind::Directive(directive) => {
                self.clinician(path, fact, "directive");
                self.directive(path, fact.date, directive);
            }
            FactKind::SignOff { decision, who, .. } => {
                self.clinician(path, fact, "sign-off");
                self.text(&format!("{path}sign_off.who"), who, WHO_BYTES_MAX);
                if let Some(why) = self.before.not_open(*decision, fact.date) {
                    let wrong = Wrong::NoOpenProposal {
                        decision: decision.0,
                        why,
                    };
                    self.refuse(format!("{path}sign_off.decision"), wrong);
                }
            }
            FactKind::PersonRefer { rule } => {
                self.refer_rule(&format!("{path}person_refer.rule"), rule, true);
            }
            FactKind::Correction(correction) => self.correction(path, correction),
        }
    }

    /// Events may be older than the episode (an operation months ago), and so may assessments and screenings that a
    /// person brings along; what only this care can have given rise to may not.
    fn date(&mut self, path: &str, fact: &Fact) {
        let path = format!("{path}date");
        let latest = self.today.saturating_add(AHEAD_DAYS_MAX.days());
        let episode = self.before.episode;
        let brought_along = matches!(
            fact.kind,
            FactKind::Event(_) | FactKind::Assessment(_) | FactKind::Screening(_)
        );
        if fact.date > latest {
            self.refuse(path, Wrong::InTheFuture { latest });
        } else if let Some(born_on) = episode.born_on.filter(|born_on| fact.date < *born_on) {
            self.refuse(path, Wrong::BeforeBirth { born_on });
        } else if fact.date < episode.opened_on && !episode.imported && !brought_along {
            self.refuse(
                path,
                Wrong::BeforeOpened {
                    opened_on: episode.opened_on,
                },
            );
        }
    }

    fn away(&mut self, path: &str, date: Date, until: Date) {
        let path = format!("{path}away.until");
        if until < date {
            self.refuse(path, Wrong::EndsBeforeItBegins { begins: date });
        } else if until > date.saturating_add(AWAY_DAYS_MAX.days()) {
            self.refuse(
                path,
                Wrong::TooLong {
                    days_max: AWAY_DAYS_MAX,
                },
            );
        }
    }

    fn clinician(&mut self, path: &str, fact: &Fact, what: &'static str) {
        if fact.by != Reporter::Clinician {
            self.refuse(format!("{path}reported_by"), Wrong::NotAClinician { what });
        }
    }

    fn text(&mut self, path: &str, text: &str, bytes_max: usize) {
        if let Some(wrong) = wrong_text(text, bytes_max) {
            self.refuse(path.into(), wrong);
        }
    }

    fn exercise(&mut self, path: &str, key: &Key) -> Option<(ExerciseIx, &'p Exercise)> {
        let pack = self.pack;
        let found = pack
            .exercise(key)
            .and_then(|index| Some((index, pack.exercises.get(index.at())?)));
        if found.is_none() {
            let renamed = pack
                .exercises
                .iter()
                .find(|exercise| exercise.was.contains(key));
            let known = pack
                .exercises
                .iter()
                .map(|exercise| exercise.key.clone())
                .collect();
            let wrong = match renamed {
                Some(exercise) => Wrong::Unknown {
                    noun: Noun::Exercise,
                    name: key.clone(),
                    meant: Some(exercise.key.clone()),
                    known,
                },
                None => unknown(Noun::Exercise, key, known),
            };
            self.refuse(path.into(), wrong);
        }
        found
    }

    fn phase(&mut self, path: &str, key: &Key) -> Option<&'p Phase> {
        let pack = self.pack;
        let found = pack
            .phase(key)
            .and_then(|phase| pack.phases.get(phase.at()));
        if found.is_none() {
            let known = pack.phases.iter().map(|phase| phase.key.clone()).collect();
            self.refuse(path.into(), unknown(Noun::Phase, key, known));
        }
        found
    }

    fn correction(&mut self, path: &str, correction: &Correction) {
        let path = &format!("{path}correction");
        self.text(&format!("{path}.who"), &correction.who, WHO_BYTES_MAX);
        self.text(&format!("{path}.why"), &correction.why, WHY_BYTES_MAX);
        let position = correction.of.0;
        let of = format!("{path}.of");
        let Some((first, stands)) = self.before.fact(correction.of) else {
            return self.refuse(of, Wrong::NotAFact { position });
        };
        if let Some((kind, instead)) = not_correctable(&first.kind) {
            return self.refuse(of, Wrong::NotCorrectable { kind, instead });
        }
        if stands.is_none() {
            return self.refuse(of, Wrong::AlreadyVoid { position });
        }
        let Some(replacement) = &correction.replacement else {
            return;
        };
        let (was, given) = (kind_word(&first.kind), kind_word(&replacement.kind));
        if was != given {
            return self.refuse(
                format!("{path}.replacement"),
                Wrong::OtherKind { was, given },
            );
        }
        let without = self.before.without(correction.of);
        let mut inner = Admission {
            pack: self.pack,
            before: &without,
            today: self.today,
            refusals: Vec::new(),
        };
        inner.fact(&format!("{path}.replacement."), replacement);
        self.refusals.append(&mut inner.refusals);
    }
}

/// Kinds that are ended in another way, and how.
const fn not_correctable(kind: &FactKind) -> Option<(&'static str, &'static str)> {
    match kind {
        FactKind::Correction(_) => Some(("correction", "correct the fact itself again")),
        FactKind::Directive(_) => Some(("directive", "give a directive that withdraws it")),
        FactKind::SignOff { .. } => Some(("sign-off", "give a directive that holds or places")),
        FactKind::PersonRefer { .. } => Some((
            "referral of the person",
            "give a directive that clears the rule",
        )),
        _ => None,
    }
}

const fn kind_word(kind: &FactKind) -> &'static str {
    match kind {
        FactKind::Session(_) => "session",
        FactKind::MorningAfter(_) => "morning-after",
        FactKind::Assessment(_) => "assessment",
        FactKind::Screening(_) => "screening",
        FactKind::Event(_) => "event",
        FactKind::Away { .. } => "time away",
        FactKind::Equipment(_) => "list of equipment",
        FactKind::Directive(_) => "directive",
        FactKind::SignOff { .. } => "sign-off",
        FactKind::PersonRefer { .. } => "referral of the person",
        FactKind::Correction(_) => "correction",
    }
}

/// What is wrong with a text that must say something, and not too much.
fn wrong_text(text: &str, bytes_max: usize) -> Option<Wrong> {
    if text.trim().is_empty() {
        return Some(Wrong::Empty);
    }
    let bytes = text.len();
    (bytes > bytes_max).then_some(Wrong::TextTooLong { bytes, bytes_max })
}

#[cfg(test)]
mod course_tests;
#[cfg(test)]
mod pass_tests;
#[cfg(test)]
mod tests;

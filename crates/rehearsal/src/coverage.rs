//! Coverage: which of a pack's sentences a set of diaries has seen met, and not met, and unknown.
//!
//! A sentence is *covered* when decisions that read it saw it met, not met, and, where a value of it can be missing,
//! unknown. Sentences are those of rules, limits, their conditions, needs of a ladder's value, and features of a defined
//! measure. What is worked out from dates, events and decisions alone, or on a value that a session need not carry, cannot
//! be unknown. A need that asks what its exercise's climb rule asks already is read only where that is met; it need only be
//! seen met.
//!
//! Leaves to others: playing diaries (`crate::play`), where a sentence stands (`rungwise_pack::places`).

use rungwise_engine::evaluate::{Verdicts, Watch};
use rungwise_pack::model::{
    Carrier, Computed, Criterion, Limit, MeasureIx, Origin, Pack, Sentence, SentenceIx, Subject,
};
use rungwise_pack::quantity::Key;
use std::fmt;

/// What a sentence belongs to.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Owner {
    /// A rule.
    Rule(Key),
    /// A limit.
    Limit(Key),
    /// The condition of a limit.
    Condition(Key),
    /// What a value of an exercise's ladder needs.
    Needs {
        /// The exercise.
        exercise: Key,
        /// The value with its variable, such as `reps 15`.
        value: String,
    },
    /// A feature of a defined measure.
    Feature {
        /// The measure.
        measure: Key,
        /// The choice that it gives.
        choice: Key,
    },
}

impl fmt::Display for Owner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rule(key) => write!(f, "rule {key}"),
            Self::Limit(key) => write!(f, "limit {key}"),
            Self::Condition(key) => write!(f, "condition of limit {key}"),
            Self::Needs { exercise, value } => write!(f, "needs of {exercise} {value}"),
            Self::Feature { measure, choice } => write!(f, "{measure} {choice}"),
        }
    }
}

/// One sentence with what was seen of it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Covered {
    /// The sentence.
    pub sentence: SentenceIx,
    /// What it belongs to; none only for a sentence that nothing of the pack uses.
    pub owner: Option<Owner>,
    /// The verdicts that it was given.
    pub seen: Verdicts,
    /// Whether it can be unknown at all.
    pub can_be_unknown: bool,
    /// Whether it is a need that its exercise's climb rule asks already, so that it is read only where it is met.
    pub repeats: bool,
}

impl Covered {
    /// Seen met, and not met and unknown if it can be.
    #[must_use]
    pub const fn is_whole(&self) -> bool {
        self.seen.met && !self.lacks_not_met() && !self.lacks_unknown()
    }

    /// Never seen not met, although it can be.
    #[must_use]
    pub const fn lacks_not_met(&self) -> bool {
        !self.repeats && !self.seen.not_met
    }

    /// Never seen unknown, although it can be.
    #[must_use]
    pub const fn lacks_unknown(&self) -> bool {
        !self.repeats && self.can_be_unknown && !self.seen.unknown
    }
}

/// Every sentence of a pack, in its order, with what a watch saw.
#[must_use]
pub fn coverage(pack: &Pack, watch: &Watch) -> Vec<Covered> {
    let owners = owners(pack);
    let repeating = repeating(pack);
    let sentences = (0u16..).map(SentenceIx).zip(&pack.sentences);
    sentences
        .map(|(sentence, said)| Covered {
            sentence,
            owner: owners.get(sentence.at()).cloned().flatten(),
            seen: watch.of(sentence),
            can_be_unknown: can_be_unknown(pack, &said.subject),
            repeats: repeating.contains(&sentence),
        })
        .collect()
}

/// `part` of `whole` in tenths of a per cent, rounded down; all of nothing is everything.
#[must_use]
pub const fn tenths_of_percent(part: usize, whole: usize) -> usize {
    match part.saturating_mul(1000).checked_div(whole) {
        Some(tenths) => tenths,
        None => 1000,
    }
}

/// What each sentence belongs to, in the order of the sentences.
#[must_use]
pub fn owners(pack: &Pack) -> Vec<Option<Owner>> {
    let mut owners = vec![None; pack.sentences.len()];
    let mut own = |criterion: &Criterion, owner: &Owner| {
        criterion.each_sentence(&mut |ix| {
            if let Some(of) = owners.get_mut(ix.at()) {
                *of = Some(owner.clone());
            }
        });
    };
    for rule in &pack.rules {
        own(&rule.when, &Owner::Rule(rule.key.clone()));
    }
    let of_phases = pack.phases.iter().flat_map(|phase| &phase.limits);
    let of_exercises = pack.exercises.iter().flat_map(|one| &one.limits);
    let limits: Vec<&Limit> = pack
        .limits
        .iter()
        .chain(of_phases)
        .chain(of_exercises)
        .collect();
    for limit in limits {
        own(
            &Criterion::Sentence(limit.sentence),
            &Owner::Limit(limit.key.clone()),
        );
        if let Some(condition) = &limit.condition {
            own(condition, &Owner::Condition(limit.key.clone()));
        }
    }
    for exercise in &pack.exercises {
        for row in &exercise.rows {
            for step in &row.values {
                if let Some(needs) = &step.needs {
                    let value = format!("{} {}", row.variable.word(), step.value);
                    let exercise = exercise.key.clone();
                    own(needs, &Owner::Needs { exercise, value });
                }
            }
        }
    }
    for measure in &pack.measures {
        let (Origin::Defined(defined), rungwise_pack::model::MeasureKind::Choice { choices }) =
            (&measure.origin, &measure.kind)
        else {
            continue;
        };
        for (choice, criterion) in &defined.features {
            let choice = choices.get(choice.at()).cloned();
            let owner = Owner::Feature {
                measure: measure.name.clone(),
                choice: choice.unwrap_or_else(|| "".into()),
            };
            own(criterion, &owner);
        }
    }
    owners
}

/// Needs that ask what their exercise's climb rule asks already: read once that is met, over the same sessions, they are
/// met.
pub(crate) fn repeating(pack: &Pack) -> Vec<SentenceIx> {
    let mut found = Vec::new();
    for exercise in &pack.exercises {
        let Some(climb) = pack.rules.get(exercise.climb.at()) else {
            continue;
        };
        let asked: Vec<&Sentence> = required(pack, &climb.when).map(|(_, one)| one).collect();
        let steps = exercise.rows.iter().flat_map(|row| &row.values);
        for needs in steps.filter_map(|step| step.needs.as_ref()) {
            let again = required(pack, needs).filter(|(_, one)| {
                asked.iter().any(|other| {
                    (&other.subject, &other.relation, &other.window)
                        == (&one.subject, &one.relation, &one.window)
                })
            });
            found.extend(again.map(|(ix, _)| ix));
        }
    }
    found
}

/// The sentences that must be met for a criterion to be met: itself, or those under `all`.
fn required<'p>(
    pack: &'p Pack,
    criterion: &'p Criterion,
) -> impl Iterator<Item = (SentenceIx, &'p Sentence)> {
    let parts = match criterion {
        Criterion::All(parts) => parts.as_slice(),
        other => std::slice::from_ref(other),
    };
    parts.iter().filter_map(|part| match part {
        Criterion::Sentence(ix) => Some((*ix, pack.sentences.get(ix.at())?)),
        _ => None,
    })
}

fn can_be_unknown(pack: &Pack, subject: &Subject) -> bool {
    match subject {
        Subject::Measure { measure, .. } => may_be_missing(pack, *measure, pack.measures.len()),
        Subject::Reached { .. } => false,
    }
}

/// Whether a measure can be missing, looking through at most so many definitions. Events that were not reported did not
/// happen, and dates and decisions are always there.
fn may_be_missing(pack: &Pack, measure: MeasureIx, definitions: usize) -> bool {
    let Some(deeper) = definitions.checked_sub(1) else {
        return true;
    };
    let Some(measure) = pack.measures.get(measure.at()) else {
        return true;
    };
    match &measure.origin {
        Origin::Computed(computed) => !matches!(
            computed,
            Computed::WeeksInCare
                | Computed::DaysInPhase
                | Computed::WeeksInPhase
                | Computed::SessionsInPhase
                | Computed::DaysSinceLastSession
                | Computed::DaysSinceDoseChanged
                | Computed::DaysSince(_)
                | Computed::WeeksSince(_)
                | Computed::ShareDone { .. }
        ),
        Origin::Defined(defined) => {
            let mut missing = false;
            for (_, criterion) in &defined.features {
                criterion.each_sentence(&mut |ix| {
                    let subject = pack.sentences.get(ix.at()).map(|one| &one.subject);
                    if let Some(Subject::Measure { measure, .. }) = subject {
                        missing = missing || may_be_missing(pack, *measure, deeper);
                    }
                });
            }
            missing
        }
        Origin::Reported => {
            // A session without a value that it need not carry is not in that measure's series.
            let of_sessions = matches!(
                measure.carrier,
                Carrier::Exercise | Carrier::Session | Carrier::MorningAfter
            );
            measure.expected || measure.fresh_days.is_some() || !of_sessions
        }
        Origin::Combined(_) => true,
    }
}

#[cfg(test)]
mod tests;

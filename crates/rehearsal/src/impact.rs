//! What another pack would change for the people who are there already.
//!
//! Two questions of one episode. *Past*: every decision that was made is made once more under the newer pack, from the
//! history that was recorded before it; what the newer pack decides is not carried on, so that one change is told once and
//! not again in everything that would have followed. *Today*: the same person decided for today under both packs, and what
//! becomes of the prescription in force and of the directives that bind it.
//!
//! Leaves to others: reading episodes, and spreading them over cores (they do not depend on each other).

use crate::bolder::bolder;
use crate::play::named;
use jiff::civil::Date;
use rungwise_engine::decide::decide;
use rungwise_engine::decision::{Cause, Decision, RuleVerdict, Verdict, Wanted};
use rungwise_engine::fact::{Body, DecisionNo, Episode, FactKind, Order, Position, Record};
use rungwise_engine::history::History;
use rungwise_engine::ladder;
use rungwise_engine::prescription::{Prescription, WhyLeftOut, prescription};
use rungwise_pack::model::{CheckedPack, Exercise, Outcome, Pack};
use rungwise_pack::quantity::{Key, Variable};
use std::collections::BTreeSet;

/// Which way a decision changes.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Direction {
    /// Somebody is moved further, or both further and less far.
    Bolder,
    /// Nobody is moved further, and somebody less far.
    Cautious,
    /// Neither: another exercise, another dose.
    Sideways,
}

/// How the newer pack decides otherwise.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Change {
    /// Which way.
    pub direction: Direction,
    /// What was decided, or is under the older pack.
    pub older: Outcome,
    /// What the newer decides.
    pub newer: Outcome,
    /// In what they differ, in words.
    pub what: String,
    /// The rules that decided one of the two and not the other.
    pub rules: Vec<Key>,
    /// Of those rules, the newer pack's sentences that made them decide, or not.
    pub sentences: Vec<String>,
}

/// A decision of the past that the newer pack makes otherwise.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PastChange {
    /// Its number.
    pub number: DecisionNo,
    /// The date it was made for.
    pub as_of: Date,
    /// How.
    pub change: Change,
}

/// What becomes of a person today.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Today {
    /// Decided for today, the newer pack decides otherwise.
    pub change: Option<Change>,
    /// The newer pack's outcome.
    pub outcome: Outcome,
    /// Whether the sheet must be handed out again: other exercises, doses or limits are in force under the newer pack
    /// before anything is decided.
    pub sheet_again: bool,
    /// Exercises in force for which the newer pack has no place.
    pub unmapped: Vec<Key>,
    /// Directives in force of which the newer pack knows nothing to bind.
    pub unbound: Vec<Position>,
}

impl Today {
    /// Whether anything is another than it was.
    #[must_use]
    pub fn is_another(&self) -> bool {
        let has_no_place = !self.unmapped.is_empty() || !self.unbound.is_empty();
        self.change.is_some() || self.sheet_again || has_no_place
    }
}

/// What the newer pack changes for one episode.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Impact {
    /// Decisions of the past that were made once more.
    pub decisions: usize,
    /// Those that the newer pack makes otherwise, oldest first.
    pub past: Vec<PastChange>,
    /// Today; none where nothing was prescribed yet.
    pub today: Option<Today>,
}

/// Every decision of the past made once more under `newer`.
///
/// `records` are an episode's, in order of position. The last value is the whole history as the newer pack reads it.
#[must_use]
pub fn past(
    newer: &CheckedPack,
    episode: &Episode,
    records: &[Record],
) -> (usize, Vec<PastChange>, History) {
    let mut history = History::new(newer, episode.clone());
    let (mut decisions, mut changed) = (0, Vec::new());
    for record in records {
        if let Body::Decision(made) = &record.body {
            let now = decide(newer, &history, made.as_of);
            if let Some(change) = change(newer, made, &now) {
                let number = history.next_no();
                let as_of = made.as_of;
                changed.push(PastChange {
                    number,
                    as_of,
                    change,
                });
            }
            decisions += 1;
        }
        history.push(newer, record.clone());
    }
    (decisions, changed, history)
}

/// What becomes of an open episode on this date, which is not before its last decision's. None where nothing was ever
/// prescribed. `history` is indexed for the pack that decides it so far, `renewed` is the same for the newer.
fn today(
    older: &CheckedPack,
    history: &History,
    newer: &CheckedPack,
    renewed: &History,
    as_of: Date,
) -> Option<Today> {
    let stands = prescription(older, history, as_of);
    stands.decision?;
    let would = prescription(newer, renewed, as_of);
    let (before, after) = (decide(older, history, as_of), decide(newer, renewed, as_of));
    Some(Today {
        change: change(newer, &before, &after),
        outcome: after.outcome,
        sheet_again: is_another(&stands, &would),
        unmapped: unmapped(&would, &after),
        unbound: unbound(newer, history, as_of),
    })
}

/// What the newer pack changes for one episode: its past, and where it is open the date for which it is decided today.
/// `history` is indexed for the pack that decides it so far.
#[must_use]
pub fn impact(
    older: &CheckedPack,
    newer: &CheckedPack,
    history: &History,
    as_of: Option<Date>,
) -> Impact {
    let (decisions, past, renewed) = past(newer, history.episode(), history.records());
    Impact {
        decisions,
        past,
        today: as_of.and_then(|as_of| today(older, history, newer, &renewed, as_of)),
    }
}

/// How `after` differs from `before`; none where it moves the same to the same doses.
fn change(newer: &Pack, before: &Decision, after: &Decision) -> Option<Change> {
    let (direction, what) = match (bolder(after, before), bolder(before, after)) {
        (Some(what), _) => (Direction::Bolder, what),
        (None, Some(what)) => (Direction::Cautious, reversed(before, after, &what)),
        (None, None) => (Direction::Sideways, sideways(before, after)?),
    };
    let rules = deciding(before, after);
    let sentences = sentences(newer, after, &rules);
    Some(Change {
        direction,
        older: before.outcome,
        newer: after.outcome,
        what,
        rules: rules.into_iter().collect(),
        sentences,
    })
}

/// In what the newer is less bold, told from its side.
fn reversed(before: &Decision, after: &Decision, what: &str) -> String {
    if before.outcome == after.outcome {
        return format!("no longer: {what}");
    }
    let (newer, older) = (after.outcome.word(), before.outcome.word());
    format!("{newer} is more cautious than {older}")
}

/// What differs although neither is bolder.
fn sideways(before: &Decision, after: &Decision) -> Option<String> {
    for place in &after.state.places {
        let same_line = |other: &&rungwise_engine::decision::Place| other.line == place.line;
        match before.state.places.iter().find(same_line) {
            None => return Some(format!("{} is prescribed", place.exercise)),
            Some(other) if other.exercise != place.exercise => {
                return Some(format!("{} in place of {}", place.exercise, other.exercise));
            }
            Some(other) if other.rung != place.rung || other.relief != place.relief => {
                return Some(format!("another dose of {}", place.exercise));
            }
            Some(_) => {}
        }
    }
    let gone = before.state.places.iter().find(|place| {
        let mut places = after.state.places.iter();
        !places.any(|other| other.line == place.line)
    });
    gone.map(|place| format!("{} is no longer prescribed", place.exercise))
}

/// The rules that decided one of the two and not the other.
fn deciding(before: &Decision, after: &Decision) -> BTreeSet<Key> {
    let causes = |decision: &Decision| -> BTreeSet<Cause> {
        let of_lines = decision.moves.iter().flat_map(|one| one.because.clone());
        decision.because.iter().cloned().chain(of_lines).collect()
    };
    let (before, after) = (causes(before), causes(after));
    let differing = before.symmetric_difference(&after);
    differing
        .filter_map(|cause| named(cause).cloned())
        .collect()
}

/// The sentences of these rules, as far as they made them decide: of a rule met those met, of one not met those not met, of
/// one in doubt those unknown.
fn sentences(pack: &Pack, decision: &Decision, rules: &BTreeSet<Key>) -> Vec<String> {
    let mut told: Vec<String> = Vec::new();
    for finding in &decision.findings {
        let rule = pack.rules.get(finding.rule.at());
        if !rule.is_some_and(|rule| rules.contains(&rule.key)) {
            continue;
        }
        let telling = |verdict: Verdict| match finding.verdict {
            RuleVerdict::Met => verdict == Verdict::Met,
            RuleVerdict::NotMet => matches!(verdict, Verdict::NotMet | Verdict::NotYetFull),
            RuleVerdict::InDoubt => verdict == Verdict::Unknown,
        };
        let found = finding
            .sentences
            .iter()
            .filter(|(_, verdict)| telling(*verdict));
        for (sentence, _) in found {
            let text = pack
                .sentences
                .get(sentence.at())
                .map(|one| one.text.clone());
            told.extend(text.filter(|text| !told.contains(text)));
        }
    }
    told
}

/// Whether another sheet is to be handed out.
fn is_another(stands: &Prescription, would: &Prescription) -> bool {
    stands.items != would.items
        || stands.left_out != would.left_out
        || stands.limits != would.limits
        || stands.standing != would.standing
}

/// Exercises in force for which the newer pack has none, or no rung.
fn unmapped(would: &Prescription, after: &Decision) -> Vec<Key> {
    let left_out = would.left_out.iter();
    let left_out = left_out.filter(|one| one.why == WhyLeftOut::Unmapped);
    let left_out = left_out.map(|one| &one.exercise);
    let asked = after.asks.iter().filter_map(|ask| match &ask.what {
        Wanted::Placement(exercise) => Some(exercise),
        _ => None,
    });
    let both: BTreeSet<&Key> = left_out.chain(asked).collect();
    both.into_iter().cloned().collect()
}

/// Directives in force on this date that name an exercise or a variable which the newer pack has not.
fn unbound(newer: &Pack, history: &History, as_of: Date) -> Vec<Position> {
    let directives = || {
        history.records().iter().filter_map(move |record| {
            let Body::Fact(fact) = &record.body else {
                return None;
            };
            match &fact.kind {
                FactKind::Directive(directive) if fact.date <= as_of => {
                    Some((record.position, directive))
                }
                _ => None,
            }
        })
    };
    let ended: BTreeSet<Position> = directives()
        .filter_map(|(_, directive)| match directive.order {
            Order::Withdraw { directive } => Some(directive),
            _ => None,
        })
        .collect();
    let standing = directives().filter(|(position, directive)| {
        !ended.contains(position) && directive.until.is_none_or(|until| until >= as_of)
    });
    standing
        .filter(|(_, directive)| !binds(newer, &directive.order))
        .map(|(position, _)| position)
        .collect()
}

fn binds(pack: &Pack, order: &Order) -> bool {
    // A directive may name an exercise as it was called before.
    let found = |key: &Key| {
        let index = ladder::find_exercise(pack, key)?;
        pack.exercises.get(index.at())
    };
    let has = |exercise: &Exercise, variable: Variable| {
        exercise.rows.iter().any(|row| row.variable == variable)
    };
    match order {
        Order::LeaveOut { exercise }
        | Order::Add { exercise }
        | Order::SetDose { exercise, .. } => found(exercise).is_some(),
        Order::Cap {
            exercise: Some(exercise),
            variable,
            ..
        } => found(exercise).is_some_and(|exercise| has(exercise, *variable)),
        Order::Cap {
            exercise: None,
            variable,
            ..
        } => pack
            .exercises
            .iter()
            .any(|exercise| has(exercise, *variable)),
        _ => true,
    }
}

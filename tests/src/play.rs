//! Playing histories: recording steps, letting the engine decide, holding the reference against it.
//!
//! Leaves to others: making the steps (`crate::generate`).

use crate::generate::history::{SoFar, Step, Teller, episode};
use crate::generate::report::differences;
use crate::reference;
use jiff::civil::Date;
use rungwise_engine::decide::{Next, decide, in_force, next, trace};
use rungwise_engine::decision::{Decision, State, Verdict};
use rungwise_engine::fact::{Body, Episode, Fact, Position, Record};
use rungwise_engine::history::History;
use rungwise_pack::model::{CheckedPack, RuleIx, SentenceIx};

/// A history being played.
pub struct Played<'p> {
    pack: &'p CheckedPack,
    episode: Episode,
    history: History,
    records: Vec<Record>,
    /// What was decided, by the place of the step that asked.
    pub decided: Vec<(Position, Decision)>,
}

impl<'p> Played<'p> {
    /// Nothing recorded yet.
    #[must_use]
    pub fn new(pack: &'p CheckedPack, episode: Episode) -> Self {
        let history = History::new(pack, episode.clone());
        Self {
            pack,
            episode,
            history,
            records: Vec::new(),
            decided: Vec::new(),
        }
    }

    /// Everything recorded.
    #[must_use]
    pub fn records(&self) -> &[Record] {
        &self.records
    }

    /// The last thing that was decided.
    #[must_use]
    pub fn last(&self) -> Option<&Decision> {
        self.decided.last().map(|(_, decision)| decision)
    }

    /// Records something at this place.
    pub fn record(&mut self, position: Position, recorded_on: Date, body: Body) {
        let record = Record {
            position,
            recorded_on,
            body,
        };
        self.history.push(self.pack, record.clone());
        self.records.push(record);
    }

    /// What the engine decides, without recording it.
    #[must_use]
    pub fn preview(&self, as_of: Date) -> Decision {
        decide(self.pack, &self.history, as_of)
    }

    /// What the sentences of a rule come to where they are read for an explanation, which takes no shortcut.
    #[must_use]
    pub fn explained(&self, as_of: Date, rule: RuleIx) -> Vec<(SentenceIx, Verdict)> {
        trace(self.pack, &self.history, as_of, rule)
            .iter()
            .map(|one| (one.sentence, one.verdict))
            .collect()
    }

    /// What is in force on this date.
    #[must_use]
    pub fn in_force(&self, as_of: Date) -> State {
        in_force(self.pack, &self.history, as_of).state
    }

    /// Lets the engine decide and records what it decided, unless it is the last decision again.
    pub fn ask(&mut self, position: Position, as_of: Date) -> &Decision {
        let decision = self.preview(as_of);
        if self.is_answered(as_of) {
            return self.last().unwrap();
        }
        self.record(position, as_of, Body::Decision(Box::new(decision.clone())));
        self.decided.push((position, decision));
        self.last().unwrap()
    }

    /// Whether the last record is a decision of this date, so that it is returned again.
    #[must_use]
    pub fn is_answered(&self, as_of: Date) -> bool {
        matches!(self.records.last(), Some(Record { body: Body::Decision(last), .. })
            if last.as_of == as_of)
    }

    /// In what the reference differs from the engine on this date.
    #[must_use]
    pub fn disagreements(&self, as_of: Date) -> Vec<String> {
        let next = next(self.pack, &self.history, as_of);
        if let Ok(Next::Again(number)) = next {
            let last = self.history.last_decision().map(|(last, ..)| last);
            let right = self.is_answered(as_of) && last == Some(number);
            return if right {
                Vec::new()
            } else {
                vec!["again".to_owned()]
            };
        }
        if self.is_answered(as_of) {
            return vec!["not again".to_owned()];
        }
        let engine = self.preview(as_of);
        let reference = reference::decide(self.pack, &self.episode, &self.records, as_of);
        differences(self.pack, &engine, &reference)
    }
}

/// Where the two first disagreed.
#[derive(Clone, Debug)]
pub struct Disagreement {
    /// The steps up to the asking.
    pub steps: Vec<(Position, Step)>,
    /// What was decided on the way.
    pub decided: Vec<(Position, Decision)>,
    /// In what they differ.
    pub differences: Vec<String>,
}

/// Plays steps until the two disagree.
#[must_use]
pub fn play(
    pack: &CheckedPack,
    episode: &Episode,
    steps: &[(Position, Step)],
) -> Option<Disagreement> {
    let mut played = Played::new(pack, episode.clone());
    let mut today = episode.opened_on;
    for (at, (position, step)) in steps.iter().enumerate() {
        match step {
            Step::Record(fact) => {
                today = today.max(fact.date);
                played.record(*position, today, Body::Fact(fact.clone()));
            }
            Step::Ask(date) => {
                today = today.max(*date);
                let differences = played.disagreements(*date);
                if !differences.is_empty() {
                    return Some(Disagreement {
                        steps: steps[..=at].to_vec(),
                        decided: played.decided,
                        differences,
                    });
                }
                played.ask(*position, *date);
            }
        }
    }
    None
}

/// The steps of a generated history, made while the engine decides.
#[must_use]
pub fn told(pack: &CheckedPack, seed: u64) -> (Episode, Vec<(Position, Step)>) {
    let episode = episode(seed);
    let mut teller = Teller::new(seed, pack);
    let mut played = Played::new(pack, episode.clone());
    let mut steps = Vec::new();
    let mut today = episode.opened_on;
    let days = teller.days();
    for n in 0..days {
        if n > 0 {
            today = teller.next_day(today);
        }
        let last = n + 1 == days;
        if teller.asks(n, last, true) {
            ask(&mut played, &mut steps, today);
        }
        for fact in teller.day(
            &SoFar {
                records: played.records(),
                today,
            },
            n == 0,
        ) {
            add(&mut played, &mut steps, today, fact);
        }
        if teller.asks(n, last, false) {
            ask(&mut played, &mut steps, today);
        }
    }
    (episode, steps)
}

fn add(played: &mut Played<'_>, steps: &mut Vec<(Position, Step)>, today: Date, fact: Fact) {
    let position = Position(steps.len() as u64 + 1);
    played.record(position, today, Body::Fact(fact.clone()));
    steps.push((position, Step::Record(fact)));
}

fn ask(played: &mut Played<'_>, steps: &mut Vec<(Position, Step)>, today: Date) {
    let position = Position(steps.len() as u64 + 1);
    played.ask(position, today);
    steps.push((position, Step::Ask(today)));
}

/// A shorter history with the same first difference, found by leaving steps out one at a time.
#[must_use]
pub fn shortest(pack: &CheckedPack, episode: &Episode, found: Disagreement) -> Disagreement {
    let kind = |one: &Disagreement| one.differences[0].lines().next().map(str::to_owned);
    let mut best = found;
    let mut at = best.steps.len();
    while at > 0 {
        at -= 1;
        let mut fewer = best.steps.clone();
        fewer.remove(at);
        if let Some(other) = play(pack, episode, &fewer)
            && kind(&other) == kind(&best)
        {
            best = other;
            at = at.min(best.steps.len());
        }
    }
    best
}

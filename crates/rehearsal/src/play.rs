//! Running a diary against a pack: every fact admitted as a server would, every ask decided, and each decision compared
//! with what the diary expects.
//!
//! Leaves to others: reading the diary (`crate::read`) and deciding (`rungwise-engine`).

mod compare;

pub use compare::Difference;

use crate::diary::{Diary, Entry, Expected, Prescribed, Step};
use jiff::civil::Date;
use rungwise_engine::admit::{Before, Refusal, admit};
use rungwise_engine::decide::{Next, NextError, in_force, next};
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::{Body, DecisionNo, Episode, Position, Record};
use rungwise_engine::history::History;
use rungwise_engine::prescription::prescription;
use rungwise_pack::model::CheckedPack;

/// A diary as it went.
#[derive(Clone, Debug)]
pub struct Played {
    /// Every ask, in order.
    pub asked: Vec<Asked>,
    /// Facts that the pack refused, and asks that could not be decided. The course went on without them.
    pub refused: Vec<Refused>,
    /// Everything recorded.
    pub history: History,
}

/// One ask and its answer.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The date asked for.
    pub date: Date,
    /// The line of the day in the diary's file, from 1.
    pub line: usize,
    /// The decision's number.
    pub number: DecisionNo,
    /// The decision.
    pub decision: Decision,
    /// Whether it is the decision of an earlier ask, nothing having changed since.
    pub again: bool,
    /// Where it is not what the diary expects.
    pub differences: Vec<Difference>,
}

/// Something that was not taken.
#[derive(Clone, Debug)]
pub struct Refused {
    /// The date of the day.
    pub date: Date,
    /// The line of the day in the diary's file, from 1.
    pub line: usize,
    /// Why.
    pub why: WhyRefused,
}

/// Why something was not taken.
#[derive(Clone, Debug)]
pub enum WhyRefused {
    /// The fact is not one that the pack understands there.
    Fact(Vec<Refusal>),
    /// An answer to a proposal, and none is open.
    NothingProposed,
    /// An ask for a date before the last decision's.
    Ask(NextError),
}

impl Played {
    /// Whether every fact was taken and every decision is the expected one.
    #[must_use]
    pub fn agrees(&self) -> bool {
        self.refused.is_empty() && self.asked.iter().all(|asked| asked.differences.is_empty())
    }
}

/// A course being played: facts reported and prescriptions asked for, one after another.
#[derive(Clone, Debug)]
pub struct Player<'p> {
    pack: &'p CheckedPack,
    history: History,
    position: Position,
}

impl<'p> Player<'p> {
    /// An episode of which nothing is known yet.
    #[must_use]
    pub fn new(pack: &'p CheckedPack, episode: Episode) -> Self {
        Self {
            pack,
            history: History::new(pack, episode),
            position: Position(0),
        }
    }

    /// Everything recorded so far.
    #[must_use]
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// Reports one entry, told on this date.
    ///
    /// # Errors
    /// Why it was not taken; nothing is recorded then.
    pub fn report(&mut self, told_on: Date, entry: &Entry) -> Result<(), WhyRefused> {
        let in_force = in_force(self.pack, &self.history, entry.date());
        let prescribed = prescribed(self.pack, &self.history, entry.date());
        let fact = entry
            .resolve(&prescribed, in_force.open_proposal)
            .ok_or(WhyRefused::NothingProposed)?;
        let before = Before::new(self.history.episode(), self.history.records());
        admit(self.pack, &before, &fact, told_on).map_err(WhyRefused::Fact)?;
        self.record(told_on, Body::Fact(fact));
        Ok(())
    }

    /// Asks for the next prescription and records the decision, where it is a new one.
    ///
    /// # Errors
    /// [`NextError`] where `date` lies before the last decision's.
    pub fn ask(&mut self, date: Date) -> Result<(DecisionNo, bool), NextError> {
        match next(self.pack, &self.history, date)? {
            Next::Again(number) => Ok((number, true)),
            Next::New(decision) => {
                let number = self.history.next_no();
                self.record(date, Body::Decision(decision));
                Ok((number, false))
            }
        }
    }

    fn record(&mut self, recorded_on: Date, body: Body) {
        self.position = Position(self.position.0 + 1);
        self.history.push(
            self.pack,
            Record {
                position: self.position,
                recorded_on,
                body,
            },
        );
    }

    fn answer(
        &self,
        step: &Step,
        expected: &Expected,
        (number, again): (DecisionNo, bool),
    ) -> Option<Asked> {
        let (_, decision) = self.history.decision(number)?;
        let differences = compare::differences(self.pack, &self.history, decision, expected);
        Some(Asked {
            date: step.date,
            line: step.line,
            number,
            decision: decision.clone(),
            again,
            differences,
        })
    }
}

/// Plays a whole diary.
#[must_use]
pub fn play(pack: &CheckedPack, diary: &Diary) -> Played {
    let mut player = Player::new(pack, diary.episode.clone());
    let mut asked = Vec::new();
    let mut refused = Vec::new();
    for step in &diary.steps {
        let refuse = |why| Refused {
            date: step.date,
            line: step.line,
            why,
        };
        for entry in &step.entries {
            if let Err(why) = player.report(step.date, entry) {
                refused.push(refuse(why));
            }
        }
        let Some(expected) = &step.ask else { continue };
        match player.ask(step.date) {
            Ok(answer) => asked.extend(player.answer(step, expected, answer)),
            Err(why) => refused.push(refuse(WhyRefused::Ask(why))),
        }
    }
    Played {
        asked,
        refused,
        history: player.history,
    }
}

/// What is prescribed on a date, as far as a session plan needs it.
#[must_use]
pub fn prescribed(pack: &CheckedPack, history: &History, date: Date) -> Vec<Prescribed> {
    let items = prescription(pack, history, date).items;
    items
        .into_iter()
        .map(|item| Prescribed {
            exercise: item.exercise,
            dose: item.dose,
        })
        .collect()
}

#[cfg(test)]
mod tests;

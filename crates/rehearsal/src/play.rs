//! Running a diary against a pack: every fact admitted as a server would, every ask decided, and each decision compared
//! with what the diary expects.
//!
//! Leaves to others: reading the diary (`crate::read`) and deciding (`rungwise-engine`).

mod compare;

pub use compare::{Difference, Field};
pub(crate) use compare::{NOTHING, causes, named, reviews};

use crate::diary::{Diary, Entry, Expected, Prescribed, Step};
use jiff::civil::Date;
use rungwise_engine::admit::{Before, Refusal, admit};
use rungwise_engine::decide::{Next, NextError, decide_watched, in_force, next};
use rungwise_engine::decision::Decision;
use rungwise_engine::evaluate::Watch;
use rungwise_engine::fact::{Body, DecisionNo, Episode, Fact, Position, Record};
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
    /// Which of the file's days it is, from 0.
    pub day: usize,
    /// The decision's number.
    pub number: DecisionNo,
    /// The decision.
    pub decision: Decision,
    /// Whether it is the decision of an earlier ask, nothing having changed since.
    pub again: bool,
    /// What is prescribed on that date after it.
    pub prescribed: Vec<Prescribed>,
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
    watch: Option<&'p Watch>,
}

impl<'p> Player<'p> {
    /// An episode of which nothing is known yet.
    #[must_use]
    pub fn new(pack: &'p CheckedPack, episode: Episode) -> Self {
        Self {
            pack,
            history: History::new(pack, episode),
            position: Position(0),
            watch: None,
        }
    }

    /// The same, with the verdicts that sentences are given told to a watch.
    #[must_use]
    pub fn watched(pack: &'p CheckedPack, episode: Episode, watch: &'p Watch) -> Self {
        Self {
            watch: Some(watch),
            ..Self::new(pack, episode)
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
                if let Some(watch) = self.watch {
                    // The same decision once more: watching is for coverage and need not be quick.
                    let _ = decide_watched(self.pack, &self.history, date, watch);
                }
                let number = self.history.next_no();
                self.record(date, Body::Decision(decision));
                Ok((number, false))
            }
        }
    }

    /// Records a fact without asking whether the pack understands it: for facts that are made of the pack's own measures.
    pub(crate) fn take(&mut self, told_on: Date, fact: Fact) {
        self.record(told_on, Body::Fact(fact));
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
        let prescribed = prescribed(self.pack, &self.history, decision.as_of);
        let differences = compare::differences(&prescribed, decision, expected);
        Some(Asked {
            date: step.date,
            line: step.line,
            day: step.day,
            number,
            decision: decision.clone(),
            again,
            prescribed,
            differences,
        })
    }
}

/// Plays a whole diary.
#[must_use]
pub fn play(pack: &CheckedPack, diary: &Diary) -> Played {
    play_with(Player::new(pack, diary.episode.clone()), diary)
}

/// Plays a whole diary, with the verdicts that sentences are given told to a watch.
#[must_use]
pub fn play_watched(pack: &CheckedPack, diary: &Diary, watch: &Watch) -> Played {
    play_with(Player::watched(pack, diary.episode.clone(), watch), diary)
}

fn play_with(mut player: Player<'_>, diary: &Diary) -> Played {
    let mut asked = Vec::new();
    let mut refused = Vec::new();
    go(&mut player, diary, &mut |went| {
        match went {
            Went::Asked(one) => asked.push(*one),
            Went::Refused(one) => refused.push(one),
        }
        true
    });
    Played {
        asked,
        refused,
        history: player.history,
    }
}

/// How one thing of a diary went: facts that are taken are not told.
pub(crate) enum Went {
    /// An ask was answered.
    Asked(Box<Asked>),
    /// A fact or an ask was not taken.
    Refused(Refused),
}

/// Plays a diary, telling `each` how it goes, until that says that it heard enough.
pub(crate) fn go(player: &mut Player<'_>, diary: &Diary, each: &mut dyn FnMut(Went) -> bool) {
    for step in &diary.steps {
        let refuse = |why| {
            Went::Refused(Refused {
                date: step.date,
                line: step.line,
                why,
            })
        };
        for entry in &step.entries {
            if let Err(why) = player.report(step.date, entry)
                && !each(refuse(why))
            {
                return;
            }
        }
        let Some(expected) = &step.ask else { continue };
        let went = match player.ask(step.date) {
            Ok(answer) => {
                let asked = player.answer(step, expected, answer);
                asked.map(|asked| Went::Asked(Box::new(asked)))
            }
            Err(why) => Some(refuse(WhyRefused::Ask(why))),
        };
        if went.is_some_and(|went| !each(went)) {
            return;
        }
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

//! What is known on a date: facts with their corrections applied, sessions with their mornings after, decisions.
//!
//! Everything is rebuilt from the raw list each time.
//!
//! Leaves to others: what the values mean (`super::series`).

use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::{
    Assessment, Body, Correction, DecisionNo, Directive, Done, Episode, ExerciseReport, Fact,
    FactKind, Order, Position, Reading, Record, Session,
};
use rungwise_pack::model::{CheckedPack, ExerciseIx};
use rungwise_pack::quantity::Key;

/// A fact as it stands now.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Where it stands: the original's place, also after a correction.
    pub position: Position,
    /// From which record on it is known as it stands now: the correction's place where there was one.
    pub known: Position,
    /// The fact.
    pub fact: Fact,
}

/// A decision with its number and place.
#[derive(Clone, Copy, Debug)]
pub struct Decided<'a> {
    /// Its number.
    pub number: DecisionNo,
    /// Its place.
    pub position: Position,
    /// The decision.
    pub decision: &'a Decision,
}

/// What is known.
#[derive(Clone, Debug)]
pub struct View<'a> {
    /// The rules.
    pub pack: &'a CheckedPack,
    /// The episode.
    pub episode: &'a Episode,
    /// The raw list, later records included.
    pub records: &'a [Record],
    /// Which day it is.
    pub today: Date,
    /// Visible facts by place.
    pub entries: Vec<Entry>,
    /// Every decision, in order.
    pub decisions: Vec<Decided<'a>>,
}

/// Whether a morning after is known.
#[derive(Clone, Debug)]
pub enum Morning {
    /// Not reported, and none is due (yet, or at all).
    NotDue,
    /// Due and not reported.
    Silent,
    /// Reported.
    Told {
        /// When.
        date: Date,
        /// Known from this record on.
        known: Position,
        /// Its values.
        readings: Vec<Reading>,
    },
}

/// A session as it stands.
#[derive(Clone, Debug)]
pub struct SessionAt {
    /// Its date.
    pub date: Date,
    /// Its place.
    pub position: Position,
    /// Known as it stands from this record on.
    pub known: Position,
    /// The decision it followed.
    pub followed: Option<DecisionNo>,
    /// What was reported.
    pub session: Session,
    /// The morning after.
    pub morning: Morning,
}

/// Whole days from `a` to `b`.
#[must_use]
pub fn days_between(a: Date, b: Date) -> i64 {
    i64::from(a.until(b).unwrap().get_days())
}

/// `date` and so many days.
#[must_use]
pub fn plus_days(date: Date, days: i64) -> Date {
    date.checked_add(days.days()).unwrap()
}

impl<'a> View<'a> {
    /// What is known on `today` by the records before `end` (all of them where it is none).
    #[must_use]
    pub fn new(
        pack: &'a CheckedPack,
        episode: &'a Episode,
        records: &'a [Record],
        end: Option<Position>,
        today: Date,
    ) -> Self {
        let known = records
            .iter()
            .filter(|record| end.is_none_or(|end| record.position < end));
        let mut decisions = Vec::new();
        let mut entries: Vec<Entry> = Vec::new();
        for record in known {
            match &record.body {
                Body::Decision(decision) => decisions.push(Decided {
                    number: DecisionNo(decisions.len() as u32),
                    position: record.position,
                    decision,
                }),
                Body::Fact(fact) => entries.push(Entry {
                    position: record.position,
                    known: record.position,
                    fact: fact.clone(),
                }),
            }
        }
        let mut view = Self {
            pack,
            episode,
            records,
            today,
            entries,
            decisions,
        };
        view.correct();
        view.entries.retain(|entry| entry.fact.date <= today);
        view
    }

    /// Applies the corrections that are visible.
    pub fn correct(&mut self) {
        for at in 0..self.entries.len() {
            let FactKind::Correction(correction) = self.entries[at].fact.kind.clone() else {
                continue;
            };
            if self.entries[at].fact.date > self.today {
                continue;
            }
            let known = self.entries[at].known;
            let Some(target) = self
                .entries
                .iter()
                .position(|entry| entry.position == correction.of)
            else {
                continue;
            };
            self.entries[target].known = known;
            self.entries[target].fact = corrected(&self.entries[target].fact, &correction);
        }
    }

    /// The same as if the corrected facts had been reported in the first place.
    #[must_use]
    pub fn with(mut self, corrections: &[&Correction]) -> Self {
        for correction in corrections {
            let target = self
                .entries
                .iter_mut()
                .find(|entry| entry.position == correction.of);
            if let Some(target) = target {
                target.fact = corrected(&target.fact, correction);
            }
        }
        let voided = |entry: &Entry| {
            let mut newest_first = corrections.iter().rev();
            let newest = newest_first.find(|one| one.of == entry.position);
            newest.is_some_and(|one| one.replacement.is_none())
        };
        let today = self.today;
        // What is void was never reported, and so is nothing new either.
        self.entries.retain(|entry| {
            entry.fact.date <= today && !(voided(entry) && entry.known == entry.position)
        });
        self
    }

    /// What a decision saw.
    #[must_use]
    pub fn seen_by(&self, decided: Decided<'_>) -> Self {
        let (position, date) = (decided.position, decided.decision.as_of);
        Self::new(self.pack, self.episode, self.records, Some(position), date)
    }

    /// The same with another day for today: later facts are not seen.
    #[must_use]
    pub fn on(&self, today: Date) -> Self {
        let mut view = self.clone();
        view.today = today;
        view.entries.retain(|entry| entry.fact.date <= today);
        view
    }

    /// The same with only those facts that are known from a record after `position`.
    #[must_use]
    pub fn known_after(&self, position: Position) -> Self {
        let mut view = self.clone();
        view.entries.retain(|entry| entry.known > position);
        view
    }

    /// The last decision.
    #[must_use]
    pub fn last(&self) -> Option<Decided<'a>> {
        self.decisions.last().copied()
    }

    /// The last decision that prescribed.
    #[must_use]
    pub fn last_prescribing(&self) -> Option<Decided<'a>> {
        self.decisions
            .iter()
            .rev()
            .find(|decided| decided.decision.prescribes)
            .copied()
    }

    /// A decision by its number.
    #[must_use]
    pub fn decided(&self, number: DecisionNo) -> Option<Decided<'a>> {
        self.decisions.get(number.0 as usize).copied()
    }

    /// The number that the next decision will have.
    #[must_use]
    pub fn next_number(&self) -> DecisionNo {
        DecisionNo(self.decisions.len() as u32)
    }

    /// The date of a decision, which may be the one being made.
    #[must_use]
    pub fn date_of(&self, number: DecisionNo) -> Date {
        self.decided(number)
            .map_or(self.today, |decided| decided.decision.as_of)
    }

    /// The place of a decision; the one being made stands after everything.
    #[must_use]
    pub fn position_of(&self, number: DecisionNo) -> Position {
        self.decided(number)
            .map_or(Position(u64::MAX), |decided| decided.position)
    }

    /// Whether a record of this place and date is new to `seen_by` (everything is new to nobody).
    #[must_use]
    pub fn is_new(known: Position, date: Date, seen_by: Option<Decided<'_>>) -> bool {
        seen_by.is_none_or(|seen| known > seen.position || date > seen.decision.as_of)
    }

    /// Entries that `seen_by` did not see.
    #[must_use]
    pub fn new_entries(&self, seen_by: Option<Decided<'_>>) -> Vec<&Entry> {
        self.entries
            .iter()
            .filter(|entry| Self::is_new(entry.known, entry.fact.date, seen_by))
            .collect()
    }

    /// Sessions by date, number and place.
    #[must_use]
    pub fn sessions(&self) -> Vec<SessionAt> {
        let mut sessions: Vec<SessionAt> = self
            .entries
            .iter()
            .filter_map(|entry| match &entry.fact.kind {
                FactKind::Session(session) => Some(SessionAt {
                    date: entry.fact.date,
                    position: entry.position,
                    known: entry.known,
                    followed: session.followed.or_else(|| self.in_force_at(entry)),
                    session: session.clone(),
                    morning: Morning::NotDue,
                }),
                _ => None,
            })
            .collect();
        sessions.sort_by_key(|at| (at.date, at.session.number, at.position));
        let mornings: Vec<Morning> = (0..sessions.len())
            .map(|at| self.morning_of(&sessions, at))
            .collect();
        for (session, morning) in sessions.iter_mut().zip(mornings) {
            session.morning = morning;
        }
        sessions
    }

    /// The last decision in force when a fact was recorded and dated on or before it. A proposal is in force once it
    /// was accepted.
    fn in_force_at(&self, entry: &Entry) -> Option<DecisionNo> {
        self.decisions
            .iter()
            .rev()
            .find(|decided| {
                decided.decision.prescribes
                    && decided.position < entry.position
                    && decided.decision.as_of <= entry.fact.date
                    && (!decided.decision.proposed
                        || self.was_accepted(**decided, entry.fact.date, entry.position))
            })
            .map(|decided| decided.number)
    }

    /// Whether a proposal was accepted, while it could be, by this date and before this place.
    #[must_use]
    pub fn was_accepted(&self, proposal: Decided<'_>, by: Date, before: Position) -> bool {
        let answers: Vec<(&Entry, bool)> = self
            .entries
            .iter()
            .filter(|entry| entry.position < before && entry.fact.date <= by)
            .filter_map(|entry| match entry.fact.kind {
                FactKind::SignOff {
                    decision, accepted, ..
                } if decision == proposal.number => Some((entry, accepted)),
                _ => None,
            })
            .collect();
        answers.iter().any(|(answer, accepted)| {
            let rejected = answers
                .iter()
                .any(|(other, yes)| !yes && other.position < answer.position);
            let stands = self
                .decisions
                .iter()
                .filter(|later| later.number > proposal.number && later.position < answer.position)
                .all(|later| keeps_open(proposal.decision, later.decision));
            *accepted && !rejected && stands
        })
    }

    /// The morning after a session; several reports are read together.
    fn morning_of(&self, sessions: &[SessionAt], at: usize) -> Morning {
        let session = &sessions[at];
        let last_of_day = sessions
            .get(at + 1)
            .is_none_or(|next| next.date != session.date);
        let mut told: Vec<(&Entry, &Vec<Reading>)> = Vec::new();
        for entry in &self.entries {
            let FactKind::MorningAfter(morning) = &entry.fact.kind else {
                continue;
            };
            let this = match morning.session_number {
                Some(number) => number == session.session.number,
                None => last_of_day,
            };
            if morning.session_date == session.date && this {
                told.push((entry, &morning.readings));
            }
        }
        told.sort_by_key(|(entry, _)| (entry.fact.date, entry.position));
        if let Some((entry, _)) = told.last() {
            return Morning::Told {
                date: entry.fact.date,
                known: told.iter().map(|(entry, _)| entry.known).max().unwrap(),
                readings: told
                    .iter()
                    .flat_map(|(_, readings)| (*readings).clone())
                    .collect(),
            };
        }
        if last_of_day && self.today > session.date {
            Morning::Silent
        } else {
            Morning::NotDue
        }
    }

    /// Assessments by date and place.
    #[must_use]
    pub fn assessments(&self) -> Vec<(&Entry, &Assessment)> {
        let mut found: Vec<_> = self
            .entries
            .iter()
            .filter_map(|entry| match &entry.fact.kind {
                FactKind::Assessment(assessment) => Some((entry, assessment)),
                _ => None,
            })
            .collect();
        found.sort_by_key(|(entry, _)| (entry.fact.date, entry.position));
        found
    }

    /// Screenings by date and place.
    #[must_use]
    pub fn screenings(&self) -> Vec<(&Entry, &Vec<Reading>)> {
        let mut found: Vec<_> = self
            .entries
            .iter()
            .filter_map(|entry| match &entry.fact.kind {
                FactKind::Screening(readings) => Some((entry, readings)),
                _ => None,
            })
            .collect();
        found.sort_by_key(|(entry, _)| (entry.fact.date, entry.position));
        found
    }

    /// Directives by place that are not withdrawn, whether or not they still bind.
    #[must_use]
    pub fn directives(&self) -> Vec<(&Entry, &Directive)> {
        let all: Vec<(&Entry, &Directive)> = self
            .entries
            .iter()
            .filter_map(|entry| match &entry.fact.kind {
                FactKind::Directive(directive) => Some((entry, directive)),
                _ => None,
            })
            .collect();
        let withdrawn = |position: Position| {
            all.iter().any(|(_, directive)| {
                matches!(directive.order, Order::Withdraw { directive } if directive == position)
            })
        };
        all.iter()
            .filter(|(entry, _)| !withdrawn(entry.position))
            .copied()
            .collect()
    }

    /// Orders that bind today, with their places.
    #[must_use]
    pub fn orders(&self) -> Vec<(Position, &Order)> {
        self.directives()
            .into_iter()
            .filter(|(_, directive)| directive.until.is_none_or(|until| self.today <= until))
            .map(|(entry, directive)| (entry.position, &directive.order))
            .collect()
    }

    /// Days reported away.
    #[must_use]
    pub fn away(&self, day: Date) -> bool {
        self.entries.iter().any(|entry| match entry.fact.kind {
            FactKind::Away { until } => entry.fact.date <= day && day <= until,
            _ => false,
        })
    }
}

/// Whether a decision leaves an earlier proposal open to be accepted.
#[must_use]
pub fn keeps_open(proposal: &Decision, later: &Decision) -> bool {
    later.outcome.rank() >= proposal.outcome.rank()
        && later.moves.iter().all(|one| one.mv.rank() >= 3)
        && later.state.stay == proposal.state.stay
}

fn corrected(fact: &Fact, correction: &Correction) -> Fact {
    match &correction.replacement {
        Some(replacement) => (**replacement).clone(),
        // A void fact stays as an event of no kind, so that another correction still finds it.
        None => Fact {
            kind: FactKind::Event(Key::from("")),
            ..fact.clone()
        },
    }
}

impl SessionAt {
    /// Whether it followed `number` or a later decision.
    #[must_use]
    pub fn followed_since(&self, number: DecisionNo) -> bool {
        self.followed.is_some_and(|followed| followed >= number)
    }

    /// What was reported of an exercise that was done or skipped for pain.
    #[must_use]
    pub fn tried(&self, pack: &CheckedPack, exercise: ExerciseIx) -> Option<&ExerciseReport> {
        let key = &pack.exercises[exercise.at()].key;
        self.session
            .exercises
            .iter()
            .find(|report| report.exercise == *key && report.done != Done::SkippedOtherwise)
    }

    /// Every exercise that was done or skipped for pain.
    #[must_use]
    pub fn all_tried(&self, pack: &CheckedPack) -> Vec<ExerciseIx> {
        (0..pack.exercises.len() as u16)
            .map(ExerciseIx)
            .filter(|exercise| self.tried(pack, *exercise).is_some())
            .collect()
    }
}

//! Building the index, whole or by one more record.

use super::values::{values, worst};
use super::{
    Accepted, Away, CorrectionAt, DirectiveAt, EquipmentAt, Event, Exercised, Index, Mark, Morning,
    PersonRefer, SessionFact, Sheet, Touch, decision_of, fact_of, record_at,
};
use crate::decision::{Decision, Move, State};
use crate::fact::{
    Assessment, Body, DecisionNo, Done, Fact, FactKind, MorningAfter, Position, Record, Session,
};
use crate::ladder::find_exercise;
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, ExerciseIx};

/// A fact with its places in the ledger.
#[derive(Clone, Copy)]
struct At<'a> {
    fact: &'a Fact,
    /// Of the original.
    position: Position,
    /// Of this version.
    known: Position,
    /// Index of the record that holds this version.
    record: u32,
}

/// A morning-after that waits until every session is known.
struct Waiting<'a> {
    report: &'a MorningAfter,
    morning: Morning,
}

impl Index {
    /// Indexes all records. Corrections dated after `seen_until` are not applied.
    pub(crate) fn build(pack: &CheckedPack, records: &[Record], seen_until: Option<Date>) -> Self {
        let mut index = Self::new(pack);
        let replaced = index.corrections_of(records, seen_until);
        let mut waiting = Vec::new();
        for (record, whole) in records.iter().enumerate() {
            let Ok(record) = u32::try_from(record) else {
                break;
            };
            match &whole.body {
                Body::Decision(decision) => index.take_decision(pack, record, decision),
                Body::Fact(fact) if matches!(fact.kind, FactKind::Correction(_)) => {}
                Body::Fact(_) => {
                    let position = whole.position;
                    let version = replaced.iter().find(|(of, _)| *of == position);
                    let holder = version.map_or(record, |(_, holder)| *holder);
                    let held = records.get(holder as usize);
                    if let Some((held, fact)) = held.and_then(|held| Some((held, fact_of(held)?))) {
                        let at = At {
                            fact,
                            position,
                            known: held.position,
                            record: holder,
                        };
                        index.take(pack, records, at, &mut waiting);
                    }
                }
            }
        }
        index.order();
        for waits in waiting {
            index.attach(waits);
        }
        index.order_touches();
        index
    }

    /// Takes in the last of `records`. False: it belongs into the middle, and the whole is to be built again.
    pub(crate) fn append(&mut self, pack: &CheckedPack, records: &[Record]) -> bool {
        let Some(at) = records.len().checked_sub(1) else {
            return true;
        };
        let (Ok(record), Some(whole)) = (u32::try_from(at), records.last()) else {
            return false;
        };
        let fact = match &whole.body {
            Body::Decision(decision) => {
                self.take_decision(pack, record, decision);
                return true;
            }
            Body::Fact(fact) => fact,
        };
        if !self.goes_last(whole.position, fact) {
            return false;
        }
        let at = At {
            fact,
            position: whole.position,
            known: whole.position,
            record,
        };
        let mut waiting = Vec::new();
        self.take(pack, records, at, &mut waiting);
        for waits in waiting {
            self.attach(waits);
        }
        self.finish_last_session();
        true
    }

    /// Whether a fact can be taken in without putting anything before what is there.
    fn goes_last(&self, position: Position, fact: &Fact) -> bool {
        match &fact.kind {
            FactKind::Correction(_) => false,
            FactKind::Session(session) => {
                let key = (fact.date, session.number, position);
                let last = self.sessions.last();
                let moves = last.is_some_and(|last| {
                    last.date == fact.date && last.mornings.iter().any(|one| !one.numbered)
                });
                last.is_none_or(|last| last.key() < key)
                    && !moves
                    && !self.orphans.contains(&fact.date)
            }
            FactKind::Assessment(_) => {
                goes_after(self.assessments.last().map(|one| one.date), fact)
            }
            FactKind::Screening(_) => goes_after(self.screenings.last().map(|one| one.date), fact),
            FactKind::Event(_) => goes_after(self.events.last().map(|one| one.date), fact),
            _ => true,
        }
    }

    /// The newest correction of every corrected fact: (its position, index of the record that corrects it).
    fn corrections_of(
        &mut self,
        records: &[Record],
        seen_until: Option<Date>,
    ) -> Vec<(Position, u32)> {
        let mut replaced: Vec<(Position, u32)> = Vec::new();
        for (at, record) in records.iter().enumerate() {
            let Body::Fact(fact) = &record.body else {
                continue;
            };
            let FactKind::Correction(correction) = &fact.kind else {
                continue;
            };
            if seen_until.is_some_and(|until| fact.date > until) {
                continue;
            }
            let earlier = self.corrections.iter();
            let of = earlier
                .rev()
                .find(|one| one.position == correction.of)
                .map_or(correction.of, |one| one.of);
            let target = record_at(records, of).and_then(|at| records.get(at));
            let Some(Body::Fact(original)) = target.map(|target| &target.body) else {
                continue;
            };
            let Ok(at) = u32::try_from(at) else { continue };
            self.corrections.push(CorrectionAt {
                date: fact.date,
                position: record.position,
                of,
                of_date: original.date,
            });
            self.touches.push(Touch {
                date: fact.date,
                known: record.position,
                session: None,
            });
            match replaced.iter_mut().find(|(one, _)| *one == of) {
                Some((_, holder)) => *holder = at,
                None => replaced.push((of, at)),
            }
        }
        replaced
    }

    fn take_decision(&mut self, pack: &CheckedPack, record: u32, decision: &Decision) {
        let exercises = |state: &State| -> Vec<ExerciseIx> {
            let places = state.places.iter();
            places
                .filter_map(|place| find_exercise(pack, &place.exercise))
                .collect()
        };
        let accepted = decision.if_accepted.as_ref().map(exercises);
        self.decisions.push(record);
        self.prescribed
            .push([exercises(&decision.state), accepted.unwrap_or_default()]);
    }

    /// A sign-off counts once: what was answered or overtaken stays as it is.
    fn sign_off(&mut self, records: &[Record], decision: DecisionNo, accepted: bool, at: At<'_>) {
        if !accepted {
            self.rejected.push(decision);
        } else if self.acceptable(records, decision)
            && self.accepted.iter().all(|one| one.decision < decision)
        {
            self.accepted.push(Accepted {
                decision,
                date: at.fact.date,
                position: at.position,
                known: at.known,
            });
        }
    }

    fn take<'a>(
        &mut self,
        pack: &CheckedPack,
        records: &[Record],
        at: At<'a>,
        waiting: &mut Vec<Waiting<'a>>,
    ) {
        let (date, position, known) = (at.fact.date, at.position, at.known);
        let mut touch = Touch {
            date,
            known,
            session: None,
        };
        match &at.fact.kind {
            FactKind::Session(session) => {
                let followed = session
                    .followed
                    .or_else(|| self.in_force_on(records, position, date));
                let session = session_fact(pack, at, session, followed);
                touch.session = Some(session.key());
                self.sessions.push(session);
            }
            FactKind::MorningAfter(report) => {
                let morning = Morning {
                    date,
                    position,
                    known,
                    numbered: report.session_number.is_some(),
                    values: values(pack, &report.readings),
                };
                waiting.push(Waiting { report, morning });
                return;
            }
            FactKind::Assessment(assessment) => {
                self.assessments
                    .push(assessment_sheet(pack, at, assessment));
            }
            FactKind::Screening(readings) => self.screenings.push(Sheet {
                date,
                position,
                known,
                values: values(pack, readings),
                other: Vec::new(),
            }),
            FactKind::Event(name) => {
                let event = pack.events.iter().position(|event| event == name);
                let event = event.and_then(|event| u16::try_from(event).ok());
                self.events.extend(event.map(|event| Event {
                    date,
                    position,
                    known,
                    event,
                }));
            }
            FactKind::Away { until } => self.aways.push(Away {
                from: date,
                until: *until,
                known,
            }),
            FactKind::Directive(_) => self.directives.push(DirectiveAt {
                date,
                position,
                known,
                record: at.record,
            }),
            FactKind::SignOff {
                decision, accepted, ..
            } => {
                self.sign_off(records, *decision, *accepted, at);
            }
            FactKind::PersonRefer { rule } => self.person_refers.push(PersonRefer {
                date,
                known,
                rule: rule.clone(),
            }),
            FactKind::Equipment(_) => self.equipment.push(EquipmentAt {
                date,
                position,
                known,
                record: at.record,
            }),
            FactKind::Correction(_) => {}
        }
        self.touch(touch);
    }

    /// Whether a proposal may be accepted now: nothing since ranks lower, lowers a line
    /// or began another stay, and nobody rejected it.
    pub(crate) fn acceptable(&self, records: &[Record], no: DecisionNo) -> bool {
        let mut from = self.decisions.iter().skip(no.0 as usize);
        let decision = |at: &u32| records.get(*at as usize).and_then(decision_of);
        let Some(proposal) = from.next().and_then(decision) else {
            return false;
        };
        proposal.proposed
            && !self.rejected.contains(&no)
            && from.filter_map(decision).all(|later| {
                later.state.stay == proposal.state.stay
                    && later.outcome.rank() >= proposal.outcome.rank()
                    && later.moves.iter().all(|one| one.mv >= Move::Keep)
            })
    }

    /// The decision in force on `date` for a fact recorded at `position`: the last that prescribes, and of a proposal
    /// only one that was accepted by then.
    fn in_force_on(
        &self,
        records: &[Record],
        position: Position,
        date: Date,
    ) -> Option<DecisionNo> {
        let in_force = self.decisions.iter().enumerate().rev().find(|(no, at)| {
            let Some(decision) = records.get(**at as usize).and_then(decision_of) else {
                return false;
            };
            decision.prescribes
                && decision.as_of <= date
                && (!decision.proposed
                    || self.accepted.iter().any(|one| {
                        one.decision.0 as usize == *no
                            && one.position < position
                            && one.date <= date
                    }))
        });
        in_force.and_then(|(no, _)| u32::try_from(no).ok().map(DecisionNo))
    }

    /// Puts everything into order after all facts but the morning-afters were taken in.
    fn order(&mut self) {
        self.sessions.sort_by_key(SessionFact::key);
        self.assessments.sort_by_key(|one| (one.date, one.position));
        self.screenings.sort_by_key(|one| (one.date, one.position));
        self.events.sort_by_key(|one| (one.date, one.position));
        for at in 0..self.sessions.len() {
            self.file(at);
        }
    }

    /// Completes a session just appended.
    fn finish_last_session(&mut self) {
        if self.marks.len() < self.sessions.len() {
            self.file(self.marks.len());
        }
    }

    /// Marks a session, all before it being marked, and files it under the exercises of which it counts, once each.
    fn file(&mut self, at: usize) {
        let Some(session) = self.sessions.get(at) else {
            return;
        };
        let before = self.marks.last().and_then(|mark| mark.followed_top);
        self.in_step &= session.followed >= before;
        self.marks.push(Mark {
            date: session.date,
            known: session.known,
            followed: session.followed,
            followed_top: before.max(session.followed),
        });
        let Ok(at) = u32::try_from(at) else { return };
        for done in session.exercises.iter().filter(|done| done.counts()) {
            if let Some(list) = self.of_exercise.get_mut(done.exercise.at())
                && list.last() != Some(&at)
            {
                list.push(at);
            }
        }
    }

    /// Gives a morning-after to its session: the one it numbers, else the day's last.
    fn attach(&mut self, waits: Waiting<'_>) {
        let Waiting { report, morning } = waits;
        let mut touch = Touch {
            date: morning.date,
            known: morning.known,
            session: None,
        };
        let day = report.session_date;
        let end = self.sessions.partition_point(|one| one.date <= day);
        let of_day = self.sessions.iter_mut().take(end).rev();
        let session = of_day.take_while(|one| one.date == day).find(|one| {
            report
                .session_number
                .is_none_or(|number| one.number == number)
        });
        match session {
            Some(session) => {
                touch.session = Some(session.key());
                session.mornings.push(morning);
            }
            None => self.orphans.push(day),
        }
        self.touch(touch);
    }

    /// Notes what became known, in order of date.
    fn touch(&mut self, touch: Touch) {
        let Ok(at) = u32::try_from(self.touches.len()) else {
            return;
        };
        let touches = &self.touches;
        let date = |at: &u32| touches.get(*at as usize).map(|one| one.date);
        let place = self
            .touches_by_date
            .partition_point(|one| date(one) <= Some(touch.date));
        self.touches_by_date.insert(place, at);
        self.touches.push(touch);
    }

    fn order_touches(&mut self) {
        self.touches.sort_by_key(|one| one.known);
        let mut by_date: Vec<u32> = (0u32..).take(self.touches.len()).collect();
        let touches = &self.touches;
        by_date.sort_by_key(|at| touches.get(*at as usize).map(|one| one.date));
        self.touches_by_date = by_date;
    }
}

fn goes_after(last: Option<Date>, fact: &Fact) -> bool {
    last.is_none_or(|last| last <= fact.date)
}

fn session_fact(
    pack: &CheckedPack,
    at: At<'_>,
    session: &Session,
    followed: Option<DecisionNo>,
) -> SessionFact {
    let mut exercises: Vec<Exercised> = Vec::with_capacity(session.exercises.len());
    for report in &session.exercises {
        let Some(exercise) = find_exercise(pack, &report.exercise) else {
            continue;
        };
        let sets = if report.done == Done::Done {
            report.sets.clone()
        } else {
            Vec::new()
        };
        exercises.push(Exercised {
            exercise,
            done: report.done,
            sets,
            values: values(pack, &report.readings),
        });
    }
    SessionFact {
        date: at.fact.date,
        number: session.number,
        position: at.position,
        known: at.known,
        followed,
        values: values(pack, &session.readings),
        worst: worst(pack, &exercises),
        exercises,
        mornings: Vec::new(),
    }
}

fn assessment_sheet(pack: &CheckedPack, at: At<'_>, assessment: &Assessment) -> Sheet {
    let other = if assessment.other_side_sound {
        values(pack, &assessment.other_side)
    } else {
        Vec::new()
    };
    Sheet {
        date: at.fact.date,
        position: at.position,
        known: at.known,
        values: values(pack, &assessment.readings),
        other,
    }
}

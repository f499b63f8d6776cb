//! A perfect patient: does every prescribed set every day, never hurts, reports everything, is assessed every week.
//!
//! Leaves to others: which pack, and what must come of it.

use crate::generate::Dice;
use crate::generate::history::{Asking, plus};
use crate::play::Played;
use jiff::civil::Date;
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::{
    Assessment, Body, DecisionNo, Done, Episode, ExerciseReport, Fact, FactKind, MorningAfter,
    Position, Reading, Session, SetDone, Value,
};
use rungwise_pack::model::{
    Carrier, CheckedPack, Measure, MeasureKind, Origin, Outcome, Reporter, Worse,
};
use rungwise_pack::quantity::{Key, Milli};

/// More sets, repetitions and seconds than any rung asks for.
const MORE_THAN_ENOUGH: u16 = 500;

/// Days after which a perfect patient is done for or stuck.
pub const DAYS_MAX: i64 = 500;

/// What came of it.
pub struct Course {
    /// Every decision, in order.
    pub decisions: Vec<Decision>,
    /// Whether care ended.
    pub discharged: bool,
}

/// The best value of a measure; the middle where it has no direction.
fn best(measure: &Measure) -> Value {
    match &measure.kind {
        MeasureKind::Choice { choices } => Value::Choice(choices[0].clone()),
        MeasureKind::Number { min, max, step, .. } => Value::Number(match measure.worse {
            Worse::Higher => *min,
            Worse::Lower => *max,
            Worse::Neither => Milli(min.0 + (max.0 - min.0) / step.0 / 2 * step.0),
        }),
    }
}

fn readings(pack: &CheckedPack, carrier: Carrier) -> Vec<Reading> {
    pack.measures
        .iter()
        .filter(|one| one.carrier == carrier && matches!(one.origin, Origin::Reported))
        .map(|one| Reading {
            measure: one.name.clone(),
            value: best(one),
        })
        .collect()
}

struct Patient<'p> {
    pack: &'p CheckedPack,
    played: Played<'p>,
    today: Date,
    position: u64,
}

impl Patient<'_> {
    fn report(&mut self, date: Date, kind: FactKind) {
        self.position += 1;
        let fact = Fact {
            date,
            by: Reporter::Patient,
            kind,
        };
        self.played
            .record(Position(self.position), self.today, Body::Fact(fact));
    }

    fn assessed(&mut self) {
        let readings = readings(self.pack, Carrier::Assessment);
        let other_side = readings
            .iter()
            .filter(|one| {
                self.pack
                    .measure(&one.measure)
                    .is_some_and(|at| self.pack.measures[at.at()].both_sides)
            })
            .cloned()
            .collect();
        let kind = FactKind::Assessment(Assessment {
            readings,
            other_side,
            other_side_sound: true,
        });
        self.report(self.today, kind);
        let screening = self::readings(self.pack, Carrier::Screening);
        self.report(self.today, FactKind::Screening(screening));
    }

    fn exercises(&mut self) {
        let set = SetDone {
            reps: Some(MORE_THAN_ENOUGH),
            hold_s: Some(MORE_THAN_ENOUGH),
        };
        let in_force = self.played.in_force(self.today);
        let exercises: Vec<ExerciseReport> = in_force
            .places
            .iter()
            .map(|place| ExerciseReport {
                exercise: place.exercise.clone(),
                done: Done::Done,
                sets: vec![set; 10],
                readings: readings(self.pack, Carrier::Exercise),
            })
            .collect();
        let readings = readings(self.pack, Carrier::Session);
        let session = Session {
            number: 1,
            followed: None,
            readings,
            exercises,
        };
        self.report(self.today, FactKind::Session(session));
    }

    fn morning(&mut self) {
        let session_date = plus(self.today, -1);
        let readings = readings(self.pack, Carrier::MorningAfter);
        let kind = FactKind::MorningAfter(MorningAfter {
            session_date,
            session_number: None,
            readings,
        });
        self.report(self.today, kind);
    }

    fn accept(&mut self) {
        let Some((number, true)) = self.proposal() else {
            return;
        };
        let who = Key::from("clinician-a");
        let decision = DecisionNo(number as u32);
        self.report(
            self.today,
            FactKind::SignOff {
                decision,
                accepted: true,
                who,
            },
        );
    }

    fn proposal(&self) -> Option<(usize, bool)> {
        let decisions = self.played.decided.len();
        self.played
            .last()
            .map(|last| (decisions - 1, last.proposed))
    }
}

/// Plays a perfect patient who is asked about in this way until care ends, or is given up.
#[must_use]
pub fn course(pack: &CheckedPack, asking: Asking, dice: &mut Dice) -> Course {
    let opened_on = Date::constant(2026, 1, 1);
    let episode = Episode {
        opened_on,
        born_on: Some(Date::constant(1990, 1, 1)),
        imported: false,
    };
    let played = Played::new(pack, episode);
    let mut patient = Patient {
        pack,
        played,
        today: opened_on,
        position: 0,
    };
    for day in 0..DAYS_MAX {
        patient.today = plus(opened_on, day);
        if day > 0 {
            patient.accept();
            patient.morning();
        }
        if day % 7 == 0 {
            patient.assessed();
        }
        if day > 0 {
            patient.exercises();
        }
        let asks = match asking {
            Asking::Daily => true,
            Asking::EveryThird => day % 3 == 0,
            Asking::Weekly => day % 7 == 0,
            _ => day == 0 || dice.percent(30),
        };
        if asks {
            patient.position += 1;
            patient
                .played
                .ask(Position(patient.position), patient.today);
        }
        let done = patient
            .played
            .last()
            .is_some_and(|last| last.outcome == Outcome::Discharge);
        if done {
            break;
        }
    }
    let decisions: Vec<Decision> = patient
        .played
        .decided
        .into_iter()
        .map(|(_, decision)| decision)
        .collect();
    let discharged = decisions
        .last()
        .is_some_and(|last| last.outcome == Outcome::Discharge);
    Course {
        decisions,
        discharged,
    }
}

//! Histories for a pack: what is reported day by day, and when somebody asks.
//!
//! A history is a list of steps. Deciding is left to the caller, so that the same steps can be played again with some
//! left out; positions stay with their steps.
//!
//! Leaves to others: what a clinician says (`super::clinician`), deciding and comparing.

use super::Dice;
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_engine::decision::{Decision, Place};
use rungwise_engine::fact::{
    Assessment, Body, DecisionNo, Done, Episode, ExerciseReport, Fact, FactKind, MorningAfter,
    Position, Reading, Record, Session, SetDone, Value,
};
use rungwise_pack::model::{
    Carrier, CheckedPack, Exercise, Measure, MeasureKind, Origin, Reporter, RowValue,
};
use rungwise_pack::quantity::{Milli, Variable};

/// One step of a history.
#[derive(Clone, Debug)]
pub enum Step {
    /// Something is recorded.
    Record(Fact),
    /// Somebody asks for the next prescription.
    Ask(Date),
}

/// When somebody asks.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Asking {
    /// Each day.
    Daily,
    /// Every third day.
    EveryThird,
    /// Once a week.
    Weekly,
    /// Twice on each day: before and after the reports.
    Twice,
    /// Now and then.
    Sometimes,
    /// At the end only (and once to begin).
    Once,
}

/// Every way of asking.
pub const ASKINGS: [Asking; 6] = [
    Asking::Daily,
    Asking::EveryThird,
    Asking::Weekly,
    Asking::Twice,
    Asking::Sometimes,
    Asking::Once,
];

/// The invented episode of a number.
#[must_use]
pub fn episode(seed: u64) -> Episode {
    Episode {
        opened_on: Date::constant(2026, 1, 1),
        born_on: seed.is_multiple_of(2).then(|| Date::constant(1976, 1, 10)),
        imported: seed.is_multiple_of(16),
    }
}

/// `date` and so many days.
#[must_use]
pub fn plus(date: Date, days: i64) -> Date {
    date.checked_add(days.days()).unwrap()
}

/// Grows a history step by step, seeing what was decided so far.
pub struct Teller<'p> {
    /// The choices made.
    pub dice: Dice,
    /// The rules.
    pub pack: &'p CheckedPack,
    /// How bad things are: chance of a high value, in a hundred.
    pub badness: u32,
    /// How many values are left out, in a hundred.
    pub gaps: u32,
    /// How many directives and corrections there are, in a hundred.
    pub meddling: u32,
    asking: Asking,
}

/// What there is so far, as the teller needs it.
pub struct SoFar<'r> {
    /// Everything recorded.
    pub records: &'r [Record],
    /// Today.
    pub today: Date,
}

impl<'p> Teller<'p> {
    /// A teller for this number.
    #[must_use]
    pub fn new(seed: u64, pack: &'p CheckedPack) -> Self {
        let mut dice = Dice::new(seed);
        let asking = *dice.pick(&ASKINGS);
        let badness = *dice.pick(&[2, 5, 15, 35]);
        let gaps = *dice.pick(&[0, 2, 8, 25]);
        let meddling = *dice.pick(&[0, 3, 10]);
        Self {
            dice,
            pack,
            badness,
            gaps,
            meddling,
            asking,
        }
    }

    /// How many days to go on for.
    pub fn days(&mut self) -> i64 {
        self.dice.number(3, 16)
    }

    /// The next day with something to tell.
    pub fn next_day(&mut self, today: Date) -> Date {
        let gap = match self.dice.count(0, 20) {
            0 => self.dice.number(3, 9),
            1 => 0,
            2..=4 => 2,
            _ => 1,
        };
        plus(today, gap)
    }

    /// Whether somebody asks on the `n`th day, before or after the reports.
    pub fn asks(&mut self, n: i64, last: bool, before: bool) -> bool {
        match self.asking {
            Asking::Daily => !before,
            Asking::EveryThird => !before && (n % 3 == 0 || last),
            Asking::Weekly => !before && (n % 7 == 0 || last),
            Asking::Twice => true,
            Asking::Sometimes => self.dice.percent(40) || (last && !before),
            Asking::Once => !before && (n == 0 || last),
        }
    }

    /// What is reported on one day.
    pub fn day(&mut self, so_far: &SoFar<'_>, first: bool) -> Vec<Fact> {
        let mut facts = Vec::new();
        let today = so_far.today;
        if first || self.dice.percent(8) {
            facts.push(fact(
                today,
                FactKind::Screening(self.readings(Carrier::Screening)),
            ));
        }
        if (first && self.dice.percent(85)) || self.dice.percent(15) {
            let date = if self.dice.percent(85) {
                today
            } else {
                self.earlier(today)
            };
            facts.push(fact(date, self.assessment()));
        }
        facts.extend(self.clinician(so_far));
        if self.dice.percent(75) {
            facts.extend(self.morning(so_far));
        }
        facts.extend(self.sessions(so_far));
        if self.dice.percent(6) {
            let event = self.dice.pick(&self.pack.events).clone();
            facts.push(fact(today, FactKind::Event(event)));
        }
        if self.dice.percent(2) {
            facts.push(fact(
                today,
                FactKind::Equipment(rungwise_engine::fact::Equipment::default()),
            ));
        }
        let first_list = first && self.pack.height.is_some() && self.dice.percent(80);
        if first_list || (self.pack.height.is_some() && self.dice.percent(8)) {
            facts.push(fact(today, super::band::equipment(&mut self.dice)));
        }
        // A clock ahead: what is dated tomorrow is not seen today.
        if self.dice.percent(2) {
            facts.push(fact(plus(today, 1), self.assessment()));
        }
        if self.dice.percent(4) {
            let until = plus(today, self.dice.number(0, 4));
            facts.push(fact(today, FactKind::Away { until }));
        }
        facts
    }

    fn earlier(&mut self, today: Date) -> Date {
        plus(today, -self.dice.number(1, 3)).max(Date::constant(2026, 1, 1))
    }

    pub(super) fn readings(&mut self, carrier: Carrier) -> Vec<Reading> {
        let pack = self.pack;
        pack.measures
            .iter()
            .filter(|measure| {
                measure.carrier == carrier && matches!(measure.origin, Origin::Reported)
            })
            .filter_map(|measure| {
                let chance = if measure.expected { self.gaps } else { 30 };
                (!self.dice.percent(chance)).then(|| self.reading(measure))
            })
            .collect()
    }

    fn reading(&mut self, measure: &Measure) -> Reading {
        let bad = self.dice.percent(self.badness);
        let value = if self.dice.percent(1) && bad {
            Value::CouldNot
        } else {
            match &measure.kind {
                MeasureKind::Choice { choices } => {
                    let at = if bad {
                        self.dice.count(0, choices.len() - 1)
                    } else {
                        0
                    };
                    Value::Choice(choices[at].clone())
                }
                MeasureKind::Number { min, max, step, .. } => {
                    let steps = (max.0 - min.0) / step.0;
                    let part = steps * 2 / 5;
                    let at = match (bad, measure.worse == rungwise_pack::model::Worse::Lower) {
                        (false, false) => self.dice.number(0, part),
                        (true, false) => self.dice.number(part, steps),
                        (false, true) => self.dice.number(part, steps),
                        (true, true) => self.dice.number(0, part),
                    };
                    Value::Number(Milli(min.0 + at * step.0))
                }
            }
        };
        Reading {
            measure: measure.name.clone(),
            value,
        }
    }

    pub(super) fn assessment(&mut self) -> FactKind {
        let other_side = self
            .readings(Carrier::Assessment)
            .into_iter()
            .filter(|reading| {
                let measure = self.pack.measure(&reading.measure).unwrap();
                self.pack.measures[measure.at()].both_sides
            })
            .collect();
        FactKind::Assessment(Assessment {
            readings: self.readings(Carrier::Assessment),
            other_side,
            other_side_sound: self.dice.percent(80),
        })
    }

    fn morning(&mut self, so_far: &SoFar<'_>) -> Vec<Fact> {
        let told: Vec<Date> = facts_of(so_far)
            .filter_map(|(_, fact)| match &fact.kind {
                FactKind::MorningAfter(morning) => Some(morning.session_date),
                _ => None,
            })
            .collect();
        let sessions: Vec<(Date, u8)> = facts_of(so_far)
            .filter_map(|(_, fact)| match &fact.kind {
                FactKind::Session(session) => Some((fact.date, session.number)),
                _ => None,
            })
            .filter(|(date, _)| {
                *date < so_far.today && plus(*date, 3) >= so_far.today && !told.contains(date)
            })
            .collect();
        let mut facts = Vec::new();
        for (date, number) in sessions {
            if !self.dice.percent(80) || facts.iter().any(|told: &Fact| matches!(&told.kind, FactKind::MorningAfter(other) if other.session_date == date)) {
                continue;
            }
            let session_number = self.dice.percent(20).then_some(number);
            let readings = self.readings(Carrier::MorningAfter);
            let morning = MorningAfter {
                session_date: date,
                session_number,
                readings,
            };
            let on = if self.dice.percent(80) {
                plus(date, 1)
            } else {
                so_far.today
            };
            facts.push(fact(on, FactKind::MorningAfter(morning)));
        }
        facts
    }

    fn sessions(&mut self, so_far: &SoFar<'_>) -> Vec<Fact> {
        let mut facts: Vec<Fact> = Vec::new();
        let count = match self.dice.count(0, 19) {
            0..=2 => 0,
            3 => 2,
            _ => 1,
        };
        for _ in 0..count {
            let date = if self.dice.percent(88) {
                so_far.today
            } else {
                self.earlier(so_far.today)
            };
            let taken = facts_of(so_far)
                .map(|(_, fact)| fact)
                .chain(facts.iter())
                .filter(|fact| fact.date == date && matches!(fact.kind, FactKind::Session(_)))
                .count();
            if taken < 2 {
                let session = self.session(so_far, taken as u8 + 1);
                facts.push(fact(date, FactKind::Session(session)));
            }
        }
        facts
    }

    fn session(&mut self, so_far: &SoFar<'_>, number: u8) -> Session {
        let followed = self.followed(so_far);
        let mut exercises = Vec::new();
        for place in in_force(so_far) {
            if self.dice.percent(4) {
                continue;
            }
            exercises.push(self.exercise(&place));
        }
        if exercises.is_empty() && self.dice.percent(50) {
            let exercise = self.dice.pick(&self.pack.exercises).key.clone();
            let readings = self.readings(Carrier::Exercise);
            exercises.push(ExerciseReport {
                exercise,
                done: Done::Done,
                sets: Vec::new(),
                readings,
            });
        }
        Session {
            number,
            followed,
            readings: self.readings(Carrier::Session),
            exercises,
        }
    }

    fn followed(&mut self, so_far: &SoFar<'_>) -> Option<DecisionNo> {
        let decisions = decisions(so_far).count();
        (decisions > 0 && self.dice.percent(4))
            .then(|| DecisionNo(self.dice.count(0, decisions - 1) as u32))
            .filter(|number| decisions_at(so_far, *number).is_some_and(|one| one.prescribes))
    }

    fn exercise(&mut self, place: &Place) -> ExerciseReport {
        let done = match self.dice.count(0, 99) {
            0..=3 => Done::SkippedForPain,
            4..=7 => Done::SkippedOtherwise,
            _ => Done::Done,
        };
        let readings = match done {
            // Now and then one reading a set: the worst counts.
            Done::Done if self.dice.percent(6) => {
                let mut readings = self.readings(Carrier::Exercise);
                readings.extend(self.readings(Carrier::Exercise));
                readings
            }
            Done::Done => self.readings(Carrier::Exercise),
            _ => Vec::new(),
        };
        let exercise = self.pack.exercise(&place.exercise).unwrap();
        let sets = match done {
            Done::Done => self.sets(&self.pack.exercises[exercise.at()], place),
            _ => Vec::new(),
        };
        ExerciseReport {
            exercise: place.exercise.clone(),
            done,
            sets,
            readings,
        }
    }

    fn sets(&mut self, exercise: &Exercise, place: &Place) -> Vec<SetDone> {
        let number = |variable: Variable| {
            place
                .rung
                .iter()
                .find(|(other, _)| *other == variable)
                .and_then(|(_, value)| match value {
                    RowValue::Number(number) => u16::try_from(number.0 / 1000).ok(),
                    RowValue::Label(_) => None,
                })
        };
        let has = |variable| exercise.rows.iter().any(|row| row.variable == variable);
        let mut set = SetDone {
            reps: number(Variable::Reps).or_else(|| (!has(Variable::Reps)).then_some(10)),
            hold_s: number(Variable::HoldTime),
        };
        let mut count = number(Variable::Sets).unwrap_or(2);
        match self.dice.count(0, 19) {
            0 => set.reps = set.reps.map(|reps| reps.saturating_sub(2)),
            1 => set.hold_s = None,
            2 => count = count.saturating_sub(1),
            3 => count += 1,
            4 => set.reps = None,
            _ => {}
        }
        vec![set; usize::from(count)]
    }
}

pub(super) fn facts_of<'r>(so_far: &'r SoFar<'_>) -> impl Iterator<Item = (Position, &'r Fact)> {
    so_far
        .records
        .iter()
        .filter_map(|record| match &record.body {
            Body::Fact(fact) => Some((record.position, fact)),
            Body::Decision(_) => None,
        })
}

pub(super) fn decisions<'r>(so_far: &'r SoFar<'_>) -> impl Iterator<Item = &'r Decision> {
    so_far
        .records
        .iter()
        .filter_map(|record| match &record.body {
            Body::Decision(decision) => Some(&**decision),
            Body::Fact(_) => None,
        })
}

pub(super) fn decisions_at<'r>(so_far: &'r SoFar<'_>, number: DecisionNo) -> Option<&'r Decision> {
    decisions(so_far).nth(number.0 as usize)
}

/// Places of the last decision; of its proposal where that was just accepted or is all there is.
fn in_force(so_far: &SoFar<'_>) -> Vec<Place> {
    let Some(last) = decisions(so_far).last() else {
        return Vec::new();
    };
    match &last.if_accepted {
        Some(accepted) if last.state.places.is_empty() => accepted.places.clone(),
        _ => last.state.places.clone(),
    }
}

pub(super) fn fact(date: Date, kind: FactKind) -> Fact {
    Fact {
        date,
        by: Reporter::Patient,
        kind,
    }
}

//! Reports: sessions, morning-afters, assessments, screenings, and the lists of values in them.
//!
//! Leaves to others: single values (`super::reading`), a clinician's word (`super::order`).

use super::reading::{check_value, find, unknown, wrong_field};
use super::refusal::{Noun, Refusal, Wrong};
use super::{
    Admission, EXERCISES_MAX, HOLD_S_MAX, READINGS_MAX, REPS_MAX, SESSIONS_A_DAY_MAX, SETS_MAX,
};
use crate::fact::{
    Assessment, DecisionNo, Done, ExerciseReport, MorningAfter, Reading, Session, SetDone,
};
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_pack::model::Carrier;
use rungwise_pack::quantity::Key;
use std::collections::BTreeSet;

impl Admission<'_> {
    pub(super) fn session(&mut self, path: &str, date: Date, session: &Session) {
        let path = &format!("{path}session");
        if session.number == 0 || session.number > SESSIONS_A_DAY_MAX {
            let wrong = bounds(u32::from(session.number), 1, u32::from(SESSIONS_A_DAY_MAX));
            self.refuse(format!("{path}.number"), wrong);
        } else if self.before.has_session(date, session.number) {
            let wrong = Wrong::DuplicateSession {
                date,
                number: session.number,
            };
            self.refuse(format!("{path}.number"), wrong);
        }
        if let Some(decision) = session.followed {
            self.followed(&format!("{path}.followed"), date, decision);
        }
        self.readings(
            &format!("{path}.readings"),
            &session.readings,
            Carrier::Session,
        );
        let exercises = &format!("{path}.exercises");
        if self.is_too_many(exercises, session.exercises.len(), EXERCISES_MAX) {
            return;
        }
        let mut seen = BTreeSet::new();
        for (at, report) in session.exercises.iter().enumerate() {
            let path = &format!("{exercises}[{at}]");
            if seen.insert(&report.exercise) {
                self.exercise_report(path, report);
            } else {
                let wrong = Wrong::Twice {
                    name: report.exercise.clone(),
                };
                self.refuse(format!("{path}.exercise"), wrong);
            }
        }
    }

    fn followed(&mut self, path: &str, date: Date, number: DecisionNo) {
        let Some(decision) = self.before.decision(number) else {
            let count = self.before.decision_count();
            return self.refuse(path.into(), Wrong::UnknownDecision { count });
        };
        let why = if decision.as_of > date {
            "was made for a later date"
        } else if !decision.prescribes {
            "prescribes nothing"
        } else {
            return;
        };
        self.refuse(
            path.into(),
            Wrong::FollowsNothing {
                decision: number.0,
                why,
            },
        );
    }

    fn exercise_report(&mut self, path: &str, report: &ExerciseReport) {
        self.exercise(&format!("{path}.exercise"), &report.exercise);
        if report.done != Done::Done && !report.sets.is_empty() {
            self.refuse(format!("{path}.sets"), Wrong::NotDone);
        }
        if report.done == Done::SkippedOtherwise && !report.readings.is_empty() {
            self.refuse(format!("{path}.readings"), Wrong::NotDone);
        }
        let sets = &format!("{path}.sets");
        if !self.is_too_many(sets, report.sets.len(), SETS_MAX) {
            for (at, set) in report.sets.iter().enumerate() {
                self.set(&format!("{sets}[{at}]"), *set);
            }
        }
        self.readings(
            &format!("{path}.readings"),
            &report.readings,
            Carrier::Exercise,
        );
    }

    fn set(&mut self, path: &str, set: SetDone) {
        for (field, value, max) in [
            ("reps", set.reps, REPS_MAX),
            ("hold_s", set.hold_s, HOLD_S_MAX),
        ] {
            if let Some(value) = value.filter(|value| *value > max) {
                self.refuse(
                    format!("{path}.{field}"),
                    bounds(u32::from(value), 0, u32::from(max)),
                );
            }
        }
    }

    pub(super) fn morning_after(&mut self, path: &str, date: Date, after: &MorningAfter) {
        let path = &format!("{path}morning_after");
        let earliest = after.session_date.saturating_add(1.day());
        if date < earliest {
            self.refuse(
                format!("{path}.session_date"),
                Wrong::NotYetMorning { earliest },
            );
        }
        match self.before.session_of(after) {
            None => {
                let (date, number) = (after.session_date, after.session_number);
                let field = if number.is_some() {
                    "session_number"
                } else {
                    "session_date"
                };
                self.refuse(
                    format!("{path}.{field}"),
                    Wrong::NoSuchSession { date, number },
                );
            }
            Some(number) if self.before.has_morning_after(after.session_date, number) => {
                let wrong = Wrong::DuplicateMorningAfter {
                    date: after.session_date,
                    number,
                };
                self.refuse(format!("{path}.session_date"), wrong);
            }
            Some(_) => {}
        }
        self.readings(
            &format!("{path}.readings"),
            &after.readings,
            Carrier::MorningAfter,
        );
    }

    pub(super) fn assessment(&mut self, path: &str, assessment: &Assessment) {
        let path = &format!("{path}assessment");
        self.readings(
            &format!("{path}.readings"),
            &assessment.readings,
            Carrier::Assessment,
        );
        let other = &format!("{path}.other_side");
        self.readings(other, &assessment.other_side, Carrier::Assessment);
        for (at, reading) in assessment.other_side.iter().enumerate() {
            let measure = self.pack.measure(&reading.measure);
            let measure = measure.and_then(|measure| self.pack.measures.get(measure.at()));
            if measure.is_some_and(|measure| {
                measure.carrier == Carrier::Assessment && !measure.both_sides
            }) {
                let wrong = Wrong::OneSided {
                    measure: reading.measure.clone(),
                };
                self.refuse(format!("{other}[{at}].measure"), wrong);
            }
        }
    }

    /// A list of values in a fact (or a part of one) that carries measures of `carrier`. Only an exercise may give
    /// several values of one measure, one a set.
    pub(super) fn readings(&mut self, path: &str, readings: &[Reading], carrier: Carrier) {
        if self.is_too_many(path, readings.len(), READINGS_MAX) {
            return;
        }
        let mut seen = BTreeSet::new();
        for (at, reading) in readings.iter().enumerate() {
            let path = &format!("{path}[{at}]");
            let measure = match find(self.pack, path, &reading.measure) {
                Ok(measure) => measure,
                Err(refusal) => {
                    self.refusals.push(refusal);
                    continue;
                }
            };
            if let Err(wrong) = check_value(measure, &reading.value) {
                self.refuse(format!("{path}.{}", wrong_field(&wrong)), wrong);
            } else if measure.carrier != carrier {
                let (measure, carrier) = (measure.name.clone(), carrier_words(measure.carrier));
                self.refuse(
                    format!("{path}.measure"),
                    Wrong::WrongCarrier { measure, carrier },
                );
            }
            if !seen.insert(&reading.measure) && carrier != Carrier::Exercise {
                let wrong = Wrong::Twice {
                    name: reading.measure.clone(),
                };
                self.refuse(format!("{path}.measure"), wrong);
            }
        }
    }

    pub(super) fn event(&mut self, path: &str, event: &Key) {
        if !self.pack.events.contains(event) {
            let wrong = unknown(Noun::Event, event, self.pack.events.clone());
            self.refuse(format!("{path}event.event"), wrong);
        }
    }

    pub(super) fn is_too_many(&mut self, path: &str, count: usize, count_max: usize) -> bool {
        let is = count > count_max;
        if is {
            self.refusals.push(Refusal {
                path: path.into(),
                wrong: Wrong::TooMany { count, count_max },
            });
        }
        is
    }
}

const fn bounds(given: u32, min: u32, max: u32) -> Wrong {
    Wrong::OutOfBounds { given, min, max }
}

const fn carrier_words(carrier: Carrier) -> &'static str {
    match carrier {
        Carrier::Exercise => "an exercise of a session",
        Carrier::Session => "a session as a whole",
        Carrier::MorningAfter => "a morning-after",
        Carrier::Assessment => "an assessment",
        Carrier::Screening => "a screening",
        Carrier::Nothing => "nothing",
    }
}

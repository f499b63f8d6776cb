//! Facts from messages.
//!
//! Leaves to others: directives (`super::directive`).

use super::equipment::equipment_from_wire;
use super::{Reader, directive};
use crate::name::EpisodeName;
use crate::v1::fact::Kind;
use crate::v1::{self, Reason};
use crate::violation::Violation;
use jiff::civil::Date;
use rungwise_engine::admit::{self, Given};
use rungwise_engine::fact::{
    Assessment, DecisionNo, Done, ExerciseReport, Fact, FactKind, MorningAfter, Reading, Session,
    SetDone,
};
use rungwise_pack::model::Pack;
use rungwise_pack::quantity::Key;

/// What a fact is read against.
struct Source<'a> {
    pack: &'a Pack,
    episode: &'a EpisodeName,
    reader: &'a mut Reader,
}

/// A fact of `episode`, read under `pack`. What is wrong is kept in `reader`, each under `path`.
pub fn fact_from_wire(
    pack: &Pack,
    episode: &EpisodeName,
    path: &str,
    fact: &v1::Fact,
    reader: &mut Reader,
) -> Option<Fact> {
    let date = reader.date(&format!("{path}.date"), &fact.date);
    let by = reader.reporter(&format!("{path}.reported_by"), fact.reported_by);
    let kind = match &fact.kind {
        None => reader.missing(&format!("{path}.kind"), "say what happened"),
        Some(kind) => Source {
            pack,
            episode,
            reader,
        }
        .kind(path, date, kind),
    };
    Some(Fact {
        date: date?,
        by: by?,
        kind: kind?,
    })
}

impl Source<'_> {
    fn kind(&mut self, path: &str, date: Option<Date>, kind: &Kind) -> Option<FactKind> {
        match kind {
            Kind::Session(session) => self
                .session(&format!("{path}.session"), session)
                .map(FactKind::Session),
            Kind::MorningAfter(after) => self
                .morning_after(&format!("{path}.morning_after"), date, after)
                .map(FactKind::MorningAfter),
            Kind::Assessment(assessment) => {
                let path = format!("{path}.assessment");
                self.some(&format!("{path}.readings"), assessment.readings.len());
                let readings = self.readings(&format!("{path}.readings"), &assessment.readings);
                let other_side =
                    self.readings(&format!("{path}.other_side"), &assessment.other_side);
                Some(FactKind::Assessment(Assessment {
                    readings: readings?,
                    other_side: other_side?,
                    other_side_sound: assessment.other_side_sound,
                }))
            }
            Kind::Screening(screening) => {
                let path = format!("{path}.screening.readings");
                self.some(&path, screening.readings.len());
                self.readings(&path, &screening.readings)
                    .map(FactKind::Screening)
            }
            Kind::Event(event) => Some(FactKind::Event(Key::from(event.event.as_str()))),
            Kind::Away(away) => {
                let until = self
                    .reader
                    .date(&format!("{path}.away.until"), &away.until)?;
                Some(FactKind::Away { until })
            }
            Kind::Equipment(equipment) => {
                equipment_from_wire(&format!("{path}.equipment"), equipment, self.reader)
                    .map(FactKind::Equipment)
            }
            Kind::Directive(given) => {
                let path = format!("{path}.directive");
                directive::directive_from_wire(self.episode, &path, given, self.reader)
                    .map(FactKind::Directive)
            }
            Kind::SignOff(_) => self.output_only(
                &format!("{path}.sign_off"),
                "use PrescriptionService.SignOff",
            ),
            Kind::PersonRefer(_) => {
                self.output_only(&format!("{path}.person_refer"), "leave it to the server")
            }
            Kind::Correction(_) => self.output_only(
                &format!("{path}.correction"),
                "use EpisodeService.CorrectFact or VoidFact",
            ),
        }
    }

    fn output_only<T>(&mut self, path: &str, right: &str) -> Option<T> {
        self.reader
            .refuse(path, Reason::OutputOnly, "it is output only", right)
    }

    fn some(&mut self, path: &str, count: usize) {
        if count == 0 {
            self.reader.violations.push(Violation::new(
                path,
                Reason::FieldMissing,
                "it is required",
                "give a value",
            ));
        }
    }

    fn session(&mut self, path: &str, session: &v1::Session) -> Option<Session> {
        let number = self.reader.small(
            &format!("{path}.number"),
            session.number,
            admit::SESSIONS_A_DAY_MAX.into(),
        );
        let readings = self.readings(&format!("{path}.readings"), &session.readings);
        let exercises: Vec<_> = session
            .exercises
            .iter()
            .enumerate()
            .map(|(at, report)| self.exercise(&format!("{path}.exercises[{at}]"), report))
            .collect();
        Some(Session {
            number: number.map(|number: u8| number.max(1))?,
            followed: session.followed.map(DecisionNo),
            readings: readings?,
            exercises: exercises.into_iter().collect::<Option<_>>()?,
        })
    }

    fn exercise(&mut self, path: &str, report: &v1::ExerciseReport) -> Option<ExerciseReport> {
        let done = match v1::Done::try_from(report.done) {
            Ok(v1::Done::Done) => Some(Done::Done),
            Ok(v1::Done::SkippedForPain) => Some(Done::SkippedForPain),
            Ok(v1::Done::SkippedOtherwise) => Some(Done::SkippedOtherwise),
            Ok(v1::Done::Unspecified) | Err(_) => {
                let right = "say done, skipped for pain, or skipped otherwise";
                self.reader
                    .unknown_enum(&format!("{path}.done"), report.done, right)
            }
        };
        let sets: Vec<_> = report
            .sets
            .iter()
            .enumerate()
            .map(|(at, set)| self.set(&format!("{path}.sets[{at}]"), set))
            .collect();
        let readings = self.readings(&format!("{path}.readings"), &report.readings);
        Some(ExerciseReport {
            exercise: Key::from(report.exercise.as_str()),
            done: done?,
            sets: sets.into_iter().collect::<Option<_>>()?,
            readings: readings?,
        })
    }

    fn set(&mut self, path: &str, set: &v1::SetDone) -> Option<SetDone> {
        let reader = &mut *self.reader;
        let mut small = |field: &str, value: Option<u32>, max: u16| match value {
            Some(value) => reader
                .small(&format!("{path}.{field}"), value, max.into())
                .map(Some),
            None => Some(None),
        };
        let reps = small("reps", set.reps, admit::REPS_MAX);
        let hold_s = small("hold_s", set.hold_s, admit::HOLD_S_MAX);
        Some(SetDone {
            reps: reps?,
            hold_s: hold_s?,
        })
    }

    fn morning_after(
        &mut self,
        path: &str,
        date: Option<Date>,
        after: &v1::MorningAfter,
    ) -> Option<MorningAfter> {
        let given = self
            .reader
            .date_or_none(&format!("{path}.session_date"), &after.session_date);
        let number = match after.session_number {
            0 => Some(None),
            number => self
                .reader
                .small(
                    &format!("{path}.session_number"),
                    number,
                    admit::SESSIONS_A_DAY_MAX.into(),
                )
                .map(Some),
        };
        self.some(&format!("{path}.readings"), after.readings.len());
        let readings = self.readings(&format!("{path}.readings"), &after.readings);
        let session_date = match given? {
            Some(date) => date,
            None => date?.yesterday().ok()?,
        };
        Some(MorningAfter {
            session_date,
            session_number: number?,
            readings: readings?,
        })
    }

    fn readings(&mut self, path: &str, readings: &[v1::Reading]) -> Option<Vec<Reading>> {
        if readings.len() > admit::READINGS_MAX {
            let wrong = format!("{} are too many", readings.len());
            return self.reader.refuse(
                path,
                Reason::TooMany,
                wrong,
                format!("at most {}", admit::READINGS_MAX),
            );
        }
        let read: Vec<_> = readings
            .iter()
            .enumerate()
            .map(|(at, reading)| self.reading(&format!("{path}[{at}]"), reading))
            .collect();
        read.into_iter().collect()
    }

    fn reading(&mut self, path: &str, reading: &v1::Reading) -> Option<Reading> {
        use v1::reading::Value;
        if reading.measure.is_empty() {
            return self
                .reader
                .missing(&format!("{path}.measure"), "name a measure of the pack");
        }
        let given = match &reading.value {
            None => {
                let right = "give a number, a choice, or that it could not be done";
                return self.reader.missing(&format!("{path}.value"), right);
            }
            Some(Value::Number(number)) => Given::Text(number),
            Some(Value::Choice(choice)) => Given::Choice(choice),
            Some(Value::CouldNot(_)) => Given::CouldNot,
        };
        match admit::reading(self.pack, path, &reading.measure, &given, &reading.unit) {
            Ok(reading) => Some(reading),
            Err(refusal) => {
                self.reader
                    .violations
                    .push(Violation::from_refusal("", &refusal));
                None
            }
        }
    }
}

//! Facts to stored messages and back.
//!
//! Leaves to others: directives (`super::directive`), the values inside (`super::value`).

use super::band::{equipment_from_stored, equipment_to_stored};
use super::value::{
    date_from_stored, date_to_stored, readings_from_stored, readings_to_stored,
    reporter_from_stored, reporter_to_stored, small, unknown,
};
use super::{DecodeError, directive};
use crate::stored;
use crate::stored::fact::Kind;
use rungwise_engine::fact::{
    Assessment, Correction, DecisionNo, Done, ExerciseReport, Fact, FactKind, MorningAfter,
    Position, Session, SetDone,
};

pub(super) fn fact_to_stored(fact: &Fact) -> stored::Fact {
    let kind = match &fact.kind {
        FactKind::Session(session) => Kind::Session(session_to_stored(session)),
        FactKind::MorningAfter(after) => Kind::MorningAfter(stored::MorningAfter {
            session_date: date_to_stored(after.session_date),
            session_number: after.session_number.map(u32::from),
            readings: readings_to_stored(&after.readings),
        }),
        FactKind::Assessment(assessment) => Kind::Assessment(stored::Assessment {
            readings: readings_to_stored(&assessment.readings),
            other_side: readings_to_stored(&assessment.other_side),
            other_side_sound: assessment.other_side_sound,
        }),
        FactKind::Screening(readings) => Kind::Screening(stored::Screening {
            readings: readings_to_stored(readings),
        }),
        FactKind::Event(event) => Kind::Event(event.to_string()),
        FactKind::Away { until } => Kind::AwayUntil(date_to_stored(*until)),
        FactKind::Equipment(equipment) => Kind::Equipment(equipment_to_stored(equipment)),
        FactKind::Directive(directive) => {
            Kind::Directive(directive::directive_to_stored(directive))
        }
        FactKind::SignOff {
            decision,
            accepted,
            who,
        } => Kind::SignOff(stored::SignOff {
            decision: decision.0,
            accepted: *accepted,
            who: who.to_string(),
        }),
        FactKind::PersonRefer { rule } => Kind::PersonRefer(rule.to_string()),
        FactKind::Correction(correction) => {
            Kind::Correction(Box::new(correction_to_stored(correction)))
        }
    };
    stored::Fact {
        date: date_to_stored(fact.date),
        by: reporter_to_stored(fact.by),
        kind: Some(kind),
    }
}

pub(super) fn fact_from_stored(fact: stored::Fact) -> Result<Fact, DecodeError> {
    let kind = match fact.kind.ok_or(DecodeError::Absent("fact.kind"))? {
        Kind::Session(session) => FactKind::Session(session_from_stored(session)?),
        Kind::MorningAfter(after) => FactKind::MorningAfter(MorningAfter {
            session_date: date_from_stored("morning_after.session_date", after.session_date)?,
            session_number: after
                .session_number
                .map(|number| small("morning_after.session_number", number))
                .transpose()?,
            readings: readings_from_stored(after.readings)?,
        }),
        Kind::Assessment(assessment) => FactKind::Assessment(Assessment {
            readings: readings_from_stored(assessment.readings)?,
            other_side: readings_from_stored(assessment.other_side)?,
            other_side_sound: assessment.other_side_sound,
        }),
        Kind::Screening(screening) => {
            FactKind::Screening(readings_from_stored(screening.readings)?)
        }
        Kind::Event(event) => FactKind::Event(event.into()),
        Kind::AwayUntil(until) => FactKind::Away {
            until: date_from_stored("away_until", until)?,
        },
        Kind::Equipment(equipment) => FactKind::Equipment(equipment_from_stored(equipment)),
        Kind::Directive(directive) => {
            FactKind::Directive(directive::directive_from_stored(directive)?)
        }
        Kind::SignOff(sign_off) => FactKind::SignOff {
            decision: DecisionNo(sign_off.decision),
            accepted: sign_off.accepted,
            who: sign_off.who.into(),
        },
        Kind::PersonRefer(rule) => FactKind::PersonRefer { rule: rule.into() },
        Kind::Correction(correction) => FactKind::Correction(correction_from_stored(*correction)?),
    };
    Ok(Fact {
        date: date_from_stored("fact.date", fact.date)?,
        by: reporter_from_stored("fact.by", fact.by)?,
        kind,
    })
}

fn session_to_stored(session: &Session) -> stored::Session {
    let report = |report: &ExerciseReport| stored::ExerciseReport {
        exercise: report.exercise.to_string(),
        done: match report.done {
            Done::Done => stored::Done::Done,
            Done::SkippedForPain => stored::Done::SkippedForPain,
            Done::SkippedOtherwise => stored::Done::SkippedOtherwise,
        }
        .into(),
        sets: report
            .sets
            .iter()
            .map(|set| stored::SetDone {
                reps: set.reps.map(u32::from),
                hold_s: set.hold_s.map(u32::from),
            })
            .collect(),
        readings: readings_to_stored(&report.readings),
    };
    stored::Session {
        number: session.number.into(),
        followed: session.followed.map(|decision| decision.0),
        readings: readings_to_stored(&session.readings),
        exercises: session.exercises.iter().map(report).collect(),
    }
}

fn session_from_stored(session: stored::Session) -> Result<Session, DecodeError> {
    Ok(Session {
        number: small("session.number", session.number)?,
        followed: session.followed.map(DecisionNo),
        readings: readings_from_stored(session.readings)?,
        exercises: session
            .exercises
            .into_iter()
            .map(report_from_stored)
            .collect::<Result<_, _>>()?,
    })
}

fn report_from_stored(report: stored::ExerciseReport) -> Result<ExerciseReport, DecodeError> {
    let done = match report.done() {
        stored::Done::Done => Done::Done,
        stored::Done::SkippedForPain => Done::SkippedForPain,
        stored::Done::SkippedOtherwise => Done::SkippedOtherwise,
        stored::Done::Unspecified => return Err(unknown("exercise.done", report.done)),
    };
    let set = |set: stored::SetDone| {
        Ok(SetDone {
            reps: set.reps.map(|reps| small("set.reps", reps)).transpose()?,
            hold_s: set
                .hold_s
                .map(|hold_s| small("set.hold_s", hold_s))
                .transpose()?,
        })
    };
    Ok(ExerciseReport {
        exercise: report.exercise.into(),
        done,
        sets: report
            .sets
            .into_iter()
            .map(set)
            .collect::<Result<_, DecodeError>>()?,
        readings: readings_from_stored(report.readings)?,
    })
}

fn correction_to_stored(correction: &Correction) -> stored::Correction {
    stored::Correction {
        of: correction.of.0,
        who: correction.who.to_string(),
        why: correction.why.clone(),
        replacement: correction
            .replacement
            .as_deref()
            .map(|fact| Box::new(fact_to_stored(fact))),
    }
}

fn correction_from_stored(correction: stored::Correction) -> Result<Correction, DecodeError> {
    Ok(Correction {
        of: Position(correction.of),
        who: correction.who.into(),
        why: correction.why,
        replacement: correction
            .replacement
            .map(|fact| fact_from_stored(*fact).map(Box::new))
            .transpose()?,
    })
}

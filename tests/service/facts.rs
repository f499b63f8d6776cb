//! Facts as a clinic's software reports them, of invented people.

use rungwise_api::v1;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::{Done, ReportedBy, Variable};

/// The day on which the episodes of these tests open.
pub(crate) const DAY: &str = "2026-03-02";

/// The date so many days after [`DAY`].
pub(crate) fn day(days: i32) -> String {
    let opened: jiff::civil::Date = DAY.parse().expect("a date");
    opened
        .saturating_add(jiff::Span::new().days(days))
        .to_string()
}

/// Today's date in UTC, moved by so many days.
pub(crate) fn today(days: i32) -> String {
    let since = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .expect("after 1970");
    let days = i32::try_from(since.as_secs() / 86_400).expect("before the year 5,000,000") + days;
    jiff::civil::date(1970, 1, 1)
        .saturating_add(jiff::Span::new().days(days))
        .to_string()
}

pub(crate) fn fact(date: &str, reported_by: ReportedBy, kind: Kind) -> v1::Fact {
    v1::Fact {
        date: date.to_owned(),
        reported_by: reported_by.into(),
        kind: Some(kind),
    }
}

pub(crate) fn number(measure: &str, number: &str, unit: &str) -> v1::Reading {
    let value = Some(v1::reading::Value::Number(number.to_owned()));
    v1::Reading {
        measure: measure.to_owned(),
        value,
        unit: unit.to_owned(),
    }
}

pub(crate) fn score(measure: &str, value: u32) -> v1::Reading {
    number(measure, &value.to_string(), "{score}")
}

pub(crate) fn choice(measure: &str, choice: &str) -> v1::Reading {
    let value = Some(v1::reading::Value::Choice(choice.to_owned()));
    v1::Reading {
        measure: measure.to_owned(),
        value,
        unit: String::new(),
    }
}

pub(crate) fn could_not(measure: &str) -> v1::Reading {
    let value = Some(v1::reading::Value::CouldNot(v1::CouldNot {}));
    v1::Reading {
        measure: measure.to_owned(),
        value,
        unit: String::new(),
    }
}

/// An assessment of somebody who begins with holds.
pub(crate) fn assessment(date: &str) -> v1::Fact {
    let readings = vec![
        number("active elevation", "122", "deg"),
        choice("hitch when lifting", "slight"),
        number("manual strength", "3", "{grade}"),
        score("pain at rest", 1),
    ];
    assessed(
        date,
        readings,
        vec![number("active elevation", "168", "deg")],
    )
}

pub(crate) fn assessed(
    date: &str,
    readings: Vec<v1::Reading>,
    other_side: Vec<v1::Reading>,
) -> v1::Fact {
    let assessment = v1::Assessment {
        readings,
        other_side,
        other_side_sound: true,
    };
    fact(date, ReportedBy::Clinician, Kind::Assessment(assessment))
}

pub(crate) fn screened(date: &str, readings: Vec<v1::Reading>) -> v1::Fact {
    fact(
        date,
        ReportedBy::Clinician,
        Kind::Screening(v1::Screening { readings }),
    )
}

/// A session in which every prescribed set was done and hurt this much.
pub(crate) fn session(date: &str, prescription: &v1::Prescription, pain: u32) -> v1::Fact {
    let exercises = prescription
        .exercises
        .iter()
        .map(|prescribed| done(prescribed, pain))
        .collect();
    session_of(date, exercises)
}

pub(crate) fn session_of(date: &str, exercises: Vec<v1::ExerciseReport>) -> v1::Fact {
    let session = v1::Session {
        number: 0,
        followed: None,
        readings: session_readings(),
        exercises,
    };
    fact(date, ReportedBy::Patient, Kind::Session(session))
}

pub(crate) fn session_readings() -> Vec<v1::Reading> {
    vec![
        score("pain before session", 1),
        score("pain after session", 1),
        choice("warning sign", "absent"),
    ]
}

fn done(prescribed: &v1::PrescribedExercise, pain: u32) -> v1::ExerciseReport {
    let value = |variable: Variable| {
        let found = prescribed
            .dose
            .iter()
            .find(|value| value.variable() == variable)?;
        match &found.value {
            Some(v1::dose_value::Value::Number(number)) => number.parse::<u32>().ok(),
            _ => None,
        }
    };
    let set = v1::SetDone {
        reps: value(Variable::Reps),
        hold_s: value(Variable::HoldTime),
    };
    let sets = usize::try_from(value(Variable::Sets).unwrap_or(1)).expect("few sets");
    v1::ExerciseReport {
        exercise: prescribed.exercise.clone(),
        done: Done::Done.into(),
        sets: vec![set; sets],
        readings: vec![
            score("pain during exercise", pain),
            choice("feel of the sets", "comfortable"),
        ],
    }
}

pub(crate) fn report(exercise: &str, readings: Vec<v1::Reading>) -> v1::ExerciseReport {
    v1::ExerciseReport {
        exercise: exercise.to_owned(),
        done: Done::Done.into(),
        sets: Vec::new(),
        readings,
    }
}

/// The morning after a session, with nothing to complain of.
pub(crate) fn morning(date: &str) -> v1::Fact {
    let readings = vec![
        score("pain next morning", 1),
        score("worst daily pain", 2),
        choice("night pain", "absent"),
    ];
    morning_of(date, "", readings)
}

pub(crate) fn morning_of(date: &str, session_date: &str, readings: Vec<v1::Reading>) -> v1::Fact {
    let after = v1::MorningAfter {
        session_date: session_date.to_owned(),
        session_number: 0,
        readings,
    };
    fact(date, ReportedBy::Patient, Kind::MorningAfter(after))
}

pub(crate) fn event(date: &str, event: &str) -> v1::Fact {
    fact(
        date,
        ReportedBy::Patient,
        Kind::Event(v1::Event {
            event: event.to_owned(),
        }),
    )
}

pub(crate) fn away(date: &str, until: &str) -> v1::Fact {
    fact(
        date,
        ReportedBy::Patient,
        Kind::Away(v1::Away {
            until: until.to_owned(),
        }),
    )
}

/// A clinician's word.
pub(crate) fn directive(date: &str, why: &str, order: v1::directive::Order) -> v1::Fact {
    let directive = v1::Directive {
        clinic_wide: false,
        who: "invented-clinician-1".to_owned(),
        why: why.to_owned(),
        until: String::new(),
        order: Some(order),
    };
    fact(date, ReportedBy::Clinician, Kind::Directive(directive))
}

pub(crate) fn dose(variable: Variable, number: &str) -> v1::DoseValue {
    let value = Some(v1::dose_value::Value::Number(number.to_owned()));
    v1::DoseValue {
        variable: variable.into(),
        value,
        unit: String::new(),
    }
}

pub(crate) fn place(exercise: &str, dose: Vec<v1::DoseValue>) -> v1::ExercisePlace {
    v1::ExercisePlace {
        exercise: exercise.to_owned(),
        dose,
    }
}

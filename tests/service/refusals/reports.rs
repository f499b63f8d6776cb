//! Rows about what is reported: values, names, times, shapes.
//!
//! Leaves to others: a clinician's word (`super::orders`), fields of the calls (`super::calls`).

use super::super::clinic::{Begun, recording};
use super::super::facts::{
    DAY, assessed, away, choice, could_not, day, event, fact, morning, morning_of, number, report, score, screened,
    session_of, session_readings, today,
};
use super::{Call, Row, wrong};
use rungwise_api::v1;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::{Done, Reason, ReportedBy};

/// A call that records one fact.
fn record(begun: &Begun, fact: v1::Fact) -> Call {
    Call::Record(recording(&begun.episode, vec![fact]))
}

/// A call that reports one value of one exercise.
fn of_exercise(begun: &Begun, reading: v1::Reading) -> Call {
    record(begun, session_of(&day(3), vec![report("er-isometric", vec![reading])]))
}

/// A call that reports one value of an assessment.
fn of_assessment(begun: &Begun, reading: v1::Reading) -> Call {
    record(begun, assessed(&day(3), vec![reading], Vec::new()))
}

/// A call that reports one exercise.
fn exercise(begun: &Begun, report: v1::ExerciseReport) -> Call {
    record(begun, session_of(&day(3), vec![report]))
}

fn away_until(begun: &Begun, until: &str) -> Call {
    record(begun, away(&day(3), until))
}

const MEASURE: &str = "facts[0].session.exercises[0].readings[0].measure";
const VALUE: &str = "facts[0].session.exercises[0].readings[0].value";
const UNIT: &str = "facts[0].session.exercises[0].readings[0].unit";
const PAIN: &str = "pain during exercise";

pub(super) fn values(begun: &Begun) -> Vec<Row> {
    let of = |reading| of_exercise(begun, reading);
    let on_elevation = |unit: &str| of_assessment(begun, number("active elevation", "90", unit));
    vec![
        wrong("a measure misspelt", of(score("pain during exercize", 3)), Reason::UnknownMeasure, MEASURE, "`pain during exercise`?"),
        wrong("a measure from nowhere", of(score("moon", 3)), Reason::UnknownMeasure, MEASURE, "one of `pain during exercise`"),
        wrong("a measure that is worked out", of(number("age", "50", "a")), Reason::MeasureWorkedOut, MEASURE, "leave it out"),
        wrong("a measure of another report", of(score("pain next morning", 3)), Reason::WrongCarrier, MEASURE, "a morning-after"),
        wrong("a choice for a number", of(choice(PAIN, "some")), Reason::WrongKind, VALUE, "give a number"),
        wrong("a number for a choice", of(number("feel of the sets", "1", "1")), Reason::WrongKind, VALUE, "give a choice"),
        wrong("a choice that is none", of(choice("feel of the sets", "fine")), Reason::UnknownChoice, VALUE, "`comfortable`, `hard`, `lost form`"),
        wrong("above the range", of(score(PAIN, 11)), Reason::OutOfRange, VALUE, "0 to 10"),
        wrong("below the range", of(number(PAIN, "-1", "{score}")), Reason::OutOfRange, VALUE, "0 to 10"),
        wrong("between two steps", of(number(PAIN, "2.5", "{score}")), Reason::OffStep, VALUE, "2 or 3"),
        wrong("no number", of(number(PAIN, "much", "{score}")), Reason::NotANumber, VALUE, "such as `1.5`"),
        wrong("an exponent", of(number(PAIN, "1e0", "{score}")), Reason::NotANumber, VALUE, "such as `1.5`"),
        wrong("finer than thousandths", of(number(PAIN, "3.0001", "{score}")), Reason::NotANumber, VALUE, "three after the point"),
        wrong("a comma for the point", of(number(PAIN, "3,0", "{score}")), Reason::NotANumber, VALUE, "such as `1.5`"),
        wrong("no unit", on_elevation(""), Reason::WrongUnit, "facts[0].assessment.readings[0].unit", "`deg`"),
        wrong("another unit of the same kind", on_elevation("rad"), Reason::WrongUnit, "facts[0].assessment.readings[0].unit", "`deg`"),
        wrong("no unit at all", on_elevation("degrees"), Reason::WrongUnit, "facts[0].assessment.readings[0].unit", "`deg`"),
        wrong("a unit with a choice", of(v1::Reading { unit: "1".into(), ..choice("feel of the sets", "hard") }), Reason::WrongUnit, UNIT, "no unit"),
        wrong("a unit with `could not`", of(v1::Reading { unit: "kg".into(), ..could_not(PAIN) }), Reason::WrongUnit, UNIT, "`{score}`"),
        wrong("no value", of(v1::Reading { value: None, ..score(PAIN, 3) }), Reason::FieldMissing, VALUE, "a number, a choice"),
        wrong("no measure", of(score("", 3)), Reason::FieldMissing, MEASURE, "name a measure"),
    ]
}

pub(super) fn names(begun: &Begun) -> Vec<Row> {
    const EXERCISE: &str = "facts[0].session.exercises[0].exercise";
    let twice = vec![report("er-isometric", Vec::new()); 2];
    let owned = |owned: &[&str]| {
        let owned = owned.iter().map(ToString::to_string).collect();
        record(begun, fact(DAY, ReportedBy::Patient, Kind::Equipment(v1::Equipment { owned, ..Default::default() })))
    };
    let followed = v1::Session { followed: Some(9), ..v1::Session::default() };
    let followed = record(begun, fact(&day(3), ReportedBy::Patient, Kind::Session(followed)));
    let pain_twice = vec![choice("fever or feeling ill", "no"); 2];
    vec![
        wrong("an exercise misspelt", exercise(begun, report("er-isometrik", Vec::new())), Reason::UnknownExercise, EXERCISE, "`er-isometric`?"),
        wrong("an exercise from nowhere", exercise(begun, report("juggling", Vec::new())), Reason::UnknownExercise, EXERCISE, "one of `er-isometric`"),
        wrong("no exercise named", exercise(begun, report("", Vec::new())), Reason::UnknownExercise, EXERCISE, "one of"),
        wrong("an exercise twice", record(begun, session_of(&day(3), twice)), Reason::NamedTwice, "facts[0].session.exercises[1].exercise", "once"),
        wrong("a measure twice", record(begun, screened(DAY, pain_twice)), Reason::NamedTwice, "facts[0].screening.readings[1].measure", "once"),
        wrong("an event that is none", record(begun, event(DAY, "eclipse")), Reason::UnknownEvent, "facts[0].event.event", "`fall`"),
        wrong("equipment that is none", owned(&["stick", "trampoline"]), Reason::UnknownEquipment, "facts[0].equipment.owned[1]", "`stick`"),
        wrong("equipment twice", owned(&["stick", "stick"]), Reason::NamedTwice, "facts[0].equipment.owned[1]", "once"),
        wrong("a decision that never was", followed, Reason::UnknownDecision, "facts[0].session.followed", "0 to 0"),
    ]
}

pub(super) fn bands(begun: &Begun) -> Vec<Row> {
    let point = |elongation: &str, force: &str| v1::BandPoint { elongation: elongation.to_owned(), force: force.to_owned() };
    let good = v1::MeasuredBand {
        label: "light".to_owned(),
        rest_length_mm: 1000,
        points: vec![point("50", "8"), point("100", "15.5")],
        elongation_max: "100".to_owned(),
        may_be_doubled: true,
        ..Default::default()
    };
    let owned = |bands: Vec<v1::MeasuredBand>, room_mm: Option<i32>| {
        record(begun, fact(DAY, ReportedBy::Patient, Kind::Equipment(v1::Equipment { bands, room_mm, ..Default::default() })))
    };
    let with = |change: &dyn Fn(&mut v1::MeasuredBand)| {
        let mut band = good.clone();
        change(&mut band);
        owned(vec![band], None)
    };
    vec![
        wrong("a band without readings", with(&|band| band.points.clear()), Reason::TooFewReadings, "facts[0].equipment.bands[0].points", "at least one"),
        wrong("a force that falls", with(&|band| band.points[1] = point("100", "7")), Reason::NotRising, "facts[0].equipment.bands[0].points[1].force", "above 8 N"),
        wrong("a force that is none", with(&|band| band.points[1] = point("100", "much")), Reason::NotANumber, "facts[0].equipment.bands[0].points[1].force", "such as `1.5`"),
        wrong("no elongation", with(&|band| band.points[1] = point("", "9")), Reason::FieldMissing, "facts[0].equipment.bands[0].points[1].elongation", "a decimal number"),
        wrong("a negative length", with(&|band| band.rest_length_mm = -1000), Reason::OutOfRange, "facts[0].equipment.bands[0].rest_length_mm", "10 to 10000 mm"),
        wrong("past what was measured", with(&|band| band.elongation_max = "101".to_owned()), Reason::OutOfRange, "facts[0].equipment.bands[0].elongation_max", "to 100 %"),
        wrong("a band without a label", with(&|band| band.label.clear()), Reason::Empty, "facts[0].equipment.bands[0].label", "say"),
        wrong("a band twice", owned(vec![good.clone(); 2], None), Reason::NamedTwice, "facts[0].equipment.bands[1].label", "once"),
        wrong("a negative room", owned(vec![good.clone()], Some(-1)), Reason::OutOfRange, "facts[0].equipment.room_mm", "0 to 10000 mm"),
    ]
}

pub(super) fn times(begun: &Begun) -> Vec<Row> {
    const DATE: &str = "facts[0].date";
    const SESSION: &str = "facts[0].morning_after.session_date";
    let on = |date: &str| record(begun, event(date, "fall"));
    let after = |date: &str, session: &str| record(begun, morning_of(date, session, vec![score("pain next morning", 1)]));
    let numbered = v1::MorningAfter { session_number: 2, readings: vec![score("pain next morning", 1)], ..Default::default() };
    let numbered = record(begun, fact(&day(2), ReportedBy::Patient, Kind::MorningAfter(numbered)));
    let second_morning = Call::Record(recording(&begun.episode, vec![morning(&day(2)), morning(&day(2))]));
    vec![
        wrong("two days ahead", on(&today(2)), Reason::InTheFuture, DATE, &today(1)),
        wrong("a session from before", record(begun, session_of("2026-03-01", Vec::new())), Reason::BeforeOpened, DATE, "2026-03-02"),
        wrong("before birth", on("1980-05-16"), Reason::BeforeBirth, DATE, "1980-05-17"),
        wrong("no date", on(""), Reason::FieldMissing, DATE, "YYYY-MM-DD"),
        wrong("a date written short", on("2026-3-4"), Reason::FieldMalformed, DATE, "a date such as"),
        wrong("a day that is none", on("2026-02-29"), Reason::FieldMalformed, DATE, "a date such as"),
        wrong("a time of day", on("2026-03-04T10:00:00Z"), Reason::FieldMalformed, DATE, "a date such as"),
        wrong("back before leaving", away_until(begun, &day(2)), Reason::EndsBeforeItBegins, "facts[0].away.until", &day(3)),
        wrong("away for ever", away_until(begun, "2028-01-01"), Reason::TooLong, "facts[0].away.until", "366 days"),
        wrong("a morning after of the same day", after(&day(1), &day(1)), Reason::NotYetMorning, SESSION, &day(2)),
        wrong("a morning after nothing", after(&day(9), ""), Reason::NoSuchSession, SESSION, "report the session first"),
        wrong("a morning after of a second session", numbered, Reason::NoSuchSession, "facts[0].morning_after.session_number", "report the session first"),
        wrong("a second morning after", second_morning, Reason::DuplicateMorningAfter, "facts[1].morning_after.session_date", "correct the first"),
        wrong("a session again", record(begun, session_of(&day(1), Vec::new())), Reason::DuplicateSession, "facts[0].session.number", "its own number"),
    ]
}

pub(super) fn shapes(begun: &Begun) -> Vec<Row> {
    const DONE: &str = "facts[0].session.exercises[0].done";
    const SETS: &str = "facts[0].session.exercises[0].sets";
    let one = |date: &str, by: i32, kind| record(begun, v1::Fact { date: date.to_owned(), reported_by: by, kind });
    let fell = || Some(Kind::Event(v1::Event { event: "fall".into() }));
    let shown = |done: i32, sets: Vec<v1::SetDone>, readings| {
        exercise(begun, v1::ExerciseReport { exercise: "er-isometric".into(), done, sets, readings })
    };
    let set = |reps, hold_s| v1::SetDone { reps: Some(reps), hold_s: Some(hold_s) };
    let skipped: i32 = Done::SkippedOtherwise.into();
    let numbered = |number| {
        let session = v1::Session { number, readings: session_readings(), ..v1::Session::default() };
        record(begun, fact(&day(3), ReportedBy::Patient, Kind::Session(session)))
    };
    let falls = |count: usize| Call::Record(recording(&begun.episode, vec![event(DAY, "fall"); count]));
    let many = vec![score("pain during exercise", 1); 257];
    let exercises = (0..65).map(|at| report(&format!("invented-{at}"), Vec::new())).collect();
    let other_side = assessed(DAY, vec![score("pain at rest", 1)], vec![score("pain at rest", 1)]);
    let nothing_assessed = record(begun, assessed(DAY, Vec::new(), Vec::new()));
    let signed = v1::SignOff { decision: 0, accepted: true, who: "invented-clinician-1".into() };
    let latched = v1::PersonRefer { rule: "heart-pain".into() };
    let corrected = v1::Correction { of: begun.session.clone(), ..Default::default() };
    vec![
        wrong("no facts", falls(0), Reason::FieldMissing, "facts", "at least one"),
        wrong("too many facts", falls(201), Reason::TooMany, "facts", "at most 200"),
        wrong("no reporter", one(DAY, 0, fell()), Reason::EnumUnknown, "facts[0].reported_by", "patient, carer, clinician or device"),
        wrong("a reporter from the future", one(DAY, 99, fell()), Reason::EnumUnknown, "facts[0].reported_by", "patient, carer, clinician or device"),
        wrong("nothing happened", one(DAY, 1, None), Reason::FieldMissing, "facts[0].kind", "say what happened"),
        wrong("not said whether done", shown(0, Vec::new(), Vec::new()), Reason::EnumUnknown, DONE, "skipped for pain"),
        wrong("done in an unknown way", shown(7, Vec::new(), Vec::new()), Reason::EnumUnknown, DONE, "skipped for pain"),
        wrong("sets of an exercise not done", shown(skipped, vec![set(8, 5)], Vec::new()), Reason::NotDone, SETS, "leave its sets"),
        wrong("too many repetitions", shown(1, vec![set(8, 5), set(501, 5)], Vec::new()), Reason::OutOfBounds, "facts[0].session.exercises[0].sets[1].reps", "0 to 500"),
        wrong("held for hours", shown(1, vec![set(8, 3601)], Vec::new()), Reason::OutOfBounds, "facts[0].session.exercises[0].sets[0].hold_s", "0 to 3600"),
        wrong("too many sets", shown(1, vec![set(8, 5); 21], Vec::new()), Reason::TooMany, SETS, "at most 20"),
        wrong("too many values", shown(1, Vec::new(), many), Reason::TooMany, "facts[0].session.exercises[0].readings", "at most 256"),
        wrong("too many exercises", record(begun, session_of(&day(3), exercises)), Reason::TooMany, "facts[0].session.exercises", "at most 64"),
        wrong("a ninth session of a day", numbered(9), Reason::OutOfBounds, "facts[0].session.number", "1 to 8"),
        wrong("a thousandth session of a day", numbered(1_000), Reason::OutOfBounds, "facts[0].session.number", "8"),
        wrong("the other side of the person", record(begun, other_side), Reason::OneSided, "facts[0].assessment.other_side[0].measure", "with the affected side"),
        wrong("an assessment of nothing", nothing_assessed, Reason::FieldMissing, "facts[0].assessment.readings", "give a value"),
        wrong("a screening of nothing", record(begun, screened(DAY, Vec::new())), Reason::FieldMissing, "facts[0].screening.readings", "give a value"),
        wrong("a sign-off as a fact", one(DAY, 3, Some(Kind::SignOff(signed))), Reason::OutputOnly, "facts[0].sign_off", "SignOff"),
        wrong("a referral as a fact", one(DAY, 3, Some(Kind::PersonRefer(latched))), Reason::OutputOnly, "facts[0].person_refer", "server"),
        wrong("a correction as a fact", one(DAY, 3, Some(Kind::Correction(Box::new(corrected)))), Reason::OutputOnly, "facts[0].correction", "CorrectFact"),
    ]
}

//! Sessions of a diary.
//!
//! Leaves to others: turning "as prescribed" into sets (`crate::diary`).

use super::Usual;
use super::report::{merged, readings, readings_under};
use super::table::{Reader, Table};
use crate::diary::{ExercisePlan, How, SessionPlan};
use jiff::civil::Date;
use rungwise_engine::admit::{HOLD_S_MAX, REPS_MAX, SESSIONS_A_DAY_MAX, SETS_MAX};
use rungwise_engine::fact::{MorningAfter, Reading, SetDone};
use rungwise_pack::diagnostic::Code;
use rungwise_pack::model::Carrier;
use rungwise_pack::quantity::Key;

/// One session, and its morning-after where the diary tells it beside the session.
pub(super) fn session(
    reader: &mut Reader<'_>,
    mut table: Table<'_>,
    usual: &Usual,
    date: Date,
) -> (SessionPlan, Option<MorningAfter>) {
    let number = table.number(reader, "number", &(1..=u32::from(SESSIONS_A_DAY_MAX)));
    let number = number
        .and_then(|number| u8::try_from(number).ok())
        .unwrap_or(1);
    let unsaid = not_reported(reader, &mut table);
    let usual_each = said(&usual.exercise, &unsaid);
    let own = readings_under(reader, &mut table, "readings", Carrier::Session);
    let each = readings_under(reader, &mut table, "readings_each", Carrier::Exercise);
    let each = merged(each, &usual_each);
    let all = table.word(
        reader,
        "done",
        &[("as prescribed", true), ("only those named", false)],
    );
    let mut exercises = Vec::new();
    if let Some(named) = table.table(reader, "exercises", "the exercises") {
        for (name, value) in named.entries() {
            if let Some(inner) = reader.open(value, "an exercise") {
                exercises.extend(exercise(reader, name, inner, &each));
            }
        }
    }
    let after = table.table(reader, "next_morning", "the next morning");
    let after = after.map(|values| MorningAfter {
        session_date: date,
        session_number: Some(number),
        readings: merged(
            readings(reader, &values, Carrier::MorningAfter),
            &said(&usual.morning_after, &unsaid),
        ),
    });
    table.finish(reader);
    let plan = SessionPlan {
        date,
        number,
        readings: merged(own, &said(&usual.session, &unsaid)),
        rest: all.unwrap_or(true).then_some(each),
        exercises,
    };
    (plan, after)
}

/// Measures that stayed unsaid, though usual.
fn not_reported(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Vec<Key> {
    let names = table.texts(reader, "not_reported");
    let pack = reader.pack;
    let mut unsaid = Vec::new();
    for (name, span) in names {
        if pack.measure(&name).is_some() {
            unsaid.push(name.as_str().into());
        } else {
            reader.unknown(
                span,
                "measure",
                &name,
                pack.measures.iter().map(|measure| &*measure.name),
            );
        }
    }
    unsaid
}

fn said(usual: &[Reading], unsaid: &[Key]) -> Vec<Reading> {
    usual
        .iter()
        .filter(|reading| !unsaid.contains(&reading.measure))
        .cloned()
        .collect()
}

fn exercise(
    reader: &mut Reader<'_>,
    name: &super::table::Name<'_>,
    mut table: Table<'_>,
    each: &[Reading],
) -> Option<ExercisePlan> {
    let key: &str = name.get_ref();
    let pack = reader.pack;
    let known = pack.exercise(key).is_some();
    if !known {
        reader.unknown(
            name.span(),
            "exercise",
            key,
            pack.exercises.iter().map(|exercise| &*exercise.key),
        );
    }
    let skipped = table.word(reader, "skipped", &[("pain", true), ("otherwise", false)]);
    let sets = table
        .get("sets")
        .is_some()
        .then(|| sets(reader, &mut table));
    table.word(reader, "done", &[("as prescribed", ())]);
    let own = readings_under(reader, &mut table, "readings", Carrier::Exercise);
    if skipped.is_some() && (sets.is_some() || !own.is_empty()) {
        let help = Some("leave `sets` and `readings` out".to_owned());
        reader.report(
            Code::Exclusive,
            table.span.clone(),
            format!("`{key}` was skipped"),
            help,
        );
    }
    table.finish(reader);
    let how = match (skipped, sets) {
        (Some(true), _) => How::SkippedForPain,
        (Some(false), _) => How::SkippedOtherwise,
        (None, Some(sets)) => How::Sets(sets),
        (None, None) => How::AsPrescribed,
    };
    let readings = if skipped.is_some() {
        Vec::new()
    } else {
        merged(own, each)
    };
    known.then(|| ExercisePlan {
        exercise: key.into(),
        how,
        readings,
    })
}

fn sets(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Vec<SetDone> {
    let mut sets = Vec::new();
    for mut set in table.tables(reader, "sets", "a set") {
        let reps = set.number(reader, "reps", &(0..=u32::from(REPS_MAX)));
        let hold_s = set.number(reader, "hold", &(0..=u32::from(HOLD_S_MAX)));
        let small = |number: Option<u32>| number.and_then(|number| u16::try_from(number).ok());
        sets.push(SetDone {
            reps: small(reps),
            hold_s: small(hold_s),
        });
        set.finish(reader);
    }
    if sets.len() > SETS_MAX {
        let message = format!("{} sets are too many", sets.len());
        reader.report(
            Code::TooMany,
            table.span.clone(),
            message,
            Some(format!("at most {SETS_MAX}")),
        );
    }
    sets
}

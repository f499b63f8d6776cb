//! One `[[day]]` of a diary: what was reported, in a fixed order, and the ask at its end; repeated where it says so.
//!
//! Leaves to others: sessions, directives and expectations.

use super::report::{merged, readings, readings_under};
use super::table::{Reader, Table};
use super::{Usual, equipment, expect, order, session};
use crate::diary::{Entry, Expected, STEPS_MAX, Step};
use jiff::civil::Date;
use jiff::{Span, ToSpan};
use rungwise_engine::fact::{Assessment, Fact, FactKind, MorningAfter};
use rungwise_pack::diagnostic::Code;
use rungwise_pack::model::{Carrier, Reporter};
use std::ops::Range;

/// Largest number of days between two repetitions.
const EVERY_MAX: u32 = 366;

/// Reads a day into moments: (date, whether it comes after that day's mornings, what happened).
pub(super) fn day(
    reader: &mut Reader<'_>,
    (index, mut table): (usize, Table<'_>),
    usual: &Usual,
    moments: &mut Vec<(Date, bool, Step)>,
) {
    let given = table.need_date(reader, "date");
    let until = table.date(reader, "until");
    let every = table.number(reader, "every", &(1..=EVERY_MAX)).unwrap_or(1);
    let reported = table.date(reader, "reported");
    // A day without a date is read all the same: what else is wrong with it is said at once.
    let first = read_day(
        reader,
        (index, &mut table),
        usual,
        given.unwrap_or_default(),
    );
    table.finish(reader);
    let Some(date) = given else { return };
    for (word, other) in [("repeated until", until), ("reported on", reported)] {
        if let Some(other) = other.filter(|other| *other < date) {
            let message = format!("the day is {word} {other}, before it is");
            reader.report(Code::OutOfBounds, first.span.clone(), message, None);
            return;
        }
    }
    let late = date.until(reported.unwrap_or(date)).unwrap_or_default();
    let mut on = date;
    loop {
        if moments.len() >= STEPS_MAX {
            let help = Some(format!("at most {STEPS_MAX} steps"));
            reader.report(
                Code::TooMany,
                first.span,
                "the diary is too long".to_owned(),
                help,
            );
            return;
        }
        place(reader, &first, (date, on), late, moments);
        let next = on.checked_add(i64::from(every).days());
        match next {
            Ok(next) if until.is_some_and(|until| next <= until) => on = next,
            _ => return,
        }
    }
}

/// A day as it was read, for its first date.
struct Read {
    index: usize,
    span: Range<usize>,
    entries: Vec<Entry>,
    next_mornings: Vec<MorningAfter>,
    ask: Option<Expected>,
}

fn read_day(
    reader: &mut Reader<'_>,
    (index, table): (usize, &mut Table<'_>),
    usual: &Usual,
    date: Date,
) -> Read {
    let mut entries = Vec::new();
    let mut fact =
        |by: Reporter, kind: FactKind| entries.push(Entry::Fact(Fact { date, by, kind }));
    if let Some(values) = table.table(reader, "morning_after", "the morning after") {
        let own = readings(reader, &values, Carrier::MorningAfter);
        let session_date = date.checked_sub(1.day()).unwrap_or(date);
        let readings = merged(own, &usual.morning_after);
        fact(
            Reporter::Patient,
            FactKind::MorningAfter(MorningAfter {
                session_date,
                session_number: None,
                readings,
            }),
        );
    }
    if let Some(values) = table.table(reader, "screening", "the screening") {
        let own = readings(reader, &values, Carrier::Screening);
        fact(
            Reporter::Patient,
            FactKind::Screening(merged(own, &usual.screening)),
        );
    }
    if let Some(assessment) = assessment(reader, table) {
        fact(Reporter::Clinician, FactKind::Assessment(assessment));
    }
    for (event, span) in table.texts(reader, "events") {
        let pack = reader.pack;
        if pack.events.iter().any(|known| **known == *event) {
            fact(Reporter::Patient, FactKind::Event(event.as_str().into()));
        } else {
            reader.unknown(
                span,
                "kind of event",
                &event,
                pack.events.iter().map(|known| &**known),
            );
        }
    }
    if let Some(until) = table.date(reader, "away_until") {
        fact(Reporter::Patient, FactKind::Away { until });
    }
    if let Some(equipment) = equipment::equipment(reader, table) {
        fact(Reporter::Patient, FactKind::Equipment(equipment));
    }
    for inner in table.tables(reader, "directive", "a directive") {
        if let Some(directive) = order::directive(reader, inner) {
            fact(Reporter::Clinician, FactKind::Directive(directive));
        }
    }
    entries.extend(sign_off(reader, table, date));
    let mut next_mornings = Vec::new();
    for inner in table.tables(reader, "session", "a session") {
        let (plan, after) = session::session(reader, inner, usual, date);
        entries.push(Entry::Session(plan));
        next_mornings.extend(after);
    }
    let expected = table.table(reader, "expect", "what is expected");
    let ask = match expected {
        Some(inner) => Some(expect::expected(reader, inner)),
        None => table
            .flag(reader, "ask")
            .filter(|ask| *ask)
            .map(|_| Expected::default()),
    };
    Read {
        index,
        span: table.span.clone(),
        entries,
        next_mornings,
        ask,
    }
}

fn assessment(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Option<Assessment> {
    let given = table.get("assessment").is_some();
    let readings = readings_under(reader, table, "assessment", Carrier::Assessment);
    let other_side = readings_under(reader, table, "other_side", Carrier::Assessment);
    let sound = table.flag(reader, "other_side_sound");
    if !given && (!other_side.is_empty() || sound.is_some()) {
        let message = "the other side is told with an assessment".to_owned();
        reader.report(
            Code::MissingKey,
            table.span.clone(),
            message,
            Some("add `assessment`".to_owned()),
        );
    }
    given.then(|| Assessment {
        readings,
        other_side,
        other_side_sound: sound.unwrap_or(false),
    })
}

fn sign_off(reader: &mut Reader<'_>, table: &mut Table<'_>, date: Date) -> Option<Entry> {
    let mut inner = table.table(reader, "sign_off", "a sign-off")?;
    inner.need(reader, "accepted");
    let accepted = inner.flag(reader, "accepted");
    let who = inner.need_text(reader, "who");
    inner.finish(reader);
    Some(Entry::SignOff {
        date,
        accepted: accepted?,
        who: who?.as_str().into(),
    })
}

/// Places a day read for `first` on the date `on`, told `late` days later.
fn place(
    reader: &Reader<'_>,
    read: &Read,
    (first, on): (Date, Date),
    late: Span,
    moments: &mut Vec<(Date, bool, Step)>,
) {
    let told = on.saturating_add(late);
    let step = |date: Date, entries: Vec<Entry>, ask: Option<Expected>| Step {
        date,
        span: read.span.clone(),
        line: reader.line_of(read.span.start),
        day: read.index,
        entries,
        ask,
    };
    let entries = read
        .entries
        .iter()
        .map(|entry| moved(entry.clone(), first, on))
        .collect();
    moments.push((told, true, step(told, entries, read.ask.clone())));
    for after in &read.next_mornings {
        let date = on.saturating_add(1.day());
        let kind = FactKind::MorningAfter(MorningAfter {
            session_date: on,
            ..after.clone()
        });
        let entry = Entry::Fact(Fact {
            date,
            by: Reporter::Patient,
            kind,
        });
        let told = date.saturating_add(late);
        moments.push((told, false, step(told, vec![entry], None)));
    }
}

/// An entry of the day `first`, told of the day `on`.
fn moved(mut entry: Entry, first: Date, on: Date) -> Entry {
    match &mut entry {
        Entry::Fact(fact) => {
            if let FactKind::MorningAfter(after) = &mut fact.kind {
                after.session_date = on.checked_sub(1.day()).unwrap_or(on);
            }
            if let FactKind::Away { until } = &mut fact.kind {
                *until = until.saturating_add(first.until(on).unwrap_or_default());
            }
            fact.date = on;
        }
        Entry::Session(plan) => plan.date = on,
        Entry::SignOff { date, .. } => *date = on,
    }
    entry
}

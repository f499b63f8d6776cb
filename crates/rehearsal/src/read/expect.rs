//! What a diary expects of a decision.
//!
//! Leaves to others: comparing it (`crate::play`).

use super::order::dose;
use super::table::{Reader, Table};
use crate::diary::Expected;
use rungwise_engine::decision::Move;
use rungwise_pack::model::{Outcome, RuleKind};
use rungwise_pack::quantity::Key;
use std::ops::Range;

pub(super) fn expected(reader: &mut Reader<'_>, mut table: Table<'_>) -> Expected {
    let outcome = table.word(
        reader,
        "outcome",
        &Outcome::ALL.map(|outcome| (outcome.word(), outcome)),
    );
    let phase = phase(reader, &mut table);
    let moves = moves(reader, &mut table);
    let places = places(reader, &mut table);
    let doses = doses(reader, &mut table);
    let because = because(reader, &mut table);
    let absent = absent(reader, &mut table);
    let reviews = reviews(reader, &mut table);
    table.finish(reader);
    Expected {
        outcome,
        phase,
        moves,
        places,
        doses,
        because,
        absent,
        reviews,
    }
}

fn phase(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Option<Key> {
    let value = table.get("phase")?;
    let text = reader.text(value, "`phase`")?;
    let pack = reader.pack;
    if pack.phase(&text).is_none() {
        reader.unknown(
            value.span(),
            "phase",
            &text,
            pack.phases.iter().map(|phase| &*phase.key),
        );
    }
    Some(text.as_str().into())
}

fn moves(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Vec<(Key, Move)> {
    let words = Move::ALL.map(|mv| (mv.word(), mv));
    let mut moves = Vec::new();
    if let Some(values) = table.table(reader, "moves", "the moves") {
        for (name, value) in values.entries() {
            let line: &str = name.get_ref();
            check_line(reader, line, name.span());
            if let Some(mv) = reader.word(value, "a move", &words) {
                moves.push((line.into(), mv));
            }
        }
    }
    moves
}

fn places(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Vec<(Key, Key)> {
    let mut places = Vec::new();
    if let Some(values) = table.table(reader, "places", "the places") {
        for (name, value) in values.entries() {
            let line: &str = name.get_ref();
            check_line(reader, line, name.span());
            if let Some(exercise) = reader.text(value, "a place") {
                check_exercise(reader, &exercise, value.span());
                places.push((line.into(), exercise.as_str().into()));
            }
        }
    }
    places
}

fn doses(
    reader: &mut Reader<'_>,
    table: &mut Table<'_>,
) -> Vec<(
    Key,
    Vec<(
        rungwise_pack::quantity::Variable,
        rungwise_pack::model::RowValue,
    )>,
)> {
    let mut doses = Vec::new();
    if let Some(values) = table.table(reader, "doses", "the doses") {
        for (name, value) in values.entries() {
            let exercise: &str = name.get_ref();
            check_exercise(reader, exercise, name.span());
            if let Some(inner) = reader.open(value, "a dose") {
                doses.push((exercise.into(), dose(reader, &inner)));
            }
        }
    }
    doses
}

fn because(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Vec<Key> {
    let pack = reader.pack;
    let limits = pack
        .limits
        .iter()
        .chain(pack.phases.iter().flat_map(|phase| &phase.limits));
    let limits = limits.chain(pack.exercises.iter().flat_map(|exercise| &exercise.limits));
    let known: Vec<&str> = pack
        .rules
        .iter()
        .map(|rule| &*rule.key)
        .chain(limits.map(|limit| &*limit.key))
        .collect();
    let mut because = Vec::new();
    for (text, span) in table.texts(reader, "because") {
        if known.contains(&text.as_str()) {
            because.push(text.as_str().into());
        } else {
            reader.unknown(span, "rule or limit", &text, known.iter().copied());
        }
    }
    because
}

fn reviews(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Option<Vec<Key>> {
    table.get("reviews")?;
    let pack = reader.pack;
    let rules = pack.rules.iter();
    let rules = rules.filter(|rule| rule.kind == RuleKind::Review);
    let known: Vec<&str> = rules.map(|rule| &*rule.key).collect();
    let mut reviews: Vec<Key> = Vec::new();
    for (text, span) in table.texts(reader, "reviews") {
        if known.contains(&text.as_str()) {
            reviews.push(text.as_str().into());
        } else {
            reader.unknown(span, "review rule", &text, known.iter().copied());
        }
    }
    reviews.sort();
    Some(reviews)
}

fn absent(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Vec<Key> {
    let mut absent = Vec::new();
    for (text, span) in table.texts(reader, "absent") {
        check_exercise(reader, &text, span);
        absent.push(text.as_str().into());
    }
    absent
}

fn check_line(reader: &mut Reader<'_>, line: &str, span: Range<usize>) {
    let pack = reader.pack;
    if pack.line(line).is_none() {
        reader.unknown(span, "line", line, pack.lines.iter().map(|line| &*line.key));
    }
}

fn check_exercise(reader: &mut Reader<'_>, exercise: &str, span: Range<usize>) {
    let pack = reader.pack;
    if pack.exercise(exercise).is_none() {
        reader.unknown(
            span,
            "exercise",
            exercise,
            pack.exercises.iter().map(|exercise| &*exercise.key),
        );
    }
}

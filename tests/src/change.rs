//! Reported values one by one: found in a history, made worse, taken away, put in another's place.
//!
//! Leaves to others: what deciding then says.

use crate::generate::Dice;
use jiff::civil::Date;
use rungwise_engine::fact::{Body, Done, Fact, FactKind, Reading, Record, Session, Value};
use rungwise_pack::model::{
    Amount, Carrier, CheckedPack, Criterion, Measure, MeasureKind, Origin, Relation, RuleKind,
    Subject, Worse,
};
use rungwise_pack::quantity::{Key, Milli};

/// Where a reported value stands.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Spot {
    /// The record, by index.
    pub record: usize,
    /// The exercise of a session, by index; none: the fact's own readings.
    pub exercise: Option<usize>,
    /// The reading, by index.
    pub reading: usize,
}

fn readings(fact: &Fact) -> Vec<(Option<usize>, &Vec<Reading>)> {
    match &fact.kind {
        FactKind::Session(session) => std::iter::once((None, &session.readings))
            .chain(
                session
                    .exercises
                    .iter()
                    .enumerate()
                    .map(|(at, one)| (Some(at), &one.readings)),
            )
            .collect(),
        FactKind::MorningAfter(morning) => vec![(None, &morning.readings)],
        FactKind::Assessment(assessment) => vec![(None, &assessment.readings)],
        FactKind::Screening(screening) => vec![(None, screening)],
        _ => Vec::new(),
    }
}

fn readings_mut(fact: &mut Fact, exercise: Option<usize>) -> &mut Vec<Reading> {
    match (&mut fact.kind, exercise) {
        (FactKind::Session(session), Some(at)) => &mut session.exercises[at].readings,
        (FactKind::Session(session), None) => &mut session.readings,
        (FactKind::MorningAfter(morning), _) => &mut morning.readings,
        (FactKind::Assessment(assessment), _) => &mut assessment.readings,
        (FactKind::Screening(screening), _) => screening,
        _ => panic!("a fact without readings"),
    }
}

/// Every reported value of the affected side.
#[must_use]
pub fn values(records: &[Record]) -> Vec<Spot> {
    let mut spots = Vec::new();
    for (record, one) in records.iter().enumerate() {
        let Body::Fact(fact) = &one.body else {
            continue;
        };
        for (exercise, list) in readings(fact) {
            spots.extend((0..list.len()).map(|reading| Spot {
                record,
                exercise,
                reading,
            }));
        }
    }
    spots
}

/// The reading at a spot.
#[must_use]
pub fn at<'r>(records: &'r [Record], spot: &Spot) -> &'r Reading {
    let Body::Fact(fact) = &records[spot.record].body else {
        panic!("a fact")
    };
    let list = readings(fact)
        .into_iter()
        .find(|(exercise, _)| *exercise == spot.exercise);
    &list.unwrap().1[spot.reading]
}

/// The measure of a reading.
#[must_use]
pub fn measure_of<'p>(pack: &'p CheckedPack, reading: &Reading) -> &'p Measure {
    &pack.measures[pack.measure(&reading.measure).unwrap().at()]
}

/// The same records with another value there.
#[must_use]
pub fn with(records: &[Record], spot: &Spot, value: Value) -> Vec<Record> {
    let mut records = records.to_vec();
    let Body::Fact(fact) = &mut records[spot.record].body else {
        panic!("a fact")
    };
    readings_mut(fact, spot.exercise)[spot.reading].value = value;
    records
}

/// The same records with this as all that is said there of the measure, or with nothing said of it.
#[must_use]
pub fn with_only(records: &[Record], spot: &Spot, value: Option<Value>) -> Vec<Record> {
    let measure = at(records, spot).measure.clone();
    let mut records = records.to_vec();
    let Body::Fact(fact) = &mut records[spot.record].body else {
        panic!("a fact")
    };
    let list = readings_mut(fact, spot.exercise);
    list.retain(|reading| reading.measure != measure);
    list.extend(value.map(|value| Reading { measure, value }));
    records
}

/// A value that is worse; none where it is the worst already or has no direction.
#[must_use]
pub fn worse(dice: &mut Dice, measure: &Measure, value: &Value) -> Option<Value> {
    match (&measure.kind, value) {
        (MeasureKind::Choice { choices }, Value::Choice(choice)) => {
            let index = choices.iter().position(|other| other == choice)?;
            let last = choices.len() - 1;
            (index < last).then(|| Value::Choice(choices[dice.count(index + 1, last)].clone()))
        }
        (MeasureKind::Number { min, max, step, .. }, Value::Number(number)) => {
            let (low, high) = match measure.worse {
                Worse::Higher => (number.0 + step.0, max.0),
                Worse::Lower => (min.0, number.0 - step.0),
                Worse::Neither => return None,
            };
            if low > high {
                return None;
            }
            if dice.percent(10) {
                return Some(Value::CouldNot);
            }
            let steps = dice.number(0, (high - low) / step.0);
            Some(Value::Number(Milli(low + steps * step.0)))
        }
        _ => None,
    }
}

/// Every value that may stand for a missing one: both ends of a number, each choice.
#[must_use]
pub fn possible(measure: &Measure) -> Vec<Value> {
    match &measure.kind {
        MeasureKind::Number { min, max, .. } => vec![Value::Number(*min), Value::Number(*max)],
        MeasureKind::Choice { choices } => choices.iter().cloned().map(Value::Choice).collect(),
    }
}

fn session_of<'r>(records: &'r [Record], spot: &Spot) -> Option<(Date, u8, &'r Session)> {
    let Body::Fact(fact) = &records[spot.record].body else {
        return None;
    };
    let (date, number) = match &fact.kind {
        FactKind::Session(session) => return Some((fact.date, session.number, session)),
        FactKind::MorningAfter(morning) => (morning.session_date, morning.session_number),
        _ => return None,
    };
    sessions(records)
        .filter(|(on, session)| *on == date && number.is_none_or(|number| number == session.number))
        .max_by_key(|(_, session)| session.number)
        .map(|(on, session)| (on, session.number, session))
}

fn sessions(records: &[Record]) -> impl Iterator<Item = (Date, &Session)> {
    records.iter().filter_map(|record| match &record.body {
        Body::Fact(Fact {
            date,
            kind: FactKind::Session(session),
            ..
        }) => Some((*date, session)),
        _ => None,
    })
}

/// Exercises that were tried in a session.
fn tried(session: &Session) -> impl Iterator<Item = &Key> {
    session
        .exercises
        .iter()
        .filter(|report| report.done != Done::SkippedOtherwise)
        .map(|report| &report.exercise)
}

/// Whether a later session supersedes the value (of the same exercise, where it is an exercise's), or a later report of
/// a measure that a refer rule reads.
#[must_use]
pub fn is_superseded(pack: &CheckedPack, records: &[Record], spot: &Spot, as_of: Date) -> bool {
    let reading = at(records, spot);
    let measure = measure_of(pack, reading);
    if measures_of_refer_rules(pack).contains(&measure.name) {
        let date = |spot: &Spot| match &records[spot.record].body {
            Body::Fact(fact) => Some(fact.date),
            Body::Decision(_) => None,
        };
        return values(records).iter().any(|other| {
            (other.record > spot.record || date(other) > date(spot))
                && at(records, other).measure == reading.measure
        });
    }
    let Some((date, number, session)) = session_of(records, spot) else {
        return false;
    };
    let mut later = sessions(records)
        .filter(|(on, other)| *on <= as_of && (*on, other.number) > (date, number));
    match (spot.exercise, measure.carrier) {
        (Some(at), _) => {
            let own = &session.exercises[at].exercise;
            later.any(|(_, other)| tried(other).any(|one| one == own))
        }
        // The newest session whose morning after is due is what limits look at.
        (None, Carrier::MorningAfter) => later.any(|(on, _)| on < as_of),
        (None, _) => later.next().is_some(),
    }
}

/// Whether a correction has put something else in the fact's place.
#[must_use]
pub fn is_corrected(records: &[Record], spot: &Spot) -> bool {
    records.iter().any(|record| {
        matches!(&record.body, Body::Fact(Fact { kind: FactKind::Correction(correction), .. })
            if correction.of == records[spot.record].position)
    })
}

/// Every measure that a refer rule reads.
fn measures_of_refer_rules(pack: &CheckedPack) -> Vec<Key> {
    let mut found = Vec::new();
    for rule in &pack.rules {
        if matches!(rule.kind, RuleKind::Refer { .. }) {
            measures_of(pack, &rule.when, &mut found);
        }
    }
    found
}

fn measures_of(pack: &CheckedPack, criterion: &Criterion, found: &mut Vec<Key>) {
    match criterion {
        Criterion::All(parts) | Criterion::Any(parts) | Criterion::None(parts) => {
            parts.iter().for_each(|part| measures_of(pack, part, found));
        }
        Criterion::Sentence(at) => {
            let sentence = &pack.sentences[at.at()];
            let mut measures = Vec::new();
            if let Subject::Measure { measure, .. } = sentence.subject {
                measures.push(measure);
            }
            if let Relation::Compare(
                _,
                Amount::Offset(_, measure) | Amount::PercentOf(_, measure),
            ) = sentence.relation
            {
                measures.push(measure);
            }
            for measure in measures {
                found.push(pack.measures[measure.at()].name.clone());
                if let Origin::Defined(defined) = &pack.measures[measure.at()].origin {
                    defined
                        .features
                        .iter()
                        .for_each(|(_, one)| measures_of(pack, one, found));
                }
            }
        }
    }
}

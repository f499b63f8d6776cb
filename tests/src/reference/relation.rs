//! Values held against amounts: every verdict that follows as both vary.
//!
//! Leaves to others: which values (`super::sentence`).

use super::computed::work_out;
use super::context::{Context, read};
use super::possible::{Possible, Ratio, just, truth};
use super::sentence::{Leaf, quantifier, some, ways};
use super::series::{Item, Values, or_missing, own_value, series, session_values};
use super::view::{Morning, SessionAt};
use rungwise_engine::fact::Position;
use rungwise_pack::model::{
    Amount, Carrier, ChangeBy, Compare, Direction, ExerciseIx, Measure, MeasureIx, Over, Relation,
    Sentence, Subject,
};
use std::collections::BTreeSet;

/// Where an amount is read that depends on the fact the subject comes from.
#[derive(Clone, Copy, Debug)]
pub struct Beside<'i> {
    /// The fact.
    item: &'i Item,
    /// The exercise whose value it is; none: the session's worst.
    exercise: Option<ExerciseIx>,
}

/// What a sentence comes to at one fact.
#[must_use]
pub fn at_item(ctx: &Context<'_>, sentence: &Sentence, item: &Item) -> BTreeSet<Leaf> {
    let Subject::Measure { measure, over } = sentence.subject else {
        panic!("only measures have series")
    };
    let measure = ctx.measure(measure);
    match &item.fresh {
        Values::One(value) => {
            let exercise = match over {
                Over::Of(exercise) => Some(exercise),
                _ => ctx.exercise,
            };
            to_amounts(
                ctx,
                measure,
                value,
                &sentence.relation,
                Some(Beside { item, exercise }),
            )
        }
        Values::Each(each) => {
            let leaves: Vec<BTreeSet<Leaf>> = each
                .iter()
                .map(|(_, value)| {
                    let beside = Beside {
                        item,
                        exercise: None,
                    };
                    to_amounts(ctx, measure, value, &sentence.relation, Some(beside))
                })
                .collect();
            let k = quantifier(over, each.len()).expect("several values have a quantifier");
            ways(&leaves)
                .iter()
                .map(|way| some(way, k, each.len()))
                .collect()
        }
    }
}

/// A value held against a relation's amounts.
///
/// # Panics
///
/// For a change, which is held against a reference.
#[must_use]
pub fn to_amounts(
    ctx: &Context<'_>,
    measure: &Measure,
    value: &Possible,
    relation: &Relation,
    beside: Option<Beside<'_>>,
) -> BTreeSet<Leaf> {
    let of = |amount: &Amount| amount_of(ctx, measure, amount, beside);
    match relation {
        Relation::Compare(compare, amount) => match of(amount) {
            Some(amount) => compared(*compare, value, &amount),
            None => just(Leaf::NotFull),
        },
        Relation::Between(low, high) => match (of(low), of(high)) {
            (Some(low), Some(high)) => between(value, &low, &high),
            _ => just(Leaf::NotFull),
        },
        Relation::Is(choice) => chosen(value, |index| index == choice.0),
        Relation::IsNot(choice) => chosen(value, |index| index != choice.0),
        Relation::NoWorseThan(choice) => chosen(value, |index| index <= choice.0),
        Relation::Change(..) | Relation::Reached => panic!("a change needs a reference"),
    }
}

fn chosen(value: &Possible, right: impl Fn(u16) -> bool) -> BTreeSet<Leaf> {
    match value {
        Possible::Choices(choices) => choices.iter().map(|index| truth(right(*index))).collect(),
        _ => panic!("a choice was expected, not {value:?}"),
    }
}

fn compared(compare: Compare, value: &Possible, amount: &Possible) -> BTreeSet<Leaf> {
    if *value == Possible::Never {
        return just(truth(matches!(compare, Compare::AtLeast | Compare::Above)));
    }
    if *amount == Possible::Never {
        return just(truth(matches!(compare, Compare::AtMost | Compare::Below)));
    }
    let mut leaves = BTreeSet::new();
    for value in value.ends() {
        for amount in amount.ends() {
            leaves.insert(truth(match compare {
                Compare::AtMost => value <= amount,
                Compare::AtLeast => value >= amount,
                Compare::Below => value < amount,
                Compare::Above => value > amount,
            }));
        }
    }
    leaves
}

fn between(value: &Possible, low: &Possible, high: &Possible) -> BTreeSet<Leaf> {
    if *value == Possible::Never || *low == Possible::Never {
        return just(Leaf::NotMet);
    }
    let ([least, most], [lowest, low_at_most]) = (value.ends(), low.ends());
    let [high_at_least, highest] = high.ends();
    let mut leaves = BTreeSet::new();
    if least.max(lowest) <= most.min(highest) {
        leaves.insert(Leaf::Met);
    }
    if least < low_at_most || most > high_at_least {
        leaves.insert(Leaf::NotMet);
    }
    leaves
}

/// A change from a reference to a value, which are both whole steps of their measure.
#[must_use]
pub fn change(
    direction: Direction,
    by: ChangeBy,
    now: &Possible,
    reference: &Possible,
    step: Ratio,
) -> BTreeSet<Leaf> {
    let mut leaves = BTreeSet::new();
    // Next to a reference of nothing, which decides nothing, the least one above it decides most.
    let [least, most] = reference.ends();
    let above_nothing = (least.is_zero() && step <= most).then_some(step);
    for now in now.ends() {
        for reference in [least, most].into_iter().chain(above_nothing) {
            let moved = match direction {
                Direction::Up => now.minus(reference),
                Direction::Down => reference.minus(now),
            };
            leaves.insert(match by {
                ChangeBy::Units(units) => truth(moved >= Ratio::milli(units)),
                ChangeBy::Percent(_) if reference.is_zero() => Leaf::NotFull,
                ChangeBy::Percent(percent) => truth(moved >= reference.size().percent(percent)),
            });
        }
    }
    leaves
}

/// The records that a relation's amounts look at beside the subject's own.
#[must_use]
pub fn amounts_read(ctx: &Context<'_>, subject: &Measure, relation: &Relation) -> Vec<Position> {
    let amounts: Vec<&Amount> = match relation {
        Relation::Compare(_, amount) => vec![amount],
        Relation::Between(low, high) => vec![low, high],
        _ => Vec::new(),
    };
    amounts
        .into_iter()
        .filter_map(|amount| match amount {
            Amount::Offset(_, measure) | Amount::PercentOf(_, measure) => Some(*measure),
            Amount::Fixed(_) | Amount::PercentOfOtherSide(_) => None,
        })
        .flat_map(|measure| {
            let known = ctx.measure(measure);
            if known.carrier == Carrier::Nothing {
                work_out(ctx, known, ctx.exercise).read
            } else if of_session(known.carrier) && of_session(subject.carrier) {
                Vec::new()
            } else {
                series(ctx, measure, Over::Plain)
                    .last()
                    .and_then(|item| item.known)
                    .into_iter()
                    .collect()
            }
        })
        .collect()
}

fn amount_of(
    ctx: &Context<'_>,
    subject: &Measure,
    amount: &Amount,
    beside: Option<Beside<'_>>,
) -> Option<Possible> {
    let scaled = |value: Possible, by: &dyn Fn(Ratio) -> Ratio| match value {
        Possible::Numbers(low, high) => Possible::Numbers(by(low), by(high)),
        other => other,
    };
    match amount {
        Amount::Fixed(number) => Some(Possible::number(Ratio::milli(*number))),
        Amount::Offset(by, measure) => {
            let value = base(ctx, subject, *measure, beside)?;
            Some(scaled(value, &|number| number.plus(Ratio::milli(*by))))
        }
        Amount::PercentOf(percent, measure) => {
            let value = base(ctx, subject, *measure, beside)?;
            Some(scaled(value, &|number| number.percent(*percent)))
        }
        Amount::PercentOfOtherSide(percent) => {
            let other = beside.and_then(|beside| beside.item.other_side.clone());
            let value = other.unwrap_or_else(|| Possible::anything(subject));
            Some(scaled(value, &|number| number.percent(*percent)))
        }
    }
}

const fn of_session(carrier: Carrier) -> bool {
    matches!(
        carrier,
        Carrier::Session | Carrier::Exercise | Carrier::MorningAfter
    )
}

/// The measure that an amount refers to: of the same session where both belong to sessions, else its latest.
fn base(
    ctx: &Context<'_>,
    subject: &Measure,
    measure: MeasureIx,
    beside: Option<Beside<'_>>,
) -> Option<Possible> {
    let known = ctx.measure(measure);
    if let Some(beside) = beside
        && let Some(at) = beside.item.session
        && of_session(subject.carrier)
        && of_session(known.carrier)
    {
        return same_session(ctx, known, &ctx.sessions[at], beside.exercise);
    }
    if known.carrier == Carrier::Nothing {
        return work_out(ctx, known, ctx.exercise).value;
    }
    match series(ctx, measure, Over::Plain).pop() {
        Some(Item {
            fresh: Values::One(value),
            ..
        }) => Some(value),
        Some(_) => panic!("a plain series has one value a fact"),
        None if of_session(known.carrier) => None,
        None => Some(Possible::anything(known)),
    }
}

fn same_session(
    ctx: &Context<'_>,
    measure: &Measure,
    session: &SessionAt,
    exercise: Option<ExerciseIx>,
) -> Option<Possible> {
    let (date, value) = match measure.carrier {
        Carrier::Session => (session.date, read(measure, &session.session.readings)),
        Carrier::MorningAfter => match &session.morning {
            Morning::NotDue => return None,
            Morning::Silent => (session.date, None),
            Morning::Told { date, readings, .. } => (*date, read(measure, readings)),
        },
        _ => match exercise {
            Some(exercise) => (session.date, own_value(ctx, measure, session, exercise)),
            None => (
                session.date,
                session_values(ctx, measure, session)
                    .into_iter()
                    .map(|(_, value)| value)
                    .reduce(|a, b| a.worse(&b, measure.worse)),
            ),
        },
    };
    // Where no exercise was tried there is none that should carry it.
    let value = if measure.carrier == Carrier::Exercise {
        value
    } else {
        or_missing(measure, value)
    };
    let stale = ctx.is_stale(measure, date);
    value.map(|value| {
        if stale {
            Possible::anything(measure)
        } else {
            value
        }
    })
}

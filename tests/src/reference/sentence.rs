//! One sentence read over the values it looks at: every verdict it could have as missing values vary.
//!
//! Leaves to others: relations to amounts (`super::relation`), combining sentences (`super::rule`).

use super::computed::work_out;
use super::context::Context;
use super::dose::effective_rows;
use super::possible::{Possible, Ratio, just, truth};
use super::relation::{amounts_read, at_item, change, to_amounts};
use super::series::{Item, Values, series};
use super::view::plus_days;
use jiff::civil::Date;
use rungwise_engine::decision::{Place, Verdict};
use rungwise_engine::fact::Position;
use rungwise_pack::model::{
    Carrier, ExerciseIx, Measure, MeasureIx, MeasureKind, Over, Polarity, Reference, Relation,
    RowValue, Sentence, Span, Stat, Subject, Which, Window,
};
use rungwise_pack::quantity::Variable;
use std::collections::BTreeSet;

/// What a sentence comes to for one way that the missing values may be.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Leaf {
    /// Not met.
    NotMet,
    /// Fewer values than it asks for, and those there are do not decide it.
    NotFull,
    /// Met.
    Met,
}

/// A sentence read.
#[derive(Clone, Debug)]
pub struct Reading {
    /// Everything that it could come to. Never empty.
    pub possible: BTreeSet<Leaf>,
    /// Whether its values were cleared, so that it counts as not met under any sign.
    pub cleared: bool,
    /// The records that it looked at.
    pub read: BTreeSet<Position>,
}

impl Reading {
    fn of(possible: BTreeSet<Leaf>, read: impl IntoIterator<Item = Position>) -> Self {
        Self {
            possible,
            cleared: false,
            read: read.into_iter().collect(),
        }
    }

    /// There is nothing to read: not yet full, or cleared.
    fn nothing(ctx: &Context<'_>) -> Self {
        Self {
            cleared: ctx.cleared,
            ..Self::of(just(Leaf::NotFull), [])
        }
    }

    /// The verdict as a finding says it.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.cleared {
            return Verdict::NotMet;
        }
        let mut all = self.possible.iter();
        match (all.next(), all.next()) {
            (Some(Leaf::Met), None) => Verdict::Met,
            (Some(Leaf::NotMet), None) => Verdict::NotMet,
            (Some(Leaf::NotFull), None) => Verdict::NotYetFull,
            _ => Verdict::Unknown,
        }
    }
}

/// Reads a sentence that stands under an even (`negated` false) or odd number of `none`.
#[must_use]
pub fn read_sentence(ctx: &Context<'_>, sentence: &Sentence, negated: bool) -> Reading {
    let (measure, over) = match &sentence.subject {
        Subject::Measure { measure, over } => (*measure, *over),
        Subject::Reached {
            which,
            variable,
            value,
        } => {
            return Reading::of(just(truth(has_reached(ctx, *which, *variable, value))), []);
        }
    };
    if ctx.measure(measure).carrier == Carrier::Nothing {
        let own = match over {
            Over::Of(exercise) => Some(exercise),
            _ => ctx.exercise,
        };
        let worked = work_out(ctx, ctx.measure(measure), own);
        return match worked.value {
            Some(value) => {
                let of_facts = worked.of_facts;
                let mut read = Reading::of(
                    to_amounts(ctx, ctx.measure(measure), &value, &sentence.relation, None),
                    worked.read,
                );
                read.cleared = ctx.cleared && of_facts && read.read.is_empty();
                read
            }
            None if worked.read.is_empty() => Reading::nothing(ctx),
            None => Reading::of(just(Leaf::NotFull), worked.read),
        };
    }
    let items = series(ctx, measure, over);
    let mut read = windowed(ctx, sentence, negated, measure, &items);
    read.read
        .extend(amounts_read(ctx, ctx.measure(measure), &sentence.relation));
    read.cleared = ctx.cleared && read.read.is_empty();
    read
}

fn windowed(
    ctx: &Context<'_>,
    sentence: &Sentence,
    negated: bool,
    measure: MeasureIx,
    items: &[Item],
) -> Reading {
    match sentence.window {
        Window::Latest => latest(ctx, sentence, measure, items),
        Window::LastSession => last_sessions(ctx, sentence, items, 1, &each),
        Window::EachOfLast(n) => last_sessions(ctx, sentence, items, n, &each),
        Window::AnyOfLast(n) => last_sessions(ctx, sentence, items, n, &any),
        Window::SessionsOfLast { k, n } => last_sessions(ctx, sentence, items, n, &|leaves, n| {
            some(leaves, usize::from(k), n)
        }),
        Window::DaysOfLast { k, n } => both_ends(ctx, negated, &|end| {
            days_of_last(ctx, sentence, items, usize::from(k), i64::from(n), end)
        }),
        Window::Over(stat, span) => both_ends(ctx, negated, &|end| {
            statistic(ctx, sentence, measure, items, stat, span, end)
        }),
    }
}

fn latest(ctx: &Context<'_>, sentence: &Sentence, measure: MeasureIx, items: &[Item]) -> Reading {
    let known = ctx.measure(measure);
    if let Relation::Change(direction, by, reference) = &sentence.relation {
        let Some((now, before)) = items.split_last() else {
            return no_item(ctx, sentence, known);
        };
        let referred = references(ctx, now, before, *reference);
        let best = |best: Possible, value: Possible| best.better(&value, known.worse);
        let values = referred.iter().map(|item| one(&item.kept));
        let leaves = match values.reduce(best) {
            Some(reference) => change(
                *direction,
                *by,
                &one(&now.fresh),
                &reference,
                step_of(known),
            ),
            None => just(Leaf::NotFull),
        };
        let read = referred.iter().filter_map(|item| item.known);
        return Reading::of(leaves, read.chain(now.known));
    }
    match items.last() {
        Some(item) => Reading::of(at_item(ctx, sentence, item), item.known),
        None => no_item(ctx, sentence, known),
    }
}

fn step_of(measure: &Measure) -> Ratio {
    match &measure.kind {
        MeasureKind::Number { step, .. } => Ratio::milli(*step),
        MeasureKind::Choice { .. } => Ratio::whole(1),
    }
}

/// Nobody was ever assessed or screened: the value is missing. Nobody ever did a session: not yet full.
fn no_item(ctx: &Context<'_>, sentence: &Sentence, measure: &Measure) -> Reading {
    match measure.carrier {
        Carrier::Assessment | Carrier::Screening
            if !matches!(sentence.relation, Relation::Change(..)) =>
        {
            let missing = Possible::anything(measure);
            Reading::of(
                to_amounts(ctx, measure, &missing, &sentence.relation, None),
                [],
            )
        }
        _ => Reading::nothing(ctx),
    }
}

fn one(values: &Values) -> Possible {
    match values {
        Values::One(value) => value.clone(),
        Values::Each(_) => panic!("a quantifier needs a plain relation"),
    }
}

/// The facts that a change is held against: one, or all of those of which the best counts.
fn references<'i>(
    ctx: &Context<'_>,
    now: &Item,
    before: &'i [Item],
    reference: Reference,
) -> Vec<&'i Item> {
    let baseline = ctx
        .view
        .directives()
        .into_iter()
        .filter(|(_, directive)| {
            matches!(directive.order, rungwise_engine::fact::Order::NewBaseline)
        })
        .map(|(entry, _)| entry.fact.date)
        .max();
    let since = |item: &&Item| baseline.is_none_or(|date| item.date >= date);
    match reference {
        Reference::FirstAssessment => before.iter().find(since).into_iter().collect(),
        Reference::AssessmentBefore => before.last().into_iter().collect(),
        Reference::BestAssessment => before.iter().filter(since).collect(),
        Reference::PhaseEntry => {
            let entered = ctx.state.stay.map(|(_, entered)| entered);
            let entered = entered.filter(|entered| now.date > *entered);
            entered
                .and_then(|entered| before.iter().rfind(|item| item.date <= entered))
                .into_iter()
                .collect()
        }
        Reference::DaysBefore(_) => panic!("needs a window of days"),
    }
}

/// A way to sum up the verdicts of the sessions in a window of so many.
type Sum<'s> = &'s dyn Fn(&[Leaf], usize) -> Leaf;

fn last_sessions(
    ctx: &Context<'_>,
    sentence: &Sentence,
    items: &[Item],
    n: u16,
    sum: Sum<'_>,
) -> Reading {
    let n = usize::from(n);
    let window = &items[items.len().saturating_sub(n)..];
    let sessions: Vec<BTreeSet<Leaf>> = window
        .iter()
        .map(|item| at_item(ctx, sentence, item))
        .collect();
    let possible = ways(&sessions).iter().map(|way| sum(way, n)).collect();
    Reading::of(possible, window.iter().filter_map(|item| item.known))
}

/// Every way to pick one of each.
#[must_use]
pub fn ways(sets: &[BTreeSet<Leaf>]) -> Vec<Vec<Leaf>> {
    let mut ways = vec![Vec::new()];
    for set in sets {
        ways = ways
            .into_iter()
            .flat_map(|way| {
                set.iter().map(move |leaf| {
                    let mut longer = way.clone();
                    longer.push(*leaf);
                    longer
                })
            })
            .collect();
    }
    ways
}

fn count(leaves: &[Leaf], wanted: Leaf) -> usize {
    leaves.iter().filter(|leaf| **leaf == wanted).count()
}

fn each(leaves: &[Leaf], n: usize) -> Leaf {
    some(leaves, n, n)
}

fn any(leaves: &[Leaf], n: usize) -> Leaf {
    some(leaves, 1, n)
}

/// At least `k` of `n`.
#[must_use]
pub fn some(leaves: &[Leaf], k: usize, n: usize) -> Leaf {
    if count(leaves, Leaf::Met) >= k {
        Leaf::Met
    } else if count(leaves, Leaf::NotMet) + k > n {
        Leaf::NotMet
    } else {
        Leaf::NotFull
    }
}

/// Reads a window of days that ends today and one that ends on the day of the last session; the more cautious counts.
fn both_ends(ctx: &Context<'_>, negated: bool, at: &dyn Fn(Date) -> Reading) -> Reading {
    let today = at(ctx.view.today);
    let Some(last) = ctx
        .sessions
        .last()
        .filter(|last| last.date != ctx.view.today)
    else {
        return today;
    };
    let then = at(last.date);
    // The more met, the bolder an upward sentence and the more cautious a cautious one; the other way round under a
    // negation.
    let lower_counts = (ctx.polarity == Polarity::Upward) != negated;
    let mut possible = BTreeSet::new();
    for a in &today.possible {
        for b in &then.possible {
            possible.insert(if lower_counts { *a.min(b) } else { *a.max(b) });
        }
    }
    Reading {
        possible,
        cleared: today.cleared && then.cleared,
        read: today.read.union(&then.read).copied().collect(),
    }
}

fn within(items: &[Item], after: Date, end: Date) -> Vec<&Item> {
    items
        .iter()
        .filter(|item| after < item.date && item.date <= end)
        .collect()
}

fn days_of_last(
    ctx: &Context<'_>,
    sentence: &Sentence,
    items: &[Item],
    k: usize,
    n: i64,
    end: Date,
) -> Reading {
    let mut days: Vec<BTreeSet<Leaf>> = Vec::new();
    let window = within(items, plus_days(end, -n), end);
    for back in 0..n {
        let day = plus_days(end, -back);
        let values: Vec<BTreeSet<Leaf>> = window
            .iter()
            .filter(|item| item.date == day)
            .map(|item| at_item(ctx, sentence, item))
            .collect();
        let told = values.len();
        days.push(match told {
            0 => just(Leaf::NotMet),
            _ => ways(&values).iter().map(|way| any(way, told)).collect(),
        });
    }
    let possible = ways(&days)
        .iter()
        .map(|way| some(way, k, way.len()))
        .collect();
    Reading::of(possible, window.iter().filter_map(|item| item.known))
}

fn statistic(
    ctx: &Context<'_>,
    sentence: &Sentence,
    measure: MeasureIx,
    items: &[Item],
    stat: Stat,
    span: Span,
    end: Date,
) -> Reading {
    let known = ctx.measure(measure);
    let after = match (span, ctx.state.stay) {
        (Span::Days(days), _) => plus_days(end, -i64::from(days)),
        (Span::SincePhase, Some((_, entered))) => plus_days(entered, -1),
        (Span::SincePhase, None) => return Reading::nothing(ctx),
    };
    let window = within(items, after, end);
    let mut read: Vec<Position> = window.iter().filter_map(|item| item.known).collect();
    let now: Vec<Possible> = window.iter().map(|item| one(&item.fresh)).collect();
    let Some(now) = summed(known, stat, &now) else {
        return Reading::of(just(Leaf::NotFull), read);
    };
    let possible = match &sentence.relation {
        Relation::Change(direction, by, Reference::DaysBefore(days)) => {
            let before = within(items, plus_days(after, -i64::from(*days)), after);
            if !window.is_empty() {
                read.extend(before.iter().filter_map(|item| item.known));
            }
            let before: Vec<Possible> = before.iter().map(|item| one(&item.kept)).collect();
            match summed(known, stat, &before) {
                Some(before) if !window.is_empty() => {
                    change(*direction, *by, &now, &before, step_of(known))
                }
                _ => just(Leaf::NotFull),
            }
        }
        relation => to_amounts(ctx, known, &now, relation, None),
    };
    Reading::of(possible, read)
}

/// A statistic of values; none where there is none of which it could be one.
fn summed(measure: &Measure, stat: Stat, values: &[Possible]) -> Option<Possible> {
    let total = || {
        let zero = Possible::number(Ratio::whole(0));
        values.iter().fold(zero, |sum, value| {
            let ([a, b], [c, d]) = (sum.ends(), value.ends());
            Possible::Numbers(a.plus(c), b.plus(d))
        })
    };
    match stat {
        Stat::Total => Some(total()),
        Stat::Average if values.is_empty() => None,
        Stat::Average => {
            let [low, high] = total().ends();
            Some(Possible::Numbers(
                low.over(values.len()),
                high.over(values.len()),
            ))
        }
        Stat::Worst => values
            .iter()
            .cloned()
            .reduce(|a, b| a.worse(&b, measure.worse)),
        Stat::Best => values
            .iter()
            .cloned()
            .reduce(|a, b| a.better(&b, measure.worse)),
    }
}

/// Whether exercises stand at or past a value.
fn has_reached(ctx: &Context<'_>, which: Which, variable: Variable, value: &RowValue) -> bool {
    let pack = ctx.pack();
    let place = |exercise: ExerciseIx| {
        let key = &pack.exercises[exercise.at()].key;
        ctx.state
            .places
            .iter()
            .find(|place| place.exercise == *key)
            .cloned()
            .or_else(|| {
                let withdrawn = ctx.state.withdrawals.iter().any(|one| one.exercise == *key);
                let last = ctx
                    .state
                    .last_places
                    .iter()
                    .find(|last| last.exercise == *key)?;
                (!withdrawn).then(|| Place {
                    line: pack.lines[pack.exercises[exercise.at()].line.at()]
                        .key
                        .clone(),
                    exercise: last.exercise.clone(),
                    rung: last.rung.clone(),
                    relief: last.relief.clone(),
                    set_anew: rungwise_engine::fact::DecisionNo(0),
                    setting: last.setting.clone(),
                })
            })
    };
    let reached = |exercise: ExerciseIx, place: &Place| {
        let known = &pack.exercises[exercise.at()];
        let Some(row) = known.rows.iter().position(|row| row.variable == variable) else {
            return false;
        };
        let now = effective_rows(known, place)[row];
        if known.band.is_some() && variable == Variable::Load {
            return known.rows[row].values[now].value >= *value && super::band::load_counts(place);
        }
        let Some(wanted) = known.rows[row]
            .values
            .iter()
            .position(|step| step.value == *value)
        else {
            return false;
        };
        now >= wanted
    };
    match which {
        Which::One(exercise) => place(exercise).is_some_and(|place| reached(exercise, &place)),
        Which::AtLeast(k) => {
            let count = ctx
                .state
                .places
                .iter()
                .filter(|place| {
                    pack.exercise(&place.exercise)
                        .is_some_and(|own| reached(own, place))
                })
                .count();
            count >= usize::from(k)
        }
    }
}

/// The quantifier of a subject, where it has one.
#[must_use]
pub fn quantifier(over: Over, exercises: usize) -> Option<usize> {
    match over {
        Over::AnyExercise => Some(1),
        Over::EveryExercise => Some(exercises),
        Over::AtLeastExercises(k) => Some(usize::from(k)),
        Over::Plain | Over::Of(_) => None,
    }
}

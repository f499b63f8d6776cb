//! Volumes: what the sets of an exercise come to, and the last week against the week before.
//!
//! Leaves to others: series of them (`super::series`).

use super::computed::Worked;
use super::context::Context;
use super::dose::effective_rows;
use super::possible::{Possible, Ratio};
use super::series::{Values, series};
use super::view::{Decided, SessionAt, days_between};
use rungwise_engine::band::Hold;
use rungwise_engine::decision::{Place, State};
use rungwise_engine::fact::{Done, ExerciseReport, FactKind, Order, Position};
use rungwise_pack::model::{
    Combined, Exercise, ExerciseIx, Measure, MeasureIx, MeasureKind, Origin, Over, RowStep,
    RowValue,
};
use rungwise_pack::quantity::{Milli, Variable};

/// The recipe of a volume; none for other measures.
#[must_use]
pub fn recipe(measure: &Measure) -> Option<&Combined> {
    match &measure.origin {
        Origin::Combined(one @ (Combined::VolumeLoad | Combined::TimeUnderTension)) => Some(one),
        _ => None,
    }
}

fn steps(exercise: &Exercise, variable: Variable) -> Option<&[RowStep]> {
    let row = exercise.rows.iter().find(|row| row.variable == variable)?;
    Some(&row.values)
}

/// Whether an exercise has this volume.
#[must_use]
pub fn has(exercise: &Exercise, measure: &Measure) -> bool {
    let MeasureKind::Number { unit, .. } = &measure.kind else {
        panic!("a volume is a number")
    };
    match recipe(measure) {
        Some(Combined::VolumeLoad) => {
            let row = exercise
                .rows
                .iter()
                .find(|row| row.variable == Variable::Load);
            row.is_some_and(|row| {
                let numbers = row.values.iter().all(|step| match step.value {
                    RowValue::Number(_) => true,
                    RowValue::Label(_) => false,
                });
                match &*unit.code {
                    "N.m" => row.is_sequence,
                    "N" => numbers && !row.is_sequence,
                    _ => false,
                }
            })
        }
        _ => {
            let tempo = steps(exercise, Variable::Tempo);
            let told = tempo.is_none_or(|tempo| tempo.iter().all(|step| step.seconds.is_some()));
            told && (tempo.is_some() || steps(exercise, Variable::HoldTime).is_some())
        }
    }
}

/// What an exercise that was done or skipped for pain comes to. The exercise has this volume.
#[must_use]
pub fn come_to(
    ctx: &Context<'_>,
    measure: &Measure,
    session: &SessionAt,
    exercise: ExerciseIx,
) -> Possible {
    let [_, most] = Possible::anything(measure).ends();
    let tried = session.tried(ctx.pack(), exercise);
    let known = tried
        .filter(|report| report.done == Done::Done && !report.sets.is_empty())
        .and_then(|report| sum(ctx, measure, session, exercise, report));
    known.map_or_else(
        || Possible::anything(measure),
        |sum| Possible::number(sum.min(most)),
    )
}

fn sum(
    ctx: &Context<'_>,
    measure: &Measure,
    session: &SessionAt,
    exercise: ExerciseIx,
    report: &ExerciseReport,
) -> Option<Ratio> {
    let own = &ctx.pack().exercises[exercise.at()];
    let factor = |variable| -> Option<Ratio> {
        let Some(values) = steps(own, variable) else {
            return Some(Ratio::whole(0));
        };
        if is_directed(ctx, session, own, variable) {
            return None;
        }
        let followed = ctx.view.decided(session.followed?)?;
        let place = place(ctx, session, exercise)?;
        let by_range = variable == Variable::Load && own.band.is_some();
        if by_range && is_narrowed(ctx, session, exercise, &place, followed) {
            return None;
        }
        if left(ctx, session, followed).discharged {
            let kept = own.maintenance.iter().flat_map(|one| &one.dose);
            let mut kept = kept.map(|(of, _)| *of);
            if kept.any(|of| of == variable || (by_range && of == Variable::Range)) {
                return None;
            }
        }
        if variable == Variable::Load && own.band.is_some() {
            return match place.setting?.hold {
                Hold::Set(held) => Some(Ratio::milli(Milli(held.torque_mnm))),
                Hold::Unmeasured | Hold::None(_) => None,
            };
        }
        let row = own.rows.iter().position(|row| row.variable == variable)?;
        let step = &values[effective_rows(own, &place)[row]];
        match (&step.value, variable) {
            (RowValue::Number(load), Variable::Load) => Some(Ratio::milli(*load)),
            _ => step.seconds.map(Ratio::milli),
        }
    };
    let weighed = recipe(measure) == Some(&Combined::VolumeLoad);
    let each = if weighed {
        factor(Variable::Load)?
    } else {
        factor(Variable::Tempo)?
    };
    let mut total = Ratio::whole(0);
    for set in &report.sets {
        let times = match steps(own, Variable::Reps) {
            Some(_) => i64::from(set.reps?),
            None => 1,
        };
        let hold = match steps(own, Variable::HoldTime) {
            Some(_) if !weighed => i64::from(set.hold_s?),
            _ => 0,
        };
        total = total.plus(each.plus(Ratio::whole(hold)).by(Ratio::whole(times)));
    }
    Some(total)
}

/// What the decision that a session followed left in force.
fn left<'a>(ctx: &Context<'a>, session: &SessionAt, followed: Decided<'a>) -> &'a State {
    let accepted = ctx
        .view
        .was_accepted(followed, session.date, Position(u64::MAX));
    match &followed.decision.if_accepted {
        Some(state) if accepted => state,
        _ => &followed.decision.state,
    }
}

/// The exercise's place there.
fn place(ctx: &Context<'_>, session: &SessionAt, exercise: ExerciseIx) -> Option<Place> {
    let followed = ctx.view.decided(session.followed?)?;
    let key = &ctx.pack().exercises[exercise.at()].key;
    left(ctx, session, followed)
        .places
        .iter()
        .find(|place| place.exercise == *key)
        .cloned()
}

/// Whether the range that is comfortable may have kept an exercise from its place's range on a session's day.
fn is_narrowed(
    ctx: &Context<'_>,
    session: &SessionAt,
    exercise: ExerciseIx,
    place: &Place,
    followed: Decided<'_>,
) -> bool {
    let own = &ctx.pack().exercises[exercise.at()];
    let row = own
        .rows
        .iter()
        .position(|row| row.variable == Variable::Range);
    let (Some(measure), Some(row)) = (own.comfortable, row) else {
        return false;
    };
    let at = effective_rows(own, place)[row];
    let RowValue::Number(range) = own.rows[row].values[at].value else {
        return false;
    };
    let everything = Context::cautious(ctx.view, ctx.state);
    let told: Vec<(bool, Ratio)> = series(&everything, measure, Over::Of(exercise))
        .into_iter()
        .filter(|item| item.date <= session.date)
        .filter_map(|item| {
            let was_seen = item.date <= followed.decision.as_of
                && item.known.is_some_and(|known| known < followed.position);
            match item.kept {
                Values::One(value) if value.is_known() => Some((was_seen, value.ends()[0])),
                _ => None,
            }
        })
        .collect();
    let first = told
        .iter()
        .rposition(|(was_seen, _)| *was_seen)
        .unwrap_or(0);
    told[first..]
        .iter()
        .any(|(_, comfortable)| *comfortable < Ratio::milli(range))
}

/// Whether a directive makes it uncertain what an exercise was done with in a session.
fn is_directed(
    ctx: &Context<'_>,
    session: &SessionAt,
    exercise: &Exercise,
    variable: Variable,
) -> bool {
    let followed = session.followed.map(|number| ctx.view.position_of(number));
    let touches = |of: Variable| {
        of == variable
            || (of == Variable::Range && variable == Variable::Load && exercise.band.is_some())
    };
    let directives: Vec<_> = ctx
        .view
        .entries
        .iter()
        .filter_map(|entry| match &entry.fact.kind {
            FactKind::Directive(directive) if entry.fact.date <= session.date => {
                Some((entry, directive))
            }
            _ => None,
        })
        .collect();
    directives.iter().any(|(entry, directive)| {
        let bounds = match &directive.order {
            Order::Place { .. } => return followed.is_some_and(|at| entry.position > at),
            Order::Cap {
                exercise: of,
                variable,
                ..
            } => touches(*variable) && of.as_ref().is_none_or(|of| *of == exercise.key),
            Order::SetDose { exercise: of, dose } => {
                *of == exercise.key && dose.iter().any(|(variable, _)| touches(*variable))
            }
            _ => false,
        };
        let ended = directive.until.is_some_and(|until| until < session.date);
        let withdrawn = directives.iter().any(|(other, one)| {
            matches!(one.order, Order::Withdraw { directive } if directive == entry.position)
                && other.fact.date < session.date
        });
        bounds && !ended && !withdrawn
    })
}

/// A week-on-week change, of an exercise or the highest of those in force.
#[must_use]
pub fn weekly(
    ctx: &Context<'_>,
    measure: &Measure,
    of: MeasureIx,
    in_total: bool,
    own: Option<ExerciseIx>,
) -> Worked {
    let asked: Vec<ExerciseIx> = match own {
        Some(own) => vec![own],
        None => {
            let places = ctx.state.places.iter();
            let known = places.filter_map(|place| ctx.pack().exercise(&place.exercise));
            known.collect()
        }
    };
    let mut read = Vec::new();
    let mut values = Vec::new();
    for exercise in asked {
        let (value, of_sessions) = of_one(ctx, measure, of, in_total, exercise);
        read.extend(of_sessions);
        values.extend(value);
    }
    let [_, most] = Possible::anything(measure).ends();
    let open = values.iter().any(|value| !value.is_known());
    let known = values.iter().filter(|value| value.is_known());
    let highest = known.map(|value| value.ends()[0]).max();
    let value = match highest {
        Some(highest) if open => Some(Possible::Numbers(highest, most)),
        Some(highest) => Some(Possible::number(highest)),
        None => open.then(|| Possible::anything(measure)),
    };
    Worked {
        value,
        read,
        of_facts: true,
    }
}

fn of_one(
    ctx: &Context<'_>,
    measure: &Measure,
    of: MeasureIx,
    in_total: bool,
    exercise: ExerciseIx,
) -> (Option<Possible>, Vec<Position>) {
    let volume = ctx.measure(of);
    if !has(&ctx.pack().exercises[exercise.at()], volume) {
        return (None, Vec::new());
    }
    let tried: Vec<&SessionAt> = ctx
        .sessions
        .iter()
        .filter(|session| session.tried(ctx.pack(), exercise).is_some())
        .collect();
    let Some(newest) = tried.last().map(|session| session.date) else {
        return (None, Vec::new());
    };
    let of_days = |from: i64, to: i64| -> Vec<&SessionAt> {
        let age = |session: &SessionAt| days_between(session.date, newest);
        let within = |session: &&&SessionAt| (from..to).contains(&age(session));
        tried.iter().filter(within).copied().collect()
    };
    let weeks = [of_days(0, 7), of_days(7, 14)];
    let read = weeks
        .iter()
        .flatten()
        .map(|session| session.known)
        .collect();
    let whole = tried
        .iter()
        .any(|session| days_between(session.date, newest) > 12);
    if weeks.iter().any(Vec::is_empty) || (in_total && !whole) {
        return (None, read);
    }
    let mut volumes = weeks.clone().map(|week| -> Vec<Possible> {
        week.into_iter()
            .map(|session| come_to(ctx, volume, session, exercise))
            .collect()
    });
    for (session, volume) in weeks[1].iter().zip(&mut volumes[1]) {
        let report = session.tried(ctx.pack(), exercise);
        if report.is_some_and(|report| report.done == Done::SkippedForPain) {
            *volume = Possible::number(Ratio::whole(0));
        }
    }
    let anything = Possible::anything(measure);
    if volumes.iter().flatten().any(|one| !one.is_known()) {
        return (Some(anything), read);
    }
    let [last, before] = volumes.map(|week| {
        let zero = Ratio::whole(0);
        let total = week.iter().fold(zero, |sum, one| sum.plus(one.ends()[0]));
        if in_total {
            total
        } else {
            total.over(week.len())
        }
    });
    let [_, most] = anything.ends();
    if before.is_zero() {
        let risen = !last.is_zero();
        return (risen.then(|| Possible::number(most)), read);
    }
    let hundred = Ratio::whole(100);
    let change = last.by(hundred).per(before).minus(hundred);
    (Some(Possible::number(change.min(most))), read)
}

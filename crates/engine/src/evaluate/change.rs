//! Change since a reference.

use super::possible::Possible;
use super::read::{Context, Read, Reader};
use super::sentence::About;
use super::value::{self, Range, Value};
use super::view::{Scope, days_between};
use crate::fact::{Order, Position};
use jiff::civil::Date;
use rungwise_pack::model::{ChangeBy, Compare, Direction, Reference, Window};
use rungwise_pack::quantity::Milli;

impl<'a> Reader<'a> {
    /// What a sentence about a change may be, its day window ending with `end`.
    pub(crate) fn change(
        &self,
        about: &About<'a>,
        window: Window,
        direction: Direction,
        by: ChangeBy,
        reference: Reference,
        end: Date,
    ) -> Possible {
        let now = match window {
            Window::Latest | Window::LastSession => {
                let (read, context) = self.latest(about.ix, about.own);
                read.value().map(|value| (value, context.position()))
            }
            Window::Over(stat, span) => {
                let days = self.days_of(span, end);
                match days.and_then(|days| self.statistic(about, stat, days)) {
                    Some(Ok(value)) => Some((value, None)),
                    Some(Err(instead)) => return instead,
                    None => None,
                }
            }
            _ => return Possible::ANY,
        };
        let Some((now, at)) = now else {
            return Possible::NOT_FULL;
        };
        let then = match self.reference(about, window, reference, end, at) {
            Some(Ok(then)) => then,
            Some(Err(instead)) => return instead,
            None => return Possible::NOT_FULL,
        };
        let (Value::Number(now), Value::Number(then)) = (now, then) else {
            return Possible::ANY;
        };
        let (more, less) = match direction {
            Direction::Up => (now, then),
            Direction::Down => (then, now),
        };
        let found = match by {
            ChangeBy::Units(Milli(units)) => more.minus(&less).map(|moved| {
                let wanted = Range::one(units);
                self.tap.compared(&moved, &wanted);
                value::compare(Compare::AtLeast, &moved, &wanted)
            }),
            ChangeBy::Percent(Milli(percent)) => {
                by_percent(direction, &now, &then, i128::from(percent))
            }
        };
        found.unwrap_or(Possible::ANY)
    }

    /// The reference's value: none where there is none, or where it is the fact at `latest` itself.
    fn reference(
        &self,
        about: &About<'a>,
        window: Window,
        reference: Reference,
        end: Date,
        latest: Option<Position>,
    ) -> Option<Result<Value, Possible>> {
        // References never go stale.
        let reader = Reader {
            scope: Scope {
                fresh: false,
                ..self.scope
            },
            ..*self
        };
        match reference {
            Reference::DaysBefore(days) => {
                let Window::Over(stat, span) = window else {
                    return Some(Err(Possible::ANY));
                };
                let window = self.days_of(span, end)?;
                reader.statistic(about, stat, window.before(i64::from(days)))
            }
            Reference::FirstAssessment => {
                let from = self.baseline().unwrap_or(Date::MIN);
                let mut first = None;
                reader.walk_forward(about.measure, about.own, from, &mut |context| {
                    let read = reader.read(about.ix, about.measure, about.own, context);
                    first = read.value().map(|value| (value, context.position()));
                    first.is_none()
                });
                not_latest(first, latest)
            }
            Reference::AssessmentBefore => {
                let mut passed_latest = latest.is_none();
                let found = reader.newest(about, self.view.as_of, &mut |context| {
                    let take = passed_latest;
                    passed_latest |= context.position() == latest;
                    take
                });
                found.map(|(value, _)| Ok(value))
            }
            Reference::PhaseEntry => {
                let (_, start) = self.view.stand.stay?;
                let found = reader.newest(about, start, &mut |_| true);
                not_latest(found, latest)
            }
            Reference::BestAssessment => reader.best_before(about, latest),
        }
    }

    /// The newest value among the facts dated up to `until` that `takes` accepts.
    fn newest(
        &self,
        about: &About<'a>,
        until: Date,
        takes: &mut dyn FnMut(Context<'a>) -> bool,
    ) -> Option<(Value, Option<Position>)> {
        let mut found = None;
        self.walk_until(about.measure, about.own, until, &mut |context| {
            let read = self.read(about.ix, about.measure, about.own, context);
            if read == Read::PassedOver || !takes(context) {
                return true;
            }
            found = read.value().map(|value| (value, context.position()));
            false
        });
        found
    }

    /// The best value before the latest, since the latest new baseline. Values missing on the way might have been better.
    fn best_before(
        &self,
        about: &About<'a>,
        latest: Option<Position>,
    ) -> Option<Result<Value, Possible>> {
        let from = self.baseline();
        if let Some(best) = self.quick_best(about, latest, from) {
            return best.map(Ok);
        }
        let mut passed_latest = latest.is_none();
        let mut best: Option<Value> = None;
        self.walk(about.measure, about.own, &mut |context| {
            if from.is_some_and(|from| context.date() < Some(from)) {
                return false;
            }
            let read = self.read(about.ix, about.measure, about.own, context);
            if !passed_latest {
                passed_latest = context.position() == latest;
                return true;
            }
            if let Some(value) = read.value() {
                best = Some(best.map_or(value, |best| {
                    value::extreme_of(about.measure, best, value, false)
                }));
            }
            true
        });
        best.map(Ok)
    }

    /// The date of the latest new baseline that a clinician set and did not withdraw.
    fn baseline(&self) -> Option<Date> {
        let view = &self.view;
        let given = view.history.directives_until(view.as_of);
        let seen = given.iter().filter(|one| view.sees(one.date, one.known));
        seen.filter(|one| one.directive.order == Order::NewBaseline)
            .map(|one| one.date)
            .max()
    }

    /// Whole days since a date that came.
    pub(crate) fn days_since(&self, date: Date) -> i64 {
        days_between(date, self.view.as_of)
    }
}

fn not_latest(
    found: Option<(Value, Option<Position>)>,
    latest: Option<Position>,
) -> Option<Result<Value, Possible>> {
    let (value, at) = found?;
    (latest.is_none() || at != latest).then_some(Ok(value))
}

/// Whether `now` may lie at least so many per cent of the reference's size above (below) the reference. A reference of
/// zero has no percentage: not yet full.
fn by_percent(direction: Direction, now: &Range, then: &Range, percent: i128) -> Option<Possible> {
    // Over a common denominator: moved * 100 - percent * |then|, of which only the sign matters. It is concave in
    // `then`, so its ends, and zero where that lies between them, decide.
    let scale = |number: i64, by: i64| i128::from(number) * i128::from(by);
    let signed = |now: i128, then: i128| -> Option<i128> {
        let moved = match direction {
            Direction::Up => now.checked_sub(then)?,
            Direction::Down => then.checked_sub(now)?,
        };
        let share = percent.checked_mul(then.checked_abs()?)?;
        moved.checked_mul(100_000)?.checked_sub(share)
    };
    let (low, high) = (scale(now.low, then.den), scale(now.high, then.den));
    let (from, to) = (scale(then.low, now.den), scale(then.high, now.den));
    let (mut met, mut not) = (false, false);
    for now in [low, high] {
        for then in [from, to] {
            if then != 0 {
                let sign = signed(now, then)?;
                met |= sign >= 0;
                not |= sign < 0;
            }
        }
        if from <= 0 && to >= 0 && from != to {
            let sign = signed(now, 0)?;
            met |= sign > 0;
            not |= sign < 0;
        }
    }
    let mut found = match (met, not) {
        (false, false) => Possible::NOT_FULL,
        (met, not) => Possible::of(met, not),
    };
    if from <= 0 && to >= 0 {
        found = found.or(Possible::NOT_FULL);
    }
    Some(found)
}

//! The common case, quickly: one known value held against a number or a choice of the pack.
//!
//! It gives what the general reading gives, or nothing. An explanation is always read in the general way, and a test
//! (`quick_and_general_readings_agree`) holds its verdicts against those decided by.
//!
//! Leaves to others: everything relative, explained, or missing in a session (`super::read`, `super::sentence`).

use super::possible::Possible;
use super::read::Reader;
use super::sentence::About;
use super::value::{Range, Value};
use crate::fact::Position;
use crate::history::{Exercised, SessionFact, Sheet, Val, value_in};
use jiff::civil::Date;
use rungwise_pack::model::{
    Amount, Carrier, Compare, Measure, MeasureKind, Origin, Over, Relation, Worse,
};

impl Reader<'_> {
    /// A sentence about the latest value on an assessment or a screening.
    pub(super) fn quick_latest(&self, about: &About<'_>) -> Option<Possible> {
        let sheets = self.sheets_of(about)?;
        for sheet in sheets.iter().rev() {
            if !self.view.sees(sheet.date, sheet.known) {
                continue;
            }
            let value = value_in(&sheet.values, about.ix);
            if value.is_none() && !about.measure.expected {
                continue;
            }
            let fresh = !self.stale(about.measure, sheet.date);
            let found = match value.filter(|_| fresh) {
                Some(value) => simply(about.relation, value)?,
                None => wholly(about.measure, about.relation)?,
            };
            self.tap.fact(&self.view, sheet.date, sheet.known);
            return Some(found);
        }
        wholly(about.measure, about.relation)
    }

    /// The best number, read as a reference, on the sheets dated from `from` on and before the one at `latest`. Read at every
    /// change since the best, over everything ever measured: it must stay cheap in a long course.
    pub(super) fn quick_best(
        &self,
        about: &About<'_>,
        latest: Option<Position>,
        from: Option<Date>,
    ) -> Option<Option<Value>> {
        let sheets = self.sheets_of(about)?;
        let MeasureKind::Number { min, max, .. } = &about.measure.kind else {
            return None;
        };
        let better = match about.measure.worse {
            Worse::Higher => i64::min,
            Worse::Lower => i64::max,
            Worse::Neither => return None,
        };
        let since = from.map_or(0, |from| sheets.partition_point(|one| one.date < from));
        let mut passed_latest = latest.is_none();
        let mut best: Option<(i64, i64)> = None;
        for sheet in sheets.iter().skip(since).rev() {
            if !self.view.sees(sheet.date, sheet.known) {
                continue;
            }
            let before_latest = passed_latest;
            passed_latest |= latest == Some(sheet.position);
            let (low, high) = match value_in(&sheet.values, about.ix) {
                Some(Val::Number(number)) => (number, number),
                Some(Val::Choice(_)) => return None,
                None if about.measure.expected => (min.0, max.0),
                None => continue,
            };
            self.tap.fact(&self.view, sheet.date, sheet.known);
            if before_latest {
                best = Some(best.map_or((low, high), |best| {
                    (better(best.0, low), better(best.1, high))
                }));
            }
        }
        let value = |(low, high)| Value::Number(Range { low, high, den: 1 });
        Some(best.map(value))
    }

    /// The sheets that carry a reported measure, where nobody wants an explanation.
    fn sheets_of(&self, about: &About<'_>) -> Option<&[Sheet]> {
        let index = self.view.history.index();
        let quick = !self.tap.traces() && matches!(about.measure.origin, Origin::Reported);
        match about.measure.carrier {
            Carrier::Assessment if quick => Some(&index.assessments),
            Carrier::Screening if quick => Some(&index.screenings),
            _ => None,
        }
    }

    /// A sentence about one session's own value, one exercise's, the worst of those done, or the morning after.
    pub(super) fn quick_session(
        &self,
        about: &About<'_>,
        session: &SessionFact,
    ) -> Option<Possible> {
        let reported = matches!(about.measure.origin, Origin::Reported);
        if self.tap.traces() || !reported || !matches!(about.over, Over::Plain | Over::Of(_)) {
            return None;
        }
        let value = match (about.measure.carrier, about.own) {
            (Carrier::Session, _) => value_in(&session.values, about.ix)?,
            (Carrier::Exercise, Some(own)) => {
                let done = session.exercise(own).filter(|done| done.counts())?;
                value_in(&done.values, about.ix)?
            }
            (Carrier::Exercise, None) if self.all_done(session) => {
                value_in(&session.worst, about.ix)?
            }
            (Carrier::MorningAfter, _) => return self.quick_morning(about, session),
            _ => return None,
        };
        if self.stale(about.measure, session.date) {
            return None;
        }
        let found = simply(about.relation, value)?;
        self.tap.fact(&self.view, session.date, session.known);
        Some(found)
    }

    /// Whether no prescribed exercise was left undone, where that would be a missing value.
    fn all_done(&self, session: &SessionFact) -> bool {
        let done = |exercise| session.exercise(exercise).is_some_and(Exercised::counts);
        let mut prescribed = self.prescribed_in(session).iter();
        !self.scope.prescribed || prescribed.all(|exercise| done(*exercise))
    }

    /// A sentence about a session's morning after that was reported once.
    fn quick_morning(&self, about: &About<'_>, session: &SessionFact) -> Option<Possible> {
        let [morning] = session.mornings.as_slice() else {
            return None;
        };
        let value = value_in(&morning.values, about.ix)?;
        if !self.view.sees(morning.date, morning.known) || self.stale(about.measure, morning.date) {
            return None;
        }
        let found = simply(about.relation, value)?;
        self.tap.fact(&self.view, morning.date, morning.known);
        Some(found)
    }
}

/// Every value that a measure can take against such a relation.
fn wholly(measure: &Measure, relation: &Relation) -> Option<Possible> {
    let (met, not) = match (relation, &measure.kind) {
        (Relation::Compare(how, Amount::Fixed(amount)), MeasureKind::Number { min, max, .. }) => {
            match how {
                Compare::AtMost => (min <= amount, max > amount),
                Compare::AtLeast => (max >= amount, min < amount),
                Compare::Below => (min < amount, max >= amount),
                Compare::Above => (max > amount, min <= amount),
            }
        }
        (Relation::Is(_) | Relation::IsNot(_), MeasureKind::Choice { .. }) => (true, true),
        (Relation::NoWorseThan(wanted), MeasureKind::Choice { choices }) => {
            (true, wanted.at().saturating_add(1) < choices.len())
        }
        _ => return None,
    };
    Some(Possible::of(met, not))
}

/// A known value against a relation that needs nothing but what the pack says.
fn simply(relation: &Relation, value: Val) -> Option<Possible> {
    let met = match (relation, value) {
        (Relation::Compare(how, Amount::Fixed(amount)), Val::Number(number)) => match how {
            Compare::AtMost => number <= amount.0,
            Compare::AtLeast => number >= amount.0,
            Compare::Below => number < amount.0,
            Compare::Above => number > amount.0,
        },
        (Relation::Is(wanted), Val::Choice(choice)) => choice == wanted.0,
        (Relation::IsNot(wanted), Val::Choice(choice)) => choice != wanted.0,
        (Relation::NoWorseThan(wanted), Val::Choice(choice)) => choice <= wanted.0,
        _ => return None,
    };
    Some(Possible::of(met, !met))
}

//! Statistics over a span of days.

use super::possible::Possible;
use super::read::{Context, Reader};
use super::sentence::About;
use super::value::{self, Range, Value};
use super::view::days_between;
use jiff::civil::Date;
use rungwise_pack::model::{Measure, Span, Stat, Worse};

/// Days by how long before `end` they lie: from `youngest` days, up to but not with `oldest` days.
#[derive(Clone, Copy)]
pub(crate) struct Days {
    /// The day counted from.
    pub(crate) end: Date,
    /// Nearest day.
    pub(crate) youngest: i64,
    /// One past the farthest day.
    pub(crate) oldest: i64,
}

impl Days {
    /// The so many days before these.
    pub(crate) const fn before(self, days: i64) -> Self {
        Self {
            end: self.end,
            youngest: self.oldest,
            oldest: self.oldest.saturating_add(days),
        }
    }
}

impl<'a> Reader<'a> {
    /// The days of a span that ends with `end`; none where this stay in the phase has not begun.
    pub(crate) fn days_of(&self, span: Span, end: Date) -> Option<Days> {
        let oldest = match span {
            Span::Days(days) => i64::from(days),
            Span::SincePhase => {
                let (_, start) = self.view.stand.stay?;
                days_between(start, end).saturating_add(1)
            }
        };
        Some(Days {
            end,
            youngest: 0,
            oldest,
        })
    }

    /// A sentence about a statistic.
    pub(crate) fn statistic_sentence(
        &self,
        about: &About<'a>,
        stat: Stat,
        span: Span,
        end: Date,
    ) -> Possible {
        let days = self.days_of(span, end);
        let value = days.and_then(|days| self.statistic(about, stat, days));
        match value {
            Some(Ok(value)) => self
                .relate(about, value, Context::Nothing)
                .unwrap_or(Possible::NOT_FULL),
            Some(Err(instead)) => instead,
            None if days.is_some() && stat == Stat::Total => self
                .relate(about, Value::Number(Range::one(0)), Context::Nothing)
                .unwrap_or(Possible::NOT_FULL),
            None => Possible::NOT_FULL,
        }
    }

    /// A statistic over some days: none over no value, an error where it cannot be worked out.
    pub(crate) fn statistic(
        &self,
        about: &About<'a>,
        stat: Stat,
        days: Days,
    ) -> Option<Result<Value, Possible>> {
        let mut kept: Option<Value> = None;
        let mut count: i64 = 0;
        let mut failed = false;
        self.walk(about.measure, about.own, &mut |context| {
            let Some(date) = context.date() else {
                return true;
            };
            let age = days_between(date, days.end);
            if age < days.youngest {
                return true;
            }
            if age >= days.oldest {
                return false;
            }
            let read = self.read(about.ix, about.measure, about.own, context);
            let Some(next) = read.value() else {
                return true;
            };
            count = count.saturating_add(1);
            kept = match kept {
                None => Some(next),
                Some(kept) => match join(about.measure, stat, kept, next) {
                    Some(joined) => Some(joined),
                    None => {
                        failed = true;
                        Some(kept)
                    }
                },
            };
            !failed
        });
        let kept = kept?;
        if failed {
            return Some(Err(Possible::ANY));
        }
        Some(match (stat, kept) {
            (Stat::Average, Value::Number(sum)) => match sum.den.checked_mul(count) {
                Some(den) => Ok(Value::Number(Range { den, ..sum })),
                None => Err(Possible::ANY),
            },
            (Stat::Total, Value::Number(_)) | (Stat::Worst | Stat::Best, _) => Ok(kept),
            _ => Err(Possible::ANY),
        })
    }
}

fn join(measure: &Measure, stat: Stat, kept: Value, next: Value) -> Option<Value> {
    match stat {
        Stat::Average | Stat::Total => match (kept, next) {
            (Value::Number(kept), Value::Number(next)) => {
                let (kept, next) = kept.beside(&next)?;
                Some(Value::Number(Range {
                    low: kept.low.checked_add(next.low)?,
                    high: kept.high.checked_add(next.high)?,
                    den: kept.den,
                }))
            }
            _ => None,
        },
        Stat::Worst | Stat::Best if measure.worse == Worse::Neither => None,
        Stat::Worst => Some(value::extreme_of(measure, kept, next, true)),
        Stat::Best => Some(value::extreme_of(measure, kept, next, false)),
    }
}

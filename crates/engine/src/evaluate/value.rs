//! Values as sets: a number known or missing between two ends, choices, or *never*; and how they compare. Exact ratios.

use super::possible::Possible;
use crate::history::Val;
use rungwise_pack::model::{Compare, Measure, MeasureKind, Worse};
use rungwise_pack::quantity::Milli;

/// The values that are possible.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Value {
    /// A number between two ends.
    Number(Range),
    /// Some of a measure's choices, one bit each.
    Choices(u64),
    /// It never happened: larger than every number.
    Never,
}

/// From `low / den` to `high / den` thousandths, both included; `den` is positive.
///
/// The parts stay far inside `i64` for every pack that the checker accepts; what would not fit is none. Comparing
/// multiplies crosswise in `i128`, which cannot overflow.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Range {
    /// Numerator of the lower end.
    pub(crate) low: i64,
    /// Numerator of the upper end.
    pub(crate) high: i64,
    /// Denominator.
    pub(crate) den: i64,
}

impl Range {
    /// One number.
    pub(crate) const fn one(milli: i64) -> Self {
        Self {
            low: milli,
            high: milli,
            den: 1,
        }
    }

    /// Whether it is one number.
    pub(crate) const fn is_one(&self) -> bool {
        self.low == self.high
    }

    /// The number, rounded down to thousandths, where it is one.
    pub(crate) fn floor(&self) -> Option<Milli> {
        let whole = self.low.checked_div_euclid(self.den)?;
        self.is_one().then_some(Milli(whole))
    }

    /// Shifted by so many thousandths.
    pub(crate) fn plus(&self, milli: i64) -> Option<Self> {
        let shift = milli.checked_mul(self.den)?;
        Some(Self {
            low: self.low.checked_add(shift)?,
            high: self.high.checked_add(shift)?,
            den: self.den,
        })
    }

    /// So many thousandths of a per cent of it; `percent` is not negative.
    pub(crate) fn percent(&self, percent: i64) -> Option<Self> {
        Some(Self {
            low: self.low.checked_mul(percent)?,
            high: self.high.checked_mul(percent)?,
            den: self.den.checked_mul(100_000)?,
        })
    }

    /// Both over one denominator.
    pub(crate) fn beside(&self, other: &Self) -> Option<(Self, Self)> {
        if self.den == other.den {
            return Some((*self, *other));
        }
        let (mut common, mut rest) = (self.den, other.den);
        while let Some(left) = common.checked_rem(rest) {
            (common, rest) = (rest, left);
        }
        let times = |range: &Self, times: i64| -> Option<Self> {
            Some(Self {
                low: range.low.checked_mul(times)?,
                high: range.high.checked_mul(times)?,
                den: range.den.checked_mul(times)?,
            })
        };
        let of_self = times(self, other.den.checked_div(common)?)?;
        Some((of_self, times(other, self.den.checked_div(common)?)?))
    }

    /// Every difference between one of these and one of `other`.
    pub(crate) fn minus(&self, other: &Self) -> Option<Self> {
        let den = self.den.checked_mul(other.den)?;
        let low = self.low.checked_mul(other.den)?;
        let high = self.high.checked_mul(other.den)?;
        Some(Self {
            low: low.checked_sub(other.high.checked_mul(self.den)?)?,
            high: high.checked_sub(other.low.checked_mul(self.den)?)?,
            den,
        })
    }
}

/// Whether one ratio is at most (`strict`: below) another.
fn at_most(left: (i64, i64), right: (i64, i64), strict: bool) -> bool {
    if left.1 == right.1 {
        return left.0 < right.0 || (!strict && left.0 == right.0);
    }
    let one = i128::from(left.0) * i128::from(right.1);
    let two = i128::from(right.0) * i128::from(left.1);
    if strict { one < two } else { one <= two }
}

/// How `value` may compare with `amount`.
pub(crate) fn compare(how: Compare, value: &Range, amount: &Range) -> Possible {
    let ends = |range: &Range| ((range.low, range.den), (range.high, range.den));
    let (low, high) = ends(value);
    let (least, most) = ends(amount);
    let (met, not) = match how {
        Compare::AtMost => (at_most(low, most, false), at_most(least, high, true)),
        Compare::Below => (at_most(low, most, true), at_most(least, high, false)),
        Compare::AtLeast => (at_most(least, high, false), at_most(low, most, true)),
        Compare::Above => (at_most(least, high, true), at_most(low, most, false)),
    };
    Possible::of(met, not)
}

/// Whether `value` may lie between two amounts, both included.
pub(crate) fn between(value: &Range, from: &Range, to: &Range) -> Possible {
    let low = (value.low, value.den);
    let high = (value.high, value.den);
    let met = at_most((from.low, from.den), high, false) && at_most(low, (to.high, to.den), false);
    let not = at_most(low, (from.high, from.den), true) || at_most((to.low, to.den), high, true);
    Possible::of(met, not)
}

/// A reported value.
pub(crate) fn known(value: Val) -> Value {
    match value {
        Val::Number(number) => Value::Number(Range::one(number)),
        Val::Choice(choice) => Value::Choices(bit(choice)),
    }
}

/// Every value that the measure can take.
pub(crate) fn whole(measure: &Measure) -> Value {
    match &measure.kind {
        MeasureKind::Number { min, max, .. } => Value::Number(Range {
            low: min.0,
            high: max.0,
            den: 1,
        }),
        MeasureKind::Choice { choices } => Value::Choices(bits_below(choices.len())),
    }
}

/// Whichever is worse (better, where not `worst`) of two values, for every combination of what they may be. Where
/// neither way is worse, anything between them.
pub(crate) fn extreme_of(measure: &Measure, one: Value, two: Value, worst: bool) -> Value {
    match (one, two) {
        (Value::Number(one), Value::Number(two)) => {
            let Some((one, two)) = one.beside(&two) else {
                return whole(measure);
            };
            let upward = (measure.worse == Worse::Higher) == worst;
            let pick = |left: i64, right: i64| {
                if upward {
                    left.max(right)
                } else {
                    left.min(right)
                }
            };
            let (low, high) = match measure.worse {
                Worse::Neither => (one.low.min(two.low), one.high.max(two.high)),
                Worse::Higher | Worse::Lower => (pick(one.low, two.low), pick(one.high, two.high)),
            };
            let den = one.den;
            Value::Number(Range { low, high, den })
        }
        (Value::Choices(one), Value::Choices(two)) => Value::Choices(if worst {
            let from = one.trailing_zeros().max(two.trailing_zeros());
            (one | two) & !bits_below(from as usize)
        } else {
            let top = |bits: u64| 64u32.saturating_sub(bits.leading_zeros());
            (one | two) & bits_below(top(one).min(top(two)) as usize)
        }),
        (Value::Never, _) | (_, Value::Never) => Value::Never,
        _ => whole(measure),
    }
}

/// The bit of a choice; none past the 64 that a measure may have.
pub(crate) fn bit(choice: u16) -> u64 {
    1u64.checked_shl(u32::from(choice)).unwrap_or(0)
}

/// The bits of the choices before `count`.
pub(crate) fn bits_below(count: usize) -> u64 {
    let count = u32::try_from(count).unwrap_or(u32::MAX);
    1u64.checked_shl(count)
        .map_or(u64::MAX, |bit| bit.wrapping_sub(1))
}

#[cfg(test)]
mod tests;

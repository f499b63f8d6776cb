//! Measures worked out from other values of the same fact: estimated maximum, quotients, means of items. Exact ratios.
//!
//! A part that is not there leaves the range that its measure allows; where that leaves one value only, or the rule of
//! a score does without the part, the value is known.
//!
//! Leaves to others: which facts are read and how old they may be (`super::read`, `super::session`).

use super::read::Read;
use super::value::{self, Range, Value};
use crate::fact::SetDone;
use crate::history::{Val, value_in};
use rungwise_pack::model::{
    Combined, Measure, MeasureIx, MeasureKind, Method, Origin, Pack, ToldAs,
};

/// What one fact says of a person, or of one exercise.
#[derive(Clone, Copy)]
pub(super) struct Told<'a> {
    /// Its values.
    pub(super) values: &'a [(MeasureIx, Val)],
    /// Those of the other side, where it is sound.
    pub(super) other: &'a [(MeasureIx, Val)],
    /// The sets of the exercise.
    pub(super) sets: &'a [SetDone],
}

/// A number over a positive count, in thousandths.
#[derive(Clone, Copy)]
struct Over {
    num: i128,
    den: i128,
}

impl Over {
    const fn whole(num: i64) -> Self {
        Self {
            num: num as i128,
            den: 1,
        }
    }

    fn times(self, num: i128, den: i128) -> Option<Self> {
        Some(Self {
            num: self.num.checked_mul(num)?,
            den: self.den.checked_mul(den)?,
        })
    }
}

/// What a fact says of a measure; passed over where it says nothing.
pub(super) fn told(pack: &Pack, ix: MeasureIx, measure: &Measure, told: Told<'_>) -> Read {
    let Origin::Combined(combined) = &measure.origin else {
        let found = value_in(told.values, ix);
        return found.map_or(Read::PassedOver, |found| Read::Known(value::known(found)));
    };
    let of = Of { pack, told };
    let said = |ix: &MeasureIx| value_in(told.values, *ix).is_some();
    if !combined.parts().iter().any(said) {
        return Read::PassedOver;
    }
    let found = match combined {
        Combined::Maximum {
            method,
            load,
            repetitions,
            in_reserve,
            repetitions_max,
        } => of.maximum(
            measure,
            *method,
            *load,
            [*repetitions, *in_reserve],
            *repetitions_max,
        ),
        Combined::OtherSide { of: own } => of
            .range(told.values, *own)
            .zip(of.range(told.other, *own))
            .and_then(|(own, other)| quotient(measure, own, other, 100)),
        Combined::Ratio { of: own, to, .. } => of
            .range(told.values, *own)
            .zip(of.range(told.values, *to))
            .and_then(|(own, to)| quotient(measure, own, to, 1)),
        Combined::Mean {
            scales,
            answered_min,
            told_as,
        } => of.mean(scales, *answered_min, *told_as),
        // No value says anything of them: `super::volume`.
        Combined::VolumeLoad | Combined::TimeUnderTension => return Read::PassedOver,
    };
    found.unwrap_or_else(|| Read::Missing(value::whole(measure)))
}

struct Of<'a> {
    pack: &'a Pack,
    told: Told<'a>,
}

impl Of<'_> {
    /// The ends between which a part lies: twice the same where it is there.
    fn range(&self, values: &[(MeasureIx, Val)], ix: MeasureIx) -> Option<[i64; 2]> {
        match value_in(values, ix) {
            Some(Val::Number(number)) => Some([number, number]),
            Some(Val::Choice(_)) => None,
            None => match &self.pack.measures.get(ix.at())?.kind {
                MeasureKind::Number { min, max, .. } => Some([min.0, max.0]),
                MeasureKind::Choice { .. } => None,
            },
        }
    }

    fn maximum(
        &self,
        measure: &Measure,
        method: Method,
        load: MeasureIx,
        [repetitions, in_reserve]: [Option<MeasureIx>; 2],
        most: u32,
    ) -> Option<Read> {
        let most = i64::from(most).checked_mul(1000)?;
        let load = self.range(self.told.values, load)?;
        let done = match repetitions {
            Some(ix) => self.range(self.told.values, ix)?,
            None => match self.told.sets.iter().filter_map(|set| set.reps).max() {
                Some(reps) => [i64::from(reps).checked_mul(1000)?; 2],
                None => [0, i64::MAX],
            },
        };
        let reserve = match in_reserve {
            Some(ix) => self.range(self.told.values, ix)?,
            None => [0, 0],
        };
        let from = done[0].saturating_add(reserve[0]);
        let to = done[1].saturating_add(reserve[1]);
        let low = match in_domain(method, from, most) {
            Domain::Below => Some(Over::whole(0)),
            Domain::Inside(at) | Domain::Between(at, _) | Domain::Past(at) => {
                estimate(method, load[0], at)
            }
        }?;
        let top = match &measure.kind {
            MeasureKind::Number { max, .. } => max.0,
            MeasureKind::Choice { .. } => return None,
        };
        let high = match in_domain(method, to, most) {
            Domain::Below => Some(Over::whole(load[1])),
            Domain::Inside(at) | Domain::Between(_, at) => estimate(method, load[1], at),
            Domain::Past(_) => Some(Over::whole(top)),
        }?;
        let found = range(low, high)?;
        let inside = matches!(in_domain(method, from, most), Domain::Inside(_));
        Some(if inside && from == to && load[0] == load[1] {
            Read::Known(found)
        } else {
            Read::Missing(found)
        })
    }

    fn mean(&self, scales: &[Vec<MeasureIx>], answered_min: u32, told_as: ToldAs) -> Option<Read> {
        let mut answered: u32 = 0;
        let mut silent = false;
        for scale in scales {
            let there = scale
                .iter()
                .filter(|ix| value_in(self.told.values, **ix).is_some());
            let there = u32::try_from(there.count()).ok()?;
            silent |= there == 0;
            answered = answered.checked_add(there)?;
        }
        let known = answered >= answered_min && !silent;
        let mut low = Over::whole(0);
        let mut high = Over::whole(0);
        let count = i128::try_from(scales.len()).ok()?;
        for scale in scales {
            let (mut least, mut most, mut items) = (0i128, 0i128, 0i128);
            for ix in scale {
                let there = value_in(self.told.values, *ix).is_some();
                if known && !there {
                    continue;
                }
                let [from, to] = self.range(self.told.values, *ix)?;
                least = least.checked_add(i128::from(from))?;
                most = most.checked_add(i128::from(to))?;
                items = items.checked_add(1)?;
            }
            let den = items.checked_mul(count)?;
            low = plus(low, Over { num: least, den })?;
            high = plus(high, Over { num: most, den })?;
        }
        let first = *scales.first()?.first()?;
        let MeasureKind::Number { min, max, .. } = &self.pack.measures.get(first.at())?.kind else {
            return None;
        };
        let found = match told_as {
            ToldAs::ItsOwn => range(low, high),
            ToldAs::Percent => range(share(low, min.0, max.0)?, share(high, min.0, max.0)?),
            ToldAs::PercentTurned => range(share(high, max.0, min.0)?, share(low, max.0, min.0)?),
        }?;
        Some(if known {
            Read::Known(found)
        } else {
            Read::Missing(found)
        })
    }
}

/// Where a number of repetitions (thousandths) stands to what a formula is used for.
enum Domain {
    /// Not even one.
    Below,
    /// At one of those.
    Inside(i64),
    /// Between two of them.
    Between(i64, i64),
    /// Past the last of them.
    Past(i64),
}

fn in_domain(method: Method, repetitions: i64, most: i64) -> Domain {
    let gap = method == Method::Epley && most >= 2000;
    if repetitions < 1000 {
        Domain::Below
    } else if repetitions > most {
        Domain::Past(most)
    } else if gap && repetitions > 1000 && repetitions < 2000 {
        Domain::Between(1000, 2000)
    } else {
        Domain::Inside(repetitions)
    }
}

/// What a load lifted so many times (thousandths, inside the domain) comes to.
fn estimate(method: Method, load: i64, repetitions: i64) -> Option<Over> {
    let (load, repetitions) = (Over::whole(load), i128::from(repetitions));
    match method {
        Method::Epley if repetitions == 1000 => Some(load),
        Method::Epley => load.times(repetitions.checked_add(30_000)?, 30_000),
        Method::Brzycki => {
            let left = 37_000i128
                .checked_sub(repetitions)
                .filter(|left| *left > 0)?;
            load.times(36_000, left)
        }
    }
}

/// `of` over `to`, `times` over, at most what the measure can be. Over what may be nothing it is not bounded; over
/// nothing it is none.
fn quotient(measure: &Measure, of: [i64; 2], to: [i64; 2], times: i128) -> Option<Read> {
    let MeasureKind::Number { max, .. } = &measure.kind else {
        return None;
    };
    let times = times.checked_mul(1000)?;
    let part = |of: i64, to: i64| -> Option<Over> {
        let found = Over::whole(of).times(times, i128::from(to))?;
        let most = i128::from(max.0).checked_mul(found.den)?;
        Some(if found.num > most {
            Over::whole(max.0)
        } else {
            found
        })
    };
    if to[1] <= 0 {
        return None;
    }
    let low = part(of[0], to[1])?;
    let high = if to[0] <= 0 {
        Over::whole(max.0)
    } else {
        part(of[1], to[0])?
    };
    let found = range(low, high)?;
    let known = of[0] == of[1] && to[0] == to[1];
    Some(if known {
        Read::Known(found)
    } else {
        Read::Missing(found)
    })
}

/// How far a mean is from `from` to `to`, in per cent.
fn share(mean: Over, from: i64, to: i64) -> Option<Over> {
    let (from, to) = (i128::from(from), i128::from(to));
    let apart = to.checked_sub(from)?;
    let gone = mean.num.checked_sub(from.checked_mul(mean.den)?)?;
    let sign = apart.signum();
    Some(Over {
        num: gone.checked_mul(100_000)?.checked_mul(sign)?,
        den: mean.den.checked_mul(apart.checked_abs()?)?,
    })
}

fn plus(one: Over, two: Over) -> Option<Over> {
    let first = one.num.checked_mul(two.den)?;
    let second = two.num.checked_mul(one.den)?;
    let (num, den) = (first.checked_add(second)?, one.den.checked_mul(two.den)?);
    let common = gcd(num, den).max(1);
    Some(Over {
        num: num.checked_div(common)?,
        den: den.checked_div(common)?,
    })
}

/// From one end to the other over the least common denominator.
fn range(low: Over, high: Over) -> Option<Value> {
    let den = low.den.checked_mul(high.den)?;
    let from = low.num.checked_mul(high.den)?;
    let to = high.num.checked_mul(low.den)?;
    let common = gcd(gcd(from, to), den).max(1);
    let small = |number: i128| i64::try_from(number.checked_div(common)?).ok();
    Some(Value::Number(Range {
        low: small(from)?,
        high: small(to)?,
        den: small(den)?,
    }))
}

fn gcd(one: i128, two: i128) -> i128 {
    let (mut one, mut two) = (one.saturating_abs(), two.saturating_abs());
    while let Some(rest) = one.checked_rem(two) {
        (one, two) = (two, rest);
    }
    one
}

#[cfg(test)]
mod tests;

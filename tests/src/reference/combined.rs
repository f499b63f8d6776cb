//! Measures that a fact does not say and that follow from what it says.
//!
//! Leaves to others: which facts (`super::series`), measures that follow from the whole history (`super::computed`).

use super::context::read;
use super::possible::{Possible, Ratio};
use rungwise_engine::fact::{Reading, SetDone};
use rungwise_pack::model::{Combined, Measure, MeasureIx, Method, Origin, Pack, ToldAs};

/// What one fact says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told<'a> {
    /// Its values.
    pub(super) readings: &'a [Reading],
    /// Those of a sound other side.
    pub(super) other_side: &'a [Reading],
    /// The sets of the exercise that it is of.
    pub(super) sets: &'a [SetDone],
}

impl Told<'_> {
    /// What it says of a measure, reported or combined; nothing where it says nothing.
    #[must_use]
    pub(super) fn of(&self, pack: &Pack, measure: &Measure) -> Option<Possible> {
        let Origin::Combined(combined) = &measure.origin else {
            return read(measure, self.readings);
        };
        let known = |ix: MeasureIx| &pack.measures[ix.at()];
        let given = |ix: MeasureIx| read(known(ix), self.readings);
        combined.parts().into_iter().find_map(given)?;
        let or_any = |ix: MeasureIx, value: Option<Possible>| {
            value.unwrap_or_else(|| Possible::anything(known(ix)))
        };
        let part = |ix: MeasureIx| or_any(ix, given(ix));
        Some(match combined {
            Combined::Maximum {
                method,
                load,
                repetitions,
                in_reserve,
                repetitions_max,
            } => {
                let done = match repetitions {
                    Some(repetitions) => Some(part(*repetitions).ends()),
                    None => self.most_of_a_set(),
                };
                let reserve = in_reserve.map_or([Ratio::whole(0); 2], |ix| part(ix).ends());
                let formula = Formula {
                    method: *method,
                    last: Ratio::whole(i64::from(*repetitions_max)),
                    top: Possible::anything(measure).ends()[1],
                };
                let [light, heavy] = part(*load).ends();
                match done {
                    Some([few, many]) => Possible::Numbers(
                        formula.bounds(light, few.plus(reserve[0]))[0],
                        formula.bounds(heavy, many.plus(reserve[1]))[1],
                    ),
                    None => Possible::Numbers(formula.bounds(light, reserve[0])[0], formula.top),
                }
            }
            // No value says anything of them (`super::volume`).
            Combined::VolumeLoad | Combined::TimeUnderTension => return None,
            Combined::OtherSide { of } => {
                let other = or_any(*of, read(known(*of), self.other_side));
                quotients(measure, &part(*of), &other, Ratio::whole(100))
            }
            Combined::Ratio { of, to, .. } => {
                quotients(measure, &part(*of), &part(*to), Ratio::whole(1))
            }
            Combined::Mean {
                scales,
                answered_min,
                told_as,
            } => {
                let answers: Vec<Vec<Option<Possible>>> = scales
                    .iter()
                    .map(|scale| scale.iter().map(|ix| given(*ix)).collect())
                    .collect();
                let answered = answers.iter().flatten().flatten().count();
                let each = answers
                    .iter()
                    .all(|scale| scale.iter().any(Option::is_some));
                let enough = answered >= *answered_min as usize && each;
                let item = known(scales[0][0]);
                let filled: Vec<Vec<Possible>> = answers
                    .into_iter()
                    .map(|scale| {
                        let fill = |answer: Option<Possible>| match answer {
                            None if enough => None,
                            None => Some(Possible::anything(item)),
                            known => known,
                        };
                        scale.into_iter().filter_map(fill).collect()
                    })
                    .collect();
                let [low, high] = [0, 1].map(|end| {
                    let of_scales = filled
                        .iter()
                        .map(|scale| mean(scale.iter().map(|one| one.ends()[end])));
                    mean(of_scales)
                });
                told_in(*told_as, item, low, high)
            }
        })
    }

    fn most_of_a_set(&self) -> Option<[Ratio; 2]> {
        let most = self.sets.iter().filter_map(|set| set.reps).max()?;
        Some([Ratio::whole(i64::from(most)); 2])
    }
}

/// A formula with the last repetitions that it is for, and the most that may come of it.
struct Formula {
    method: Method,
    last: Ratio,
    top: Ratio,
}

impl Formula {
    /// What a load lifted exactly so often comes to at least and at most.
    fn bounds(&self, load: Ratio, times: Ratio) -> [Ratio; 2] {
        let [one, two] = [Ratio::whole(1), Ratio::whole(2)];
        if times < one {
            return [Ratio::whole(0), load];
        }
        if times > self.last {
            return [self.exactly(load, self.last), self.top];
        }
        if self.method == Method::Epley && one < times && times < two && self.last >= two {
            return [self.exactly(load, one), self.exactly(load, two)];
        }
        [self.exactly(load, times); 2]
    }

    fn exactly(&self, load: Ratio, times: Ratio) -> Ratio {
        match self.method {
            Method::Epley if times == Ratio::whole(1) => load,
            Method::Epley => load.plus(load.by(times).over(30)),
            Method::Brzycki => load.by(Ratio::whole(36)).per(Ratio::whole(37).minus(times)),
        }
    }
}

fn quotients(measure: &Measure, of: &Possible, to: &Possible, times: Ratio) -> Possible {
    let any = Possible::anything(measure);
    let [_, top] = any.ends();
    let ([least, most], [small, large]) = (of.ends(), to.ends());
    if large.is_zero() {
        return any;
    }
    let over = |of: Ratio, to: Ratio| of.per(to).by(times).min(top);
    let high = if small.is_zero() {
        top
    } else {
        over(most, small)
    };
    Possible::Numbers(over(least, large), high)
}

fn mean(values: impl Iterator<Item = Ratio>) -> Ratio {
    let values: Vec<Ratio> = values.collect();
    let zero = Ratio::whole(0);
    let sum = values.iter().fold(zero, |sum, value| sum.plus(*value));
    sum.over(values.len())
}

fn told_in(told_as: ToldAs, item: &Measure, low: Ratio, high: Ratio) -> Possible {
    let [from, to] = Possible::anything(item).ends();
    let percent = |mean: Ratio| mean.minus(from).per(to.minus(from)).by(Ratio::whole(100));
    let turned = |mean: Ratio| Ratio::whole(100).minus(percent(mean));
    match told_as {
        ToldAs::ItsOwn => Possible::Numbers(low, high),
        ToldAs::Percent => Possible::Numbers(percent(low), percent(high)),
        ToldAs::PercentTurned => Possible::Numbers(turned(high), turned(low)),
    }
}

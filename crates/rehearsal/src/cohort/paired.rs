//! Two packs on the same people: differences person by person, with the interval that ordinary statistics give a mean of
//! paired differences.
//!
//! A course that did not come to something within the simulation counts as coming on its last day (a restricted mean), so
//! that nobody is left out.
//!
//! Leaves to others: each pack by itself (`super::tally`).

use super::life::Life;
use super::ready::Ready;
use rungwise_pack::quantity::Key;

/// Differences of one number, the second pack's less the first's.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Differences {
    /// People for whom the second pack's number is smaller.
    pub less: u64,
    /// People for whom both are the same.
    pub same: u64,
    /// People for whom the second pack's is larger.
    pub more: u64,
    sum: i64,
    squares: u64,
}

/// 1.960, the two-sided 5 % point of the normal curve, in thousandths.
const TWO_SIDED_5_PCT: u128 = 1960;
/// 1.960 and 0.842, its 80 % point: a difference of so many standard errors is seen in four of five simulations.
const SEEN_IN_FOUR_OF_FIVE: u128 = 2802;

impl Differences {
    fn add(&mut self, difference: i64) {
        match difference {
            ..0 => self.less += 1,
            0 => self.same += 1,
            1.. => self.more += 1,
        }
        self.sum += difference;
        self.squares += difference.unsigned_abs().pow(2);
    }

    fn merge(&mut self, other: &Self) {
        self.less += other.less;
        self.same += other.same;
        self.more += other.more;
        self.sum += other.sum;
        self.squares += other.squares;
    }

    /// How many people.
    #[must_use]
    pub const fn people(&self) -> u64 {
        self.less + self.same + self.more
    }

    /// The mean difference, in thousandths.
    #[must_use]
    pub fn mean_milli(&self) -> i64 {
        let people = i128::from(self.people().max(1));
        let sum = i128::from(self.sum) * 1000;
        // To the nearest, halves away from nought.
        let half = if sum < 0 { -people / 2 } else { people / 2 };
        i64::try_from((sum + half) / people).unwrap_or(0)
    }

    /// Half of the mean's 95 % interval, in thousandths; none for fewer than two people.
    #[must_use]
    pub fn half_width_milli(&self) -> Option<i64> {
        self.errors(TWO_SIDED_5_PCT)
    }

    /// The smallest mean difference that four of five simulations of as many people would tell from none, in thousandths;
    /// none for fewer than two people.
    #[must_use]
    pub fn seen_from_milli(&self) -> Option<i64> {
        self.errors(SEEN_IN_FOUR_OF_FIVE)
    }

    /// So many thousandths of the mean's standard error, in thousandths, rounded up.
    fn errors(&self, milli: u128) -> Option<i64> {
        let people = u128::from(self.people());
        if people < 2 {
            return None;
        }
        let sum = u128::from(self.sum.unsigned_abs());
        // The sum of squares about the mean, times the people: no fraction is lost.
        let about = (u128::from(self.squares) * people).saturating_sub(sum * sum);
        let square = (about * milli * milli).div_ceil(people * people * (people - 1));
        let root = square.isqrt();
        let root = root + u128::from(root * root < square);
        i64::try_from(root).ok()
    }
}

/// Two packs on the same people.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Paired {
    /// Days to each phase that both packs have, by its key.
    pub phases: Vec<(Key, Differences)>,
    /// Days to discharge.
    pub ended: Differences,
    /// Discharged or not.
    pub discharged: Differences,
    /// Stuck at some time or never.
    pub stuck: Differences,
    /// Sent back a phase at some time or never.
    pub regressed: Differences,
    /// Flare-ups.
    pub flare_ups: Differences,
    /// Referred at some time or never.
    pub referred: Differences,
    /// Days on which nothing was prescribed.
    pub days_without: Differences,
    /// Decisions made.
    pub decisions: Differences,
    /// By shared phase: its place in the first pack and in the second.
    places: Vec<(usize, usize)>,
    days: u32,
}

impl Paired {
    /// Nobody yet.
    #[must_use]
    pub fn new(first: &Ready<'_>, second: &Ready<'_>) -> Self {
        let phases = first.pack().phases.iter().enumerate();
        let shared: Vec<(Key, (usize, usize))> = phases
            .filter_map(|(at, phase)| {
                let other = second.pack().phase(&phase.key)?;
                Some((phase.key.clone(), (at, other.at())))
            })
            .collect();
        let none = Differences::default;
        Self {
            phases: shared
                .iter()
                .map(|(key, _)| (key.clone(), none()))
                .collect(),
            ended: none(),
            discharged: none(),
            stuck: none(),
            regressed: none(),
            flare_ups: none(),
            referred: none(),
            days_without: none(),
            decisions: none(),
            places: shared.into_iter().map(|(_, places)| places).collect(),
            days: u32::try_from(first.dates.len().saturating_sub(1)).unwrap_or(0),
        }
    }

    /// Adds one person's two courses.
    pub fn add(&mut self, first: &Life, second: &Life) {
        let last = self.days;
        let later = |one: Option<u32>, other: Option<u32>| {
            i64::from(other.unwrap_or(last)) - i64::from(one.unwrap_or(last))
        };
        for ((_, differences), (one, other)) in self.phases.iter_mut().zip(&self.places) {
            let one = first.reached.get(*one).copied().flatten();
            let other = second.reached.get(*other).copied().flatten();
            differences.add(later(one, other));
        }
        self.ended.add(later(first.ended, second.ended));
        let came = |one: bool, other: bool| i64::from(other) - i64::from(one);
        let counted = |one: u32, other: u32| i64::from(other) - i64::from(one);
        self.discharged
            .add(came(first.ended.is_some(), second.ended.is_some()));
        self.stuck
            .add(came(first.stuck.is_some(), second.stuck.is_some()));
        self.regressed
            .add(came(first.regressed(), second.regressed()));
        self.flare_ups
            .add(counted(first.flare_ups, second.flare_ups));
        self.referred
            .add(came(first.referrals > 0, second.referrals > 0));
        self.days_without
            .add(counted(first.days_without, second.days_without));
        self.decisions
            .add(counted(first.decisions, second.decisions));
    }

    /// Adds another part of the cohort.
    pub fn merge(&mut self, other: &Self) {
        for ((_, differences), (_, more)) in self.phases.iter_mut().zip(&other.phases) {
            differences.merge(more);
        }
        self.ended.merge(&other.ended);
        self.discharged.merge(&other.discharged);
        self.stuck.merge(&other.stuck);
        self.regressed.merge(&other.regressed);
        self.flare_ups.merge(&other.flare_ups);
        self.referred.merge(&other.referred);
        self.days_without.merge(&other.days_without);
        self.decisions.merge(&other.decisions);
    }
}

#[cfg(test)]
pub(super) fn add(differences: &mut Differences, difference: i64) {
    differences.add(difference);
}

//! Sets of verdicts and of truths, and how they combine.

use crate::decision::{RuleVerdict, Verdict};
use rungwise_pack::model::Polarity;

/// The verdicts that missing values leave possible: never none of them.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Possible(u8);

impl Possible {
    /// Met whatever is missing.
    pub(crate) const MET: Self = Self(1);
    /// Not met whatever is missing.
    pub(crate) const NOT: Self = Self(2);
    /// Not yet full whatever is missing.
    pub(crate) const NOT_FULL: Self = Self(4);
    /// Either met or not.
    pub(crate) const OPEN: Self = Self(3);
    /// Anything. INVARIANT (fail-closed): what an evaluation gives that failed; it makes no upward rule met and leaves
    /// every cautious one in doubt.
    pub(crate) const ANY: Self = Self(7);

    /// Met and not met where possible; anything where neither is.
    pub(crate) const fn of(met: bool, not: bool) -> Self {
        match (met, not) {
            (true, true) => Self::OPEN,
            (true, false) => Self::MET,
            (false, true) => Self::NOT,
            (false, false) => Self::ANY,
        }
    }

    /// Whether some possibility of `other` is among these.
    pub(crate) const fn has(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Either.
    pub(crate) const fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// The verdict reported.
    pub(crate) const fn verdict(self) -> Verdict {
        match self.0 {
            1 => Verdict::Met,
            2 => Verdict::NotMet,
            4 => Verdict::NotYetFull,
            _ => Verdict::Unknown,
        }
    }

    /// What it contributes to its rule: a window that is not yet full never makes a rule met, negated or not.
    pub(crate) const fn truth(self, negated: bool) -> Truth {
        let (yes, no) = if negated {
            (Self::NOT, Self::MET)
        } else {
            (Self::MET, Self::NOT)
        };
        Truth {
            yes: self.has(yes),
            no: self.has(no) || self.has(Self::NOT_FULL),
        }
    }

    /// The more cautious of two readings of one sentence, pair by pair: for an upward rule the less favourable, for a
    /// cautious one the more.
    pub(crate) fn cautious_of(self, other: Self, polarity: Polarity, negated: bool) -> Self {
        if self == other {
            return self;
        }
        let order = if negated {
            [Self::MET, Self::NOT_FULL, Self::NOT]
        } else {
            [Self::NOT, Self::NOT_FULL, Self::MET]
        };
        let mut both = Self(0);
        for (at, one) in order.into_iter().enumerate() {
            for (of, two) in order.into_iter().enumerate() {
                if self.has(one) && other.has(two) {
                    let lower = (at <= of) == (polarity == Polarity::Upward);
                    both = both.or(if lower { one } else { two });
                }
            }
        }
        both
    }
}

/// How often each verdict is possible among entries that vary independently.
#[derive(Clone, Copy, Default, Debug)]
pub(crate) struct Tally {
    met_only: u32,
    not_only: u32,
    met_or_not: u32,
    met_possible: u32,
    not_possible: u32,
    entries: u32,
}

impl Tally {
    /// Counts one more entry in.
    pub(crate) fn add(&mut self, entry: Possible) {
        self.add_times(entry, 1);
    }

    /// Counts so many more entries of a kind in.
    pub(crate) fn add_times(&mut self, entry: Possible, times: u32) {
        let (met, not, open) = (
            entry.has(Possible::MET),
            entry.has(Possible::NOT),
            entry.has(Possible::NOT_FULL),
        );
        self.entries = self.entries.saturating_add(times);
        self.met_possible = self
            .met_possible
            .saturating_add(u32::from(met).saturating_mul(times));
        self.not_possible = self
            .not_possible
            .saturating_add(u32::from(not).saturating_mul(times));
        if !open {
            self.met_only = self
                .met_only
                .saturating_add(u32::from(met && !not).saturating_mul(times));
            self.not_only = self
                .not_only
                .saturating_add(u32::from(not && !met).saturating_mul(times));
            self.met_or_not = self
                .met_or_not
                .saturating_add(u32::from(met && not).saturating_mul(times));
        }
    }

    /// How many entries were counted in.
    pub(crate) const fn entries(&self) -> u32 {
        self.entries
    }

    /// Whether at least `k` of `n` are met, entries short of `n` being not yet full: met with `k` met, not met with more
    /// than `n - k` not met, else not yet full.
    pub(crate) fn at_least(&self, k: u32, n: u32) -> Possible {
        let spare = i64::from(n).saturating_sub(i64::from(k));
        let k = i64::from(k);
        let (met, not, either) = (
            i64::from(self.met_only),
            i64::from(self.not_only),
            i64::from(self.met_or_not),
        );
        let mut found = Possible(0);
        if i64::from(self.met_possible) >= k {
            found = found.or(Possible::MET);
        }
        if i64::from(self.not_possible) > spare {
            found = found.or(Possible::NOT);
        }
        // Some split of the entries that may be either leaves both counts short.
        let least_met = not.saturating_add(either).saturating_sub(spare).max(0);
        let most_met = either.min(k.saturating_sub(1).saturating_sub(met));
        if least_met <= most_met {
            found = found.or(Possible::NOT_FULL);
        }
        if found.0 == 0 { Possible::ANY } else { found }
    }
}

/// The truths that are possible for a part of a criterion.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Truth {
    /// It may be true.
    pub(crate) yes: bool,
    /// It may be false.
    pub(crate) no: bool,
}

impl Truth {
    /// Certainly true.
    pub(crate) const TRUE: Self = Self {
        yes: true,
        no: false,
    };
    /// Certainly false.
    pub(crate) const FALSE: Self = Self {
        yes: false,
        no: true,
    };

    /// Both.
    pub(crate) const fn and(self, other: Self) -> Self {
        Self {
            yes: self.yes && other.yes,
            no: self.no || other.no,
        }
    }

    /// At least one.
    pub(crate) const fn or(self, other: Self) -> Self {
        Self {
            yes: self.yes || other.yes,
            no: self.no && other.no,
        }
    }

    /// The rule's verdict.
    pub(crate) const fn verdict(self) -> RuleVerdict {
        match (self.yes, self.no) {
            (true, false) => RuleVerdict::Met,
            (false, _) => RuleVerdict::NotMet,
            (true, true) => RuleVerdict::InDoubt,
        }
    }
}

#[cfg(test)]
mod tests;

//! What a value may be: one value where it is known, every value it could have where it is missing.
//!
//! Leaves to others: where values come from (`super::series`, `super::computed`).

use super::sentence::Leaf;
use rungwise_pack::model::{Measure, MeasureKind, Worse};
use rungwise_pack::quantity::Milli;
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// An exact number: thousandths over a positive count.
#[derive(Clone, Copy, Debug)]
pub struct Ratio {
    num: i128,
    den: i128,
}

/// A denominator up to which a ratio need not be in lowest terms.
const SMALL: i128 = 1_000_000;

fn gcd(one: i128, two: i128) -> i128 {
    let (mut one, mut two) = (one.abs(), two);
    while two != 0 {
        (one, two) = (two, one % two);
    }
    one
}

impl Ratio {
    /// `num` over `den`, which must be positive.
    #[must_use]
    pub fn new(num: i128, den: i128) -> Self {
        assert!(den > 0, "denominators are counts");
        // Sums of many shares would outgrow the type.
        let common = if den > SMALL { gcd(num, den) } else { 1 };
        Self {
            num: num / common,
            den: den / common,
        }
    }

    /// A number of thousandths.
    #[must_use]
    pub fn milli(value: Milli) -> Self {
        Self::new(i128::from(value.0), 1)
    }

    /// A whole number of units.
    #[must_use]
    pub fn whole(units: i64) -> Self {
        Self::new(i128::from(units) * 1000, 1)
    }

    /// The sum.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self::new(
            self.num * other.den + other.num * self.den,
            self.den * other.den,
        )
    }

    /// The difference.
    #[must_use]
    pub fn minus(self, other: Self) -> Self {
        Self::new(
            self.num * other.den - other.num * self.den,
            self.den * other.den,
        )
    }

    /// `percent` (in thousandths of a per cent) of this.
    #[must_use]
    pub fn percent(self, percent: Milli) -> Self {
        Self::new(self.num * i128::from(percent.0), self.den * 100_000)
    }

    /// Divided by a count.
    #[must_use]
    pub fn over(self, count: usize) -> Self {
        Self::new(self.num, self.den * count as i128)
    }

    /// One number times another.
    #[must_use]
    pub fn by(self, other: Self) -> Self {
        Self::new(self.num * other.num, self.den * other.den * 1000)
    }

    /// One number divided by another, which must be positive.
    #[must_use]
    pub fn per(self, other: Self) -> Self {
        Self::new(self.num * other.den * 1000, self.den * other.num)
    }

    /// Without its sign.
    #[must_use]
    pub fn size(self) -> Self {
        Self::new(self.num.abs(), self.den)
    }

    /// Whether it is nothing.
    #[must_use]
    pub fn is_zero(self) -> bool {
        self.num == 0
    }
}

impl PartialEq for Ratio {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Ratio {}
impl PartialOrd for Ratio {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Ratio {
    fn cmp(&self, other: &Self) -> Ordering {
        (self.num * other.den).cmp(&(other.num * self.den))
    }
}

/// Every value that something may have.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Possible {
    /// Any number from the first to the second, both included.
    Numbers(Ratio, Ratio),
    /// Any of these choices, by index.
    Choices(BTreeSet<u16>),
    /// Larger than every number: days since an event that never was.
    Never,
}

impl Possible {
    /// Exactly this number.
    #[must_use]
    pub fn number(value: Ratio) -> Self {
        Self::Numbers(value, value)
    }

    /// Exactly this choice.
    #[must_use]
    pub fn choice(index: u16) -> Self {
        Self::Choices(BTreeSet::from([index]))
    }

    /// Whatever the measure can be.
    #[must_use]
    pub fn anything(measure: &Measure) -> Self {
        match &measure.kind {
            MeasureKind::Number { min, max, .. } => {
                Self::Numbers(Ratio::milli(*min), Ratio::milli(*max))
            }
            MeasureKind::Choice { choices } => Self::Choices((0..choices.len() as u16).collect()),
        }
    }

    /// The worst that the measure can be; anything where it has no direction.
    #[must_use]
    pub fn worst_end(measure: &Measure) -> Self {
        match (&measure.kind, measure.worse) {
            (MeasureKind::Choice { choices }, _) => Self::choice(choices.len() as u16 - 1),
            (MeasureKind::Number { max, .. }, Worse::Higher) => Self::number(Ratio::milli(*max)),
            (MeasureKind::Number { min, .. }, Worse::Lower) => Self::number(Ratio::milli(*min)),
            (MeasureKind::Number { .. }, Worse::Neither) => Self::anything(measure),
        }
    }

    /// Whether nothing about it is open.
    #[must_use]
    pub fn is_known(&self) -> bool {
        match self {
            Self::Numbers(low, high) => low == high,
            Self::Choices(choices) => choices.len() == 1,
            Self::Never => true,
        }
    }

    /// The greater of two, for every way that both may be.
    #[must_use]
    pub fn greater(&self, other: &Self) -> Self {
        self.pair(other, Ord::max, Ord::max)
    }

    /// The smaller of two, for every way that both may be.
    #[must_use]
    pub fn smaller(&self, other: &Self) -> Self {
        self.pair(other, Ord::min, Ord::min)
    }

    fn pair(
        &self,
        other: &Self,
        numbers: impl Fn(Ratio, Ratio) -> Ratio,
        choices: impl Fn(u16, u16) -> u16,
    ) -> Self {
        match (self, other) {
            (Self::Numbers(a, b), Self::Numbers(c, d)) => {
                Self::Numbers(numbers(*a, *c), numbers(*b, *d))
            }
            (Self::Choices(a), Self::Choices(b)) => Self::Choices(
                a.iter()
                    .flat_map(|x| b.iter().map(|y| choices(*x, *y)).collect::<Vec<_>>())
                    .collect(),
            ),
            _ => panic!("two values of one measure are of one kind"),
        }
    }

    /// The worse of two in the measure's direction.
    #[must_use]
    pub fn worse(&self, other: &Self, worse: Worse) -> Self {
        match worse {
            Worse::Higher | Worse::Neither => self.greater(other),
            Worse::Lower => self.smaller(other),
        }
    }

    /// The better of two in the measure's direction.
    #[must_use]
    pub fn better(&self, other: &Self, worse: Worse) -> Self {
        match worse {
            Worse::Higher | Worse::Neither => self.smaller(other),
            Worse::Lower => self.greater(other),
        }
    }

    /// Both ends; the same end twice where it is known.
    ///
    /// # Panics
    ///
    /// Where it is not a number.
    #[must_use]
    pub fn ends(&self) -> [Ratio; 2] {
        match self {
            Self::Numbers(low, high) => [*low, *high],
            _ => panic!("a number was expected, not {self:?}"),
        }
    }
}

/// One verdict.
#[must_use]
pub fn just(leaf: Leaf) -> BTreeSet<Leaf> {
    BTreeSet::from([leaf])
}

/// Met or not met.
#[must_use]
pub fn truth(met: bool) -> Leaf {
    if met { Leaf::Met } else { Leaf::NotMet }
}

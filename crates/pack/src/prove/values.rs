//! Which values of its measure meet a sentence, as a set.
//!
//! Numbers stand in thousandths, choices as their index (best first). "Never", which only what is counted since an event
//! can be, stands above every number. "Could not, because of pain" is the worst end of a measure
//! and needs nothing of its own.

use crate::model::{
    Amount, ChoiceIx, Compare, Computed, Measure, MeasureKind, Origin, Pack, Relation, Sentence,
    Subject, Worse,
};
use crate::quantity::Milli;

/// What stands for "never".
pub(crate) const NEVER: i64 = i64::MAX;

/// Values as ranges, both ends included, in order and apart.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Values(Vec<(i64, i64)>);

impl Values {
    /// Those in both.
    pub(crate) fn and(&self, other: &Self) -> Self {
        let pairs = self
            .0
            .iter()
            .flat_map(|one| other.0.iter().map(move |two| (one, two)));
        let both = pairs.map(|(one, two)| (one.0.max(two.0), one.1.min(two.1)));
        Self(both.filter(|(low, high)| low <= high).collect())
    }

    /// Those of `whole` that are not in this.
    pub(crate) fn rest_of(&self, whole: &Self) -> Self {
        let mut left = whole.0.clone();
        for (low, high) in &self.0 {
            left = left
                .iter()
                .flat_map(|(from, to)| {
                    [
                        (*from, (*to).min(low.saturating_sub(1))),
                        ((*from).max(high.saturating_add(1)), *to),
                    ]
                })
                .filter(|(from, to)| from <= to)
                .collect();
            // Nothing stands above "never", so a range that ends with it leaves nothing behind.
            if *high == NEVER {
                left.retain(|(from, _)| from < low);
            }
        }
        left.sort_unstable();
        Self(left)
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(crate) fn has(&self, value: i64) -> bool {
        self.0
            .iter()
            .any(|(low, high)| (*low..=*high).contains(&value))
    }

    /// One of them: the worst in the measure's direction, so that an example shows the edge.
    pub(crate) fn example(&self, measure: &Measure) -> Option<i64> {
        match measure.worse {
            Worse::Lower => self.0.first().map(|(low, _)| *low),
            Worse::Higher | Worse::Neither => self.0.last().map(|(_, high)| *high),
        }
    }
}

/// Every value that a measure can have.
pub(crate) fn whole(measure: &Measure) -> Values {
    match &measure.kind {
        MeasureKind::Choice { choices } => {
            let last = i64::try_from(choices.len()).unwrap_or(i64::MAX);
            Values(vec![(0, last.saturating_sub(1))])
        }
        MeasureKind::Number { min, max, .. } if counts_since_event(measure) => {
            Values(vec![(min.0, max.0), (NEVER, NEVER)])
        }
        MeasureKind::Number { min, max, .. } => Values(vec![(min.0, max.0)]),
    }
}

/// Whether it counts since an event, and so is "never" where there was none.
pub(crate) const fn counts_since_event(measure: &Measure) -> bool {
    matches!(
        measure.origin,
        Origin::Computed(Computed::DaysSince(_) | Computed::WeeksSince(_))
    )
}

/// The values that meet a sentence, where these do not depend on anything else.
pub(crate) fn meeting(pack: &Pack, sentence: &Sentence) -> Option<Values> {
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return None;
    };
    let measure = pack.measures.get(measure.at())?;
    let step = match &measure.kind {
        MeasureKind::Number { step, .. } => step.0.max(1),
        MeasureKind::Choice { .. } => 1,
    };
    let range = match &sentence.relation {
        Relation::Compare(compare, Amount::Fixed(amount)) => compared(*compare, *amount, step),
        Relation::Between(Amount::Fixed(low), Amount::Fixed(high)) => (low.0, high.0),
        Relation::Is(choice) => (index(*choice), index(*choice)),
        Relation::NoWorseThan(choice) => (0, index(*choice)),
        Relation::IsNot(choice) => {
            let one = index(*choice);
            return Some(Values(vec![(one, one)]).rest_of(&whole(measure)));
        }
        _ => return None,
    };
    Some(Values(vec![range]).and(&whole(measure)))
}

const fn compared(compare: Compare, amount: Milli, step: i64) -> (i64, i64) {
    match compare {
        // Never is larger than any number, and so at most none.
        Compare::AtMost => (i64::MIN, amount.0),
        Compare::Below => (i64::MIN, amount.0.saturating_sub(step)),
        Compare::AtLeast => (amount.0, NEVER),
        Compare::Above => (amount.0.saturating_add(step), NEVER),
    }
}

fn index(choice: ChoiceIx) -> i64 {
    i64::from(choice.0)
}

/// A value as it is written in a fact.
pub(crate) fn written(measure: &Measure, value: i64) -> String {
    match &measure.kind {
        _ if value == NEVER => "never".to_owned(),
        MeasureKind::Choice { choices } => usize::try_from(value)
            .ok()
            .and_then(|at| choices.get(at))
            .map_or_else(String::new, |choice| choice.to_string()),
        MeasureKind::Number { unit, .. } if &*unit.code == "1" => Milli(value).to_string(),
        MeasureKind::Number { unit, .. } => format!("{} {}", Milli(value), unit.code),
    }
}

#[cfg(test)]
mod tests;

//! Two criteria of two packs, part by part: whether the newer is met only where the older was, or wherever it was.

use super::sentences::{alike, implies, told_in};
use crate::model::{Criterion, Pack, Polarity, Sentence};

use super::Effect;

/// How a newer criterion stands to an older one.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Order {
    /// Each is met where the other is.
    Same,
    /// The newer is met only where the older was.
    Stricter,
    /// The newer is met wherever the older was.
    Looser,
    /// Neither can be told.
    Unclear,
}

impl Order {
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Same, order) | (order, Self::Same) => order,
            (one, other) if one == other => one,
            _ => Self::Unclear,
        }
    }

    const fn turned(self) -> Self {
        match self {
            Self::Stricter => Self::Looser,
            Self::Looser => Self::Stricter,
            same => same,
        }
    }

    /// What it does in a rule.
    pub(super) const fn effect(self, polarity: Polarity) -> Effect {
        match (self, polarity) {
            (Self::Same, _) => Effect::Neither,
            (Self::Unclear, _) => Effect::Unclear,
            (Self::Stricter, Polarity::Upward) | (Self::Looser, Polarity::Cautious) => {
                Effect::Tightens
            }
            (Self::Looser, Polarity::Upward) | (Self::Stricter, Polarity::Cautious) => {
                Effect::Loosens
            }
        }
    }
}

/// A difference: how it stands, what stood before, what stands now.
pub(super) type Difference = (Order, Option<String>, Option<String>);

/// Every difference of two criteria, each with what it does to the whole.
pub(super) fn differences(
    old: &Pack,
    was: &Criterion,
    new: &Pack,
    is: &Criterion,
) -> Vec<Difference> {
    let mut walk = Walk {
        old,
        new,
        found: Vec::new(),
    };
    walk.compare(was, is, false);
    walk.found
}

/// A criterion in words.
pub(super) fn words(pack: &Pack, criterion: &Criterion) -> String {
    let list = |parts: &[Criterion]| {
        let parts: Vec<String> = parts.iter().map(|part| words(pack, part)).collect();
        parts.join("; ")
    };
    match criterion {
        Criterion::Sentence(ix) => pack
            .sentences
            .get(ix.at())
            .map_or_else(String::new, |sentence| sentence.text.clone()),
        Criterion::All(parts) if parts.len() == 1 => list(parts),
        Criterion::All(parts) => format!("all of ({})", list(parts)),
        Criterion::Any(parts) => format!("any of ({})", list(parts)),
        Criterion::None(parts) => format!("none of ({})", list(parts)),
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Joined {
    All,
    Any,
}

struct Walk<'w> {
    old: &'w Pack,
    new: &'w Pack,
    found: Vec<Difference>,
}

impl Walk<'_> {
    fn add(&mut self, order: Order, turned: bool, was: Option<&Criterion>, is: Option<&Criterion>) {
        let order = if turned { order.turned() } else { order };
        let before = was.map(|was| words(self.old, was));
        let after = is.map(|is| words(self.new, is));
        if order != Order::Same || before != after {
            self.found.push((order, before, after));
        }
    }

    fn compare(&mut self, was: &Criterion, is: &Criterion, turned: bool) {
        match (was, is) {
            (Criterion::Sentence(_), Criterion::Sentence(_)) => {
                let order = self.leaves(was, is);
                self.add(order, turned, Some(was), Some(is));
            }
            (Criterion::Any(was), Criterion::Any(is)) => self.lists(was, is, Joined::Any, turned),
            // None of these is met: turned, any of them is.
            (Criterion::None(was), Criterion::None(is)) => {
                self.lists(was, is, Joined::Any, !turned);
            }
            _ => match (as_all(was), as_all(is)) {
                (Some(was), Some(is)) => self.lists(was, is, Joined::All, turned),
                _ => self.add(Order::Unclear, turned, Some(was), Some(is)),
            },
        }
    }

    fn lists(&mut self, was: &[Criterion], is: &[Criterion], joined: Joined, turned: bool) {
        let mut gone: Vec<&Criterion> = was.iter().collect();
        let mut come: Vec<&Criterion> = is.iter().collect();
        gone.retain(|one| {
            let same = come.iter().position(|other| self.same(one, other));
            same.map(|at| come.remove(at)).is_none()
        });
        gone.retain(|one| {
            let near = come.iter().position(|other| self.near(one, other));
            let Some(other) = near.map(|at| come.remove(at)) else {
                return true;
            };
            self.compare(one, other, turned);
            false
        });
        let (lost, won) = match joined {
            Joined::All => (Order::Looser, Order::Stricter),
            Joined::Any => (Order::Stricter, Order::Looser),
        };
        for one in gone {
            self.add(lost, turned, Some(one), None);
        }
        for one in come {
            self.add(won, turned, None, Some(one));
        }
    }

    /// Both sentences, the newer in the older pack's terms.
    fn both(&self, was: &Criterion, is: &Criterion) -> Option<(Sentence, Sentence)> {
        let (Criterion::Sentence(was), Criterion::Sentence(is)) = (was, is) else {
            return None;
        };
        let is = self.new.sentences.get(is.at())?;
        Some((
            self.old.sentences.get(was.at())?.clone(),
            told_in(self.new, is, self.old)?,
        ))
    }

    fn leaves(&self, was: &Criterion, is: &Criterion) -> Order {
        let Some((was, is)) = self.both(was, is) else {
            return Order::Unclear;
        };
        match (implies(self.old, &is, &was), implies(self.old, &was, &is)) {
            (true, true) => Order::Same,
            (true, false) => Order::Stricter,
            (false, true) => Order::Looser,
            (false, false) => Order::Unclear,
        }
    }

    fn same(&self, was: &Criterion, is: &Criterion) -> bool {
        match (was, is) {
            (Criterion::Sentence(_), Criterion::Sentence(_)) => {
                self.both(was, is).is_some_and(|(was, is)| {
                    was.subject == is.subject
                        && was.relation == is.relation
                        && was.window == is.window
                        && was.text == is.text
                })
            }
            (Criterion::All(was), Criterion::All(is))
            | (Criterion::Any(was), Criterion::Any(is))
            | (Criterion::None(was), Criterion::None(is)) => {
                was.len() == is.len() && was.iter().zip(is).all(|(was, is)| self.same(was, is))
            }
            _ => false,
        }
    }

    /// Whether one may have taken the other's place.
    fn near(&self, was: &Criterion, is: &Criterion) -> bool {
        match (was, is) {
            (Criterion::Sentence(_), Criterion::Sentence(_)) => {
                self.both(was, is).is_some_and(|(was, is)| alike(&was, &is))
            }
            (Criterion::Sentence(_), _) | (_, Criterion::Sentence(_)) => false,
            _ => true,
        }
    }
}

/// The parts of which every one is wanted.
fn as_all(criterion: &Criterion) -> Option<&[Criterion]> {
    match criterion {
        Criterion::Sentence(_) => Some(std::slice::from_ref(criterion)),
        Criterion::All(parts) => Some(parts),
        Criterion::Any(_) | Criterion::None(_) => None,
    }
}

/// Everything that a list of differences comes to.
pub(super) fn in_all(differences: &[Difference]) -> Order {
    differences
        .iter()
        .fold(Order::Same, |all, (order, _, _)| all.and(*order))
}

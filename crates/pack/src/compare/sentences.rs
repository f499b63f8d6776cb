//! Two sentences of two packs: whether one is met only where the other is.
//!
//! A sentence of the newer pack is first told in the older's terms, by the names of what it is about.

use crate::model::{
    Amount, ChangeBy, Compare, ExerciseIx, MeasureIx, Over, Pack, Relation, RowValue, Sentence,
    Stat, Subject, Which, Window,
};
use crate::prove::values;
use crate::quantity::Milli;

/// A sentence of one pack in terms of another; none where it speaks of what that does not have.
pub(super) fn told_in(of: &Pack, sentence: &Sentence, pack: &Pack) -> Option<Sentence> {
    let terms = Terms { of, pack };
    Some(Sentence {
        text: sentence.text.clone(),
        subject: terms.subject(&sentence.subject)?,
        relation: terms.relation(&sentence.relation, &sentence.subject)?,
        window: sentence.window,
        grounds: sentence.grounds.clone(),
    })
}

struct Terms<'t> {
    of: &'t Pack,
    pack: &'t Pack,
}

impl Terms<'_> {
    fn measure(&self, measure: MeasureIx) -> Option<MeasureIx> {
        self.pack.measure(&self.of.measures.get(measure.at())?.name)
    }

    fn exercise(&self, exercise: ExerciseIx) -> Option<ExerciseIx> {
        let exercise = self.of.exercises.get(exercise.at())?;
        let mut names = std::iter::once(&exercise.key).chain(&exercise.was);
        names.find_map(|name| self.pack.exercise(name))
    }

    fn subject(&self, subject: &Subject) -> Option<Subject> {
        Some(match subject {
            Subject::Measure { measure, over } => Subject::Measure {
                measure: self.measure(*measure)?,
                over: match over {
                    Over::Of(exercise) => Over::Of(self.exercise(*exercise)?),
                    other => *other,
                },
            },
            Subject::Reached {
                which,
                variable,
                value,
            } => Subject::Reached {
                which: match which {
                    Which::One(exercise) => Which::One(self.exercise(*exercise)?),
                    at_least @ Which::AtLeast(_) => *at_least,
                },
                variable: *variable,
                value: value.clone(),
            },
        })
    }

    fn relation(&self, relation: &Relation, subject: &Subject) -> Option<Relation> {
        let choice = |ix: crate::model::ChoiceIx| {
            let Subject::Measure { measure, .. } = subject else {
                return None;
            };
            let name = choices(self.of, *measure)?.get(ix.at())?;
            let there = choices(self.pack, self.measure(*measure)?)?;
            let at = there.iter().position(|one| one == name)?;
            u16::try_from(at).ok().map(crate::model::ChoiceIx)
        };
        Some(match relation {
            Relation::Compare(compare, amount) => {
                Relation::Compare(*compare, self.amount(*amount)?)
            }
            Relation::Between(low, high) => {
                Relation::Between(self.amount(*low)?, self.amount(*high)?)
            }
            Relation::Is(one) => Relation::Is(choice(*one)?),
            Relation::IsNot(one) => Relation::IsNot(choice(*one)?),
            Relation::NoWorseThan(one) => Relation::NoWorseThan(choice(*one)?),
            same @ (Relation::Change(..) | Relation::Reached) => same.clone(),
        })
    }

    fn amount(&self, amount: Amount) -> Option<Amount> {
        Some(match amount {
            Amount::Offset(by, other) => Amount::Offset(by, self.measure(other)?),
            Amount::PercentOf(by, other) => Amount::PercentOf(by, self.measure(other)?),
            same @ (Amount::Fixed(_) | Amount::PercentOfOtherSide(_)) => same,
        })
    }
}

fn choices(pack: &Pack, measure: MeasureIx) -> Option<&[crate::quantity::Key]> {
    match &pack.measures.get(measure.at())?.kind {
        crate::model::MeasureKind::Choice { choices } => Some(choices),
        crate::model::MeasureKind::Number { .. } => None,
    }
}

/// Whether two sentences are about the same thing, so that one may have taken the other's place.
pub(super) fn alike(one: &Sentence, other: &Sentence) -> bool {
    match (&one.subject, &other.subject) {
        (Subject::Measure { measure, .. }, Subject::Measure { measure: also, .. }) => {
            measure == also
        }
        (
            Subject::Reached {
                which, variable, ..
            },
            Subject::Reached {
                which: also,
                variable: too,
                ..
            },
        ) => {
            variable == too
                && match (which, also) {
                    (Which::One(one), Which::One(other)) => one == other,
                    (Which::AtLeast(_), Which::AtLeast(_)) => true,
                    _ => false,
                }
        }
        _ => false,
    }
}

/// Whether a sentence is met only where another is, in the terms of one pack. False where it cannot be told.
pub(super) fn implies(pack: &Pack, one: &Sentence, other: &Sentence) -> bool {
    if let (
        Subject::Reached { which, value, .. },
        Subject::Reached {
            which: also,
            value: too,
            ..
        },
    ) = (&one.subject, &other.subject)
    {
        let as_many = match (which, also) {
            (Which::AtLeast(one), Which::AtLeast(other)) => one >= other,
            _ => which == also,
        };
        let as_far = match (value, too) {
            (RowValue::Number(one), RowValue::Number(other)) => one >= other,
            _ => value == too,
        };
        return alike(one, other) && as_many && as_far;
    }
    one.subject == other.subject
        && window_implies(one.window, other.window)
        && relation_implies(pack, one, other)
}

/// Whether a window is met only where another is, for one and the same set of values, or a larger one in the other.
fn window_implies(one: Window, other: Window) -> bool {
    // As "k of the last n sessions", which all but days and statistics are.
    let counted = |window: Window| match window {
        Window::Latest | Window::LastSession => Some((1, 1)),
        Window::EachOfLast(n) => Some((n, n)),
        Window::AnyOfLast(n) => Some((1, n)),
        Window::SessionsOfLast { k, n } => Some((k, n)),
        Window::DaysOfLast { .. } | Window::Over(..) => None,
    };
    match (one, other) {
        _ if one == other => true,
        (Window::DaysOfLast { k, n }, Window::DaysOfLast { k: also, n: too }) => {
            k >= also && n <= too
        }
        _ => match (counted(one), counted(other)) {
            // At least k of the last n are met; so of the last m (fewer) at least k - (n - m).
            (Some((k, n)), Some((also, m))) => {
                let left_out = n.saturating_sub(m);
                k.saturating_sub(left_out) >= also
            }
            _ => false,
        },
    }
}

fn relation_implies(pack: &Pack, one: &Sentence, other: &Sentence) -> bool {
    if one.relation == other.relation {
        return true;
    }
    match (&one.relation, &other.relation) {
        (Relation::Compare(compare, amount), Relation::Compare(also, too)) => {
            let (Some(first), Some(second)) = (number(*amount, *too), number(*too, *amount)) else {
                return false;
            };
            if compared(*compare, first, *also, second) {
                return true;
            }
        }
        (Relation::Change(direction, by, reference), Relation::Change(also, than, from)) => {
            let as_much = match (by, than) {
                (ChangeBy::Units(by), ChangeBy::Units(than))
                | (ChangeBy::Percent(by), ChangeBy::Percent(than)) => by >= than,
                _ => false,
            };
            return direction == also && reference == from && as_much;
        }
        _ => {}
    }
    // An average or a total need not be a value of its measure, so sets of these say nothing of it.
    if matches!(one.window, Window::Over(Stat::Average | Stat::Total, _)) {
        return false;
    }
    let sets = values::meeting(pack, one).zip(values::meeting(pack, other));
    sets.is_some_and(|(one, other)| other.rest_of(&one).is_empty())
}

/// The number of an amount, where another is of the same kind.
fn number(amount: Amount, other: Amount) -> Option<Milli> {
    match (amount, other) {
        (Amount::Fixed(one), Amount::Fixed(_))
        | (Amount::PercentOfOtherSide(one), Amount::PercentOfOtherSide(_)) => Some(one),
        (Amount::Offset(one, of), Amount::Offset(_, also))
        | (Amount::PercentOf(one, of), Amount::PercentOf(_, also))
            if of == also =>
        {
            Some(one)
        }
        _ => None,
    }
}

/// Whether `x compare one` is met only where `x also other` is, for every x.
fn compared(compare: Compare, one: Milli, also: Compare, other: Milli) -> bool {
    match (compare, also) {
        (Compare::AtMost | Compare::Below, Compare::AtMost) | (Compare::Below, Compare::Below) => {
            one <= other
        }
        (Compare::AtMost, Compare::Below) => one < other,
        (Compare::AtLeast | Compare::Above, Compare::AtLeast)
        | (Compare::Above, Compare::Above) => one >= other,
        (Compare::AtLeast, Compare::Above) => one > other,
        _ => false,
    }
}

//! Criteria taken apart: the ways in which one can be met, each a list of sentences that are met or not; and what these
//! say of the newest value of each measure.
//!
//! Two questions are answered of such a list. Whether its sentences exclude each other: they all speak of the newest
//! value of one measure, and no value suits them all; then they are never met together, whatever the course. And
//! whether a course in which every value stays the same meets them all, with such values: that is an example.

use super::values::{self, Values};
use crate::model::{
    Criterion, ExerciseIx, MeasureIx, Over, Pack, Sentence, SentenceIx, Subject, Window,
};
use std::collections::BTreeMap;

/// Most ways of meeting a criterion that are looked at. Beyond, nothing is said of it.
pub const WAYS_MAX: usize = 2_048;

/// A sentence that is met, or not.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) struct Leaf {
    pub(super) sentence: SentenceIx,
    /// Whether it is to be not met.
    pub(super) negated: bool,
    /// The exercise in whose rule it stands.
    pub(super) own: Option<ExerciseIx>,
}

/// One way: every leaf holds.
pub(super) type Way = Vec<Leaf>;

/// Every way in which a criterion is met (or not met); none where there are more than [`WAYS_MAX`].
pub(super) fn ways(
    criterion: &Criterion,
    negated: bool,
    own: Option<ExerciseIx>,
) -> Option<Vec<Way>> {
    let (parts, together, negated) = match criterion {
        Criterion::Sentence(sentence) => {
            let leaf = Leaf {
                sentence: *sentence,
                negated,
                own,
            };
            return Some(vec![vec![leaf]]);
        }
        Criterion::All(parts) => (parts, !negated, negated),
        Criterion::Any(parts) => (parts, negated, negated),
        Criterion::None(parts) => (parts, !negated, !negated),
    };
    let of_parts = parts.iter().map(|part| ways(part, negated, own));
    if together {
        let of_parts = of_parts.collect::<Option<Vec<_>>>()?;
        return every(&of_parts);
    }
    let mut all = Vec::new();
    for of_part in of_parts {
        all.extend(of_part?);
        if all.len() > WAYS_MAX {
            return None;
        }
    }
    Some(all)
}

/// The ways in which all of several things are met.
pub(super) fn every(of_parts: &[Vec<Way>]) -> Option<Vec<Way>> {
    let mut all: Vec<Way> = vec![Vec::new()];
    for of_part in of_parts {
        if all.len().saturating_mul(of_part.len()) > WAYS_MAX {
            return None;
        }
        all = all
            .iter()
            .flat_map(|way| {
                of_part
                    .iter()
                    .map(move |more| [way.as_slice(), more].concat())
            })
            .collect();
    }
    Some(all)
}

/// What a sentence is read on: a measure, of one exercise where it is reported by exercise.
pub(super) type Read = (MeasureIx, Option<ExerciseIx>);

/// What a sentence is read on, unless it counts over several exercises or is no measure's.
pub(super) fn read_of(sentence: &Sentence, own: Option<ExerciseIx>) -> Option<Read> {
    match &sentence.subject {
        Subject::Measure { measure, over } => match over {
            Over::Plain => Some((*measure, own)),
            Over::Of(exercise) => Some((*measure, Some(*exercise))),
            Over::AnyExercise | Over::EveryExercise | Over::AtLeastExercises(_) => None,
        },
        Subject::Reached { .. } => None,
    }
}

/// The values that a leaf leaves its measure, where it says anything by itself.
pub(super) fn left(pack: &Pack, leaf: Leaf) -> Option<(Read, Values)> {
    let sentence = pack.sentences.get(leaf.sentence.at())?;
    let read = read_of(sentence, leaf.own)?;
    let measure = pack.measures.get(read.0.at())?;
    let met = values::meeting(pack, sentence)?;
    Some((
        read,
        if leaf.negated {
            met.rest_of(&values::whole(measure))
        } else {
            met
        },
    ))
}

/// Whether a leaf holds of the newest value, and not only of some value in its window.
pub(super) fn is_of_newest(pack: &Pack, leaf: Leaf) -> bool {
    let window = pack.sentences.get(leaf.sentence.at()).map(|one| one.window);
    match (window, leaf.negated) {
        (Some(Window::Latest | Window::LastSession), _) => true,
        (Some(Window::EachOfLast(n)), negated) => !negated || n == 1,
        (Some(Window::AnyOfLast(n)), negated) => negated || n == 1,
        (Some(Window::SessionsOfLast { k, n }), false) => k == n,
        (Some(Window::SessionsOfLast { k, .. }), true) => k == 1,
        _ => false,
    }
}

/// Whether a leaf is decided by one session, or one latest value, alone.
pub(super) fn is_of_one(pack: &Pack, leaf: Leaf) -> bool {
    let window = pack.sentences.get(leaf.sentence.at()).map(|one| one.window);
    match (window, leaf.negated) {
        (Some(Window::Latest | Window::LastSession), _) => true,
        (Some(Window::EachOfLast(1)), _) => true,
        (Some(Window::AnyOfLast(n)), negated) => !negated || n == 1,
        _ => false,
    }
}

/// The sentences of a way that exclude each other, where some do: no newest value suits them all.
pub(super) fn conflict(pack: &Pack, way: &[Leaf]) -> Option<Vec<Leaf>> {
    let mut held: BTreeMap<Read, (Values, Vec<Leaf>)> = BTreeMap::new();
    for leaf in way {
        if let Some(opposite) = way.iter().find(|other| opposes(pack, *leaf, **other)) {
            return Some(vec![*leaf, *opposite]);
        }
        if !is_of_newest(pack, *leaf) {
            continue;
        }
        let Some((read, values)) = left(pack, *leaf) else {
            continue;
        };
        let Some((so_far, leaves)) = held.get_mut(&read) else {
            if values.is_empty() {
                return Some(vec![*leaf]);
            }
            held.insert(read, (values, vec![*leaf]));
            continue;
        };
        *so_far = so_far.and(&values);
        leaves.push(*leaf);
        if so_far.is_empty() {
            return Some(leaves.clone());
        }
    }
    None
}

/// Whether one leaf wants a sentence met that another wants not met.
fn opposes(pack: &Pack, one: Leaf, other: Leaf) -> bool {
    let says = |leaf: Leaf| {
        let sentence = pack.sentences.get(leaf.sentence.at());
        sentence.map(|one| (&one.subject, &one.relation, one.window))
    };
    one.negated != other.negated && one.own == other.own && says(one) == says(other)
}

/// For each measure read, the values with which a course that never changes meets every leaf that says something of it
/// by itself. None where there is none for some measure.
pub(super) fn constant(pack: &Pack, way: &[Leaf]) -> Option<BTreeMap<Read, Values>> {
    let mut held: BTreeMap<Read, Values> = BTreeMap::new();
    for leaf in way {
        let Some((read, values)) = left(pack, *leaf) else {
            continue;
        };
        let so_far = match held.get(&read) {
            Some(so_far) => so_far.and(&values),
            None => values,
        };
        if so_far.is_empty() {
            return None;
        }
        held.insert(read, so_far);
    }
    Some(held)
}

/// A leaf in words.
pub(super) fn words(pack: &Pack, leaf: Leaf) -> String {
    let text = pack
        .sentences
        .get(leaf.sentence.at())
        .map_or("", |sentence| &sentence.text);
    if leaf.negated {
        format!("not `{text}`")
    } else {
        format!("`{text}`")
    }
}

/// Example values in words, a fact each.
pub(super) fn example(pack: &Pack, held: &BTreeMap<Read, Values>) -> String {
    let one = |((measure, exercise), values): (&Read, &Values)| {
        let measure = pack.measures.get(measure.at())?;
        let value = values::written(measure, values.example(measure)?);
        let exercise = exercise.and_then(|exercise| pack.exercises.get(exercise.at()));
        Some(match exercise {
            Some(exercise) => format!("`{}` {value} of `{}`", measure.name, exercise.key),
            None => format!("`{}` {value}", measure.name),
        })
    };
    let parts: Vec<String> = held.iter().filter_map(one).collect();
    parts.join(", ")
}

#[cfg(test)]
mod tests;

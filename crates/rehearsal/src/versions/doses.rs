//! Where every dose of an older pack stands on the ladders of a newer one.

use rungwise_engine::ladder::{map_rung, rung_values};
use rungwise_pack::compare::successor;
use rungwise_pack::model::{CheckedPack, Exercise};
use rungwise_pack::quantity::Key;

/// What becomes of an exercise's rungs.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Kept {
    /// The exercise of the older pack.
    pub exercise: Key,
    /// The exercise of the newer one; none: nobody goes on with it.
    pub is_now: Option<Key>,
    /// Rungs that stand as they are.
    pub same: usize,
    /// Rungs that go to the highest one not above them in any variable.
    pub lower: usize,
    /// Rungs for which there is none: the exercise is left out, with an ask.
    pub left_out: usize,
}

impl Kept {
    /// Whether every rung stands as it is, under the same name.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.lower == 0 && self.left_out == 0 && self.is_now.as_ref() == Some(&self.exercise)
    }
}

/// What becomes of each exercise of the older pack, in its order.
#[must_use]
pub fn kept_doses(old: &CheckedPack, new: &CheckedPack) -> Vec<Kept> {
    let kept = |was: &Exercise| {
        let is = successor(new, was);
        let mut kept = Kept {
            exercise: was.key.clone(),
            is_now: is.map(|is| is.key.clone()),
            same: 0,
            lower: 0,
            left_out: 0,
        };
        for rung in (0_u16..).take(was.rungs.len()) {
            let values = rung_values(was, rung);
            let mapped = is.and_then(|is| Some((is, map_rung(is, &values)?)));
            match mapped {
                None => kept.left_out += 1,
                Some((is, at)) if rung_values(is, at) == values => kept.same += 1,
                Some(_) => kept.lower += 1,
            }
        }
        kept
    };
    old.exercises.iter().map(kept).collect()
}

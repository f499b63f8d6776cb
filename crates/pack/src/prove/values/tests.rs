//! Sets of values: what meets a sentence, what is left of a range, and what `never` is.

use super::*;
use proptest::prelude::*;

fn set(ranges: &[(i64, i64)]) -> Values {
    Values(ranges.to_vec())
}

#[test]
fn the_rest_of_a_range_is_what_was_taken_out_of_it() {
    let whole = set(&[(0, 10)]);
    assert_eq!(set(&[(3, 5)]).rest_of(&whole), set(&[(0, 2), (6, 10)]));
    assert_eq!(set(&[(0, 10)]).rest_of(&whole), set(&[]));
    assert_eq!(set(&[]).rest_of(&whole), whole);
}

#[test]
fn never_is_above_every_number_and_a_value_of_its_own() {
    let whole = set(&[(0, 100), (NEVER, NEVER)]);
    let at_least = set(&[compared(Compare::AtLeast, Milli(12), 1)]).and(&whole);
    assert!(at_least.has(NEVER));
    assert_eq!(at_least.rest_of(&whole), set(&[(0, 11)]));
    let at_most = set(&[compared(Compare::AtMost, Milli(12), 1)]).and(&whole);
    assert!(!at_most.has(NEVER));
    assert_eq!(at_most.rest_of(&whole), set(&[(13, 100), (NEVER, NEVER)]));
}

#[test]
fn below_and_above_leave_the_number_out_by_one_step() {
    assert_eq!(compared(Compare::Below, Milli(3000), 1000).1, 2000);
    assert_eq!(compared(Compare::Above, Milli(3000), 500).0, 3500);
}

fn sets() -> impl Strategy<Value = Values> {
    prop::collection::btree_set(0_i64..40, 0..8).prop_map(|points| {
        let points: Vec<i64> = points.into_iter().collect();
        let pairs = points.chunks(2).filter_map(|pair| match pair {
            [low, high] => Some((*low, *high)),
            _ => None,
        });
        Values(pairs.collect())
    })
}

proptest! {
    /// Both operations say of each value what their names say.
    #[test]
    fn a_value_is_in_both_or_in_the_rest(one in sets(), other in sets(), value in -1_i64..42) {
        prop_assert_eq!(one.and(&other).has(value), one.has(value) && other.has(value));
        prop_assert_eq!(one.rest_of(&other).has(value), other.has(value) && !one.has(value));
    }
}

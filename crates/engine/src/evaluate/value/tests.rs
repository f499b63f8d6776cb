//! Values compare exactly, and an overflow decides nothing.

use super::{Range, between, compare};
use crate::evaluate::Possible;
use rungwise_pack::model::Compare;

fn range(low: i64, high: i64, den: i64) -> Range {
    Range { low, high, den }
}

fn check(how: Compare, value: Range, amount: i64, expected: Possible) {
    let amount = Range::one(amount);
    assert_eq!(compare(how, &value, &amount), expected, "{how:?} {value:?}");
}

#[test]
fn comparisons_include_and_exclude_their_ends() {
    check(Compare::AtMost, Range::one(3000), 3000, Possible::MET);
    check(Compare::AtMost, Range::one(3001), 3000, Possible::NOT);
    check(Compare::Below, Range::one(3000), 3000, Possible::NOT);
    check(Compare::AtLeast, Range::one(3000), 3000, Possible::MET);
    check(Compare::Above, Range::one(3000), 3000, Possible::NOT);
}

#[test]
fn a_missing_number_is_open_only_where_it_decides() {
    check(Compare::AtMost, range(0, 10_000, 1), 3000, Possible::OPEN);
    check(Compare::AtMost, range(4000, 10_000, 1), 3000, Possible::NOT);
    check(Compare::AtMost, range(0, 10_000, 1), 10_000, Possible::MET);
    check(Compare::Above, range(0, 10_000, 1), 10_000, Possible::NOT);
}

#[test]
fn means_are_exact_ratios() {
    // The mean of 3, 3 and 4 is not at most 3.333.
    check(
        Compare::AtMost,
        range(10_000, 10_000, 3),
        3333,
        Possible::NOT,
    );
    check(
        Compare::AtMost,
        range(10_000, 10_000, 3),
        3334,
        Possible::MET,
    );
}

#[test]
fn percentages_are_exact() {
    let other = Range::one(165_000).percent(80_000);
    let Some(other) = other else {
        unreachable!("small numbers do not overflow")
    };
    assert_eq!(
        compare(Compare::AtLeast, &Range::one(132_000), &other),
        Possible::MET
    );
    assert_eq!(
        compare(Compare::AtLeast, &Range::one(131_999), &other),
        Possible::NOT
    );
}

#[test]
fn between_includes_both_ends() {
    let (from, to) = (Range::one(10), Range::one(20));
    assert_eq!(between(&Range::one(10), &from, &to), Possible::MET);
    assert_eq!(between(&Range::one(20), &from, &to), Possible::MET);
    assert_eq!(between(&Range::one(21), &from, &to), Possible::NOT);
    assert_eq!(between(&range(0, 15, 1), &from, &to), Possible::OPEN);
    assert_eq!(between(&range(0, 9, 1), &from, &to), Possible::NOT);
}

#[test]
fn fail_closed_an_overflow_decides_nothing() {
    let huge = range(i64::MAX, i64::MAX, 1);
    let odd = range(1, 1, 3);
    // Comparing itself cannot overflow.
    assert_eq!(compare(Compare::AtMost, &huge, &odd), Possible::NOT);
    assert_eq!(huge.plus(1), None);
    assert_eq!(huge.minus(&odd), None);
    assert_eq!(huge.percent(2), None);
}

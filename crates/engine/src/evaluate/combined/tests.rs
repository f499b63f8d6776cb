//! Where parts lack, every value that they leave is in the range; where a formula ends, so does the number.

use super::{Domain, Over, estimate, gcd, in_domain, quotient, range, share};
use crate::evaluate::read::Read;
use crate::evaluate::value::{Range, Value};
use rungwise_pack::model::{Carrier, Measure, MeasureKind, Method, Origin, Worse};
use rungwise_pack::quantity::{Dimension, Milli, Unit};

fn measure(max: i64) -> Measure {
    Measure {
        name: "invented".into(),
        kind: MeasureKind::Number {
            unit: Unit {
                code: "1".into(),
                dimension: Dimension::One,
            },
            min: Milli(0),
            max: Milli::whole(max),
            step: Milli(1),
        },
        worse: Worse::Lower,
        origin: Origin::Reported,
        carrier: Carrier::Assessment,
        expected: false,
        both_sides: false,
        ratio: false,
        fresh_days: None,
        reported_by: Vec::new(),
    }
}

fn number(low: i64, high: i64, den: i64) -> Value {
    Value::Number(Range { low, high, den })
}

#[test]
fn a_formula_is_used_from_one_repetition_to_the_last_that_the_pack_allows() {
    let kind = |method, repetitions| match in_domain(method, repetitions, 15_000) {
        Domain::Below => "below",
        Domain::Inside(_) => "inside",
        Domain::Between(..) => "between",
        Domain::Past(_) => "past",
    };
    for method in [Method::Epley, Method::Brzycki] {
        assert_eq!(kind(method, 999), "below");
        assert_eq!(kind(method, 1000), "inside");
        assert_eq!(kind(method, 15_000), "inside");
        assert_eq!(kind(method, 15_001), "past");
        assert_eq!(kind(method, i64::MAX), "past");
    }
    assert_eq!(kind(Method::Epley, 1500), "between");
    assert_eq!(kind(Method::Brzycki, 1500), "inside");
}

#[test]
fn there_is_no_estimate_from_the_repetitions_on_at_which_the_formula_has_none() {
    assert!(estimate(Method::Brzycki, 1000, 36_000).is_some());
    assert!(estimate(Method::Brzycki, 1000, 37_000).is_none());
    assert!(estimate(Method::Brzycki, 1000, 38_000).is_none());
}

#[test]
fn a_quotient_of_ranges_holds_every_quotient_and_ends_at_what_the_measure_can_be() {
    let of = |of, to| quotient(&measure(10), of, to, 1);
    assert_eq!(of([6, 6], [9, 9]), Some(Read::Known(number(2000, 2000, 3))));
    assert_eq!(
        of([6, 6], [3, 9]),
        Some(Read::Missing(number(2000, 6000, 3)))
    );
    assert_eq!(
        of([6, 6], [0, 9]),
        Some(Read::Missing(number(2000, 30_000, 3))),
        "by what may be nothing"
    );
    assert_eq!(of([6, 6], [0, 0]), None, "by nothing");
    assert_eq!(
        of([60, 60], [1, 1]),
        Some(Read::Known(number(10_000, 10_000, 1))),
        "at most ten"
    );
}

#[test]
fn ranges_are_in_lowest_terms_and_what_does_not_fit_is_none() {
    let over = |num, den| Over { num, den };
    assert_eq!(range(over(10, 4), over(30, 6)), Some(number(5, 10, 2)));
    assert_eq!(range(over(i128::MAX, 1), over(1, 3)), None);
    assert_eq!(range(over(i128::from(i64::MAX), 1), over(1, 3)), None);
    assert_eq!(gcd(0, 7), 7);
}

#[test]
fn a_share_of_a_range_counts_from_either_end() {
    let at = |from, to| {
        let share = share(Over::whole(2000), from, to).unwrap_or(Over::whole(-1));
        share.num * 1000 / share.den
    };
    assert_eq!(at(1000, 5000), 25_000_000);
    assert_eq!(at(5000, 1000), 75_000_000);
}

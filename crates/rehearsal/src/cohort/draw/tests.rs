//! The sequence is pinned: a cohort of one seed is the same people on every machine and in every later version.

use super::{Draws, GAMMA, Purpose, item_of, mix};
use crate::cohort::model::Spread;

/// The first outputs of `SplitMix64` seeded with 1234567, as its author's C program gives them (from memory).
#[test]
fn the_generator_is_the_published_one() {
    let outputs: Vec<u64> = (0..5_u64)
        .map(|step| mix(1_234_567_u64.wrapping_add(GAMMA.wrapping_mul(step))))
        .collect();
    let published = [
        6_457_827_717_110_365_317,
        3_203_168_211_198_807_973,
        9_817_491_932_198_370_423,
        4_593_380_528_125_082_431,
        16_408_922_859_458_223_821,
    ];
    assert_eq!(outputs, published);
}

/// FNV-1a of the empty text and of `a`, published with the hash (from memory).
#[test]
fn names_are_hashed_as_published() {
    assert_eq!(item_of(""), 0xcbf2_9ce4_8422_2325);
    assert_eq!(item_of("a"), 0xaf63_dc4c_8601_ec8c);
}

#[test]
fn draws_are_pinned_and_differ_by_person_day_purpose_and_item() {
    let draws = Draws::of(1, 0);
    let at = |draws: Draws, purpose, day, item| draws.below(1_000_000, purpose, day, item);
    let first = at(draws, Purpose::Kept, 3, 7);
    assert_eq!(first, at(draws, Purpose::Kept, 3, 7));
    for other in [
        at(Draws::of(1, 1), Purpose::Kept, 3, 7),
        at(Draws::of(2, 0), Purpose::Kept, 3, 7),
        at(draws, Purpose::Day, 3, 7),
        at(draws, Purpose::Kept, 4, 7),
        at(draws, Purpose::Kept, 3, 8),
    ] {
        assert_ne!(first, other);
    }
    let some: Vec<i64> = (0..4).map(|day| at(draws, Purpose::Day, day, 0)).collect();
    assert_eq!(some, PINNED);
}

const PINNED: [i64; 4] = [543_843, 471_322, 575_820, 14_379];

#[test]
fn a_spread_is_filled_and_never_left() {
    let spread = Spread { low: -2, high: 2 };
    let mut even = [0_u32; 5];
    let mut middling = [0_u32; 5];
    for index in 0..5_000 {
        let draws = Draws::of(9, index);
        let drawn = draws.even(spread, Purpose::Value, 1, 0);
        even[usize::try_from(drawn + 2).unwrap()] += 1;
        let drawn = draws.middling(spread, Purpose::Trait, 4);
        middling[usize::try_from(drawn + 2).unwrap()] += 1;
    }
    assert!(
        even.iter().all(|count| (900..1_100).contains(count)),
        "{even:?}"
    );
    assert!(
        middling[2] > 2 * middling[0] && middling[2] > 2 * middling[4],
        "{middling:?}"
    );
    assert_eq!(Draws::of(1, 1).below(0, Purpose::Day, 0, 0), 0);
}

//! Criteria taken apart: what the ways of meeting one are, against the truth of every assignment.

use super::*;
use proptest::prelude::*;

fn sentence(at: u16) -> Criterion {
    Criterion::Sentence(SentenceIx(at))
}

fn criteria() -> impl Strategy<Value = Criterion> {
    let leaf = (0_u16..4).prop_map(sentence);
    leaf.prop_recursive(3, 12, 3, |inner| {
        let parts = prop::collection::vec(inner, 1..3);
        prop_oneof![
            parts.clone().prop_map(Criterion::All),
            parts.clone().prop_map(Criterion::Any),
            parts.prop_map(Criterion::None),
        ]
    })
}

/// Whether a criterion is met where these sentences are.
fn met(criterion: &Criterion, truth: &[bool; 4]) -> bool {
    match criterion {
        Criterion::Sentence(ix) => truth.get(ix.at()).copied().unwrap_or(false),
        Criterion::All(parts) => parts.iter().all(|part| met(part, truth)),
        Criterion::Any(parts) => parts.iter().any(|part| met(part, truth)),
        Criterion::None(parts) => !parts.iter().any(|part| met(part, truth)),
    }
}

proptest! {
    /// A criterion is met exactly where some way is, and not met exactly where some way of not meeting it is.
    #[test]
    fn the_ways_are_the_criterion(criterion in criteria(), truth in any::<[bool; 4]>()) {
        for negated in [false, true] {
            let ways = ways(&criterion, negated, None).expect("few ways");
            let holds = |leaf: &Leaf| truth[leaf.sentence.at()] != leaf.negated;
            let some = ways.iter().any(|way| way.iter().all(holds));
            prop_assert_eq!(some, met(&criterion, &truth) != negated);
        }
    }
}

#[test]
fn beyond_the_bound_nothing_is_said() {
    let either = || Criterion::Any(vec![sentence(0), sentence(1)]);
    let small = Criterion::All((0..11).map(|_| either()).collect());
    assert_eq!(
        ways(&small, false, None).map(|ways| ways.len()),
        Some(WAYS_MAX)
    );
    let large = Criterion::All((0..12).map(|_| either()).collect());
    assert_eq!(ways(&large, false, None), None);
}

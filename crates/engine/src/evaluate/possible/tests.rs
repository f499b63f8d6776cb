//! Verdict sets combine as design section 4 says.

use super::{Possible, Tally, Truth};
use crate::decision::RuleVerdict;
use rungwise_pack::model::Polarity;

const M: Possible = Possible::MET;
const N: Possible = Possible::NOT;
const F: Possible = Possible::NOT_FULL;
const OPEN: Possible = Possible::OPEN;

/// `entries` judged as at least `k` of `n`.
fn check(entries: &[Possible], k: u32, n: u32, expected: Possible) {
    let mut tally = Tally::default();
    for entry in entries {
        tally.add(*entry);
    }
    assert_eq!(tally.at_least(k, n), expected, "{entries:?} {k} of {n}");
}

#[test]
fn windows_decide_when_their_sessions_already_do() {
    check(&[M, M, M], 3, 3, M);
    check(&[M, N], 3, 3, N);
    check(&[M, M], 3, 3, F);
    check(&[M], 1, 3, M);
    check(&[N, N], 1, 3, F);
    check(&[N, N, N], 1, 3, N);
    check(&[], 1, 1, F);
    check(&[M, M, N], 2, 4, M);
    check(&[N, N, N], 2, 4, N);
    check(&[N, N, M], 2, 4, F);
}

#[test]
fn missing_values_leave_every_verdict_they_could_make() {
    check(&[OPEN, M, M], 3, 3, OPEN);
    check(&[OPEN, N, M], 3, 3, N);
    check(&[OPEN, M], 3, 3, N.or(F));
    check(&[OPEN, N], 1, 3, M.or(F));
    check(&[OPEN, OPEN], 1, 2, OPEN);
    check(&[OPEN], 2, 4, F);
    check(&[OPEN, OPEN], 2, 4, M.or(F));
    check(&[OPEN, OPEN, OPEN], 2, 4, M.or(N).or(F));
    check(&[F, M], 2, 2, F);
    check(&[F, N], 2, 2, N);
}

/// Every assignment of the entries' possibilities, judged plainly.
fn plainly(entries: &[Possible], k: usize, n: usize) -> Possible {
    let mut found = None::<Possible>;
    let count = 3usize.pow(u32::try_from(entries.len()).unwrap_or(0));
    for code in 0..count {
        let mut rest = code;
        let (mut met, mut not, mut possible) = (0usize, 0usize, true);
        for entry in entries {
            let one = [M, N, F].into_iter().nth(rest % 3).unwrap_or(F);
            rest /= 3;
            possible &= entry.has(one);
            met += usize::from(one == M);
            not += usize::from(one == N);
        }
        if possible {
            let one = if met >= k {
                M
            } else if not > n - k {
                N
            } else {
                F
            };
            found = Some(found.map_or(one, |before| before.or(one)));
        }
    }
    found.unwrap_or(Possible::ANY)
}

#[test]
fn the_tally_agrees_with_trying_every_value() {
    let kinds = [M, N, F, OPEN, M.or(F), N.or(F), Possible::ANY];
    for a in kinds {
        for b in kinds {
            for c in kinds {
                for n in 3..5 {
                    for k in 1..=n {
                        let mut tally = Tally::default();
                        for entry in [a, b, c] {
                            tally.add(entry);
                        }
                        let size = u32::try_from(n).unwrap_or(0);
                        let least = u32::try_from(k).unwrap_or(0);
                        assert_eq!(
                            tally.at_least(least, size),
                            plainly(&[a, b, c], k, n),
                            "{a:?} {b:?} {c:?}: {k} of {n}"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn not_yet_full_never_makes_a_rule_met_negated_or_not() {
    assert_eq!(F.truth(false), Truth::FALSE);
    assert_eq!(F.truth(true), Truth::FALSE);
    assert_eq!(M.truth(true), Truth::FALSE);
    assert_eq!(N.truth(true), Truth::TRUE);
    assert_eq!(M.or(F).truth(false).verdict(), RuleVerdict::InDoubt);
}

#[test]
fn fail_closed_anything_is_never_certain() {
    for negated in [false, true] {
        assert_eq!(Possible::ANY.truth(negated).verdict(), RuleVerdict::InDoubt);
    }
}

#[test]
fn two_ends_of_a_day_window_count_by_the_more_cautious() {
    let up = |one: Possible, two, negated| one.cautious_of(two, Polarity::Upward, negated);
    let down = |one: Possible, two, negated| one.cautious_of(two, Polarity::Cautious, negated);
    assert_eq!(up(M, N, false), N);
    assert_eq!(up(M, F, false), F);
    assert_eq!(up(N, M, true), M);
    assert_eq!(down(M, N, false), M);
    assert_eq!(down(M, N, true), N);
    assert_eq!(up(OPEN, M, false), OPEN);
    assert_eq!(down(OPEN, M, false), M);
}

//! Which of a pack's versions an episode comes under that opens on a date. What becomes of episodes under way is tested over
//! gRPC (`tests/grpc/life.rs`).

use super::{Version, for_new};
use jiff::civil::{Date, date};
use rungwise_api::content::PackFor;

/// Approved on this day of May, in force from that one on.
fn version(position: u64, approved: i8, from: Option<i8>) -> Version {
    Version {
        position,
        digest: [u8::try_from(position).unwrap_or(0); 32],
        recorded_on: may(approved),
        from: from.map(may),
        for_episodes: PackFor::All,
    }
}

fn may(day: i8) -> Date {
    date(2026, 5, day)
}

fn check(versions: &[Version], expected: &[(i8, Option<u8>)]) {
    for (day, wanted) in expected {
        let found = for_new(versions, may(*day)).map(|digest| digest[0]);
        assert_eq!(found, *wanted, "on {day} May of {versions:?}");
    }
}

#[test]
fn a_version_counts_from_its_date_on_and_the_last_to_begin_stands() {
    check(&[], &[(1, None)]);
    let scheduled = version(1, 2, Some(10));
    check(&[scheduled], &[(9, None), (10, Some(1)), (31, Some(1))]);
    let at_once = version(2, 5, None);
    check(
        &[scheduled, at_once],
        &[(1, Some(2)), (9, Some(2)), (10, Some(1))],
    );
    let later = version(3, 12, None);
    check(&[scheduled, at_once, later], &[(9, Some(3)), (31, Some(3))]);
    let earlier = version(4, 12, Some(8));
    check(
        &[scheduled, at_once, earlier],
        &[(8, Some(4)), (10, Some(1))],
    );
}

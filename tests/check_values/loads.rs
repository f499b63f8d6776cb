//! Loads of the banded exercises set with ordinary bands for short and tall people: gentle to begin with, and up in steps.
//!
//! Leaves to others: what the ladders say at rest (`crate::trade`), the mechanics (`rungwise-bands`).

use crate::person::Person;
use crate::trade::BANDED;
use rungwise_engine::band::Held;
use rungwise_engine::decision::Decision;
use std::collections::BTreeMap;

/// Heights in cm for which the loads were chosen (our judgement).
const HEIGHTS_CM: [u32; 4] = [150, 165, 180, 195];

/// How each banded exercise in place is held.
fn held(decision: &Decision) -> BTreeMap<String, Held> {
    let places = decision.state.places.iter();
    let banded = places.filter(|place| BANDED.contains(&&*place.exercise));
    banded
        .map(|place| {
            let setting = place.setting.as_ref();
            let held = setting.and_then(|setting| setting.held());
            let held = held.unwrap_or_else(|| panic!("{} is not held", place.exercise));
            (place.exercise.to_string(), held.clone())
        })
        .collect()
}

/// Everybody begins with the lightest of three bands, whichever the exercise, and the load asked for.
#[test]
fn the_lightest_band_begins_every_exercise() {
    for height_cm in HEIGHTS_CM {
        for er in ["er-band-towel", "er-band"] {
            let places = format!("{er} = {{ sets = 3, range = 30, reps = 8 }}");
            let mut person =
                Person::placed("banded-strengthening", &places).measured(height_cm, 2_500);
            let all = held(&person.ask());
            assert_eq!(all.len(), 5, "{height_cm} cm");
            for (exercise, held) in all {
                assert_eq!(
                    (&*held.grip.band, held.grip.strands, held.is_short),
                    ("light", 1, false),
                    "{exercise} at {height_cm} cm"
                );
            }
        }
    }
}

/// Asked after every second session, every load climbs by 2 to 10 % each time (ACSM 2009), and the next band is the next
/// stronger one. The pull-apart, whose load climbs every second time, has come at least to the middle band when the safety
/// questions are asked again.
#[test]
fn loads_climb_by_2_to_10_per_cent_from_band_to_band() {
    for (height_cm, room_mm) in [(150, 2_000), (170, 2_500), (195, 2_500)] {
        let tops = "ir-band = { sets = 3, range = 45, reps = 15 }, raise-band = { sets = 3, range = 90, reps = 15 }, \
             pull-back = { sets = 3, range = 60, reps = 15 }, \
             pull-apart = { sets = 3, reps = 15, position = \"shoulder height\" }, \
             er-band = { sets = 3, range = 45, reps = 15 }";
        let mut person = Person::placed("full-use", tops).measured(height_cm, room_mm);
        let mut before = held(&person.ask());
        let first = before.iter().map(|(exercise, held)| {
            let band = held.grip.band.to_string();
            (exercise.clone(), vec![band])
        });
        let mut bands: BTreeMap<String, Vec<String>> = first.collect();
        for _ in 0..27 {
            person.days(2);
            let now = held(&person.ask());
            for (exercise, held) in &now {
                let last = &before[exercise];
                let (more, from) = ((held.torque_mnm - last.torque_mnm) * 100, last.torque_mnm);
                assert!(
                    more == 0 || (more >= 2 * from && more <= 10 * from),
                    "{exercise} at {height_cm} cm: {} to {} mN.m",
                    last.torque_mnm,
                    held.torque_mnm
                );
                let seen = bands.entry(exercise.clone()).or_default();
                if seen.last().map(String::as_str) != Some(&*held.grip.band) {
                    seen.push(held.grip.band.to_string());
                }
            }
            before = now;
        }
        for (exercise, seen) in bands {
            let least = if exercise == "pull-apart" { 2 } else { 3 };
            let all = ["light", "middle", "strong"];
            assert!(
                seen.len() >= least && seen == all[..seen.len()],
                "{exercise} at {height_cm} cm: {seen:?}"
            );
        }
    }
}

//! A person who does everything, reports everything and is as well as can be reaches DISCHARGE however the next
//! prescription is asked for, and in a time that a clinic would accept.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]

mod support;

use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::fact::{Assessment, Episode, Fact, FactKind, MorningAfter, Reading, Value};
use rungwise_pack::model::{Carrier, CheckedPack, MeasureKind, Origin, Outcome, Reporter, Worse};
use rungwise_pack::quantity::Milli;
use rungwise_rehearsal::diary::{Entry, SessionPlan};
use rungwise_rehearsal::play::Player;

const OPENED: Date = date(2026, 1, 5);

/// When the next prescription is asked for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Asking {
    /// Every so many days, from this one on.
    Every(u32, u32),
    /// On days drawn from this number, about one in so many.
    Drawn(u64, u64),
}

/// Every measure of a carrier at its best.
fn best(pack: &CheckedPack, carrier: Carrier) -> Vec<Reading> {
    let measures = pack
        .measures
        .iter()
        .filter(|measure| measure.carrier == carrier)
        .filter(|measure| matches!(measure.origin, Origin::Reported));
    measures
        .map(|measure| {
            let value = match &measure.kind {
                MeasureKind::Choice { choices } => Value::Choice(choices[0].clone()),
                MeasureKind::Number { max, .. } if measure.worse == Worse::Lower => {
                    Value::Number(*max)
                }
                MeasureKind::Number { min, .. } => Value::Number(*min),
            };
            Reading {
                measure: measure.name.clone(),
                value,
            }
        })
        .collect()
}

fn asks(asking: Asking, day: u32) -> bool {
    match asking {
        Asking::Every(days, from) => day == 0 || (day >= from && (day - from).is_multiple_of(days)),
        Asking::Drawn(number, one_in) => {
            // A linear congruential step: any fixed scatter will do.
            let mixed = (number ^ u64::from(day))
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            day == 0 || (mixed >> 33).is_multiple_of(one_in)
        }
    }
}

/// How a course goes.
#[derive(Clone, Copy, Debug)]
struct Course {
    asking: Asking,
    /// Whether the day's ask comes before its session.
    before: bool,
    /// Whether the first assessment is at its worst, so that care begins with the first phase.
    from_the_first_phase: bool,
    /// Pain on every next morning; a perfect patient has none.
    ache: i64,
}

/// Plays so many days: every session that the phase prescribes, its morning, an assessment every two weeks, the safety
/// questions every six. The day of the discharge.
fn discharged_on(pack: &CheckedPack, course: Course, days: u32) -> Option<u32> {
    let episode = Episode {
        opened_on: OPENED,
        born_on: None,
        imported: false,
    };
    let mut player = Player::new(pack, episode);
    let mut trained = false;
    for day in 0..days {
        let date = OPENED.checked_add(i64::from(day).days()).unwrap();
        for kind in reports(pack, course, day, trained) {
            let by = Reporter::Clinician;
            player
                .report(date, &Entry::Fact(Fact { date, by, kind }))
                .unwrap();
        }
        let asks = asks(course.asking, day);
        // On the first day nothing is prescribed before the first ask.
        let before = course.before || day == 0;
        if before && asks && outcome(&mut player, date) == Outcome::Discharge {
            return Some(day);
        }
        trained = trains(pack, &player, day);
        if trained {
            player.report(date, &session(pack, date)).unwrap();
        }
        if !before && asks && outcome(&mut player, date) == Outcome::Discharge {
            return Some(day);
        }
    }
    None
}

fn reports(pack: &CheckedPack, course: Course, day: u32, trained: bool) -> Vec<FactKind> {
    let mut facts = Vec::new();
    if trained {
        let session_date = OPENED
            .checked_add(i64::from(day).days())
            .unwrap()
            .checked_sub(1.day())
            .unwrap();
        let mut readings = best(pack, Carrier::MorningAfter);
        for reading in &mut readings {
            if let Value::Number(value) = &mut reading.value {
                *value = Milli::whole(course.ache);
            }
        }
        facts.push(FactKind::MorningAfter(MorningAfter {
            session_date,
            session_number: None,
            readings,
        }));
    }
    if day.is_multiple_of(42) {
        facts.push(FactKind::Screening(best(pack, Carrier::Screening)));
    }
    if day.is_multiple_of(14) {
        facts.push(FactKind::Assessment(assessment(
            pack,
            course.from_the_first_phase && day == 0,
        )));
    }
    facts
}

fn session(pack: &CheckedPack, date: Date) -> Entry {
    Entry::Session(SessionPlan {
        date,
        number: 1,
        readings: best(pack, Carrier::Session),
        rest: Some(best(pack, Carrier::Exercise)),
        exercises: Vec::new(),
    })
}

/// Whether the phase in force wants a session on this day: as many a week as it prescribes, spread over the week.
fn trains(pack: &CheckedPack, player: &Player<'_>, day: u32) -> bool {
    let decision = player
        .history()
        .last_decision()
        .map(|(_, _, decision)| decision);
    let phase = decision.and_then(|decision| decision.state.phase.clone());
    let phase = phase
        .and_then(|phase| pack.phase(&phase))
        .map(|index| &pack.phases[index.at()]);
    phase.is_some_and(|phase| {
        day % 7 * u32::from(phase.sessions_a_week) % 7 < u32::from(phase.sessions_a_week)
    })
}

fn outcome(player: &mut Player<'_>, date: Date) -> Outcome {
    let (number, _) = player.ask(date).unwrap();
    player.history().decision(number).unwrap().1.outcome
}

/// Everything at its best; at the very beginning perhaps with one value that no start rule takes.
fn assessment(pack: &CheckedPack, weak: bool) -> Assessment {
    let mut readings = best(pack, Carrier::Assessment);
    if weak {
        for reading in &mut readings {
            let index = pack.measure(&reading.measure).unwrap();
            if let MeasureKind::Number { min, max, .. } = &pack.measures[index.at()].kind {
                let worst = if pack.measures[index.at()].worse == Worse::Lower {
                    min
                } else {
                    max
                };
                reading.value = Value::Number(*worst);
            }
        }
    }
    let both = |reading: &&Reading| {
        let index = pack.measure(&reading.measure).unwrap();
        pack.measures[index.at()].both_sides
    };
    let other_side = best(pack, Carrier::Assessment)
        .iter()
        .filter(both)
        .cloned()
        .collect();
    Assessment {
        readings,
        other_side,
        other_side_sound: true,
    }
}

/// The longest that a course may last, in days: sixteen asks besides the weeks that the rules ask for.
fn days_max(asking: Asking) -> u32 {
    84 + 16
        * match asking {
            Asking::Every(days, _) => days,
            Asking::Drawn(_, one_in) => 4 * u32::try_from(one_in).unwrap(),
        }
}

fn check(pack: &CheckedPack, asking: Asking) {
    for (before, from_the_first_phase) in
        [(false, false), (false, true), (true, false), (true, true)]
    {
        let course = Course {
            asking,
            before,
            from_the_first_phase,
            ache: 0,
        };
        let days = days_max(asking);
        let on = discharged_on(pack, course, days);
        assert!(on.is_some(), "no discharge within {days} days: {course:?}");
        assert!(
            on >= Some(84),
            "discharged on day {on:?}, before week 12: {course:?}"
        );
    }
}

#[test]
fn asked_every_so_many_days_a_perfect_patient_is_discharged() {
    let pack = support::pack("rotator-cuff");
    for every in [1, 2, 3, 5, 7, 10, 14] {
        for from in 0..every.min(2) {
            check(&pack, Asking::Every(every, from));
        }
    }
}

#[test]
fn asked_on_days_drawn_a_perfect_patient_is_discharged() {
    let pack = support::pack("rotator-cuff");
    for number in 0..6 {
        check(&pack, Asking::Drawn(number, 1 + number % 6));
    }
}

/// The twin: somebody who never gets rid of the pain is never discharged.
#[test]
fn whoever_stays_in_pain_is_not_discharged() {
    let pack = support::pack("rotator-cuff");
    let course = Course {
        asking: Asking::Every(3, 0),
        before: false,
        from_the_first_phase: true,
        ache: 3,
    };
    assert_eq!(discharged_on(&pack, course, 150), None);
}

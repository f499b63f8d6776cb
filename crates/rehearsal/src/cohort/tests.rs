//! Cohorts under the packs of this repository and under a small one.
#![allow(
    clippy::disallowed_methods,
    reason = "reads the packs of the repository"
)]

use super::life::played;
use super::*;
use crate::read::tests::{files, pack};
use rungwise_engine::admit::{Before, admit};
use rungwise_engine::fact::{Body, Fact, FactKind};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use std::path::Path;

const WEEKS: u32 = 26;

/// Every pack of the repository.
pub(super) fn packs() -> Vec<CheckedPack> {
    let rules = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../rules");
    let mut folders: Vec<_> = std::fs::read_dir(rules)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.join("pack.toml").is_file())
        .collect();
    folders.sort();
    assert!(folders.len() >= 3);
    folders.iter().map(|folder| of_folder(folder)).collect()
}

fn of_folder(folder: &Path) -> CheckedPack {
    let mut files = Vec::new();
    for sub in ["", "text"] {
        for entry in std::fs::read_dir(folder.join(sub)).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                files.push((name, std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    rungwise_pack::check(&SourceFiles::new(files)).pack.unwrap()
}

/// The small pack with a text of its files replaced.
fn edited(from: &str, to: &str) -> CheckedPack {
    let files = files();
    let mut found = false;
    let texts = files.files().iter().map(|file| {
        found |= file.text.contains(from);
        (file.name.clone(), file.text.replace(from, to))
    });
    let texts = texts.collect();
    assert!(found, "{from} is not there");
    rungwise_pack::check(&SourceFiles::new(texts)).pack.unwrap()
}

fn model(text: &str) -> Model {
    Model::read(text).unwrap()
}

fn facts(history: &rungwise_engine::history::History) -> Vec<&Fact> {
    let records = history.records().iter();
    records
        .filter_map(|one| match &one.body {
            Body::Fact(fact) => Some(fact),
            Body::Decision(_) => None,
        })
        .collect()
}

#[test]
fn the_same_seed_gives_the_same_people_in_any_order_and_another_seed_others() {
    let (pack, model) = (pack(), Model::default());
    let ready = Ready::new(&pack, &model, WEEKS);
    let whole = cohort(&ready, 1, 0..60);
    let mut parts = cohort(&ready, 1, (25..60).rev());
    parts.merge(&cohort(&ready, 1, 0..25));
    assert_eq!(whole, parts);
    assert_ne!(whole, cohort(&ready, 2, 0..60));
    assert_eq!(whole.people, 60);
    assert!(whole.ended.came() > 0);

    let (one, other, paired) = compared(&ready, &ready, 1, 0..60);
    assert_eq!((&one, &other), (&whole, &whole));
    assert_eq!(paired.ended.same, 60);
    assert_eq!(paired.ended.half_width_milli(), Some(0));
}

/// Facts are recorded without being admitted, so that a course costs little; each would have been.
#[test]
fn everything_that_a_person_tells_is_understood_by_the_pack() {
    let model = model("warning_signs_permille_a_year = 3000\nother_side_sound_permille = 500\n");
    for pack in &packs() {
        let ready = Ready::new(pack, &model, WEEKS);
        for index in 0..4 {
            let person = Person::new(&model, 7, index);
            let (life, history) = played(&ready, &person);
            let records = history.records();
            for (at, record) in records.iter().enumerate() {
                let Body::Fact(fact) = &record.body else {
                    continue;
                };
                let before = Before::new(history.episode(), &records[..at]);
                let admitted = admit(pack, &before, fact, record.recorded_on);
                assert!(admitted.is_ok(), "{}: {fact:?}: {admitted:?}", pack.id);
            }
            assert!(
                life.sessions > 0 && records.len() > 50,
                "{}: {life:?}",
                pack.id
            );
        }
    }
}

#[test]
fn some_come_to_every_phase_of_every_pack_and_gaps_are_what_holds_most() {
    let whole = model(
        "kept_permille = 1000\nmorning_told_permille = 1000\nvalue_told_permille = 1000\nsets_told_permille = 1000\n",
    );
    let usual = Model::default();
    for pack in &packs() {
        let (usual, whole) = (
            cohort(&Ready::new(pack, &usual, WEEKS), 1, 0..60),
            cohort(&Ready::new(pack, &whole, WEEKS), 1, 0..60),
        );
        for (phase, arrivals) in pack.phases.iter().zip(&usual.phases) {
            assert!(
                arrivals.came() > 0,
                "nobody comes to {} of {}",
                phase.key,
                pack.id
            );
            assert_eq!(arrivals.people(), 60);
        }
        let last = |cohort: &Cohort| cohort.phases.last().map(Arrivals::came);
        assert!(last(&whole) > last(&usual), "{}", pack.id);
        assert!(
            whole.held.iter().sum::<u64>() < usual.held.iter().sum(),
            "{}",
            pack.id
        );
        assert!(usual.days_without < usual.days && usual.sessions < usual.days);
    }
}

/// What comes from outside is the same under another pack that decides otherwise, and so is what the first day tells.
#[test]
fn the_draws_of_a_person_do_not_depend_on_the_pack() {
    let model = model(
        "overload_flare_up_permille = 0\nflare_ups_permille_a_year = 6000\nflare_up_event = \"fall\"\n",
    );
    let (one, other) = (pack(), edited("sessions_a_week = 7", "sessions_a_week = 2"));
    let other = (other, edited("at least 100 deg", "at least 175 deg"));
    let ready = Ready::new(&one, &model, WEEKS);
    let mut seen = 0;
    for index in 0..20 {
        let person = Person::new(&model, 3, index);
        let (life, history) = played(&ready, &person);
        for other in [&other.0, &other.1] {
            let ready = Ready::new(other, &model, WEEKS);
            let (with, told) = played(&ready, &person);
            let last = [life.ended, with.ended].into_iter().flatten().min();
            let last = last.and_then(|day| ready.dates.get(day as usize));
            let outside = |history| {
                let facts = facts(history).into_iter().filter(|fact| {
                    let outside = matches!(fact.kind, FactKind::Event(_) | FactKind::Away { .. });
                    outside && last.is_none_or(|last| fact.date < *last)
                });
                facts.cloned().collect::<Vec<Fact>>()
            };
            assert_eq!(outside(&history), outside(&told));
            seen += outside(&told).len();
            let first = |history| {
                facts(history)
                    .into_iter()
                    .take(2)
                    .cloned()
                    .collect::<Vec<_>>()
            };
            assert_eq!(first(&history), first(&told));
        }
    }
    assert!(seen > 20, "{seen}");
}

/// Until the looser pack enters the phase both courses are the same, so the stricter one cannot have entered it before.
#[test]
fn a_stricter_way_into_the_second_phase_is_never_an_earlier_one() {
    let model = Model::default();
    let (loose, strict) = (pack(), edited("at least 100 deg", "at least 130 deg"));
    let ready = (
        Ready::new(&loose, &model, WEEKS),
        Ready::new(&strict, &model, WEEKS),
    );
    let (_, _, paired) = compared(&ready.0, &ready.1, 5, 0..100);
    let (key, second) = &paired.phases[1];
    assert_eq!(&**key, "last");
    assert_eq!(second.less, 0);
    assert!(second.more > 20, "{second:?}");
    assert!(second.mean_milli() > 0);
}

#[test]
fn who_recovers_faster_is_not_discharged_less_often() {
    let (pack, rates) = (pack(), [0, 20, 60, 200, 600]);
    let mut before = 0;
    let mut counts = Vec::new();
    for rate in rates {
        let model = model(&format!("recovery_permille_a_week = {rate}\n"));
        let ended = cohort(&Ready::new(&pack, &model, WEEKS), 1, 0..60)
            .ended
            .came();
        assert!(ended >= before, "{rate}: {ended} after {before}");
        before = ended;
        counts.push(ended);
    }
    assert!(counts[0] < counts[4], "{counts:?}");
}

#[test]
fn who_does_not_recover_is_stuck_and_by_what_is_told() {
    let (pack, model) = (
        pack(),
        model("recovery_permille_a_week = 0\nstart_permille = 150\nstuck_weeks = 3\n"),
    );
    let ready = Ready::new(&pack, &model, WEEKS);
    let stuck = cohort(&ready, 1, 0..20);
    assert_eq!((stuck.stuck, stuck.stuck_in.as_slice()), (20, &[20, 0][..]));
    let reach = pack
        .sentences
        .iter()
        .position(|one| one.text == "reach at least 100 deg");
    assert_eq!(stuck.stuck_lacked[reach.unwrap()], 20);
    assert_eq!(stuck.ended.came(), 0);
}

#[test]
fn a_warning_sign_refers_and_is_cleared() {
    let model = model("warning_signs_permille_a_year = 100000\nscreened_every_days = 7\n");
    let pack = &packs()[0];
    let referred = cohort(&Ready::new(pack, &model, WEEKS), 1, 0..10);
    assert_eq!(referred.referred_people, 10);
    assert!(
        referred.referrals > 10 && referred.days_without > 0,
        "{referred:?}"
    );
    assert!(referred.phases[0].came() > 0);
}

/// Worked by hand: of 1, 1, 1, -1, 0 the mean is 0.4, the variance 0.8, the standard error 0.4.
#[test]
fn the_interval_of_a_mean_is_the_ordinary_one() {
    let mut differences = Differences::default();
    assert_eq!(differences.half_width_milli(), None);
    for one in [1, 1, 1, -1, 0] {
        paired::add(&mut differences, one);
    }
    assert_eq!(
        (differences.less, differences.same, differences.more),
        (1, 1, 3)
    );
    assert_eq!(differences.mean_milli(), 400);
    assert_eq!(differences.half_width_milli(), Some(784));
    assert_eq!(differences.seen_from_milli(), Some(1121));
}

#[test]
fn a_share_of_all_people_comes_by_a_day_or_does_not() {
    let arrivals = tally::arrivals(&[Some(3), Some(3), Some(9), None]);
    assert_eq!((arrivals.came(), arrivals.people()), (3, 4));
    let days = [1, 500, 501, 750, 751].map(|permille| arrivals.day_of(permille));
    assert_eq!(days, [Some(3), Some(3), Some(9), Some(9), None]);
}

#[test]
fn what_no_pack_has_is_named() {
    let model = model(
        "events_at_start = [\"fall\", \"flood\"]\n[measure.reach]\nrecovered_permille = 0\nworst_permille = 9\n\
         [measure.fever]\nrecovered_permille = 0\nworst_permille = 9\n",
    );
    let said: Vec<String> = unknown_to(&model, &[&pack()])
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(
        said,
        [
            "`measure.\"fever\"`: no measure of the pack that symptoms move is called so",
            "`events_at_start`: the pack has no event `flood`",
        ]
    );
}

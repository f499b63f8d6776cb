//! The plot of the README beside what it is of: the loads that the demo's decisions set, and what her bands would have given
//! where she stood.

use super::{Compared, Course};
use crate::input::{PackFiles, diary};
use rungwise_bands::band::Band;
use rungwise_bands::body::Body;
use rungwise_bands::curve::{Curve, Measured};
use rungwise_bands::motion::Arc;
use rungwise_bands::profile::{Pull, Setting};
use rungwise_engine::band::{Held, motion};
use rungwise_engine::fact::{Equipment, FactKind, Value};
use rungwise_pack::model::{BandWork, CheckedPack};
use rungwise_rehearsal::diary::{Diary, Entry};
use rungwise_rehearsal::play;

const EXERCISE: &str = "ir-band";
const HEIGHT: &str = "standing height";

fn demo() -> (CheckedPack, Diary) {
    let mut packs = PackFiles::embedded();
    let files = packs.find(|files| files.called.ends_with("rotator-cuff"));
    let files = files.unwrap();
    let pack = files.checked().unwrap();
    let text = files.diary("demo.toml").unwrap();
    let read = diary(&pack, "demo.toml", text).unwrap();
    (pack, read)
}

fn compared() -> Compared {
    Compared::read(include_str!("../../../../../deploy/inward-turn.toml")).unwrap()
}

/// The loads of a course: from when, how much, and what is said beside it.
fn loads(course: &Course) -> Vec<(String, i64, String)> {
    let loads = course.loads.iter();
    loads
        .map(|load| {
            let note = load.note.clone().unwrap_or_default();
            (load.from.to_string(), load.torque_mnm, note)
        })
        .collect()
}

/// How the band is held from each date on which that changed.
fn held() -> Vec<(String, Held)> {
    let (pack, diary) = demo();
    let mut found: Vec<(String, Held)> = Vec::new();
    for asked in play(&pack, &diary).asked {
        let mut places = asked.decision.state.places.iter();
        let place = places.find(|place| &*place.exercise == EXERCISE);
        let setting = place.and_then(|place| place.setting.as_ref());
        let Some(held) = setting.and_then(|setting| setting.held()) else {
            continue;
        };
        if found.last().is_none_or(|(_, last)| last.grip != held.grip) {
            found.push((asked.date.to_string(), held.clone()));
        }
    }
    found
}

#[test]
fn the_first_course_is_what_the_demo_prescribed() {
    let mut last = String::new();
    let prescribed: Vec<(String, i64, String)> = held()
        .into_iter()
        .map(|(from, held)| {
            let band = held.grip.band.to_string();
            let stance = format!("{} cm", held.grip.stance_mm / 10);
            let note = if band == last {
                stance
            } else {
                format!("{band}, {stance}")
            };
            last = band;
            (from, held.torque_mnm, note)
        })
        .collect();
    assert_eq!(loads(&compared().courses[0]), prescribed);
}

fn equipment(diary: &Diary) -> Equipment {
    let entries = diary.steps.iter().flat_map(|step| &step.entries);
    let mut found = entries.filter_map(|entry| match entry {
        Entry::Fact(fact) => match &fact.kind {
            FactKind::Equipment(equipment) => Some(equipment.clone()),
            _ => None,
        },
        _ => None,
    });
    found.next().unwrap()
}

fn height_mm(diary: &Diary) -> i64 {
    let entries = diary.steps.iter().flat_map(|step| &step.entries);
    let mut found = entries.filter_map(|entry| match entry {
        Entry::Fact(fact) => match &fact.kind {
            FactKind::Assessment(assessment) => {
                let mut readings = assessment.readings.iter();
                let height = readings.find(|reading| &*reading.measure == HEIGHT)?;
                match height.value {
                    Value::Number(cm) => Some(cm.0 / 100),
                    _ => None,
                }
            }
            _ => None,
        },
        _ => None,
    });
    found.next().unwrap()
}

/// What a band gives at the angle at which the load is stated, held as the first one was.
fn given(work: &BandWork, band: &Band, first: &Held, height_mm: i64) -> i64 {
    let setting = Setting {
        band: 0,
        strands: 1,
        working_length_mm: first.grip.working_length_mm,
        stance_mm: first.grip.stance_mm,
    };
    let arc = Arc {
        from_mdeg: work.from_mdeg,
        to_mdeg: work.load_at_mdeg + 1_000,
    };
    let body = Body::from_height(height_mm).unwrap();
    let motion = motion(&work.motion);
    let pull = Pull::new(&motion, &body, band, &setting, arc).unwrap();
    pull.point(work.load_at_mdeg).unwrap().band_mnm
}

#[test]
fn the_second_course_is_what_each_next_band_gives_where_she_first_stood() {
    let (pack, diary) = demo();
    let exercise = pack.exercise(EXERCISE).unwrap();
    let work = pack.exercises[exercise.at()].band.as_ref().unwrap();
    let (_, first) = &held()[0];
    let bands = equipment(&diary).bands;
    let by_band: Vec<(i64, String)> = bands
        .iter()
        .map(|band| {
            let points = band.points.iter().map(|point| Measured {
                elongation_mpct: point.elongation.0,
                force_mn: point.force.0,
            });
            let curve = Curve::from_points(&points.collect::<Vec<_>>()).unwrap();
            let rest_length_mm = u32::try_from(band.rest_length_mm).unwrap();
            let label = band.label.to_string();
            let safe_mpct = band.elongation_max.0;
            let made = Band::new(label.clone(), rest_length_mm, curve, safe_mpct).unwrap();
            (given(work, &made, first, height_mm(&diary)), label)
        })
        .collect();
    let course = loads(&compared().courses[1]);
    let drawn: Vec<(i64, String)> = course
        .into_iter()
        .map(|(_, torque_mnm, note)| (torque_mnm, note))
        .collect();
    assert_eq!(drawn, by_band);
}

#[test]
fn the_plot_of_the_readme_is_drawn_of_them() {
    let drawn = include_str!("../../../../../deploy/inward-turn.svg");
    assert_eq!(compared().drawn().unwrap(), drawn);
}

//! Loads of a banded exercise (SEMANTICS.md, section 9). The bands are invented.

use super::course::{Course, day, moved, number, place, relief};
use crate::band::{Bind, Held, Hold};
use crate::decision::{Cause, Decision, Move, Wanted};
use crate::explain::{View, explain};
use crate::fact::{Assessment, BandPoint, DecisionNo, Equipment, FactKind, MeasuredBand, Order};
use crate::prescription::{WhyLeftOut, change_permille, prescription};
use crate::sample::golden;
use crate::sheet::sheet;
use rungwise_pack::model::{Outcome, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

const LADDER: &str = "exercise = \"lift-low\"\ngives_way = [\"reps\"]\nreturn_at = 1\n\n\
    [[line.exercise.ladder]]\nvariable = \"reps\"\nvalues = [6, 8, 10, 12]";

const BANDED: &str = "exercise = \"lift-low\"\ngives_way = [\"load\", \"reps\"]\nreturn_at = 1\n\
    start = { reps = 8, load = 2 }\n\n\
    [line.exercise.band]\nmotion = \"rotation\"\nfrom = \"-30 deg\"\nto = \"30 deg\"\nload_at = \"0 deg\"\n\
    step_min = \"2 %\"\nstep_max = \"10 %\"\ndistance = { from = \"40 cm\", to = \"250 cm\" }\n\
    anchor = { above_joint = \"0 cm\", bearing = \"-90 deg\" }\n\
    judgement = { by = \"nobody\", why = \"invented\" }\n\n\
    [[line.exercise.ladder]]\nvariable = \"load\"\n\
    values = { from = 1.5, to = 6, unit = \"N.m\", step = \"8 %\" }\nfull = \"stays\"\n\
    judgement = { by = \"nobody\", why = \"invented\" }\n\n\
    [[line.exercise.ladder]]\nvariable = \"reps\"\nvalues = [8, 10]";

const HEIGHT: &str = "[[measure]]\nname = \"standing height\"\nunit = \"cm\"\nmin = 50\nmax = 250\nstep = 0.5\n\
    carrier = \"assessment\"\nexpected = false\nfresh_days = 90\nreported_by = [\"clinician\"]\n\
    judgement = { by = \"nobody\", why = \"invented\" }\n\n[[measure]]\nname = \"fever\"";

/// The pack of these tests: `lift-low` is done with a band; its first row is the load.
fn changes() -> Vec<(&'static str, &'static str)> {
    vec![
        (LADDER, BANDED),
        (
            "[sources]",
            "[bands]\nheight = \"standing height\"\n\n[sources]",
        ),
        ("[[measure]]\nname = \"fever\"", HEIGHT),
    ]
}

/// A band of a metre, measured at four lengths: so many tenths of a N for each half of its length.
fn band(label: &str, tenths: i64, may_be_doubled: bool) -> MeasuredBand {
    let points = (1..=4).map(|halves| BandPoint {
        elongation: Milli(halves * 50_000),
        force: Milli(halves * tenths * 100),
    });
    MeasuredBand {
        label: label.into(),
        rest_length_mm: 1000,
        points: points.collect(),
        elongation_max: Milli::whole(180),
        may_be_doubled,
    }
}

fn own(course: &mut Course, on: i64, bands: Vec<MeasuredBand>, room_mm: Option<i64>) {
    let owned = Vec::new();
    course.fact(
        on,
        FactKind::Equipment(Equipment {
            owned,
            bands,
            room_mm,
        }),
    );
}

fn tall(course: &mut Course, on: i64, cm: i64) {
    let readings = vec![number("reach", 100), number("standing height", cm)];
    course.fact(
        on,
        FactKind::Assessment(Assessment {
            readings,
            other_side: Vec::new(),
            other_side_sound: false,
        }),
    );
}

/// Begun with these bands and the height known.
fn begun(bands: Vec<MeasuredBand>, room_mm: Option<i64>) -> Course {
    let mut course = Course::new(&changes());
    course.screen(0, "no", "no");
    tall(&mut course, 0, 175);
    own(&mut course, 0, bands, room_mm);
    course.asks(0, Outcome::Begin);
    course
}

fn light() -> Vec<MeasuredBand> {
    vec![band("light", 80, true)]
}

fn good(course: &mut Course, on: i64) -> Decision {
    course.good(on, &["turn-hold", "lift-low"]);
    course.ask(on + 1)
}

fn held(decision: &Decision) -> Held {
    let setting = place(decision, "lift-low").and_then(|place| place.setting.clone());
    setting.unwrap().held().unwrap().clone()
}

fn hold(decision: &Decision) -> Hold {
    let setting = place(decision, "lift-low").and_then(|place| place.setting.clone());
    setting.unwrap().hold
}

/// The load on the rung, relief not counted.
fn load(decision: &Decision) -> i64 {
    let place = place(decision, "lift-low").unwrap();
    let load = place.rung.iter().find(|(of, _)| *of == Variable::Load);
    match load {
        Some((_, RowValue::Number(Milli(load)))) => *load,
        other => panic!("{other:?}"),
    }
}

fn because(decision: &Decision) -> Vec<Cause> {
    let line = decision.moves.iter().find(|one| &*one.line == "lift");
    line.unwrap().because.clone()
}

fn asks_for_a_band(decision: &Decision) -> bool {
    let wanted = Wanted::Band("lift-low".into());
    decision.asks.iter().any(|ask| ask.what == wanted)
}

/// Start load 2: the highest value of the sequence at or below it is 1.888.
#[test]
fn the_first_prescription_sets_the_start_load() {
    let course = begun(light(), None);
    let (_, decision) = course.history.decision(DecisionNo(0)).unwrap();
    assert_eq!(load(decision), 1_888);
    let held = held(decision);
    assert!((1_700..=1_888).contains(&held.torque_mnm), "{held:?}");
    assert!(held.start_mn > 0 && held.end_mn > held.start_mn && !held.is_short);
    assert_eq!((held.by, held.before), (DecisionNo(0), None));
}

#[test]
fn a_climb_raises_the_load_within_the_step_and_by_distance() {
    let mut course = begun(light(), None);
    let (_, before) = course.history.decision(DecisionNo(0)).unwrap();
    let mut before = held(before);
    for round in 0..6 {
        let decision = good(&mut course, 1 + 2 * round);
        assert_eq!(
            moved(&decision, "lift"),
            Some(Move::Climb),
            "{:?}",
            because(&decision)
        );
        let now = held(&decision);
        let permille = change_permille(before.torque_mnm, now.torque_mnm);
        assert!(
            (20..=100).contains(&permille),
            "{permille}: {before:?} to {now:?}"
        );
        assert!(now.torque_mnm <= load(&decision));
        assert_eq!(now.grip.band, before.grip.band, "the same band");
        assert!(now.grip.stance_mm > before.grip.stance_mm, "further away");
        assert_eq!(now.before, Some((before.grip, before.torque_mnm)));
        before = now;
    }
}

#[test]
fn without_a_measured_band_or_a_height_the_load_is_kept_and_the_rest_climbs() {
    let mut course = Course::new(&changes());
    course.screen(0, "no", "no");
    course.assess(0, 100);
    own(&mut course, 0, light(), None);
    course.asks(0, Outcome::Begin);
    let decision = good(&mut course, 1);
    assert_eq!(hold(&decision), Hold::Unmeasured);
    assert_eq!(moved(&decision, "lift"), Some(Move::Keep));
    assert_eq!(because(&decision), [Cause::LoadUnmeasured]);
    assert!(asks_for_a_band(&decision));
    // Measured from now on: set at or below its load, and that is no climb.
    tall(&mut course, 3, 175);
    let decision = course.ask(3);
    assert_eq!(
        (moved(&decision, "lift"), load(&decision)),
        (Some(Move::Keep), 1_888)
    );
    let set = held(&decision);
    assert!(set.torque_mnm <= 1_888);
    assert_eq!(
        place(&decision, "lift-low").unwrap().set_anew,
        set.by,
        "counts anew"
    );
}

#[test]
fn repetitions_climb_unmeasured() {
    let mut changes = changes();
    let load_last = BANDED.replace("full = \"stays\"", "full = \"returns\"");
    let (head, rows) = load_last.split_once("[[line.exercise.ladder]]").unwrap();
    let (first, second) = rows.split_once("[[line.exercise.ladder]]").unwrap();
    let rest = "full = \"returns\"\njudgement = { by = \"nobody\", why = \"invented\" }";
    let first = first.trim_end().trim_end_matches(rest);
    let swapped = format!(
        "{head}[[line.exercise.ladder]]{second}\n{rest}\n\n[[line.exercise.ladder]]{first}"
    );
    changes[0].1 = Box::leak(swapped.into_boxed_str());
    let mut course = Course::new(&changes);
    course.screen(0, "no", "no");
    course.assess(0, 100);
    course.asks(0, Outcome::Begin);
    let decision = good(&mut course, 1);
    assert_eq!(moved(&decision, "lift"), Some(Move::Climb), "8 to 10");
    let decision = good(&mut course, 3);
    assert_eq!(
        because(&decision),
        [Cause::LoadUnmeasured],
        "the load is next"
    );
}

#[test]
fn a_room_that_ends_keeps_the_load_and_says_what_binds() {
    let mut course = begun(vec![band("light", 80, false)], Some(1_370));
    let mut on = 1;
    let mut decision = good(&mut course, on);
    while moved(&decision, "lift") != Some(Move::Keep) {
        on += 2;
        decision = good(&mut course, on);
    }
    let before = held(&decision);
    assert!(before.grip.stance_mm <= 1_370);
    let because = because(&decision);
    let [Cause::NoBandFits(binds)] = because.as_slice() else {
        panic!("{because:?}")
    };
    assert_eq!(binds.what, Bind::Room);
    assert!(asks_for_a_band(&decision));
    // With more room, the climb that was earned is made.
    own(&mut course, on + 1, vec![band("light", 80, false)], None);
    let decision = course.ask(on + 1);
    assert_eq!(moved(&decision, "lift"), Some(Move::Climb));
    assert!(held(&decision).torque_mnm > before.torque_mnm);
}

/// Another list of the same bands moves nothing, and a list without the band keeps the load unmeasured.
#[test]
fn a_list_alone_raises_nothing() {
    let mut course = begun(light(), None);
    let (_, decision) = course.history.decision(DecisionNo(0)).unwrap();
    let before = held(decision);
    own(
        &mut course,
        1,
        vec![band("strong", 100, true), band("light", 80, true)],
        None,
    );
    let decision = course.ask(1);
    assert_eq!(moved(&decision, "lift"), Some(Move::Keep));
    let now = held(&decision);
    assert!(now.torque_mnm <= before.torque_mnm);
    assert_eq!(now.grip, before.grip, "what changes least");
    own(&mut course, 2, Vec::new(), None);
    assert_eq!(hold(&course.ask(2)), Hold::Unmeasured);
    own(&mut course, 3, vec![band("strong", 90, true)], None);
    let decision = course.ask(3);
    let again = held(&decision);
    assert!(
        again.torque_mnm <= before.torque_mnm,
        "what was obtained is not forgotten"
    );
}

#[test]
fn easing_lowers_what_was_obtained_in_proportion() {
    let mut course = begun(light(), None);
    let (_, before) = course.history.decision(DecisionNo(0)).unwrap();
    let before = held(before);
    course.session(1, 1, &[("turn-hold", 1), ("lift-low", 6)]);
    course.morning(1, 1);
    let decision = course.ask(2);
    assert_eq!(moved(&decision, "lift"), Some(Move::Ease));
    assert_eq!(relief(&decision, "lift-low"), [Variable::Load]);
    let now = held(&decision);
    assert!(
        now.torque_mnm * 1_888 <= before.torque_mnm * 1_749,
        "{before:?} to {now:?}"
    );
}

#[test]
fn nothing_that_can_be_set_leaves_the_exercise_out() {
    let course = begun(vec![band("stiff", 4_000, false)], None);
    let (_, decision) = course.history.decision(DecisionNo(0)).unwrap();
    let Hold::None(binds) = hold(decision) else {
        panic!("{:?}", hold(decision))
    };
    assert_eq!(binds.what, Bind::TooHeavy);
    assert!(asks_for_a_band(decision));
    let prescribed = prescription(&course.pack, &course.history, day(0));
    let left_out = prescribed.left_out.iter().map(|one| one.why.clone());
    assert_eq!(left_out.collect::<Vec<_>>(), [WhyLeftOut::NoBand(binds)]);
    assert!(
        prescribed
            .items
            .iter()
            .all(|item| &*item.exercise != "lift-low")
    );
}

#[test]
fn a_weak_band_is_short_of_the_load_and_is_brought_nearer_first() {
    let mut course = begun(vec![band("weak", 12, false)], Some(1_400));
    let (_, decision) = course.history.decision(DecisionNo(0)).unwrap();
    let weak = held(decision);
    assert!(weak.is_short && weak.torque_mnm < 1_000, "{weak:?}");
    own(&mut course, 0, vec![band("weak", 12, false)], None);
    let decision = good(&mut course, 1);
    assert_eq!(moved(&decision, "lift"), Some(Move::Climb));
    let now = held(&decision);
    assert_eq!(load(&decision), 1_888, "the rung stays");
    let permille = change_permille(weak.torque_mnm, now.torque_mnm);
    assert!((20..=100).contains(&permille), "{permille}");
}

#[test]
fn a_capped_load_is_set_for_the_prescription_and_kept_in_the_state() {
    let mut course = begun(light(), None);
    let decision = good(&mut course, 1);
    let set = held(&decision);
    let at_most = RowValue::Number(Milli(1_650));
    let (exercise, variable) = (Some("lift-low".into()), Variable::Load);
    course.order(
        2,
        None,
        Order::Cap {
            exercise,
            variable,
            at_most,
        },
    );
    let prescribed = prescription(&course.pack, &course.history, day(2));
    let item = prescribed
        .items
        .iter()
        .find(|item| &*item.exercise == "lift-low");
    let item = item.unwrap();
    assert!(
        item.dose
            .contains(&(Variable::Load, RowValue::Number(Milli(1_620))))
    );
    let capped = item.band.as_ref().unwrap().held.as_ref().unwrap();
    assert!(capped.torque_mnm <= 1_620 && capped.torque_mnm < set.torque_mnm);
    assert_eq!(held(&course.ask(2)), set, "the state keeps its own");
}

#[test]
fn the_sheet_and_the_explanation_say_it() {
    let mut course = begun(light(), Some(1_450));
    let mut text = String::new();
    for round in 0..3 {
        let on = 1 + 2 * round;
        let decision = good(&mut course, on);
        let prescribed = prescription(&course.pack, &course.history, day(on + 1));
        let page = sheet(&course.pack, &prescribed, &decision, "en");
        let exercise = page
            .lines()
            .skip_while(|line| !line.starts_with("2. lift-low"));
        let exercise: Vec<&str> = exercise.take_while(|line| !line.starts_with('#')).collect();
        text.push_str(exercise.join("\n").trim_end());
        text.push_str("\n\n");
        let no = DecisionNo(u32::try_from(round).unwrap() + 1);
        let explained = explain(&course.pack, &course.history, no, View::Basic).unwrap();
        let lift = explained
            .moves
            .iter()
            .find(|one| &*one.line == "lift")
            .unwrap();
        for (_, why) in &lift.because {
            text.push_str(&format!("{}: {why}\n", lift.mv.word()));
        }
        for ask in &explained.asks {
            text.push_str(&format!("wanted: {ask}\n"));
        }
        text.push('\n');
    }
    golden("decide/tests/bands.txt", &text);
}

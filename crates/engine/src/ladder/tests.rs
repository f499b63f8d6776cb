//! Proves that ladders step, ease, map and cap as design.md section 4 says.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::expect_used,
    reason = "a test may fail loudly"
)]

use super::*;
use proptest::prelude::*;
use rungwise_pack::model::{LineIx, RowStep, RuleIx, Rung};
use rungwise_pack::quantity::Milli;

fn number(units: i64) -> RowValue {
    RowValue::Number(Milli::whole(units))
}

fn label(word: &str) -> RowValue {
    RowValue::Label(word.into())
}

fn row(variable: Variable, values: Vec<RowValue>, returns: bool) -> Row {
    let values = values
        .into_iter()
        .map(|value| RowStep {
            value,
            needs: None,
            seconds: None,
        })
        .collect();
    Row {
        variable,
        values,
        is_sequence: false,
        returns,
    }
}

/// The odometer, written apart from the pack's own.
fn unroll(rows: &[Row]) -> Vec<Rung> {
    let mut now = vec![0_u16; rows.len()];
    let mut rungs = vec![Rung(now.clone())];
    while let Some(turning) =
        (0..rows.len()).find(|at| usize::from(now[*at]) + 1 < rows[*at].values.len())
    {
        now[turning] += 1;
        for before in 0..turning {
            if rows[before].returns {
                now[before] = 0;
            }
        }
        rungs.push(Rung(now.clone()));
    }
    rungs
}

fn exercise(rows: Vec<Row>, gives_way: Vec<u16>) -> Exercise {
    Exercise {
        key: "x".into(),
        was: Vec::new(),
        line: LineIx(0),
        name: "x.name".into(),
        how: "x.how".into(),
        cues: Vec::new(),
        equipment: Vec::new(),
        band: None,
        rungs: unroll(&rows),
        rows,
        start: 0,
        return_at: None,
        gives_way,
        comfortable: None,
        limits: Vec::new(),
        climb: RuleIx(0),
        bring_back: None,
        maintenance: None,
    }
}

/// Reps 8, 10, 12 return each time the load turns; range stays once full.
fn sample() -> Exercise {
    let reps = row(
        Variable::Reps,
        vec![number(8), number(10), number(12)],
        true,
    );
    let range = row(Variable::Range, vec![number(60), number(90)], false);
    let load = row(Variable::Load, vec![label("light"), label("middle")], true);
    exercise(vec![reps, range, load], vec![1, 2, 0])
}

fn values(reps: i64, range: i64, load: &str) -> Values {
    vec![
        (Variable::Reps, number(reps)),
        (Variable::Range, number(range)),
        (Variable::Load, label(load)),
    ]
}

#[test]
fn a_place_is_read_as_its_rung_and_written_back() {
    let exercise = sample();
    assert_eq!(
        exercise.rungs.len(),
        9,
        "3 at 60 deg, 3 at 90 deg, 3 at the middle load"
    );
    assert_eq!(rung_of(&exercise, &values(8, 90, "light")), Some(3));
    assert_eq!(rung_values(&exercise, 3), values(8, 90, "light"));
    assert_eq!(
        rung_of(&exercise, &values(8, 60, "middle")),
        None,
        "the range has stayed full by then"
    );
    assert_eq!(
        rung_of(&exercise, &[(Variable::Reps, number(8))]),
        None,
        "a row is not named"
    );
}

#[test]
fn a_new_pack_maps_to_the_highest_rung_not_above() {
    let exercise = sample();
    let check = |values: &[(Variable, RowValue)], expected: Option<u16>| {
        assert_eq!(map_rung(&exercise, values), expected, "{values:?}");
    };
    check(&values(10, 90, "middle"), Some(7));
    check(&values(11, 95, "middle"), Some(7));
    check(&values(12, 60, "middle"), Some(2));
    check(&values(7, 90, "middle"), None);
    check(&values(12, 90, "heavy"), None);
    check(
        &[(Variable::Reps, number(12)), (Variable::Range, number(90))],
        Some(5),
    );
    let mut longer = values(12, 90, "middle");
    longer.push((Variable::Sets, number(3)));
    check(&longer, Some(8));
}

#[test]
fn an_exercise_is_found_by_its_earlier_name() {
    let mut renamed = sample();
    renamed.was = vec!["old name".into()];
    let pack = rungwise_pack_with(renamed);
    assert_eq!(find_exercise(&pack, "old name"), Some(ExerciseIx(0)));
    assert_eq!(find_exercise(&pack, "x"), Some(ExerciseIx(0)));
    assert_eq!(find_exercise(&pack, "y"), None);
}

fn rungwise_pack_with(exercise: Exercise) -> Pack {
    Pack {
        digest: [0; 32],
        id: "p".into(),
        version: "1".into(),
        title: String::new(),
        scope: String::new(),
        cautions: Vec::new(),
        sources: std::collections::BTreeMap::new(),
        sign_off: Vec::new(),
        lay_off: Vec::new(),
        review_days: 14,
        measures: Vec::new(),
        height: None,
        events: Vec::new(),
        sentences: Vec::new(),
        rules: Vec::new(),
        screening: Vec::new(),
        limits: Vec::new(),
        phases: Vec::new(),
        lines: Vec::new(),
        exercises: vec![exercise],
        texts: std::collections::BTreeMap::new(),
        language: "en".into(),
    }
}

#[test]
fn it_gives_way_in_order_one_row_exhausted_before_the_next() {
    let exercise = sample();
    let mut relief = Vec::new();
    while let Some(step) = give(&exercise, 8, &relief) {
        relief.push(step);
    }
    let order = [
        Variable::Range,
        Variable::Load,
        Variable::Reps,
        Variable::Reps,
    ];
    assert_eq!(relief, order);
    assert_eq!(dose(&exercise, 8, &relief), [0, 0, 0]);
    assert_eq!(regain(&mut relief), Some(Variable::Reps));
    assert_eq!(dose(&exercise, 8, &relief), [1, 0, 0]);
    assert!(!at_top(&exercise, 8, &relief));
    assert!(at_top(&exercise, 8, &[]));
}

#[test]
fn it_comes_back_under_its_last_place_and_never_above() {
    let mut exercise = sample();
    exercise.start = 4;
    assert_eq!(entry_rung(&exercise, None), Some(4));
    let last = rung_values(&exercise, 6);
    assert_eq!(entry_rung(&exercise, Some(&last)), Some(4));
    let low = rung_values(&exercise, 1);
    assert_eq!(
        entry_rung(&exercise, Some(&low)),
        Some(1),
        "the start rung is above its last one"
    );
    exercise.return_at = Some(2);
    assert_eq!(entry_rung(&exercise, Some(&last)), Some(4));
    assert_eq!(entry_rung(&exercise, Some(&low)), Some(0));
    assert_eq!(entry_rung(&exercise, Some(&values(1, 90, "light"))), None);
}

#[test]
fn a_cap_takes_the_highest_value_at_or_below() {
    let exercise = sample();
    let check = |variable, at_most: RowValue, expected: Option<Vec<u16>>| {
        assert_eq!(
            cap(&exercise, &[2, 1, 1], variable, &at_most),
            expected,
            "{variable:?} {at_most:?}"
        );
    };
    check(Variable::Reps, number(11), Some(vec![1, 1, 1]));
    check(Variable::Reps, number(40), Some(vec![2, 1, 1]));
    check(Variable::Reps, number(5), None);
    check(Variable::Load, label("light"), Some(vec![2, 1, 0]));
    check(Variable::Load, label("heavy"), None);
    check(Variable::Sets, number(1), Some(vec![2, 1, 1]));
}

#[test]
fn a_row_has_its_own_order() {
    let rest = row(Variable::Rest, vec![number(90), number(60)], true);
    assert_eq!(
        compare(&rest, &number(90), &number(60)),
        Some(Ordering::Less)
    );
    assert_eq!(
        at_or_below(&rest, &number(75)),
        Some(0),
        "75 s of rest is harder than 90 s"
    );
    assert_eq!(at_or_below(&rest, &number(120)), None);
    let one = row(Variable::Rest, vec![number(60)], true);
    assert_eq!(at_or_below(&one, &number(45)), Some(0));
    assert_eq!(at_or_below(&one, &number(75)), None);
    let load = row(Variable::Load, vec![label("light"), label("middle")], true);
    assert_eq!(
        compare(&load, &label("middle"), &label("light")),
        Some(Ordering::Greater)
    );
    assert_eq!(compare(&load, &label("heavy"), &label("light")), None);
}

#[test]
fn reached_counts_the_row_in_its_own_order() {
    let exercise = sample();
    assert!(has_reached(
        &exercise,
        &[1, 0, 0],
        Variable::Reps,
        &number(9)
    ));
    assert!(!has_reached(
        &exercise,
        &[1, 0, 0],
        Variable::Reps,
        &number(12)
    ));
    assert!(has_reached(
        &exercise,
        &[1, 0, 1],
        Variable::Load,
        &label("light")
    ));
    assert!(!has_reached(
        &exercise,
        &[1, 0, 1],
        Variable::Load,
        &label("heavy")
    ));
    assert!(!has_reached(
        &exercise,
        &[1, 0, 1],
        Variable::Sets,
        &number(1)
    ));
}

#[test]
fn needs_are_those_of_the_values_that_turn_up() {
    let mut exercise = sample();
    let wanted = Criterion::All(Vec::new());
    exercise.rows[0].values[0].needs = Some(wanted.clone());
    exercise.rows[2].values[1].needs = Some(wanted.clone());
    let from = exercise.rungs[5].0.clone();
    let to = exercise.rungs[6].0.clone();
    assert_eq!(
        needs_between(&exercise, &from, &to),
        vec![(Variable::Load, &wanted)],
        "reps went back: no need"
    );
    assert_eq!(needs_between(&exercise, &to, &from), Vec::new());
}

#[test]
fn a_dose_is_read_in_reading_order() {
    let mut rows = sample().rows;
    rows.push(row(Variable::Sets, vec![number(3)], true));
    let exercise = exercise(rows, vec![0]);
    let order: Vec<Variable> = dose_values(&exercise, &[0, 0, 0, 0])
        .into_iter()
        .map(|(of, _)| of)
        .collect();
    assert_eq!(
        order,
        [
            Variable::Sets,
            Variable::Reps,
            Variable::Load,
            Variable::Range
        ]
    );
}

const NUMBERED: [Variable; 4] = [
    Variable::Reps,
    Variable::HoldTime,
    Variable::Sets,
    Variable::Rest,
];

prop_compose! {
    fn any_exercise()(shape in prop::collection::vec((1_i64..5, any::<bool>()), 1..5), ways in 0_usize..24)
        -> Exercise
    {
        let rows: Vec<Row> = shape.iter().enumerate().map(|(at, (count, returns))| {
            let down = NUMBERED[at] == Variable::Rest;
            let values = (0..*count).map(|step| number(if down { 90 - 10 * step } else { 4 + 2 * step }));
            row(NUMBERED[at], values.collect(), *returns)
        }).collect();
        let mut gives_way: Vec<u16> = (0..u16::try_from(rows.len()).unwrap()).collect();
        let turn = ways % rows.len();
        gives_way.rotate_left(turn);
        exercise(rows, gives_way)
    }
}

proptest! {
    /// Up and down are inverse except at the ends.
    #[test]
    fn up_and_down_are_inverse(exercise in any_exercise(), pick in any::<prop::sample::Index>()) {
        let count = exercise.rungs.len();
        let rung = pick_rung(count, pick);
        match next_rung(&exercise, rung) {
            Some(next) => prop_assert_eq!(previous_rung(&exercise, next), Some(rung)),
            None => prop_assert_eq!(usize::from(rung) + 1, count),
        }
        match previous_rung(&exercise, rung) {
            Some(previous) => prop_assert_eq!(next_rung(&exercise, previous), Some(rung)),
            None => prop_assert_eq!(rung, 0),
        }
    }

    /// Every rung is read back as itself, and maps to itself under the same pack.
    #[test]
    fn a_rung_survives_its_values(exercise in any_exercise(), pick in any::<prop::sample::Index>()) {
        let rung = pick_rung(exercise.rungs.len(), pick);
        let values = rung_values(&exercise, rung);
        prop_assert_eq!(rung_of(&exercise, &values), Some(rung));
        prop_assert_eq!(map_rung(&exercise, &values), Some(rung));
    }

    /// Each step given lowers exactly one row by one, and regaining undoes it.
    #[test]
    fn giving_and_regaining_are_inverse(exercise in any_exercise(), pick in any::<prop::sample::Index>(), steps in 0_usize..8) {
        let rung = pick_rung(exercise.rungs.len(), pick);
        let mut relief = Vec::new();
        for _ in 0..steps {
            let before = dose(&exercise, rung, &relief);
            let Some(step) = give(&exercise, rung, &relief) else {
                let left: u16 = before.iter().sum();
                prop_assert_eq!(left, 0, "every row gives way here");
                break;
            };
            relief.push(step);
            let after = dose(&exercise, rung, &relief);
            prop_assert!(not_above(&after, &before));
            prop_assert_eq!(before.iter().sum::<u16>(), after.iter().sum::<u16>() + 1);
            let mut back = relief.clone();
            prop_assert_eq!(regain(&mut back), Some(step));
            prop_assert_eq!(dose(&exercise, rung, &back), before);
        }
        prop_assert_eq!(map_relief(&exercise, rung, &relief), relief);
    }

    /// Whatever values a place had, the rung it maps to is not above them in any variable, and no higher rung is.
    #[test]
    fn mapping_never_raises(
        exercise in any_exercise(),
        reps in 0_i64..16,
        hold in 0_i64..16,
        sets in 0_i64..16,
        rest in 50_i64..100,
    ) {
        let numbers = [reps, hold, sets, rest];
        let values: Values = NUMBERED.iter().zip(numbers).map(|(of, n)| (*of, number(n))).collect();
        let low = |rung: u16| {
            exercise.rows.iter().zip(rung_values(&exercise, rung)).zip(&values).all(|((row, (_, mine)), (_, given))| {
                compare(row, &mine, given) != Some(Ordering::Greater)
            })
        };
        let mapped = map_rung(&exercise, &values);
        let above = mapped.map_or(0, |rung| rung + 1);
        prop_assert!(mapped.is_none_or(&low));
        for rung in above..u16::try_from(exercise.rungs.len()).unwrap() {
            prop_assert!(!low(rung));
        }
    }

    /// A cap never raises a dose and is idempotent.
    #[test]
    fn a_cap_never_raises(exercise in any_exercise(), pick in any::<prop::sample::Index>(), most in 0_i64..100, of in 0_usize..4) {
        let dose = exercise.rungs[usize::from(pick_rung(exercise.rungs.len(), pick))].0.clone();
        let variable = NUMBERED[of];
        if let Some(capped) = cap(&exercise, &dose, variable, &number(most)) {
            prop_assert!(not_above(&capped, &dose));
            prop_assert_eq!(cap(&exercise, &capped, variable, &number(most)), Some(capped));
        }
    }
}

fn pick_rung(count: usize, pick: prop::sample::Index) -> u16 {
    u16::try_from(pick.index(count)).unwrap()
}

//! Doses: ladders unrolled by hand, relief, caps.
//!
//! A dose is the index of its value in each row of the exercise.
//!
//! Leaves to others: when a dose changes (`super::lines`).

use super::context::Context;
use super::possible::{Possible, Ratio};
use super::view::View;
use rungwise_engine::band::Setting;
use rungwise_engine::decision::{LastPlace, Place, State};
use rungwise_engine::fact::{DecisionNo, Order};
use rungwise_pack::model::{CheckedPack, Exercise, ExerciseIx, LineIx, PhaseIx, RowValue, Rung};
use rungwise_pack::quantity::Variable;

/// The ladder, gentlest first, unrolled like an odometer from its rows alone.
#[must_use]
pub fn unroll(exercise: &Exercise) -> Vec<Vec<usize>> {
    let mut rung = vec![0; exercise.rows.len()];
    let mut rungs = vec![rung.clone()];
    while let Some(turns) =
        (0..rung.len()).find(|row| rung[*row] + 1 < exercise.rows[*row].values.len())
    {
        rung[turns] += 1;
        for (value, row) in rung.iter_mut().zip(&exercise.rows).take(turns) {
            if row.returns {
                *value = 0;
            }
        }
        rungs.push(rung.clone());
    }
    rungs
}

/// A place of an exercise on its line, worked on.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Spot {
    /// The exercise.
    pub exercise: ExerciseIx,
    /// The rung, as an index into the unrolled ladder.
    pub rung: usize,
    /// Steps given, oldest first.
    pub relief: Vec<Variable>,
    /// The decision that set it anew.
    pub set_anew: DecisionNo,
    /// What it asks of a band.
    pub setting: Option<Setting>,
}

impl Spot {
    /// A recorded place; none where the pack has no such exercise or rung.
    #[must_use]
    pub fn of(pack: &CheckedPack, place: &Place) -> Option<Self> {
        let exercise = pack.exercise(&place.exercise)?;
        let rung = rung_of(&pack.exercises[exercise.at()], &place.rung)?;
        Some(Self {
            exercise,
            rung,
            relief: place.relief.clone(),
            set_anew: place.set_anew,
            setting: place.setting.clone(),
        })
    }

    /// As it is recorded.
    #[must_use]
    pub fn recorded(&self, pack: &CheckedPack) -> Place {
        let exercise = &pack.exercises[self.exercise.at()];
        Place {
            line: pack.lines[exercise.line.at()].key.clone(),
            exercise: exercise.key.clone(),
            rung: values(exercise, self.rung),
            relief: self.relief.clone(),
            set_anew: self.set_anew,
            setting: self.setting.clone(),
        }
    }

    /// As it is remembered once the exercise is no longer in force.
    #[must_use]
    pub fn remembered(&self, pack: &CheckedPack) -> LastPlace {
        let place = self.recorded(pack);
        LastPlace {
            exercise: place.exercise,
            rung: place.rung,
            relief: place.relief,
            setting: place.setting,
        }
    }

    /// One step easier by what gives way; none where nothing is left to give.
    #[must_use]
    pub fn eased(&self, pack: &CheckedPack) -> Option<Self> {
        let exercise = &pack.exercises[self.exercise.at()];
        let rows = effective(exercise, &unroll(exercise)[self.rung], &self.relief);
        let gives = exercise
            .gives_way
            .iter()
            .find(|row| rows[usize::from(**row)] > 0)?;
        let mut eased = self.clone();
        eased
            .relief
            .push(exercise.rows[usize::from(*gives)].variable);
        Some(eased)
    }
}

/// The values of a rung.
#[must_use]
pub fn values(exercise: &Exercise, rung: usize) -> Vec<(Variable, RowValue)> {
    let rows = &unroll(exercise)[rung];
    exercise
        .rows
        .iter()
        .zip(rows)
        .map(|(row, at)| (row.variable, row.values[*at].value.clone()))
        .collect()
}

/// The highest rung that is not above these values in any row that they name.
#[must_use]
pub fn rung_of(exercise: &Exercise, values: &[(Variable, RowValue)]) -> Option<usize> {
    let bounds: Vec<usize> = exercise
        .rows
        .iter()
        .map(|row| {
            let wanted = values
                .iter()
                .find(|(variable, _)| *variable == row.variable)?;
            row.values.iter().position(|step| step.value == wanted.1)
        })
        .collect::<Option<_>>()?;
    unroll(exercise)
        .iter()
        .rposition(|rung| rung.iter().zip(&bounds).all(|(at, bound)| at <= bound))
}

/// A rung with its relief taken off.
fn effective(exercise: &Exercise, rung: &[usize], relief: &[Variable]) -> Vec<usize> {
    let given = |variable| relief.iter().filter(|one| **one == variable).count();
    exercise
        .rows
        .iter()
        .zip(rung)
        .map(|(row, at)| at.saturating_sub(given(row.variable)))
        .collect()
}

/// The dose of a recorded place, relief taken off.
#[must_use]
pub fn effective_rows(exercise: &Exercise, place: &Place) -> Vec<usize> {
    let rung = rung_of(exercise, &place.rung).expect("a recorded rung is of its pack");
    effective(exercise, &unroll(exercise)[rung], &place.relief)
}

/// The dose of a spot, relief taken off.
#[must_use]
pub fn effective_spot(pack: &CheckedPack, spot: &Spot) -> Vec<usize> {
    effective_rows(&pack.exercises[spot.exercise.at()], &spot.recorded(pack))
}

/// The rung on which an exercise starts.
#[must_use]
pub fn start_rung(exercise: &Exercise) -> usize {
    usize::from(exercise.start)
}

/// The spot on which an exercise is introduced, returns or is gone back to.
#[must_use]
pub fn entry_spot(
    pack: &CheckedPack,
    last_places: &[LastPlace],
    exercise: ExerciseIx,
    now: DecisionNo,
) -> Spot {
    let known = &pack.exercises[exercise.at()];
    let last = last_places.iter().find(|last| last.exercise == known.key);
    let (rung, relief) = match last {
        None => (start_rung(known), Vec::new()),
        Some(last) => {
            let top = rung_of(known, &last.rung).expect("a recorded rung is of its pack");
            let rung = match known.return_at {
                Some(under) => top.saturating_sub(usize::from(under)),
                None => start_rung(known).min(top),
            };
            (rung, room_for(known, rung, &last.relief))
        }
    };
    Spot {
        exercise,
        rung,
        relief,
        set_anew: now,
        setting: last.and_then(|last| last.setting.clone()),
    }
}

/// The relief that a rung has room for: steps that would act on nothing there are dropped, the newest first.
fn room_for(exercise: &Exercise, rung: usize, relief: &[Variable]) -> Vec<Variable> {
    let rows = &unroll(exercise)[rung];
    let mut kept: Vec<Variable> = Vec::new();
    for variable in relief {
        let row = exercise
            .rows
            .iter()
            .position(|row| row.variable == *variable);
        let given = kept.iter().filter(|other| *other == variable).count();
        if row.is_some_and(|row| given < rows[row]) {
            kept.push(*variable);
        }
    }
    kept
}

/// Exercises of a phase, those that a directive adds included.
#[must_use]
pub fn phase_exercises(view: &View<'_>, phase: PhaseIx) -> Vec<ExerciseIx> {
    let mut exercises = view.pack.phases[phase.at()].exercises.clone();
    for (_, order) in view.orders() {
        if let Order::Add { exercise } = order
            && let Some(added) = view.pack.exercise(exercise)
        {
            exercises.push(added);
        }
    }
    exercises.sort();
    exercises.dedup();
    exercises
}

/// Exercises of a line that a phase has, gentlest first.
#[must_use]
pub fn line_in_phase(view: &View<'_>, line: LineIx, phase: PhaseIx) -> Vec<ExerciseIx> {
    phase_exercises(view, phase)
        .into_iter()
        .filter(|exercise| view.pack.exercises[exercise.at()].line == line)
        .collect()
}

/// Lines that a phase has, in the pack's order.
#[must_use]
pub fn phase_lines(view: &View<'_>, phase: PhaseIx) -> Vec<LineIx> {
    (0..view.pack.lines.len() as u16)
        .map(LineIx)
        .filter(|line| !line_in_phase(view, *line, phase).is_empty())
        .collect()
}

/// Whether a withdrawal blocks an exercise: its own, or of a gentler one of its line.
#[must_use]
pub fn is_blocked(pack: &CheckedPack, state: &State, exercise: ExerciseIx) -> bool {
    state.withdrawals.iter().any(|withdrawal| {
        pack.exercise(&withdrawal.exercise)
            .is_some_and(|withdrawn| {
                pack.exercises[withdrawn.at()].line == pack.exercises[exercise.at()].line
                    && withdrawn <= exercise
            })
    })
}

/// The dose that is prescribed of a spot today: the highest at or below it within every cap; none where it is left
/// out.
#[must_use]
pub fn prescribed_rows(ctx: &Context<'_>, spot: &Spot) -> Option<Vec<usize>> {
    let pack = ctx.pack();
    let exercise = &pack.exercises[spot.exercise.at()];
    let mut rows = effective_spot(pack, spot);
    for (row, at) in rows.iter_mut().enumerate() {
        for bound in bounds(ctx, exercise, row) {
            *at = (*at).min(bound?);
        }
    }
    let paused = ctx
        .view
        .orders()
        .iter()
        .any(|(_, order)| matches!(order, Order::Pause));
    (!paused && !is_left_out(ctx.view, spot.exercise)).then_some(rows)
}

/// Whether a directive leaves an exercise out today.
#[must_use]
pub fn is_left_out(view: &View<'_>, exercise: ExerciseIx) -> bool {
    let key = &view.pack.exercises[exercise.at()].key;
    view.orders().iter().any(|(_, order)| match order {
        Order::LeaveOut { exercise: left } => left == key,
        _ => false,
    })
}

/// Whether a spot's dose keeps within every cap as it is.
#[must_use]
pub fn within_caps(ctx: &Context<'_>, spot: &Spot) -> bool {
    prescribed_rows(ctx, spot) == Some(effective_spot(ctx.pack(), spot))
}

/// The highest index that each cap allows in a row; none inside: the cap allows nothing of it.
fn bounds(ctx: &Context<'_>, exercise: &Exercise, row: usize) -> Vec<Option<usize>> {
    let variable = exercise.rows[row].variable;
    let mut bounds = Vec::new();
    for (_, order) in ctx.view.orders() {
        match order {
            Order::Cap {
                exercise: of,
                variable: capped,
                at_most,
            } if *capped == variable && of.as_ref().is_none_or(|of| *of == exercise.key) => {
                bounds.push(highest(exercise, row, at_most));
            }
            Order::SetDose { exercise: of, dose } if *of == exercise.key => bounds.extend(
                dose.iter()
                    .filter(|(set, _)| *set == variable)
                    .map(|(_, at_most)| highest(exercise, row, at_most)),
            ),
            _ => {}
        }
    }
    if variable == Variable::Range {
        bounds.extend(comfortable(ctx, exercise, row));
    }
    bounds
}

/// The last value of a row at or below one: by place where the row has it, by size where both are numbers.
fn highest(exercise: &Exercise, row: usize, at_most: &RowValue) -> Option<usize> {
    let values = &exercise.rows[row].values;
    if let Some(at) = values.iter().position(|step| step.value == *at_most) {
        return Some(at);
    }
    values
        .iter()
        .rposition(|step| match (&step.value, at_most) {
            (RowValue::Number(number), RowValue::Number(most)) => number <= most,
            _ => false,
        })
}

/// What the comfortable range last reported allows, where there was a report.
fn comfortable(ctx: &Context<'_>, exercise: &Exercise, row: usize) -> Option<Option<usize>> {
    let measure = exercise.comfortable?;
    let item = super::series::series(ctx, measure, rungwise_pack::model::Over::Plain).pop()?;
    let super::series::Values::One(Possible::Numbers(low, high)) = item.fresh else {
        return None;
    };
    let steps = &exercise.rows[row].values;
    let most = steps.iter().rposition(|step| match &step.value {
        RowValue::Number(number) => Ratio::milli(*number) <= low,
        RowValue::Label(_) => false,
    });
    (low == high).then_some(most)
}

/// Whether the comfortable range of an exercise that has one is not missing: known, or never asked for.
#[must_use]
pub fn comfort_is_known(ctx: &Context<'_>, exercise: &Exercise) -> bool {
    let Some(measure) = exercise.comfortable else {
        return true;
    };
    super::series::series(ctx, measure, rungwise_pack::model::Over::Plain)
        .pop()
        .is_none_or(|item| match item.fresh {
            super::series::Values::One(value) => value.is_known(),
            super::series::Values::Each(_) => false,
        })
}

/// Whether the pack's own list of rungs is what its rows unroll to.
#[must_use]
pub fn unrolls_right(exercise: &Exercise) -> bool {
    let own: Vec<Rung> = unroll(exercise)
        .into_iter()
        .map(|rung| Rung(rung.into_iter().map(|at| at as u16).collect()))
        .collect();
    own == exercise.rungs
}

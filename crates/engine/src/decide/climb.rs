//! Climbing: whether a line has earned a step, and which.
//!
//! Leaves to others: what caps it (`super::course`).

use super::bounds::Bounds;
use super::case::Case;
use super::complete::complete;
use super::fitting::{fit_climb, is_left_out, nearer};
use super::stand::{Spot, Stand};
use crate::decision::Cause;
use crate::evaluate::{Judged, Reader, Scope, Tap, judge};
use crate::fact::DecisionNo;
use crate::ladder;
use rungwise_pack::model::{Criterion, Exercise, ExerciseIx, LineIx, Polarity, RuleIx};
use rungwise_pack::quantity::Variable;

/// Whether a line climbs.
pub(crate) enum Climb {
    /// To this place.
    To(Box<Spot>),
    /// It stays, for this cause.
    No(Cause),
}

/// A climb rule judged.
pub(crate) struct Climbing {
    /// The rule.
    pub(crate) rule: RuleIx,
    /// Its verdict.
    pub(crate) judged: Judged,
    /// What it gives the line.
    pub(crate) climb: Climb,
}

/// The scope of an exercise's climb rule and needs.
pub(crate) const fn scope(spot: &Spot) -> Scope {
    Scope {
        polarity: Polarity::Upward,
        exercise: Some(spot.exercise),
        sessions_of: Some(spot.exercise),
        from: Some(spot.set_anew),
        ..Scope::UPWARD
    }
}

/// Judges the climb of the exercise in a place. `slot`: whether a new counted session gave the line a slot; `news`:
/// whether anything is new.
pub(crate) fn climbing(
    case: &Case<'_>,
    bounds: &Bounds,
    spot: &Spot,
    slot: bool,
    news: bool,
) -> Option<Climbing> {
    let exercise = case.pack.exercises.get(spot.exercise.at())?;
    let rule = case.pack.rules.get(exercise.climb.at())?;
    let judged = judge(case.view(), scope(spot), &rule.when);
    let climb = if judged.met() {
        match earned(case, bounds, spot, exercise, slot, news) {
            Ok(to) => Climb::To(Box::new(to)),
            Err(cause) => Climb::No(cause),
        }
    } else if judged.in_doubt() {
        Climb::No(Cause::Doubt(rule.key.clone()))
    } else {
        Climb::No(Cause::NotMet(rule.key.clone()))
    };
    Some(Climbing {
        rule: exercise.climb,
        judged,
        climb,
    })
}

fn earned(
    case: &Case<'_>,
    bounds: &Bounds,
    spot: &Spot,
    exercise: &Exercise,
    slot: bool,
    news: bool,
) -> Result<Spot, Cause> {
    let tap = Tap::default();
    let reader = Reader::new(case.view(), scope(spot), &tap);
    let newest = reader.sessions_back(None).next();
    let Some((_, newest)) = newest else {
        return Err(Cause::NoCountedSession);
    };
    if !news {
        return Err(Cause::NothingNew);
    }
    if let Some(position) = case.left_out(spot.exercise) {
        return Err(Cause::Directive(position));
    }
    if let Some(cause) = is_left_out(spot) {
        return Err(cause);
    }
    complete(case, scope(spot), Some(spot.exercise)).map_err(Cause::LimitValueMissing)?;
    let done = newest.exercise(spot.exercise);
    let sets = done.map_or(&[][..], |done| done.sets.as_slice());
    if !bounds.reached(case, spot, exercise, sets) {
        return Err(Cause::RungNotReached);
    }
    // A load that is short of its dose's comes first; where nothing brings it nearer, what else the step would raise.
    if slot
        && let Some(to) = nearer(case, spot)
        && bounds.allow(case, spot).is_ok()
        && load_may_rise(case, spot, exercise)
    {
        return Ok(to);
    }
    let mut to = step_up(case, spot, exercise)?;
    bounds.allow(case, &to)?;
    if !slot {
        return Err(Cause::NoSlot);
    }
    fit_climb(case, spot, &mut to)?;
    Ok(to)
}

/// Whether what the dose's load needs, where it is one of a sequence, is met.
fn load_may_rise(case: &Case<'_>, spot: &Spot, exercise: &Exercise) -> bool {
    let dose = ladder::dose(exercise, spot.rung, &spot.relief);
    let mut rows = exercise.rows.iter().zip(dose);
    let load = rows.find(|(row, _)| row.is_sequence);
    let step = load.and_then(|(row, at)| row.values.get(usize::from(at)));
    step.and_then(|step| step.needs.as_ref())
        .is_none_or(|needs| {
            let tap = Tap::default();
            !Reader::new(case.view(), scope(spot), &tap).truth(needs).no
        })
}

/// One step up: relief regained, else the next rung, else the line's next exercise in the phase.
fn step_up(case: &Case<'_>, spot: &Spot, exercise: &Exercise) -> Result<Spot, Cause> {
    let mut to = spot.clone();
    to.set_anew = case.no;
    if ladder::regain(&mut to.relief).is_some() {
        return Ok(to);
    }
    if let Some(next) = ladder::next_rung(exercise, spot.rung) {
        for (variable, needs) in needs_of(exercise, spot.rung, next) {
            let tap = Tap::default();
            let truth = Reader::new(case.view(), scope(spot), &tap).truth(needs);
            if truth.no {
                return Err(Cause::Needs(variable));
            }
        }
        to.rung = next;
        return Ok(to);
    }
    let next = next_in_phase(case, spot).ok_or(Cause::AtTop)?;
    if case.stand.blocked(case.pack, next) {
        return Err(Cause::Withdrawn);
    }
    entry(case, &case.stand, next).ok_or(Cause::AtTop)
}

/// The needs of every value of the next rung that the present one does not have.
fn needs_of(exercise: &Exercise, from: u16, to: u16) -> Vec<(Variable, &Criterion)> {
    let rung = |at: u16| exercise.rungs.get(usize::from(at));
    let (Some(from), Some(to)) = (rung(from), rung(to)) else {
        return Vec::new();
    };
    let rows = exercise.rows.iter().zip(from.0.iter().zip(&to.0));
    rows.filter(|(_, (from, to))| from != to)
        .filter_map(|(row, (_, to))| {
            let step = row.values.get(usize::from(*to))?;
            Some((row.variable, step.needs.as_ref()?))
        })
        .collect()
}

/// The line's next exercise that the phase has.
fn next_in_phase(case: &Case<'_>, spot: &Spot) -> Option<ExerciseIx> {
    let phase = case.stand.phase?;
    let line = case.pack.lines.get(spot.line.at())?;
    let mut later = line.exercises.iter().filter(|one| **one > spot.exercise);
    later.find(|one| case.phase_has(phase, **one)).copied()
}

/// Whether a line has nothing left to climb in the phase.
fn at_top(case: &Case<'_>, spot: &Spot) -> bool {
    let exercise = case.pack.exercises.get(spot.exercise.at());
    exercise.is_none_or(|exercise| ladder::at_top(exercise, spot.rung, &spot.relief))
        && next_in_phase(case, spot).is_none()
}

/// The place on which an exercise comes in: its start rung, or `return_at` rungs under its last one. Relief is kept
/// as far as that rung has room for it.
pub(crate) fn entry(case: &Case<'_>, stand: &Stand, ix: ExerciseIx) -> Option<Spot> {
    let exercise = case.pack.exercises.get(ix.at())?;
    let last = stand.last_of(ix);
    let rung = ladder::entry_rung(exercise, last.map(|last| last.rung.as_slice()))?;
    let relief = last.map_or(&[][..], |last| last.relief.as_slice());
    Some(Spot {
        line: exercise.line,
        exercise: ix,
        rung,
        relief: ladder::map_relief(exercise, rung, relief),
        set_anew: case.no,
        setting: last.and_then(|last| last.setting.clone()),
    })
}

/// The lines to which a new counted session of this stay gave a slot; none: the phase does not bound climbs.
///
/// Slots go round the lines of the phase that are not at their top, in declared order, so many for every counted
/// session, whether used or not; a withdrawn line keeps its own.
pub(crate) fn slots(case: &Case<'_>, new: &[usize]) -> Option<Vec<LineIx>> {
    let phase = case.stand.phase?;
    let most = case.pack.phases.get(phase.at())?.climb_max?;
    let mut given = Vec::new();
    let candidates = candidates(case);
    let (Some((stay, _)), false) = (case.stand.stay, candidates.is_empty()) else {
        return Some(given);
    };
    for at in new {
        let Some(k) = turn_of(case, *at, stay) else {
            continue;
        };
        for j in 0..usize::from(most) {
            let turn = k.saturating_mul(usize::from(most)).saturating_add(j);
            let turn = turn.checked_rem(candidates.len());
            if let Some(line) = turn.and_then(|turn| candidates.get(turn)) {
                given.push(*line);
            }
        }
    }
    Some(given)
}

/// The how-manieth counted session of the stay a new one is, from 0; none where it is not new itself or does not count.
fn turn_of(case: &Case<'_>, at: usize, stay: DecisionNo) -> Option<usize> {
    let index = case.history.index();
    let mark = index.marks.get(at)?;
    if mark.followed < Some(stay) || !case.is_new(mark.date, mark.known) {
        return None;
    }
    if index.in_step {
        let first = index
            .marks
            .partition_point(|mark| mark.followed < Some(stay));
        return at.checked_sub(first);
    }
    let before = index.marks.iter().take(at);
    Some(before.filter(|mark| mark.followed >= Some(stay)).count())
}

fn candidates(case: &Case<'_>) -> Vec<LineIx> {
    let Some(phase) = case.stand.phase else {
        return Vec::new();
    };
    let lines = (0u16..).map(LineIx).zip(&case.pack.lines);
    lines
        .filter(|(_, line)| {
            let mut exercises = line.exercises.iter();
            exercises.any(|one| case.phase_has(phase, *one))
        })
        .filter(|(ix, line)| match case.stand.spot(*ix) {
            Some(spot) => !at_top(case, spot),
            None => {
                let mut exercises = line.exercises.iter();
                exercises.any(|one| case.stand.withdrawn(*one).is_some())
            }
        })
        .map(|(ix, _)| ix)
        .collect()
}

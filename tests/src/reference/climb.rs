//! Whether a line may climb, and where to.
//!
//! Leaves to others: what keeps it from climbing after all (`super::lines`).

use super::context::{Context, Counted};
use super::dose::{
    Spot, comfort_is_known, entry_spot, is_blocked, line_in_phase, phase_lines, prescribed_rows,
    unroll, within_caps,
};
use super::limit::not_carried;
use super::lines::Making;
use super::rule::{JudgedRule, judge, judge_rule};
use super::view::{SessionAt, View};
use rungwise_engine::decision::RuleVerdict;
use rungwise_engine::fact::Done;
use rungwise_pack::model::{LineIx, PhaseIx, RowValue};
use rungwise_pack::quantity::Variable;

/// The climb rule judged, and where the line climbs to if it may.
#[must_use]
pub fn climb_target(making: &Making<'_>, spot: &Spot) -> (JudgedRule, Option<Spot>) {
    let Making {
        view, now, weighed, ..
    } = *making;
    let exercise = spot.exercise;
    let counted = Counted::Of(exercise, spot.set_anew);
    let ctx = Context::upward(view, &now.state, counted).of(exercise);
    let judged = judge_rule(&ctx, view.pack.exercises[exercise.at()].climb);
    let sessions = ctx.counted_sessions();
    let may = judged.judged.verdict == RuleVerdict::Met
        && weighed.fresh
        && not_carried(&ctx, making.phase, |_| vec![exercise]).is_none()
        && sessions
            .last()
            .is_some_and(|newest| reached(&ctx, spot, newest))
        && has_slot(making, view.pack.exercises[exercise.at()].line);
    let target = target(making, &ctx, spot).filter(|target| may_hold(&ctx, target));
    let target = if may {
        super::band::climb(making, &ctx, spot, target)
    } else {
        None
    };
    (judged, target)
}

/// Whether a place may be climbed to for all that directives and the comfortable range say.
#[must_use]
pub fn may_hold(ctx: &Context<'_>, spot: &Spot) -> bool {
    within_caps(ctx, spot) && comfort_is_known(ctx, &ctx.pack().exercises[spot.exercise.at()])
}

/// The next place up, if there is one: relief regained first, then a rung, then the next exercise.
fn target(making: &Making<'_>, ctx: &Context<'_>, spot: &Spot) -> Option<Spot> {
    let pack = ctx.pack();
    let exercise = &pack.exercises[spot.exercise.at()];
    let mut up = Spot {
        set_anew: making.number,
        ..spot.clone()
    };
    if up.relief.pop().is_some() {
        return Some(up);
    }
    let ladder = unroll(exercise);
    if spot.rung + 1 < ladder.len() {
        up.rung += 1;
        let needs_met = (0..exercise.rows.len())
            .filter(|row| ladder[spot.rung][*row] != ladder[up.rung][*row])
            .filter_map(|row| {
                exercise.rows[row].values[ladder[up.rung][row]]
                    .needs
                    .as_ref()
            })
            .all(|needs| judge(ctx, needs).verdict == RuleVerdict::Met);
        return needs_met.then_some(up);
    }
    let next = next_exercise(making, spot, making.phase)?;
    Some(entry_spot(
        pack,
        &making.now.state.last_places,
        next,
        making.number,
    ))
}

fn next_exercise(
    making: &Making<'_>,
    spot: &Spot,
    phase: PhaseIx,
) -> Option<rungwise_pack::model::ExerciseIx> {
    let pack = making.view.pack;
    line_in_phase(making.view, pack.exercises[spot.exercise.at()].line, phase)
        .into_iter()
        .find(|other| *other > spot.exercise)
        .filter(|other| !is_blocked(pack, &making.now.state, *other))
}

/// Whether every prescribed set of a session reached the dose.
fn reached(ctx: &Context<'_>, spot: &Spot, session: &SessionAt) -> bool {
    let exercise = &ctx.pack().exercises[spot.exercise.at()];
    let Some(dose) = prescribed_rows(ctx, spot) else {
        return false;
    };
    let Some(report) = session.tried(ctx.pack(), spot.exercise) else {
        return false;
    };
    let wanted = |variable| {
        let row = exercise
            .rows
            .iter()
            .position(|row| row.variable == variable)?;
        match &exercise.rows[row].values[dose[row]].value {
            RowValue::Number(number) => Some(number.0),
            RowValue::Label(_) => None,
        }
    };
    let enough = |done: Option<u16>, variable| {
        wanted(variable)
            .is_none_or(|least| done.is_some_and(|done| i64::from(done) * 1000 >= least))
    };
    let sets = wanted(Variable::Sets).map(|sets| (sets / 1000) as usize);
    let counted = sets.unwrap_or(report.sets.len());
    report.done == Done::Done
        && counted > 0
        && report.sets.len() >= counted
        && report
            .sets
            .iter()
            .take(counted)
            .all(|set| enough(set.reps, Variable::Reps) && enough(set.hold_s, Variable::HoldTime))
}

/// Whether a new counted session gave the line a slot (everything has one where nothing bounds it).
fn has_slot(making: &Making<'_>, line: LineIx) -> bool {
    let Making {
        view, now, phase, ..
    } = *making;
    let Some(most) = view.pack.phases[phase.at()].climb_max.map(usize::from) else {
        return true;
    };
    let candidates: Vec<LineIx> = phase_lines(view, phase)
        .into_iter()
        .filter(|line| is_candidate(making, *line))
        .collect();
    let Some(own) = candidates.iter().position(|other| *other == line) else {
        return false;
    };
    let (stay, _) = now.state.stay.expect("a phase in force has a stay");
    let seen = view.last_prescribing();
    view.sessions()
        .iter()
        .filter(|session| session.followed_since(stay))
        .enumerate()
        .any(|(k, session)| {
            View::is_new(session.known, session.date, seen)
                && (0..most).any(|j| (k * most + j) % candidates.len() == own)
        })
}

/// Whether a line takes part in the slots: it has a place that is not at the top, or is withdrawn.
fn is_candidate(making: &Making<'_>, line: LineIx) -> bool {
    let Making {
        view, now, phase, ..
    } = *making;
    let pack = view.pack;
    let place = now
        .state
        .places
        .iter()
        .filter_map(|place| Spot::of(pack, place))
        .find(|spot| pack.exercises[spot.exercise.at()].line == line);
    match place {
        Some(spot) => {
            let top = unroll(&pack.exercises[spot.exercise.at()]).len() - 1;
            !spot.relief.is_empty()
                || spot.rung < top
                || line_in_phase(view, line, phase)
                    .iter()
                    .any(|other| *other > spot.exercise)
        }
        None => now.state.withdrawals.iter().any(|withdrawal| {
            pack.exercise(&withdrawal.exercise)
                .is_some_and(|exercise| pack.exercises[exercise.at()].line == line)
        }),
    }
}

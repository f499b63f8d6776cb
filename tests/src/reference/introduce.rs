//! Lines that get a place: introduced, returned after a withdrawal or a stop, returned when the phase goes back.
//!
//! Leaves to others: lines that have a place (`super::lines`).

use super::context::{Context, Counted};
use super::dose::{Spot, entry_spot, is_blocked, line_in_phase, phase_lines};
use super::limit::not_carried;
use super::lines::{Making, Step};
use super::refer::stops;
use super::rule::{JudgedRule, judge_rule};
use super::weigh::Cap;
use rungwise_engine::decision::{LastPlace, Move, RuleVerdict};
use rungwise_engine::fact::DecisionNo;
use rungwise_pack::model::{ExerciseIx, LineIx, Outcome, PhaseIx};

/// Bring-back rules of withdrawn exercises, judged, with whether each may bring its exercise back.
#[must_use]
pub fn bring_backs(making: &Making<'_>) -> Vec<(ExerciseIx, Option<JudgedRule>, bool)> {
    let Making { view, now, .. } = *making;
    let mut found = Vec::new();
    for withdrawal in &now.state.withdrawals {
        let Some(exercise) = view.pack.exercise(&withdrawal.exercise) else { continue };
        let Some(rule) = view.pack.exercises[exercise.at()].bring_back else {
            found.push((exercise, None, false));
            continue;
        };
        let ctx = Context::upward(view, &now.state, Counted::Since(withdrawal.by)).of(exercise);
        let judged = judge_rule(&ctx, rule);
        let may = judged.judged.verdict == RuleVerdict::Met && carries(making, &ctx);
        found.push((exercise, Some(judged), may));
    }
    found
}

fn carries(making: &Making<'_>, ctx: &Context<'_>) -> bool {
    !ctx.counted_sessions().is_empty()
        && not_carried(ctx, making.phase, |session| session.all_tried(ctx.pack())).is_none()
}

/// Whether lines may be introduced: by sessions since the last introduction, by entering, or after a stop.
fn may_introduce(making: &Making<'_>) -> bool {
    let Making { view, now, weighed, .. } = *making;
    if weighed.cap < Cap::Climb
        || !matches!(weighed.outcome, Outcome::Continue | Outcome::Progress)
        || !weighed.fresh
    {
        return false;
    }
    if weighed.outcome == Outcome::Progress || now.placed.is_some() || was_stopped(making) {
        return true;
    }
    let introduced = now.state.introduced.unwrap_or(DecisionNo(0));
    carries(making, &Context::upward(view, &now.state, Counted::Since(introduced)))
}

/// Whether a referral stopped everything since the last introduction.
fn was_stopped(making: &Making<'_>) -> bool {
    let Making { view, now, .. } = *making;
    view.decisions.iter().any(|decided| {
        now.state.introduced.is_none_or(|introduced| decided.number > introduced)
            && decided.decision.state.latched.iter().any(|key| stops(view, key))
    })
}

/// The places that lines without one get, after the `steps` of the others.
#[must_use]
pub fn introductions(making: &Making<'_>, steps: &[Step]) -> Vec<Step> {
    let Making { view, now, number, .. } = *making;
    let mut last_places = now.state.last_places.clone();
    for left in steps.iter().filter(|step| step.to.is_none()).filter_map(|step| step.from.as_ref()) {
        let left = left.remembered(view.pack);
        last_places.retain(|last| last.exercise != left.exercise);
        last_places.push(left);
    }
    let without = |line: &LineIx| {
        !steps.iter().any(|step| {
            step.to.as_ref().is_some_and(|to| view.pack.exercises[to.exercise.at()].line == *line)
        })
    };
    if making.weighed.goes_back && making.weighed.cap > Cap::Withdraw {
        return returned_by_regress(making, &last_places, without);
    }
    if !may_introduce(making) {
        return Vec::new();
    }
    let phase = &view.pack.phases[making.to_phase.at()];
    let lines = phase_lines(view, making.to_phase);
    let lines_max = phase.lines_max.map_or(lines.len(), usize::from);
    let candidates: Vec<LineIx> = lines.into_iter().take(lines_max).filter(without).collect();
    let introduce_max = phase.introduce_max.map_or(candidates.len(), usize::from);
    let back = bring_backs(making);
    candidates
        .into_iter()
        .take(introduce_max)
        .filter(|line| !steps.iter().any(|step| step.line == *line && step.withdraws))
        .filter_map(|line| {
            let withdrawn = back.iter().filter(|(exercise, ..)| {
                view.pack.exercises[exercise.at()].line == line
            });
            match withdrawn.min_by_key(|(exercise, ..)| *exercise) {
                Some((exercise, _, true))
                    if line_in_phase(view, line, making.to_phase).contains(exercise) =>
                {
                    let to = entry_spot(view.pack, &last_places, *exercise, number);
                    let mut step = begun(line, Move::Return, to);
                    step.ends = Some(view.pack.exercises[exercise.at()].key.clone());
                    Some(step)
                }
                _ => introduced(making, &last_places, line, making.to_phase),
            }
        })
        .collect()
}

fn begun(line: LineIx, mv: Move, to: Spot) -> Step {
    Step { line, mv, from: None, to: Some(to), proposed_to: None, withdraws: false, ends: None }
}

/// The exercise that a line begins with: the hardest of the phase on which it stood before, else its first.
fn introduced(
    making: &Making<'_>,
    last_places: &[LastPlace],
    line: LineIx,
    phase: PhaseIx,
) -> Option<Step> {
    let Making { view, now, number, .. } = *making;
    let open: Vec<ExerciseIx> = line_in_phase(view, line, phase)
        .into_iter()
        .filter(|exercise| !is_blocked(view.pack, &now.state, *exercise))
        .collect();
    let stood = open.iter().rfind(|exercise| {
        last_places.iter().any(|last| last.exercise == view.pack.exercises[exercise.at()].key)
    });
    let (mv, exercise) = match stood {
        Some(exercise) => (Move::Return, *exercise),
        None => (Move::Introduce, *open.first()?),
    };
    Some(begun(line, mv, entry_spot(view.pack, last_places, exercise, number)))
}

/// Lines that only the phase before has return when the phase goes back, whatever the cap.
fn returned_by_regress(
    making: &Making<'_>,
    last_places: &[LastPlace],
    without: impl Fn(&LineIx) -> bool,
) -> Vec<Step> {
    let Making { view, phase, .. } = *making;
    let left = phase_lines(view, phase);
    phase_lines(view, making.to_phase)
        .into_iter()
        .filter(|line| !left.contains(line))
        .filter(without)
        .filter_map(|line| {
            let step = introduced(making, last_places, line, making.to_phase)?;
            Some(Step { mv: Move::Return, proposed_to: step.to.clone(), ..step })
        })
        .collect()
}

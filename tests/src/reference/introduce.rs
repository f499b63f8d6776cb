//! Lines that get a place: introduced, returned after a withdrawal or a stop, returned when the phase goes back.
//!
//! Leaves to others: lines that have a place (`super::lines`).

use super::context::{Context, Counted};
use super::dose::{Spot, entry_spot, is_blocked, is_left_out, line_in_phase, phase_lines};
use super::limit::not_carried;
use super::lines::{Making, Step};
use super::rule::{JudgedRule, judge_rule};
use super::weigh::Cap;
use rungwise_engine::decision::{LastPlace, Move, RuleVerdict};
use rungwise_engine::fact::DecisionNo;
use rungwise_pack::model::{ExerciseIx, LineIx, Outcome};
use rungwise_pack::quantity::Key;

/// A withdrawn exercise with its bring-back rule judged.
#[derive(Clone, Debug)]
pub struct BringBack {
    /// The exercise.
    pub exercise: ExerciseIx,
    /// Its rule, where it has one.
    pub judged: Option<JudgedRule>,
    /// Whether the rule may end the withdrawal now.
    pub may: bool,
}

/// Every withdrawn exercise.
#[must_use]
pub fn bring_backs(making: &Making<'_>) -> Vec<BringBack> {
    let Making { view, now, .. } = *making;
    let mut found = Vec::new();
    for withdrawal in &now.state.withdrawals {
        let Some(exercise) = view.pack.exercise(&withdrawal.exercise) else {
            continue;
        };
        let Some(rule) = view.pack.exercises[exercise.at()].bring_back else {
            found.push(BringBack {
                exercise,
                judged: None,
                may: false,
            });
            continue;
        };
        let ctx = Context::upward(view, &now.state, Counted::Since(withdrawal.by)).of(exercise);
        let judged = judge_rule(&ctx, rule);
        let may =
            judged.judged.verdict == RuleVerdict::Met && carries(making, &ctx) && may_rise(making);
        found.push(BringBack {
            exercise,
            judged: Some(judged),
            may,
        });
    }
    found
}

fn carries(making: &Making<'_>, ctx: &Context<'_>) -> bool {
    !ctx.counted_sessions().is_empty()
        && not_carried(ctx, making.phase, |session| session.all_tried(ctx.pack())).is_none()
}

/// Whether no cap stands in the way of a line that begins.
fn may_rise(making: &Making<'_>) -> bool {
    let weighed = making.weighed;
    weighed.cap >= Cap::Climb
        && matches!(weighed.outcome, Outcome::Continue | Outcome::Progress)
        && weighed.fresh
}

/// Whether a line may be introduced: by sessions since the last introduction, by entering, or because it was stopped.
fn may_introduce(making: &Making<'_>, line: LineIx) -> bool {
    let Making {
        view, now, weighed, ..
    } = *making;
    let key = &view.pack.lines[line.at()].key;
    let was_stopped =
        stopped_on(making).is_some_and(|stopped| stopped.iter().any(|(stopped, _)| stopped == key));
    if weighed.outcome == Outcome::Progress || now.placed.is_some() || was_stopped {
        return true;
    }
    let introduced = now.state.introduced.unwrap_or(DecisionNo(0));
    carries(
        making,
        &Context::upward(view, &now.state, Counted::Since(introduced)),
    )
}

/// The exercises that a referral stopped, while nothing has been in force since.
fn stopped_on(making: &Making<'_>) -> Option<Vec<(Key, ExerciseIx)>> {
    let Making { view, now, .. } = *making;
    if !now.state.places.is_empty() {
        return None;
    }
    let stop = view
        .decisions
        .iter()
        .rev()
        .take_while(|decided| decided.decision.state.places.is_empty())
        .find(|decided| {
            let mut moves = decided.decision.moves.iter();
            decided.decision.outcome == Outcome::Refer && moves.any(|one| one.mv == Move::Withdraw)
        })?;
    let moves = stop.decision.moves.iter();
    // A line that ended by going back was not stopped.
    let withdrawn = moves.filter(|one| one.mv == Move::Withdraw);
    let stopped = withdrawn.filter_map(|one| {
        let exercise = view.pack.exercise(one.from.as_ref()?)?;
        Some((one.line.clone(), exercise))
    });
    Some(stopped.collect())
}

/// The places that lines without one get, after the `steps` of the others.
#[must_use]
pub fn introductions(making: &Making<'_>, steps: &[Step]) -> Vec<Step> {
    let Making { view, now, .. } = *making;
    let mut last_places = now.state.last_places.clone();
    for left in steps
        .iter()
        .filter(|step| step.to.is_none())
        .filter_map(|step| step.left_at.as_ref())
    {
        let left = left.remembered(view.pack);
        last_places.retain(|last| last.exercise != left.exercise);
        last_places.push(left);
    }
    let has_place = |line: &LineIx| {
        steps
            .iter()
            .any(|step| step.line == *line && step.to.is_some())
    };
    let without = |line: &LineIx| !has_place(line);
    if making.weighed.goes_back && making.weighed.cap > Cap::Withdraw {
        return returned_by_regress(making, &last_places, without);
    }
    if !may_rise(making) {
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
        .filter(|line| !steps.iter().any(|step| step.line == *line))
        .filter(|line| making.weighed.raises(view, *line))
        .filter_map(|line| {
            let step = returned(making, &last_places, line, &back);
            match (step, stopped_at(making, line)) {
                (Some(step), _) => Some(step),
                // Not on a gentler one, where that one is blocked or left out.
                (None, Some(exercise)) => stopped(making, &last_places, line, exercise),
                (None, None) => introduced(making, &last_places, line),
            }
        })
        .filter(|step| {
            step.to
                .as_ref()
                .is_none_or(|to| !is_left_out(view, to.exercise))
        })
        .collect()
}

fn begun(line: LineIx, mv: Move, to: Spot) -> Step {
    Step {
        line,
        mv,
        from: None,
        to: Some(to),
        proposed_to: None,
        left_at: None,
        eases: false,
        withdraws: false,
        ends: None,
    }
}

/// A withdrawn line that its bring-back rule returns.
fn returned(
    making: &Making<'_>,
    last_places: &[LastPlace],
    line: LineIx,
    back: &[BringBack],
) -> Option<Step> {
    let Making { view, number, .. } = *making;
    let gentlest = back
        .iter()
        .filter(|back| view.pack.exercises[back.exercise.at()].line == line)
        .min_by_key(|back| back.exercise)
        .filter(|back| back.may)?
        .exercise;
    if !line_in_phase(view, line, making.to_phase).contains(&gentlest)
        || is_left_out(view, gentlest)
    {
        return None;
    }
    let to = entry_spot(view.pack, last_places, gentlest, number);
    let ends = Some(view.pack.exercises[gentlest.at()].key.clone());
    Some(Step {
        ends,
        ..begun(line, Move::Return, to)
    })
}

/// Where a line that a referral stopped begins again: the exercise that it was stopped on, or the next gentler one
/// that the phase has.
fn stopped_at(making: &Making<'_>, line: LineIx) -> Option<ExerciseIx> {
    let key = &making.view.pack.lines[line.at()].key;
    let (_, on) = stopped_on(making)?
        .into_iter()
        .find(|(stopped, _)| stopped == key)?;
    line_in_phase(making.view, line, making.to_phase)
        .into_iter()
        .rfind(|exercise| *exercise <= on)
}

fn stopped(
    making: &Making<'_>,
    last_places: &[LastPlace],
    line: LineIx,
    exercise: ExerciseIx,
) -> Option<Step> {
    let Making {
        view, now, number, ..
    } = *making;
    if is_blocked(view.pack, &now.state, exercise) {
        return None;
    }
    Some(begun(
        line,
        Move::Return,
        entry_spot(view.pack, last_places, exercise, number),
    ))
}

/// A line that begins with the gentlest exercise of the phase.
fn introduced(making: &Making<'_>, last_places: &[LastPlace], line: LineIx) -> Option<Step> {
    let Making {
        view, now, number, ..
    } = *making;
    if !may_introduce(making, line) {
        return None;
    }
    let exercise = *line_in_phase(view, line, making.to_phase).first()?;
    if is_blocked(view.pack, &now.state, exercise) {
        return None;
    }
    Some(begun(
        line,
        Move::Introduce,
        entry_spot(view.pack, last_places, exercise, number),
    ))
}

/// Lines that only the phase before has return when the phase goes back, whatever the cap: on the hardest exercise on
/// which they stood before, else on their first.
fn returned_by_regress(
    making: &Making<'_>,
    last_places: &[LastPlace],
    without: impl Fn(&LineIx) -> bool,
) -> Vec<Step> {
    let Making {
        view,
        now,
        phase,
        number,
        ..
    } = *making;
    let left = phase_lines(view, phase);
    let lines = phase_lines(view, making.to_phase);
    let most = making.view.pack.phases[making.to_phase.at()].lines_max;
    let most = most.map_or(lines.len(), usize::from);
    lines
        .into_iter()
        .take(most)
        .filter(|line| !left.contains(line))
        .filter(without)
        .filter_map(|line| {
            let open: Vec<ExerciseIx> = line_in_phase(view, line, making.to_phase)
                .into_iter()
                .filter(|exercise| !is_blocked(view.pack, &now.state, *exercise))
                .collect();
            let stood = open.iter().rfind(|exercise| {
                let key = &view.pack.exercises[exercise.at()].key;
                last_places.iter().any(|last| last.exercise == *key)
            });
            let exercise = *stood.or_else(|| open.first())?;
            let to = entry_spot(view.pack, last_places, exercise, number);
            Some(Step {
                proposed_to: Some(to.clone()),
                ..begun(line, Move::Return, to)
            })
        })
        .collect()
}

/// Withdrawals that end without a move: their line stands somewhere, as it did before.
#[must_use]
pub fn ended_quietly(making: &Making<'_>, steps: &[Step]) -> Vec<Key> {
    let exercises = &making.view.pack.exercises;
    bring_backs(making)
        .into_iter()
        .filter(|back| back.may)
        .filter(|back| {
            let line = exercises[back.exercise.at()].line;
            steps
                .iter()
                .any(|step| step.line == line && step.from.is_some() && step.to.is_some())
        })
        .map(|back| exercises[back.exercise.at()].key.clone())
        .collect()
}

//! What happens to each line that has a place: its own move, lowered by every cap in force.
//!
//! Leaves to others: lines that get a place (`super::introduce`), what is recorded (`super::settle`).

use super::climb::climb_target;
use super::dose::{Spot, entry_spot, is_blocked, line_in_phase, phase_lines};
use super::in_force::InForce;
use super::limit::{Stand, exercise_over, person_over};
use super::refer::Referred;
use super::rule::JudgedRule;
use super::view::{Morning, SessionAt, View};
use super::weigh::{Cap, Weighed, phase_after, phase_of};
use rungwise_engine::decision::{Move, State};
use rungwise_engine::fact::DecisionNo;
use rungwise_pack::model::{ExerciseIx, LineIx, Outcome, PhaseIx};
use rungwise_pack::quantity::Key;

/// A line's step from one place to another.
#[derive(Clone, Debug)]
pub struct Step {
    /// The line.
    pub line: LineIx,
    /// The move.
    pub mv: Move,
    /// Where it was.
    pub from: Option<Spot>,
    /// Where it is then.
    pub to: Option<Spot>,
    /// Where it is while the decision is only proposed.
    pub proposed_to: Option<Spot>,
    /// Where its exercise is remembered to have stood, where it is left.
    pub left_at: Option<Spot>,
    /// Whether it was to be made easier, also where nothing was left to give.
    pub eases: bool,
    /// Whether its exercise counts as withdrawn (and not only as stopped by a referral).
    pub withdraws: bool,
    /// The exercise whose withdrawal ends.
    pub ends: Option<Key>,
}

/// What a line would do by itself.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Own {
    /// Over a limit twice running.
    Withdraw,
    /// Over a limit once.
    Ease,
    /// Neither.
    Keep,
    /// Up to there.
    Climb(Box<Spot>),
}

/// Sessions in which an exercise was tried, those of its run, with how they stand now and whether that is new.
fn run(view: &View<'_>, state: &State, exercise: ExerciseIx) -> Vec<(Stand, bool)> {
    let phase = phase_of(view, state);
    let key = &view.pack.exercises[exercise.at()].key;
    let from = state
        .run_from
        .iter()
        .find(|(other, _)| other == key)
        .map(|(_, number)| *number);
    run_of(view, |view, session| {
        if session.tried(view.pack, exercise).is_none()
            || from.is_some_and(|number| !session.followed_since(number))
        {
            return None;
        }
        Some(exercise_over(view, state, phase, session, exercise))
    })
}

fn run_of(
    view: &View<'_>,
    stand: impl Fn(&View<'_>, &SessionAt) -> Option<Stand>,
) -> Vec<(Stand, bool)> {
    let before = view.last_prescribing().map(|seen| view.seen_by(seen));
    let seen_sessions = before.as_ref().map(View::sessions).unwrap_or_default();
    view.sessions()
        .iter()
        .filter_map(|session| {
            let now = stand(view, session)?;
            let then = before.as_ref().and_then(|before| {
                let seen = seen_sessions
                    .iter()
                    .find(|seen| seen.position == session.position)?;
                stand(before, seen)
            });
            let new = has_news(view, session);
            Some((now, new && now == Stand::Over && then != Some(Stand::Over)))
        })
        .collect()
}

/// Whether the session or its morning after is new, or newly corrected.
fn has_news(view: &View<'_>, session: &SessionAt) -> bool {
    let seen = view.last_prescribing();
    View::is_new(session.known, session.date, seen)
        || matches!(session.morning, Morning::Told { known, date, .. }
            if View::is_new(known, date, seen))
}

/// Own move downwards: once over eases, twice running withdraws, an open session neither makes nor breaks a run.
fn own_down(run: &[(Stand, bool)]) -> Own {
    let known: Vec<(Stand, bool)> = run
        .iter()
        .filter(|(stand, _)| *stand != Stand::Open)
        .copied()
        .collect();
    let mut own = Own::Keep;
    for (at, (_, new)) in known.iter().enumerate() {
        if !new {
            continue;
        }
        if at > 0 && known[at - 1].0 == Stand::Over {
            return Own::Withdraw;
        }
        own = Own::Ease;
    }
    own
}

/// Lines that a limit on the person eases.
fn eased_for_person(view: &View<'_>, state: &State) -> Vec<LineIx> {
    let phase = phase_of(view, state);
    let crossed = run_of(view, |view, session| {
        Some(person_over(view, state, phase, session))
    })
    .iter()
    .any(|(_, new)| *new);
    if !crossed {
        return Vec::new();
    }
    let all: Vec<LineIx> = state
        .places
        .iter()
        .filter_map(|place| view.pack.line(&place.line))
        .collect();
    let climbed: Vec<LineIx> = all
        .iter()
        .filter(|line| state.climbed_last.contains(&view.pack.lines[line.at()].key))
        .copied()
        .collect();
    if climbed.is_empty() { all } else { climbed }
}

/// Everything about the decision that a line's step depends on.
#[derive(Clone, Copy)]
pub struct Making<'d> {
    /// What is known.
    pub view: &'d View<'d>,
    /// What is in force.
    pub now: &'d InForce,
    /// What the rules come to.
    pub weighed: &'d Weighed,
    /// The refer rules.
    pub referred: &'d Referred,
    /// The phase in force.
    pub phase: PhaseIx,
    /// The phase that will be.
    pub to_phase: PhaseIx,
    /// The number of this decision.
    pub number: DecisionNo,
}

/// The steps of lines that have a place, and the climb rules judged on the way.
#[must_use]
pub fn steps(making: &Making<'_>) -> (Vec<Step>, Vec<JudgedRule>) {
    let Making {
        view, now, weighed, ..
    } = *making;
    let person = eased_for_person(view, &now.state);
    let mut judged = Vec::new();
    let mut steps = Vec::new();
    for place in &now.state.places {
        let Some(spot) = Spot::of(view.pack, place) else {
            continue;
        };
        let line = view.pack.exercises[spot.exercise.at()].line;
        let (climb_rule, target) = climb_target(making, &spot);
        judged.push(climb_rule);
        let mut own = own_down(&run(view, &now.state, spot.exercise));
        if own == Own::Ease && spot.eased(view.pack).is_none() {
            own = Own::Withdraw;
        }
        if own == Own::Keep
            && let Some(target) = target
        {
            own = Own::Climb(Box::new(target));
        }
        let cap = if person.contains(&line) {
            weighed.cap.min(Cap::Ease)
        } else {
            weighed.cap
        };
        steps.push(step(making, line, &spot, &own, cap));
    }
    (steps, judged)
}

fn step(making: &Making<'_>, line: LineIx, spot: &Spot, own: &Own, cap: Cap) -> Step {
    let Making {
        view,
        now,
        weighed,
        number,
        ..
    } = *making;
    let mut step = Step {
        line,
        mv: Move::Keep,
        from: Some(spot.clone()),
        to: Some(spot.clone()),
        proposed_to: Some(spot.clone()),
        left_at: Some(spot.clone()),
        eases: false,
        withdraws: *own == Own::Withdraw,
        ends: None,
    };
    if *own == Own::Withdraw || cap == Cap::Withdraw {
        step.mv = Move::Withdraw;
        step.to = None;
        step.proposed_to = None;
        return step;
    }
    let previous = PhaseIx(making.phase.0.saturating_sub(1));
    let cap = if weighed.goes_back {
        cap.min(Cap::Keep)
    } else {
        cap
    };
    if weighed.goes_back && !line_in_phase(view, line, previous).contains(&spot.exercise) {
        step.mv = Move::Back;
        let back = line_in_phase(view, line, previous)
            .into_iter()
            .rfind(|other| *other < spot.exercise && !is_blocked(view.pack, &now.state, *other));
        step.to =
            back.map(|exercise| entry_spot(view.pack, &now.state.last_places, exercise, number));
        step.proposed_to = step.to.clone();
        return step;
    }
    let eases = *own == Own::Ease || cap == Cap::Ease || weighed.lay_off.steps > 0;
    if eases {
        let eased = (0..weighed.lay_off.steps.max(1)).fold(spot.clone(), |spot, _| {
            spot.eased(view.pack).unwrap_or(spot)
        });
        step.eases = true;
        step.mv = if eased == *spot {
            Move::Keep
        } else {
            Move::Ease
        };
        step.to = Some(Spot {
            set_anew: number,
            ..eased
        });
        step.proposed_to = step.to.clone();
        step.left_at = step.to.clone();
        return into_phase(making, step);
    }
    let cap = if weighed.raises(view, line) {
        cap
    } else {
        cap.min(Cap::Keep)
    };
    match own {
        Own::Climb(target) if cap >= Cap::Climb && may_stand(making, line, spot, target) => {
            step.mv = Move::Climb;
            step.to = Some(target.as_ref().clone());
        }
        _ if cap == Cap::Forward => return forward(making, step, spot),
        _ => {}
    }
    into_phase(making, step)
}

/// Whether the phase that will be has both the line's exercise and the one that it climbs to.
fn may_stand(making: &Making<'_>, line: LineIx, spot: &Spot, target: &Spot) -> bool {
    making.weighed.outcome != Outcome::Progress
        || (stays(making, line, spot.exercise) && stays(making, line, target.exercise))
}

/// Whether the phase that will be has this exercise and room for its line.
fn stays(making: &Making<'_>, line: LineIx, exercise: ExerciseIx) -> bool {
    line_in_phase(making.view, line, making.to_phase).contains(&exercise)
        && has_room(making.view, line, making.to_phase)
}

/// Whether a line is among those that a phase may prescribe.
#[must_use]
pub fn has_room(view: &View<'_>, line: LineIx, phase: PhaseIx) -> bool {
    let lines = phase_lines(view, phase);
    let most = view.pack.phases[phase.at()]
        .lines_max
        .map_or(lines.len(), usize::from);
    lines.iter().take(most).any(|other| *other == line)
}

/// An eased or kept line ends where the phase that will be lacks its exercise.
fn into_phase(making: &Making<'_>, mut step: Step) -> Step {
    if making.weighed.outcome == Outcome::Progress
        && let Some(to) = &step.to
        && !stays(making, step.line, to.exercise)
    {
        step.to = None;
    }
    step
}

fn forward(making: &Making<'_>, mut step: Step, spot: &Spot) -> Step {
    let Making {
        view, now, number, ..
    } = *making;
    if stays(making, step.line, spot.exercise) {
        return step;
    }
    step.mv = Move::Forward;
    step.to = None;
    if has_room(view, step.line, making.to_phase) {
        let next = line_in_phase(view, step.line, making.to_phase)
            .into_iter()
            .find(|other| *other > spot.exercise)
            .filter(|other| !is_blocked(view.pack, &now.state, *other));
        step.to =
            next.map(|exercise| entry_spot(view.pack, &now.state.last_places, exercise, number));
    }
    step
}

/// The phase after this decision.
#[must_use]
pub fn to_phase(view: &View<'_>, phase: PhaseIx, weighed: &Weighed) -> PhaseIx {
    if weighed.goes_back {
        PhaseIx(phase.0 - 1)
    } else if weighed.outcome == Outcome::Progress {
        phase_after(view, phase).expect("a phase to enter")
    } else {
        phase
    }
}

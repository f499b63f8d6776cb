//! What stands after a decision: the steps taken, places remembered, withdrawals kept.
//!
//! Leaves to others: the steps (`super::lines`, `super::introduce`).

use super::dose::Spot;
use super::in_force::{end_withdrawal, remember};
use super::introduce::ended_quietly;
use super::lines::{Making, Step};
use rungwise_engine::decision::{Move, Place, State, Withdrawal};
use rungwise_pack::model::{Outcome, PhaseIx};

/// The state once `steps` are taken; `whole` says whether everything is, or only what is below KEEP (a proposal).
#[must_use]
pub fn settle(making: &Making<'_>, steps: &[Step], whole: bool) -> State {
    let Making {
        view,
        now,
        weighed,
        number,
        ..
    } = *making;
    let pack = view.pack;
    let mut state = now.state.clone();
    state.latched = making.referred.latched.clone();
    state.lay_offs = weighed.lay_off.rows.clone();
    let mut places: Vec<Place> = Vec::new();
    for step in steps {
        let taken = whole || step.mv.rank() < Move::Keep.rank() || step.eases;
        let to = match (taken, whole) {
            (false, _) => step.from.as_ref(),
            (true, true) => step.to.as_ref(),
            (true, false) => step.proposed_to.as_ref(),
        };
        if let Some(from) = &step.from
            && to.is_none_or(|to| to.exercise != from.exercise)
        {
            remember(pack, &mut state, step.left_at.as_ref().unwrap_or(from));
        }
        if taken && step.withdraws {
            withdraw(&mut state, making, step);
        }
        if let (true, Some(key)) = (taken, &step.ends) {
            end_withdrawal(&mut state, key, number);
        }
        places.extend(to.map(|to| to.recorded(pack)));
    }
    let new_stay =
        weighed.regresses || weighed.lay_off.acts || weighed.outcome == Outcome::Progress;
    if whole && new_stay {
        places.iter_mut().for_each(|place| place.set_anew = number);
        state.stay = Some((number, view.today));
        state.climbed_last = Vec::new();
    }
    state
        .last_places
        .retain(|last| !places.iter().any(|place| place.exercise == last.exercise));
    places.sort_by_key(|place| pack.line(&place.line));
    state.places = places;
    if whole {
        for key in ended_quietly(making, steps) {
            end_withdrawal(&mut state, &key, number);
        }
        state.phase = Some(pack.phases[making.to_phase.at()].key.clone());
        raise(making, steps, &mut state);
    }
    state
}

fn withdraw(state: &mut State, making: &Making<'_>, step: &Step) {
    let Some(from) = &step.from else { return };
    let exercise = making.view.pack.exercises[from.exercise.at()].key.clone();
    state.withdrawals.retain(|other| other.exercise != exercise);
    state.withdrawals.push(Withdrawal {
        exercise,
        by: making.number,
    });
    state
        .withdrawals
        .sort_by(|a, b| a.exercise.cmp(&b.exercise));
}

fn raise(making: &Making<'_>, steps: &[Step], state: &mut State) {
    let up: Vec<_> = steps
        .iter()
        .filter(|step| step.mv.rank() > Move::Keep.rank() && step.to.is_some())
        .map(|step| making.view.pack.lines[step.line.at()].key.clone())
        .collect();
    if !up.is_empty() && !making.weighed.regresses {
        state.climbed_last = up;
    }
    let begun = steps
        .iter()
        .any(|step| matches!(step.mv, Move::Introduce | Move::Return));
    if begun || making.weighed.outcome == Outcome::Progress || making.weighed.goes_back {
        state.introduced = Some(making.number);
    }
    if making.weighed.outcome == Outcome::Discharge {
        state.discharged = true;
    }
}

/// A spot's exercise key.
#[must_use]
pub fn key_of(making: &Making<'_>, spot: Option<&Spot>) -> Option<rungwise_pack::quantity::Key> {
    spot.map(|spot| making.view.pack.exercises[spot.exercise.at()].key.clone())
}

/// The phase's key.
#[must_use]
pub fn phase_key(making: &Making<'_>, phase: PhaseIx) -> rungwise_pack::quantity::Key {
    making.view.pack.phases[phase.at()].key.clone()
}

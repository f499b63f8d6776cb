//! What is in force before the decision: the last one's state, then what was signed off and directed since (rule 1).
//!
//! Leaves to others: directives that bound (`super::dose`, `super::outcome`).

use super::dose::{Spot, rung_of, start_rung, values};
use super::view::{Decided, View, keeps_open};
use rungwise_engine::decision::{Place, State};
use rungwise_engine::fact::{DecisionNo, FactKind, Order, Position};
use rungwise_pack::model::{CheckedPack, RowValue};
use rungwise_pack::quantity::{Key, Variable};

/// What is in force, and what a directive did since the last decision.
#[derive(Clone, Debug)]
pub struct InForce {
    /// The state to decide from.
    pub state: State,
    /// The *place* that acts in this decision, and the exercises that it places.
    pub placed: Option<(Position, Vec<Key>)>,
    /// Whether a *reopen* acts in this decision.
    pub reopened: bool,
    /// The directive that begins the stay of this decision: what is recorded after it belongs to the stay.
    pub stay_from: Option<Position>,
    /// The places from before a *place*.
    pub before_place: Vec<Place>,
}

/// What is in force.
#[must_use]
pub fn in_force(view: &View<'_>) -> InForce {
    let last = view.last();
    let state = last
        .map(|last| last.decision.state.clone())
        .unwrap_or_default();
    let mut now = InForce {
        state,
        placed: None,
        reopened: false,
        stay_from: None,
        before_place: Vec::new(),
    };
    let mut new = view.new_entries(last);
    new.sort_by_key(|entry| entry.known);
    let standing: Vec<Position> = view
        .directives()
        .into_iter()
        .map(|(entry, _)| entry.position)
        .collect();
    for entry in new {
        match &entry.fact.kind {
            FactKind::SignOff {
                decision,
                accepted: true,
                ..
            } => {
                if let Some(decided) = view.decided(*decision) {
                    accept(view, &mut now, decided);
                }
            }
            FactKind::Directive(directive) if standing.contains(&entry.position) => {
                match &directive.order {
                    Order::Place { phase, places } if now.state.phase.is_some() => {
                        place(view, &mut now, entry.position, phase, places);
                    }
                    Order::Reopen if now.state.discharged => {
                        reopen(view, &mut now);
                        now.stay_from = Some(entry.position);
                    }
                    _ => {}
                }
            }
            _ => {}
        }
    }
    now
}

/// Whether a proposal can still be accepted.
#[must_use]
pub fn is_open(view: &View<'_>, state: &State, proposal: Decided<'_>) -> bool {
    let rejected = view.entries.iter().any(|entry| {
        matches!(&entry.fact.kind, FactKind::SignOff { decision, accepted: false, .. }
            if *decision == proposal.number)
    });
    let overtaken = view
        .decisions
        .iter()
        .filter(|later| later.number > proposal.number)
        .any(|later| !keeps_open(proposal.decision, later.decision));
    proposal.decision.proposed
        && !rejected
        && !overtaken
        && state.stay == proposal.decision.state.stay
        && !state.discharged
}

fn accept(view: &View<'_>, now: &mut InForce, proposal: Decided<'_>) {
    if !is_open(view, &now.state, proposal) {
        return;
    }
    let Some(accepted) = &proposal.decision.if_accepted else {
        return;
    };
    now.state = State {
        latched: now.state.latched.clone(),
        lay_offs: now.state.lay_offs.clone(),
        ..accepted.clone()
    };
}

/// The rung values of a directive on top of those of the start rung, on the ladder.
#[must_use]
pub fn directed_spot(
    pack: &CheckedPack,
    key: &Key,
    wanted: &[(Variable, RowValue)],
    now: DecisionNo,
) -> Option<Spot> {
    let exercise = pack.exercise(key)?;
    let known = &pack.exercises[exercise.at()];
    let mut dose = values(known, start_rung(known));
    for (variable, value) in &mut dose {
        if let Some((_, directed)) = wanted.iter().find(|(other, _)| other == variable) {
            *value = directed.clone();
        }
    }
    Some(Spot {
        exercise,
        rung: rung_of(known, &dose)?,
        relief: Vec::new(),
        set_anew: now,
        setting: None,
    })
}

fn place(
    view: &View<'_>,
    now: &mut InForce,
    position: Position,
    phase: &Key,
    places: &[(Key, Vec<(Variable, RowValue)>)],
) {
    let number = view.next_number();
    let spots: Vec<Spot> = places
        .iter()
        .filter_map(|(key, wanted)| directed_spot(view.pack, key, wanted, number))
        .collect();
    let keys: Vec<Key> = spots
        .iter()
        .map(|spot| view.pack.exercises[spot.exercise.at()].key.clone())
        .collect();
    let state = &mut now.state;
    if now.placed.is_none() {
        now.before_place = state.places.clone();
    }
    for place in std::mem::take(&mut state.places) {
        if !keys.contains(&place.exercise)
            && let Some(spot) = Spot::of(view.pack, &place)
        {
            remember(view.pack, state, &spot);
        }
    }
    let mut new: Vec<Place> = spots.iter().map(|spot| spot.recorded(view.pack)).collect();
    new.sort_by_key(|place| view.pack.line(&place.line));
    state.places = new;
    state
        .last_places
        .retain(|last| !keys.contains(&last.exercise));
    for key in &keys {
        if state
            .withdrawals
            .iter()
            .any(|withdrawal| withdrawal.exercise == *key)
        {
            end_withdrawal(state, key, number);
        }
    }
    state.phase = Some(phase.clone());
    state.stay = Some((number, view.today));
    state.introduced = Some(number);
    state.climbed_last = Vec::new();
    now.placed = Some((position, keys));
    now.stay_from = Some(position);
}

/// Ends a withdrawal: the run of sessions over a limit starts again.
pub fn end_withdrawal(state: &mut State, exercise: &Key, now: DecisionNo) {
    state
        .withdrawals
        .retain(|withdrawal| withdrawal.exercise != *exercise);
    state.run_from.retain(|(key, _)| key != exercise);
    state.run_from.push((exercise.clone(), now));
    state.run_from.sort();
}

/// Keeps where an exercise stood last.
pub fn remember(pack: &CheckedPack, state: &mut State, spot: &Spot) {
    let last = spot.remembered(pack);
    state
        .last_places
        .retain(|other| other.exercise != last.exercise);
    state.last_places.push(last);
    state
        .last_places
        .sort_by(|a, b| a.exercise.cmp(&b.exercise));
}

fn reopen(view: &View<'_>, now: &mut InForce) {
    let number = view.next_number();
    now.reopened = true;
    now.state.discharged = false;
    now.state.stay = Some((number, view.today));
    now.state.climbed_last = Vec::new();
    now.state
        .places
        .iter_mut()
        .for_each(|place| place.set_anew = number);
}

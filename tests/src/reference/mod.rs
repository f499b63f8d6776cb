//! The reference evaluator: the decision worked out slowly and plainly from the raw list of records.
//!
//! Written from the normative text alone and sharing only the data types with the engine, so that both agreeing says
//! something. It recomputes everything at each call and prefers trying every possibility to being clever.
//!
//! It leaves out: the order of `findings`, the causes of single moves, asks, what is missing to progress, and the next
//! review. Packs are not changed under an episode.

pub mod band;
pub mod begin;
pub mod climb;
mod combined;
pub mod computed;
pub mod context;
pub mod correction;
pub mod dose;
pub mod in_force;
pub mod introduce;
pub mod lay_off;
pub mod limit;
pub mod lines;
pub mod possible;
pub mod refer;
pub mod relation;
pub mod rule;
pub mod sentence;
pub mod series;
pub mod settle;
pub mod view;
pub mod volume;
pub mod weigh;

use in_force::{InForce, in_force};
use introduce::{bring_backs, introductions};
use jiff::civil::Date;
use lines::{Making, Step, steps, to_phase};
use refer::{Referred, refer, stops};
use rule::JudgedRule;
use rungwise_engine::SEMANTICS;
use rungwise_engine::decision::{Cause, Decision, Finding, LineMove, Move, State};
use rungwise_engine::fact::{Body, Episode, Order, Record};
use rungwise_pack::model::{CheckedPack, Outcome};
use rungwise_pack::quantity::Key;
use settle::{key_of, settle};
use view::View;
use weigh::{phase_of, weigh};

/// Decides from everything recorded.
///
/// # Panics
///
/// Where records do not belong to the pack.
#[must_use]
pub fn decide(pack: &CheckedPack, episode: &Episode, records: &[Record], as_of: Date) -> Decision {
    if let Some(Record {
        body: Body::Decision(last),
        ..
    }) = records.last()
        && last.as_of == as_of
        && last.pack == pack.digest
    {
        return (**last).clone();
    }
    decide_on(&View::new(pack, episode, records, None, as_of))
}

/// Decides from a view.
#[must_use]
pub fn decide_on(view: &View<'_>) -> Decision {
    let mut decision = decide_unsettled(view);
    band::settle_state(view, &mut decision.state);
    if let Some(state) = &mut decision.if_accepted {
        band::settle_state(view, state);
    }
    decision
}

/// Decides without the settings of bands.
fn decide_unsettled(view: &View<'_>) -> Decision {
    let now = in_force(view);
    let referred = refer(view, &now.state);
    if now.state.phase.is_none() {
        return begin::begin(view, now.state, &referred);
    }
    if now.state.discharged {
        return after_discharge(view, &now, &referred);
    }
    let phase = phase_of(view, &now.state);
    let weighed = weigh(view, &now, &referred);
    let making = Making {
        view,
        now: &now,
        weighed: &weighed,
        referred: &referred,
        phase,
        to_phase: to_phase(view, phase, &weighed),
        number: view.next_number(),
    };
    let (mut all, mut judged) = steps(&making);
    let begun = introductions(&making, &all);
    all.extend(begun);
    all.sort_by_key(|step| step.line);
    judged.extend(
        bring_backs(&making)
            .into_iter()
            .filter_map(|back| back.judged),
    );
    judged.extend(weighed.judged.clone());
    let whole = settle(&making, &all, true);
    let proposed = view.pack.sign_off.contains(&weighed.outcome);
    let (state, if_accepted) = if proposed {
        (settle(&making, &all, false), Some(whole))
    } else {
        (whole, None)
    };
    let moves = all.iter().map(|step| line_move(&making, step)).collect();
    Decision {
        proposed,
        moves: with_placed(&now, moves),
        if_accepted,
        because: weighed.because.clone(),
        ..bare(view, weighed.outcome, state, judged)
    }
}

fn line_move(making: &Making<'_>, step: &Step) -> LineMove {
    LineMove {
        line: making.view.pack.lines[step.line.at()].key.clone(),
        mv: step.mv,
        from: key_of(making, step.from.as_ref()),
        to: key_of(making, step.to.as_ref()),
        because: Vec::new(),
    }
}

/// A *place* shows as where the line was before it, and as an introduction where there was nothing. What is eased or
/// taken out is the exercise that was placed.
fn with_placed(now: &InForce, mut moves: Vec<LineMove>) -> Vec<LineMove> {
    let Some((_, placed)) = &now.placed else {
        return moves;
    };
    for one in &mut moves {
        let before = now.before_place.iter().find(|place| place.line == one.line);
        let is_placed = one.from.as_ref().is_some_and(|from| placed.contains(from));
        match before {
            Some(_) if is_placed && one.mv.rank() < Move::Keep.rank() => {}
            Some(before) => one.from = Some(before.exercise.clone()),
            None if is_placed && one.mv == Move::Keep => {
                one.mv = Move::Introduce;
                one.from = None;
            }
            None => {}
        }
    }
    moves
}

/// A decision without moves and proposals.
fn bare(view: &View<'_>, outcome: Outcome, state: State, judged: Vec<JudgedRule>) -> Decision {
    Decision {
        as_of: view.today,
        semantics: SEMANTICS,
        pack: view.pack.digest,
        outcome,
        proposed: false,
        prescribes: true,
        moves: Vec::new(),
        state,
        if_accepted: None,
        findings: judged
            .into_iter()
            .map(|judged| Finding {
                rule: judged.rule,
                verdict: judged.judged.verdict,
                sentences: judged.judged.sentences.into(),
            })
            .collect(),
        because: Vec::<Cause>::new(),
        to_progress: Vec::new(),
        asks: Vec::new(),
        next_review: view.today,
    }
}

/// Discharge stands until reopened; only a referral may follow it (rule 11).
fn after_discharge(view: &View<'_>, now: &InForce, referred: &Referred) -> Decision {
    let mut state = now.state.clone();
    state.latched = referred.latched.clone();
    let stopped = state.latched.iter().any(|key: &Key| stops(view, key));
    let moves = state
        .places
        .iter()
        .map(|place| LineMove {
            line: place.line.clone(),
            mv: if stopped { Move::Withdraw } else { Move::Keep },
            from: Some(place.exercise.clone()),
            to: (!stopped).then(|| place.exercise.clone()),
            because: Vec::new(),
        })
        .collect();
    if stopped {
        for place in std::mem::take(&mut state.places) {
            if let Some(spot) = dose::Spot::of(view.pack, &place) {
                in_force::remember(view.pack, &mut state, &spot);
            }
        }
    }
    let outcome = if state.latched.is_empty() {
        Outcome::Discharge
    } else {
        Outcome::Refer
    };
    Decision {
        moves: with_placed(now, moves),
        ..bare(view, outcome, state, referred.judged.clone())
    }
}

/// Whether an order that holds everything binds.
#[must_use]
pub fn is_held(view: &View<'_>) -> bool {
    view.orders()
        .iter()
        .any(|(_, order)| matches!(order, Order::Hold | Order::Pause))
}

//! The first prescription: screening answered and clear begins, otherwise it waits.
//!
//! Leaves to others: everything after it (`super::course`).

use super::case::Case;
use super::introduce::{Occasion, arrivals};
use super::refer::{Referral, refer};
use super::report::{Draft, report};
use super::stand::{Spot, Stand};
use crate::decision::{Cause, Decision, LineMove, Move};
use crate::evaluate::{Judged, Read, Reader, Scope, Tap, judge};
use crate::fact::Order;
use rungwise_pack::model::{Carrier, MeasureIx, Outcome, PhaseIx, RuleIx, RuleKind};

/// Decides before the first prescription.
pub(crate) fn begin(case: &Case<'_>) -> Decision {
    let referral = refer(case);
    let mut draft = Draft::new(referral.clone());
    draft.full = case.stand.clone();
    draft.prescribes = false;
    if !referral.latched.is_empty() {
        draft.outcome = Outcome::Refer;
        for (key, _, now) in &referral.latched {
            draft.because.push(if *now {
                Cause::Met(key.clone())
            } else {
                Cause::Latched(key.clone())
            });
        }
        return report(case, not_begun(case, draft));
    }
    let unanswered = unanswered(case);
    let held: Vec<Cause> = case
        .binding()
        .filter(|one| matches!(one.directive.order, Order::Hold | Order::Pause))
        .map(|one| Cause::Directive(one.position))
        .collect();
    if !unanswered.is_empty() || !referral.doubted.is_empty() || !held.is_empty() {
        draft.outcome = Outcome::Await;
        let doubted = referral.doubted.iter().cloned();
        draft.because.extend(doubted.map(Cause::Doubt));
        draft.because.extend(held);
        draft.unanswered = unanswered;
        return report(case, not_begun(case, draft));
    }
    started(case, &referral, draft)
}

/// A *place* that could not act yet is kept for the decision that begins.
fn not_begun(case: &Case<'_>, mut draft: Draft) -> Draft {
    if case.placed.is_some() {
        let latched = std::mem::take(&mut draft.full.latched);
        draft.full = Stand {
            latched,
            ..Stand::default()
        };
    }
    draft
}

/// Expected screening measures that are not known and fresh.
fn unanswered(case: &Case<'_>) -> Vec<MeasureIx> {
    let tap = Tap::default();
    let reader = Reader::new(case.view(), Scope::CAUTIOUS, &tap);
    let measures = (0u16..).map(MeasureIx).zip(&case.pack.measures);
    measures
        .filter(|(_, measure)| measure.expected && measure.carrier == Carrier::Screening)
        .filter(|(ix, _)| !matches!(reader.latest(*ix, None).0, Read::Known(_)))
        .map(|(ix, _)| ix)
        .collect()
}

fn started(case: &Case<'_>, referral: &Referral, mut draft: Draft) -> Decision {
    let (phase, started) = first_phase(case);
    draft.outcome = Outcome::Begin;
    draft.prescribes = true;
    draft.judged.extend(started.iter().cloned());
    let mut full = case.stand.clone();
    full.latched = referral
        .latched
        .iter()
        .map(|(key, _, _)| key.clone())
        .collect();
    match case.placed {
        Some(position) => draft.because.push(Cause::Directive(position)),
        None => {
            let met = started.iter().filter(|(_, judged)| judged.met());
            draft.because.extend(met.filter_map(|(ix, _)| {
                let rule = case.pack.rules.get(ix.at())?;
                (rule.phase == Some(phase)).then(|| Cause::Met(rule.key.clone()))
            }));
            full.phase = Some(phase);
        }
    }
    full.began = Some(case.as_of);
    full.introduced = Some(case.no);
    let mut moves = Vec::new();
    for spot in &case.stand.spots {
        let because = case.placed.map(Cause::Directive).into_iter().collect();
        moves.push((spot.clone(), because));
    }
    let phase = full.phase.unwrap_or(phase);
    for arrival in arrivals(case, &full, phase, Occasion::Entering, &[], true) {
        full.place(arrival.spot.clone());
        moves.push((arrival.spot, arrival.because));
    }
    full.begin_stay(case.no, case.as_of);
    full.stay_position = None;
    full.climbed_last = full.spots.iter().map(|spot| spot.line).collect();
    moves.sort_by_key(|(spot, _)| spot.line);
    draft.moves = moves
        .into_iter()
        .filter_map(|(spot, because)| introduced(case, &spot, because))
        .collect();
    draft.full = full;
    let latched = draft.full.latched.clone();
    draft.cautious = Some(Stand {
        latched,
        ..Stand::default()
    });
    report(case, draft)
}

fn introduced(case: &Case<'_>, spot: &Spot, because: Vec<Cause>) -> Option<LineMove> {
    Some(LineMove {
        line: case.pack.lines.get(spot.line.at())?.key.clone(),
        mv: Move::Introduce,
        from: None,
        to: Some(case.pack.exercises.get(spot.exercise.at())?.key.clone()),
        because,
    })
}

/// The highest phase that a start rule gives, else the first; with the start rules judged.
fn first_phase(case: &Case<'_>) -> (PhaseIx, Vec<(RuleIx, Judged)>) {
    let mut phase = PhaseIx(0);
    let mut judged = Vec::new();
    let rules = (0u16..).map(RuleIx).zip(&case.pack.rules);
    for (ix, rule) in rules.filter(|(_, rule)| rule.kind == RuleKind::Start) {
        let one = judge(case.view(), Scope::UPWARD, &rule.when);
        if one.met() {
            phase = phase.max(rule.phase.unwrap_or(PhaseIx(0)));
        }
        judged.push((ix, one));
    }
    (phase, judged)
}

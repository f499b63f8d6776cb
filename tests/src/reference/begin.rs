//! Before the first prescription: screening and refer rules, then the first places (rule 3).
//!
//! Leaves to others: everything after.

use super::context::{Context, Counted};
use super::dose::{Spot, entry_spot, is_left_out, line_in_phase, phase_lines};
use super::in_force::{directed_spot, remember};
use super::refer::Referred;
use super::rule::{JudgedRule, judge_rule};
use super::series::{Values, series};
use super::view::View;
use super::weigh::rules_of;
use super::{bare, is_held};
use rungwise_engine::decision::{Decision, LineMove, Move, Place, RuleVerdict, State};
use rungwise_engine::fact::Order;
use rungwise_pack::model::{Carrier, MeasureIx, Outcome, Over, PhaseIx, RuleKind};
use rungwise_pack::quantity::Key;

/// Decides before the first prescription.
#[must_use]
pub fn begin(view: &View<'_>, mut state: State, referred: &Referred) -> Decision {
    state.latched = referred.latched.clone();
    let mut judged = referred.judged.clone();
    let nothing = |outcome, state, judged| Decision {
        prescribes: false,
        ..bare(view, outcome, state, judged)
    };
    if !referred.latched.is_empty() {
        return nothing(Outcome::Refer, state, judged);
    }
    if !referred.in_doubt.is_empty() || !is_screened(view, &state) || is_held(view) {
        return nothing(Outcome::Await, state, judged);
    }
    // Until it is accepted nothing is in force, nor remembered of what was placed and placed anew.
    let mut begun = state.clone();
    let (phase, spots) = first_places(view, &mut begun, &mut judged);
    let number = view.next_number();
    begun.phase = Some(view.pack.phases[phase.at()].key.clone());
    begun.stay = Some((number, view.today));
    begun.began = Some(view.today);
    begun.introduced = Some(number);
    begun.places = spots.iter().map(|spot| spot.recorded(view.pack)).collect();
    begun
        .places
        .sort_by_key(|place| view.pack.line(&place.line));
    begun.climbed_last = begun
        .places
        .iter()
        .map(|place: &Place| place.line.clone())
        .collect();
    let moves = begun
        .places
        .iter()
        .map(|place| LineMove {
            line: place.line.clone(),
            mv: Move::Introduce,
            from: None,
            to: Some(place.exercise.clone()),
            because: Vec::new(),
        })
        .collect();
    let proposed = view.pack.sign_off.contains(&Outcome::Begin);
    let (state, if_accepted) = if proposed {
        (state, Some(begun))
    } else {
        (begun, None)
    };
    Decision {
        proposed,
        moves,
        if_accepted,
        ..bare(view, Outcome::Begin, state, judged)
    }
}

/// Whether every expected screening question has a fresh answer.
fn is_screened(view: &View<'_>, state: &State) -> bool {
    let ctx = Context::cautious(view, state);
    (0..view.pack.measures.len() as u16)
        .map(MeasureIx)
        .all(|measure| {
            let known = ctx.measure(measure);
            known.carrier != Carrier::Screening
                || !known.expected
                || series(&ctx, measure, Over::Plain)
                    .last()
                    .is_some_and(|item| match &item.fresh {
                        Values::One(value) => value.is_known(),
                        Values::Each(_) => false,
                    })
        })
}

/// The phase to begin in and the places: as a *place* directs, else where a start rule says, else at the beginning.
fn first_places(
    view: &View<'_>,
    state: &mut State,
    judged: &mut Vec<JudgedRule>,
) -> (PhaseIx, Vec<Spot>) {
    let number = view.next_number();
    let mut phase = PhaseIx(0);
    for at in 0..view.pack.phases.len() as u16 {
        let ctx = Context::upward(view, state, Counted::Everything);
        for rule in rules_of(view, Some(PhaseIx(at)), RuleKind::Start) {
            let start = judge_rule(&ctx, rule);
            if start.judged.verdict == RuleVerdict::Met {
                phase = PhaseIx(at);
            }
            judged.push(start);
        }
    }
    let mut spots: Vec<Spot> = Vec::new();
    let directives = view.directives();
    let placed = directives
        .iter()
        .filter_map(|(_, directive)| match &directive.order {
            Order::Place { phase, places } => Some((phase, places)),
            _ => None,
        });
    for (key, places) in placed {
        spots
            .iter()
            .for_each(|spot| remember(view.pack, state, spot));
        spots.clear();
        phase = view
            .pack
            .phase(key)
            .expect("a directive names a phase of the pack");
        spots.extend(
            places
                .iter()
                .filter_map(|(key, dose)| directed_spot(view.pack, key, dose, number)),
        );
    }
    let rules = &view.pack.phases[phase.at()];
    let lines = phase_lines(view, phase);
    let most = rules.lines_max.map_or(lines.len(), usize::from);
    let without: Vec<_> = lines
        .into_iter()
        .take(most)
        .filter(|line| {
            !spots
                .iter()
                .any(|spot| view.pack.exercises[spot.exercise.at()].line == *line)
        })
        .collect();
    let most = rules.introduce_max.map_or(without.len(), usize::from);
    for line in without.into_iter().take(most) {
        let first = line_in_phase(view, line, phase)[0];
        if is_left_out(view, first) {
            continue;
        }
        spots.push(entry_spot(view.pack, &state.last_places, first, number));
    }
    let placed = |key: &Key| {
        spots
            .iter()
            .any(|spot| view.pack.exercises[spot.exercise.at()].key == *key)
    };
    state.last_places.retain(|last| !placed(&last.exercise));
    (phase, spots)
}

//! Every rule of the phase judged, and the outcome that follows: the most cautious one that any gives.
//!
//! Leaves to others: what happens to each line (`super::lines`).

use super::context::{Context, Counted};
use super::correction::is_unsupported;
use super::in_force::{InForce, is_open};
use super::lay_off::{LayOff, lay_off};
use super::limit::not_carried;
use super::refer::{Referred, stops};
use super::rule::{JudgedRule, judge_rule};
use super::view::View;
use rungwise_engine::decision::{Cause, Move, RuleVerdict, State};
use rungwise_engine::fact::{Order, Position};
use rungwise_pack::model::{LineIx, Outcome, PhaseIx, RuleIx, RuleKind};
use rungwise_pack::quantity::Key;

/// What bounds every line.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Cap {
    /// Nothing is done.
    Withdraw,
    /// One step easier.
    Ease,
    /// Nothing harder.
    Keep,
    /// Up a rung.
    Climb,
    /// Into the next phase.
    Forward,
}

/// What the rules come to.
#[derive(Clone, Debug)]
pub struct Weighed {
    /// The outcome.
    pub outcome: Outcome,
    /// The lowest cap on every line, apart from going back.
    pub cap: Cap,
    /// Whether the phase goes back.
    pub goes_back: bool,
    /// Whether a regress rule acts (also in the first phase).
    pub regresses: bool,
    /// The lay-off.
    pub lay_off: LayOff,
    /// Every rule judged.
    pub judged: Vec<JudgedRule>,
    /// What decided, apart from lines.
    pub because: Vec<Cause>,
    /// Whether anything may go up: something is new, or an expired directive allows it.
    pub fresh: bool,
    /// The lines that may go up, where an open proposal is made again: those that it raised.
    pub only: Option<Vec<Key>>,
}

/// The phase in force and its neighbours.
#[must_use]
pub fn phase_of(view: &View<'_>, state: &State) -> PhaseIx {
    state
        .phase
        .as_ref()
        .and_then(|phase| view.pack.phase(phase))
        .expect("the phase is of the pack")
}

/// The next phase.
#[must_use]
pub fn phase_after(view: &View<'_>, phase: PhaseIx) -> Option<PhaseIx> {
    (phase.at() + 1 < view.pack.phases.len()).then(|| PhaseIx(phase.0 + 1))
}

/// Rules of one kind: the pack's own (`phase` none) or of a phase.
#[must_use]
pub fn rules_of(view: &View<'_>, phase: Option<PhaseIx>, kind: RuleKind) -> Vec<RuleIx> {
    (0..view.pack.rules.len() as u16)
        .map(RuleIx)
        .filter(|rule| {
            let rule = &view.pack.rules[rule.at()];
            rule.kind == kind && rule.phase == phase && rule.exercise.is_none()
        })
        .collect()
}

/// Whether anything is new since the last decision that prescribed, or a directive ended since.
#[must_use]
pub fn is_fresh(view: &View<'_>) -> bool {
    let seen = view.last_prescribing();
    let expired = view.directives().into_iter().any(|(_, directive)| {
        seen.is_some_and(|seen| {
            directive
                .until
                .is_some_and(|until| seen.decision.as_of <= until && until < view.today)
        })
    });
    expired || !view.new_entries(seen).is_empty()
}

/// Judges everything that holds in the phase in force.
#[must_use]
pub fn weigh(view: &View<'_>, now: &InForce, referred: &Referred) -> Weighed {
    let state = &now.state;
    let phase = phase_of(view, state);
    let mut weighed = Weighed {
        outcome: Outcome::Continue,
        cap: Cap::Climb,
        goes_back: false,
        regresses: false,
        lay_off: lay_off(view, state),
        judged: referred.judged.clone(),
        because: Vec::new(),
        fresh: is_fresh(view),
        only: None,
    };
    for key in &referred.latched {
        let cap = if stops(view, key) {
            Cap::Withdraw
        } else {
            Cap::Keep
        };
        weighed.lower(Outcome::Refer, cap, Cause::Latched(key.clone()));
    }
    for key in &referred.in_doubt {
        weighed.lower(Outcome::Hold, Cap::Keep, Cause::Doubt(key.clone()));
    }
    for of in [None, Some(phase)] {
        judge_regress(view, now, phase, of, &mut weighed);
        judge_hold(view, state, of, &mut weighed);
        judge_ease(view, state, of, &mut weighed);
        let ctx = Context::cautious(view, state);
        for rule in rules_of(view, of, RuleKind::Review) {
            weighed.judged.push(judge_rule(&ctx, rule));
        }
    }
    if weighed.lay_off.acts {
        weighed.lower(Outcome::Hold, Cap::Keep, Cause::LayOff { days: 0 });
    }
    let mut discharges = None;
    for (position, order) in view.orders() {
        match order {
            Order::Hold | Order::Pause => {
                weighed.lower(Outcome::Hold, Cap::Keep, Cause::Directive(position));
            }
            // A later *reopen* ends it.
            Order::Discharge if !is_reopened_after(view, position) => discharges = Some(position),
            _ => {}
        }
    }
    if let Some(position) = is_unsupported(view, state) {
        weighed.lower(Outcome::Hold, Cap::Keep, Cause::Corrected(position));
    }
    judge_upward(view, now, phase, &mut weighed);
    if let Some(position) = discharges
        && weighed.outcome.rank() >= Outcome::Continue.rank()
    {
        weighed.outcome = Outcome::Discharge;
        weighed.cap = weighed.cap.min(Cap::Keep);
        weighed.because.push(Cause::Directive(position));
    }
    weighed
}

fn is_reopened_after(view: &View<'_>, position: Position) -> bool {
    view.directives()
        .into_iter()
        .any(|(entry, directive)| directive.order == Order::Reopen && entry.position > position)
}

impl Weighed {
    /// Whether a line is among those that may go up.
    #[must_use]
    pub fn raises(&self, view: &View<'_>, line: LineIx) -> bool {
        let key = &view.pack.lines[line.at()].key;
        self.only.as_ref().is_none_or(|only| only.contains(key))
    }

    fn lower(&mut self, outcome: Outcome, cap: Cap, cause: Cause) {
        if outcome.rank() < self.outcome.rank() {
            self.outcome = outcome;
        }
        self.cap = self.cap.min(cap);
        self.because.push(cause);
    }
}

fn key(view: &View<'_>, rule: RuleIx) -> Key {
    view.pack.rules[rule.at()].key.clone()
}

fn judge_regress(
    view: &View<'_>,
    now: &InForce,
    phase: PhaseIx,
    of: Option<PhaseIx>,
    weighed: &mut Weighed,
) {
    let state = &now.state;
    let (stay, _) = state.stay.expect("a phase in force has a stay");
    // A stay that a directive begins in this decision has what was recorded after the directive.
    let since = now.stay_from.unwrap_or_else(|| view.position_of(stay));
    let recorded_here = view.known_after(since);
    // Neither a new fact nor a new day: only the last decision itself could have made the rule met.
    let seen = view.last_prescribing();
    let nothing_passed = view.new_entries(seen).is_empty()
        && seen.is_some_and(|seen| seen.decision.as_of == view.today);
    for rule in rules_of(view, of, RuleKind::Regress) {
        let judged = judge_rule(&Context::cautious(view, state), rule);
        match judged.judged.verdict {
            RuleVerdict::Met => {
                let alone = judge_rule(&Context::cautious(&recorded_here, state), rule);
                if alone.judged.verdict == RuleVerdict::Met
                    && !alone.judged.read.is_empty()
                    && !nothing_passed
                {
                    weighed.regresses = true;
                    weighed.goes_back = phase.0 > 0;
                    let cap = if phase.0 > 0 { Cap::Climb } else { Cap::Keep };
                    weighed.lower(Outcome::Regress, cap, Cause::Met(key(view, rule)));
                } else {
                    let cause = Cause::MetBefore(key(view, rule));
                    weighed.lower(Outcome::Hold, Cap::Keep, cause);
                }
            }
            RuleVerdict::InDoubt => {
                weighed.lower(Outcome::Hold, Cap::Keep, Cause::Doubt(key(view, rule)));
            }
            RuleVerdict::NotMet => {}
        }
        weighed.judged.push(judged);
    }
}

fn judge_hold(view: &View<'_>, state: &State, of: Option<PhaseIx>, weighed: &mut Weighed) {
    for rule in rules_of(view, of, RuleKind::Hold) {
        let judged = judge_rule(&Context::cautious(view, state), rule);
        match judged.judged.verdict {
            RuleVerdict::Met => {
                weighed.lower(Outcome::Hold, Cap::Keep, Cause::Met(key(view, rule)));
            }
            RuleVerdict::InDoubt => {
                weighed.lower(Outcome::Hold, Cap::Keep, Cause::Doubt(key(view, rule)));
            }
            RuleVerdict::NotMet => {}
        }
        weighed.judged.push(judged);
    }
}

fn judge_ease(view: &View<'_>, state: &State, of: Option<PhaseIx>, weighed: &mut Weighed) {
    let seen = view.last_prescribing();
    for rule in rules_of(view, of, RuleKind::Ease) {
        let judged = judge_rule(&Context::cautious(view, state), rule);
        // Not judged is not the same as not met: a phase just entered eases nothing without a new fact. Nor does
        // what the last decision itself changed: without a new fact only the days that passed may ease.
        let was_not_met = seen.is_some_and(|seen| {
            seen.decision.as_of < view.today
                && seen
                    .decision
                    .findings
                    .iter()
                    .any(|finding| finding.rule == rule && finding.verdict != RuleVerdict::Met)
        });
        let new = view.new_entries(seen);
        let reads_new = judged
            .judged
            .read
            .iter()
            .any(|read| new.iter().any(|new| new.known == *read));
        match judged.judged.verdict {
            RuleVerdict::Met => {
                let cap = if reads_new || was_not_met {
                    Cap::Ease
                } else {
                    Cap::Keep
                };
                weighed.lower(Outcome::Discharge, cap, Cause::Met(key(view, rule)));
            }
            RuleVerdict::InDoubt => {
                weighed.lower(Outcome::Discharge, Cap::Keep, Cause::Doubt(key(view, rule)));
            }
            RuleVerdict::NotMet => {}
        }
        weighed.judged.push(judged);
    }
}

fn judge_upward(view: &View<'_>, now: &InForce, phase: PhaseIx, weighed: &mut Weighed) {
    let state = &now.state;
    let (stay, _) = state.stay.expect("a phase in force has a stay");
    let ctx = Context {
        prescribed_too: true,
        ..Context::upward(view, state, Counted::Since(stay))
    };
    let next = phase_after(view, phase);
    let (rules, outcome) = match next {
        Some(next) => (
            rules_of(view, Some(next), RuleKind::Enter),
            Outcome::Progress,
        ),
        None => (
            rules_of(view, Some(phase), RuleKind::Discharge),
            Outcome::Discharge,
        ),
    };
    let mut all_met = !rules.is_empty();
    for rule in rules {
        let judged = judge_rule(&ctx, rule);
        all_met &= judged.judged.verdict == RuleVerdict::Met;
        weighed.judged.push(judged);
    }
    if let Some(next) = next {
        let cautious = Context::cautious(view, state);
        for kind in [RuleKind::Hold, RuleKind::Regress] {
            for rule in rules_of(view, Some(next), kind) {
                let judged = judge_rule(&cautious, rule);
                all_met &= judged.judged.verdict == RuleVerdict::NotMet;
                weighed.judged.push(judged);
            }
        }
    }
    let complete = not_carried(&ctx, phase, |session| session.all_tried(view.pack)).is_none();
    let again = view
        .last_prescribing()
        .is_some_and(|seen| seen.decision.outcome == outcome && is_open(view, state, seen));
    let made = all_met
        && complete
        && !ctx.counted_sessions().is_empty()
        && !now.reopened
        && (weighed.fresh || again);
    if made && weighed.outcome == Outcome::Continue {
        weighed.outcome = outcome;
        if let Some(seen) = view.last_prescribing().filter(|_| !weighed.fresh) {
            let moves = seen.decision.moves.iter();
            let up = moves.filter(|one| one.mv.rank() > Move::Keep.rank());
            weighed.only = Some(up.map(|one| one.line.clone()).collect());
        }
        weighed.fresh = true;
        if outcome == Outcome::Discharge {
            weighed.cap = weighed.cap.min(Cap::Keep);
        } else if weighed.cap == Cap::Climb {
            weighed.cap = Cap::Forward;
        }
    }
}

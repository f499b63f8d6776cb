//! Asking, and what a course makes of the answer.
//!
//! Leaves to others: deciding (`rungwise-engine`).

use super::Living;
use crate::cohort::model::Of;
use rungwise_engine::decision::{Cause, Decision, LineMove, Move};
use rungwise_engine::fact::DecisionNo;
use rungwise_pack::model::{CheckedPack, Outcome, PhaseIx, RuleIx, RuleKind, SentenceIx};
use rungwise_pack::quantity::Key;

/// For the set number of weeks no line went up and no further phase was entered.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Stuck {
    /// The day on which that was so for long enough.
    pub day: u32,
    /// The phase then in force.
    pub phase: PhaseIx,
    /// What the decision of that day lacked for the next phase or for discharge.
    pub lacked: Vec<SentenceIx>,
    /// The rules by which it held, sent back or referred.
    pub held: Vec<RuleIx>,
}

/// What this module needs of a decision, so that it need not be kept.
struct Answer {
    outcome: Outcome,
    proposed: bool,
    prescribes: bool,
    /// Whether what is prescribed may have changed: a line was moved, or the outcome alone changes it.
    changes: bool,
    phase: Option<Key>,
    latched: Vec<Key>,
    lacked: Vec<SentenceIx>,
    held: Vec<RuleIx>,
    doubted: Vec<RuleIx>,
}

impl Living<'_> {
    /// Asks for the next prescription.
    pub(super) fn asks(&mut self, day: u32) {
        let Ok((number, again)) = self.player.ask(self.today) else {
            return;
        };
        let pack = self.ready.pack;
        let life = &mut self.life;
        let decided = self.player.history().decision(number);
        let Some((_, decision)) = decided.filter(|_| !again) else {
            return;
        };
        life.decisions += 1;
        if let Some(count) = life.outcomes.get_mut(decision.outcome as usize) {
            *count += 1;
        }
        let mut up = false;
        for one in &decision.moves {
            let waits = decision.proposed && one.mv.rank() > Move::Keep.rank();
            if !waits {
                up |= counted(&mut life.moves, one);
                for cause in one.because.iter().filter(|_| is_down(one)) {
                    if let Cause::OverLimit { limit, .. } | Cause::OverLimitTwice { limit, .. } =
                        cause
                    {
                        *life.over.entry(limit.clone()).or_default() += 1;
                    }
                }
            }
        }
        let answer = Answer {
            outcome: decision.outcome,
            proposed: decision.proposed,
            prescribes: decision.prescribes,
            changes: decision.moves.iter().any(|one| one.mv != Move::Keep)
                || !matches!(decision.outcome, Outcome::Continue | Outcome::Hold),
            phase: decision.state.phase.clone(),
            latched: decision.state.latched.clone(),
            lacked: decision
                .to_progress
                .iter()
                .map(|one| one.sentence)
                .collect(),
            held: holding(pack, decision, |_| true),
            doubted: holding(pack, decision, |cause| matches!(cause, Cause::Doubt(_))),
        };
        if up {
            self.up_on = day;
        }
        self.answered(number, &answer, day);
    }

    fn answered(&mut self, number: DecisionNo, answer: &Answer, day: u32) {
        let life = &mut self.life;
        if answer.prescribes && !answer.proposed && life.began.is_none() {
            life.began = Some(day);
            self.up_on = day;
        }
        if life.began.is_some() {
            count(&mut life.lacked, answer.lacked.iter().map(|one| one.at()));
        }
        count(&mut life.held, answer.held.iter().map(|one| one.at()));
        count(&mut life.doubted, answer.doubted.iter().map(|one| one.at()));
        self.accepted = false;
        let due = self.proposed.map(|(_, due)| due);
        let wait = self.person.model.days(Of::AcceptedAfter);
        self.proposed = answer
            .proposed
            .then(|| (number, due.unwrap_or_else(|| day.saturating_add(wait))));
        let new = answer.latched.iter();
        let new = new.filter(|rule| !self.latched.contains(rule)).count();
        self.life.referrals += u32::try_from(new).unwrap_or(0);
        let changes = answer.changes || self.latched != answer.latched;
        self.latched.clone_from(&answer.latched);
        if self.latched.is_empty() {
            self.cleared_on = None;
        } else if self.cleared_on.is_none() {
            let after = self.person.model.days(Of::ClearedAfter);
            self.cleared_on = Some(day.saturating_add(after));
        }
        self.stands(answer.phase.as_ref(), day);
        if answer.outcome == Outcome::Discharge && !answer.proposed {
            self.life.ended = Some(day);
        }
        self.stuck(answer, day);
        if changes {
            self.look_up();
        }
    }

    /// A proposal was accepted: its upward moves are made now.
    pub(super) fn accept(&mut self, number: DecisionNo, day: u32) {
        let decided = self.player.history().decision(number);
        let Some((_, decision)) = decided else { return };
        let mut up = false;
        for one in &decision.moves {
            if one.mv.rank() > Move::Keep.rank() {
                up |= counted(&mut self.life.moves, one);
            }
        }
        let ends = decision.outcome == Outcome::Discharge;
        let state = decision.if_accepted.as_ref();
        let phase = state.and_then(|state| state.phase.clone());
        if up || self.life.began.is_none() {
            self.up_on = day;
        }
        self.life.began.get_or_insert(day);
        self.stands(phase.as_ref(), day);
        if ends {
            self.life.ended = Some(day);
        }
    }

    /// Notes the phase in force.
    fn stands(&mut self, phase: Option<&Key>, day: u32) {
        self.phase = phase.and_then(|phase| self.ready.pack.phase(phase));
        let Some(phase) = self.phase else { return };
        if let Some(reached) = self.life.reached.get_mut(phase.at())
            && reached.is_none()
        {
            *reached = Some(day);
            self.up_on = day;
        }
    }

    fn stuck(&mut self, answer: &Answer, day: u32) {
        let long = self.person.model.stuck_weeks().saturating_mul(7);
        let begun = self.life.began.is_some() && self.life.ended.is_none();
        let (Some(phase), None) = (self.phase, &self.life.stuck) else {
            return;
        };
        if begun && day.saturating_sub(self.up_on) >= long {
            self.life.stuck = Some(Stuck {
                day,
                phase,
                lacked: answer.lacked.clone(),
                held: answer.held.clone(),
            });
        }
    }
}

/// Rules that hold, send back or refer by this decision, for a cause of a kind.
fn holding(
    pack: &CheckedPack,
    decision: &Decision,
    is_kind: impl Fn(&Cause) -> bool,
) -> Vec<RuleIx> {
    if decision.outcome.rank() > Outcome::Hold.rank() {
        return Vec::new();
    }
    let causes = decision.because.iter().filter(|cause| is_kind(cause));
    let rules = causes.filter_map(|cause| match cause {
        Cause::Met(rule) | Cause::Doubt(rule) | Cause::MetBefore(rule) | Cause::Latched(rule) => {
            pack.rule(rule)
        }
        _ => None,
    });
    // An ease rule holds nothing.
    let holds = |ix: &RuleIx| {
        let kind = pack.rules.get(ix.at()).map(|rule| rule.kind);
        matches!(
            kind,
            Some(RuleKind::Refer { .. } | RuleKind::Regress | RuleKind::Hold)
        )
    };
    let mut rules: Vec<RuleIx> = rules.filter(holds).collect();
    rules.sort_unstable();
    rules.dedup();
    rules
}

/// Counts a move; whether it is one up.
fn counted(moves: &mut [u32; 8], one: &LineMove) -> bool {
    if let Some(count) = moves.get_mut(one.mv as usize) {
        *count += 1;
    }
    one.mv.rank() > Move::Keep.rank()
}

fn is_down(one: &LineMove) -> bool {
    matches!(one.mv, Move::Ease | Move::Withdraw)
}

fn count(counts: &mut [u32], at: impl Iterator<Item = usize>) {
    for at in at {
        if let Some(count) = counts.get_mut(at) {
            *count += 1;
        }
    }
}

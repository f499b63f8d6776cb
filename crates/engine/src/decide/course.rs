//! A decision in the course of care: every rule judged, the outcome, and what each line may do at most.
//!
//! Leaves to others: the lines' moves (`super::lines`), the first prescription (`super::begin`).

use super::case::{Case, Last};
use super::complete::complete;
use super::correction::corrected;
use super::introduce::{BringBack, bring_backs};
use super::lay_off::{LayOff, lay_off};
use super::limit::{anything_new, new_sessions};
use super::lines::{Own, Ruling, move_lines, own};
use super::refer::{Referral, refer};
use super::report::{Draft, report};
use crate::decision::{Cause, Decision, LineMove, Move};
use crate::evaluate::{Judged, Reader, Scope, Tap, View, judge};
use crate::fact::{Order, Position};
use rungwise_pack::model::{LineIx, Outcome, Rule, RuleIx, RuleKind};

/// Every rule that a course of care asks, judged.
pub(crate) struct Rulings {
    /// The pack's and the phase's regress rules, with whether the facts of this stay alone make them met.
    regress: Vec<(RuleIx, Judged, bool)>,
    /// Their hold rules.
    hold: Vec<(RuleIx, Judged)>,
    /// Their ease rules, with whether they act.
    ease: Vec<(RuleIx, Judged, bool)>,
    /// Their review rules.
    review: Vec<(RuleIx, Judged)>,
    /// The next phase's enter rules, or in the last phase the discharge rules.
    pub(crate) upward: Vec<(RuleIx, Judged)>,
    /// The next phase's hold and regress rules.
    ahead: Vec<(RuleIx, Judged)>,
}

/// Decides in the course of care.
pub(crate) fn course(case: &Case<'_>) -> Decision {
    let referral = refer(case);
    if case.stand.discharged {
        return discharged(case, referral);
    }
    let news = anything_new(case) || case.directive_expired();
    if !news && let Some(again) = proposed_again(case, &referral) {
        return again;
    }
    weigh(case, referral, news, None)
}

/// A proposal that is still open and would be made again is made again: asking must not let it lapse. It raises no
/// line that it did not raise before.
fn proposed_again(case: &Case<'_>, referral: &Referral) -> Option<Decision> {
    let last = case.last?;
    let index = case.history.index();
    if !last.decision.proposed || !index.acceptable(case.history.records(), last.no) {
        return None;
    }
    let raised = last.decision.moves.iter().filter(|one| goes_up(one));
    let raised = raised.filter_map(|one| case.pack.line(&one.line)).collect();
    let again = weigh(case, referral.clone(), true, Some(raised));
    (again.outcome == last.decision.outcome).then_some(again)
}

/// Care has ended: it stands, and only a referral may follow it.
fn discharged(case: &Case<'_>, referral: Referral) -> Decision {
    let refers = !referral.latched.is_empty();
    let outcome = if refers {
        Outcome::Refer
    } else {
        Outcome::Discharge
    };
    let because = if refers {
        referral_causes(&referral)
    } else {
        vec![Cause::Discharged]
    };
    let ruling = Ruling {
        outcome,
        stops: referral.stops(),
        regresses: false,
        eases: Vec::new(),
        keeps: because.clone(),
        lay_off: None,
        news: false,
        only: None,
    };
    let moved = move_lines(case, &Own::default(), &ruling, &[]);
    report(
        case,
        Draft {
            outcome,
            because,
            moves: moved.moves,
            full: moved.full,
            cautious: moved.cautious,
            standing: true,
            ..Draft::new(referral)
        },
    )
}

fn referral_causes(referral: &Referral) -> Vec<Cause> {
    let latched = referral.latched.iter();
    latched
        .map(|(key, _, now)| {
            if *now {
                Cause::Met(key.clone())
            } else {
                Cause::Latched(key.clone())
            }
        })
        .collect()
}

/// `only`: the lines that may go up, where it is not all.
fn weigh(case: &Case<'_>, referral: Referral, news: bool, only: Option<Vec<LineIx>>) -> Decision {
    let new = new_sessions(case);
    let rulings = rulings(case);
    let gaps = if case.stand.spots.is_empty() {
        LayOff {
            acted: case.stand.lay_offs.clone(),
            ..LayOff::default()
        }
    } else {
        lay_off(case, &new)
    };
    let mut weight = Weight::default();
    weight.cautious(case, &referral, &rulings, &gaps);
    let upward = if weight.outcome.is_none() {
        upward(case, &rulings, news)
    } else {
        Upward::No(Vec::new())
    };
    let (outcome, reached) = match (weight.outcome, upward) {
        (Some(outcome), _) => (outcome, Vec::new()),
        (None, Upward::To(outcome, because)) => (outcome, because),
        (None, Upward::No(because)) => (Outcome::Continue, because),
    };
    let own = own(case, &new, news);
    let back = bring_backs(case, news);
    if outcome == Outcome::Discharge {
        weight.keeps.extend(reached.iter().cloned());
    }
    let ruling = Ruling {
        outcome,
        stops: referral.stops(),
        regresses: weight.regresses,
        eases: weight.eases.clone(),
        keeps: weight.keeps.clone(),
        lay_off: gaps.days.map(|days| (gaps.steps, Cause::LayOff { days })),
        news,
        only,
    };
    let mut moved = move_lines(case, &own, &ruling, &back);
    if outcome == Outcome::Discharge {
        moved.full.discharged = true;
    }
    for stand in [Some(&mut moved.full), moved.cautious.as_mut()]
        .into_iter()
        .flatten()
    {
        stand.lay_offs.clone_from(&gaps.acted);
    }
    let mut because = weight.because(outcome);
    because.extend(reached);
    let mut draft = Draft {
        outcome,
        because,
        moves: moved.moves,
        full: moved.full,
        cautious: moved.cautious,
        corrected: weight.corrected,
        lay_off_review: gaps.review,
        ..Draft::new(referral)
    };
    draft.upward = rulings.upward.clone();
    let reviews = rulings.review.iter().filter(|(_, judged)| judged.met());
    draft.reviews = reviews.map(|(ix, _)| *ix).collect();
    draft.judged.extend(rulings.all());
    draft.judged.extend(judged_of_lines(own, back));
    report(case, draft)
}

fn judged_of_lines(own: Own, back: Vec<BringBack>) -> Vec<(RuleIx, Judged)> {
    let climbs = own.climbs.into_iter();
    let climbs = climbs.map(|(_, climbing)| (climbing.rule, climbing.judged));
    let back = back.into_iter().map(|one| (one.rule, one.judged));
    climbs.chain(back).collect()
}

/// What the cautious rules ask for.
#[derive(Default)]
struct Weight {
    /// The most cautious outcome that any asks for; none: none does.
    outcome: Option<Outcome>,
    /// What asks for it, in the order of the outcome table, with the outcome each asks for.
    asked: Vec<(Option<Outcome>, Cause)>,
    /// What keeps every line from going up.
    keeps: Vec<Cause>,
    /// What eases every line.
    eases: Vec<Cause>,
    /// A regress rule acts.
    regresses: bool,
    /// Corrections that made an earlier upward move unsupported.
    corrected: Vec<Position>,
}

impl Weight {
    fn ask(&mut self, outcome: Outcome, cause: Cause) {
        let lower = self
            .outcome
            .is_none_or(|lowest| outcome.rank() < lowest.rank());
        if lower {
            self.outcome = Some(outcome);
        }
        self.keeps.push(cause.clone());
        self.asked.push((Some(outcome), cause));
    }

    fn cautious(&mut self, case: &Case<'_>, referral: &Referral, rulings: &Rulings, gaps: &LayOff) {
        for cause in referral_causes(referral) {
            self.ask(Outcome::Refer, cause);
        }
        for (ix, judged, acts) in &rulings.regress {
            if judged.met() && *acts {
                self.regresses = true;
                self.ask(Outcome::Regress, met(case, *ix));
            }
        }
        for (ix, judged) in &rulings.hold {
            if judged.met() {
                self.ask(Outcome::Hold, met(case, *ix));
            }
        }
        for (ix, judged, acts) in &rulings.regress {
            if judged.met() && !*acts {
                self.ask(Outcome::Hold, Cause::MetBefore(key(case, *ix)));
            }
        }
        for rule in &referral.doubted {
            self.ask(Outcome::Hold, Cause::Doubt(rule.clone()));
        }
        let regress = rulings.regress.iter().map(|(ix, judged, _)| (ix, judged));
        let hold = rulings.hold.iter().map(|(ix, judged)| (ix, judged));
        for (ix, judged) in regress.chain(hold) {
            if judged.in_doubt() {
                self.ask(Outcome::Hold, Cause::Doubt(key(case, *ix)));
            }
        }
        if let Some(days) = gaps.days {
            self.ask(Outcome::Hold, Cause::LayOff { days });
        }
        for one in case.binding() {
            if matches!(one.directive.order, Order::Hold | Order::Pause) {
                self.ask(Outcome::Hold, Cause::Directive(one.position));
            }
        }
        self.corrected = corrected(case);
        for position in self.corrected.clone() {
            self.ask(Outcome::Hold, Cause::Corrected(position));
        }
        for (ix, judged, acts) in &rulings.ease {
            if judged.met() && *acts {
                self.eases.push(met(case, *ix));
                self.asked.push((None, met(case, *ix)));
            } else if judged.met() {
                self.keeps.push(met(case, *ix));
                self.asked.push((None, met(case, *ix)));
            } else if judged.in_doubt() {
                self.keeps.push(Cause::Doubt(key(case, *ix)));
                self.asked.push((None, Cause::Doubt(key(case, *ix))));
            }
        }
    }

    /// What decided: what asks for the outcome, and the ease rules.
    fn because(&self, outcome: Outcome) -> Vec<Cause> {
        let mut causes = Vec::new();
        for (asks, cause) in &self.asked {
            if asks.is_none_or(|asks| asks == outcome) && !causes.contains(cause) {
                causes.push(cause.clone());
            }
        }
        causes
    }
}

fn key(case: &Case<'_>, ix: RuleIx) -> rungwise_pack::quantity::Key {
    let rule = case.pack.rules.get(ix.at());
    rule.map_or_else(|| "".into(), |rule| rule.key.clone())
}

fn met(case: &Case<'_>, ix: RuleIx) -> Cause {
    Cause::Met(key(case, ix))
}

/// What the upward rules give.
enum Upward {
    To(Outcome, Vec<Cause>),
    No(Vec<Cause>),
}

/// Whether the next phase is entered or care ends.
///
/// INVARIANT (silence-never-progresses): every upward rule met whatever is missing, at least one counted session, and
/// the newest of them says all that the limits read.
fn upward(case: &Case<'_>, rulings: &Rulings, news: bool) -> Upward {
    let reopened = case
        .given
        .iter()
        .filter(|one| one.directive.order == Order::Reopen);
    let reopened = reopened.map(|one| one.position).max();
    let ordered = case.binding().find(|one| {
        one.directive.order == Order::Discharge
            && reopened.is_none_or(|reopened| one.position > reopened)
    });
    if let Some(ordered) = ordered {
        return Upward::To(Outcome::Discharge, vec![Cause::Directive(ordered.position)]);
    }
    let mut lacking: Vec<Cause> = Vec::new();
    for (ix, judged) in &rulings.upward {
        if judged.in_doubt() {
            lacking.push(Cause::Doubt(key(case, *ix)));
        } else if !judged.met() {
            lacking.push(Cause::NotMet(key(case, *ix)));
        }
    }
    for (ix, judged) in &rulings.ahead {
        if judged.met() {
            lacking.push(met(case, *ix));
        } else if judged.in_doubt() {
            lacking.push(Cause::Doubt(key(case, *ix)));
        }
    }
    if rulings.upward.is_empty() || !lacking.is_empty() {
        return Upward::No(lacking);
    }
    if !news {
        return Upward::No(vec![Cause::NothingNew]);
    }
    let scope = upward_scope(case);
    let tap = Tap::default();
    let counted = Reader::new(case.view(), scope, &tap)
        .sessions_back(None)
        .next();
    if case.stand.stay.is_none() || counted.is_none() {
        return Upward::No(vec![Cause::NoCountedSession]);
    }
    if let Err(measure) = complete(case, scope, None) {
        return Upward::No(vec![Cause::LimitValueMissing(measure)]);
    }
    let outcome = if case.phase_after().is_some() {
        Outcome::Progress
    } else {
        Outcome::Discharge
    };
    let met = rulings.upward.iter().map(|(ix, _)| met(case, *ix));
    Upward::To(outcome, met.collect())
}

/// The scope of enter and discharge rules.
pub(crate) fn upward_scope(case: &Case<'_>) -> Scope {
    Scope {
        from: case.stand.stay.map(|(no, _)| no),
        prescribed: true,
        ..Scope::UPWARD
    }
}

impl Rulings {
    fn all(self) -> impl Iterator<Item = (RuleIx, Judged)> {
        let regress = self.regress.into_iter().map(|(ix, judged, _)| (ix, judged));
        let ease = self.ease.into_iter().map(|(ix, judged, _)| (ix, judged));
        regress
            .chain(self.hold)
            .chain(ease)
            .chain(self.review)
            .chain(self.upward)
            .chain(self.ahead)
    }
}

fn rulings(case: &Case<'_>) -> Rulings {
    let mut found = Rulings {
        regress: Vec::new(),
        hold: Vec::new(),
        ease: Vec::new(),
        review: Vec::new(),
        upward: Vec::new(),
        ahead: Vec::new(),
    };
    let view = case.view();
    let current = case.stand.phase;
    let passed = time_or_news(case);
    for (ix, rule) in rules(case, |rule| rule.exercise.is_none()) {
        let here = rule.phase.is_none() || rule.phase == current;
        let judged = |scope| judge(view, scope, &rule.when);
        match rule.kind {
            RuleKind::Regress if here => {
                let judged = judged(Scope::CAUTIOUS);
                let acts = judged.met() && passed && met_in_stay(case, view, rule);
                found.regress.push((ix, judged, acts));
            }
            RuleKind::Hold if here => found.hold.push((ix, judged(Scope::CAUTIOUS))),
            RuleKind::Ease if here => {
                let judged = judged(Scope::CAUTIOUS);
                let acts = judged.met() && (judged.read_new || missed_at_last(case, ix));
                found.ease.push((ix, judged, acts));
            }
            RuleKind::Review if here => found.review.push((ix, judged(Scope::CAUTIOUS))),
            RuleKind::Enter if rule.phase == case.phase_after() && rule.phase.is_some() => {
                found.upward.push((ix, judged(upward_scope(case))));
            }
            RuleKind::Discharge if rule.phase == current && case.phase_after().is_none() => {
                found.upward.push((ix, judged(upward_scope(case))));
            }
            RuleKind::Hold | RuleKind::Regress
                if rule.phase.is_some() && rule.phase == case.phase_after() =>
            {
                found.ahead.push((ix, judged(Scope::CAUTIOUS)));
            }
            _ => {}
        }
    }
    found
}

fn rules<'c>(
    case: &'c Case<'_>,
    wanted: impl Fn(&Rule) -> bool + 'c,
) -> impl Iterator<Item = (RuleIx, &'c Rule)> {
    let rules = (0u16..).map(RuleIx).zip(&case.pack.rules);
    rules.filter(move |(_, rule)| wanted(rule))
}

/// Whether the facts recorded in this stay alone make a regress rule met; where it reads none of them they do not.
fn met_in_stay(case: &Case<'_>, mut view: View<'_>, rule: &Rule) -> bool {
    let stay = case.stand.stay.map(|(no, _)| no);
    let decided = stay.and_then(|no| case.history.decision(no));
    let from = case
        .stand
        .stay_position
        .or(decided.map(|(position, _)| position));
    view.after = from;
    let alone = judge(view, Scope::CAUTIOUS, &rule.when);
    alone.met() && alone.read
}

/// Whether a fact or a day came since the last prescribing decision: otherwise only what that decision itself changed
/// could have made a regress rule met, and it does not act.
///
/// INVARIANT (each-fact-moves-once): no phase goes back for what a decision made of facts already seen.
fn time_or_news(case: &Case<'_>) -> bool {
    let passed = |last: Last<'_>| last.decision.as_of < case.as_of;
    case.last.is_none_or(passed) || anything_new(case)
}

/// Whether the last prescribing decision judged a rule and did not find it met. One that it did not judge (another
/// phase's, another pack's) was not missed: what that rule reads must be new for it to move anything. Nor was
/// one that only what the last decision itself changed makes met: without a new fact only days that passed may ease.
fn missed_at_last(case: &Case<'_>, ix: RuleIx) -> bool {
    case.last.is_some_and(|last| {
        last.decision.pack == case.pack.digest
            && last.decision.as_of < case.as_of
            && last
                .decision
                .findings
                .iter()
                .any(|one| one.rule == ix && one.verdict != crate::decision::RuleVerdict::Met)
    })
}

/// Whether a move goes up.
pub(crate) fn goes_up(one: &LineMove) -> bool {
    one.mv.rank() > Move::Keep.rank()
}

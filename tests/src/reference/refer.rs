//! Refer rules: judged at every fact date since the last decision, latched until cleared (rule 4).
//!
//! Leaves to others: what a referral does (`super::outcome`).

use super::context::Context;
use super::rule::{JudgedRule, judge_rule};
use super::view::View;
use jiff::civil::Date;
use rungwise_engine::decision::{RuleVerdict, State};
use rungwise_engine::fact::{FactKind, Order, Position};
use rungwise_pack::model::{RuleIx, RuleKind};
use rungwise_pack::quantity::Key;
use std::collections::BTreeSet;

/// Refer rules judged.
#[derive(Clone, Debug)]
pub struct Referred {
    /// Latched rules by key.
    pub latched: Vec<Key>,
    /// Rules in doubt at `as_of` and not latched.
    pub in_doubt: Vec<Key>,
    /// Every refer rule as it stands at `as_of`.
    pub judged: Vec<JudgedRule>,
}

/// Every refer rule of the pack.
#[must_use]
pub fn refer_rules(view: &View<'_>) -> Vec<RuleIx> {
    (0..view.pack.rules.len() as u16)
        .map(RuleIx)
        .filter(|rule| matches!(view.pack.rules[rule.at()].kind, RuleKind::Refer { .. }))
        .collect()
}

/// Whether a rule of this key stops exercise.
#[must_use]
pub fn stops(view: &View<'_>, key: &str) -> bool {
    view.pack
        .rule(key)
        .is_some_and(|rule| view.pack.rules[rule.at()].kind == RuleKind::Refer { stops: true })
}

/// Judges the refer rules.
#[must_use]
pub fn refer(view: &View<'_>, state: &State) -> Referred {
    let last = view.last();
    // Care begins when the episode opens, or with a session from before.
    let sessions = view.sessions().into_iter().map(|session| session.date);
    let began = sessions.chain([view.episode.opened_on]).min();
    let mut dates: BTreeSet<Date> = view
        .new_entries(last)
        .into_iter()
        .map(|entry| entry.fact.date.max(began.unwrap_or(entry.fact.date)))
        .map(|date| date.min(view.today))
        .collect();
    dates.insert(view.today);
    let mut found = Referred {
        latched: Vec::new(),
        in_doubt: Vec::new(),
        judged: Vec::new(),
    };
    for rule in refer_rules(view) {
        let key = &view.pack.rules[rule.at()].key;
        let cleared = cleared_at(view, key);
        let newly_cleared =
            cleared.is_some_and(|position| last.is_none_or(|last| position > last.position));
        let kept = state.latched.contains(key) && !newly_cleared;
        let met = dates.iter().any(|date| {
            judged_on(view, state, rule, *date, cleared).judged.verdict == RuleVerdict::Met
        });
        let of_person = view.new_entries(last).iter().any(|entry| {
            matches!(&entry.fact.kind, FactKind::PersonRefer { rule } if rule == key)
                && cleared.is_none_or(|position| entry.known > position)
        });
        let today = judged_on(view, state, rule, view.today, cleared);
        if kept || met || of_person {
            found.latched.push(key.clone());
        } else if today.judged.verdict == RuleVerdict::InDoubt {
            found.in_doubt.push(key.clone());
        }
        found.judged.push(today);
    }
    found.latched.sort();
    found
}

/// Where the latest clearance of a rule stands.
fn cleared_at(view: &View<'_>, key: &Key) -> Option<Position> {
    view.directives()
        .into_iter()
        .filter(|(_, directive)| {
            matches!(&directive.order, Order::Clear { rules } if rules.contains(key))
        })
        .map(|(entry, _)| entry.known)
        .max()
}

fn judged_on(
    view: &View<'_>,
    state: &State,
    rule: RuleIx,
    date: Date,
    cleared: Option<Position>,
) -> JudgedRule {
    let view = view.on(date);
    let view = match cleared {
        Some(position) => view.known_after(position),
        None => view,
    };
    let ctx = Context {
        cleared: cleared.is_some(),
        ..Context::cautious(&view, state)
    };
    judge_rule(&ctx, rule)
}

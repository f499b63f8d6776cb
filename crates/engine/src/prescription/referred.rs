//! Referrals of the person that no decision has latched yet.
//!
//! Leaves to others: what a latched rule does to the next decision (`crate::decide`).

use crate::fact::{FactKind, Order, Position};
use crate::history::{History, fact_of};
use jiff::civil::Date;
use rungwise_pack::quantity::Key;

/// The refer rules that latched in another episode of the person since the newest decision here, and that no directive
/// given after that and binding by `as_of` clears. They hold at once, whatever the date of the referral.
///
/// INVARIANT (fail-closed): what stops exercise in one episode of a person stops it in all, before anybody asks again.
#[must_use]
pub fn referred_since(history: &History, as_of: Date) -> Vec<Key> {
    let newest = history.last_decision();
    let newest = newest.map(|(_, position, decision)| (position, decision.as_of));
    let reports = history.index().person_refers.iter();
    let open = reports.filter(|one| {
        newest.is_none_or(|(position, seen)| one.known > position || one.date > seen)
            && !is_cleared(history, as_of, &one.rule, one.known)
    });
    let mut rules: Vec<Key> = open.map(|one| one.rule.clone()).collect();
    rules.sort();
    rules.dedup();
    rules
}

/// Whether a directive that stands clears the rule after this position.
fn is_cleared(history: &History, as_of: Date, rule: &Key, after: Position) -> bool {
    orders(history, as_of).any(|(position, order)| match order {
        Order::Clear { rules } => {
            position > after && rules.contains(rule) && !is_withdrawn(history, as_of, position)
        }
        _ => false,
    })
}

fn is_withdrawn(history: &History, as_of: Date, position: Position) -> bool {
    orders(history, as_of)
        .any(|(_, order)| matches!(order, Order::Withdraw { directive } if *directive == position))
}

/// What directives dated by `as_of` order, with their positions.
fn orders(history: &History, as_of: Date) -> impl Iterator<Item = (Position, &Order)> {
    let directives = history.index().directives.iter();
    directives
        .filter(move |one| one.date <= as_of)
        .filter_map(|one| {
            let record = history.records().get(one.record as usize)?;
            match &fact_of(record)?.kind {
                FactKind::Directive(directive) => Some((one.position, &directive.order)),
                _ => None,
            }
        })
}

//! Whether a pack takes the facts of a diary, one after another, as far as can be told before it is played.
//!
//! Answers to proposals, and ends of a discharge, depend on decisions that are not made yet; they are judged when the
//! diary is played.
//!
//! Leaves to others: the judging itself (`rungwise_engine::admit`).

use super::table::Reader;
use crate::diary::{Diary, Entry};
use rungwise_engine::admit::{Before, admit};
use rungwise_engine::fact::{Fact, FactKind, Order};
use rungwise_pack::diagnostic::Code;

pub(super) fn admit_all(reader: &mut Reader<'_>, diary: &Diary) {
    let facts: Vec<(&crate::diary::Step, Fact)> = diary
        .steps
        .iter()
        .flat_map(|step| step.entries.iter().map(move |entry| (step, entry)))
        .filter_map(|(step, entry)| Some((step, settled(entry)?)))
        .collect();
    let mut before = Before::new(&diary.episode, []);
    for (step, fact) in &facts {
        if let Err(refusals) = admit(reader.pack, &before, fact, fact.date) {
            for refusal in refusals {
                let message = format!(
                    "on {}, {}: {}",
                    step.date,
                    refusal.path,
                    refusal.wrong.wrong()
                );
                reader.report(
                    Code::Exclusive,
                    step.span.clone(),
                    message,
                    Some(refusal.wrong.right()),
                );
            }
        }
        before.add(fact);
    }
}

/// The fact, where it can be judged without knowing what will be decided.
fn settled(entry: &Entry) -> Option<Fact> {
    let fact = match entry {
        Entry::SignOff { .. } => return None,
        _ => entry.resolve(&[], None)?,
    };
    match &fact.kind {
        FactKind::Directive(directive) if matches!(directive.order, Order::Reopen) => None,
        _ => Some(fact),
    }
}

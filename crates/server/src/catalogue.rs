//! The clinic's band catalogue, as its stream tells of it: every roll ever recorded, and which are withdrawn.
//!
//! Leaves to others: reading the stream (`crate::clinic`), what a roll may look like (`rungwise_api::from_wire`).

use rungwise_api::content::{Roll, RollWithdrawal};
use rungwise_api::name::roll_name;
use rungwise_api::to_wire::{roll_to_wire, roll_withdrawal_to_wire, timestamp_from_ms};
use rungwise_api::v1;
use rungwise_pack::quantity::Key;
use std::collections::BTreeMap;

/// A roll as it was recorded.
#[derive(Debug)]
pub(crate) struct KeptRoll {
    /// What was measured.
    pub(crate) roll: Roll,
    /// When it was recorded, milliseconds since 1970 UTC.
    pub(crate) recorded_at_ms: u64,
    /// Set where it was withdrawn.
    pub(crate) withdrawal: Option<RollWithdrawal>,
}

/// Every roll by its position in the ledger.
#[derive(Debug, Default)]
pub(crate) struct Catalogue {
    rolls: BTreeMap<u64, KeptRoll>,
    /// Positions by label, rising.
    of_label: BTreeMap<Key, Vec<u64>>,
}

impl Catalogue {
    /// A roll was recorded at this position.
    pub(crate) fn record(&mut self, position: u64, recorded_at_ms: u64, roll: Roll) {
        let of_label = self.of_label.entry(roll.piece.label.clone()).or_default();
        of_label.push(position);
        let kept = KeptRoll {
            roll,
            recorded_at_ms,
            withdrawal: None,
        };
        self.rolls.insert(position, kept);
    }

    /// A roll was withdrawn.
    pub(crate) fn withdraw(&mut self, withdrawal: RollWithdrawal) {
        match self.rolls.get_mut(&withdrawal.roll) {
            Some(kept) => kept.withdrawal = Some(withdrawal),
            None => tracing::error!(
                roll = withdrawal.roll,
                "a roll withdrawn was never recorded"
            ),
        }
    }

    /// The roll recorded at this position.
    pub(crate) fn roll(&self, position: u64) -> Option<&KeptRoll> {
        self.rolls.get(&position)
    }

    /// How many there are, withdrawn ones too.
    pub(crate) fn len(&self) -> usize {
        self.rolls.len()
    }

    /// Rolls recorded at or after a position, in order.
    pub(crate) fn recorded_from(&self, position: u64) -> impl Iterator<Item = (u64, &KeptRoll)> {
        let rolls = self.rolls.range(position..);
        rolls.map(|(position, kept)| (*position, kept))
    }

    /// The roll recorded at this position, as it stands.
    pub(crate) fn to_wire(&self, clinic: &str, position: u64) -> Option<v1::Roll> {
        let kept = self.rolls.get(&position)?;
        let anew = self.measured_anew(position, &kept.roll.piece.label);
        Some(v1::Roll {
            recorded_at: Some(timestamp_from_ms(kept.recorded_at_ms)),
            measured_anew: anew.map(|anew| roll_name(clinic, anew)).unwrap_or_default(),
            withdrawal: kept.withdrawal.as_ref().map(roll_withdrawal_to_wire),
            ..roll_to_wire(clinic, position, &kept.roll)
        })
    }

    /// The last roll of this label that was recorded after a position and is not withdrawn.
    fn measured_anew(&self, position: u64, label: &str) -> Option<u64> {
        let of_label = self.of_label.get(label)?.iter().rev();
        let mut later = of_label.take_while(|later| **later > position);
        later
            .find(|later| {
                let kept = self.rolls.get(later);
                kept.is_some_and(|kept| kept.withdrawal.is_none())
            })
            .copied()
    }
}

#[cfg(test)]
mod tests;

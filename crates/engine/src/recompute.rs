//! Making a recorded decision again, from the records before it, and comparing the two field by field.
//!
//! Leaves to others: deciding (`crate::decide`), proving that the records were not altered (`rungwise-ledger`).

use crate::SEMANTICS;
use crate::decide::decide;
use crate::decision::{Decision, State};
use crate::fact::DecisionNo;
use crate::history::History;
use rungwise_pack::model::CheckedPack;

/// What making a decision again gives.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Recomputed {
    /// Every field is the same.
    Same,
    /// These fields differ, by name, such as `state.places`. Never empty.
    Differs {
        /// Their names, in the order of the decision's fields.
        fields: Vec<&'static str>,
    },
    /// It was made under another revision of the semantics, so a difference would say nothing.
    OtherRevision(u32),
    /// It was made under the pack with this digest, which is not the one given.
    OtherPack([u8; 32]),
    /// There is no such decision.
    NoSuchDecision,
}

/// Makes a decision again and compares. `pack` should be the one it was made under.
#[must_use]
pub fn recompute(pack: &CheckedPack, history: &History, number: DecisionNo) -> Recomputed {
    let Some((position, recorded)) = history.decision(number) else {
        return Recomputed::NoSuchDecision;
    };
    if recorded.semantics != SEMANTICS {
        return Recomputed::OtherRevision(recorded.semantics);
    }
    if recorded.pack != pack.digest {
        return Recomputed::OtherPack(recorded.pack);
    }
    let again = decide(pack, &history.until(pack, position), recorded.as_of);
    let fields = differences(recorded, &again);
    if fields.is_empty() {
        Recomputed::Same
    } else {
        Recomputed::Differs { fields }
    }
}

/// The fields in which two decisions differ, by name.
#[must_use]
pub fn differences(left: &Decision, right: &Decision) -> Vec<&'static str> {
    // Taken apart without `..`, so that a new field cannot be forgotten here.
    let Decision {
        as_of,
        semantics,
        pack,
        outcome,
        proposed,
        prescribes,
        moves,
        state,
        if_accepted,
        findings,
        because,
        to_progress,
        asks,
        next_review,
    } = left;
    let mut fields = Vec::new();
    let mut compare = |same: bool, name: &'static str| {
        if !same {
            fields.push(name);
        }
    };
    compare(*as_of == right.as_of, "as_of");
    compare(*semantics == right.semantics, "semantics");
    compare(*pack == right.pack, "pack");
    compare(*outcome == right.outcome, "outcome");
    compare(*proposed == right.proposed, "proposed");
    compare(*prescribes == right.prescribes, "prescribes");
    compare(*moves == right.moves, "moves");
    for name in state_differences(state, &right.state) {
        compare(false, name);
    }
    compare(*if_accepted == right.if_accepted, "if_accepted");
    compare(*findings == right.findings, "findings");
    compare(*because == right.because, "because");
    compare(*to_progress == right.to_progress, "to_progress");
    compare(*asks == right.asks, "asks");
    compare(*next_review == right.next_review, "next_review");
    fields
}

fn state_differences(left: &State, right: &State) -> Vec<&'static str> {
    let State {
        phase,
        stay,
        began,
        introduced,
        places,
        last_places,
        withdrawals,
        run_from,
        latched,
        lay_offs,
        climbed_last,
        discharged,
    } = left;
    let compared = [
        (*phase == right.phase, "state.phase"),
        (*stay == right.stay, "state.stay"),
        (*began == right.began, "state.began"),
        (*introduced == right.introduced, "state.introduced"),
        (*places == right.places, "state.places"),
        (*last_places == right.last_places, "state.last_places"),
        (*withdrawals == right.withdrawals, "state.withdrawals"),
        (*run_from == right.run_from, "state.run_from"),
        (*latched == right.latched, "state.latched"),
        (*lay_offs == right.lay_offs, "state.lay_offs"),
        (*climbed_last == right.climbed_last, "state.climbed_last"),
        (*discharged == right.discharged, "state.discharged"),
    ];
    compared
        .into_iter()
        .filter(|(same, _)| !same)
        .map(|(_, name)| name)
        .collect()
}

#[cfg(test)]
mod tests;

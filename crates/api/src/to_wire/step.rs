//! What leads did, to messages.
//!
//! Leaves to others: how a proposal or a directive stands (`rungwise-server`).

use super::fact::directive_to_wire;
use super::{date_or_empty, timestamp_from_ms};
use crate::content::{ClinicDirective, PackFor, Proposal, Signed};
use crate::name::{EpisodeName, clinic_directive_name, pack_name, proposal_name};
use crate::v1;

/// A step with when it was recorded, milliseconds since 1970 UTC.
#[must_use]
pub fn signed_to_wire(signed: &Signed, recorded_at_ms: u64) -> v1::SignedStep {
    v1::SignedStep {
        who: signed.who.to_string(),
        why: signed.why.clone(),
        request_id: signed.request_id.clone(),
        signature: signed.signature.clone(),
        recorded_at: Some(timestamp_from_ms(recorded_at_ms)),
    }
}

/// A proposal recorded at this position, of a pack of this id and version, still open.
#[must_use]
pub fn proposal_to_wire(
    clinic: &str,
    (position, recorded_at_ms): (u64, u64),
    (id, version): (&str, &str),
    proposal: &Proposal,
) -> v1::PackProposal {
    v1::PackProposal {
        name: proposal_name(clinic, position),
        pack: pack_name(clinic, &proposal.digest),
        id: id.to_owned(),
        version: version.to_owned(),
        from: date_or_empty(proposal.from),
        for_episodes: match proposal.for_episodes {
            PackFor::All => v1::PackFor::All,
            PackFor::NextPhase => v1::PackFor::NextPhase,
            PackFor::New => v1::PackFor::New,
        }
        .into(),
        state: v1::ProposalState::Open.into(),
        proposed: Some(signed_to_wire(&proposal.signed, recorded_at_ms)),
        approved: None,
        withdrawn: None,
    }
}

/// A directive of the whole clinic recorded at this position, not lifted.
#[must_use]
pub fn clinic_directive_to_wire(
    clinic: &str,
    (position, recorded_at_ms): (u64, u64),
    given: &ClinicDirective,
) -> v1::ClinicDirective {
    // Cautious orders name no fact of an episode.
    let nobody = EpisodeName {
        clinic: clinic.to_owned(),
        episode: String::new(),
    };
    v1::ClinicDirective {
        name: clinic_directive_name(clinic, position),
        pack: given.pack.as_deref().unwrap_or_default().to_owned(),
        date: given.date.to_string(),
        directive: Some(directive_to_wire(&nobody, &given.directive)),
        given: Some(signed_to_wire(&given.signed, recorded_at_ms)),
        lifted: None,
        lifted_on: String::new(),
    }
}

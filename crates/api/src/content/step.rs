//! What leads do with rule packs and directives of the whole clinic, to stored messages and back.
//!
//! Leaves to others: the text that is signed (`rungwise_ledger::step`), the directive itself (`super::directive`).

use super::DecodeError;
use super::directive::{directive_from_stored, directive_to_stored};
use super::value::{
    date_from_stored, date_or_none_from_stored, date_or_none_to_stored, date_to_stored, unknown,
};
use crate::stored;
use jiff::civil::Date;
use rungwise_engine::fact::{Directive, Order};
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::Key;

/// What a step carries beside what it does.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Signed {
    /// The lead, by the name of the key.
    pub who: Key,
    /// Why, in one line.
    pub why: String,
    /// The call's request id.
    pub request_id: String,
    /// The signature line of a C2SP signed note.
    pub signature: String,
}

/// The terms on which a pack was proposed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Proposal {
    /// Whose step it is.
    pub signed: Signed,
    /// The pack's digest.
    pub digest: [u8; 32],
    /// Decisions for this date and later are made under it; none: every decision made after its approval.
    pub from: Option<Date>,
    /// Which episodes come under it.
    pub for_episodes: PackFor,
}

/// Which episodes come under a pack.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum PackFor {
    /// All, at once.
    All,
    /// New ones, and others from their next phase on.
    NextPhase,
    /// New ones only.
    New,
}

impl PackFor {
    /// Its word in a signed text and on the command line.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::NextPhase => "next-phase",
            Self::New => "new",
        }
    }
}

/// A proposal approved.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Approval {
    /// Whose step it is.
    pub signed: Signed,
    /// The proposal's position.
    pub proposal: u64,
}

/// A proposal withdrawn before its pack was in force.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ProposalWithdrawal {
    /// Whose step it is.
    pub signed: Signed,
    /// The proposal's position.
    pub proposal: u64,
}

/// A directive that binds every episode, or ends an earlier one of the kind.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ClinicDirective {
    /// Whose step it is.
    pub signed: Signed,
    /// The rule pack whose episodes it binds, by id; none: all.
    pub pack: Option<Key>,
    /// The date on which it was given.
    pub date: Date,
    /// What it says.
    pub directive: Directive,
}

/// What a directive of the whole clinic orders, in the words of the text that is signed.
#[must_use]
pub fn order_words(order: &Order) -> String {
    match order {
        Order::Hold => "hold".to_owned(),
        Order::Pause => "pause".to_owned(),
        Order::LeaveOut { exercise } => format!("leave out {exercise}"),
        Order::Cap {
            exercise,
            variable,
            at_most,
        } => {
            let of = exercise.as_deref().unwrap_or("every");
            let value = match at_most {
                RowValue::Number(number) => number.to_string(),
                RowValue::Label(label) => label.to_string(),
            };
            format!("cap {of} {} {value}", variable.word())
        }
        // No other order binds a clinic; admission refuses it before anything is signed for.
        _ => "none".to_owned(),
    }
}

fn signed_to_stored(signed: &Signed) -> stored::Signed {
    stored::Signed {
        who: signed.who.to_string(),
        why: signed.why.clone(),
        request_id: signed.request_id.clone(),
        signature: signed.signature.clone(),
    }
}

fn signed_from_stored(
    what: &'static str,
    signed: Option<stored::Signed>,
) -> Result<Signed, DecodeError> {
    let signed = signed.ok_or(DecodeError::Absent(what))?;
    Ok(Signed {
        who: signed.who.into(),
        why: signed.why,
        request_id: signed.request_id,
        signature: signed.signature,
    })
}

pub(super) fn proposal_to_stored(proposal: &Proposal) -> stored::PackProposal {
    let for_episodes = match proposal.for_episodes {
        PackFor::All => stored::PackFor::All,
        PackFor::NextPhase => stored::PackFor::NextPhase,
        PackFor::New => stored::PackFor::New,
    };
    stored::PackProposal {
        signed: Some(signed_to_stored(&proposal.signed)),
        digest: proposal.digest.to_vec(),
        from: date_or_none_to_stored(proposal.from),
        for_episodes: for_episodes.into(),
    }
}

pub(super) fn proposal_from_stored(
    proposal: stored::PackProposal,
) -> Result<Proposal, DecodeError> {
    let for_episodes = match proposal.for_episodes() {
        stored::PackFor::All => PackFor::All,
        stored::PackFor::NextPhase => PackFor::NextPhase,
        stored::PackFor::New => PackFor::New,
        stored::PackFor::Unspecified => {
            return Err(unknown("proposal.for_episodes", proposal.for_episodes));
        }
    };
    let digest = proposal.digest.as_slice().try_into();
    Ok(Proposal {
        digest: digest.map_err(|_| DecodeError::Absent("proposal.digest"))?,
        from: date_or_none_from_stored("proposal.from", proposal.from)?,
        for_episodes,
        signed: signed_from_stored("proposal.signed", proposal.signed)?,
    })
}

pub(super) fn approval_to_stored(approval: &Approval) -> stored::PackApproval {
    stored::PackApproval {
        signed: Some(signed_to_stored(&approval.signed)),
        proposal: approval.proposal,
    }
}

pub(super) fn approval_from_stored(
    approval: stored::PackApproval,
) -> Result<Approval, DecodeError> {
    Ok(Approval {
        signed: signed_from_stored("approval.signed", approval.signed)?,
        proposal: approval.proposal,
    })
}

pub(super) fn proposal_withdrawal_to_stored(
    withdrawal: &ProposalWithdrawal,
) -> stored::ProposalWithdrawal {
    stored::ProposalWithdrawal {
        signed: Some(signed_to_stored(&withdrawal.signed)),
        proposal: withdrawal.proposal,
    }
}

pub(super) fn proposal_withdrawal_from_stored(
    withdrawal: stored::ProposalWithdrawal,
) -> Result<ProposalWithdrawal, DecodeError> {
    Ok(ProposalWithdrawal {
        signed: signed_from_stored("proposal_withdrawal.signed", withdrawal.signed)?,
        proposal: withdrawal.proposal,
    })
}

pub(super) fn clinic_directive_to_stored(given: &ClinicDirective) -> stored::ClinicDirective {
    stored::ClinicDirective {
        signed: Some(signed_to_stored(&given.signed)),
        pack: given.pack.as_deref().unwrap_or_default().to_owned(),
        date: date_to_stored(given.date),
        directive: Some(directive_to_stored(&given.directive)),
    }
}

pub(super) fn clinic_directive_from_stored(
    given: stored::ClinicDirective,
) -> Result<ClinicDirective, DecodeError> {
    let directive = given.directive;
    Ok(ClinicDirective {
        signed: signed_from_stored("clinic_directive.signed", given.signed)?,
        pack: Some(given.pack)
            .filter(|pack| !pack.is_empty())
            .map(Key::from),
        date: date_from_stored("clinic_directive.date", given.date)?,
        directive: directive_from_stored(
            directive.ok_or(DecodeError::Absent("clinic_directive.directive"))?,
        )?,
    })
}

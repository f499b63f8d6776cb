//! What is sealed inside ledger entries: facts, decisions and openings to bytes and back, complete.
//!
//! Bytes are made once, when something is recorded. The same value always makes the same bytes, which is what a
//! recomputed decision is compared by.
//!
//! Leaves to others: the envelope and the sealing (`rungwise-ledger`), what the content means (`rungwise-engine`).

mod band;
mod decision;
mod directive;
mod fact;
mod roll;
mod snapshot;
mod state;
mod step;
mod value;

pub use roll::{Roll, RollWithdrawal};
pub use snapshot::{EpisodeSnapshot, SnapshotRecord, decode_snapshot, encode_snapshot};
pub use step::{
    Approval, ClinicDirective, PackFor, Proposal, ProposalWithdrawal, Signed, order_words,
};

use crate::stored;
use jiff::civil::Date;
use prost::Message as _;
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::Fact;
use rungwise_pack::quantity::Key;

/// The content of one entry.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Content {
    /// An episode opened.
    Opening(Opening),
    /// An episode closed.
    Closing(Closing),
    /// Something reported.
    Fact(Fact),
    /// Something decided.
    Decision(Box<Decision>),
    /// A part of a rule pack that came into force or was proposed.
    PackPart(PackPart),
    /// A roll of the clinic's band catalogue measured.
    Roll(Roll),
    /// A roll withdrawn.
    RollWithdrawal(RollWithdrawal),
    /// The keys of everybody who may propose and approve packs, as C2SP verifier keys.
    Leads(Vec<String>),
    /// A proposal approved.
    Approval(Approval),
    /// A proposal withdrawn.
    ProposalWithdrawal(ProposalWithdrawal),
    /// A directive that binds every episode.
    ClinicDirective(ClinicDirective),
}

/// An episode opened.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Opening {
    /// The person, by the clinic's stable pseudonymous id.
    pub person: Key,
    /// The side.
    pub side: Side,
    /// The rule pack's id.
    pub pack: Key,
    /// The day on which it opened.
    pub opened_on: Date,
    /// Date of birth, where known.
    pub born_on: Option<Date>,
    /// The caller's own id for it, where there is one.
    pub external_id: Option<Key>,
    /// Whether it was imported in the middle of its course.
    pub imported: bool,
}

/// A part of a rule pack; one or more consecutive ones make the pack. Texts of one path are joined.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PackPart {
    /// Its files, or parts of them, as (path, text).
    pub files: Vec<(String, String)>,
    /// Whether it is the last: with it the pack comes into force, or stands proposed.
    pub is_last: bool,
    /// On the last part of a pack that was proposed: the terms.
    pub proposal: Option<Proposal>,
}

/// A side of the body.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
    /// The region has no sides.
    Without,
}

/// An episode closed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Closing {
    /// The day.
    pub date: Date,
    /// Who closed it.
    pub who: Key,
    /// Why.
    pub why: String,
}

/// Why stored bytes could not be read. Bytes that this crate made are always read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// Not a message of this kind.
    #[error("not stored content: {0}")]
    Malformed(#[from] prost::DecodeError),
    /// Something that is always there is not.
    #[error("`{0}` is absent")]
    Absent(&'static str),
    /// A number that stands for nothing known to this revision.
    #[error("`{what}` has the unknown value {value}")]
    Unknown {
        /// Where.
        what: &'static str,
        /// The number.
        value: i64,
    },
}

/// The bytes of a content.
#[must_use]
pub fn encode(content: &Content) -> Vec<u8> {
    use stored::content::What;
    let what = match content {
        Content::Opening(opening) => What::Opening(opening_to_stored(opening)),
        Content::Closing(closing) => What::Closing(stored::Closing {
            date: value::date_to_stored(closing.date),
            who: closing.who.to_string(),
            why: closing.why.clone(),
        }),
        Content::Fact(fact) => What::Fact(fact::fact_to_stored(fact)),
        Content::Decision(decision) => What::Decision(decision::decision_to_stored(decision)),
        Content::PackPart(part) => What::PackPart(stored::PackPart {
            files: part
                .files
                .iter()
                .map(|(path, text)| stored::PackFile {
                    path: path.clone(),
                    text: text.clone(),
                })
                .collect(),
            last: part.is_last,
            proposal: part.proposal.as_ref().map(step::proposal_to_stored),
        }),
        Content::Roll(roll) => What::Roll(roll::roll_to_stored(roll)),
        Content::RollWithdrawal(withdrawal) => {
            What::RollWithdrawal(roll::withdrawal_to_stored(withdrawal))
        }
        Content::Leads(keys) => What::Leads(stored::Leads { keys: keys.clone() }),
        Content::Approval(approval) => What::PackApproval(step::approval_to_stored(approval)),
        Content::ProposalWithdrawal(withdrawal) => {
            What::ProposalWithdrawal(step::proposal_withdrawal_to_stored(withdrawal))
        }
        Content::ClinicDirective(given) => {
            What::ClinicDirective(step::clinic_directive_to_stored(given))
        }
    };
    stored::Content { what: Some(what) }.encode_to_vec()
}

/// The content of these bytes.
///
/// # Errors
/// The bytes are not stored content, or of a revision that this one does not know.
pub fn decode(bytes: &[u8]) -> Result<Content, DecodeError> {
    use stored::content::What;
    let content = stored::Content::decode(bytes)?;
    Ok(match content.what.ok_or(DecodeError::Absent("content"))? {
        What::Opening(opening) => Content::Opening(opening_from_stored(opening)?),
        What::Closing(closing) => Content::Closing(Closing {
            date: value::date_from_stored("closing.date", closing.date)?,
            who: closing.who.into(),
            why: closing.why,
        }),
        What::Fact(fact) => Content::Fact(fact::fact_from_stored(fact)?),
        What::Decision(decision) => {
            Content::Decision(Box::new(decision::decision_from_stored(decision)?))
        }
        What::PackPart(part) => Content::PackPart(PackPart {
            files: part
                .files
                .into_iter()
                .map(|file| (file.path, file.text))
                .collect(),
            is_last: part.last,
            proposal: part.proposal.map(step::proposal_from_stored).transpose()?,
        }),
        What::Roll(roll) => Content::Roll(roll::roll_from_stored(roll)?),
        What::RollWithdrawal(withdrawal) => {
            Content::RollWithdrawal(roll::withdrawal_from_stored(withdrawal)?)
        }
        What::Leads(leads) => Content::Leads(leads.keys),
        What::PackApproval(approval) => Content::Approval(step::approval_from_stored(approval)?),
        What::ProposalWithdrawal(withdrawal) => {
            Content::ProposalWithdrawal(step::proposal_withdrawal_from_stored(withdrawal)?)
        }
        What::ClinicDirective(given) => {
            Content::ClinicDirective(step::clinic_directive_from_stored(given)?)
        }
    })
}

fn opening_to_stored(opening: &Opening) -> stored::Opening {
    let side = match opening.side {
        Side::Left => stored::Side::Left,
        Side::Right => stored::Side::Right,
        Side::Without => stored::Side::None,
    };
    stored::Opening {
        person: opening.person.to_string(),
        side: side.into(),
        pack: opening.pack.to_string(),
        opened_on: value::date_to_stored(opening.opened_on),
        born_on: value::date_or_none_to_stored(opening.born_on),
        external_id: opening
            .external_id
            .as_deref()
            .unwrap_or_default()
            .to_owned(),
        imported: opening.imported,
    }
}

fn opening_from_stored(opening: stored::Opening) -> Result<Opening, DecodeError> {
    let side = match opening.side() {
        stored::Side::Left => Side::Left,
        stored::Side::Right => Side::Right,
        stored::Side::None => Side::Without,
        stored::Side::Unspecified => return Err(value::unknown("opening.side", opening.side)),
    };
    Ok(Opening {
        person: opening.person.into(),
        side,
        pack: opening.pack.into(),
        opened_on: value::date_from_stored("opening.opened_on", opening.opened_on)?,
        born_on: value::date_or_none_from_stored("opening.born_on", opening.born_on)?,
        external_id: Some(opening.external_id)
            .filter(|id| !id.is_empty())
            .map(Key::from),
        imported: opening.imported,
    })
}

#[cfg(test)]
mod tests;

//! Who may take steps with packs: the leads that the configuration names, known by their keys, and what they sign.
//!
//! Leaves to others: the text that is signed (`rungwise_ledger::step`), the steps themselves (`crate::services`).

use crate::clinic::Stream;
use crate::refusal::Refusal;
use rungwise_api::content::Signed;
use rungwise_api::from_wire::Reader;
use rungwise_api::name::clinic_name;
use rungwise_api::v1::Reason;
use rungwise_engine::admit::WHY_BYTES_MAX;
use rungwise_ledger::note::VerifierKey;
use rungwise_ledger::step::{self, Step};
use rungwise_pack::quantity::Key;

/// Fewest leads of a clinic that has any: what needs two people needs two.
pub const LEADS_MIN: usize = 2;
/// Most leads of a clinic.
pub const LEADS_MAX: usize = 50;
/// Longest signature line, bytes.
const SIGNATURE_BYTES_MAX: usize = 400;

/// Why keys cannot be a clinic's leads.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum LeadsError {
    /// Too few or too many.
    #[error(
        "{0} leads; a clinic has {LEADS_MIN} to {LEADS_MAX}, so that one can approve what another proposes"
    )]
    Count(usize),
    /// Not a verifier key.
    #[error("`{0}` is not a lead's key; `rungwise rules key` prints one")]
    Key(String),
    /// One person or one key twice.
    #[error("lead `{0}` is named twice, or has another lead's key")]
    Twice(String),
}

/// Keys that can be a clinic's leads, in order of name.
///
/// # Errors
/// Too few or too many, not keys, or not all of different people.
pub(crate) fn leads(keys: &[String]) -> Result<Vec<VerifierKey>, LeadsError> {
    if !(LEADS_MIN..=LEADS_MAX).contains(&keys.len()) {
        return Err(LeadsError::Count(keys.len()));
    }
    let mut found: Vec<VerifierKey> = Vec::new();
    for text in keys {
        let key = VerifierKey::parse(text).map_err(|_| LeadsError::Key(text.clone()))?;
        let same = |other: &VerifierKey| other.name() == key.name() || bytes(other) == bytes(&key);
        if found.iter().any(same) {
            return Err(LeadsError::Twice(key.name().to_owned()));
        }
        found.push(key);
    }
    found.sort_by(|one, other| one.name().cmp(other.name()));
    Ok(found)
}

/// The key itself, without its name and the id that is made of both.
fn bytes(key: &VerifierKey) -> String {
    let text = key.to_string();
    // The last part is base64, which may have plus signs; the two before it have none.
    text.splitn(3, '+').last().unwrap_or_default().to_owned()
}

/// The refusal of a step in a clinic without leads.
pub(crate) fn required(clinic: &str, stream: &Stream) -> Result<(), Refusal> {
    if !stream.leads.is_empty() {
        return Ok(());
    }
    Err(Refusal::Precondition {
        reason: Reason::NoLeads,
        subject: clinic_name(clinic),
        wrong: "it has no leads".to_owned(),
        right: "make a key for each of two people with `rungwise rules key NAME FILE`, name both as `leads` in the \
                configuration, and start the server again"
            .to_owned(),
    })
}

/// What a lead gave with a step, read but not yet checked.
#[derive(Clone, Debug)]
pub(crate) struct Given {
    pub(crate) request_id: String,
    pub(crate) why: String,
    signature: String,
}

impl Given {
    /// Reads the fields `why` and `signature`.
    pub(crate) fn read(request_id: String, why: &str, signature: &str) -> Result<Self, Refusal> {
        let mut reader = Reader::default();
        let said = reader.text("why", why, WHY_BYTES_MAX);
        if said.is_some() && why.chars().any(char::is_control) {
            let right = "say it in one line, without control characters";
            reader.refuse::<()>("why", Reason::FieldMalformed, "more than one line", right);
        }
        let signature = reader.text("signature", signature, SIGNATURE_BYTES_MAX);
        match (said, signature) {
            (Some(why), Some(signature)) if reader.violations.is_empty() => Ok(Self {
                request_id,
                why,
                signature,
            }),
            _ => Err(Refusal::Fields(reader.violations)),
        }
    }

    /// The step as one lead of the clinic signed it.
    pub(crate) fn signed(
        &self,
        clinic: &str,
        stream: &Stream,
        step: &Step<'_>,
    ) -> Result<Signed, Refusal> {
        let text = step::text(clinic, &self.request_id, step, &self.why)
            .map_err(|error| Refusal::Fault(error.to_string()))?;
        let signs = |lead: &&VerifierKey| step::check(&text, &self.signature, lead).is_ok();
        let lead = stream.leads.iter().find(signs).ok_or_else(|| {
            Refusal::field(
                "signature",
                Reason::SignatureRefused,
                "no lead of this clinic signed this step",
                format!("have a lead sign exactly this text:\n{text}"),
            )
        })?;
        Ok(Signed {
            who: Key::from(lead.name()),
            why: self.why.clone(),
            request_id: self.request_id.clone(),
            signature: self.signature.clone(),
        })
    }
}

#[cfg(test)]
mod tests;

//! Page tokens: where the next page begins, bound to the conditions that it was given for.
//!
//! A token is no permission: what it points at is checked like any other call. Leaves to others: the lists.

use crate::refusal::Refusal;
use rungwise_api::name::hex;
use rungwise_api::v1::Reason;
use sha2::{Digest as _, Sha256};

/// Characters of a token: 16 of the start, 16 of the conditions.
const TOKEN_CHARS: usize = 32;

/// The token of a page that begins at `start`, for these conditions.
pub(crate) fn token(start: u64, conditions: &[&str]) -> String {
    format!("{start:016x}{}", bound_to(conditions))
}

/// Where the page of a token begins; an empty token: at 0.
pub(crate) fn start(token: &str, conditions: &[&str]) -> Result<u64, Refusal> {
    if token.is_empty() {
        return Ok(0);
    }
    let parts = (token.len() == TOKEN_CHARS)
        .then(|| token.split_at_checked(TOKEN_CHARS / 2))
        .flatten();
    let start = parts.filter(|(_, bound)| *bound == bound_to(conditions));
    let start = start.and_then(|(start, _)| u64::from_str_radix(start, 16).ok());
    start.ok_or_else(|| {
        let right = "give the `next_page_token` of the page before, with the same conditions";
        Refusal::field(
            "page_token",
            Reason::PageTokenRefused,
            "not a token of this list",
            right,
        )
    })
}

fn bound_to(conditions: &[&str]) -> String {
    let mut hash = Sha256::new();
    for condition in conditions {
        hash.update(
            u64::try_from(condition.len())
                .unwrap_or(u64::MAX)
                .to_be_bytes(),
        );
        hash.update(condition.as_bytes());
    }
    let digest: [u8; 32] = hash.finalize().into();
    hex(&digest).chars().take(TOKEN_CHARS / 2).collect()
}

#[cfg(test)]
mod tests;

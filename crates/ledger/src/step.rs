//! What a lead signs: one step of a rule pack's life, or a directive of the whole clinic, as the text of a signed note.
//!
//! The text has one line a value, in a fixed order, so that anybody can write it again from what the ledger holds, and its
//! signature is one line of a C2SP signed note (`crate::note`). The request id makes each text the only one of its kind.
//!
//! Leaves to others: who is a lead, whether the step may be taken (`rungwise-server`).

use crate::note::{NoteError, NoteSigner, VerifierKey, open_note};
use alloc::borrow::ToOwned;
use alloc::format;
use alloc::string::String;
use core::fmt::Write as _;

/// What every text begins with.
pub const STEP_HEADER: &str = "rungwise/step/v1";

/// A step.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Step<'a> {
    /// A pack is proposed.
    Propose {
        /// Its id and version.
        pack: (&'a str, &'a str),
        /// Its digest.
        digest: &'a [u8; 32],
        /// The date from which it decides, as `2026-05-01`; none: from its approval.
        from: Option<&'a str>,
        /// Which episodes come under it: `all`, `next-phase` or `new`.
        for_episodes: &'a str,
    },
    /// A proposal is approved.
    Approve {
        /// Its position in the ledger.
        proposal: u64,
        /// Its pack's digest.
        digest: &'a [u8; 32],
    },
    /// A proposal is withdrawn.
    Withdraw {
        /// Its position in the ledger.
        proposal: u64,
        /// Its pack's digest.
        digest: &'a [u8; 32],
    },
    /// A directive binds every episode.
    Direct {
        /// The rule pack whose episodes it binds, by id; none: every one.
        pack: Option<&'a str>,
        /// The date from which it binds.
        date: &'a str,
        /// The last date on which it binds; none: until it is lifted.
        until: Option<&'a str>,
        /// What it orders, in words.
        order: &'a str,
    },
    /// Such a directive is lifted.
    Lift {
        /// Its position in the ledger.
        directive: u64,
        /// The date from which it no longer binds.
        date: &'a str,
    },
}

/// The text of a step, to be signed.
///
/// # Errors
/// A value has a line end or another control character.
pub fn text(
    clinic: &str,
    request_id: &str,
    step: &Step<'_>,
    why: &str,
) -> Result<String, NoteError> {
    let mut text = format!("{STEP_HEADER}\n");
    let mut line = |name: &str, value: &str| -> Result<(), NoteError> {
        if value.chars().any(char::is_control) {
            return Err(NoteError::Text);
        }
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{name}: {value}");
        Ok(())
    };
    line("clinic", clinic)?;
    line("request", request_id)?;
    match step {
        Step::Propose {
            pack: (id, version),
            digest,
            from,
            for_episodes,
        } => {
            line("step", "propose")?;
            line("pack", &format!("{id} {version}"))?;
            line("digest", &hex(*digest))?;
            line("from", from.unwrap_or("approval"))?;
            line("for", for_episodes)?;
        }
        Step::Approve { proposal, digest } => {
            line("step", "approve")?;
            line("proposal", &format!("{proposal}"))?;
            line("digest", &hex(*digest))?;
        }
        Step::Withdraw { proposal, digest } => {
            line("step", "withdraw")?;
            line("proposal", &format!("{proposal}"))?;
            line("digest", &hex(*digest))?;
        }
        Step::Direct {
            pack,
            date,
            until,
            order,
        } => {
            line("step", "direct")?;
            line("pack", pack.unwrap_or("every"))?;
            line("date", date)?;
            line("until", until.unwrap_or("lifted"))?;
            line("order", order)?;
        }
        Step::Lift { directive, date } => {
            line("step", "lift")?;
            line("directive", &format!("{directive}"))?;
            line("date", date)?;
        }
    }
    line("why", why)?;
    Ok(text)
}

/// The signature line of a text, without its line end.
///
/// # Errors
/// The text is not one that a note may have.
pub fn sign(signer: &NoteSigner, text: &str) -> Result<String, NoteError> {
    let note = signer.sign(text)?;
    let line = note
        .strip_prefix(text)
        .and_then(|rest| rest.strip_prefix('\n'));
    let line = line.and_then(|rest| rest.strip_suffix('\n'));
    line.map(ToOwned::to_owned).ok_or(NoteError::Malformed)
}

/// Checks that a signature line is this key's, over this text.
///
/// # Errors
/// It is no signature line, is another key's, or does not hold.
pub fn check(text: &str, signature: &str, key: &VerifierKey) -> Result<(), NoteError> {
    if signature.contains('\n') {
        return Err(NoteError::Malformed);
    }
    open_note(&format!("{text}\n{signature}\n"), &[key]).map(|_| ())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests;

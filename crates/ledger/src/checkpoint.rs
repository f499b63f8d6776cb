//! Checkpoints: a head as a signed note, as in <https://c2sp.org/tlog-checkpoint>.
//!
//! Leaves to others: keeping a checkpoint before its signature is given away, and never signing a smaller one.

use crate::note::{NoteError, NoteSigner, VerifierKey, open_note};
use crate::tree::Head;
use alloc::format;
use alloc::string::{String, ToString};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;

/// Why a checkpoint was refused.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum CheckpointError {
    /// The note was refused.
    #[error(transparent)]
    Note(#[from] NoteError),
    /// The text is not an origin, a size and a root.
    #[error("the note is not a checkpoint")]
    Malformed,
    /// It is another ledger's.
    #[error("the checkpoint is of `{0}`")]
    Origin(String),
}

/// The text of a head: origin, size in decimal, root in base64, a line each.
#[must_use]
pub fn checkpoint_text(origin: &str, head: &Head) -> String {
    format!("{origin}\n{}\n{}\n", head.size, STANDARD.encode(head.root))
}

/// Signs a head; the origin is the signer's name.
///
/// # Errors
/// The signer's name makes no note.
pub fn sign_checkpoint(signer: &NoteSigner, head: &Head) -> Result<String, CheckpointError> {
    Ok(signer.sign(&checkpoint_text(signer.verifier().name(), head))?)
}

/// The head that a checkpoint signs. Extension lines are passed over.
///
/// # Errors
/// Not signed by this key, not a checkpoint, or of another origin than the key's name.
pub fn open_checkpoint(note: &str, verifier: &VerifierKey) -> Result<Head, CheckpointError> {
    let text = open_note(note, &[verifier])?;
    let mut lines = text.split('\n');
    let mut line = || lines.next().ok_or(CheckpointError::Malformed);
    let (origin, size, root) = (line()?, line()?, line()?);
    if origin != verifier.name() {
        return Err(CheckpointError::Origin(origin.to_string()));
    }
    let decimal =
        size.bytes().all(|b| b.is_ascii_digit()) && (size == "0" || !size.starts_with('0'));
    let size = size
        .parse()
        .ok()
        .filter(|_| decimal)
        .ok_or(CheckpointError::Malformed)?;
    let root = STANDARD
        .decode(root)
        .ok()
        .and_then(|bytes| bytes.try_into().ok())
        .ok_or(CheckpointError::Malformed)?;
    Ok(Head { size, root })
}

#[cfg(test)]
mod tests;

//! Signed notes with Ed25519, as in <https://c2sp.org/signed-note>.
//!
//! Leaves to others: what the text says (`crate::checkpoint`), where the signing key is kept.

use alloc::format;
use alloc::string::{String, ToString};
use alloc::vec::Vec;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use core::fmt;
use core::fmt::Write;
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use sha2::{Digest, Sha256};
use zeroize::Zeroizing;

/// What the text of a signing key begins with.
const PRIVATE: &str = "PRIVATE+KEY+";
/// Signature type of Ed25519 in key ids and verifier keys.
const ED25519: u8 = 0x01;
/// Most signature lines that a note may have; the specification asks verifiers to take at least 16.
pub const SIGNATURES_MAX: usize = 64;

/// Why a name, a key, a text or a note was refused.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum NoteError {
    /// A key's name is empty or has a space or a plus sign.
    #[error("`{0}` cannot be the name of a key")]
    Name(String),
    /// Not a signing key. What was given is not repeated.
    #[error("not a signing key")]
    SigningKey,
    /// Not a verifier key.
    #[error("`{0}` is not a verifier key")]
    VerifierKey(String),
    /// The text does not end with a line end, or has control characters.
    #[error("the text of a note ends with a line end and has no control characters")]
    Text,
    /// The note is not of the form text, empty line, signatures.
    #[error("the note is malformed")]
    Malformed,
    /// A signature under a known key does not hold.
    #[error("the signature of `{0}` does not hold")]
    Signature(String),
    /// No signature is under a known key.
    #[error("no signature is under a known key")]
    Unsigned,
}

fn check_name(name: &str) -> Result<(), NoteError> {
    let sound = !name.is_empty()
        && !name.contains('+')
        && !name.chars().any(|c| c.is_whitespace() || c.is_control());
    if sound {
        Ok(())
    } else {
        Err(NoteError::Name(name.to_string()))
    }
}

fn check_text(text: &str) -> Result<(), NoteError> {
    let sound = text.ends_with('\n') && !text.chars().any(|c| c < ' ' && c != '\n');
    if sound { Ok(()) } else { Err(NoteError::Text) }
}

/// First four bytes of SHA-256(name ‖ 0x0A ‖ 0x01 ‖ key).
fn key_id(name: &str, key: &VerifyingKey) -> [u8; 4] {
    let mut hasher = Sha256::new();
    hasher.update(name.as_bytes());
    hasher.update([0x0a, ED25519]);
    hasher.update(key.as_bytes());
    let [a, b, c, d, ..] = <[u8; 32]>::from(hasher.finalize());
    [a, b, c, d]
}

/// Who checks a note needs this: a name and a public key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct VerifierKey {
    name: String,
    id: [u8; 4],
    key: VerifyingKey,
}

impl VerifierKey {
    /// Reads `name+id+key`, the id in hexadecimal and the key in base64.
    ///
    /// # Errors
    /// Another form, another signature type, or an id that is not the key's.
    pub fn parse(text: &str) -> Result<Self, NoteError> {
        let refuse = || NoteError::VerifierKey(text.to_string());
        let (name, rest) = text.split_once('+').ok_or_else(refuse)?;
        let (id, key) = rest.split_once('+').ok_or_else(refuse)?;
        check_name(name)?;
        let bytes = STANDARD.decode(key).map_err(|_| refuse())?;
        let Some((&ED25519, key)) = bytes.split_first() else {
            return Err(refuse());
        };
        let key = <&[u8; 32]>::try_from(key).map_err(|_| refuse())?;
        let key = VerifyingKey::from_bytes(key).map_err(|_| refuse())?;
        let verifier = Self {
            name: name.to_string(),
            id: key_id(name, &key),
            key,
        };
        if hex(verifier.id) == id {
            Ok(verifier)
        } else {
            Err(refuse())
        }
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl fmt::Display for VerifierKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut bytes = Vec::from([ED25519]);
        bytes.extend_from_slice(self.key.as_bytes());
        write!(
            f,
            "{}+{}+{}",
            self.name,
            hex(self.id),
            STANDARD.encode(bytes)
        )
    }
}

fn hex(id: [u8; 4]) -> String {
    id.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Who signs notes: a name and a signing key. Never shown.
pub struct NoteSigner {
    key: SigningKey,
    verifier: VerifierKey,
}

impl NoteSigner {
    /// A signer from its name and the 32 secret bytes of its key.
    ///
    /// # Errors
    /// The name is empty or has a space or a plus sign.
    pub fn new(name: &str, secret: &[u8; 32]) -> Result<Self, NoteError> {
        check_name(name)?;
        let key = SigningKey::from_bytes(secret);
        let public = key.verifying_key();
        Ok(Self {
            key,
            verifier: VerifierKey {
                name: name.to_string(),
                id: key_id(name, &public),
                key: public,
            },
        })
    }

    /// Reads `PRIVATE+KEY+name+id+key`, the id in hexadecimal and the key in base64, as the Go package
    /// `golang.org/x/mod/sumdb/note` writes it.
    ///
    /// # Errors
    /// Another form, another signature type, or an id that is not the key's.
    pub fn parse(text: &str) -> Result<Self, NoteError> {
        let refuse = || NoteError::SigningKey;
        let mut parts = text
            .strip_prefix(PRIVATE)
            .ok_or_else(refuse)?
            .splitn(3, '+');
        let (name, id, key) = (parts.next(), parts.next(), parts.next());
        let key = key.and_then(|key| STANDARD.decode(key).ok());
        let key = Zeroizing::new(key.ok_or_else(refuse)?);
        let Some((&ED25519, secret)) = key.split_first() else {
            return Err(refuse());
        };
        let secret = <&[u8; 32]>::try_from(secret).map_err(|_| refuse())?;
        let signer = Self::new(name.unwrap_or_default(), secret).map_err(|_| refuse())?;
        if id == Some(&hex(signer.verifier.id)) {
            Ok(signer)
        } else {
            Err(refuse())
        }
    }

    /// The signing key as [`NoteSigner::parse`] reads it. Whoever has it can sign.
    #[must_use]
    pub fn secret_text(&self) -> Zeroizing<String> {
        let mut bytes = Zeroizing::new(Vec::from([ED25519]));
        bytes.extend_from_slice(self.key.as_bytes());
        let key = Zeroizing::new(STANDARD.encode(bytes.as_slice()));
        let (name, id) = (&self.verifier.name, hex(self.verifier.id));
        Zeroizing::new(format!("{PRIVATE}{name}+{id}+{}", key.as_str()))
    }

    /// What checks this signer's notes.
    #[must_use]
    pub const fn verifier(&self) -> &VerifierKey {
        &self.verifier
    }

    /// The text with its signature.
    ///
    /// # Errors
    /// The text does not end with a line end, or has control characters.
    pub fn sign(&self, text: &str) -> Result<String, NoteError> {
        check_text(text)?;
        let mut signed = Vec::from(self.verifier.id);
        signed.extend_from_slice(&self.key.sign(text.as_bytes()).to_bytes());
        Ok(format!(
            "{text}\n\u{2014} {} {}\n",
            self.verifier.name,
            STANDARD.encode(signed)
        ))
    }
}

impl fmt::Debug for NoteSigner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("NoteSigner")
            .field("verifier", &self.verifier)
            .finish_non_exhaustive()
    }
}

/// The text of a note that at least one of the known keys signed. Signatures under other keys are passed over.
///
/// # Errors
/// Malformed, a known key's signature does not hold, or there is none.
pub fn open_note<'a>(note: &'a str, known: &[&VerifierKey]) -> Result<&'a str, NoteError> {
    let split = note.rfind("\n\n").ok_or(NoteError::Malformed)?;
    let (text, rest) = note
        .split_at_checked(split.saturating_add(1))
        .ok_or(NoteError::Malformed)?;
    check_text(text)?;
    let lines = rest
        .strip_prefix('\n')
        .and_then(|r| r.strip_suffix('\n'))
        .ok_or(NoteError::Malformed)?;
    let mut signed = false;
    for (count, line) in lines.split('\n').enumerate() {
        if count >= SIGNATURES_MAX {
            return Err(NoteError::Malformed);
        }
        let (name, id, signature) = parse_signature(line)?;
        for verifier in known.iter().filter(|v| v.name == name && v.id == id) {
            check_signature(verifier, text, &signature)?;
            signed = true;
        }
    }
    if signed {
        Ok(text)
    } else {
        Err(NoteError::Unsigned)
    }
}

fn parse_signature(line: &str) -> Result<(&str, [u8; 4], Vec<u8>), NoteError> {
    let (name, encoded) = line
        .strip_prefix("\u{2014} ")
        .and_then(|l| l.split_once(' '))
        .ok_or(NoteError::Malformed)?;
    check_name(name).map_err(|_| NoteError::Malformed)?;
    let bytes = STANDARD.decode(encoded).map_err(|_| NoteError::Malformed)?;
    let (id, signature) = bytes.split_first_chunk::<4>().ok_or(NoteError::Malformed)?;
    if signature.is_empty() {
        return Err(NoteError::Malformed);
    }
    Ok((name, *id, signature.to_vec()))
}

fn check_signature(verifier: &VerifierKey, text: &str, signature: &[u8]) -> Result<(), NoteError> {
    Signature::from_slice(signature)
        .and_then(|signature| verifier.key.verify_strict(text.as_bytes(), &signature))
        .map_err(|_| NoteError::Signature(verifier.name.clone()))
}

#[cfg(test)]
mod tests;

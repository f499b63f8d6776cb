//! Sealing with XChaCha20-Poly1305, and wrapping subject keys by an epoch key.
//!
//! Sealed bytes are the nonce (24) followed by the ciphertext and its tag (16). Nonces are random and passed in.
//!
//! Leaves to others: where keys are kept, what is sealed (`crate::entry`).

use alloc::vec::Vec;
use chacha20poly1305::aead::{Aead, Payload};
use chacha20poly1305::{Key, KeyInit, XChaCha20Poly1305, XNonce};
use core::fmt;
use zeroize::{Zeroize, Zeroizing};

/// Length of a nonce, bytes.
pub const NONCE_BYTES: usize = 24;
/// Length of a tag, bytes.
pub const TAG_BYTES: usize = 16;
/// Length of a wrapped key, bytes.
pub const WRAPPED_KEY_BYTES: usize = NONCE_BYTES + 32 + TAG_BYTES;

/// A nonce: random, used once.
pub type Nonce = [u8; NONCE_BYTES];

/// A secret key. It is wiped when dropped and never shown.
#[derive(Clone)]
pub struct SecretKey(Zeroizing<[u8; 32]>);

impl SecretKey {
    /// Takes 32 random bytes as a key, and wipes them where they came from.
    #[must_use]
    pub fn take(bytes: &mut [u8; 32]) -> Self {
        let key = Self(Zeroizing::new(*bytes));
        bytes.zeroize();
        key
    }

    /// The bytes, to be written to a key file or wrapped.
    #[must_use]
    pub fn expose(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SecretKey(..)")
    }
}

/// The content is too long to be sealed (256 GiB).
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("the content is too long to be sealed")]
pub struct SealError;

/// Sealed bytes do not open: another key, another context, or altered.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("the sealed bytes do not open under this key")]
pub struct UnsealError;

fn cipher(key: &SecretKey) -> XChaCha20Poly1305 {
    XChaCha20Poly1305::new(&Key::from(*key.0))
}

/// Seals `content`; `context` is not in the result but must be the same to open it.
///
/// # Errors
/// The content is too long.
pub fn seal(
    key: &SecretKey,
    nonce: &Nonce,
    context: &[u8],
    content: &[u8],
) -> Result<Vec<u8>, SealError> {
    let sealed = cipher(key)
        .encrypt(
            &XNonce::from(*nonce),
            Payload {
                msg: content,
                aad: context,
            },
        )
        .map_err(|_| SealError)?;
    let mut bytes = Vec::with_capacity(NONCE_BYTES.saturating_add(sealed.len()));
    bytes.extend_from_slice(nonce);
    bytes.extend_from_slice(&sealed);
    Ok(bytes)
}

/// Opens what [`seal`] made.
///
/// # Errors
/// Another key, another context, or altered.
pub fn unseal(key: &SecretKey, context: &[u8], sealed: &[u8]) -> Result<Vec<u8>, UnsealError> {
    let (nonce, rest) = sealed
        .split_first_chunk::<NONCE_BYTES>()
        .ok_or(UnsealError)?;
    cipher(key)
        .decrypt(
            &XNonce::from(*nonce),
            Payload {
                msg: rest,
                aad: context,
            },
        )
        .map_err(|_| UnsealError)
}

/// Wraps a subject's key by an epoch key; `context` names the table and the slot.
///
/// # Errors
/// Never for a key; the type is [`seal`]'s.
pub fn wrap_key(
    epoch: &SecretKey,
    nonce: &Nonce,
    context: &[u8],
    key: &SecretKey,
) -> Result<[u8; WRAPPED_KEY_BYTES], SealError> {
    seal(epoch, nonce, context, key.expose())?
        .try_into()
        .map_err(|_| SealError)
}

/// Unwraps what [`wrap_key`] made.
///
/// # Errors
/// Another epoch key, another slot, or altered.
pub fn unwrap_key(
    epoch: &SecretKey,
    context: &[u8],
    wrapped: &[u8; WRAPPED_KEY_BYTES],
) -> Result<SecretKey, UnsealError> {
    let mut bytes = unseal(epoch, context, wrapped)?;
    let key = <&mut [u8; 32]>::try_from(bytes.as_mut_slice())
        .map(SecretKey::take)
        .map_err(|_| UnsealError);
    bytes.zeroize();
    key
}

#[cfg(test)]
mod tests;

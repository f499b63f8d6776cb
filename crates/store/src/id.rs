//! The names that entries are filed under: clinic, stream, subject key, and what an entry is.
//!
//! Leaves to others: what the names stand for; a clinic's or stream's name says nothing about a person.

use core::fmt;

/// Longest clinic id, bytes.
pub const CLINIC_ID_BYTES_MAX: usize = 64;
/// Longest stream id, bytes.
pub const STREAM_ID_BYTES_MAX: usize = 64;

/// Why a name was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{name}` is not a {what}: 1 to {bytes_max} of a-z, A-Z, 0-9, `-`, `_` and `.`, not beginning with `.`"
)]
pub struct IdError {
    what: &'static str,
    name: String,
    bytes_max: usize,
}

fn checked(what: &'static str, name: String, bytes_max: usize) -> Result<String, IdError> {
    let sound = !name.is_empty()
        && name.len() <= bytes_max
        && !name.starts_with('.')
        && name
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'));
    if sound {
        Ok(name)
    } else {
        Err(IdError {
            what,
            name,
            bytes_max,
        })
    }
}

macro_rules! name_type {
    ($(#[$doc:meta])* $type:ident, $what:literal, $max:ident) => {
        $(#[$doc])*
        #[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub struct $type(String);

        impl $type {
            /// Takes a name that can be filed under.
            ///
            /// # Errors
            /// Empty, too long, beginning with a dot, or with a character outside the set.
            pub fn new(name: impl Into<String>) -> Result<Self, IdError> {
                checked($what, name.into(), $max).map(Self)
            }

            /// The name.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}

name_type!(
    /// A clinic: one ledger. 1 to 64 of `a-z A-Z 0-9 - _ .`, not beginning with a dot.
    ClinicId, "clinic id", CLINIC_ID_BYTES_MAX
);
name_type!(
    /// An ordered part of a ledger: an episode, or the clinic itself. Stays in clear for ever, so an episode's is random
    /// and never derived from a person. 1 to 64 of `a-z A-Z 0-9 - _ .`, not beginning with a dot.
    StreamId, "stream id", STREAM_ID_BYTES_MAX
);

/// A subject's key, by its random id. What is sealed under it becomes unreadable when the key is destroyed, so a person's
/// entries go under that person's key and a clinic's own (packs, bands, roles) under one of the clinic's.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct KeyId(pub [u8; 16]);

impl fmt::Display for KeyId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|b| write!(f, "{b:02x}"))
    }
}

/// What an entry is. Stays in clear.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Kind {
    /// An episode is opened.
    Open,
    /// An episode is closed.
    Close,
    /// Something was reported; corrections, directives on one episode and sign-offs too.
    Fact,
    /// A decision was made.
    Decision,
    /// A rule pack was proposed, approved, activated or withdrawn.
    Pack,
    /// A directive that binds the whole clinic.
    Directive,
    /// An elastic band was measured or retired.
    Band,
    /// A role was given or taken.
    Role,
}

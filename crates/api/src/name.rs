//! Resource names: `clinics/{clinic}/episodes/{episode}/…` read and written.
//!
//! Leaves to others: whether there is such a thing.

use std::fmt;

/// Longest part of a name, bytes.
pub const PART_BYTES_MAX: usize = 64;

/// An episode's name.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct EpisodeName {
    /// The clinic's id.
    pub clinic: String,
    /// The episode's id.
    pub episode: String,
}

impl fmt::Display for EpisodeName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "clinics/{}/episodes/{}", self.clinic, self.episode)
    }
}

impl EpisodeName {
    /// The name of its decision of this number.
    #[must_use]
    pub fn decision(&self, number: u32) -> String {
        format!("{self}/decisions/{number}")
    }

    /// The name of its fact at this position.
    #[must_use]
    pub fn fact(&self, position: u64) -> String {
        format!("{self}/facts/{position}")
    }
}

/// The name of a pack by its digest.
#[must_use]
pub fn pack_name(clinic: &str, digest: &[u8; 32]) -> String {
    format!("clinics/{clinic}/packs/{}", hex(digest))
}

/// The name of a clinic.
#[must_use]
pub fn clinic_name(clinic: &str) -> String {
    format!("clinics/{clinic}")
}

/// The name of the roll recorded at this position.
#[must_use]
pub fn roll_name(clinic: &str, position: u64) -> String {
    format!("clinics/{clinic}/rolls/{position}")
}

/// Bytes in lower-case hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes
        .iter()
        .flat_map(|byte| [byte >> 4, byte & 15])
        .filter_map(|digit| char::from_digit(digit.into(), 16))
        .collect()
}

/// The clinic of `clinics/{clinic}`.
#[must_use]
pub fn clinic_from_name(name: &str) -> Option<String> {
    match parts(name)?.as_slice() {
        ["clinics", clinic] => Some((*clinic).to_owned()),
        _ => None,
    }
}

/// The episode of `clinics/{clinic}/episodes/{episode}`.
#[must_use]
pub fn episode_from_name(name: &str) -> Option<EpisodeName> {
    match parts(name)?.as_slice() {
        ["clinics", clinic, "episodes", episode] => Some(episode_name(clinic, episode)),
        _ => None,
    }
}

/// The episode and number of `clinics/{clinic}/episodes/{episode}/decisions/{number}`.
#[must_use]
pub fn decision_from_name(name: &str) -> Option<(EpisodeName, u32)> {
    match parts(name)?.as_slice() {
        ["clinics", clinic, "episodes", episode, "decisions", number] => {
            Some((episode_name(clinic, episode), plain(number)?.parse().ok()?))
        }
        _ => None,
    }
}

/// The episode and position of `clinics/{clinic}/episodes/{episode}/facts/{position}`.
#[must_use]
pub fn fact_from_name(name: &str) -> Option<(EpisodeName, u64)> {
    match parts(name)?.as_slice() {
        ["clinics", clinic, "episodes", episode, "facts", position] => Some((
            episode_name(clinic, episode),
            plain(position)?.parse().ok()?,
        )),
        _ => None,
    }
}

/// The clinic, and the digest or id, of `clinics/{clinic}/packs/{digest or id}`.
#[must_use]
pub fn pack_from_name(name: &str) -> Option<(String, String)> {
    match parts(name)?.as_slice() {
        ["clinics", clinic, "packs", pack] => Some(((*clinic).to_owned(), (*pack).to_owned())),
        _ => None,
    }
}

/// The clinic and position of `clinics/{clinic}/rolls/{position}`.
#[must_use]
pub fn roll_from_name(name: &str) -> Option<(String, u64)> {
    of_clinic(name, "rolls")
}

/// `clinics/{clinic}/proposals/{position}`.
#[must_use]
pub fn proposal_name(clinic: &str, position: u64) -> String {
    format!("clinics/{clinic}/proposals/{position}")
}

/// `clinics/{clinic}/directives/{position}`: a directive of the whole clinic.
#[must_use]
pub fn clinic_directive_name(clinic: &str, position: u64) -> String {
    format!("clinics/{clinic}/directives/{position}")
}

/// The clinic and position of `clinics/{clinic}/proposals/{position}`.
#[must_use]
pub fn proposal_from_name(name: &str) -> Option<(String, u64)> {
    of_clinic(name, "proposals")
}

/// The clinic and position of `clinics/{clinic}/directives/{position}`.
#[must_use]
pub fn clinic_directive_from_name(name: &str) -> Option<(String, u64)> {
    of_clinic(name, "directives")
}

/// The clinic and position of a name of this collection of a clinic.
fn of_clinic(name: &str, collection: &str) -> Option<(String, u64)> {
    match parts(name)?.as_slice() {
        ["clinics", clinic, found, position] if *found == collection => {
            Some(((*clinic).to_owned(), plain(position)?.parse().ok()?))
        }
        _ => None,
    }
}

fn episode_name(clinic: &str, episode: &str) -> EpisodeName {
    EpisodeName {
        clinic: clinic.to_owned(),
        episode: episode.to_owned(),
    }
}

/// Digits alone, so that one thing has one name.
fn plain(number: &str) -> Option<&str> {
    let is_plain = number.bytes().all(|byte| byte.is_ascii_digit())
        && (number.len() == 1 || !number.starts_with('0'));
    is_plain.then_some(number)
}

/// The parts between slashes, where every one is a sound id.
fn parts(name: &str) -> Option<Vec<&str>> {
    let sound = |part: &&str| {
        let chars = part
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.'));
        !part.is_empty() && part.len() <= PART_BYTES_MAX && !part.starts_with('.') && chars
    };
    let parts: Vec<&str> = name.split('/').take(7).collect();
    parts.iter().all(sound).then_some(parts)
}

#[cfg(test)]
mod tests;

//! UCUM units that measures may have, each with its dimension.
//!
//! UCUM codes are case-sensitive (The Unified Code for Units of Measure, section 1, rule 1). Of its grammar we accept a
//! fixed table of codes and any annotation `{…}`, which UCUM defines as the unity. Values are never converted: a measure
//! has one unit and a value in another is refused, so that nothing is rounded.
//!
//! Leaves to others: which measure has which unit.

use crate::quantity::{Dimension, Unit};
use crate::suggest;

/// Every code accepted, besides annotations.
pub const CODES: [(&str, Dimension); 26] = [
    ("1", Dimension::One),
    ("%", Dimension::Percent),
    ("deg", Dimension::Angle),
    ("rad", Dimension::Angle),
    ("ms", Dimension::Time),
    ("s", Dimension::Time),
    ("min", Dimension::Time),
    ("h", Dimension::Time),
    ("d", Dimension::Time),
    ("wk", Dimension::Time),
    ("mo", Dimension::Time),
    ("a", Dimension::Time),
    ("mm", Dimension::Length),
    ("cm", Dimension::Length),
    ("m", Dimension::Length),
    ("g", Dimension::Mass),
    ("kg", Dimension::Mass),
    ("[lb_av]", Dimension::Mass),
    ("N", Dimension::Force),
    ("kgf", Dimension::Force),
    ("[lbf_av]", Dimension::Force),
    ("N.m", Dimension::Torque),
    ("/min", Dimension::Frequency),
    ("/h", Dimension::Frequency),
    ("/d", Dimension::Frequency),
    ("/wk", Dimension::Frequency),
];

/// What people write instead, with the code they mean.
const MEANT: [(&str, &str); 22] = [
    ("nm", "N.m"),
    ("n*m", "N.m"),
    ("sec", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("minute", "min"),
    ("minutes", "min"),
    ("hour", "h"),
    ("hours", "h"),
    ("day", "d"),
    ("days", "d"),
    ("week", "wk"),
    ("weeks", "wk"),
    ("month", "mo"),
    ("months", "mo"),
    ("y", "a"),
    ("year", "a"),
    ("years", "a"),
    ("degree", "deg"),
    ("degrees", "deg"),
    ("lb", "[lb_av]"),
    ("percent", "%"),
];

/// Longest annotation accepted, in bytes, braces included.
pub const ANNOTATION_BYTES_MAX: usize = 40;

/// The unit that `code` names; none where it is not one of ours.
#[must_use]
pub fn find(code: &str) -> Option<Unit> {
    if is_annotation(code) {
        return Some(Unit {
            code: code.into(),
            dimension: Dimension::One,
        });
    }
    let (code, dimension) = CODES.iter().find(|(known, _)| *known == code)?;
    Some(Unit {
        code: (*code).into(),
        dimension: *dimension,
    })
}

/// The code that was probably meant by one that is not known.
#[must_use]
pub fn meant(code: &str) -> Option<&'static str> {
    let small = code.to_lowercase();
    if let Some((_, meant)) = MEANT.iter().find(|(wrong, _)| *wrong == small) {
        return Some(meant);
    }
    if let Some((known, _)) = CODES
        .iter()
        .find(|(known, _)| known.eq_ignore_ascii_case(code))
    {
        return Some(known);
    }
    suggest::nearest(code, CODES.iter().map(|(known, _)| *known))
}

/// Whether values in these units may be compared: the same code, or both a plain number (`1` and every annotation are
/// the unity in UCUM).
#[must_use]
pub fn same(a: &Unit, b: &Unit) -> bool {
    a.code == b.code || (a.dimension == Dimension::One && b.dimension == Dimension::One)
}

/// `{…}`: printable ASCII without braces or spaces inside (UCUM section 2, rule 6), at least one character.
fn is_annotation(code: &str) -> bool {
    let inner = code
        .strip_prefix('{')
        .and_then(|rest| rest.strip_suffix('}'));
    code.len() <= ANNOTATION_BYTES_MAX
        && inner.is_some_and(|inner| {
            !inner.is_empty()
                && inner
                    .bytes()
                    .all(|byte| byte.is_ascii_graphic() && !matches!(byte, b'{' | b'}'))
        })
}

#[cfg(test)]
#[path = "unit_tests.rs"]
mod tests;

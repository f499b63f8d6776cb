//! The nearest of some known words to one that is not known, for "did you mean".
//!
//! Leaves to others: saying it.

/// Longest word that something is near to, in bytes: longer than any name, so that comparing stays cheap.
const WORD_BYTES_MAX: usize = 120;

/// The candidate with the fewest edits from `word`, where these are at most a third of its length (and at least one is
/// always allowed). Of equals the first wins.
#[must_use]
pub fn nearest<'c>(word: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    if word.len() > WORD_BYTES_MAX {
        return None;
    }
    let small = word.to_lowercase();
    let mut best: Option<(usize, &'c str)> = None;
    for candidate in candidates {
        if candidate.len() > WORD_BYTES_MAX {
            continue;
        }
        let edits = strsim::damerau_levenshtein(&small, &candidate.to_lowercase());
        let allowed = (candidate.chars().count().max(small.chars().count()) / 3).max(1);
        if edits <= allowed && best.is_none_or(|(fewest, _)| edits < fewest) {
            best = Some((edits, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

#[cfg(test)]
#[path = "suggest_tests.rs"]
mod tests;

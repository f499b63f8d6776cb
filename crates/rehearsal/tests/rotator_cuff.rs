//! The pack `rules/rotator-cuff` is accepted without a word, and each of its diaries goes as it says.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

mod support;

use rungwise_pack::diagnostic::{Style, render};

#[test]
fn the_pack_is_accepted_without_a_warning() {
    let files = support::files("rotator-cuff");
    let checked = rungwise_pack::check(&files);
    let said = render(&files, &checked.diagnostics, Style::Plain);
    assert!(checked.pack.is_some() && checked.diagnostics.is_empty(), "{said}");
}

//! The small invented pack of `tests-data/small` is accepted without a word, and means what it says.

#![allow(clippy::disallowed_methods, reason = "tests read their fixtures")]

mod support;

use rungwise_pack::check;
use rungwise_pack::diagnostic::{Style, render};
use support::small;

#[test]
fn the_small_pack_is_accepted_without_a_word() {
    let files = small();
    let checked = check(&files);
    assert_eq!(render(&files, &checked.diagnostics, Style::Plain), "");
    assert!(checked.pack.is_some());
}

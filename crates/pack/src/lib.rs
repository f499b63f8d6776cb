//! What the rules say.
//!
//! A rule pack is a directory of TOML files that a clinician can read aloud. This crate reads such a directory (given
//! to it as named texts: it touches no disk), reports everything that is wrong with it at once, and hands back a
//! [`CheckedPack`](model::CheckedPack) that nothing but the checker can make.
//!
//! ```
//! use rungwise_pack::diagnostic::{Style, render};
//! use rungwise_pack::source::SourceFiles;
//!
//! let files = SourceFiles::new(vec![("pack.toml".into(), "id = \"Rotator Cuff\"\n".into())]);
//! let checked = rungwise_pack::check(&files);
//! assert!(checked.pack.is_none());
//! assert!(render(&files, &checked.diagnostics, Style::Plain).contains("did you mean `rotator-cuff`?"));
//! ```
//!
//! It leaves to others: what a pack decides about a person (`rungwise-engine`), and reading files (`rungwise-store`).

pub mod check;
pub mod compare;
pub mod decimal;
pub mod diagnostic;
mod digest;
pub mod model;
pub mod places;
pub mod prove;
pub mod quantity;
pub mod read;
pub mod source;
pub mod suggest;
pub mod unit;

pub use check::{Checked, check};
pub use compare::compare;
pub use digest::digest;
pub use prove::{Proved, prove};

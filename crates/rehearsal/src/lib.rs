//! Rule packs run on worked courses of care.
//!
//! A diary is one invented (or imported) course of care: what was reported on each day, on which days the next
//! prescription was asked for, and which decision is expected there. [`diary::read`] reads one from text and reports
//! everything wrong with it at once; [`play()`] runs it against a pack and says where the decisions differ from the
//! expected ones ([`told`] in words), and [`accept`] writes the expectations anew. [`coverage`] says which of the pack's
//! sentences a set of diaries tries, and [`mutate`] which of its numbers some diary would notice.
//!
//! It leaves to others: reading files (it is given texts), deciding (`rungwise-engine`), and the wire: a diary is an
//! ordered list of [`diary::Step`]s, so that a client can play the same course against a server. [`prove()`] looks for what a
//! sound pack should not do, partly by playing the best course there is. [`cohort`] plays many invented people.

pub mod accept;
pub mod best;
pub mod bolder;
pub mod cohort;
mod course;
pub mod coverage;
pub mod diary;
pub mod impact;
pub mod mutate;
pub mod play;
pub mod prove;
mod read;
pub mod readiness;
pub mod told;
pub mod versions;

pub use play::{Played, play, play_watched};
pub use prove::{Proved, prove};
pub use readiness::{Readiness, readiness};

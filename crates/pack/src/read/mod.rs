//! How a pack is written: TOML files read into drafts, and sentences parsed.
//!
//! # Sentences
//!
//! A criterion is one sentence about one measure. The measure's declared name is used verbatim; where several names
//! fit, the longest does. Words are parted by any white space, and `%` may stand right after its number.
//!
//! ```text
//! sentence  = subject relation [ window ]
//!           | exercise "has reached" variable value
//!           | "at least" k "exercises have reached" variable value
//! subject   = [ "in any exercise" | "in every exercise" | "in at least" k "exercises" ] measure
//!           | measure [ "of" exercise ]
//! relation  = ( "at most" | "at least" | "below" | "above" ) amount
//!           | "between" amount "and" amount
//!           | "is" choice | "is not" choice | "no worse than" choice
//!           | ( "up" | "down" ) "by at least" change reference
//! amount    = number [ unit ] [ ( "above" | "below" ) measure ]
//!           | number "%" "of the other side"
//!           | number "%" "of" measure
//! change    = number [ unit ] | number "%"
//! window    = "in the last session"
//!           | "in each of the last" n "sessions"
//!           | "in any of the last" n "sessions"
//!           | "in at least" k "of the last" n "sessions"
//!           | "on at least" k "of the last" n "days"
//!           | ( "on average" | "at worst" | "at best" | "in total" )
//!             ( "over the last" n ( "days" | "weeks" ) | "since entering the phase" )
//! reference = "since the first assessment" | "since the assessment before" | "since the best assessment"
//!           | "since entering the phase" | "compared with the" n "days before"
//! ```
//!
//! A unit, where one is written, is the measure's own UCUM code. A change in `%` is a share of the reference, except
//! for a measure that is itself in `%`, where it is points of it. `value` is a value of the variable's row: a number,
//! with or without the variable's own unit (a load in `N` or, of work against a band, in `N.m`), or a label. `k` and `n` are whole numbers from 1.
//!
//! Leaves to others: whether what was read makes sense together (`crate::check`).

mod band;
pub(crate) mod combined;
mod computed;
pub(crate) mod draft;
pub(crate) mod exercises;
pub(crate) mod fields;
mod files;
pub(crate) mod head;
pub(crate) mod measures;
pub(crate) mod rules;
pub(crate) mod sentence;
pub(crate) mod sequence;

pub(crate) use files::read;
pub use head::LANGUAGE_VERSION;

/// Most levels of `all`, `any` and `none` inside each other.
pub const CRITERION_DEPTH_MAX: usize = 6;
/// Most measures of a pack, each numbered one counted.
pub const MEASURES_MAX: usize = 1_000;
/// Most phases of a pack.
pub const PHASES_MAX: usize = 50;
/// Most lines of a pack.
pub const LINES_MAX: usize = 200;
/// Most exercises of a pack.
pub const EXERCISES_MAX: usize = 500;
/// Most rules and limits of a pack together.
pub const RULES_MAX: usize = 2_000;
/// Most sources of a pack.
pub const SOURCES_MAX: usize = 1_000;
/// Most texts in one language.
pub const TEXTS_MAX: usize = 5_000;
/// Most sentences in a pack.
pub const SENTENCES_MAX: usize = 10_000;
/// Longest sentence, in bytes.
pub const SENTENCE_BYTES_MAX: usize = 400;
/// Longest key of a rule, exercise, phase …, in bytes.
pub const KEY_BYTES_MAX: usize = 60;
/// Longest name of a measure or a choice, in bytes.
pub const NAME_BYTES_MAX: usize = 80;
/// Longest text, in bytes.
pub const TEXT_BYTES_MAX: usize = 4_000;
/// Most choices of one measure.
pub const CHOICES_MAX: usize = 20;
/// Longest span in days (a hundred years) that a pack may speak of.
pub const DAYS_MAX: u32 = 36_525;
/// Most values of one row of a ladder.
pub const ROW_VALUES_MAX: usize = 100;
/// Largest count of sessions, steps, lines and the like.
pub const COUNT_MAX: u32 = 1_000;

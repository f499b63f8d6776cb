//! Why a command could not be done, and with which code the program ends then.

use crate::band::points::Mistake;
use std::io;
use std::path::PathBuf;

/// Why a command could not be done.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// A file could not be read.
    #[error("`{path}` cannot be read: {cause}")]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// A rule pack's folder could not be read.
    #[error(transparent)]
    ReadPack(#[from] rungwise_store::packs::PackReadError),
    /// A rule pack has errors; they stand in the text, rendered.
    #[error("`{pack}` is not a sound rule pack\n{findings}")]
    PackRefused {
        /// Its folder or name.
        pack: String,
        /// Everything that is wrong with it.
        findings: String,
    },
    /// No diagnostic has this code.
    #[error("no diagnostic has the code `{given}`; {hint}")]
    NoSuchCode {
        /// What was given.
        given: String,
        /// The nearest code, or the range of them.
        hint: String,
    },
    /// A pack has no texts in a language.
    #[error("the pack has no texts in `{given}`; it has {known}")]
    NoSuchLanguage {
        /// What was given.
        given: String,
        /// The languages that it has.
        known: String,
    },
    /// A diary has errors; they stand in the text, rendered.
    #[error("`{diary}` is not a diary of this rule pack\n{findings}")]
    DiaryRefused {
        /// Its file.
        diary: String,
        /// Everything that is wrong with it.
        findings: String,
    },
    /// No rule pack came with the program, and none was named.
    #[error("no rule pack is named; give its folder with `--pack`")]
    NoPack,
    /// A lead's name cannot be that of a key.
    #[error(transparent)]
    LeadName(rungwise_ledger::note::NoteError),
    /// A file holds no lead's key.
    #[error("`{path}` is not a lead's key; `rungwise rules key` makes one")]
    NotAKey {
        /// The file.
        path: PathBuf,
    },
    /// What is to be signed has more than one line.
    #[error("what is signed is one line each: say `--why` without line ends")]
    NotOneLine,
    /// What the command line orders cannot be.
    #[error("{0}")]
    Order(String),
    /// The operating system gave no random bytes.
    #[error("no random bytes: {0}")]
    Random(String),
    /// A decision that was just made cannot be found.
    #[error("the decision just made is not there")]
    NoDecision,
    /// A decision cannot be explained.
    #[error("the decision cannot be explained: {0}")]
    Explain(#[from] rungwise_engine::explain::ExplainError),
    /// A file could not be written.
    #[error("`{path}` cannot be written: {cause}")]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// A file to be written over is not one that was written here.
    #[error("`{path}` is something else and is not written over; name another folder")]
    NotOurs {
        /// The file.
        path: PathBuf,
    },
    /// A folder to be filled holds something.
    #[error("`{path}` is not empty; name a folder that is not there yet")]
    Filled {
        /// The folder.
        path: PathBuf,
    },
    /// The readings of a band have errors.
    #[error("`{path}` does not calibrate a band\n{}", indented(.mistakes))]
    PointsRefused {
        /// The file.
        path: PathBuf,
        /// Everything that is wrong with it.
        mistakes: Vec<Mistake>,
    },
    /// A file of two courses is not one.
    #[error("`{path}` does not say two courses of loads\n{why}")]
    CoursesRefused {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// What the command line says of the band cannot be.
    #[error(transparent)]
    Band(#[from] rungwise_bands::band::BandError),
    /// What the command line says of the person cannot be.
    #[error(transparent)]
    Body(#[from] rungwise_bands::body::BodyError),
    /// What the command line asks of an exercise is not what the exercise is.
    #[error("exercise `{exercise}` {why}")]
    Exercise {
        /// Its key.
        exercise: String,
        /// What it is, and what would be right.
        why: String,
    },
    /// The band cannot be held as the command line says: the answer is no.
    #[error("the band cannot be held so: {0}")]
    CannotBeHeld(#[from] rungwise_bands::profile::ProfileError),
    /// A drawing could not be made.
    #[error("the drawing cannot be made: {0}")]
    Draw(String),
    /// What the command line says is not a date.
    #[error("`{given}` is not a date; write it as 2026-01-31")]
    Date {
        /// What was given.
        given: String,
    },
    /// A configuration file is not one.
    #[error("`{path}` is not a configuration\n{why}")]
    Config {
        /// The file.
        path: PathBuf,
        /// What is wrong, with its place.
        why: String,
    },
    /// A model of virtual people is not one.
    #[error("`{path}` is not a model of virtual people\n{}", indented(.mistakes))]
    ModelRefused {
        /// The file.
        path: PathBuf,
        /// Everything that is wrong with it.
        mistakes: Vec<rungwise_rehearsal::cohort::ModelError>,
    },
    /// What is to be logged is not a filter of levels.
    #[error("`{given}` does not say what to log: {why}; write error, warn, info, debug or trace")]
    LogFilter {
        /// What was given.
        given: String,
        /// What is wrong.
        why: String,
    },
    /// A temporary folder could not be made.
    #[error("no temporary folder can be made: {0}")]
    Folder(io::Error),
    /// What async work runs on could not be made.
    #[error("no threads can be started: {0}")]
    Runtime(io::Error),
    /// The process cannot be told of signals.
    #[error("signals cannot be waited for: {0}")]
    Signals(io::Error),
    /// The store could not be opened.
    #[error("the store cannot be opened: {0}")]
    OpenStore(#[from] rungwise_store::OpenError),
    /// The store stopped writing. What was acknowledged is safe; starting again recovers it.
    #[error("the store has stopped: {0}; start again to recover")]
    StoreStopped(String),
    /// The server did not start, or did not end as it should.
    #[error(transparent)]
    Serve(#[from] rungwise_server::ServeError),
    /// No server answers there.
    #[error("no server answers at `{server}`: {why}")]
    Unreachable {
        /// Its address.
        server: String,
        /// Why.
        why: String,
    },
    /// The server refused a call.
    #[error("the server refused: {}", .0.message())]
    Refused(#[from] tonic::Status),
    /// The server's answer lacks something that it must have.
    #[error("the server's answer lacks {0}")]
    AnswerIncomplete(&'static str),
    /// Nothing more can be printed: the reader is gone.
    #[error("the output cannot be written: {0}")]
    Print(io::Error),
    /// The diary asks for a prescription of a day before the last decision.
    #[error(
        "the diary's last decision is for {last}; nothing is decided for {asked}, which is before it"
    )]
    AsOfBeforeLast {
        /// The date asked for.
        asked: jiff::civil::Date,
        /// The date of the last decision.
        last: jiff::civil::Date,
    },
}

impl Failure {
    /// The code that the program ends with: 1 where the answer is no, 2 for a command line or a configuration that was not
    /// understood, else 3.
    pub(crate) const fn exit_code(&self) -> u8 {
        match self {
            Self::CannotBeHeld(_) => 1,
            Self::NoSuchCode { .. }
            | Self::NoSuchLanguage { .. }
            | Self::Date { .. }
            | Self::Config { .. }
            | Self::ModelRefused { .. }
            | Self::LogFilter { .. }
            | Self::LeadName(_)
            | Self::NotAKey { .. }
            | Self::NotOneLine
            | Self::Order(_)
            | Self::Band(_)
            | Self::Body(_)
            | Self::Exercise { .. } => 2,
            _ => 3,
        }
    }
}

/// Each on a line of its own, indented.
fn indented(mistakes: &[impl std::fmt::Display]) -> String {
    let lines: Vec<String> = mistakes.iter().map(|one| format!("  {one}")).collect();
    lines.join("\n")
}

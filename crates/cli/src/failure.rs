//! Why a command could not be done, and with which code the program ends then.

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
    /// A decision that was just made cannot be found.
    #[error("the decision just made is not there")]
    NoDecision,
    /// A decision cannot be explained.
    #[error("the decision cannot be explained: {0}")]
    Explain(#[from] rungwise_engine::explain::ExplainError),
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
    /// The code that the program ends with: 2 for a command line or a configuration that was not understood, else 3.
    pub(crate) const fn exit_code(&self) -> u8 {
        match self {
            Self::Date { .. } | Self::Config { .. } | Self::LogFilter { .. } => 2,
            _ => 3,
        }
    }
}

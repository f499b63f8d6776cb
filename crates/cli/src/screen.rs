//! Printing: to standard output what was asked for, to standard error what went wrong. Colour codes reach a terminal only.
//!
//! Leaves to others: what is said.

use crate::failure::Failure;
use anstream::{AutoStream, ColorChoice};
use rungwise_pack::diagnostic::Style;
use std::io::{self, Write};

/// Bold, where the terminal shows it.
const BOLD: &str = "\u{1b}[1m";
/// Fainter than the rest, where the terminal shows it.
const FAINT: &str = "\u{1b}[2m";
/// The end of either.
const PLAIN: &str = "\u{1b}[0m";

/// Where a command prints.
pub(crate) struct Screen {
    out: AutoStream<io::Stdout>,
    err: AutoStream<io::Stderr>,
}

impl Screen {
    /// The program's own standard output and error.
    pub(crate) fn standard() -> Self {
        Self {
            out: AutoStream::auto(io::stdout()),
            err: AutoStream::auto(io::stderr()),
        }
    }

    /// Prints a line.
    pub(crate) fn line(&mut self, text: &str) -> Result<(), Failure> {
        writeln!(self.out, "{text}")
            .and_then(|()| self.out.flush())
            .map_err(Failure::Print)
    }

    /// Prints a heading, after an empty line.
    pub(crate) fn heading(&mut self, text: &str) -> Result<(), Failure> {
        self.line(&format!("\n{}", bold(text)))
    }

    /// Prints a JSON document.
    pub(crate) fn json(&mut self, value: &serde_json::Value) -> Result<(), Failure> {
        self.line(&format!("{value:#}"))
    }

    /// Says on standard error why a command could not be done; nothing where the reader of standard output has left, as
    /// `head` does.
    pub(crate) fn complain(&mut self, failure: &Failure) {
        if matches!(failure, Failure::Print(cause) if cause.kind() == io::ErrorKind::BrokenPipe) {
            return;
        }
        // Where even this cannot be written, the exit code still says it.
        let _ = writeln!(self.err, "{} {failure}", bold("rungwise:"));
    }

    /// Says something on standard error that is not part of the answer.
    pub(crate) fn remark(&mut self, text: &str) {
        // A remark that cannot be shown changes nothing.
        let _ = writeln!(self.err, "{text}");
    }

    /// How diagnostics on standard output are to be drawn.
    pub(crate) fn style(&self) -> Style {
        if self.out.current_choice() == ColorChoice::Never {
            Style::Plain
        } else {
            Style::Colour
        }
    }
}

/// Text in bold; the codes are taken out again where no terminal reads it.
pub(crate) fn bold(text: &str) -> String {
    format!("{BOLD}{text}{PLAIN}")
}

/// Text fainter than the rest; the codes are taken out again where no terminal reads it.
pub(crate) fn faint(text: &str) -> String {
    format!("{FAINT}{text}{PLAIN}")
}

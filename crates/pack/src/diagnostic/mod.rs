//! What is wrong with a pack, as data, and the same for people to read.
//!
//! Leaves to others: finding it (`crate::check`).

mod code;
mod render;

pub use code::Code;
pub use render::{Style, render};

use crate::source::{Location, SourceFiles};
use std::ops::Range;

/// Most errors kept for one pack, and most warnings: more than anybody reads at once, and each is rendered. Which stand
/// are those found first; that there is an error is never lost.
pub const DIAGNOSTICS_MAX: usize = 200;

/// Longest message, label or help, in bytes: they may quote what a file says.
const WORDS_BYTES_MAX: usize = 2_000;

/// A text, cut where it is too long to be read.
fn bounded(text: String) -> String {
    if text.len() <= WORDS_BYTES_MAX {
        return text;
    }
    let letters = text.char_indices();
    let kept = letters.take_while(|(at, letter)| at + letter.len_utf8() <= WORDS_BYTES_MAX);
    let kept: String = kept.map(|(_, letter)| letter).collect();
    format!("{kept}…")
}

/// How bad it is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Severity {
    /// The pack cannot be used.
    Error,
    /// It can, but somebody should look.
    Warning,
}

impl Severity {
    /// The word in messages: `error` or `warning`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
        }
    }
}

/// One thing that is wrong with a pack.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Diagnostic {
    /// Stable code.
    pub code: Code,
    /// How bad it is; always the code's.
    pub severity: Severity,
    /// What is wrong, with the words of the pack in backticks.
    pub message: String,
    /// The file's name in the pack.
    pub file: String,
    /// Bytes of the file that are wrong; empty where nothing can be pointed at.
    pub span: Range<usize>,
    /// Line of the first byte, from 1.
    pub line: usize,
    /// Column of the first byte, in characters, from 1.
    pub column: usize,
    /// What stands at the place, in a few words; may be empty.
    pub label: String,
    /// What to do; none where the message says it.
    pub help: Option<String>,
    /// An edit that would put it right.
    pub suggestion: Option<Suggestion>,
}

/// An edit of the diagnostic's own file.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Suggestion {
    /// Bytes to replace.
    pub span: Range<usize>,
    /// What to put in their place.
    pub replacement: String,
}

/// A diagnostic on its way: what is wrong and where, before the file is looked at for line and column.
#[derive(Clone, Debug)]
pub(crate) struct Note {
    code: Code,
    at: Spot,
    message: String,
    label: String,
    help: Option<String>,
    suggestion: Option<(Location, String)>,
}

#[derive(Clone, Debug)]
enum Spot {
    In(Location),
    File(String),
}

impl Note {
    /// About a stretch of a file.
    pub(crate) fn new(code: Code, at: Location, message: impl Into<String>) -> Self {
        Self::at(code, Spot::In(at), message.into())
    }

    /// About a file that need not exist.
    pub(crate) fn file(code: Code, file: &str, message: impl Into<String>) -> Self {
        Self::at(code, Spot::File(file.to_owned()), message.into())
    }

    const fn at(code: Code, at: Spot, message: String) -> Self {
        Self {
            code,
            at,
            message,
            label: String::new(),
            help: None,
            suggestion: None,
        }
    }

    /// Adds what stands at the place.
    pub(crate) fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    /// Adds what to do.
    pub(crate) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Adds an edit of the marked bytes.
    pub(crate) fn replace(mut self, replacement: impl Into<String>) -> Self {
        if let Spot::In(at) = self.at {
            self.suggestion = Some((at, replacement.into()));
        }
        self
    }

    /// Adds "did you mean" with its edit, where there is something near.
    pub(crate) fn did_you_mean(self, near: Option<&str>) -> Self {
        match near {
            Some(near) => self.help(format!("did you mean `{near}`?")).replace(near),
            None => self,
        }
    }

    /// The same, for a whole TOML string: the edit keeps the quotes.
    pub(crate) fn did_you_mean_text(self, near: Option<&str>) -> Self {
        match near {
            Some(near) => self
                .help(format!("did you mean `{near}`?"))
                .replace(format!("\"{near}\"")),
            None => self,
        }
    }
}

/// Collects diagnostics.
#[derive(Debug)]
pub(crate) struct Findings<'f> {
    files: &'f SourceFiles,
    list: Vec<Diagnostic>,
    errors: usize,
    warnings: usize,
}

impl<'f> Findings<'f> {
    pub(crate) const fn new(files: &'f SourceFiles) -> Self {
        Self {
            files,
            list: Vec::new(),
            errors: 0,
            warnings: 0,
        }
    }

    /// Whether no further error would be kept: then nothing more need be worked out about one.
    pub(crate) const fn is_full(&self) -> bool {
        self.errors >= DIAGNOSTICS_MAX
    }

    pub(crate) fn add(&mut self, note: Note) {
        let kept = match note.code.severity() {
            Severity::Error => &mut self.errors,
            Severity::Warning => &mut self.warnings,
        };
        if *kept >= DIAGNOSTICS_MAX {
            return;
        }
        *kept += 1;
        let Note {
            code,
            at,
            message,
            label,
            help,
            suggestion,
        } = note;
        let mut diagnostic = Diagnostic {
            code,
            severity: code.severity(),
            message: bounded(message),
            file: String::new(),
            span: 0..0,
            line: 1,
            column: 1,
            label: bounded(label),
            help: help.map(bounded),
            suggestion: None,
        };
        match at {
            Spot::File(name) => diagnostic.file = name,
            Spot::In(at) => {
                if let Some(file) = self.files.files().get(at.file) {
                    diagnostic.file.clone_from(&file.name);
                    diagnostic.span = file.floor(at.start)..file.floor(at.end.max(at.start));
                    (diagnostic.line, diagnostic.column) = file.line_column(at.start);
                    diagnostic.suggestion = suggestion.map(|(at, replacement)| Suggestion {
                        span: file.floor(at.start)..file.floor(at.end.max(at.start)),
                        replacement,
                    });
                }
            }
        }
        self.list.push(diagnostic);
    }

    pub(crate) const fn has_errors(&self) -> bool {
        self.errors > 0
    }

    /// In file order, without doubles.
    pub(crate) fn finish(mut self) -> Vec<Diagnostic> {
        self.list.sort_by(|a, b| {
            (&a.file, a.span.start, a.span.end, a.code, &a.message).cmp(&(
                &b.file,
                b.span.start,
                b.span.end,
                b.code,
                &b.message,
            ))
        });
        self.list.dedup();
        self.list
    }
}

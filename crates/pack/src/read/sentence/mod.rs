//! Parsing sentences. The grammar stands in the documentation of [`crate::read`].
//!
//! Leaves to others: whether subject, relation and window go together (`crate::check`).

mod amount;
mod parse;
mod window;
mod words;

pub(crate) use parse::parse;

use crate::diagnostic::{Code, Note};
use crate::model::{Measure, Relation, Subject, Window};
use crate::quantity::{Key, Unit};
use crate::source::LocatedText;
use std::ops::Range;

/// The declared names that a sentence may use, in the order of the pack's own lists.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Names<'n> {
    pub(crate) measures: &'n [Measure],
    pub(crate) exercises: &'n [Key],
}

/// A sentence understood, with the place of each of its parts.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Parsed {
    pub(crate) subject: Subject,
    pub(crate) relation: Relation,
    pub(crate) window: Window,
    pub(crate) parts: Parts,
}

/// Byte ranges of the sentence's text.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub(crate) struct Parts {
    /// Quantifier, measure and exercise together.
    pub(crate) subject: Range<usize>,
    /// `in any exercise` and the like, or `of` with its exercise.
    pub(crate) quantifier: Option<Range<usize>>,
    /// The words of the relation, such as `at most`.
    pub(crate) relation: Range<usize>,
    /// The unit after a value that was reached, where one is written.
    pub(crate) reached_unit: Option<(&'static str, Range<usize>)>,
    /// Each amount.
    pub(crate) amounts: Vec<AmountPart>,
    pub(crate) window: Option<Range<usize>>,
    pub(crate) reference: Option<Range<usize>>,
}

/// An amount's place.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub(crate) struct AmountPart {
    pub(crate) whole: Range<usize>,
    /// The unit, where one is written.
    pub(crate) unit: Option<(Unit, Range<usize>)>,
    /// The other measure, where there is one.
    pub(crate) measure: Option<Range<usize>>,
}

/// Why a sentence was not understood.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct SentenceError {
    pub(crate) code: Code,
    /// Bytes of the sentence.
    pub(crate) span: Range<usize>,
    pub(crate) message: String,
    pub(crate) label: String,
    pub(crate) help: Option<String>,
    /// What to write in place of `span`.
    pub(crate) replacement: Option<String>,
}

impl SentenceError {
    pub(crate) fn new(code: Code, span: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            code,
            span,
            message: message.into(),
            label: String::new(),
            help: None,
            replacement: None,
        }
    }

    pub(crate) fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    pub(crate) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    pub(crate) fn did_you_mean(mut self, near: Option<&str>) -> Self {
        if let Some(near) = near {
            self.help = Some(format!("did you mean `{near}`?"));
            self.replacement = Some(near.to_owned());
        }
        self
    }

    /// As a diagnostic in the file that the sentence stands in.
    pub(crate) fn note(self, sentence: &LocatedText) -> Note {
        let note = Note::new(self.code, sentence.part(&self.span), self.message).label(self.label);
        let note = match self.help {
            Some(help) => note.help(help),
            None => note,
        };
        match self.replacement.filter(|_| sentence.is_mapped()) {
            Some(replacement) => note.replace(replacement),
            None => note,
        }
    }
}

#[cfg(test)]
mod tests;

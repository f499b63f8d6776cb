//! Diagnostics for people: the offending text underlined, with what to do.

use super::{Diagnostic, Severity, Suggestion};
use crate::source::{SourceFile, SourceFiles};
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Element, Group, Level, Origin, Patch, Renderer, Snippet};
use std::ops::Range;

/// How diagnostics are printed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Style {
    /// Plain text, for files, tests and pipes.
    Plain,
    /// With terminal colours.
    Colour,
}

/// Columns that a rendered line may take.
const WIDTH_COLUMNS: usize = 140;

/// Renders diagnostics one after another, each with its piece of source, and a closing line with their number.
#[must_use]
pub fn render(files: &SourceFiles, diagnostics: &[Diagnostic], style: Style) -> String {
    let renderer = match style {
        Style::Plain => Renderer::plain(),
        Style::Colour => Renderer::styled(),
    }
    .decor_style(DecorStyle::Ascii)
    .term_width(WIDTH_COLUMNS);
    let mut text = String::new();
    for diagnostic in diagnostics {
        let groups = groups(files.get(&diagnostic.file), diagnostic);
        text.push_str(&renderer.render(&groups));
        text.push_str("\n\n");
    }
    text.push_str(&closing(diagnostics));
    text
}

fn closing(diagnostics: &[Diagnostic]) -> String {
    let count = |severity| {
        diagnostics
            .iter()
            .filter(|d| d.severity == severity)
            .count()
    };
    let say = |count: usize, word: &str| match count {
        0 => None,
        1 => Some(format!("1 {word}")),
        more => Some(format!("{more} {word}s")),
    };
    let parts = [
        say(count(Severity::Error), "error"),
        say(count(Severity::Warning), "warning"),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() {
        String::new()
    } else {
        format!("{}\n", parts.join(", "))
    }
}

fn groups<'d>(file: Option<&'d SourceFile>, diagnostic: &'d Diagnostic) -> Vec<Group<'d>> {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let mut group = level
        .primary_title(diagnostic.message.as_str())
        .id(diagnostic.code.id())
        .element(match file {
            // What is about the file as a whole points at no text in it.
            Some(file) if diagnostic.span.end > 0 => marked(file, diagnostic),
            _ => Element::from(Origin::path(diagnostic.file.as_str())),
        });
    let patch = file.zip(diagnostic.suggestion.as_ref());
    match (&diagnostic.help, patch) {
        (Some(help), None) => {
            group = group.element(Level::HELP.message(help.as_str()));
            vec![group]
        }
        (help, Some((file, suggestion))) => {
            let title = help.as_deref().unwrap_or("write instead");
            vec![
                group,
                Level::HELP
                    .secondary_title(title)
                    .element(patched(file, suggestion)),
            ]
        }
        (None, None) => vec![group],
    }
}

fn marked<'d>(file: &'d SourceFile, diagnostic: &'d Diagnostic) -> Element<'d> {
    let lines = Shown::of(file, &diagnostic.span);
    let mut annotation = AnnotationKind::Primary.span(lines.inside(&diagnostic.span));
    if !diagnostic.label.is_empty() {
        annotation = annotation.label(diagnostic.label.as_str());
    }
    Snippet::source(lines.text)
        .line_start(lines.first)
        .path(file.name.as_str())
        .annotation(annotation)
        .into()
}

fn patched<'d>(file: &'d SourceFile, suggestion: &'d Suggestion) -> Snippet<'d, Patch<'d>> {
    let lines = Shown::of(file, &suggestion.span);
    Snippet::source(lines.text)
        .line_start(lines.first)
        .path(file.name.as_str())
        .patch(Patch::new(
            lines.inside(&suggestion.span),
            suggestion.replacement.as_str(),
        ))
}

/// The lines of a file that a stretch of it stands on: a renderer given the whole file would look through all of it for
/// every diagnostic.
struct Shown<'f> {
    text: &'f str,
    /// Where they begin in the file.
    from: usize,
    /// The number of the first.
    first: usize,
}

impl<'f> Shown<'f> {
    fn of(file: &'f SourceFile, span: &Range<usize>) -> Self {
        let text = file.text.as_str();
        let before = text.get(..span.start).unwrap_or_default();
        let from = before.rfind('\n').map_or(0, |at| at + 1);
        let after = text.get(span.end..).unwrap_or_default();
        let to = after.find('\n').map_or(text.len(), |at| span.end + at + 1);
        Self {
            text: text.get(from..to).unwrap_or_default(),
            from,
            first: file.line_column(span.start).0,
        }
    }

    fn inside(&self, span: &Range<usize>) -> Range<usize> {
        span.start.saturating_sub(self.from)..span.end.saturating_sub(self.from)
    }
}

//! Diagnostics for people: the offending text underlined, with what to do.

use super::{Diagnostic, Severity, Suggestion};
use crate::source::{SourceFile, SourceFiles};
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Element, Group, Level, Origin, Patch, Renderer, Snippet};

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
    let mut annotation = AnnotationKind::Primary.span(diagnostic.span.clone());
    if !diagnostic.label.is_empty() {
        annotation = annotation.label(diagnostic.label.as_str());
    }
    Snippet::source(file.text.as_str())
        .path(file.name.as_str())
        .annotation(annotation)
        .into()
}

fn patched<'d>(file: &'d SourceFile, suggestion: &'d Suggestion) -> Snippet<'d, Patch<'d>> {
    Snippet::source(file.text.as_str())
        .path(file.name.as_str())
        .patch(Patch::new(
            suggestion.span.clone(),
            suggestion.replacement.as_str(),
        ))
}

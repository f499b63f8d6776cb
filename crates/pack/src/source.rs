//! The files of a pack as named texts, and locations in them.
//!
//! Leaves to others: finding and reading files (`rungwise-store`), and what they mean (`crate::check`).

use std::ops::Range;

/// Most bytes that one file of a pack may have.
pub const FILE_BYTES_MAX: usize = 1 << 20;

/// Most files that a pack may have, diaries included.
pub const FILES_MAX: usize = 512;

/// The files of one pack, in name order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SourceFiles {
    files: Vec<SourceFile>,
}

/// One file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceFile {
    /// Its name inside the pack's directory, with `/` between folders, such as `text/en.toml`.
    pub name: String,
    /// Its text.
    pub text: String,
}

impl SourceFiles {
    /// Takes (name, text) pairs in any order.
    #[must_use]
    pub fn new(files: Vec<(String, String)>) -> Self {
        let mut files: Vec<SourceFile> = files
            .into_iter()
            .map(|(name, text)| SourceFile { name, text })
            .collect();
        files.sort_by(|a, b| a.name.cmp(&b.name));
        Self { files }
    }

    /// Every file, in name order.
    #[must_use]
    pub fn files(&self) -> &[SourceFile] {
        &self.files
    }

    /// The file called `name`.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&SourceFile> {
        self.index(name).and_then(|at| self.files.get(at))
    }

    /// The same files with a stretch of one of them replaced; none where there is no such stretch.
    #[must_use]
    pub fn edited(&self, name: &str, bytes: Range<usize>, text: &str) -> Option<Self> {
        let mut edited = self.clone();
        let at = self.index(name)?;
        let file = edited.files.get_mut(at)?;
        file.text.get(bytes.clone())?;
        file.text.replace_range(bytes, text);
        Some(edited)
    }

    /// The files that the pack's meaning stands in: all but the diaries.
    #[must_use]
    pub fn without_diaries(&self) -> Self {
        let files = self.files.iter().filter(|file| !is_diary(&file.name));
        Self {
            files: files.cloned().collect(),
        }
    }

    pub(crate) fn index(&self, name: &str) -> Option<usize> {
        self.files.iter().position(|file| file.name == name)
    }
}

/// Whether a file holds a diary, which is not part of what the pack says.
#[must_use]
pub fn is_diary(name: &str) -> bool {
    name.starts_with("diaries/")
}

impl SourceFile {
    /// Line and column of a byte offset, both from 1; the column counts characters. Past the end: the end.
    #[must_use]
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..self.floor(offset)).unwrap_or_default();
        let line = before.bytes().filter(|&byte| byte == b'\n').count() + 1;
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        let column = before.get(line_start..).unwrap_or_default().chars().count() + 1;
        (line, column)
    }

    /// The nearest character boundary at or before `offset`.
    pub(crate) fn floor(&self, offset: usize) -> usize {
        let mut at = offset.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }
}

/// Where the lines of a file begin: for the lines and columns of many offsets.
pub(crate) struct Lines<'f> {
    pub(crate) file: &'f SourceFile,
    starts: Vec<usize>,
}

impl<'f> Lines<'f> {
    pub(crate) fn of(file: &'f SourceFile) -> Self {
        let ends = file.text.bytes().enumerate();
        let ends = ends.filter(|(_, byte)| *byte == b'\n');
        let starts = std::iter::once(0).chain(ends.map(|(at, _)| at + 1));
        Self {
            file,
            starts: starts.collect(),
        }
    }

    /// The line of a byte offset, from 1.
    pub(crate) fn line(&self, offset: usize) -> usize {
        self.starts.partition_point(|start| *start <= offset)
    }

    /// As [`SourceFile::line_column`].
    pub(crate) fn line_column(&self, offset: usize) -> (usize, usize) {
        let at = self.file.floor(offset);
        let line = self.starts.partition_point(|start| *start <= at);
        let start = self.starts.get(line.saturating_sub(1));
        let before = self.file.text.get(start.copied().unwrap_or(0)..at);
        (line, before.unwrap_or_default().chars().count() + 1)
    }
}

/// A stretch of one file.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(crate) struct Location {
    /// Index into [`SourceFiles::files`].
    pub(crate) file: usize,
    /// First byte.
    pub(crate) start: usize,
    /// One past the last byte.
    pub(crate) end: usize,
}

impl Location {
    pub(crate) const fn new(file: usize, span: &Range<usize>) -> Self {
        Self {
            file,
            start: span.start,
            end: span.end,
        }
    }
}

/// A value with where it stands.
#[derive(Clone, Debug)]
pub(crate) struct At<T> {
    pub(crate) value: T,
    pub(crate) at: Location,
}

/// A TOML string with where it stands, so that a part of its text can be pointed at in the file.
#[derive(Clone, Debug)]
pub(crate) struct LocatedText {
    pub(crate) text: String,
    pub(crate) at: Location,
    /// Bytes of opening quotes before the text; none where the string has escapes and cannot be mapped byte by byte.
    quote: Option<usize>,
}

impl LocatedText {
    /// `raw` is the string as it stands in the file, quotes included.
    pub(crate) fn new(text: &str, at: Location, raw: &str) -> Self {
        let quote = raw.find(text).filter(|&from| {
            // The text stands verbatim between its quotes (and the line break that TOML drops after opening ones).
            raw.get(..from).is_some_and(|opening| {
                opening
                    .chars()
                    .all(|c| matches!(c, '"' | '\'' | '\n' | '\r'))
            })
        });
        Self {
            text: text.to_owned(),
            at,
            quote,
        }
    }

    /// Whether a part of it can be pointed at (and edited) in the file.
    pub(crate) const fn is_mapped(&self) -> bool {
        self.quote.is_some()
    }

    /// Where a byte range of the text stands in the file; the whole string where it has escapes.
    pub(crate) fn part(&self, range: &Range<usize>) -> Location {
        match self.quote {
            Some(quote) => Location {
                file: self.at.file,
                start: self.at.start + quote + range.start,
                end: self.at.start + quote + range.end,
            },
            None => self.at,
        }
    }
}

#[cfg(test)]
#[path = "source_tests.rs"]
mod tests;

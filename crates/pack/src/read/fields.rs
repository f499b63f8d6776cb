//! A TOML table being read: typed values by key, with everything wrong or left over reported.
//!
//! Leaves to others: what the keys mean.

use crate::decimal::{self, DecimalError};
use crate::diagnostic::{Code, Findings, Note};
use crate::quantity::Milli;
use crate::source::{At, LocatedText, Location};
use crate::suggest::nearest;
use std::ops::RangeInclusive;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What reading one file needs: where to report, and the file's own text.
pub(crate) struct Walk<'w, 'f> {
    pub(crate) findings: &'w mut Findings<'f>,
    pub(crate) file: usize,
    pub(crate) source: &'f str,
}

impl Walk<'_, '_> {
    pub(crate) fn locate<T>(&self, value: &Spanned<T>) -> Location {
        Location::new(self.file, &value.span())
    }

    pub(crate) fn wrong_type(&mut self, value: &Spanned<DeValue<'_>>, what: &str, wanted: &str) {
        let at = self.locate(value);
        let found = value.get_ref().type_str();
        self.findings.add(
            Note::new(Code::WrongType, at, format!("{what} must be {wanted}"))
                .label(format!("this is {} {found}", article(found))),
        );
    }

    /// A string with its place.
    pub(crate) fn text(&mut self, value: &Spanned<DeValue<'_>>, what: &str) -> Option<LocatedText> {
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_type(value, what, "a string in quotes");
            return None;
        };
        let raw = self.source.get(value.span()).unwrap_or_default();
        Some(LocatedText::new(text, self.locate(value), raw))
    }

    /// A number, exactly as its digits say.
    pub(crate) fn number(&mut self, value: &Spanned<DeValue<'_>>, what: &str) -> Option<Milli> {
        let digits = match value.get_ref() {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            DeValue::Float(float) => float.as_str(),
            _ => {
                self.wrong_type(value, what, "a plain decimal number");
                return None;
            }
        };
        match decimal::parse(digits) {
            Ok(number) => Some(number),
            Err(error) => {
                let at = self.locate(value);
                self.findings.add(not_exact(at, what, error));
                None
            }
        }
    }

    /// A whole number of something, inside `bounds`.
    pub(crate) fn count(
        &mut self,
        value: &Spanned<DeValue<'_>>,
        what: &str,
        bounds: &RangeInclusive<u32>,
    ) -> Option<u32> {
        let number = self.number(value, what)?;
        let whole = (number.0 % 1000 == 0).then_some(number.0 / 1000);
        let count = whole
            .and_then(|whole| u32::try_from(whole).ok())
            .filter(|n| bounds.contains(n));
        if count.is_none() {
            let at = self.locate(value);
            let (least, most) = (bounds.start(), bounds.end());
            self.findings.add(
                Note::new(Code::OutOfBounds, at, format!("{what} cannot be {number}"))
                    .label(format!("a whole number from {least} to {most}")),
            );
        }
        count
    }

    /// Opens a table.
    pub(crate) fn fields<'t>(
        &mut self,
        value: &'t Spanned<DeValue<'t>>,
        what: &'static str,
    ) -> Option<Fields<'t>> {
        if let Some(table) = value.get_ref().as_table() {
            return Some(Fields {
                at: self.locate(value),
                what,
                table,
                asked: Vec::new(),
            });
        }
        self.wrong_type(value, what, "a table");
        None
    }
}

pub(crate) fn not_exact(at: Location, what: &str, error: DecimalError) -> Note {
    let note = Note::new(Code::NotExact, at, format!("{what} is {error}"));
    match error {
        DecimalError::TooFine => {
            note.help("numbers are exact thousandths; write at most three digits after the point")
        }
        DecimalError::Malformed => note.help("write digits with at most one point, such as `2.5`"),
        DecimalError::TooLarge => note,
    }
}

fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    }
}

/// One table.
pub(crate) struct Fields<'t> {
    /// Where it stands: its header, or the whole of an inline table.
    pub(crate) at: Location,
    what: &'static str,
    table: &'t DeTable<'t>,
    /// Every key that was asked for: what is left over at the end is not known.
    asked: Vec<&'static str>,
}

impl<'t> Fields<'t> {
    /// The whole of a file.
    pub(crate) fn of_file(file: usize, what: &'static str, table: &'t DeTable<'t>) -> Self {
        Self {
            at: Location {
                file,
                start: 0,
                end: 0,
            },
            what,
            table,
            asked: Vec::new(),
        }
    }

    /// The value under `key`, where there is one.
    pub(crate) fn get(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        self.table.get(key)
    }

    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The value under `key`; reported where there is none.
    pub(crate) fn need(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
    ) -> Option<&'t Spanned<DeValue<'t>>> {
        let value = self.get(key);
        if value.is_none() {
            let note = Note::new(
                Code::MissingKey,
                self.at,
                format!("{} has no `{key}`", self.what),
            );
            // A near key that is there is reported as unknown; say it here too, since both are one mistake.
            let near = nearest(key, self.table.iter().map(|(key, _)| &**key.get_ref()));
            walk.findings
                .add(match near.filter(|near| !self.asked.contains(near)) {
                    Some(near) => note.help(format!("is `{near}` meant to be `{key}`?")),
                    None => note.label(format!("`{key}` is missing")),
                });
        }
        value
    }

    pub(crate) fn text(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
    ) -> Option<LocatedText> {
        let value = self.get(key)?;
        walk.text(value, &quoted(key))
    }

    /// A string that must be given and say something.
    pub(crate) fn need_text(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
    ) -> Option<LocatedText> {
        let value = self.need(walk, key)?;
        let text = walk.text(value, &quoted(key))?;
        if text.text.trim().is_empty() {
            walk.findings.add(Note::new(
                Code::Empty,
                text.at,
                format!("`{key}` says nothing"),
            ));
            return None;
        }
        Some(text)
    }

    pub(crate) fn flag(&mut self, walk: &mut Walk<'_, '_>, key: &'static str) -> Option<bool> {
        let value = self.get(key)?;
        if let Some(flag) = value.get_ref().as_bool() {
            return Some(flag);
        }
        walk.wrong_type(value, &quoted(key), "`true` or `false`");
        None
    }

    pub(crate) fn count(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
        bounds: &RangeInclusive<u32>,
    ) -> Option<u32> {
        let value = self.get(key)?;
        walk.count(value, &quoted(key), bounds)
    }

    pub(crate) fn need_count(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
        bounds: &RangeInclusive<u32>,
    ) -> Option<u32> {
        let value = self.need(walk, key)?;
        walk.count(value, &quoted(key), bounds)
    }

    pub(crate) fn need_number(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
    ) -> Option<At<Milli>> {
        let value = self.need(walk, key)?;
        let number = walk.number(value, &quoted(key))?;
        Some(At {
            value: number,
            at: walk.locate(value),
        })
    }

    /// One of some fixed words.
    pub(crate) fn word<T: Copy>(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
        words: &[(&'static str, T)],
    ) -> Option<At<T>> {
        let text = self.text(walk, key)?;
        let value = word(walk, &text, &quoted(key), words)?;
        Some(At { value, at: text.at })
    }

    /// The same, where it must be given.
    pub(crate) fn need_word<T: Copy>(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
        words: &[(&'static str, T)],
    ) -> Option<At<T>> {
        self.need(walk, key)?;
        self.word(walk, key, words)
    }

    /// A list; nothing where the key is not given.
    pub(crate) fn list(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
    ) -> Vec<&'t Spanned<DeValue<'t>>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        match value.get_ref().as_array() {
            Some(array) => array.iter().collect(),
            None => {
                walk.wrong_type(value, &quoted(key), "a list in brackets");
                Vec::new()
            }
        }
    }

    /// A list of strings.
    pub(crate) fn texts(&mut self, walk: &mut Walk<'_, '_>, key: &'static str) -> Vec<LocatedText> {
        let list = self.list(walk, key);
        let what = format!("each of `{key}`");
        list.into_iter()
            .filter_map(|value| walk.text(value, &what))
            .collect()
    }

    /// A list of tables, such as `[[key]]` headers make.
    pub(crate) fn tables(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
        what: &'static str,
    ) -> Vec<Fields<'t>> {
        if let Some(value) = self.get(key)
            && value.get_ref().is_table()
        {
            let at = walk.locate(value);
            walk.findings.add(
                Note::new(
                    Code::WrongType,
                    at,
                    format!("`{key}` may stand several times"),
                )
                .help(format!("write its header with two brackets: `[[{key}]]`")),
            );
            return Vec::new();
        }
        let list = self.list(walk, key);
        list.into_iter()
            .filter_map(|value| walk.fields(value, what))
            .collect()
    }

    /// A table of its own.
    pub(crate) fn table(
        &mut self,
        walk: &mut Walk<'_, '_>,
        key: &'static str,
        what: &'static str,
    ) -> Option<Fields<'t>> {
        let value = self.get(key)?;
        walk.fields(value, what)
    }

    /// Every entry, for tables whose keys are the pack's own, in file order.
    pub(crate) fn entries(
        &self,
    ) -> Vec<(
        &'t Spanned<std::borrow::Cow<'t, str>>,
        &'t Spanned<DeValue<'t>>,
    )> {
        let mut entries: Vec<_> = self.table.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        entries
    }

    /// Reports every key that nobody asked for.
    pub(crate) fn finish(self, walk: &mut Walk<'_, '_>) {
        for (key, _) in self.entries() {
            let name: &str = key.get_ref();
            if walk.findings.is_full() {
                return;
            }
            if !self.asked.contains(&name) {
                let at = walk.locate(key);
                let near = nearest(name, self.asked.iter().copied());
                let note = Note::new(
                    Code::UnknownKey,
                    at,
                    format!("{} has no key `{name}`", self.what),
                )
                .label("not known here");
                let note = if near.is_some() {
                    note.did_you_mean(near)
                } else {
                    note.help(format!("its keys are {}", listed(&self.asked)))
                };
                walk.findings.add(note);
            }
        }
    }
}

/// One of some fixed words, from a text.
pub(crate) fn word<T: Copy>(
    walk: &mut Walk<'_, '_>,
    text: &LocatedText,
    what: &str,
    words: &[(&'static str, T)],
) -> Option<T> {
    if let Some((_, value)) = words.iter().find(|(word, _)| *word == text.text) {
        return Some(*value);
    }
    let near = nearest(&text.text, words.iter().map(|(word, _)| *word));
    let all: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
    let note = Note::new(
        Code::UnknownWord,
        text.at,
        format!("{what} cannot be `{}`", text.text),
    )
    .label(format!("one of {}", listed(&all)));
    walk.findings.add(note.did_you_mean_text(near));
    None
}

fn quoted(key: &str) -> String {
    format!("`{key}`")
}

/// `a`, `b` and `c`
pub(crate) fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => format!("`{one}`"),
        [most @ .., last] => {
            let most: Vec<String> = most.iter().map(|word| format!("`{word}`")).collect();
            format!("{} and `{last}`", most.join(", "))
        }
    }
}

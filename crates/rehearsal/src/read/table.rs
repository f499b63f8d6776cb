//! A TOML table of a diary being read: typed values by key, everything wrong or left over reported where it stands.
//!
//! Leaves to others: what the keys mean.

use jiff::civil::Date;
use rungwise_pack::decimal;
use rungwise_pack::diagnostic::{Code, DIAGNOSTICS_MAX, Diagnostic, Suggestion};
use rungwise_pack::model::{CheckedPack, RowValue};
use rungwise_pack::source::SourceFile;
use rungwise_pack::suggest::nearest;
use std::borrow::Cow;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

pub(super) type Value<'t> = Spanned<DeValue<'t>>;
pub(super) type Name<'t> = Spanned<Cow<'t, str>>;

/// Collects what is wrong with one file.
#[derive(Debug)]
pub(super) struct Reader<'s> {
    pub(super) pack: &'s CheckedPack,
    file: &'s SourceFile,
    found: Vec<Diagnostic>,
}

impl<'s> Reader<'s> {
    pub(super) const fn new(pack: &'s CheckedPack, file: &'s SourceFile) -> Self {
        Self {
            pack,
            file,
            found: Vec::new(),
        }
    }

    pub(super) fn report(
        &mut self,
        code: Code,
        span: Range<usize>,
        message: String,
        help: Option<String>,
    ) {
        if self.found.len() >= DIAGNOSTICS_MAX {
            return;
        }
        let (line, column) = self.file.line_column(span.start);
        self.found.push(Diagnostic {
            code,
            severity: code.severity(),
            message,
            file: self.file.name.clone(),
            span,
            line,
            column,
            label: String::new(),
            help,
            suggestion: None,
        });
    }

    /// A name that nothing goes by, with the nearest of those that do.
    pub(super) fn unknown<'n>(
        &mut self,
        span: Range<usize>,
        what: &str,
        name: &str,
        known: impl IntoIterator<Item = &'n str>,
    ) {
        if self.found.len() >= DIAGNOSTICS_MAX {
            return;
        }
        let near = nearest(name, known);
        let help = near.map(|near| format!("did you mean `{near}`?"));
        self.report(
            Code::UnknownName,
            span.clone(),
            format!("no {what} is called `{name}`"),
            help,
        );
        let quoted = self
            .file
            .text
            .get(span.clone())
            .is_some_and(|text| text.starts_with('"'));
        if let (Some(near), Some(last)) = (near, self.found.last_mut()) {
            let replacement = if quoted {
                format!("\"{near}\"")
            } else {
                near.to_owned()
            };
            last.suggestion = Some(Suggestion { span, replacement });
        }
    }

    pub(super) fn wrong_type(&mut self, value: &Value<'_>, what: &str, wanted: &str) {
        let found = value.get_ref().type_str();
        self.report(
            Code::WrongType,
            value.span(),
            format!("{what} must be {wanted}, not a {found}"),
            None,
        );
    }

    pub(super) fn line_of(&self, offset: usize) -> usize {
        self.file.line_column(offset).0
    }

    pub(super) const fn has_found(&self) -> bool {
        !self.found.is_empty()
    }

    /// Everything found, in the order in which it stands.
    pub(super) fn finish(mut self) -> Vec<Diagnostic> {
        self.found
            .sort_by_key(|diagnostic| (diagnostic.span.start, diagnostic.span.end));
        self.found.dedup();
        self.found
    }

    pub(super) fn text(&mut self, value: &Value<'_>, what: &str) -> Option<String> {
        let text = value.get_ref().as_str();
        if text.is_none() {
            self.wrong_type(value, what, "a string in quotes");
        }
        text.map(str::to_owned)
    }

    pub(super) fn day(&mut self, value: &Value<'_>, what: &str) -> Option<Date> {
        let text = self.text(value, what)?;
        // The parser also takes times of day after the date; a civil date is ten characters.
        let date = text
            .parse::<Date>()
            .ok()
            .filter(|_| text.len() == "2026-01-05".len());
        if date.is_none() {
            let help = Some("write year, month and day, such as `2026-01-05`".to_owned());
            self.report(
                Code::WrongType,
                value.span(),
                format!("{what} `{text}` is not a date"),
                help,
            );
        }
        date
    }

    pub(super) fn number(
        &mut self,
        value: &Value<'_>,
        what: &str,
        bounds: &RangeInclusive<u32>,
    ) -> Option<u32> {
        let digits = match value.get_ref() {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            _ => {
                self.wrong_type(value, what, "a whole number");
                return None;
            }
        };
        let number = digits.parse().ok().filter(|number| bounds.contains(number));
        if number.is_none() {
            let help = Some(format!(
                "a whole number from {} to {}",
                bounds.start(),
                bounds.end()
            ));
            self.report(
                Code::OutOfBounds,
                value.span(),
                format!("{what} cannot be {digits}"),
                help,
            );
        }
        number
    }

    /// A value of a ladder's row.
    pub(super) fn row_value(&mut self, value: &Value<'_>, what: &str) -> Option<RowValue> {
        let digits = match value.get_ref() {
            DeValue::String(label) => return Some(RowValue::Label((**label).into())),
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            DeValue::Float(float) => float.as_str(),
            _ => {
                self.wrong_type(value, what, "a number or a label");
                return None;
            }
        };
        match decimal::parse(digits) {
            Ok(number) => Some(RowValue::Number(number)),
            Err(why) => {
                self.report(
                    Code::NotExact,
                    value.span(),
                    format!("{what} is {why}"),
                    None,
                );
                None
            }
        }
    }

    /// One of some fixed words.
    pub(super) fn word<T: Copy>(
        &mut self,
        value: &Value<'_>,
        what: &str,
        words: &[(&str, T)],
    ) -> Option<T> {
        let text = self.text(value, what)?;
        if let Some((_, meant)) = words.iter().find(|(word, _)| *word == text) {
            return Some(*meant);
        }
        let all: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        let help = match nearest(&text, all.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("one of `{}`", all.join("`, `")),
        };
        self.report(
            Code::UnknownWord,
            value.span(),
            format!("{what} cannot be `{text}`"),
            Some(help),
        );
        None
    }

    pub(super) fn open<'t>(
        &mut self,
        value: &'t Value<'t>,
        what: &'static str,
    ) -> Option<Table<'t>> {
        if let Some(table) = value.get_ref().as_table() {
            return Some(Table {
                span: value.span(),
                what,
                table,
                asked: Vec::new(),
            });
        }
        self.wrong_type(value, what, "a table");
        None
    }
}

/// One table.
#[derive(Debug)]
pub(super) struct Table<'t> {
    /// Where it stands: its header, or the whole of an inline table.
    pub(super) span: Range<usize>,
    what: &'static str,
    table: &'t DeTable<'t>,
    asked: Vec<&'static str>,
}

impl<'t> Table<'t> {
    pub(super) const fn of_file(table: &'t DeTable<'t>) -> Self {
        Self {
            span: 0..0,
            what: "the diary",
            table,
            asked: Vec::new(),
        }
    }

    pub(super) fn get(&mut self, key: &'static str) -> Option<&'t Value<'t>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        self.table.get(key)
    }

    pub(super) fn need(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
    ) -> Option<&'t Value<'t>> {
        let value = self.get(key);
        if value.is_none() {
            reader.report(
                Code::MissingKey,
                self.span.clone(),
                format!("{} has no `{key}`", self.what),
                None,
            );
        }
        value
    }

    pub(super) fn text(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<String> {
        let value = self.get(key)?;
        reader.text(value, &format!("`{key}`"))
    }

    pub(super) fn need_text(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
    ) -> Option<String> {
        let value = self.need(reader, key)?;
        let text = reader.text(value, &format!("`{key}`"))?;
        if text.trim().is_empty() {
            reader.report(
                Code::Empty,
                value.span(),
                format!("`{key}` says nothing"),
                None,
            );
            return None;
        }
        Some(text)
    }

    pub(super) fn date(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<Date> {
        let value = self.get(key)?;
        reader.day(value, &format!("`{key}`"))
    }

    pub(super) fn need_date(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<Date> {
        self.need(reader, key)?;
        self.date(reader, key)
    }

    pub(super) fn flag(&mut self, reader: &mut Reader<'_>, key: &'static str) -> Option<bool> {
        let value = self.get(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            reader.wrong_type(value, &format!("`{key}`"), "`true` or `false`");
        }
        flag
    }

    pub(super) fn number(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
        bounds: &RangeInclusive<u32>,
    ) -> Option<u32> {
        let value = self.get(key)?;
        reader.number(value, &format!("`{key}`"), bounds)
    }

    pub(super) fn word<T: Copy>(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
        words: &[(&str, T)],
    ) -> Option<T> {
        let value = self.get(key)?;
        reader.word(value, &format!("`{key}`"), words)
    }

    pub(super) fn list(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
    ) -> Vec<&'t Value<'t>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        if let Some(list) = value.get_ref().as_array() {
            return list.iter().collect();
        }
        reader.wrong_type(value, &format!("`{key}`"), "a list in brackets");
        Vec::new()
    }

    /// A list of strings with where each stands.
    pub(super) fn texts(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
    ) -> Vec<(String, Range<usize>)> {
        let what = format!("each of `{key}`");
        let list = self.list(reader, key);
        list.into_iter()
            .filter_map(|value| Some((reader.text(value, &what)?, value.span())))
            .collect()
    }

    pub(super) fn tables(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
        what: &'static str,
    ) -> Vec<Table<'t>> {
        let list = self.list(reader, key);
        list.into_iter()
            .filter_map(|value| reader.open(value, what))
            .collect()
    }

    pub(super) fn table(
        &mut self,
        reader: &mut Reader<'_>,
        key: &'static str,
        what: &'static str,
    ) -> Option<Table<'t>> {
        let value = self.get(key)?;
        reader.open(value, what)
    }

    /// Every entry, in the order in which it stands, for tables whose keys are the pack's own.
    pub(super) fn entries(&self) -> Vec<(&'t Name<'t>, &'t Value<'t>)> {
        let mut entries: Vec<_> = self.table.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        entries
    }

    /// Reports every key that nobody asked for.
    pub(super) fn finish(self, reader: &mut Reader<'_>) {
        for (key, _) in self.entries() {
            let name: &str = key.get_ref();
            if !self.asked.contains(&name) {
                let help = match nearest(name, self.asked.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("its keys are `{}`", self.asked.join("`, `")),
                };
                let message = format!("{} has no key `{name}`", self.what);
                reader.report(Code::UnknownKey, key.span(), message, Some(help));
            }
        }
    }
}

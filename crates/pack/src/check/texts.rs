//! Texts: every language that the pack declares has every text, and nothing is written that nothing uses.

use crate::diagnostic::{Code, Findings, Note};
use crate::quantity::Key;
use crate::read::draft::{PackDraft, TextDraft};
use crate::read::exercises::near_text;
use crate::source::Location;
use std::collections::{BTreeMap, BTreeSet};

/// Keys that the sheet, the questions and the explanation use where they are there; they begin with one of these.
const OPTIONAL: [&str; 9] = [
    "ask.", "dose.", "label.", "line.", "measure.", "outcome.", "phase.", "sheet.", "why.",
];

/// The texts of every declared language, and which of them are used.
#[derive(Debug, Default)]
pub(super) struct Texts {
    by_language: BTreeMap<String, TextDraft>,
    used: BTreeSet<String>,
}

impl Texts {
    /// Holds the declared languages against the files that are there.
    pub(super) fn gather(draft: &PackDraft, findings: &mut Findings<'_>) -> Self {
        let mut texts = Self {
            by_language: draft.texts.clone(),
            used: BTreeSet::new(),
        };
        let Some(head) = &draft.head else {
            return texts;
        };
        for language in &head.languages {
            if !draft.texts.contains_key(&language.text) {
                let message = format!("there is no `text/{}.toml`", language.text);
                findings
                    .add(Note::new(Code::Language, language.at, message).label("declared here"));
            }
        }
        if let Some(language) = &head.language
            && !head
                .languages
                .iter()
                .any(|declared| declared.text == language.text)
        {
            let message = format!(
                "the pack's own language `{}` is not among `languages`",
                language.text
            );
            findings.add(Note::new(Code::Language, language.at, message));
        }
        texts.by_language.retain(|language, draft| {
            let declared = head
                .languages
                .iter()
                .any(|declared| declared.text == *language);
            if !declared {
                let at = Location {
                    file: draft.file,
                    start: 0,
                    end: 0,
                };
                let message = format!("the language `{language}` is not declared");
                findings.add(
                    Note::new(Code::Language, at, message)
                        .help("add it to `languages` in pack.toml"),
                );
            }
            declared
        });
        texts
    }

    /// Says that `key` is used, at a place, and reports the languages that lack it.
    pub(super) fn need(&mut self, key: &str, at: Location, findings: &mut Findings<'_>) {
        self.used.insert(key.to_owned());
        for (language, texts) in &self.by_language {
            if !texts.texts.contains_key(key) {
                let message = format!("`text/{language}.toml` has no text `{key}`");
                let note = Note::new(Code::TextMissing, at, message).label("used here");
                findings.add(match near_text(texts, key) {
                    Some(near) => note.help(format!("did you mean `{near}`?")),
                    None => note.help(format!("add `\"{key}\" = \"…\"` to it")),
                });
            }
        }
    }

    /// Reports what is left over and what only some languages have, and hands the texts on.
    pub(super) fn finish(
        self,
        findings: &mut Findings<'_>,
    ) -> BTreeMap<Key, BTreeMap<Key, String>> {
        let everywhere: BTreeSet<&str> = self
            .by_language
            .values()
            .flat_map(|texts| texts.texts.keys().map(String::as_str))
            .filter(|key| OPTIONAL.iter().any(|prefix| key.starts_with(prefix)))
            .collect();
        for (language, texts) in &self.by_language {
            for (key, text) in &texts.texts {
                if !self.used.contains(key) && !everywhere.contains(key.as_str()) {
                    let message = format!("nothing uses the text `{key}`");
                    findings.add(Note::new(Code::TextUnused, text.at, message));
                }
            }
            for key in everywhere.iter().filter(|key| !self.used.contains(**key)) {
                if !texts.texts.contains_key(*key) {
                    let at = Location {
                        file: texts.file,
                        start: 0,
                        end: 0,
                    };
                    let message = format!(
                        "`text/{language}.toml` has no text `{key}`, which another language has"
                    );
                    findings.add(Note::new(Code::TextMissing, at, message));
                }
            }
        }
        let texts = self.by_language.into_iter().map(|(language, draft)| {
            let texts = draft
                .texts
                .into_iter()
                .map(|(key, text)| (key.into(), text.value));
            (language.into(), texts.collect())
        });
        texts.collect()
    }
}

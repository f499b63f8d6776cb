//! Names declared once, and looked up with a suggestion.

use crate::diagnostic::{Code, Findings, Note};
use crate::model::{Grounds, MeasureIx};
use crate::quantity::Key;
use crate::read::draft::{GroundsDraft, PackDraft};
use crate::source::{At, LocatedText, Location};
use crate::suggest::nearest;
use std::collections::{BTreeMap, BTreeSet};

/// What may be looked up by name while the rest is resolved.
#[derive(Debug, Default)]
pub(super) struct Known {
    pub(super) measures: Vec<Key>,
    /// Numbered measures by the name that they share.
    numbered: BTreeMap<String, Vec<MeasureIx>>,
    /// Measures that are declared and could not be read.
    unread: Vec<String>,
    pub(super) exercises: Vec<Key>,
    pub(super) events: Vec<Key>,
    pub(super) equipment: Vec<Key>,
    /// Whether something says how tall the person is.
    pub(super) height: bool,
    sources: BTreeMap<String, At<String>>,
    used_sources: BTreeSet<Key>,
}

impl Known {
    /// Gathers every declared name; a name declared twice is reported where it is the second time.
    pub(super) fn gather(draft: &PackDraft, findings: &mut Findings<'_>) -> Self {
        let mut known = Self::default();
        let mut spoken = Taken::new("a measure or an exercise");
        for (measure, index) in draft.measures.iter().zip(0..) {
            spoken.take(&measure.name, findings);
            if let Some(shared) = &measure.numbered {
                if !known.numbered.contains_key(&shared.text) {
                    spoken.take(shared, findings);
                }
                let of = known.numbered.entry(shared.text.clone()).or_default();
                of.push(MeasureIx(index));
            }
            known.measures.push(measure.name.text.as_str().into());
        }
        known.unread.clone_from(&draft.unread);
        let mut lines = Taken::new("a line");
        for line in &draft.lines {
            lines.take(&line.key, findings);
            for exercise in &line.exercises {
                spoken.take(&exercise.key, findings);
                known.exercises.push(exercise.key.text.as_str().into());
            }
        }
        for line in &draft.lines {
            for exercise in &line.exercises {
                for was in &exercise.was {
                    spoken.take(was, findings);
                }
            }
        }
        let mut phases = Taken::new("a phase");
        for phase in &draft.phases {
            phases.take(&phase.key, findings);
        }
        rule_keys(draft, findings);
        if let Some(head) = &draft.head {
            known.events = distinct(&head.events, "an event", findings);
            known.equipment = distinct(&head.equipment, "a piece of equipment", findings);
            known.height = head.height.is_some();
            known.sources.clone_from(&head.sources);
        }
        known
    }

    /// Looks a measure up.
    pub(super) fn measure(
        &self,
        name: &LocatedText,
        findings: &mut Findings<'_>,
    ) -> Option<MeasureIx> {
        if self.unread.contains(&name.text) {
            return None;
        }
        let at = find(&self.measures, name, "a measure", findings)?;
        u16::try_from(at).ok().map(MeasureIx)
    }

    /// The numbered measures that share a name.
    pub(super) fn numbered(&self, name: &str) -> Option<&[MeasureIx]> {
        self.numbered.get(name).map(Vec::as_slice)
    }

    /// Whether a text speaks of a measure that could not be read.
    pub(super) fn speaks_of_unread(&self, text: &str) -> bool {
        self.unread.iter().any(|name| text.contains(name.as_str()))
    }

    /// Marks a source as used, or reports that there is none of that name.
    pub(super) fn vouch(&mut self, draft: &GroundsDraft, findings: &mut Findings<'_>) -> Grounds {
        if let Grounds::Source { key, .. } = &draft.grounds {
            if self.sources.contains_key(&**key) {
                self.used_sources.insert(key.clone());
            } else {
                let near = nearest(key, self.sources.keys().map(String::as_str));
                let note = Note::new(
                    Code::UnknownSource,
                    draft.at,
                    format!("the pack lists no source `{key}`"),
                );
                findings.add(match near {
                    Some(_) => note.did_you_mean_text(near),
                    None => note.help("add it to `[sources]` in pack.toml"),
                });
            }
        }
        draft.grounds.clone()
    }

    /// Warns of sources that nothing names.
    pub(super) fn unused_sources(&self, findings: &mut Findings<'_>) {
        for (key, source) in &self.sources {
            if !self.used_sources.contains(key.as_str()) {
                let note = Note::new(
                    Code::SourceUnused,
                    source.at,
                    format!("nothing names the source `{key}`"),
                );
                findings.add(note.help("name it where it vouches for a number, or leave it out"));
            }
        }
    }
}

/// The place of `name` in `list`; reported where it is not there.
pub(super) fn find(
    list: &[Key],
    name: &LocatedText,
    what: &str,
    findings: &mut Findings<'_>,
) -> Option<usize> {
    let found = list.iter().position(|known| **known == *name.text);
    if found.is_none() {
        let near = nearest(&name.text, list.iter().map(|known| &**known));
        let note = Note::new(
            Code::UnknownName,
            name.at,
            format!("`{}` is not {what} of this pack", name.text),
        );
        findings.add(note.label("not declared").did_you_mean_text(near));
    }
    found
}

/// Rules and limits share one space of keys: an explanation names either by its key alone.
fn rule_keys(draft: &PackDraft, findings: &mut Findings<'_>) {
    let mut taken = Taken::new("a rule or a limit");
    let rules = draft.rules().map(|rule| &rule.key);
    let limits = draft.limits().map(|limit| &limit.key);
    for key in rules.chain(limits) {
        taken.take(key, findings);
    }
}

fn distinct(list: &[LocatedText], what: &'static str, findings: &mut Findings<'_>) -> Vec<Key> {
    let mut taken = Taken::new(what);
    for name in list {
        taken.take(name, findings);
    }
    list.iter().map(|name| name.text.as_str().into()).collect()
}

/// Names of one kind.
pub(super) struct Taken {
    what: &'static str,
    names: BTreeMap<String, Location>,
}

impl Taken {
    pub(super) const fn new(what: &'static str) -> Self {
        Self {
            what,
            names: BTreeMap::new(),
        }
    }

    pub(super) fn take(&mut self, name: &LocatedText, findings: &mut Findings<'_>) {
        if self.names.contains_key(&name.text) {
            let message = format!("`{}` is already the name of {}", name.text, self.what);
            findings.add(Note::new(Code::Twice, name.at, message).label("the second one"));
        } else {
            self.names.insert(name.text.clone(), name.at);
        }
    }
}

//! What stands at the head of two packs: scope, cautions, sign-off, lay-off, and the texts.

use super::rules::list;
use super::{Both, Effect};
use crate::model::{LayOffRow, Outcome, Pack};
use crate::quantity::Key;

impl Both<'_> {
    pub(super) fn heads(&mut self) {
        let (old, new) = (self.old, self.new);
        self.value(Effect::Unclear, "pack", (&old.id, &new.id), |id| {
            id.to_string()
        });
        for (of, was, is) in [
            ("title", &old.title, &new.title),
            ("scope", &old.scope, &new.scope),
        ] {
            self.value(Effect::Neither, of, (was, is), String::clone);
        }
        self.value(
            Effect::Neither,
            "cautions",
            (&old.cautions, &new.cautions),
            |keys| list(keys),
        );
        self.value(
            Effect::Neither,
            "days until a look is due",
            (&old.review_days, &new.review_days),
            u32::to_string,
        );
        let height = |pack: &Pack| {
            let measure = pack.height.and_then(|ix| pack.measures.get(ix.at()));
            measure.map_or_else(|| "none".to_owned(), |one| one.name.to_string())
        };
        let (was, is) = (height(old), height(new));
        self.value(
            Effect::Unclear,
            "measure of standing height",
            (&was, &is),
            String::clone,
        );
        self.sign_off();
        self.lay_off(&old.lay_off, &new.lay_off);
        self.value(
            Effect::Unclear,
            "events",
            (&old.events, &new.events),
            |keys| list(keys),
        );
        self.texts();
    }

    fn sign_off(&mut self) {
        let (was, is) = (&self.old.sign_off, &self.new.sign_off);
        let all_kept = was.iter().all(|one| is.contains(one));
        let none_new = is.iter().all(|one| was.contains(one));
        let effect = match (all_kept, none_new) {
            (true, true) => return,
            (true, false) => Effect::Tightens,
            (false, true) => Effect::Loosens,
            (false, false) => Effect::Unclear,
        };
        let said = |outcomes: &[Outcome]| {
            let words: Vec<&str> = outcomes.iter().map(|one| one.word()).collect();
            Some(if words.is_empty() {
                "nothing".to_owned()
            } else {
                words.join(", ")
            })
        };
        let (before, after) = (said(was), said(is));
        self.add(effect, "outcomes that need a clinician", before, after);
    }

    /// A gap that reaches a row holds, and eases what the row gives beyond the one before it. So a table is tighter where
    /// it has as many rows, each reached no later and giving no less beyond the one before.
    fn lay_off(&mut self, was: &[LayOffRow], is: &[LayOffRow]) {
        let said = |rows: &[LayOffRow]| {
            let rows: Vec<String> = rows
                .iter()
                .map(|row| format!("{} steps from {} days", row.steps, row.days))
                .collect();
            Some(if rows.is_empty() {
                "no table".to_owned()
            } else {
                rows.join(", ")
            })
        };
        let (old, new) = (beyond(was), beyond(is));
        let tighter = |old: &[(u32, u16)], new: &[(u32, u16)]| {
            let mut rows = old.iter().zip(new);
            old.len() == new.len() && rows.all(|(old, new)| new.0 <= old.0 && new.1 >= old.1)
        };
        let effect = match (tighter(&old, &new), tighter(&new, &old)) {
            (true, true) => return,
            (true, false) => Effect::Tightens,
            (false, true) => Effect::Loosens,
            (false, false) => Effect::Unclear,
        };
        self.add(effect, "lay-off table", said(was), said(is));
    }

    fn texts(&mut self) {
        let (old, new) = (self.old, self.new);
        for (language, texts) in &old.texts {
            let Some(there) = new.texts.get(language) else {
                self.add(
                    Effect::Neither,
                    "language",
                    Some(language.to_string()),
                    None,
                );
                continue;
            };
            for (key, text) in texts {
                if let Some(other) = there.get(key) {
                    let of = format!("text `{key}` ({language})");
                    self.value(Effect::Neither, &of, (text, other), String::clone);
                }
            }
        }
        let come: Vec<Key> = new
            .texts
            .keys()
            .filter(|language| !old.texts.contains_key(*language))
            .cloned()
            .collect();
        for language in come {
            self.add(
                Effect::Neither,
                "language",
                None,
                Some(language.to_string()),
            );
        }
    }
}

/// Each row's days, and the steps that it gives beyond the row before it.
fn beyond(rows: &[LayOffRow]) -> Vec<(u32, u16)> {
    let before = std::iter::once(0).chain(rows.iter().map(|row| row.steps));
    let both = rows.iter().zip(before);
    both.map(|(row, before)| (row.days, row.steps.saturating_sub(before)))
        .collect()
}

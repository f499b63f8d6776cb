//! Reading `pack.toml`, `screening.toml` and `phases.toml`.

use super::draft::{HeadDraft, LayOffDraft, PhaseDraft, ReferDraft, small};
use super::fields::{Fields, Walk, word};
use super::rules::{check_key, limits, need_grounds, need_key, rule_open, rules};
use super::{COUNT_MAX, DAYS_MAX};
use crate::diagnostic::{Code, Note};
use crate::model::{Outcome, RuleKind, Urgency};
use crate::source::{At, LocatedText};
use std::collections::BTreeMap;

/// The version of the rule language that this crate reads.
pub const LANGUAGE_VERSION: u32 = 1;

/// Outcomes that may wait for a clinician: those that move somebody up or out.
const SIGNED_OFF: [(&str, Outcome); 4] = [
    ("BEGIN", Outcome::Begin),
    ("CONTINUE", Outcome::Continue),
    ("PROGRESS", Outcome::Progress),
    ("DISCHARGE", Outcome::Discharge),
];

/// `pack.toml`.
pub(crate) fn head(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> HeadDraft {
    let id = need_key(walk, &mut fields, "id");
    let version = fields.need_text(walk, "version");
    language_version(walk, &mut fields);
    let title = fields.need_text(walk, "title");
    let scope = fields.need_text(walk, "scope");
    let language = fields.need_text(walk, "language");
    fields.need(walk, "languages");
    let languages = fields.texts(walk, "languages");
    fields.need(walk, "cautions");
    let cautions = filled(
        walk,
        &mut fields,
        "cautions",
        "a prescription carries at least one caution",
    );
    let sources = sources(walk, &mut fields);
    fields.need(walk, "sign_off");
    let sign_off = fields
        .texts(walk, "sign_off")
        .iter()
        .filter_map(|text| word(walk, text, "an outcome to sign off", &SIGNED_OFF))
        .collect();
    let review_days = fields.need_count(walk, "review_days", &(1..=DAYS_MAX));
    let events = fields.texts(walk, "events");
    let equipment = fields.texts(walk, "equipment");
    let height = bands(walk, &mut fields);
    let lay_off = lay_off(walk, &mut fields);
    let mut wide = Vec::new();
    for (key, kind) in [
        ("regress", RuleKind::Regress),
        ("hold", RuleKind::Hold),
        ("ease", RuleKind::Ease),
        ("review", RuleKind::Review),
    ] {
        wide.extend(rules(walk, &mut fields, key, kind));
    }
    let limits = limits(walk, &mut fields);
    fields.finish(walk);
    let text = |text: Option<LocatedText>| text.map_or_else(String::new, |text| text.text);
    HeadDraft {
        id: text(id),
        version: text(version),
        title: text(title),
        scope: text(scope),
        language,
        languages,
        cautions,
        sources,
        sign_off,
        review_days: review_days.unwrap_or(1),
        events,
        equipment,
        height,
        lay_off,
        rules: wide,
        limits,
    }
}

fn language_version(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) {
    let Some(value) = fields.need(walk, "language_version") else {
        return;
    };
    let Some(version) = walk.count(value, "`language_version`", &(0..=u32::MAX)) else {
        return;
    };
    if version != LANGUAGE_VERSION {
        let at = walk.locate(value);
        walk.findings.add(
            Note::new(
                Code::LanguageVersion,
                at,
                format!("rule language {version} is not known"),
            )
            .label(format!("this reads version {LANGUAGE_VERSION}"))
            .replace(LANGUAGE_VERSION.to_string()),
        );
    }
}

/// A list of strings with at least one in it.
pub(crate) fn filled(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    key: &'static str,
    why: &str,
) -> Vec<LocatedText> {
    let empty = fields.get(key).filter(|value| {
        value
            .get_ref()
            .as_array()
            .is_some_and(|list| list.is_empty())
    });
    if let Some(value) = empty {
        let at = walk.locate(value);
        walk.findings
            .add(Note::new(Code::Empty, at, format!("`{key}` is empty")).label(why));
    }
    fields.texts(walk, key)
}

/// `[bands]`: the measure that says how tall the person is.
fn bands(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<LocatedText> {
    let mut table = fields.table(walk, "bands", "what bands need")?;
    let height = table.need_text(walk, "height");
    table.finish(walk);
    height
}

fn sources(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> BTreeMap<String, At<String>> {
    let mut sources = BTreeMap::new();
    let Some(table) = fields.table(walk, "sources", "the list of sources") else {
        return sources;
    };
    for (key, value) in table.entries() {
        let name = LocatedText::new(key.get_ref(), walk.locate(key), key.get_ref());
        check_key(walk, &name, "source");
        if let Some(text) = walk.text(value, "a source") {
            if text.text.trim().is_empty() {
                walk.findings.add(Note::new(
                    Code::Empty,
                    text.at,
                    format!("source `{}` says nothing", name.text),
                ));
            }
            sources.insert(
                name.text,
                At {
                    value: text.text,
                    at: name.at,
                },
            );
        }
    }
    sources
}

fn lay_off(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Vec<LayOffDraft> {
    let mut rows = Vec::new();
    for mut table in fields.tables(walk, "lay_off", "a row of the lay-off table") {
        let at = table.at;
        let days = table.need_count(walk, "days", &(1..=DAYS_MAX));
        let steps = table.need_count(walk, "steps", &(0..=COUNT_MAX));
        let numbers =
            ["days", "steps"].map(|key| table.get(key).map_or(at, |value| walk.locate(value)));
        let review = table.flag(walk, "review").unwrap_or(false);
        let grounds = need_grounds(walk, &mut table);
        table.finish(walk);
        if let (Some(days), Some(steps)) = (days, steps) {
            rows.push(LayOffDraft {
                days,
                steps: small(steps),
                review,
                grounds,
                at,
                numbers,
            });
        }
    }
    rows
}

/// `screening.toml`.
pub(crate) fn screening(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Vec<ReferDraft> {
    let mut refers = Vec::new();
    for mut table in fields.tables(walk, "refer", "this refer rule") {
        let urgency = table.need_word(
            walk,
            "urgency",
            &[
                ("emergency", Urgency::Emergency),
                ("same day", Urgency::SameDay),
                ("urgent", Urgency::Urgent),
                ("routine", Urgency::Routine),
            ],
        );
        let route = table.need_text(walk, "route");
        let stops = table.need_word(walk, "exercise", &[("stops", true), ("kept", false)]);
        let of_person = table.flag(walk, "of_person").unwrap_or(false);
        let stops = stops.is_none_or(|stops| stops.value);
        let rule = rule_open(walk, &mut table, RuleKind::Refer { stops });
        table.finish(walk);
        if let Some(rule) = rule {
            refers.push(ReferDraft {
                rule,
                urgency: urgency.map_or(Urgency::Emergency, |urgency| urgency.value),
                route: route.map_or_else(String::new, |route| route.text),
                of_person,
            });
        }
    }
    fields.finish(walk);
    refers
}

/// `phases.toml`.
pub(crate) fn phases(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Vec<PhaseDraft> {
    let mut phases = Vec::new();
    fields.need(walk, "phase");
    for table in fields.tables(walk, "phase", "this phase") {
        phases.extend(phase(walk, table));
    }
    fields.finish(walk);
    phases
}

fn phase(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Option<PhaseDraft> {
    let key = need_key(walk, &mut fields, "phase");
    let aim = fields.need_text(walk, "aim");
    fields.need(walk, "exercises");
    let exercises = filled(
        walk,
        &mut fields,
        "exercises",
        "a phase has at least one exercise",
    );
    let sessions_a_week = fields.need_count(walk, "sessions_a_week", &(1..=COUNT_MAX));
    let climb_max = fields.count(walk, "climb_max", &(1..=COUNT_MAX)).map(small);
    let introduce_max = fields
        .count(walk, "introduce_max", &(1..=COUNT_MAX))
        .map(small);
    let lines_max = fields.count(walk, "lines_max", &(1..=COUNT_MAX)).map(small);
    let limits = limits(walk, &mut fields);
    let mut all = Vec::new();
    for (key, kind) in [
        ("enter", RuleKind::Enter),
        ("start", RuleKind::Start),
        ("regress", RuleKind::Regress),
        ("hold", RuleKind::Hold),
        ("ease", RuleKind::Ease),
        ("review", RuleKind::Review),
        ("discharge", RuleKind::Discharge),
    ] {
        all.extend(rules(walk, &mut fields, key, kind));
    }
    fields.finish(walk);
    Some(PhaseDraft {
        key: key?,
        aim: aim.map_or_else(String::new, |aim| aim.text),
        exercises,
        sessions_a_week: small(sessions_a_week.unwrap_or(1)),
        climb_max,
        introduce_max,
        lines_max,
        limits,
        rules: all,
    })
}

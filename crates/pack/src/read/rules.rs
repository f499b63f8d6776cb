//! Reading what stands in several files: rules, limits, criteria, grounds.

use super::draft::{CriterionDraft, GroundsDraft, LimitDraft, RuleDraft};
use super::fields::{Fields, Walk};
use super::{CRITERION_DEPTH_MAX, KEY_BYTES_MAX};
use crate::diagnostic::{Code, Note};
use crate::model::{Grounds, RuleKind};
use crate::source::{LocatedText, Location};
use toml::Spanned;
use toml::de::DeValue;

/// Reads the rest of a rule from its table, and what is left over is reported.
pub(crate) fn rule(
    walk: &mut Walk<'_, '_>,
    mut fields: Fields<'_>,
    kind: RuleKind,
) -> Option<RuleDraft> {
    let rule = rule_open(walk, &mut fields, kind);
    fields.finish(walk);
    rule
}

/// The same, leaving the table open for more keys.
pub(crate) fn rule_open(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    kind: RuleKind,
) -> Option<RuleDraft> {
    let key = need_key(walk, fields, "rule");
    let when = fields
        .need(walk, "when")
        .and_then(|value| criterion(walk, value, 0));
    let reason = fields.need_text(walk, "reason");
    let grounds = need_grounds(walk, fields);
    Some(RuleDraft {
        key: key?,
        kind,
        when,
        reason: reason.map_or_else(String::new, |reason| reason.text),
        grounds,
    })
}

/// Rules under one key.
pub(crate) fn rules(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    key: &'static str,
    kind: RuleKind,
) -> Vec<RuleDraft> {
    let tables = fields.tables(walk, key, "this rule");
    tables
        .into_iter()
        .filter_map(|table| rule(walk, table, kind))
        .collect()
}

/// Limits under `limit`.
pub(crate) fn limits(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Vec<LimitDraft> {
    let mut limits = Vec::new();
    for mut table in fields.tables(walk, "limit", "this limit") {
        let key = need_key(walk, &mut table, "limit");
        let sentence = table.need_text(walk, "sentence");
        let condition = table
            .get("while")
            .and_then(|value| criterion(walk, value, 0));
        let text = table.need_text(walk, "text");
        let grounds = need_grounds(walk, &mut table);
        table.finish(walk);
        if let Some(key) = key {
            limits.push(LimitDraft {
                key,
                sentence,
                condition,
                text,
                grounds,
            });
        }
    }
    limits
}

/// A criterion: a sentence, a list (all of it), or a table with one of `all`, `any`, `none`.
pub(crate) fn criterion(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    depth: usize,
) -> Option<CriterionDraft> {
    let at = walk.locate(value);
    if depth > CRITERION_DEPTH_MAX {
        walk.findings.add(
            Note::new(Code::TooMany, at, "sentences are combined too deeply")
                .label(format!("more than {CRITERION_DEPTH_MAX} levels")),
        );
        return None;
    }
    match value.get_ref() {
        DeValue::String(_) => walk.text(value, "a sentence").map(CriterionDraft::Sentence),
        DeValue::Array(parts) => Some(CriterionDraft::All(criteria(walk, parts, at, depth))),
        DeValue::Table(_) => combined(walk, value, at, depth),
        _ => {
            walk.wrong_type(
                value,
                "a criterion",
                "a sentence, a list of sentences, or one of `all`, `any`, `none`",
            );
            None
        }
    }
}

fn criteria(
    walk: &mut Walk<'_, '_>,
    parts: &[Spanned<DeValue<'_>>],
    at: Location,
    depth: usize,
) -> Vec<CriterionDraft> {
    if parts.is_empty() {
        walk.findings.add(
            Note::new(
                Code::EmptyCriterion,
                at,
                "an empty list of sentences says nothing",
            )
            .label("no sentence")
            .help("write at least one sentence, or leave the rule out"),
        );
    }
    parts
        .iter()
        .filter_map(|part| criterion(walk, part, depth + 1))
        .collect()
}

fn combined(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    at: Location,
    depth: usize,
) -> Option<CriterionDraft> {
    let mut fields = walk.fields(value, "a criterion")?;
    let given: Vec<&'static str> = ["all", "any", "none"]
        .into_iter()
        .filter(|key| fields.get(key).is_some())
        .collect();
    let found = match given.as_slice() {
        [key] => {
            let parts = fields.get(key).and_then(|value| match value.get_ref() {
                DeValue::Array(parts) => Some(criteria(walk, parts, walk.locate(value), depth)),
                _ => {
                    walk.wrong_type(
                        value,
                        &format!("`{key}`"),
                        "a list of sentences in brackets",
                    );
                    None
                }
            });
            parts.map(|parts| match *key {
                "all" => CriterionDraft::All(parts),
                "any" => CriterionDraft::Any(parts),
                _ => CriterionDraft::None(parts),
            })
        }
        [] => {
            walk.findings.add(
                Note::new(
                    Code::MissingKey,
                    at,
                    "a criterion has one of `all`, `any`, `none`",
                )
                .label("none of them here"),
            );
            None
        }
        _ => {
            walk.findings.add(
                Note::new(
                    Code::Exclusive,
                    at,
                    "a criterion has only one of `all`, `any`, `none`",
                )
                .help("nest them: `{ all = [\"…\", { none = [\"…\"] }] }`"),
            );
            None
        }
    };
    fields.finish(walk);
    found
}

/// Who vouches; reported where nobody does.
pub(crate) fn need_grounds(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> GroundsDraft {
    let at = fields.at;
    if let Some(grounds) = grounds(walk, fields) {
        return grounds;
    }
    if !fields.has("source") && !fields.has("judgement") {
        walk.findings.add(
            Note::new(Code::NoGrounds, at, "nobody vouches for this")
                .help("name a `source = \"…\"` of the pack, or say `judgement = { by = \"…\", why = \"…\" }`"),
        );
    }
    let grounds = Grounds::Judgement {
        by: String::new(),
        why: String::new(),
    };
    GroundsDraft { grounds, at }
}

/// Who vouches, where somebody does.
pub(crate) fn grounds(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<GroundsDraft> {
    let source = fields.text(walk, "source");
    let states = fields.text(walk, "states");
    let judgement = fields.table(walk, "judgement", "a judgement");
    if let (Some(source), Some(judgement)) = (&source, &judgement) {
        walk.findings.add(
            Note::new(
                Code::Exclusive,
                judgement.at,
                "a source and a judgement exclude each other",
            )
            .help(format!(
                "`{}` is named as the source; leave one of them out",
                source.text
            )),
        );
    }
    if let Some(mut judgement) = judgement {
        let by = judgement.need_text(walk, "by");
        let why = judgement.need_text(walk, "why");
        let at = judgement.at;
        judgement.finish(walk);
        let text = |text: Option<LocatedText>| text.map_or_else(String::new, |text| text.text);
        return Some(GroundsDraft {
            grounds: Grounds::Judgement {
                by: text(by),
                why: text(why),
            },
            at,
        });
    }
    let source = source?;
    let states = states.map_or_else(String::new, |states| states.text);
    Some(GroundsDraft {
        at: source.at,
        grounds: Grounds::Source {
            key: source.text.as_str().into(),
            states,
        },
    })
}

/// A key that must be given: small letters, digits and single hyphens.
pub(crate) fn need_key(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    key: &'static str,
) -> Option<LocatedText> {
    let text = fields.need_text(walk, key)?;
    check_key(walk, &text, key);
    Some(text)
}

/// Reports a key of the wrong form.
pub(crate) fn check_key(walk: &mut Walk<'_, '_>, text: &LocatedText, what: &str) {
    let whole = |part: &str| {
        !part.is_empty()
            && part
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
    };
    if !text.text.split('-').all(whole) || text.text.len() > KEY_BYTES_MAX {
        let better: String = text
            .text
            .trim()
            .to_lowercase()
            .replace([' ', '_', '.'], "-");
        let note = Note::new(
            Code::BadName,
            text.at,
            format!("`{}` cannot be the key of a {what}", text.text),
        )
        .label(format!(
            "small letters, digits and single hyphens, at most {KEY_BYTES_MAX}"
        ));
        let fits = better.split('-').all(whole) && better.len() <= KEY_BYTES_MAX;
        walk.findings.add(if fits {
            note.did_you_mean_text(Some(&better))
        } else {
            note
        });
    }
}

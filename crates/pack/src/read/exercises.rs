//! Reading `exercises.toml` and the texts.

use super::band::band;
use super::draft::{
    ExerciseDraft, LineDraft, RowDraft, RowStepDraft, TextDraft, number_fits, small, takes_label,
    takes_number,
};
use super::fields::{Fields, Walk, word};
use super::rules::{check_key, criterion, limits, need_grounds, need_key, rule};
use super::sequence::sequence;
use super::{COUNT_MAX, TEXT_BYTES_MAX};
use crate::diagnostic::{Code, Note};
use crate::model::{RowValue, RuleKind};
use crate::quantity::{Key, Milli, Variable};
use crate::source::{At, LocatedText};
use crate::suggest::nearest;
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::DeValue;

/// `exercises.toml`.
pub(crate) fn lines(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Vec<LineDraft> {
    let mut lines = Vec::new();
    fields.need(walk, "line");
    for mut table in fields.tables(walk, "line", "this line") {
        let key = need_key(walk, &mut table, "line");
        table.need(walk, "exercise");
        let exercises = table.tables(walk, "exercise", "this exercise");
        let exercises = exercises
            .into_iter()
            .filter_map(|table| exercise(walk, table))
            .collect();
        table.finish(walk);
        if let Some(key) = key {
            lines.push(LineDraft { key, exercises });
        }
    }
    fields.finish(walk);
    lines
}

fn exercise(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Option<ExerciseDraft> {
    let key = need_key(walk, &mut fields, "exercise");
    let was = fields.texts(walk, "was");
    for name in &was {
        check_key(walk, name, "exercise");
    }
    let name = text_key(walk, &mut fields, "name", key.as_ref());
    let how = text_key(walk, &mut fields, "how", key.as_ref());
    let cues = fields.texts(walk, "cues");
    let equipment = fields.texts(walk, "equipment");
    let has_band = fields.has("band");
    let band = fields
        .table(walk, "band", "the band table")
        .and_then(|table| band(walk, table));
    fields.need(walk, "ladder");
    let rows = fields.tables(walk, "ladder", "a row of the ladder");
    let rows = rows
        .into_iter()
        .filter_map(|table| row(walk, table))
        .collect();
    let start = fields
        .table(walk, "start", "the start")
        .map(|table| dose(walk, &table));
    let return_at = fields.get("return_at").and_then(|value| {
        let count = walk.count(value, "`return_at`", &(0..=COUNT_MAX))?;
        Some(At {
            value: small(count),
            at: walk.locate(value),
        })
    });
    fields.need(walk, "gives_way");
    let gives_way = fields.texts(walk, "gives_way");
    let gives_way = gives_way
        .iter()
        .filter_map(|text| variable(walk, text))
        .collect();
    let comfortable = fields.text(walk, "comfortable");
    let limits = limits(walk, &mut fields);
    fields.need(walk, "climb");
    let climb = fields.table(walk, "climb", "the climb rule");
    let climb = climb.and_then(|table| rule(walk, table, RuleKind::Climb));
    let bring_back = fields.table(walk, "bring_back", "the bring-back rule");
    let bring_back = bring_back.and_then(|table| rule(walk, table, RuleKind::BringBack));
    let maintenance = fields
        .table(walk, "maintenance", "maintenance")
        .map(|table| dose(walk, &table));
    fields.finish(walk);
    Some(ExerciseDraft {
        key: key?,
        was,
        name: name?,
        how: how?,
        cues,
        equipment,
        has_band,
        band,
        rows,
        start: start.unwrap_or_default(),
        return_at,
        gives_way,
        comfortable,
        limits,
        climb,
        bring_back,
        maintenance,
    })
}

/// A text key that defaults to the exercise's key and the key's own name.
fn text_key(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    name: &'static str,
    exercise: Option<&LocatedText>,
) -> Option<At<Key>> {
    if let Some(text) = fields.text(walk, name) {
        return Some(At {
            value: text.text.as_str().into(),
            at: text.at,
        });
    }
    let exercise = exercise?;
    Some(At {
        value: format!("{}.{name}", exercise.text).into(),
        at: exercise.at,
    })
}

fn row(walk: &mut Walk<'_, '_>, mut fields: Fields<'_>) -> Option<RowDraft> {
    let name = fields.need_text(walk, "variable");
    let name = name.and_then(|name| variable(walk, &name));
    let values = fields.need(walk, "values");
    let full = fields.word(walk, "full", &[("returns", true), ("stays", false)]);
    let grounds = need_grounds(walk, &mut fields);
    let at = fields.at;
    fields.finish(walk);
    let variable = name?;
    let (values, sequence) = match values {
        Some(table) if table.get_ref().is_table() => {
            let (values, sequence) = sequence(walk, table, variable.value);
            (values, Some(sequence))
        }
        Some(list) => (steps(walk, list, variable.value), None),
        None => (Vec::new(), None),
    };
    Some(RowDraft {
        variable,
        values,
        sequence,
        returns: full.is_none_or(|full| full.value),
        grounds,
        at,
    })
}

/// A list of values.
fn steps(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    variable: Variable,
) -> Vec<RowStepDraft> {
    let Some(list) = value.get_ref().as_array() else {
        walk.wrong_type(value, "`values`", "a list in brackets");
        return Vec::new();
    };
    list.iter()
        .filter_map(|value| step(walk, value, variable))
        .collect()
}

/// A value, or a table with the value and what it needs or, of a tempo, how long a repetition takes.
fn step(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    variable: Variable,
) -> Option<RowStepDraft> {
    if !value.get_ref().is_table() {
        let value = row_value(walk, value, variable)?;
        return Some(RowStepDraft {
            seconds: notated(variable, &value.value),
            value,
            needs: None,
        });
    }
    let mut fields = walk.fields(value, "a value of the row")?;
    let inner = fields
        .need(walk, "value")
        .and_then(|value| row_value(walk, value, variable));
    let told = seconds(walk, &mut fields, variable, inner.as_ref());
    let needs = if told.is_some() {
        fields.get("needs")
    } else {
        fields.need(walk, "needs")
    };
    let needs = needs.and_then(|value| criterion(walk, value, 0));
    fields.finish(walk);
    let value = inner?;
    Some(RowStepDraft {
        seconds: told.unwrap_or_else(|| notated(variable, &value.value)),
        value,
        needs,
    })
}

/// Seconds that a repetition may take, in thousandths.
const SECONDS_MILLI: std::ops::RangeInclusive<i64> = 1..=600_000;

/// How long a repetition takes by the key `seconds`: none where it is not there, nothing where it is wrong.
fn seconds(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    variable: Variable,
    value: Option<&At<RowValue>>,
) -> Option<Option<Milli>> {
    let at = walk.locate(fields.get("seconds")?);
    let number = fields.need_number(walk, "seconds").map(|one| one.value);
    let why = if variable != Variable::Tempo {
        "only a tempo says how long a repetition takes"
    } else if value.is_some_and(|value| notated(variable, &value.value).is_some()) {
        "the numbers of the tempo say it"
    } else if number.is_some_and(|Milli(milli)| !SECONDS_MILLI.contains(&milli)) {
        "more than nothing, and at most 600 s"
    } else {
        return Some(number);
    };
    let note = Note::new(Code::RowValueKind, at, "`seconds` has no place here");
    walk.findings.add(note.label(why));
    Some(None)
}

/// How long a repetition takes by a tempo in numbers, such as `3-1-2-0`: lowering, pause, lifting, pause, in seconds.
fn notated(variable: Variable, value: &RowValue) -> Option<Milli> {
    let RowValue::Label(label) = value else {
        return None;
    };
    let digits = |part: &str| part.len() <= 2 && part.bytes().all(|byte| byte.is_ascii_digit());
    let parts: Option<Vec<i64>> = label
        .split('-')
        .map(|part| part.parse().ok().filter(|_| digits(part)))
        .collect();
    let parts = parts.filter(|parts| variable == Variable::Tempo && (3..=4).contains(&parts.len()));
    let sum: i64 = parts?.iter().sum();
    (sum > 0).then_some(Milli::whole(sum))
}

fn row_value(
    walk: &mut Walk<'_, '_>,
    value: &Spanned<DeValue<'_>>,
    variable: Variable,
) -> Option<At<RowValue>> {
    let at = walk.locate(value);
    let word = variable.word();
    let refuse = |walk: &mut Walk<'_, '_>, why: &str| {
        walk.findings
            .add(Note::new(Code::RowValueKind, at, format!("not a value of `{word}`")).label(why));
        None
    };
    match value.get_ref() {
        DeValue::String(label) if takes_label(variable) => {
            if label.trim().is_empty() || label.trim().len() != label.len() {
                return refuse(walk, "a label without spaces at its ends");
            }
            Some(At {
                value: RowValue::Label((**label).into()),
                at,
            })
        }
        DeValue::String(_) => refuse(walk, "a number, without quotes"),
        DeValue::Integer(_) | DeValue::Float(_) if takes_number(variable) => {
            let number = walk.number(value, &format!("a value of `{word}`"))?;
            if number_fits(variable, number) {
                return Some(At {
                    value: RowValue::Number(number),
                    at,
                });
            }
            refuse(walk, "a number that nobody can be asked for")
        }
        DeValue::Integer(_) | DeValue::Float(_) => refuse(walk, "a label, in quotes"),
        _ => refuse(walk, "a number or a label"),
    }
}

/// Values by the words of variables.
fn dose(walk: &mut Walk<'_, '_>, table: &Fields<'_>) -> Vec<(Variable, At<RowValue>)> {
    let mut dose = Vec::new();
    for (key, value) in table.entries() {
        let name = LocatedText::new(key.get_ref(), walk.locate(key), key.get_ref());
        if let Some(variable) = variable(walk, &name)
            && let Some(value) = row_value(walk, value, variable.value)
        {
            dose.push((variable.value, value));
        }
    }
    dose
}

fn variable(walk: &mut Walk<'_, '_>, text: &LocatedText) -> Option<At<Variable>> {
    let words = Variable::ALL.map(|variable| (variable.word(), variable));
    let value = word(walk, text, "a progression variable", &words)?;
    Some(At { value, at: text.at })
}

/// `text/<language>.toml`.
pub(crate) fn texts(walk: &mut Walk<'_, '_>, fields: &Fields<'_>) -> TextDraft {
    let mut texts = BTreeMap::new();
    for (key, value) in fields.entries() {
        let name = key.get_ref().to_string();
        if value.get_ref().is_table() {
            let at = walk.locate(key);
            let note = Note::new(
                Code::WrongType,
                at,
                format!("`{name}` is a table and not a text"),
            );
            walk.findings
                .add(note.help("write the whole key in quotes: `\"limit.pain\" = \"…\"`"));
            continue;
        }
        let Some(text) = walk.text(value, "a text") else {
            continue;
        };
        if text.text.trim().is_empty() {
            walk.findings.add(Note::new(
                Code::Empty,
                text.at,
                format!("the text `{name}` says nothing"),
            ));
        } else if text.text.len() > TEXT_BYTES_MAX {
            let note = Note::new(
                Code::TooMany,
                text.at,
                format!("the text `{name}` is too long"),
            );
            walk.findings
                .add(note.label(format!("at most {TEXT_BYTES_MAX} bytes")));
        }
        texts.insert(
            name,
            At {
                value: text.text,
                at: walk.locate(key),
            },
        );
    }
    TextDraft {
        file: walk.file,
        texts,
    }
}

/// The nearest text key, for a missing one.
pub(crate) fn near_text<'t>(texts: &'t TextDraft, key: &str) -> Option<&'t str> {
    nearest(key, texts.texts.keys().map(String::as_str))
}

//! Reading `measures.toml`.

use super::combined::PARTS_MAX;
use super::computed::computed;
use super::draft::{CriterionDraft, MeasureDraft};
use super::fields::{Fields, Walk, word};
use super::rules::{criterion, grounds, need_grounds};
use super::{CHOICES_MAX, DAYS_MAX, MEASURES_MAX, NAME_BYTES_MAX};
use crate::diagnostic::{Code, Note};
use crate::model::{Carrier, ChoiceIx, Measure, MeasureKind, Origin, Reporter, Worse};
use crate::quantity::{Key, Milli, Unit};
use crate::source::{At, LocatedText};
use crate::suggest::nearest;
use crate::unit;

/// How a measure may begin only if the sentence grammar does not: these words begin a quantifier.
const RESERVED: [&str; 4] = [
    "in any exercise",
    "in every exercise",
    "in at least",
    "at least",
];

pub(super) const WORSE: [(&str, Worse); 2] = [("higher", Worse::Higher), ("lower", Worse::Lower)];

const CARRIERS: [(&str, Carrier); 5] = [
    ("exercise", Carrier::Exercise),
    ("session", Carrier::Session),
    ("morning after", Carrier::MorningAfter),
    ("assessment", Carrier::Assessment),
    ("screening", Carrier::Screening),
];

const REPORTERS: [(&str, Reporter); 4] = [
    ("patient", Reporter::Patient),
    ("carer", Reporter::Carer),
    ("clinician", Reporter::Clinician),
    ("device", Reporter::Device),
];

/// `measures.toml`: the measures that could be read, and the names of those that could not.
pub(crate) fn measures(
    walk: &mut Walk<'_, '_>,
    mut fields: Fields<'_>,
) -> (Vec<MeasureDraft>, Vec<String>) {
    fields.need(walk, "measure");
    let mut measures = Vec::new();
    let mut unread = Vec::new();
    for mut table in fields.tables(walk, "measure", "this measure") {
        let name = table.get("name").and_then(|name| name.get_ref().as_str());
        match measure(walk, &mut table) {
            Some(measure) => measures.extend(numbered(walk, &mut table, measure)),
            None => unread.extend(name.map(str::to_owned)),
        }
        let at = table.at;
        table.finish(walk);
        if measures.len() > MEASURES_MAX {
            let note = Note::new(Code::TooMany, at, "the pack has too many measures");
            walk.findings
                .add(note.label(format!("at most {MEASURES_MAX}, each numbered one counted")));
            measures.truncate(MEASURES_MAX);
            break;
        }
    }
    fields.finish(walk);
    (measures, unread)
}

fn measure(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<MeasureDraft> {
    let name = fields.need_text(walk, "name");
    if let Some(name) = &name {
        check_name(walk, name, "measure");
    }
    // Every key is asked for on every path, so that a key that does not go with the others is said to be that, below,
    // and not to be unknown.
    let kinds = ["computed", "choices", "unit"];
    let given: Vec<&str> = kinds
        .into_iter()
        .filter(|key| fields.get(key).is_some())
        .collect();
    for key in [
        "when",
        "worse",
        "carrier",
        "expected",
        "fresh_days",
        "both_sides",
        "ratio",
        "numbered",
        "reported_by",
        "min",
        "max",
        "step",
        "days",
        "event",
        "source",
        "states",
        "judgement",
    ] {
        fields.get(key);
    }
    let name = name?;
    match given.as_slice() {
        ["computed", ..] => computed(walk, fields, name),
        ["choices"] if fields.has("when") => defined(walk, fields, name),
        ["choices", ..] => {
            exclude(
                walk,
                fields,
                "a choice",
                &[
                    "unit", "worse", "min", "max", "step", "ratio", "days", "event",
                ],
            );
            let choices = choices(walk, fields);
            reported(
                walk,
                fields,
                name,
                Some(MeasureKind::Choice { choices }),
                Worse::Higher,
            )
        }
        ["unit"] => {
            exclude(walk, fields, "a number", &["when", "days", "event"]);
            let kind = number(walk, fields);
            let worse = fields
                .word(walk, "worse", &WORSE)
                .map_or(Worse::Neither, |worse| worse.value);
            reported(walk, fields, name, kind, worse)
        }
        _ => {
            let note = Note::new(
                Code::MissingKey,
                name.at,
                format!("`{}` has no kind", name.text),
            );
            walk.findings.add(note.help("give `unit`, `min`, `max` and `step` for a number, `choices` for a choice, or `computed`"));
            None
        }
    }
}

/// The measure itself, or as many of its kind as it says: `name 1`, `name 2` and so on.
fn numbered(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    one: MeasureDraft,
) -> Vec<MeasureDraft> {
    let reported = !fields.has("computed") && !fields.has("when");
    let count = fields.count(walk, "numbered", &(2..=PARTS_MAX));
    let Some(count) = count.filter(|_| reported) else {
        return vec![one];
    };
    let of = |number: u32| {
        let mut numbered = one.clone();
        let name = format!("{} {number}", one.name.text);
        numbered.measure.name = name.as_str().into();
        numbered.name.text = name;
        numbered.numbered = Some(one.name.clone());
        numbered
    };
    (1..=count).map(of).collect()
}

/// Names that sentences use verbatim: words parted by single spaces, none of which could be taken for grammar.
pub(crate) fn check_name(walk: &mut Walk<'_, '_>, name: &LocatedText, what: &str) {
    let text = &name.text;
    let spaced = text
        .split(' ')
        .all(|part| !part.is_empty() && !part.contains(char::is_whitespace));
    let note = Note::new(
        Code::BadName,
        name.at,
        format!("`{text}` cannot be the name of a {what}"),
    );
    let reserved = RESERVED.iter().find(|words| {
        text.strip_prefix(**words)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
    });
    if !spaced || text.len() > NAME_BYTES_MAX {
        walk.findings.add(note.label(format!(
            "words parted by single spaces, at most {NAME_BYTES_MAX} bytes"
        )));
    } else if text.contains(['`', '"', '%']) || text.chars().any(char::is_control) {
        walk.findings
            .add(note.label("no quotes, backticks, percent or control characters"));
    } else if let Some(words) = reserved {
        walk.findings
            .add(note.label(format!("`{words}` begins a quantifier in a sentence")));
    }
}

/// Keys that make no sense beside the others.
pub(super) fn exclude(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    kind: &str,
    keys: &[&'static str],
) {
    for key in keys {
        if let Some(value) = fields.get(key) {
            let at = walk.locate(value);
            let note = Note::new(Code::Exclusive, at, format!("{kind} has no `{key}`"));
            walk.findings.add(match *key {
                "worse" => {
                    note.help("choices are declared best first, so the order says which is worse")
                }
                _ => note.help("leave it out"),
            });
        }
    }
}

pub(super) fn unit(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<At<Unit>> {
    let code = fields.need_text(walk, "unit")?;
    if let Some(unit) = unit::find(&code.text) {
        return Some(At {
            value: unit,
            at: code.at,
        });
    }
    let note = Note::new(
        Code::UnknownUnit,
        code.at,
        format!("`{}` is not a UCUM unit known here", code.text),
    );
    let meant = unit::meant(&code.text);
    let note = match meant {
        Some(_) => note.did_you_mean_text(meant),
        None => note.help("a count or a score has an annotation in braces, such as `{score}`"),
    };
    walk.findings.add(note);
    None
}

fn number(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Option<MeasureKind> {
    let unit = unit(walk, fields);
    let min = fields.need_number(walk, "min");
    let max = fields.need_number(walk, "max");
    let step = fields.need_number(walk, "step");
    let (unit, min, max, step) = (unit?, min?, max?, step?);
    if max.value <= min.value {
        let note = Note::new(
            Code::OutOfBounds,
            max.at,
            format!("`max` {} is not above `min` {}", max.value, min.value),
        );
        walk.findings.add(note);
    } else if step.value.0 <= 0 || (max.value.0 - min.value.0) % step.value.0 != 0 {
        let note = Note::new(
            Code::OutOfBounds,
            step.at,
            format!(
                "steps of {} do not lead from {} to {}",
                step.value, min.value, max.value
            ),
        );
        walk.findings
            .add(note.label("a positive number that divides the range"));
    }
    Some(MeasureKind::Number {
        unit: unit.value,
        min: min.value,
        max: max.value,
        step: step.value,
    })
}

fn choices(walk: &mut Walk<'_, '_>, fields: &mut Fields<'_>) -> Vec<Key> {
    let list = fields.texts(walk, "choices");
    let mut choices: Vec<Key> = Vec::new();
    for choice in &list {
        check_name(walk, choice, "choice");
        let taken = |word: &str| list.iter().any(|other| other.text == word);
        if choices.iter().any(|known| **known == *choice.text) {
            walk.findings.add(Note::new(
                Code::Twice,
                choice.at,
                format!("the choice `{}` is there twice", choice.text),
            ));
        } else if choice.text.strip_prefix("not ").is_some_and(taken) {
            let note = Note::new(
                Code::BadName,
                choice.at,
                format!("`is {}` could be read in two ways", choice.text),
            );
            walk.findings
                .add(note.help("call one of the two choices something else"));
        }
        if !choices.iter().any(|known| **known == *choice.text) {
            choices.push(choice.text.as_str().into());
        }
    }
    if choices.len() < 2 || choices.len() > CHOICES_MAX {
        let at = fields
            .get("choices")
            .map_or(fields.at, |value| walk.locate(value));
        let code = if choices.len() < 2 {
            Code::Empty
        } else {
            Code::TooMany
        };
        let note = Note::new(
            code,
            at,
            format!(
                "a choice between {} is none that can be made",
                choices.len()
            ),
        );
        walk.findings
            .add(note.label(format!("from 2 to {CHOICES_MAX} choices, best first")));
    }
    choices
}

fn reported(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    name: LocatedText,
    kind: Option<MeasureKind>,
    worse: Worse,
) -> Option<MeasureDraft> {
    let carrier = fields
        .need_word(walk, "carrier", &CARRIERS)
        .map(|carrier| carrier.value);
    fields.need(walk, "expected");
    let expected = fields.flag(walk, "expected");
    let fresh_days = fields.count(walk, "fresh_days", &(1..=DAYS_MAX));
    let both_sides = fields.flag(walk, "both_sides").unwrap_or(false);
    let ratio = fields.flag(walk, "ratio").unwrap_or(false);
    fields.need(walk, "reported_by");
    let texts = super::head::filled(walk, fields, "reported_by", "somebody must be asked for it");
    let reported_by = texts
        .iter()
        .filter_map(|text| word(walk, text, "a reporter", &REPORTERS))
        .collect();
    let at_key = |fields: &mut Fields<'_>, walk: &Walk<'_, '_>, key| {
        fields.get(key).map_or(fields.at, |v| walk.locate(v))
    };
    if both_sides && carrier.is_some_and(|carrier| carrier != Carrier::Assessment) {
        let at = at_key(fields, walk, "both_sides");
        walk.findings.add(
            Note::new(Code::Exclusive, at, "only assessments report both sides")
                .help("leave it out"),
        );
    }
    let negative = matches!(kind, Some(MeasureKind::Number { min, .. }) if min < Milli(0));
    if ratio && negative {
        let at = at_key(fields, walk, "ratio");
        let note = Note::new(
            Code::Exclusive,
            at,
            "a measure that may be negative has no percentages",
        );
        walk.findings
            .add(note.help("leave `ratio` out, or let `min` be 0 or more"));
    }
    let numbers = fields.has("unit") || fresh_days.is_some();
    let grounds = if numbers {
        Some(need_grounds(walk, fields))
    } else {
        grounds(walk, fields)
    };
    let measure = Measure {
        name: name.text.as_str().into(),
        kind: kind?,
        worse,
        origin: Origin::Reported,
        carrier: carrier?,
        expected: expected.unwrap_or(true),
        both_sides,
        ratio,
        fresh_days,
        reported_by,
    };
    Some(MeasureDraft {
        grounds,
        ..MeasureDraft::plain(name, measure)
    })
}

pub(super) fn worked_out(
    name: &LocatedText,
    kind: MeasureKind,
    worse: Worse,
    origin: Origin,
) -> Measure {
    Measure {
        name: name.text.as_str().into(),
        kind,
        worse,
        origin,
        carrier: Carrier::Nothing,
        expected: false,
        both_sides: false,
        ratio: false,
        fresh_days: None,
        reported_by: Vec::new(),
    }
}

fn defined(
    walk: &mut Walk<'_, '_>,
    fields: &mut Fields<'_>,
    name: LocatedText,
) -> Option<MeasureDraft> {
    exclude(
        walk,
        fields,
        "a defined measure",
        &[
            "worse",
            "carrier",
            "expected",
            "fresh_days",
            "both_sides",
            "ratio",
            "numbered",
            "reported_by",
            "min",
            "max",
            "step",
            "days",
            "event",
        ],
    );
    let choices = choices(walk, fields);
    let mut features: Vec<(ChoiceIx, CriterionDraft)> = Vec::new();
    if let Some(table) = fields.table(walk, "when", "the definition") {
        for (key, value) in table.entries() {
            let word: &str = key.get_ref();
            let at = walk.locate(key);
            match choices.iter().position(|choice| **choice == *word) {
                Some(0) => {
                    let note = Note::new(
                        Code::Exclusive,
                        at,
                        format!("`{word}` is the best choice and has no criterion"),
                    );
                    walk.findings
                        .add(note.help("it is the value where no worse choice's criterion is met"));
                }
                Some(place) => {
                    if let (Some(criterion), Ok(place)) =
                        (criterion(walk, value, 0), u16::try_from(place))
                    {
                        features.push((ChoiceIx(place), criterion));
                    }
                }
                None => {
                    let near = nearest(word, choices.iter().map(|choice| &**choice));
                    let note = Note::new(
                        Code::UnknownName,
                        at,
                        format!("`{word}` is not a choice of `{}`", name.text),
                    );
                    walk.findings.add(note.did_you_mean(near));
                }
            }
        }
        if table.entries().is_empty() {
            walk.findings.add(Note::new(
                Code::Empty,
                table.at,
                format!("`{}` is defined by nothing", name.text),
            ));
        }
    }
    features.sort_by_key(|(choice, _)| *choice);
    let grounds = Some(need_grounds(walk, fields));
    let measure = worked_out(
        &name,
        MeasureKind::Choice { choices },
        Worse::Higher,
        Origin::Reported,
    );
    Some(MeasureDraft {
        features: Some(features),
        grounds,
        ..MeasureDraft::plain(name, measure)
    })
}

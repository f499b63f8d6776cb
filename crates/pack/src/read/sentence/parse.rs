//! From words to a sentence: subject and relation.

use super::amount::{amount, change, count, number};
use super::window::{reference, window};
use super::words::{Cursor, words};
use super::{Names, Parsed, Parts, SentenceError};
use crate::diagnostic::Code;
use crate::model::{
    ChoiceIx, Compare, Direction, ExerciseIx, Measure, MeasureIx, MeasureKind, Over, Relation,
    RowValue, Subject, TORQUE, Which, Window,
};
use crate::quantity::{Key, Variable};
use crate::read::SENTENCE_BYTES_MAX;
use crate::suggest::nearest;

/// Every way in which a relation may begin.
const RELATIONS: [&str; 10] = [
    "at most",
    "at least",
    "below",
    "above",
    "between",
    "is not",
    "is",
    "no worse than",
    "up by at least",
    "down by at least",
];

/// Parses one sentence.
///
/// # Errors
/// The first thing in it that cannot be understood.
pub(crate) fn parse(text: &str, names: Names<'_>) -> Result<Parsed, SentenceError> {
    if text.len() > SENTENCE_BYTES_MAX {
        let label = format!("at most {SENTENCE_BYTES_MAX} bytes");
        return Err(
            SentenceError::new(Code::TooMany, 0..text.len(), "the sentence is too long")
                .label(label),
        );
    }
    let words = words(text);
    let mut cursor = Cursor::new(&words, text.len());
    if words.is_empty() {
        return Err(SentenceError::new(
            Code::Subject,
            0..text.len(),
            "the sentence says nothing",
        ));
    }
    let mut parts = Parts::default();
    let parsed = match reached(&mut cursor, names, &mut parts)? {
        Some(subject) => {
            parts.subject = cursor.span_from(0);
            Parsed {
                subject,
                relation: Relation::Reached,
                window: Window::Latest,
                parts,
            }
        }
        None => {
            let (subject, measure) = subject(&mut cursor, names, &mut parts)?;
            let relation = relation(&mut cursor, names, measure, &mut parts)?;
            let window = window(&mut cursor, &mut parts)?;
            Parsed {
                subject,
                relation,
                window,
                parts,
            }
        }
    };
    if cursor.is_done() {
        return Ok(parsed);
    }
    Err(SentenceError::new(
        Code::Window,
        cursor.span_rest(),
        "words that the sentence does not need",
    )
    .label("nothing may follow here"))
}

/// `exercise "has reached" variable value`, or `"at least" k "exercises have reached" variable value`.
fn reached(
    cursor: &mut Cursor<'_, '_>,
    names: Names<'_>,
    parts: &mut Parts,
) -> Result<Option<Subject>, SentenceError> {
    let from = cursor.at();
    let which = if cursor.eat("at least") {
        let count = count(cursor)?;
        if !cursor.eat("exercises have reached") {
            return Err(SentenceError::new(
                Code::Subject,
                cursor.span_here(),
                "no `exercises have reached` after the count",
            )
            .help("the sentence would be `at least 3 exercises have reached reps 12`"));
        }
        Which::AtLeast(count)
    } else if let Some(exercise) = eat_exercise(cursor, names)
        && cursor.eat("has reached")
    {
        Which::One(exercise)
    } else {
        cursor.go(from);
        return Ok(None);
    };
    let words = Variable::ALL.map(Variable::word);
    let Some(variable) = cursor
        .eat_longest(words.iter().copied())
        .and_then(|at| Variable::ALL.get(at))
    else {
        let near = cursor.peek().and_then(|word| nearest(word.text, words));
        return Err(SentenceError::new(
            Code::Reached,
            cursor.span_here(),
            "no progression variable after `reached`",
        )
        .label("such as `reps` or `hold time`")
        .did_you_mean(near));
    };
    let value = reached_value(cursor, *variable, parts)?;
    Ok(Some(Subject::Reached {
        which,
        variable: *variable,
        value,
    }))
}

/// A number with the variable's own unit or none (a load may be in N.m too), or a label: everything to the end of the
/// sentence.
fn reached_value(
    cursor: &mut Cursor<'_, '_>,
    variable: Variable,
    parts: &mut Parts,
) -> Result<RowValue, SentenceError> {
    let starts_as_number = cursor
        .peek()
        .is_some_and(|word| word.text.starts_with(|c: char| c.is_ascii_digit()));
    let from = cursor.at();
    if starts_as_number && let Ok(number) = number(cursor) {
        let torque = (variable == Variable::Load).then_some(TORQUE);
        let unit_from = cursor.at();
        let mut units = variable.unit().into_iter().chain(torque);
        let unit = units.find(|unit| cursor.eat(unit));
        if cursor.is_done() {
            parts.reached_unit = unit.map(|unit| (unit, cursor.span_from(unit_from)));
            return Ok(RowValue::Number(number));
        }
        cursor.go(from);
    }
    let mut label = String::new();
    while let Some(word) = cursor.next() {
        if !label.is_empty() {
            label.push(' ');
        }
        label.push_str(word.text);
    }
    if label.is_empty() {
        let message = format!("no value after `{}`", variable.word());
        return Err(SentenceError::new(
            Code::Reached,
            cursor.span_here(),
            message,
        ));
    }
    Ok(RowValue::Label(label.into()))
}

fn subject<'n>(
    cursor: &mut Cursor<'_, '_>,
    names: Names<'n>,
    parts: &mut Parts,
) -> Result<(Subject, &'n Measure), SentenceError> {
    let over = if cursor.eat("in any exercise") {
        Over::AnyExercise
    } else if cursor.eat("in every exercise") {
        Over::EveryExercise
    } else if cursor.eat("in at least") {
        let count = count(cursor)?;
        if !cursor.eat("exercises") {
            return Err(SentenceError::new(
                Code::Subject,
                cursor.span_here(),
                "no `exercises` after the count",
            )
            .help("a quantifier is `in at least 2 exercises`"));
        }
        Over::AtLeastExercises(count)
    } else {
        Over::Plain
    };
    if over != Over::Plain {
        parts.quantifier = Some(cursor.span_from(0));
    }
    let (index, measure) = measure(cursor, names)?;
    let mut over = over;
    let before_of = cursor.at();
    if over == Over::Plain && cursor.eat("of") {
        over = Over::Of(exercise(cursor, names)?);
        parts.quantifier = Some(cursor.span_from(before_of));
    }
    parts.subject = cursor.span_from(0);
    Ok((
        Subject::Measure {
            measure: index,
            over,
        },
        measure,
    ))
}

/// The longest declared name of a measure.
pub(super) fn measure<'n>(
    cursor: &mut Cursor<'_, '_>,
    names: Names<'n>,
) -> Result<(MeasureIx, &'n Measure), SentenceError> {
    let found = cursor.eat_longest(names.measures.iter().map(|measure| &*measure.name));
    let found =
        found.and_then(|at| Some((MeasureIx(u16::try_from(at).ok()?), names.measures.get(at)?)));
    found.ok_or_else(|| unknown_subject(cursor, names))
}

fn unknown_subject(cursor: &Cursor<'_, '_>, names: Names<'_>) -> SentenceError {
    // What was meant as the name ends where a relation, an `of` or a window begins.
    let mut end = cursor.clone();
    while !end.is_done() && !RELATIONS.iter().any(|words| end.sees(words)) && !end.sees("of") {
        end.next();
    }
    let span = if end.at() == cursor.at() {
        cursor.span_here()
    } else {
        end.span_from(cursor.at())
    };
    let count = end.at() - cursor.at();
    let said: Vec<&str> = cursor
        .rest()
        .iter()
        .take(count)
        .map(|word| word.text)
        .collect();
    let said = said.join(" ");
    let known = names.measures.iter().map(|measure| &*measure.name);
    let near = nearest(&said, known.chain(names.exercises.iter().map(|key| &**key)));
    let message = if said.is_empty() {
        "no measure where one must stand".to_owned()
    } else {
        format!("no measure is called `{said}`")
    };
    let error = SentenceError::new(Code::Subject, span, message).label("not declared");
    match near {
        Some(_) => error.did_you_mean(near),
        None => error.help("declare it in measures.toml, or use a declared name word for word"),
    }
}

fn eat_exercise(cursor: &mut Cursor<'_, '_>, names: Names<'_>) -> Option<ExerciseIx> {
    let at = cursor.eat_longest(names.exercises.iter().map(|key| &**key))?;
    u16::try_from(at).ok().map(ExerciseIx)
}

fn exercise(cursor: &mut Cursor<'_, '_>, names: Names<'_>) -> Result<ExerciseIx, SentenceError> {
    eat_exercise(cursor, names).ok_or_else(|| {
        let said = cursor.peek().map_or("", |word| word.text);
        let near = nearest(said, names.exercises.iter().map(|key| &**key));
        SentenceError::new(
            Code::Subject,
            cursor.span_here(),
            format!("no exercise is called `{said}`"),
        )
        .label("`of` names an exercise")
        .did_you_mean(near)
    })
}

fn relation(
    cursor: &mut Cursor<'_, '_>,
    names: Names<'_>,
    measure: &Measure,
    parts: &mut Parts,
) -> Result<Relation, SentenceError> {
    let from = cursor.at();
    let Some(found) = cursor.eat_longest(RELATIONS.iter().copied()) else {
        return Err(no_relation(cursor, measure));
    };
    let words = RELATIONS.get(found).copied().unwrap_or_default();
    parts.relation = cursor.span_from(from);
    let choices = match &measure.kind {
        MeasureKind::Choice { choices } => Some(choices.as_slice()),
        MeasureKind::Number { .. } => None,
    };
    let wrong_kind = |help: &str| {
        let message = format!("`{words}` does not go with `{}`", measure.name);
        Err(SentenceError::new(Code::RelationKind, parts.relation.clone(), message).help(help))
    };
    match (words, choices) {
        ("is" | "is not" | "no worse than", Some(choices)) => {
            choice(cursor, words, choices, measure, from, parts)
        }
        ("is" | "is not" | "no worse than", None) => wrong_kind(
            "a number is compared with `at most`, `at least`, `below`, `above` or `between`",
        ),
        (_, Some(_)) => wrong_kind("a choice is compared with `is`, `is not` or `no worse than`"),
        ("between", None) => {
            let low = amount(cursor, names, parts)?;
            if !cursor.eat("and") {
                return Err(SentenceError::new(
                    Code::Number,
                    cursor.span_here(),
                    "no `and` between the two ends",
                ));
            }
            Ok(Relation::Between(low, amount(cursor, names, parts)?))
        }
        ("up by at least" | "down by at least", None) => {
            let direction = if words.starts_with("up") {
                Direction::Up
            } else {
                Direction::Down
            };
            let by = change(cursor, measure, parts)?;
            Ok(Relation::Change(direction, by, reference(cursor, parts)?))
        }
        (_, None) => {
            let compare = match words {
                "at most" => Compare::AtMost,
                "at least" => Compare::AtLeast,
                "below" => Compare::Below,
                _ => Compare::Above,
            };
            Ok(Relation::Compare(compare, amount(cursor, names, parts)?))
        }
    }
}

fn no_relation(cursor: &Cursor<'_, '_>, measure: &Measure) -> SentenceError {
    let said = cursor.peek().map_or("", |word| word.text);
    let two: Vec<&str> = cursor.rest().iter().take(2).map(|word| word.text).collect();
    let two = two.join(" ");
    let error = SentenceError::new(
        Code::Relation,
        cursor.span_here(),
        format!("no relation after `{}`", measure.name),
    )
    .label("here a relation must stand");
    // Symbols and synonyms that people write for one of ours.
    let meant = match (said, two.as_str()) {
        ("<=" | "≤" | "max" | "maximum", _) | (_, "no more" | "not above" | "up to") => {
            Some("at most")
        }
        (">=" | "≥" | "min" | "minimum", _) | (_, "no less" | "not below") => Some("at least"),
        ("<" | "under", _) | (_, "less than" | "lower than") => Some("below"),
        (">" | "over", _) | (_, "more than" | "greater than" | "higher than") => Some("above"),
        ("=" | "==" | "equals", _) => Some("is"),
        _ => nearest(&two, RELATIONS).or_else(|| nearest(said, RELATIONS)),
    };
    match meant {
        Some(meant) => error.help(format!("did you mean `{meant}`?")),
        None => error.help(
            "such as `at most`, `at least`, `between`, `is`, `no worse than` or `up by at least`",
        ),
    }
}

fn choice(
    cursor: &mut Cursor<'_, '_>,
    words: &str,
    choices: &[Key],
    measure: &Measure,
    from: usize,
    parts: &mut Parts,
) -> Result<Relation, SentenceError> {
    let mut words = words;
    let mut found = cursor.eat_longest(choices.iter().map(|choice| &**choice));
    if words == "is not" {
        // A choice may itself begin with `not`: `is` followed by it is the longer reading.
        let after = cursor.at();
        cursor.go(from + 1);
        match cursor.eat_longest(choices.iter().map(|choice| &**choice)) {
            Some(longer) => (words, found) = ("is", Some(longer)),
            None => cursor.go(after),
        }
    }
    let Some(choice) = found.and_then(|at| u16::try_from(at).ok()).map(ChoiceIx) else {
        let said: Vec<&str> = cursor.rest().iter().map(|word| word.text).collect();
        let first = said.first().copied().unwrap_or_default();
        let all = || choices.iter().map(|choice| &**choice);
        let whole = nearest(&said.join(" "), all());
        let span = if whole.is_some() {
            cursor.span_rest()
        } else {
            cursor.span_here()
        };
        let listed: Vec<&str> = all().collect();
        let message = format!("not a choice of `{}`", measure.name);
        return Err(SentenceError::new(Code::Choice, span, message)
            .label(format!("one of {}", crate::read::fields::listed(&listed)))
            .did_you_mean(whole.or_else(|| nearest(first, all()))));
    };
    parts.relation = cursor.span_from(from);
    Ok(match words {
        "is" => Relation::Is(choice),
        "is not" => Relation::IsNot(choice),
        _ => Relation::NoWorseThan(choice),
    })
}

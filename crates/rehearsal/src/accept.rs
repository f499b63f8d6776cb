//! A diary's expectations written anew, where the decisions differ from them. Comments and layout stay.
//!
//! Only what a day already expects is rewritten: what it does not name stays unnamed. A day that is repeated has one
//! expectation for several decisions and is left as it is.
//!
//! Leaves to others: finding the differences (`crate::play`), reading and writing files.

use crate::play::{Asked, Difference, Field, NOTHING, Played, causes, named, reviews};
use rungwise_pack::decimal;
use rungwise_pack::quantity::Key;
use toml_edit::{Array, DocumentMut, Item, TableLike, Value};

/// A diary with its expectations written anew.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Accepted {
    /// The file's text.
    pub text: String,
    /// Lines of days that still differ.
    pub left: Vec<Left>,
}

/// A day whose expectation was left as it is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Left {
    /// The day's line in the file, from 1.
    pub line: usize,
    /// Why.
    pub why: WhyLeft,
}

/// Why an expectation was left as it is.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum WhyLeft {
    /// The day is repeated.
    #[error(
        "the day is repeated, and one expectation cannot say what each repetition decides; write it out"
    )]
    Repeated,
    /// A fact of the diary was refused; what would be accepted is a course that never was.
    #[error("a fact of this diary was refused; put that right first")]
    Refused,
    /// Its place in the file was not found.
    #[error("the expectation was not found in the file")]
    NotFound,
}

/// Writes the expectations of a diary's text anew from how it was played. None where the text is not TOML; it is the
/// text that was read before, so it is.
#[must_use]
pub fn accept(text: &str, played: &Played) -> Option<Accepted> {
    let mut document: DocumentMut = text.parse().ok()?;
    let mut left = Vec::new();
    for asked in &played.asked {
        if asked.differences.is_empty() {
            continue;
        }
        let why = if !played.refused.is_empty() {
            Some(WhyLeft::Refused)
        } else if played
            .asked
            .iter()
            .filter(|one| one.day == asked.day)
            .count()
            > 1
        {
            Some(WhyLeft::Repeated)
        } else if rewrite(&mut document, asked).is_none() {
            Some(WhyLeft::NotFound)
        } else {
            None
        };
        if let Some(why) = why {
            let one = Left {
                line: asked.line,
                why,
            };
            if !left.contains(&one) {
                left.push(one);
            }
        }
    }
    Some(Accepted {
        text: document.to_string(),
        left,
    })
}

fn rewrite(document: &mut DocumentMut, asked: &Asked) -> Option<()> {
    let day = day(document, asked.day)?;
    let expect = day.get_mut("expect")?.as_table_like_mut()?;
    for difference in &asked.differences {
        change(expect, asked, difference)?;
    }
    Some(())
}

fn day(document: &mut DocumentMut, at: usize) -> Option<&mut dyn TableLike> {
    match document.get_mut("day")? {
        Item::ArrayOfTables(days) => days.get_mut(at).map(|day| -> &mut dyn TableLike { day }),
        Item::Value(Value::Array(days)) => {
            let day = days.get_mut(at)?.as_inline_table_mut()?;
            Some(day)
        }
        _ => None,
    }
}

fn change(expect: &mut dyn TableLike, asked: &Asked, difference: &Difference) -> Option<()> {
    let got = difference.got.as_str();
    match &difference.what {
        Field::Outcome => set(expect, "outcome", got.into()),
        Field::Phase => set_or_remove(expect, "phase", got),
        Field::Move(line) => set_or_remove(inner(expect, "moves")?, line, got),
        Field::Place(line) => set_or_remove(inner(expect, "places")?, line, got),
        Field::Dose(exercise, variable) => {
            let doses = inner(expect, "doses")?;
            let dose = inner(doses, exercise)?;
            match number(asked, difference) {
                Some(number) => set(dose, variable.word(), number),
                None => set_or_remove(dose, variable.word(), got),
            }
            if dose.is_empty() {
                doses.remove(exercise);
            }
        }
        Field::Absent(exercise) => {
            take_out(expect.get_mut("absent")?.as_array_mut()?, exercise);
        }
        Field::Because(rule) => {
            let list = expect.get_mut("because")?.as_array_mut()?;
            take_out(list, rule);
            if list.is_empty() {
                causes_instead(list, asked);
            }
        }
        Field::Reviews => {
            let rules = reviews(&asked.decision).into_iter();
            let rules: Array = rules.map(|rule| Value::from(&**rule)).collect();
            set(expect, "reviews", Value::Array(rules));
        }
    }
    for key in ["moves", "places", "doses"] {
        let empty = expect.get(key).and_then(Item::as_table_like);
        if empty.is_some_and(TableLike::is_empty) {
            expect.remove(key);
        }
    }
    for key in ["absent", "because"] {
        let empty = expect.get(key).and_then(Item::as_array);
        if empty.is_some_and(Array::is_empty) {
            expect.remove(key);
        }
    }
    Some(())
}

/// Takes a text out of a list. What comes first then stands where the first stood, unless a comment stands before it.
fn take_out(list: &mut Array, text: &str) {
    let first = list.get(0).and_then(|one| one.decor().prefix().cloned());
    list.retain(|one| one.as_str() != Some(text));
    if let (Some(now), Some(first)) = (list.get_mut(0), first) {
        let stands = now.decor().prefix().and_then(|prefix| prefix.as_str());
        if stands.is_none_or(|stands| stands.trim().is_empty()) {
            now.decor_mut().set_prefix(first);
        }
    }
}

/// The rules and limits that decided the outcome; where none did, those that decided a line.
fn causes_instead(list: &mut Array, asked: &Asked) {
    let of_outcome: Vec<&Key> = asked.decision.because.iter().filter_map(named).collect();
    let all = if of_outcome.is_empty() {
        causes(&asked.decision)
    } else {
        of_outcome
    };
    list.extend(all.into_iter().map(|key| Value::from(&**key)));
}

/// What was got as a number, where it is one in the file too: labels stay strings, though they look like numbers.
fn number(asked: &Asked, difference: &Difference) -> Option<Value> {
    let Field::Dose(exercise, variable) = &difference.what else {
        return None;
    };
    let dose = asked
        .prescribed
        .iter()
        .find(|one| one.exercise == *exercise)?;
    let (_, value) = dose.dose.iter().find(|(of, _)| of == variable)?;
    let rungwise_pack::model::RowValue::Number(number) = value else {
        return None;
    };
    decimal::parse(&number.to_string()).ok()?;
    number.to_string().parse().ok()
}

fn inner<'t>(table: &'t mut dyn TableLike, key: &str) -> Option<&'t mut dyn TableLike> {
    table.get_mut(key)?.as_table_like_mut()
}

fn set_or_remove(table: &mut dyn TableLike, key: &str, got: &str) {
    if got == NOTHING {
        table.remove(key);
    } else {
        set(table, key, got.into());
    }
}

/// Puts a value in another's place, with the white space and comments around it.
fn set(table: &mut dyn TableLike, key: &str, mut new: Value) {
    if let Some(old) = table.get_mut(key).and_then(Item::as_value_mut) {
        *new.decor_mut() = old.decor().clone();
        *old = new;
    } else {
        table.insert(key, Item::Value(new));
    }
}

#[cfg(test)]
mod tests;

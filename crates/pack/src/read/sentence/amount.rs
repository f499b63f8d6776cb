//! Numbers, counts, units, and what a value is compared with.

use super::parse::measure;
use super::words::Cursor;
use super::{AmountPart, Names, Parts, SentenceError};
use crate::decimal::{self, DecimalError};
use crate::diagnostic::Code;
use crate::model::{Amount, ChangeBy, Measure, MeasureKind};
use crate::quantity::{Dimension, Milli, Unit};
use crate::read::COUNT_MAX;
use crate::unit;

/// Words that may follow an amount, so that none of them is taken for a unit.
const AFTER: [&str; 9] = [
    "in", "on", "at", "over", "since", "compared", "and", "above", "below",
];

/// A number exactly as written.
pub(super) fn number(cursor: &mut Cursor<'_, '_>) -> Result<Milli, SentenceError> {
    let span = cursor.span_here();
    let Some(word) = cursor.peek() else {
        return Err(SentenceError::new(
            Code::Number,
            span,
            "the sentence ends where a number must stand",
        )
        .label("after this"));
    };
    match decimal::parse(word.text) {
        Ok(number) => {
            cursor.next();
            Ok(number)
        }
        Err(DecimalError::Malformed) => Err(not_a_number(word.text, span)),
        Err(error) => Err(SentenceError::new(
            Code::NotExact,
            span,
            format!("`{}` is {error}", word.text),
        )
        .help("numbers are exact thousandths; write at most three digits after the point")),
    }
}

fn not_a_number(said: &str, span: std::ops::Range<usize>) -> SentenceError {
    let error = SentenceError::new(Code::Number, span, format!("`{said}` is no number"));
    let digits = said.find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | '-' | '+'));
    match digits.and_then(|at| said.split_at_checked(at)) {
        Some((number, unit)) if decimal::parse(number).is_ok() => {
            let mut error = error.help("write a space between a number and its unit");
            error.replacement = Some(format!("{number} {unit}"));
            error
        }
        _ => error.label("here a number must stand"),
    }
}

/// A count from 1.
pub(super) fn count(cursor: &mut Cursor<'_, '_>) -> Result<u16, SentenceError> {
    let span = cursor.span_here();
    let number = number(cursor)?;
    let whole = (number.0 % 1000 == 0).then_some(number.0 / 1000);
    let count = whole.and_then(|whole| u16::try_from(whole).ok());
    count
        .filter(|count| *count > 0 && u32::from(*count) <= COUNT_MAX)
        .ok_or_else(|| {
            SentenceError::new(Code::Count, span, format!("{number} is no count"))
                .label(format!("a whole number from 1 to {COUNT_MAX}"))
        })
}

/// A unit, unless the next word begins something else.
fn unit(
    cursor: &mut Cursor<'_, '_>,
) -> Result<Option<(Unit, std::ops::Range<usize>)>, SentenceError> {
    let Some(word) = cursor.peek() else {
        return Ok(None);
    };
    // A number is no unit, though `1` is a UCUM code: whatever it is there for, it is not the unit of another number.
    if AFTER.contains(&word.text) || decimal::parse(word.text).is_ok() {
        return Ok(None);
    }
    let span = word.span.clone();
    let Some(unit) = unit::find(word.text) else {
        let near = unit::meant(word.text);
        // A word that is like no unit, with others after it that end no amount, is a window gone wrong.
        let after = cursor.rest().get(1);
        if near.is_none() && after.is_some_and(|next| !AFTER.contains(&next.text)) {
            return Ok(None);
        }
        return Err(SentenceError::new(
            Code::SentenceUnit,
            span,
            format!("`{}` is not a UCUM unit known here", word.text),
        )
        .label("a unit or a window may stand here")
        .did_you_mean(near));
    };
    cursor.next();
    Ok(Some((unit, span)))
}

/// An amount.
pub(super) fn amount(
    cursor: &mut Cursor<'_, '_>,
    names: Names<'_>,
    parts: &mut Parts,
) -> Result<Amount, SentenceError> {
    let from = cursor.at();
    let number = number(cursor)?;
    let mut part = AmountPart::default();
    let amount = if cursor.eat("% of the other side") {
        Amount::PercentOfOtherSide(number)
    } else if cursor.eat("% of") {
        let from = cursor.at();
        let (other, _) = measure(cursor, names)?;
        part.measure = Some(cursor.span_from(from));
        Amount::PercentOf(number, other)
    } else {
        part.unit = unit(cursor)?;
        let above = cursor.eat("above");
        if above || cursor.eat("below") {
            let from = cursor.at();
            let (other, _) = measure(cursor, names)?;
            part.measure = Some(cursor.span_from(from));
            Amount::Offset(if above { number } else { Milli(-number.0) }, other)
        } else {
            Amount::Fixed(number)
        }
    };
    part.whole = cursor.span_from(from);
    parts.amounts.push(part);
    Ok(amount)
}

/// By how much a value moved.
pub(super) fn change(
    cursor: &mut Cursor<'_, '_>,
    measure: &Measure,
    parts: &mut Parts,
) -> Result<ChangeBy, SentenceError> {
    let from = cursor.at();
    let number = number(cursor)?;
    let in_percent = matches!(&measure.kind, MeasureKind::Number { unit, .. } if unit.dimension == Dimension::Percent);
    let mut part = AmountPart::default();
    let by = if !in_percent && cursor.eat("%") {
        ChangeBy::Percent(number)
    } else {
        part.unit = unit(cursor)?;
        ChangeBy::Units(number)
    };
    part.whole = cursor.span_from(from);
    parts.amounts.push(part);
    Ok(by)
}

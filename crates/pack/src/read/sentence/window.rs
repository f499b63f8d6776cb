//! Windows and references.

use super::amount::count;
use super::words::Cursor;
use super::{Parts, SentenceError};
use crate::diagnostic::Code;
use crate::model::{Reference, Span, Stat, Window};
use crate::suggest::nearest;

const WINDOWS: [&str; 9] = [
    "in the last session",
    "in each of the last",
    "in any of the last",
    "in at least",
    "on at least",
    "on average",
    "at worst",
    "at best",
    "in total",
];

const REFERENCES: [&str; 5] = [
    "since the first assessment",
    "since the assessment before",
    "since the best assessment",
    "since entering the phase",
    "compared with the",
];

/// A window, or the latest value where nothing is left.
pub(super) fn window(
    cursor: &mut Cursor<'_, '_>,
    parts: &mut Parts,
) -> Result<Window, SentenceError> {
    if cursor.is_done() {
        return Ok(Window::Latest);
    }
    let from = cursor.at();
    let Some(found) = cursor.eat_longest(WINDOWS.iter().copied()) else {
        return Err(no_window(cursor));
    };
    let window = match WINDOWS.get(found).copied().unwrap_or_default() {
        "in the last session" => Window::LastSession,
        "in each of the last" => Window::EachOfLast(counted(cursor, "sessions")?),
        "in any of the last" => Window::AnyOfLast(counted(cursor, "sessions")?),
        "in at least" => {
            let (k, n) = of_last(cursor, "sessions")?;
            Window::SessionsOfLast { k, n }
        }
        "on at least" => {
            let (k, n) = of_last(cursor, "days")?;
            Window::DaysOfLast { k, n }
        }
        "on average" => Window::Over(Stat::Average, span(cursor)?),
        "at worst" => Window::Over(Stat::Worst, span(cursor)?),
        "at best" => Window::Over(Stat::Best, span(cursor)?),
        _ => Window::Over(Stat::Total, span(cursor)?),
    };
    parts.window = Some(cursor.span_from(from));
    Ok(window)
}

fn no_window(cursor: &Cursor<'_, '_>) -> SentenceError {
    let said: Vec<&str> = cursor.rest().iter().map(|word| word.text).collect();
    let error = SentenceError::new(
        Code::Window,
        cursor.span_rest(),
        format!("`{}` is no window", said.join(" ")),
    );
    let start = |count: usize| {
        said.iter()
            .take(count)
            .copied()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let near = (2..=5)
        .rev()
        .find_map(|count| nearest(&start(count), WINDOWS));
    match near {
        Some(near) => error.help(format!("did you mean `{near} …`?")),
        None => error
            .help("such as `in each of the last 3 sessions` or `on average over the last 7 days`"),
    }
}

/// `n` and its word.
fn counted(cursor: &mut Cursor<'_, '_>, what: &str) -> Result<u16, SentenceError> {
    let count = count(cursor)?;
    word(cursor, what)?;
    Ok(count)
}

fn word(cursor: &mut Cursor<'_, '_>, what: &str) -> Result<(), SentenceError> {
    if cursor.eat(what) {
        return Ok(());
    }
    let near = cursor.peek().and_then(|word| nearest(word.text, [what]));
    let error = SentenceError::new(
        Code::Window,
        cursor.span_here(),
        format!("no `{what}` where the window wants it"),
    );
    Err(if near.is_some() {
        error.did_you_mean(near)
    } else {
        error
    })
}

/// `k "of the last" n` and its word.
fn of_last(cursor: &mut Cursor<'_, '_>, what: &str) -> Result<(u16, u16), SentenceError> {
    let from = cursor.at();
    let k = count(cursor)?;
    word(cursor, "of the last")?;
    let n = counted(cursor, what)?;
    if k > n {
        return Err(SentenceError::new(
            Code::Count,
            cursor.span_from(from),
            format!("{k} of {n} cannot be"),
        ));
    }
    Ok((k, n))
}

fn span(cursor: &mut Cursor<'_, '_>) -> Result<Span, SentenceError> {
    if cursor.eat("since entering the phase") {
        return Ok(Span::SincePhase);
    }
    if !cursor.eat("over the last") {
        return Err(SentenceError::new(
            Code::Window,
            cursor.span_here(),
            "no span after the statistic",
        )
        .help("such as `over the last 7 days` or `since entering the phase`"));
    }
    let count = u32::from(count(cursor)?);
    if cursor.eat("weeks") {
        return Ok(Span::Days(count * 7));
    }
    word(cursor, "days")?;
    Ok(Span::Days(count))
}

/// A reference.
pub(super) fn reference(
    cursor: &mut Cursor<'_, '_>,
    parts: &mut Parts,
) -> Result<Reference, SentenceError> {
    let from = cursor.at();
    let Some(found) = cursor.eat_longest(REFERENCES.iter().copied()) else {
        let said: Vec<&str> = cursor.rest().iter().take(4).map(|word| word.text).collect();
        let error = SentenceError::new(
            Code::Reference,
            cursor.span_here(),
            "no reference after the change",
        )
        .label("since when?");
        return Err(match nearest(&said.join(" "), REFERENCES) {
            Some(near) => error.help(format!("did you mean `{near}`?")),
            None => error
                .help("such as `since the first assessment` or `compared with the 14 days before`"),
        });
    };
    let reference = match REFERENCES.get(found).copied().unwrap_or_default() {
        "since the first assessment" => Reference::FirstAssessment,
        "since the assessment before" => Reference::AssessmentBefore,
        "since the best assessment" => Reference::BestAssessment,
        "since entering the phase" => Reference::PhaseEntry,
        _ => Reference::DaysBefore(u32::from(counted(cursor, "days before")?)),
    };
    parts.reference = Some(cursor.span_from(from));
    Ok(reference)
}

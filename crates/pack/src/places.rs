//! Where a sound pack's sentences and numbers stand in its files, for tools that point at them or try other numbers.
//!
//! A number's neighbours are one step of its measure away (a count's: one; a place's on a ladder: the next value of the
//! row). A measure that is worked out has no declared step: there it is one in the last decimal place that the number has,
//! and of a share done what one session is of it, since nothing between can come about. Whether a pack with a neighbour in
//! its place is sound is for the checker to say, as of any other edit.
//!
//! Leaves to others: judging the pack (`crate::check`), trying other numbers (`rungwise-rehearsal`).

use crate::check::{Site, Sites};
use crate::decimal;
use crate::model::{
    Amount, ChangeBy, Computed, Measure, MeasureKind, Origin, Over, Pack, Reference, Relation,
    RowValue, Sentence, SentenceIx, Subject, Which, Window,
};
use crate::quantity::{Milli, Variable};
use crate::source::{Lines, Location, SourceFiles};
use std::ops::Range;

/// A stretch of a file.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Default)]
pub struct Place {
    /// The file's name in the pack.
    pub file: String,
    /// Line of the first byte, from 1.
    pub line: usize,
    /// Column of the first byte, in characters, from 1.
    pub column: usize,
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

/// What a number is part of.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum NumberOf {
    /// A sentence.
    Sentence(SentenceIx),
    /// A row of the lay-off table, counted from 0.
    LayOff(usize),
}

/// One number of a rule, a limit, a need, a feature or the lay-off table.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Number {
    /// What it is part of.
    pub of: NumberOf,
    /// Where its digits stand.
    pub place: Place,
    /// Its value as written.
    pub value: Milli,
    /// The number one step below, where there can be one.
    pub lower: Option<Milli>,
    /// The number one step above, where there can be one.
    pub higher: Option<Milli>,
}

/// Where things stand.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Places {
    /// By [`SentenceIx`].
    pub sentences: Vec<Place>,
    /// By [`PhaseIx`](crate::model::PhaseIx): its name.
    pub phases: Vec<Place>,
    /// Every number, in the order of the sentences, then the lay-off table's.
    pub numbers: Vec<Number>,
    /// Sentences whose string has escapes, so that no number in them can be pointed at.
    pub escaped: Vec<SentenceIx>,
}

impl Places {
    pub(crate) fn of(files: &SourceFiles, pack: &Pack, sites: &Sites) -> Self {
        let files: Vec<Lines<'_>> = files.files().iter().map(Lines::of).collect();
        let mut places = Self {
            phases: sites.phases.iter().map(|at| place(&files, *at)).collect(),
            ..Self::default()
        };
        let both = (0u16..)
            .map(SentenceIx)
            .zip(&pack.sentences)
            .zip(&sites.sentences);
        for ((ix, sentence), site) in both {
            places.sentences.push(place(&files, site.text.at));
            if !site.text.is_mapped() {
                places.escaped.push(ix);
                continue;
            }
            for (range, value, step) in numbers(sentence, site) {
                let (lower, higher) = neighbours(pack, sentence, value, step);
                places.numbers.push(Number {
                    of: NumberOf::Sentence(ix),
                    place: place(&files, site.text.part(&range)),
                    value,
                    lower,
                    higher,
                });
            }
        }
        for (row, locations) in sites.lay_off.iter().enumerate() {
            let values = pack.lay_off.get(row).map(|row| {
                [
                    Milli::whole(i64::from(row.days)),
                    Milli::whole(i64::from(row.steps)),
                ]
            });
            for (location, value) in locations.iter().zip(values.iter().flatten()) {
                places.numbers.push(Number {
                    of: NumberOf::LayOff(row),
                    place: place(&files, *location),
                    value: *value,
                    lower: moved(*value, -1000).filter(|lower| lower.0 >= 0),
                    higher: moved(*value, 1000),
                });
            }
        }
        places
    }
}

fn place(files: &[Lines<'_>], at: Location) -> Place {
    files.get(at.file).map_or_else(Place::default, |lines| {
        let (line, column) = lines.line_column(at.start);
        Place {
            file: lines.file.name.clone(),
            line,
            column,
            start: at.start,
            end: at.end,
        }
    })
}

/// What one step is.
#[derive(Clone, Copy)]
enum Step {
    /// A count, from 1.
    Count,
    /// The step of the sentence's own measure.
    Measure,
    /// One per cent.
    Percent,
    /// The next value of a row.
    Row,
}

/// The numbers of a sentence: bytes of its text, value, and what one step is.
fn numbers(sentence: &Sentence, site: &Site) -> Vec<(Range<usize>, Milli, Step)> {
    let text = site.text.text.as_str();
    let parts = &site.parts;
    let mut found = Vec::new();
    let mut add = |range: Option<&Range<usize>>, step: Step, most: usize| {
        let written = range.map_or_else(Vec::new, |range| written(text, range));
        found.extend(
            written
                .into_iter()
                .take(most)
                .map(|(at, value)| (at, value, step)),
        );
    };
    match &sentence.subject {
        Subject::Measure {
            over: Over::AtLeastExercises(_),
            ..
        } => add(parts.quantifier.as_ref(), Step::Count, 1),
        Subject::Measure { .. } => {}
        Subject::Reached { which, value, .. } => {
            if matches!(which, Which::AtLeast(_)) {
                add(Some(&parts.subject), Step::Count, 1);
            }
            if matches!(value, RowValue::Number(_))
                && let Some((at, value)) = written(text, &parts.subject).pop()
            {
                found.push((at, value, Step::Row));
            }
            return found;
        }
    }
    let step = match &sentence.relation {
        Relation::Compare(_, Amount::PercentOf(..) | Amount::PercentOfOtherSide(_))
        | Relation::Change(_, ChangeBy::Percent(_), _) => Step::Percent,
        _ => Step::Measure,
    };
    for amount in &parts.amounts {
        add(Some(&amount.whole), step, 1);
    }
    if let Relation::Change(_, _, Reference::DaysBefore(_)) = sentence.relation {
        add(parts.reference.as_ref(), Step::Count, 1);
    }
    if !matches!(sentence.window, Window::Latest | Window::LastSession) {
        add(parts.window.as_ref(), Step::Count, 2);
    }
    found
}

/// The decimals among the words of a part, in order.
fn written(text: &str, part: &Range<usize>) -> Vec<(Range<usize>, Milli)> {
    let mut found = Vec::new();
    let mut at = part.start;
    for word in text
        .get(part.clone())
        .unwrap_or_default()
        .split(char::is_whitespace)
    {
        let digits = word.trim_end_matches('%');
        if let Ok(value) = decimal::parse(digits) {
            found.push((at..at + digits.len(), value));
        }
        // The white space that a word was split at is one character of its own length.
        at += word.len();
        at += text
            .get(at..)
            .and_then(|rest| rest.chars().next())
            .map_or(0, char::len_utf8);
    }
    found
}

fn neighbours(
    pack: &Pack,
    sentence: &Sentence,
    value: Milli,
    step: Step,
) -> (Option<Milli>, Option<Milli>) {
    let by = match (step, &sentence.subject) {
        (Step::Count, _) => {
            let lower = moved(value, -1000).filter(|lower| lower.0 > 0);
            return (lower, moved(value, 1000));
        }
        (
            Step::Row,
            Subject::Reached {
                which, variable, ..
            },
        ) => {
            let values = row_values(pack, *which, *variable);
            let lower = values.iter().filter(|other| **other < value).max();
            let higher = values.iter().filter(|other| **other > value).min();
            return (lower.copied(), higher.copied());
        }
        (Step::Measure, Subject::Measure { measure, .. }) => {
            match pack
                .measures
                .get(measure.at())
                .and_then(|measure| measure_step(pack, measure, value))
            {
                Some(step) => step.0,
                None => return (None, None),
            }
        }
        _ => 1000,
    };
    (moved(value, -by), moved(value, by))
}

/// One step of a measure from a number; none of a choice.
fn measure_step(pack: &Pack, measure: &Measure, from: Milli) -> Option<Milli> {
    let MeasureKind::Number { step, .. } = &measure.kind else {
        return None;
    };
    match &measure.origin {
        Origin::Computed(Computed::ShareDone { days }) => Some(session_share(pack, *days)),
        Origin::Computed(_) | Origin::Combined(_) => Some((*step).max(last_place(from))),
        Origin::Reported | Origin::Defined(_) => Some(*step),
    }
}

/// What one session is of the sessions of so many days, in per cent, where the most are prescribed; rounded up.
fn session_share(pack: &Pack, days: u32) -> Milli {
    let a_week = pack.phases.iter().map(|phase| phase.sessions_a_week).max();
    let asked = i64::from(a_week.unwrap_or(1)).saturating_mul(i64::from(days));
    let share = Milli::whole(700);
    Milli(
        share
            .0
            .saturating_add(asked - 1)
            .checked_div(asked)
            .unwrap_or(share.0),
    )
}

/// One in the last decimal place that a number has.
const fn last_place(value: Milli) -> Milli {
    Milli(match value.0 {
        whole if whole % 1000 == 0 => 1000,
        tenths if tenths % 100 == 0 => 100,
        hundredths if hundredths % 10 == 0 => 10,
        _ => 1,
    })
}

fn moved(value: Milli, by: i64) -> Option<Milli> {
    value.0.checked_add(by).map(Milli)
}

/// The numbers of a variable's rows: of one exercise, or of any.
fn row_values(pack: &Pack, which: Which, variable: Variable) -> Vec<Milli> {
    let exercises = (0u16..).zip(&pack.exercises);
    let exercises = exercises.filter(|(at, _)| match which {
        Which::One(one) => one.0 == *at,
        Which::AtLeast(_) => true,
    });
    let rows = exercises.flat_map(|(_, exercise)| &exercise.rows);
    let rows = rows.filter(|row| row.variable == variable);
    rows.flat_map(|row| &row.values)
        .filter_map(|step| match step.value {
            RowValue::Number(number) => Some(number),
            RowValue::Label(_) => None,
        })
        .collect()
}

#[cfg(test)]
mod tests;

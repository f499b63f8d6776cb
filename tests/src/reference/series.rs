//! The values of a measure in the order in which they happened, one for each fact that should carry it.
//!
//! Leaves to others: windows over them (`super::sentence`), computed and defined measures (`super::computed`).

use super::combined::Told;
use super::context::{Context, read, told_at};
use super::possible::Possible;
use super::view::{Entry, Morning, SessionAt};
use jiff::civil::Date;
use rungwise_engine::fact::{Done, Position};
use rungwise_pack::model::{Carrier, ExerciseIx, Measure, MeasureIx, Over};

/// What one fact says.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Values {
    /// One value.
    One(Possible),
    /// One for each exercise of the session.
    Each(Vec<(ExerciseIx, Possible)>),
}

/// A fact that should carry the measure.
#[derive(Clone, Debug)]
pub struct Item {
    /// The day that it belongs to: a session's own date also for its morning after.
    pub date: Date,
    /// The session, by its index in the context's list.
    pub session: Option<usize>,
    /// What it says, with what is too old missing.
    pub fresh: Values,
    /// What it says however old it is.
    pub kept: Values,
    /// What the same assessment says of the other side, where that side is sound.
    pub other_side: Option<Possible>,
    /// The record that says it; none where a morning after is missing.
    pub known: Option<Position>,
}

/// The series of a measure as the context's rule reads it.
///
/// # Panics
///
/// For computed and defined measures, which have none.
#[must_use]
pub fn series(ctx: &Context<'_>, measure: MeasureIx, over: Over) -> Vec<Item> {
    let known = ctx.measure(measure);
    match known.carrier {
        Carrier::Assessment => ctx
            .view
            .assessments()
            .into_iter()
            .filter_map(|(entry, assessment)| {
                let other =
                    read(known, &assessment.other_side).filter(|_| assessment.other_side_sound);
                let sound = assessment.other_side_sound;
                let told = Told {
                    readings: &assessment.readings,
                    other_side: if sound { &assessment.other_side } else { &[] },
                    sets: &[],
                };
                from_entry(ctx, known, entry, told.of(ctx.pack(), known), other)
            })
            .collect(),
        Carrier::Screening => ctx
            .view
            .screenings()
            .into_iter()
            .filter_map(|(entry, readings)| {
                from_entry(ctx, known, entry, read(known, readings), None)
            })
            .collect(),
        Carrier::Session | Carrier::MorningAfter | Carrier::Exercise => ctx
            .sessions
            .iter()
            .enumerate()
            .filter(|(_, session)| ctx.counts(session))
            .filter_map(|(at, session)| from_session(ctx, known, at, session, over))
            .collect(),
        Carrier::Nothing => panic!("{} has no series", known.name),
    }
}

fn from_entry(
    ctx: &Context<'_>,
    measure: &Measure,
    entry: &Entry,
    value: Option<Possible>,
    other_side: Option<Possible>,
) -> Option<Item> {
    let value = or_missing(measure, value)?;
    Some(
        item(
            ctx,
            measure,
            entry.fact.date,
            entry.fact.date,
            Values::One(value),
        )
        .told(other_side, Some(entry.known)),
    )
}

/// What is not there is missing where it is expected, else the fact says nothing of the measure.
#[must_use]
pub fn or_missing(measure: &Measure, value: Option<Possible>) -> Option<Possible> {
    value.or_else(|| measure.expected.then(|| Possible::anything(measure)))
}

fn from_session(
    ctx: &Context<'_>,
    measure: &Measure,
    at: usize,
    session: &SessionAt,
    over: Over,
) -> Option<Item> {
    let (said_on, values) = match measure.carrier {
        Carrier::Session => (
            session.date,
            Values::One(or_missing(
                measure,
                read(measure, &session.session.readings),
            )?),
        ),
        Carrier::MorningAfter => morning_value(measure, session)?,
        _ => (session.date, exercise_values(ctx, measure, session, over)?),
    };
    let known = if measure.carrier == Carrier::MorningAfter {
        told_at(session)
    } else {
        Some(session.known)
    };
    let mut item = item(ctx, measure, session.date, said_on, values).told(None, known);
    item.session = Some(at);
    Some(item)
}

fn morning_value(measure: &Measure, session: &SessionAt) -> Option<(Date, Values)> {
    match &session.morning {
        Morning::NotDue => None,
        Morning::Silent => Some((session.date, Values::One(or_missing(measure, None)?))),
        Morning::Told { date, readings, .. } => Some((
            *date,
            Values::One(or_missing(measure, read(measure, readings))?),
        )),
    }
}

fn exercise_values(
    ctx: &Context<'_>,
    measure: &Measure,
    session: &SessionAt,
    over: Over,
) -> Option<Values> {
    let alone = match over {
        Over::Of(exercise) => Some(exercise),
        Over::Plain => ctx.exercise,
        _ => None,
    };
    if let Some(exercise) = alone {
        return Some(Values::One(own_value(ctx, measure, session, exercise)?));
    }
    let each = session_values(ctx, measure, session);
    if each.is_empty() {
        return None;
    }
    if over == Over::Plain {
        let worst = each
            .into_iter()
            .map(|(_, value)| value)
            .reduce(|a, b| a.worse(&b, measure.worse));
        return worst.map(Values::One);
    }
    Some(Values::Each(each))
}

/// An exercise's own value in a session; none where it was not tried or need not say. In enter and discharge rules an
/// exercise that was prescribed and not tried is missing.
#[must_use]
pub fn own_value(
    ctx: &Context<'_>,
    measure: &Measure,
    session: &SessionAt,
    exercise: ExerciseIx,
) -> Option<Possible> {
    let volume = super::volume::recipe(measure).is_some();
    if volume && !super::volume::has(&ctx.pack().exercises[exercise.at()], measure) {
        return None;
    }
    let Some(report) = session.tried(ctx.pack(), exercise) else {
        let missing = ctx.prescribed_too && ctx.prescribed(session).contains(&exercise);
        return if missing {
            or_missing(measure, None)
        } else {
            None
        };
    };
    if volume {
        return Some(super::volume::come_to(ctx, measure, session, exercise));
    }
    let told = Told {
        readings: &report.readings,
        other_side: &[],
        sets: if report.done == Done::Done {
            &report.sets
        } else {
            &[]
        },
    };
    let value = told.of(ctx.pack(), measure);
    if report.done == Done::SkippedForPain {
        return Some(value.unwrap_or_else(|| Possible::worst_end(measure)));
    }
    or_missing(measure, value)
}

/// The values of every exercise tried in a session and, in enter and discharge rules, of those prescribed and not
/// tried, which are missing.
#[must_use]
pub fn session_values(
    ctx: &Context<'_>,
    measure: &Measure,
    session: &SessionAt,
) -> Vec<(ExerciseIx, Possible)> {
    (0..ctx.pack().exercises.len() as u16)
        .map(ExerciseIx)
        .filter_map(|exercise| Some((exercise, own_value(ctx, measure, session, exercise)?)))
        .collect()
}

fn item(ctx: &Context<'_>, measure: &Measure, date: Date, said_on: Date, values: Values) -> Item {
    let missing = Possible::anything(measure);
    let fresh = if !ctx.is_stale(measure, said_on) {
        values.clone()
    } else {
        match &values {
            Values::One(_) => Values::One(missing),
            Values::Each(each) => Values::Each(
                each.iter()
                    .map(|(exercise, _)| (*exercise, missing.clone()))
                    .collect(),
            ),
        }
    };
    Item {
        date,
        session: None,
        fresh,
        kept: values,
        other_side: None,
        known: None,
    }
}

impl Item {
    fn told(self, other_side: Option<Possible>, known: Option<Position>) -> Self {
        Self {
            other_side,
            known,
            ..self
        }
    }
}

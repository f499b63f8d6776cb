//! Measures that no fact reports: computed by a fixed recipe, or defined by other sentences.
//!
//! Leaves to others: sentences (`super::sentence`), which both call this and are called.

use super::context::Context;
use super::possible::{Possible, Ratio};
use super::rule::judge;
use super::view::{days_between, plus_days};
use super::volume::weekly;
use rungwise_engine::decision::RuleVerdict;
use rungwise_engine::fact::{FactKind, Position};
use rungwise_pack::model::{Computed, Defined, ExerciseIx, Measure, Origin, Polarity};
use std::collections::BTreeSet;

/// A worked-out value with the records that it was worked out of; no value where there is nothing to work it out of.
#[derive(Clone, Debug)]
pub struct Worked {
    /// The value.
    pub value: Option<Possible>,
    /// The records read.
    pub read: Vec<Position>,
    /// Whether it is worked out of what was reported (and not of dates alone).
    pub of_facts: bool,
}

impl Worked {
    fn days(days: Option<i64>, read: Vec<Position>) -> Self {
        Self {
            value: days.map(|days| Possible::number(Ratio::whole(days))),
            read,
            of_facts: false,
        }
    }
}

/// The value of a computed or defined measure; `own`: of which exercise, where it is of one.
///
/// # Panics
///
/// For reported and combined measures.
#[must_use]
pub fn work_out(ctx: &Context<'_>, measure: &Measure, own: Option<ExerciseIx>) -> Worked {
    match &measure.origin {
        Origin::Computed(Computed::WeekOnWeek { of, in_total }) => {
            weekly(ctx, measure, *of, *in_total, own)
        }
        Origin::Computed(recipe) => compute(ctx, measure, recipe),
        Origin::Defined(defined) => define(ctx, defined),
        Origin::Reported | Origin::Combined(_) => panic!("a fact says {}", measure.name),
    }
}

fn compute(ctx: &Context<'_>, measure: &Measure, recipe: &Computed) -> Worked {
    let today = ctx.view.today;
    let stay = ctx.state.stay;
    match recipe {
        Computed::DaysSinceLastSession => since_last_session(ctx),
        Computed::SessionsInPhase => {
            let Some((stay, _)) = stay else {
                return Worked::days(None, Vec::new());
            };
            let sessions: Vec<Position> = ctx
                .sessions
                .iter()
                .filter(|session| session.followed_since(stay))
                .filter(|session| ctx.polarity == Polarity::Cautious || ctx.counts(session))
                .map(|session| session.known)
                .collect();
            Worked::days(Some(sessions.len() as i64), sessions)
        }
        Computed::DaysInPhase => {
            Worked::days(stay.map(|(_, date)| days_between(date, today)), Vec::new())
        }
        Computed::WeeksInPhase => Worked::days(
            stay.map(|(_, date)| days_between(date, today) / 7),
            Vec::new(),
        ),
        Computed::WeeksInCare => Worked::days(
            Some(days_between(ctx.view.episode.opened_on, today) / 7),
            Vec::new(),
        ),
        Computed::ShareDone { days } => share_done(ctx, i64::from(*days)),
        Computed::DaysSinceDoseChanged => {
            let changed = ctx
                .state
                .places
                .iter()
                .filter(|place| {
                    ctx.exercise
                        .is_none_or(|own| ctx.pack().exercises[own.at()].key == place.exercise)
                })
                .map(|place| ctx.view.date_of(place.set_anew))
                .max();
            Worked::days(changed.map(|date| days_between(date, today)), Vec::new())
        }
        Computed::Age => match ctx.view.episode.born_on {
            Some(born) => {
                let before_birthday = (today.month(), today.day()) < (born.month(), born.day());
                let years = today.year() - born.year() - i16::from(before_birthday);
                Worked::days(Some(i64::from(years)), Vec::new())
            }
            None => Worked {
                value: Some(Possible::anything(measure)),
                read: Vec::new(),
                of_facts: false,
            },
        },
        Computed::DaysSince(event) => since_event(ctx, event, 1),
        Computed::WeeksSince(event) => since_event(ctx, event, 7),
        Computed::WeekOnWeek { .. } => panic!("{} is of an exercise", measure.name),
    }
}

fn since_last_session(ctx: &Context<'_>) -> Worked {
    let Some(began) = ctx.state.began else {
        return Worked::days(None, Vec::new());
    };
    match ctx.sessions.last() {
        Some(last) => Worked::days(
            Some(days_between(last.date, ctx.view.today)),
            vec![last.known],
        ),
        None => Worked {
            of_facts: true,
            ..Worked::days(Some(days_between(began, ctx.view.today)), Vec::new())
        },
    }
}

fn since_event(ctx: &Context<'_>, event: &str, divisor: i64) -> Worked {
    let latest = ctx
        .view
        .entries
        .iter()
        .filter(|entry| matches!(&entry.fact.kind, FactKind::Event(kind) if **kind == *event))
        .max_by_key(|entry| (entry.fact.date, entry.position));
    match latest {
        Some(entry) => {
            let days = days_between(entry.fact.date, ctx.view.today);
            Worked::days(Some(days / divisor), vec![entry.known])
        }
        None => Worked {
            value: Some(Possible::Never),
            read: Vec::new(),
            of_facts: true,
        },
    }
}

fn share_done(ctx: &Context<'_>, days: i64) -> Worked {
    let today = ctx.view.today;
    let (Some(began), Some(phase)) = (ctx.state.began, ctx.phase()) else {
        return Worked::days(None, Vec::new());
    };
    if days_between(began, today) < days {
        return Worked::days(None, Vec::new());
    }
    let window: Vec<_> = (0..days).map(|back| plus_days(today, -back)).collect();
    let due = window
        .iter()
        .filter(|day| **day > began && !ctx.view.away(**day))
        .count();
    let a_week = usize::from(ctx.pack().phases[phase.at()].sessions_a_week);
    if due == 0 || a_week == 0 {
        return Worked::days(None, Vec::new());
    }
    let done: Vec<Position> = ctx
        .sessions
        .iter()
        .filter(|session| window.contains(&session.date))
        .map(|session| session.known)
        .collect();
    let share = Ratio::whole(100 * 7 * done.len() as i64).over(a_week * due);
    let value = share.min(Ratio::whole(100));
    Worked {
        value: Some(Possible::number(value)),
        read: done,
        of_facts: true,
    }
}

fn define(ctx: &Context<'_>, defined: &Defined) -> Worked {
    let cautious = Context {
        polarity: Polarity::Cautious,
        counted: super::context::Counted::Everything,
        exercise: None,
        prescribed_too: false,
        ..ctx.clone()
    };
    let mut read = Vec::new();
    let mut met = 0;
    let mut open = BTreeSet::new();
    for (choice, criterion) in &defined.features {
        let judged = judge(&cautious, criterion);
        read.extend(judged.read);
        match judged.verdict {
            RuleVerdict::Met => met = met.max(choice.0),
            RuleVerdict::InDoubt => {
                open.insert(choice.0);
            }
            RuleVerdict::NotMet => {}
        }
    }
    let mut choices: BTreeSet<u16> = open.into_iter().filter(|choice| *choice > met).collect();
    choices.insert(met);
    Worked {
        value: Some(Possible::Choices(choices)),
        read,
        of_facts: true,
    }
}

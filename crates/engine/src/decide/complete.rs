//! Whether the newest sessions say everything that the limits read.
//!
//! Leaves to others: whether they were over a limit (`super::limit`).

use super::case::Case;
use super::limit::{Whose, own, sentence, shared, whose};
use crate::evaluate::{Reader, Scope, Tap, View};
use crate::fact::Done;
use crate::history::{Exercised, SessionFact, value_in};
use rungwise_pack::model::{
    Amount, Carrier, Criterion, ExerciseIx, Limit, MeasureIx, Origin, Pack, PhaseIx, Relation,
    Sentence, Subject,
};
use rungwise_pack::quantity::Key;
use smallvec::SmallVec;

/// How many exercises a session usually has.
const MEMBERS_USUAL: usize = 8;

/// Whether the newest sessions say all that the limits read.
///
/// The newest counted one must carry what a session carries. The newest whose morning-after is due or reported must carry
/// what that carries, whether it counts or not: a step taken since must not make up for a morning that nobody told of.
/// `exercise`: only this exercise's limits are asked, not those of every exercise done; its own newest such session is
/// looked at as well as the newest of all.
///
/// # Errors
/// A measure that is not carried.
pub(crate) fn complete(
    case: &Case<'_>,
    scope: Scope,
    exercise: Option<ExerciseIx>,
) -> Result<(), Key> {
    let tap = Tap::default();
    let view = case.view();
    let Some((_, newest)) = Reader::new(view, scope, &tap).sessions_back(None).next() else {
        return Ok(());
    };
    carries(case, newest, exercise, false)?;
    let came = |sessions_of: Option<ExerciseIx>| {
        let any = Scope {
            from: None,
            sessions_of,
            ..scope
        };
        let reader = Reader::new(view, any, &tap);
        let mut back = reader.sessions_back(None);
        back.find(|(at, session)| reader.morning_came(*at, session))
    };
    let of_all = came(None);
    let own = scope.sessions_of.and_then(|own| came(Some(own)));
    let own = own.filter(|(at, _)| of_all.is_none_or(|(of_all, _)| of_all != *at));
    for (_, session) in own.into_iter().chain(of_all) {
        carries(case, session, exercise, true)?;
    }
    Ok(())
}

fn carries(
    case: &Case<'_>,
    session: &SessionFact,
    exercise: Option<ExerciseIx>,
    morning: bool,
) -> Result<(), Key> {
    let view = case.view();
    let pack = view.pack;
    let mut lacking: Option<MeasureIx> = None;
    let mut ask = |measure: MeasureIx, of: Option<&Exercised>| {
        if lacking.is_none() && !carried(view, session, measure, of, morning) {
            lacking = Some(measure);
        }
    };
    let counts =
        |done: &&Exercised| done.counts() && exercise.is_none_or(|only| only == done.exercise);
    let members = session.exercises.iter().filter(counts);
    // Reported under two of its names, an exercise is read as it was reported first.
    let members: SmallVec<[&Exercised; MEMBERS_USUAL]> = members
        .filter_map(|done| session.exercise(done.exercise))
        .collect();
    let asked = case.asked_by_limits();
    let asked = if morning {
        &asked.next_morning
    } else {
        &asked.at_session
    };
    for (measure, one) in asked {
        if one.is_some_and(|one| members.iter().all(|member| member.exercise != one)) {
            continue;
        }
        let of = pack.measures.get(measure.at());
        if of.is_some_and(|of| of.carrier == Carrier::Exercise) {
            for member in &members {
                ask(*measure, Some(member));
            }
        } else {
            ask(*measure, None);
        }
    }
    for member in &members {
        for limit in own(pack, member.exercise) {
            measures_of(pack, limit, &mut |measure| ask(measure, Some(member)));
        }
    }
    match lacking.and_then(|measure| pack.measures.get(measure.at())) {
        Some(measure) => Err(measure.name.clone()),
        None => Ok(()),
    }
}

/// Every reported measure that the pack's and the phase's limits read, once each, with the one exercise that its limit
/// holds for, where it is one's.
#[derive(Default)]
pub(crate) struct Asked {
    /// Those of a session itself and of its exercises.
    at_session: Vec<(MeasureIx, Option<ExerciseIx>)>,
    /// Those of the morning after.
    next_morning: Vec<(MeasureIx, Option<ExerciseIx>)>,
}

/// What the pack's and the phase's limits ask of a session.
pub(crate) fn asked(pack: &Pack, phase: Option<PhaseIx>) -> Asked {
    let mut asked = Asked::default();
    for limit in shared(pack, phase) {
        let one = match whose(pack, limit) {
            Whose::One(of) => Some(of),
            Whose::Each | Whose::Person => None,
        };
        measures_of(pack, limit, &mut |measure| {
            let of = pack.measures.get(measure.at()).map(|of| of.carrier);
            let found = match of {
                Some(Carrier::Session | Carrier::Exercise) => &mut asked.at_session,
                Some(Carrier::MorningAfter) => &mut asked.next_morning,
                _ => return,
            };
            if !found.contains(&(measure, one)) {
                found.push((measure, one));
            }
        });
    }
    asked
}

/// Whether a session carries a measure: one of its morning-after where `morning`, else one of the session itself.
fn carried(
    view: View<'_>,
    session: &SessionFact,
    ix: MeasureIx,
    of: Option<&Exercised>,
    morning: bool,
) -> bool {
    let Some(measure) = view.pack.measures.get(ix.at()) else {
        return false;
    };
    match (measure.carrier, of) {
        (Carrier::Session, _) if !morning => value_in(&session.values, ix).is_some(),
        (Carrier::Exercise, Some(of)) if !morning => {
            of.done == Done::SkippedForPain || value_in(&of.values, ix).is_some()
        }
        (Carrier::MorningAfter, _) if morning => session
            .mornings
            .iter()
            .any(|one| view.sees(one.date, one.known) && value_in(&one.values, ix).is_some()),
        _ => true,
    }
}

/// Calls `each` with every reported measure that a limit reads, its condition's included.
fn measures_of(pack: &Pack, limit: &Limit, each: &mut dyn FnMut(MeasureIx)) {
    if let Some(sentence) = sentence(pack, limit) {
        measures_in(pack, sentence, 0, each);
    }
    if let Some(condition) = &limit.condition {
        measures_under(pack, condition, 0, each);
    }
}

/// How deep defined measures are followed.
const DEPTH_MAX: u8 = 8;

fn measures_under(pack: &Pack, criterion: &Criterion, depth: u8, each: &mut dyn FnMut(MeasureIx)) {
    criterion.each_sentence(&mut |ix| {
        if let Some(sentence) = pack.sentences.get(ix.at()) {
            measures_in(pack, sentence, depth, each);
        }
    });
}

fn measures_in(pack: &Pack, sentence: &Sentence, depth: u8, each: &mut dyn FnMut(MeasureIx)) {
    let mut one = |ix: MeasureIx| match pack.measures.get(ix.at()).map(|measure| &measure.origin) {
        Some(Origin::Defined(defined)) if depth < DEPTH_MAX => {
            for (_, feature) in &defined.features {
                measures_under(pack, feature, depth.saturating_add(1), each);
            }
        }
        _ => each(ix),
    };
    if let Subject::Measure { measure, .. } = &sentence.subject {
        one(*measure);
    }
    let mut amount = |amount: &Amount| {
        if let Amount::Offset(_, ix) | Amount::PercentOf(_, ix) = amount {
            one(*ix);
        }
    };
    match &sentence.relation {
        Relation::Compare(_, of) => amount(of),
        Relation::Between(from, to) => {
            amount(from);
            amount(to);
        }
        Relation::Is(_)
        | Relation::IsNot(_)
        | Relation::NoWorseThan(_)
        | Relation::Change(..)
        | Relation::Reached => {}
    }
}

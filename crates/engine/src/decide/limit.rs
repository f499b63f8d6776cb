//! Limits: whether a session was over one, whether that is new, and whether a session says all that the limits read.
//!
//! Leaves to others: what being over moves (`super::lines`).

use super::case::Case;
use crate::decision::Verdict;
use crate::evaluate::{Context, Possible, Reader, Scope, Tap, View, of_sessions};
use crate::fact::{DecisionNo, Done};
use crate::history::SessionFact;
use jiff::civil::Date;
use rungwise_pack::model::{
    Carrier, ExerciseIx, Limit, Over, Pack, PhaseIx, Polarity, Sentence, Subject,
};
use rungwise_pack::quantity::Key;

/// What a session says of the limits.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) enum Judged {
    /// Over this limit (none: skipped for pain).
    Over(Option<Key>),
    /// A missing value decides: the session neither makes nor breaks a run.
    Unknown,
    /// Within every limit.
    Within,
}

/// An exercise's run of over-limit sessions.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) enum Run {
    /// No new session was over.
    None,
    /// A new one was.
    Once(Option<Key>, (Date, u8)),
    /// A new one was, and the one before it too.
    Twice(Option<Key>, (Date, u8)),
}

/// Whose a limit is.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Whose {
    /// Of every exercise done.
    Each,
    /// Of one exercise.
    One(ExerciseIx),
    /// Of the person.
    Person,
}

const LIMIT: Scope = Scope {
    polarity: Polarity::Cautious,
    exercise: None,
    sessions_of: None,
    from: None,
    prescribed: false,
    fresh: false,
};

/// The limits that hold for everything in a phase: the pack's, then the phase's.
pub(crate) fn shared(pack: &Pack, phase: Option<PhaseIx>) -> impl Iterator<Item = &Limit> {
    let of_phase = phase.and_then(|phase| pack.phases.get(phase.at()));
    let of_phase = of_phase.map_or(&[][..], |phase| phase.limits.as_slice());
    pack.limits.iter().chain(of_phase)
}

pub(super) fn own(pack: &Pack, exercise: ExerciseIx) -> &[Limit] {
    let exercise = pack.exercises.get(exercise.at());
    exercise.map_or(&[][..], |exercise| exercise.limits.as_slice())
}

pub(super) fn sentence<'a>(pack: &'a Pack, limit: &Limit) -> Option<&'a Sentence> {
    pack.sentences.get(limit.sentence.at())
}

pub(super) fn whose(pack: &Pack, limit: &Limit) -> Whose {
    let Some(Subject::Measure { measure, over }) = sentence(pack, limit).map(|one| &one.subject)
    else {
        return Whose::Person;
    };
    let per_exercise = pack
        .measures
        .get(measure.at())
        .is_some_and(|measure| measure.carrier == Carrier::Exercise);
    match over {
        Over::Plain if per_exercise => Whose::Each,
        Over::Of(exercise) => Whose::One(*exercise),
        _ => Whose::Person,
    }
}

/// Whether an exercise was over a limit in a session in which it was done or skipped for pain.
pub(crate) fn judge_exercise(
    view: View<'_>,
    exercise: ExerciseIx,
    at: usize,
    session: &SessionFact,
) -> Judged {
    let done = session.exercise(exercise).map(|done| done.done);
    if done == Some(Done::SkippedForPain) {
        return Judged::Over(None);
    }
    let mut found = Judged::Within;
    let shared = shared(view.pack, view.stand.phase).filter(|limit| {
        let whose = whose(view.pack, limit);
        whose == Whose::Each || whose == Whose::One(exercise)
    });
    let own = own(view.pack, exercise);
    for (limit, of) in shared
        .map(|limit| (limit, None))
        .chain(own.iter().map(|limit| (limit, Some(exercise))))
    {
        match judge_one(view, limit, Some(exercise), of, at, session) {
            Judged::Within => {}
            Judged::Unknown => found = Judged::Unknown,
            over @ Judged::Over(_) => return over,
        }
    }
    found
}

/// Whether the person was over a limit in a session.
pub(crate) fn judge_person(view: View<'_>, at: usize, session: &SessionFact) -> Judged {
    let mut found = Judged::Within;
    for limit in shared(view.pack, view.stand.phase) {
        if whose(view.pack, limit) != Whose::Person {
            continue;
        }
        match judge_one(view, limit, None, None, at, session) {
            Judged::Within => {}
            Judged::Unknown => found = Judged::Unknown,
            over @ Judged::Over(_) => return over,
        }
    }
    found
}

fn judge_one(
    view: View<'_>,
    limit: &Limit,
    exercise: Option<ExerciseIx>,
    condition_of: Option<ExerciseIx>,
    at: usize,
    session: &SessionFact,
) -> Judged {
    let tap = Tap::default();
    if let Some(condition) = &limit.condition {
        let scope = Scope {
            exercise: condition_of,
            ..Scope::CAUTIOUS
        };
        if !Reader::new(view, scope, &tap).truth(condition).yes {
            return Judged::Within;
        }
    }
    let scope = Scope { exercise, ..LIMIT };
    let reader = Reader::new(view, scope, &tap);
    let about = sentence(view.pack, limit).and_then(|one| reader.about(one));
    let possible = match about {
        Some(about) if of_sessions(about.measure) => {
            let possible = reader
                .entry(&about, Context::Session(at, session))
                .unwrap_or(Possible::NOT_FULL);
            view.note(limit.sentence, possible);
            possible
        }
        _ => {
            let scope = Scope {
                exercise,
                ..Scope::CAUTIOUS
            };
            Reader::new(view, scope, &tap).sentence(limit.sentence, false)
        }
    };
    match possible.verdict() {
        Verdict::NotMet => Judged::Over(Some(limit.key.clone())),
        Verdict::Unknown => Judged::Unknown,
        Verdict::Met | Verdict::NotYetFull => Judged::Within,
    }
}

/// The sessions that have something new (themselves, a morning-after, a correction of these), oldest first.
pub(crate) fn new_sessions(case: &Case<'_>) -> Vec<usize> {
    let index = case.history.index();
    let mut found = Vec::new();
    let mut note = |at: usize| {
        if let Some(touch) = index.touches.get(at)
            && touch.date <= case.as_of
            && let Some(session) = touch.session.and_then(|key| index.session_at(key))
            && !found.contains(&session)
        {
            found.push(session);
        }
    };
    let new = |at: usize| {
        let touch = index.touches.get(at);
        touch.is_some_and(|touch| case.is_new(touch.date, touch.known))
    };
    let mut at = index.touches.len();
    while let Some(before) = at.checked_sub(1).filter(|at| {
        case.last.is_none_or(|last| {
            let touch = index.touches.get(*at);
            touch.is_some_and(|touch| touch.known > last.position)
        })
    }) {
        at = before;
        note(at);
    }
    for at in index.touches_by_date.iter().rev() {
        let at = *at as usize;
        let Some(touch) = index.touches.get(at) else {
            break;
        };
        if case
            .last
            .is_none_or(|last| touch.date <= last.decision.as_of)
        {
            break;
        }
        if new(at) {
            note(at);
        }
    }
    found.sort_unstable();
    found.retain(|at| {
        let session = index.sessions.get(*at);
        session.is_some_and(|session| session.date <= case.as_of)
    });
    found
}

/// Whether any fact, of whatever kind, is new.
pub(crate) fn anything_new(case: &Case<'_>) -> bool {
    let index = case.history.index();
    let Some(last) = case.last else {
        return !index.touches.is_empty();
    };
    let recorded = index.touches.iter().rev();
    let mut recorded = recorded.take_while(|touch| touch.known > last.position);
    let dated = index.touches_by_date.iter().rev();
    let dated = dated.filter_map(|at| index.touches.get(*at as usize));
    let mut dated = dated.take_while(|touch| touch.date > last.decision.as_of);
    recorded.any(|touch| touch.date <= case.as_of) || dated.any(|touch| touch.date <= case.as_of)
}

/// What an exercise's new sessions say: over a limit in none, in one, or in one after another.
///
/// INVARIANT (each-fact-moves-once): a session over a limit acts in the first decision that sees it so, and never again.
pub(crate) fn run_of(case: &Case<'_>, exercise: ExerciseIx, new: &[usize]) -> Run {
    let index = case.history.index();
    let from = case.stand.run_from(exercise);
    let view = case.view();
    let mut found = Run::None;
    for at in new.iter().rev() {
        let Some(session) = index.sessions.get(*at) else {
            continue;
        };
        let counts = session.exercise(exercise).is_some_and(|done| done.counts());
        if !counts || (from.is_some() && session.followed < from) {
            continue;
        }
        let Judged::Over(limit) = judge_exercise(view, exercise, *at, session) else {
            continue;
        };
        if was_over(case, session, Some(exercise)) {
            continue;
        }
        let key = (session.date, session.number);
        if before_was_over(case, exercise, *at, from) {
            return Run::Twice(limit, key);
        }
        if found == Run::None {
            found = Run::Once(limit, key);
        }
    }
    found
}

/// Whether the session before this one in the exercise's run was over too; sessions that do not say are passed over.
fn before_was_over(
    case: &Case<'_>,
    exercise: ExerciseIx,
    at: usize,
    from: Option<DecisionNo>,
) -> bool {
    let index = case.history.index();
    let view = case.view();
    let list = index.sessions_of(exercise);
    let end = list.partition_point(|one| (*one as usize) < at);
    for one in list.iter().take(end).rev() {
        let one = *one as usize;
        let Some(session) = index.sessions.get(one) else {
            return false;
        };
        let top = index.marks.get(one).and_then(|mark| mark.followed_top);
        if from.is_some() && top < from {
            return false;
        }
        if from.is_some() && session.followed < from {
            continue;
        }
        match judge_exercise(view, exercise, one, session) {
            Judged::Over(_) => return true,
            Judged::Within => return false,
            Judged::Unknown => {}
        }
    }
    false
}

/// Whether the last prescribing decision saw this session over a limit already, of an exercise or of the person.
fn was_over(case: &Case<'_>, session: &SessionFact, exercise: Option<ExerciseIx>) -> bool {
    let Some(last) = case.last else {
        return false;
    };
    let otherwise = case.seen_otherwise();
    let history = if otherwise { case.then() } else { case.history };
    let mut view = case.view();
    view.history = history;
    view.as_of = last.decision.as_of;
    view.before = Some(last.position);
    let sessions = &history.index().sessions;
    let same = |one: &SessionFact| one.position == session.position;
    let at = if otherwise {
        sessions.iter().position(same)
    } else {
        history.index().session_at(session.key())
    };
    let then = at.and_then(|at| Some((at, sessions.get(at)?)));
    let Some((at, then)) = then.filter(|(_, then)| view.sees(then.date, then.known)) else {
        return false;
    };
    let judged = match exercise {
        Some(exercise) => {
            let counts = then.exercise(exercise).is_some_and(|done| done.counts());
            if !counts {
                return false;
            }
            judge_exercise(view, exercise, at, then)
        }
        None => judge_person(view, at, then),
    };
    matches!(judged, Judged::Over(_))
}

/// The newest session that is newly over a limit of the person.
pub(crate) fn person_over(case: &Case<'_>, new: &[usize]) -> Option<(Option<Key>, (Date, u8))> {
    let index = case.history.index();
    new.iter().rev().find_map(|at| {
        let session = index.sessions.get(*at)?;
        let Judged::Over(limit) = judge_person(case.view(), *at, session) else {
            return None;
        };
        (!was_over(case, session, None)).then_some((limit, (session.date, session.number)))
    })
}

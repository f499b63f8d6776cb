//! Limits: in which sessions one was crossed, and whether a session carries what limits read.
//!
//! Leaves to others: what crossing does (`super::lines`).

use super::context::{Context, Counted, read};
use super::rule::judge;
use super::sentence::{Leaf, Reading, read_sentence};
use super::view::{Morning, SessionAt, View};
use jiff::civil::Date;
use rungwise_engine::decision::{RuleVerdict, State};
use rungwise_engine::fact::Done;
use rungwise_pack::model::{
    Amount, Carrier, CheckedPack, Criterion, ExerciseIx, Limit, MeasureIx, Origin, PhaseIx,
    Relation, Sentence, Subject,
};
use rungwise_pack::quantity::Key;
use std::collections::BTreeSet;

/// A session by date and number.
pub type SessionKey = (Date, u8);

/// Whether a session was over a limit.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stand {
    /// It was.
    Over,
    /// It was not.
    Within,
    /// A missing value decides.
    Open,
}

/// The measures that a limit's sentence is about.
#[must_use]
pub fn subject(pack: &CheckedPack, limit: &Limit) -> Option<MeasureIx> {
    match pack.sentences[limit.sentence.at()].subject {
        Subject::Measure { measure, .. } => Some(measure),
        Subject::Reached { .. } => None,
    }
}

/// Whether a limit of the pack or of a phase is each exercise's own (else it is the person's).
#[must_use]
pub fn is_of_exercises(pack: &CheckedPack, limit: &Limit) -> bool {
    subject(pack, limit)
        .is_some_and(|measure| pack.measures[measure.at()].carrier == Carrier::Exercise)
}

/// Limits of the pack and of the phase.
#[must_use]
pub fn general(pack: &CheckedPack, phase: PhaseIx) -> Vec<&Limit> {
    pack.limits
        .iter()
        .chain(&pack.phases[phase.at()].limits)
        .collect()
}

/// Limits that an exercise has to keep to.
#[must_use]
pub fn of_exercise(pack: &CheckedPack, phase: PhaseIx, exercise: ExerciseIx) -> Vec<&Limit> {
    general(pack, phase)
        .into_iter()
        .filter(|limit| is_of_exercises(pack, limit))
        .chain(&pack.exercises[exercise.at()].limits)
        .collect()
}

/// Limits that the person has to keep to.
#[must_use]
pub fn of_person(pack: &CheckedPack, phase: PhaseIx) -> Vec<&Limit> {
    general(pack, phase)
        .into_iter()
        .filter(|limit| !is_of_exercises(pack, limit))
        .collect()
}

/// How one session stands to a limit, for an exercise or for the person.
fn against(
    view: &View<'_>,
    state: &State,
    session: &SessionAt,
    limit: &Limit,
    exercise: Option<ExerciseIx>,
) -> Stand {
    let ctx = Context::cautious(view, state);
    if let Some(condition) = &limit.condition {
        let ctx = exercise.map_or_else(|| ctx.clone(), |exercise| ctx.clone().of(exercise));
        if judge(&ctx, condition).verdict == RuleVerdict::NotMet {
            return Stand::Within;
        }
    }
    let alone = Context {
        sessions: vec![session.clone()],
        counted: Counted::Everything,
        exercise,
        ageless: true,
        ..ctx
    };
    let sentence = &view.pack.sentences[limit.sentence.at()];
    match read_sentence(&alone, sentence, false) {
        Reading { possible, .. } if possible == BTreeSet::from([Leaf::NotMet]) => Stand::Over,
        Reading { possible, .. } if possible.len() > 1 => Stand::Open,
        _ => Stand::Within,
    }
}

/// How a session stands to an exercise's limits, all together.
#[must_use]
pub fn exercise_over(
    view: &View<'_>,
    state: &State,
    phase: PhaseIx,
    session: &SessionAt,
    exercise: ExerciseIx,
) -> Stand {
    let Some(report) = session.tried(view.pack, exercise) else {
        return Stand::Within;
    };
    if report.done == Done::SkippedForPain {
        return Stand::Over;
    }
    all(of_exercise(view.pack, phase, exercise)
        .into_iter()
        .map(|limit| against(view, state, session, limit, Some(exercise))))
}

/// How a session stands to the person's limits, all together.
#[must_use]
pub fn person_over(view: &View<'_>, state: &State, phase: PhaseIx, session: &SessionAt) -> Stand {
    all(of_person(view.pack, phase)
        .into_iter()
        .map(|limit| against(view, state, session, limit, None)))
}

fn all(each: impl Iterator<Item = Stand>) -> Stand {
    let each: Vec<Stand> = each.collect();
    if each.contains(&Stand::Over) {
        Stand::Over
    } else if each.contains(&Stand::Open) {
        Stand::Open
    } else {
        Stand::Within
    }
}

/// Every measure that limits read, conditions and amounts included, through defined measures.
#[must_use]
pub fn measures_read(pack: &CheckedPack, limits: &[&Limit]) -> BTreeSet<MeasureIx> {
    let mut found = BTreeSet::new();
    for limit in limits {
        of_sentence(pack, &pack.sentences[limit.sentence.at()], &mut found);
        if let Some(condition) = &limit.condition {
            of_criterion(pack, condition, &mut found);
        }
    }
    found
}

fn of_criterion(pack: &CheckedPack, criterion: &Criterion, found: &mut BTreeSet<MeasureIx>) {
    match criterion {
        Criterion::Sentence(sentence) => {
            of_sentence(pack, &pack.sentences[sentence.at()], found);
        }
        Criterion::All(parts) | Criterion::Any(parts) | Criterion::None(parts) => {
            parts
                .iter()
                .for_each(|part| of_criterion(pack, part, found));
        }
    }
}

fn of_sentence(pack: &CheckedPack, sentence: &Sentence, found: &mut BTreeSet<MeasureIx>) {
    let mut measures = Vec::new();
    if let Subject::Measure { measure, .. } = sentence.subject {
        measures.push(measure);
    }
    let mut amount = |amount: &Amount| match amount {
        Amount::Offset(_, measure) | Amount::PercentOf(_, measure) => measures.push(*measure),
        Amount::Fixed(_) | Amount::PercentOfOtherSide(_) => {}
    };
    match &sentence.relation {
        Relation::Compare(_, one) => amount(one),
        Relation::Between(low, high) => {
            amount(low);
            amount(high);
        }
        _ => {}
    }
    for measure in measures {
        if found.insert(measure)
            && let Origin::Defined(defined) = &pack.measures[measure.at()].origin
        {
            defined
                .features
                .iter()
                .for_each(|(_, criterion)| of_criterion(pack, criterion, found));
        }
    }
}

/// The first measure that limits read and the newest sessions do not carry.
///
/// `exercises` says for which exercises of a session their own limits and values are looked at.
#[must_use]
pub fn not_carried(
    ctx: &Context<'_>,
    phase: PhaseIx,
    exercises: impl Fn(&SessionAt) -> Vec<ExerciseIx>,
) -> Option<Key> {
    let pack = ctx.pack();
    let counted = ctx.counted_sessions();
    let newest = counted.last()?;
    // A morning after that has come is asked for whether its session counts or not.
    let newest_due = |of: Option<ExerciseIx>| {
        ctx.sessions.iter().rev().find(|at| {
            !matches!(at.morning, Morning::NotDue)
                && of.is_none_or(|one| at.tried(pack, one).is_some())
        })
    };
    let own = match ctx.counted {
        Counted::Of(exercise, _) => newest_due(Some(exercise)),
        Counted::Everything | Counted::Since(_) => None,
    };
    // What limits of everything read, and what the limits of one exercise read besides.
    let wanted = |session: &SessionAt| {
        let mut wanted: Vec<(MeasureIx, Option<ExerciseIx>)> = Vec::new();
        let all = measures_read(pack, &general(pack, phase));
        wanted.extend(all.iter().map(|measure| (*measure, None)));
        let tried = |one: &ExerciseIx| session.tried(pack, *one).is_some();
        for exercise in exercises(session).into_iter().filter(tried) {
            let own: Vec<&Limit> = pack.exercises[exercise.at()].limits.iter().collect();
            let own = measures_read(pack, &own);
            wanted.extend(
                all.iter()
                    .chain(&own)
                    .map(|measure| (*measure, Some(exercise))),
            );
        }
        wanted
    };
    let at_session = wanted(newest).into_iter().find(|(measure, exercise)| {
        let known = ctx.measure(*measure);
        match (known.carrier, exercise) {
            (Carrier::Session, _) => read(known, &newest.session.readings).is_none(),
            (Carrier::Exercise, Some(exercise)) => {
                newest.tried(pack, *exercise).is_some_and(|report| {
                    report.done != Done::SkippedForPain && read(known, &report.readings).is_none()
                })
            }
            _ => false,
        }
    });
    let lacks_morning = |due: &SessionAt| {
        wanted(due).into_iter().find(|(measure, _)| {
            let known = ctx.measure(*measure);
            let told = match &due.morning {
                Morning::Told { readings, .. } => read(known, readings).is_some(),
                _ => false,
            };
            known.carrier == Carrier::MorningAfter && !told
        })
    };
    let lacking = at_session
        .or_else(|| own.and_then(lacks_morning))
        .or_else(|| newest_due(None).and_then(lacks_morning));
    lacking.map(|(measure, _)| ctx.measure(measure).name.clone())
}

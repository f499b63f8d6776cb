//! Lines that begin, begin again, or come back.
//!
//! Leaves to others: the lines that stand (`super::lines`).

use super::case::Case;
use super::climb::entry;
use super::complete::complete;
use super::stand::{Spot, Stand, line_of};
use crate::decision::{Cause, Move};
use crate::evaluate::{Judged, Reader, Scope, Tap, judge};
use crate::fact::DecisionNo;
use crate::ladder;
use rungwise_pack::model::{ExerciseIx, LineIx, Outcome, PhaseIx, Polarity, RuleIx};
use rungwise_pack::quantity::Key;

/// A line that gets a place.
pub(crate) struct Arrival {
    /// Where.
    pub(crate) spot: Spot,
    /// INTRODUCE or RETURN.
    pub(crate) mv: Move,
    /// Why.
    pub(crate) because: Vec<Cause>,
    /// Whether a withdrawal of the exercise ends with it.
    pub(crate) brings_back: bool,
}

/// A bring-back rule judged.
pub(crate) struct BringBack {
    /// The withdrawn exercise.
    pub(crate) exercise: ExerciseIx,
    /// The rule.
    pub(crate) rule: RuleIx,
    /// Its key.
    pub(crate) key: Key,
    /// Its verdict.
    pub(crate) judged: Judged,
    /// Whether the withdrawal may end.
    pub(crate) ends: bool,
}

/// Why lines may begin.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Occasion {
    /// A phase is entered.
    Entering,
    /// Care goes on in the phase.
    GoingOn,
}

/// The lines of a phase, in declared order, as far as it bounds how many are prescribed.
pub(crate) fn lines_of(case: &Case<'_>, phase: PhaseIx) -> Vec<LineIx> {
    let most = case
        .pack
        .phases
        .get(phase.at())
        .and_then(|one| one.lines_max);
    let lines = (0u16..).map(LineIx);
    lines
        .take(case.pack.lines.len())
        .filter(|line| exercises_in(case, phase, *line).next().is_some())
        .take(most.map_or(usize::MAX, usize::from))
        .collect()
}

/// The exercises of a line that a phase has, gentlest first.
fn exercises_in<'c>(
    case: &'c Case<'_>,
    phase: PhaseIx,
    line: LineIx,
) -> impl DoubleEndedIterator<Item = ExerciseIx> + 'c {
    let line = case.pack.lines.get(line.at());
    let exercises = line.map_or(&[][..], |line| line.exercises.as_slice());
    let exercises = exercises.iter().copied();
    exercises.filter(move |one| case.phase_has(phase, *one))
}

/// Judges the bring-back rule of every exercise withdrawn.
pub(crate) fn bring_backs(case: &Case<'_>, news: bool) -> Vec<BringBack> {
    let withdrawn = case.stand.withdrawals.iter();
    withdrawn
        .filter_map(|(exercise, by)| {
            let rule = case.pack.exercises.get(exercise.at())?.bring_back?;
            let rule_of = case.pack.rules.get(rule.at())?;
            let scope = Scope {
                polarity: Polarity::Upward,
                exercise: Some(*exercise),
                from: Some(*by),
                ..Scope::UPWARD
            };
            let judged = judge(case.view(), scope, &rule_of.when);
            let ends =
                news && judged.met() && counted(case, *by) && complete(case, scope, None).is_ok();
            Some(BringBack {
                exercise: *exercise,
                rule,
                key: rule_of.key.clone(),
                judged,
                ends,
            })
        })
        .collect()
}

/// Whether a session followed a decision or a later one.
fn counted(case: &Case<'_>, from: DecisionNo) -> bool {
    let tap = Tap::default();
    let scope = Scope {
        from: Some(from),
        ..Scope::UPWARD
    };
    let reader = Reader::new(case.view(), scope, &tap);
    reader.sessions_back(None).next().is_some()
}

/// The lines of `phase` that get a place now. `stand` is what stands after the moves of the lines that had one; a line
/// that lost it in this decision keeps its slot and gets none.
///
/// INVARIANT (silence-never-progresses): going on, lines begin only after a session that says all that limits read.
pub(crate) fn arrivals(
    case: &Case<'_>,
    stand: &Stand,
    phase: PhaseIx,
    occasion: Occasion,
    back: &[BringBack],
    news: bool,
) -> Vec<Arrival> {
    let stopped = stopped_lines(case);
    let may_begin = match occasion {
        Occasion::Entering => true,
        Occasion::GoingOn => news && begins(case),
    };
    let most = case
        .pack
        .phases
        .get(phase.at())
        .and_then(|one| one.introduce_max);
    let lines = lines_of(case, phase).into_iter();
    let free = lines.filter(|line| stand.spot(*line).is_none());
    free.take(most.map_or(usize::MAX, usize::from))
        .filter(|line| case.stand.spot(*line).is_none())
        .filter_map(|line| {
            returning(case, stand, phase, line, back).or_else(|| {
                match stopped
                    .iter()
                    .find(|one| line_of(case.pack, **one) == Some(line))
                {
                    Some(was) => resumed(case, stand, phase, line, *was, news),
                    None if may_begin => beginning(case, stand, phase, line),
                    None => None,
                }
            })
        })
        .collect()
}

/// Whether a session counts for introductions and says all that the limits read.
fn begins(case: &Case<'_>) -> bool {
    let Some(introduced) = case.stand.introduced else {
        return false;
    };
    let scope = Scope {
        from: Some(introduced),
        ..Scope::UPWARD
    };
    counted(case, introduced) && complete(case, scope, None).is_ok()
}

/// A withdrawn exercise whose bring-back rule ends its withdrawal.
fn returning(
    case: &Case<'_>,
    stand: &Stand,
    phase: PhaseIx,
    line: LineIx,
    back: &[BringBack],
) -> Option<Arrival> {
    let mut of_line = exercises_in(case, phase, line);
    let gentlest = of_line.find(|one| stand.withdrawn(*one).is_some())?;
    let rule = back
        .iter()
        .find(|one| one.exercise == gentlest && one.ends)?;
    let mut alone = stand.clone();
    alone.withdrawals.retain(|(one, _)| *one != gentlest);
    if alone.blocked(case.pack, gentlest) || case.left_out(gentlest).is_some() {
        return None;
    }
    Some(Arrival {
        spot: entry(case, stand, gentlest)?,
        mv: Move::Return,
        because: vec![Cause::Met(rule.key.clone())],
        brings_back: true,
    })
}

/// A line that a referral stopped, on the exercise on which it was, once the referral is cleared.
fn resumed(
    case: &Case<'_>,
    stand: &Stand,
    phase: PhaseIx,
    line: LineIx,
    was: ExerciseIx,
    news: bool,
) -> Option<Arrival> {
    if !news {
        return None;
    }
    let mut downwards = exercises_in(case, phase, line).rev();
    let Some(to) = downwards.find(|one| *one <= was) else {
        return beginning(case, stand, phase, line);
    };
    if stand.blocked(case.pack, to) || case.left_out(to).is_some() {
        return None;
    }
    Some(Arrival {
        spot: entry(case, stand, to)?,
        mv: Move::Return,
        because: Vec::new(),
        brings_back: false,
    })
}

/// A line begun on its gentlest exercise of the phase.
fn beginning(case: &Case<'_>, stand: &Stand, phase: PhaseIx, line: LineIx) -> Option<Arrival> {
    let to = exercises_in(case, phase, line).next()?;
    if stand.blocked(case.pack, to) || case.left_out(to).is_some() {
        return None;
    }
    Some(Arrival {
        spot: entry(case, stand, to)?,
        mv: Move::Introduce,
        because: Vec::new(),
        brings_back: false,
    })
}

/// While nothing is in force since a referral stopped exercise: the exercises that it stopped.
fn stopped_lines(case: &Case<'_>) -> Vec<ExerciseIx> {
    let mut found = Vec::new();
    if !case.stand.spots.is_empty() {
        return found;
    }
    for (_, decision) in case.history.decisions().rev() {
        if !decision.state.places.is_empty() || !found.is_empty() {
            break;
        }
        if decision.outcome == Outcome::Refer {
            let moves = decision.moves.iter();
            let stopped = moves.filter(|one| one.mv == Move::Withdraw);
            found.extend(
                stopped
                    .filter_map(|one| one.from.as_ref())
                    .filter_map(|key| case.exercise(key)),
            );
        }
    }
    found
}

/// The lines that only the phase gone back to has: they return, whatever the caps.
pub(crate) fn returns_on_going_back(
    case: &Case<'_>,
    stand: &Stand,
    from: PhaseIx,
    to: PhaseIx,
) -> Vec<Arrival> {
    let lines = lines_of(case, to).into_iter();
    lines
        .filter(|line| exercises_in(case, from, *line).next().is_none())
        .filter(|line| stand.spot(*line).is_none() && case.stand.spot(*line).is_none())
        .filter_map(|line| {
            let open = |one: &ExerciseIx| !stand.blocked(case.pack, *one);
            let known = exercises_in(case, to, line)
                .rev()
                .find(|one| open(one) && stand.last_of(*one).is_some());
            let ix = known.or_else(|| exercises_in(case, to, line).find(open))?;
            Some(Arrival {
                spot: entry(case, stand, ix)?,
                mv: Move::Return,
                because: Vec::new(),
                brings_back: false,
            })
        })
        .collect()
}

/// Where a line goes back to: the hardest exercise before its own that the phase has and that is not blocked.
pub(crate) fn back_from(
    case: &Case<'_>,
    stand: &Stand,
    spot: &Spot,
    phase: PhaseIx,
) -> Option<Spot> {
    let mut downwards = exercises_in(case, phase, spot.line).rev();
    let to = downwards.find(|one| *one < spot.exercise && !stand.blocked(case.pack, *one))?;
    entry(case, stand, to)
}

/// Where a line goes on to in the next phase: its first exercise there after its own.
pub(crate) fn forward_from(
    case: &Case<'_>,
    stand: &Stand,
    spot: &Spot,
    phase: PhaseIx,
) -> Option<Spot> {
    let mut upwards = exercises_in(case, phase, spot.line);
    let to = upwards.find(|one| *one > spot.exercise)?;
    if stand.blocked(case.pack, to) {
        return None;
    }
    entry(case, stand, to)
}

/// Whether every step of relief of a place is spent: nothing is left to give.
pub(crate) fn nothing_left(case: &Case<'_>, spot: &Spot) -> bool {
    let exercise = case.pack.exercises.get(spot.exercise.at());
    exercise.is_none_or(|exercise| ladder::give(exercise, spot.rung, &spot.relief).is_none())
}

//! Volume load and time under tension of an exercise in a session, and their change from week to week. Exact.
//!
//! Leaves to others: which exercises have a volume (`rungwise-pack`), windows of days (`super::change`).

use super::read::{Context, Read, Reader, seen_value};
use super::value::{self, Range, Value};
use super::view::{Scope, Tap, days_between};
use crate::band::Setting;
use crate::decision::{Place, State};
use crate::fact::{Directive, Done, Order, Position};
use crate::history::{Exercised, SessionFact};
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{
    CHANGE_MAX, Carrier, Combined, Exercise, ExerciseIx, Measure, MeasureIx, MeasureKind, Origin,
    Pack, RowStep, RowValue, VOLUME_MAX,
};
use rungwise_pack::quantity::{Milli, Variable};

/// Days in each of the two weeks compared.
const WEEK_DAYS: i64 = 7;
/// Days in both.
const WEEKS_DAYS: i64 = 14;

/// Whether a measure is of an exercise: every one is, but for a volume that the exercise does not have.
pub(super) fn has_volume(pack: &Pack, measure: &Measure, exercise: ExerciseIx) -> bool {
    let (Origin::Combined(combined), Some(exercise)) =
        (&measure.origin, pack.exercises.get(exercise.at()))
    else {
        return true;
    };
    match (combined, &measure.kind) {
        (Combined::VolumeLoad, MeasureKind::Number { unit, .. }) => {
            exercise.load_unit() == Some(&*unit.code)
        }
        (Combined::TimeUnderTension, _) => exercise.is_timed(),
        _ => true,
    }
}

/// The volumes of a week: how many sessions, the sum of those known, and whether one is not.
#[derive(Clone, Copy, Default)]
struct Week {
    sessions: i64,
    sum: i64,
    unknown: bool,
}

impl Reader<'_> {
    /// What an exercise done in a session, or skipped there for pain, comes to.
    pub(super) fn volume(
        &self,
        measure: &Measure,
        combined: &Combined,
        session: &SessionFact,
        done: &Exercised,
    ) -> Read {
        let pack = self.view.pack;
        let exercise = pack.exercises.get(done.exercise.at());
        let Some(exercise) = exercise.filter(|_| has_volume(pack, measure, done.exercise)) else {
            return Read::PassedOver;
        };
        let found = match (done.done, combined) {
            (Done::Done, Combined::VolumeLoad) => self.volume_load(exercise, session, done),
            (Done::Done, Combined::TimeUnderTension) => self.tension(exercise, session, done),
            _ => None,
        };
        let most = Milli::whole(VOLUME_MAX).0;
        match found {
            Some(found) => Read::Known(Value::Number(Range::one(found.min(most)))),
            None => Read::Missing(value::whole(measure)),
        }
    }

    fn volume_load(
        &self,
        exercise: &Exercise,
        session: &SessionFact,
        done: &Exercised,
    ) -> Option<i64> {
        let repetitions = repetitions(exercise, done)?.iter().sum::<i64>();
        let load = self.dosed(exercise, Variable::Load, session, done.exercise, |place| {
            if exercise.band.is_some() {
                let held = place.setting.as_ref().and_then(Setting::held)?;
                return Some(held.torque_mnm);
            }
            match &step_of(exercise, place, Variable::Load)?.value {
                RowValue::Number(load) => Some(load.0),
                RowValue::Label(_) => None,
            }
        })?;
        Some(load.saturating_mul(repetitions))
    }

    fn tension(&self, exercise: &Exercise, session: &SessionFact, done: &Exercised) -> Option<i64> {
        let tempo = match exercise.row(Variable::Tempo) {
            Some(_) => self.dosed(exercise, Variable::Tempo, session, done.exercise, |place| {
                Some(step_of(exercise, place, Variable::Tempo)?.seconds?.0)
            })?,
            None => 0,
        };
        let holds = exercise.row(Variable::HoldTime).is_some();
        let mut sum = 0i64;
        for (times, set) in repetitions(exercise, done)?.iter().zip(&done.sets) {
            let hold = if holds { i64::from(set.hold_s?) } else { 0 };
            let one = tempo.saturating_add(Milli::whole(hold).0);
            sum = sum.saturating_add(one.saturating_mul(*times));
        }
        Some(sum)
    }

    /// What the place that a session followed gives; nothing where it is not certain that the session was done so.
    fn dosed(
        &self,
        exercise: &Exercise,
        variable: Variable,
        session: &SessionFact,
        ix: ExerciseIx,
        of: impl FnOnce(&Place) -> Option<i64>,
    ) -> Option<i64> {
        let (state, position, decided_on) = self.followed(session)?;
        if (state.discharged && kept_up(exercise, variable))
            || self.directed(exercise, variable, session, position)
        {
            return None;
        }
        let pack = self.view.pack;
        let mut places = state.places.iter();
        let place =
            places.find(|place| ladder::find_exercise(pack, &place.exercise) == Some(ix))?;
        if touches(exercise, variable, Variable::Range)
            && self.narrowed(exercise, place, (ix, session.date), (position, decided_on))
        {
            return None;
        }
        of(place)
    }

    /// What the decision that a session followed left in force, and the decision's position and date.
    fn followed(&self, session: &SessionFact) -> Option<(&State, Position, Date)> {
        let no = session.followed?;
        let history = self.view.history;
        let (position, decision) = history.decision(no)?;
        let mut accepted = history
            .index()
            .accepted
            .iter()
            .filter(|one| one.date <= session.date && self.view.sees(one.date, one.known));
        let state = match &decision.if_accepted {
            Some(state) if accepted.any(|one| one.decision == no) => state,
            _ => &decision.state,
        };
        Some((state, position, decision.as_of))
    }

    /// Whether a comfortable range that may have bound a place's range on a session's day is below it: the last that the
    /// decision saw, and every one up to that day that it did not.
    fn narrowed(
        &self,
        exercise: &Exercise,
        place: &Place,
        (ix, day): (ExerciseIx, Date),
        (position, decided_on): (Position, Date),
    ) -> bool {
        let Some(comfortable) = exercise.comfortable else {
            return false;
        };
        let (Some(measure), Some(step)) = (
            self.measure(comfortable),
            step_of(exercise, place, Variable::Range),
        ) else {
            return false;
        };
        let RowValue::Number(wanted) = step.value else {
            return false;
        };
        let tap = Tap::default();
        let scope = Scope {
            fresh: false,
            ..Scope::CAUTIOUS
        };
        let reader = Reader {
            scope,
            tap: &tap,
            ..*self
        };
        let mut narrowed = false;
        reader.walk_until(measure, Some(ix), day, &mut |context| {
            let read = reader.read(comfortable, measure, Some(ix), context);
            let Read::Known(Value::Number(range)) = read else {
                return true;
            };
            narrowed = narrowed || range.floor().is_none_or(|range| range < wanted);
            let is_seen = context.date().is_some_and(|date| date <= decided_on)
                && known_from(measure, context).is_some_and(|known| known < position);
            !narrowed && !is_seen
        });
        narrowed
    }

    /// Whether a directive said something else of the variable on a session's day, or put the exercise elsewhere since
    /// the decision that it followed.
    fn directed(
        &self,
        exercise: &Exercise,
        variable: Variable,
        session: &SessionFact,
        followed: Position,
    ) -> bool {
        let history = self.view.history;
        let mut seen = history
            .directives()
            .filter(|one| one.date <= session.date && self.view.sees(one.date, one.known));
        seen.any(|one| match &one.directive.order {
            Order::Place { .. } => one.position > followed,
            _ if !bounds(exercise, variable, one.directive) => false,
            _ => {
                let over = |until| until < session.date;
                let withdrawn = history.directives().any(|other| {
                    matches!(other.directive.order, Order::Withdraw { directive } if directive == one.position)
                        && over(other.date)
                        && self.view.sees(other.date, other.known)
                });
                !withdrawn && !one.directive.until.is_some_and(over)
            }
        })
    }

    /// By how much the last week is above the one before: of one exercise, or the highest over those in force.
    pub(super) fn week_on_week(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        of: (MeasureIx, bool),
        own: Option<ExerciseIx>,
    ) -> Read {
        let one = |exercise: ExerciseIx| {
            let read = self.change_of(measure, of, exercise);
            if let Read::Known(_) | Read::Missing(_) = read {
                let value = || seen_value(measure, read);
                self.tap
                    .seen(ix, Some(exercise), value, self.view.as_of, None);
            }
            read
        };
        if let Some(own) = own {
            return one(own);
        }
        let (mut highest, mut unknown): (Option<Range>, bool) = (None, false);
        let stand = self.view.stand;
        // What a directive places before the first prescription is in force with that.
        let in_force = stand.spots.iter().filter(|_| stand.began.is_some());
        for spot in in_force {
            match one(spot.exercise) {
                Read::Known(Value::Number(range)) => {
                    highest = Some(highest.map_or(range, |known| higher(known, range)));
                }
                Read::Missing(_) => unknown = true,
                _ => {}
            }
        }
        match highest {
            Some(range) if unknown => Read::Missing(Value::Number(Range {
                high: range.den.saturating_mul(Milli::whole(CHANGE_MAX).0),
                ..range
            })),
            Some(range) => Read::Known(Value::Number(range)),
            None if unknown => Read::Missing(value::whole(measure)),
            None => Read::NotFull,
        }
    }

    fn change_of(
        &self,
        measure: &Measure,
        (of, in_total): (MeasureIx, bool),
        exercise: ExerciseIx,
    ) -> Read {
        let Some(volume) = self.measure(of) else {
            return Read::NotFull;
        };
        let scope = Scope {
            sessions_of: Some(exercise),
            ..Scope::CAUTIOUS
        };
        let reader = Reader { scope, ..*self };
        let mut weeks = [Week::default(); 2];
        let mut newest = None;
        let mut begun_before = false;
        for (_, session) in reader.sessions_back(None) {
            let newest = *newest.get_or_insert(session.date);
            let age = days_between(session.date, newest);
            begun_before = begun_before || age >= WEEKS_DAYS - 1;
            let at = usize::try_from(age.div_euclid(WEEK_DAYS)).ok();
            let Some(week) = at.and_then(|at| weeks.get_mut(at)) else {
                break;
            };
            let Some(done) = session.exercise(exercise) else {
                continue;
            };
            let Origin::Combined(combined) = &volume.origin else {
                continue;
            };
            let read = self.volume(volume, combined, session, done);
            if read == Read::PassedOver {
                return Read::NotFull;
            }
            self.tap.fact(&self.view, session.date, session.known);
            week.sessions = week.sessions.saturating_add(1);
            match read {
                Read::Known(Value::Number(range)) => week.sum = week.sum.saturating_add(range.low),
                // The lighter the week before, the more cautious.
                _ if at == Some(1) && done.done == Done::SkippedForPain => {}
                _ => week.unknown = true,
            }
        }
        let [last, before] = weeks;
        if last.sessions == 0 || before.sessions == 0 || (in_total && !begun_before) {
            Read::NotFull
        } else if last.unknown || before.unknown {
            Read::Missing(value::whole(measure))
        } else if last.sum == 0 && before.sum == 0 {
            Read::NotFull
        } else {
            let change = change(last, before, in_total).map(Value::Number);
            change.map_or_else(|| Read::Missing(value::whole(measure)), Read::Known)
        }
    }
}

/// Repetitions set by set; none where one is not reported, or none is. Where the ladder has none, a set is one.
fn repetitions(exercise: &Exercise, done: &Exercised) -> Option<Vec<i64>> {
    let counted = exercise.row(Variable::Reps).is_some();
    let one = |reps: Option<u16>| {
        if counted {
            reps.map(i64::from)
        } else {
            Some(1)
        }
    };
    let sets: Option<Vec<i64>> = done.sets.iter().map(|set| one(set.reps)).collect();
    sets.filter(|sets| !sets.is_empty())
}

/// The value that a place has in a row, relief counted.
fn step_of<'e>(exercise: &'e Exercise, place: &Place, variable: Variable) -> Option<&'e RowStep> {
    let row = exercise.row(variable)?;
    let (_, value) = place.rung.iter().find(|(of, _)| *of == variable)?;
    let given = place.relief.iter().filter(|of| **of == variable).count();
    let at = usize::from(ladder::index_of(row, value)?).saturating_sub(given);
    row.values.get(at)
}

/// Whether what bounds one variable changes another: itself, and against a band the range the load.
fn touches(exercise: &Exercise, variable: Variable, by: Variable) -> bool {
    let of_band = variable == Variable::Load && exercise.band.is_some();
    by == variable || (of_band && by == Variable::Range)
}

/// Whether the dose once care has ended says another of the variable.
fn kept_up(exercise: &Exercise, variable: Variable) -> bool {
    let dose = exercise.maintenance.iter().flat_map(|kept| &kept.dose);
    dose.into_iter()
        .any(|(of, _)| touches(exercise, variable, *of))
}

/// From which position on what a fact says of a measure is known.
fn known_from(measure: &Measure, context: Context<'_>) -> Option<Position> {
    match context {
        Context::Session(_, session) if measure.carrier == Carrier::MorningAfter => {
            session.mornings.iter().map(|one| one.known).max()
        }
        Context::Session(_, session) => Some(session.known),
        Context::Sheet(sheet) => Some(sheet.known),
        Context::Nothing => None,
    }
}

/// Whether a directive, while it binds, bounds a load or a tempo: against a band, by the range too.
fn bounds(exercise: &Exercise, variable: Variable, directive: &Directive) -> bool {
    let is_bound = |of: Variable| touches(exercise, variable, of);
    let is_own = |key: &str| *exercise.key == *key || exercise.was.iter().any(|was| **was == *key);
    match &directive.order {
        Order::Cap {
            exercise, variable, ..
        } => is_bound(*variable) && exercise.as_ref().is_none_or(|of| is_own(of)),
        Order::SetDose { exercise, dose } => {
            is_own(exercise) && dose.iter().any(|(of, _)| is_bound(*of))
        }
        _ => false,
    }
}

/// In thousandths of a per cent; none where the numbers are too large.
fn change(last: Week, before: Week, in_total: bool) -> Option<Range> {
    let (of_last, of_before) = if in_total {
        (1, 1)
    } else {
        (last.sessions, before.sessions)
    };
    let whole = Milli::whole(100).0;
    let most = Milli::whole(CHANGE_MAX).0;
    let now = last.sum.checked_mul(of_before)?;
    let den = before.sum.checked_mul(of_last)?;
    if den == 0 {
        // More than nothing is more than any number of per cent.
        return Some(Range::one(most));
    }
    let num = now.checked_sub(den)?.checked_mul(whole)?;
    let num = num.min(den.checked_mul(most)?);
    Some(Range {
        low: num,
        high: num,
        den,
    })
}

/// The higher of two known numbers.
fn higher(one: Range, two: Range) -> Range {
    let left = i128::from(one.low).saturating_mul(i128::from(two.den));
    let right = i128::from(two.low).saturating_mul(i128::from(one.den));
    if left >= right { one } else { two }
}

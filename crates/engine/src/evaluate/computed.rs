//! Measures that are worked out, and how far exercises have come.

use super::possible::Possible;
use super::read::{Read, Reader, seen_value};
use super::value::{self, Range, Value};
use super::view::{Scope, days_between};
use crate::band::Setting;
use crate::decide::Spot;
use crate::fact::DecisionNo;
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{
    Computed, Exercise, ExerciseIx, Measure, MeasureIx, Polarity, RowValue, Which,
};
use rungwise_pack::quantity::{Key, Variable};

impl Reader<'_> {
    /// A computed measure's value; `own`: of which exercise, where it is of one.
    pub(crate) fn computed(
        &self,
        ix: MeasureIx,
        measure: &Measure,
        how: &Computed,
        own: Option<ExerciseIx>,
    ) -> Read {
        let stand = self.view.stand;
        let read = match how {
            Computed::DaysSinceLastSession => self.days_since_last_session(),
            Computed::SessionsInPhase => self.sessions_in_phase(),
            Computed::DaysInPhase => whole(stand.stay.map(|(_, date)| self.days_since(date))),
            Computed::WeeksInPhase => whole(
                stand
                    .stay
                    .map(|(_, date)| self.days_since(date).div_euclid(7)),
            ),
            Computed::WeeksInCare => {
                let opened = self.view.history.episode().opened_on;
                whole(Some(self.days_since(opened).div_euclid(7)))
            }
            Computed::ShareDone { days } => self.share_done(*days),
            Computed::DaysSinceDoseChanged => self.days_since_dose_changed(),
            Computed::Age => match self.view.history.episode().born_on {
                Some(born) => whole(Some(years_between(born, self.view.as_of))),
                None => Read::Missing(value::whole(measure)),
            },
            Computed::DaysSince(event) => self.since_event(event, 1),
            Computed::WeeksSince(event) => self.since_event(event, 7),
            Computed::WeekOnWeek { of, in_total } => {
                self.week_on_week(ix, measure, (*of, *in_total), own)
            }
        };
        let value = || seen_value(measure, read);
        self.tap.seen(ix, None, value, self.view.as_of, None);
        read
    }

    fn days_since_last_session(&self) -> Read {
        let Some(began) = self.view.stand.began else {
            return Read::NotFull;
        };
        match self.view.last_session() {
            Some(session) => {
                self.tap.fact(&self.view, session.date, session.known);
                whole(Some(self.days_since(session.date)))
            }
            None => whole(Some(self.days_since(began))),
        }
    }

    fn sessions_in_phase(&self) -> Read {
        let Some((stay, _)) = self.view.stand.stay else {
            return Read::NotFull;
        };
        let upward = self.scope.polarity == Polarity::Upward;
        let from = self.scope.from.filter(|_| upward).max(Some(stay));
        let index = self.view.history.index();
        let mut count = 0i64;
        if let Some(of) = self.scope.sessions_of.filter(|_| upward) {
            let scope = Scope { from, ..self.scope };
            let counted = Reader { scope, ..*self };
            for (_, session) in counted.sessions_back(Some(of)) {
                self.tap.fact(&self.view, session.date, session.known);
                count = count.saturating_add(1);
            }
        } else {
            for mark in index.marks.iter().rev() {
                if mark.followed_top < from {
                    break;
                }
                if mark.followed >= from && self.view.sees(mark.date, mark.known) {
                    self.tap.fact(&self.view, mark.date, mark.known);
                    count = count.saturating_add(1);
                }
            }
        }
        whole(Some(count))
    }

    /// Sessions of the last `days` days as a percentage of those prescribed, days away left out; at most 100.
    fn share_done(&self, days: u32) -> Read {
        let stand = self.view.stand;
        let (Some(began), Some(phase)) = (stand.began, stand.phase) else {
            return Read::NotFull;
        };
        let days = i64::from(days);
        if self.days_since(began) < days {
            return Read::NotFull;
        }
        let away = if self.view.history.index().aways.is_empty() {
            0
        } else {
            (0..days).filter(|age| self.away(*age)).count()
        };
        let here = days.saturating_sub(i64::try_from(away).unwrap_or(i64::MAX));
        let a_week = self.view.pack.phases.get(phase.at());
        let a_week = a_week.map_or(0, |phase| i64::from(phase.sessions_a_week));
        let wanted = here.saturating_mul(a_week);
        if wanted <= 0 {
            return Read::NotFull;
        }
        let mut done = 0i64;
        for mark in self.view.history.index().marks.iter().rev() {
            if !self.view.sees(mark.date, mark.known) {
                continue;
            }
            if self.days_since(mark.date) >= days {
                break;
            }
            self.tap.fact(&self.view, mark.date, mark.known);
            done = done.saturating_add(1);
        }
        let full = wanted.saturating_mul(100_000);
        let share = done.saturating_mul(7 * 100_000).min(full);
        Read::Known(Value::Number(Range {
            low: share,
            high: share,
            den: wanted,
        }))
    }

    fn away(&self, age: i64) -> bool {
        self.view.history.index().aways.iter().any(|away| {
            self.view.sees(away.from, away.known)
                && days_between(away.from, self.view.as_of) >= age
                && days_between(away.until, self.view.as_of) <= age
        })
    }

    fn days_since_dose_changed(&self) -> Read {
        let stand = self.view.stand;
        let no = match self.scope.exercise {
            Some(exercise) => stand.spot_of(exercise).map(|spot| spot.set_anew),
            None => stand.spots.iter().map(|spot| spot.set_anew).max(),
        };
        whole(no.map(|no| self.days_since(self.date_of(no))))
    }

    /// The date of a decision; of the one being made, the date judged at.
    fn date_of(&self, no: DecisionNo) -> Date {
        let decision = self.view.history.decision(no);
        decision.map_or(self.view.as_of, |(_, decision)| decision.as_of)
    }

    fn since_event(&self, event: &Key, days: i64) -> Read {
        let events = self.view.history.index().events.iter().rev();
        let kind = self.view.pack.events.iter().position(|one| one == event);
        let latest = events
            .filter(|one| Some(usize::from(one.event)) == kind)
            .find(|one| self.view.sees(one.date, one.known));
        match latest {
            Some(one) => {
                self.tap.fact(&self.view, one.date, one.known);
                whole(Some(self.days_since(one.date).div_euclid(days)))
            }
            None => Read::Known(Value::Never),
        }
    }

    /// Whether exercises have come as far as `value` in `variable`, relief counted.
    pub(crate) fn reached(&self, which: Which, variable: Variable, value: &RowValue) -> Possible {
        let met = match which {
            Which::One(exercise) => self.one_reached(exercise, variable, value),
            Which::AtLeast(k) => {
                let spots = self.view.stand.spots.iter();
                let count = spots
                    .filter(|spot| self.spot_reached(spot, variable, value))
                    .count();
                count >= usize::from(k)
            }
        };
        Possible::of(met, !met)
    }

    fn one_reached(&self, ix: ExerciseIx, variable: Variable, value: &RowValue) -> bool {
        let stand = self.view.stand;
        if let Some(spot) = stand.spot_of(ix) {
            return self.spot_reached(spot, variable, value);
        }
        let (Some(last), Some(exercise)) =
            (stand.last_of(ix), self.view.pack.exercises.get(ix.at()))
        else {
            return false;
        };
        let Some(rung) = ladder::map_rung(exercise, &last.rung) else {
            return false;
        };
        let relief = ladder::map_relief(exercise, rung, &last.relief);
        let dose = ladder::dose(exercise, rung, &relief);
        stand.withdrawn(ix).is_none()
            && ladder::has_reached(exercise, &dose, variable, value)
            && load_counts(exercise, variable, last.setting.as_ref())
    }

    fn spot_reached(&self, spot: &Spot, variable: Variable, value: &RowValue) -> bool {
        self.view
            .pack
            .exercises
            .get(spot.exercise.at())
            .is_some_and(|exercise| {
                let dose = ladder::dose(exercise, spot.rung, &spot.relief);
                ladder::has_reached(exercise, &dose, variable, value)
                    && load_counts(exercise, variable, spot.setting.as_ref())
            })
    }
}

/// Whether what the ladder says of a load is so: against a band only where it was obtained.
fn load_counts(exercise: &Exercise, variable: Variable, setting: Option<&Setting>) -> bool {
    let held = setting.and_then(Setting::held);
    variable != Variable::Load || exercise.band.is_none() || held.is_some_and(|held| !held.is_short)
}

fn whole(number: Option<i64>) -> Read {
    number.map_or(Read::NotFull, |number| {
        let milli = number.saturating_mul(1000);
        Read::Known(Value::Number(Range::one(milli)))
    })
}

/// Whole years between two dates; a 29 February's birthday falls on 1 March in other years.
fn years_between(born: Date, on: Date) -> i64 {
    let years = i64::from(on.year()).saturating_sub(i64::from(born.year()));
    let before = (on.month(), on.day()) < (born.month(), born.day());
    years.saturating_sub(i64::from(before))
}

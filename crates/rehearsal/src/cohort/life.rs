//! A virtual person's course under a pack, day by day, each decision made by the engine itself.
//!
//! In the morning setbacks begin, the clinic sees the person, the night is told of and, on the days for it, the next
//! prescription is asked for; then the person trains, or not, and in the evening the state has changed.
//!
//! Leaves to others: what is told (`super::report`), what many courses come to (`super::tally`).

mod body;
mod decided;

pub use decided::Stuck;

use super::draw::Purpose;
use super::model::Of;
use super::person::{Person, Spell};
use super::ready::{Ready, Role};
use super::report::{Moment, other_side, readings};
use crate::course::is_due;
use crate::diary::as_prescribed;
use crate::play::Player;
use body::Body;
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_engine::fact::{
    Assessment, DecisionNo, Directive, Done, Episode, Equipment, ExerciseReport, Fact, FactKind,
    MorningAfter, Order, Session, SetDone,
};
#[cfg(test)]
use rungwise_engine::history::History;
use rungwise_engine::ladder;
use rungwise_pack::model::{Carrier, ExerciseIx, Outcome, PhaseIx, Reporter, RuleKind};
use rungwise_pack::quantity::Key;
use std::collections::BTreeMap;

const WHO: &str = "an invented clinician";

/// What a course came to. Days count from 0, the first; counts are of the whole course.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Life {
    /// The day on which care began.
    pub began: Option<u32>,
    /// By phase: the day on which it was first entered.
    pub reached: Vec<Option<u32>>,
    /// The day on which care ended.
    pub ended: Option<u32>,
    /// The first time that the person was stuck.
    pub stuck: Option<Stuck>,
    /// Decisions made.
    pub decisions: u32,
    /// Of these: by outcome, in the order of the enum.
    pub outcomes: [u32; 8],
    /// Moves made, by kind, in the order of the enum.
    pub moves: [u32; 8],
    /// Times that an exercise was over a limit and therefore eased or withdrawn, by limit; none: skipped because of pain.
    pub over: BTreeMap<Option<Key>, u32>,
    /// By sentence: decisions that lacked it for the next phase or for discharge.
    pub lacked: Vec<u32>,
    /// By rule: decisions that it held, sent back or referred, met or in doubt.
    pub held: Vec<u32>,
    /// Of these: in doubt, something that was not told deciding.
    pub doubted: Vec<u32>,
    /// Days in care.
    pub days: u32,
    /// Of these: days on which nothing was prescribed.
    pub days_without: u32,
    /// Sessions done.
    pub sessions: u32,
    /// Flare-ups.
    pub flare_ups: u32,
    /// Refer rules that came into force.
    pub referrals: u32,
}

impl Life {
    /// Whether the person was ever sent back a phase.
    #[must_use]
    pub fn regressed(&self) -> bool {
        self.outcomes
            .get(Outcome::Regress as usize)
            .is_some_and(|count| *count > 0)
    }
}

/// Plays a person's course under a pack.
#[must_use]
pub fn live(ready: &Ready<'_>, person: &Person<'_>) -> Life {
    lived(ready, person).life
}

/// The same, with everything recorded.
#[cfg(test)]
pub(super) fn played(ready: &Ready<'_>, person: &Person<'_>) -> (Life, History) {
    let living = lived(ready, person);
    (living.life, living.player.history().clone())
}

fn lived<'a>(ready: &'a Ready<'a>, person: &'a Person<'a>) -> Living<'a> {
    let mut living = Living::new(ready, person);
    let days = u32::try_from(ready.dates.len().saturating_sub(1)).unwrap_or(0);
    for day in 0..days {
        living.lives(day);
        if living.life.ended.is_some() {
            break;
        }
    }
    living
}

/// One exercise of the prescription in force.
struct Prescribed {
    exercise: ExerciseIx,
    key: Key,
    sets: Vec<SetDone>,
    weight: i64,
}

struct Living<'a> {
    ready: &'a Ready<'a>,
    person: &'a Person<'a>,
    player: Player<'a>,
    body: Body,
    life: Life,
    today: Date,
    prescribed: Vec<Prescribed>,
    /// The phase in force.
    phase: Option<PhaseIx>,
    away: Option<Spell>,
    /// The warning sign that there is, as an item of draws, and since when.
    sign: Option<(u64, u32)>,
    /// How far yesterday's session was beyond what is borne, in millionths.
    yesterday: Option<i64>,
    assessed_on: Option<u32>,
    screened_on: Option<u32>,
    /// A proposal, and the day on which it is accepted.
    proposed: Option<(DecisionNo, u32)>,
    /// Whether the last decision was a proposal, and was.
    accepted: bool,
    /// The day on which latched referrals are cleared.
    cleared_on: Option<u32>,
    latched: Vec<Key>,
    /// The last day on which a line went up or a further phase was entered.
    up_on: u32,
}

impl<'a> Living<'a> {
    fn new(ready: &'a Ready<'a>, person: &'a Person<'a>) -> Self {
        let opened_on = ready.dates.first().copied().unwrap_or_default();
        let age = person.has(Of::Age);
        let episode = Episode {
            opened_on,
            born_on: opened_on.checked_sub(age.years()).ok(),
            imported: false,
        };
        let life = Life {
            reached: vec![None; ready.pack.phases.len()],
            lacked: vec![0; ready.pack.sentences.len()],
            held: vec![0; ready.pack.rules.len()],
            doubted: vec![0; ready.pack.rules.len()],
            ..Life::default()
        };
        Self {
            ready,
            person,
            player: Player::new(ready.pack, episode),
            body: Body::new(person),
            life,
            today: opened_on,
            prescribed: Vec::new(),
            phase: None,
            away: None,
            sign: None,
            yesterday: None,
            assessed_on: None,
            screened_on: None,
            proposed: None,
            accepted: false,
            cleared_on: None,
            latched: Vec::new(),
            up_on: 0,
        }
    }

    fn lives(&mut self, day: u32) {
        let Some(today) = self.ready.dates.get(usize::try_from(day).unwrap_or(0)) else {
            return;
        };
        self.today = *today;
        self.setbacks(day);
        self.visited(day);
        self.morning(day);
        self.signed(day);
        self.cleared(day);
        let asks = day.is_multiple_of(self.person.model.days(Of::AskedEvery).max(1));
        if asks && !self.is_away(day) {
            self.asks(day);
            self.signed(day);
        }
        if self.life.ended.is_some() {
            return;
        }
        if self.life.began.is_some() {
            self.life.days += 1;
            self.life.days_without += u32::from(self.prescribed.is_empty());
        }
        self.yesterday = self.trains(day);
        self.body.evening(self.person);
    }

    fn is_away(&self, day: u32) -> bool {
        self.away.is_some_and(|spell| spell.holds(day))
    }

    fn chance(&self, of: Of, purpose: Purpose, day: u32, item: u64) -> bool {
        self.person
            .draws
            .chance(self.person.has(of), purpose, day, item)
    }

    fn tell(&mut self, by: Reporter, kind: FactKind) {
        let fact = Fact {
            date: self.today,
            by,
            kind,
        };
        self.player.take(self.today, fact);
    }

    fn moment(&self, day: u32, added: i64) -> Moment {
        Moment {
            day,
            symptoms: self.body.symptoms(self.person, day),
            added,
            sign: self.sign.map(|(item, _)| item),
        }
    }

    /// Flare-ups, time away and warning signs that begin.
    fn setbacks(&mut self, day: u32) {
        if self.body.flares_up(self.person, day) {
            self.life.flare_ups += 1;
            let told = self.chance(Of::FlareUpTold, Purpose::FlareUpTold, day, 0);
            if let Some(event) = self.ready.flare_up_event.clone().filter(|_| told) {
                self.tell(Reporter::Patient, FactKind::Event(event));
            }
        }
        if day > 0 && !self.is_away(day) {
            self.away = self.person.goes_away(day);
            let told = self.chance(Of::AwayTold, Purpose::AwayTold, day, 0);
            if let Some(spell) = self.away.filter(|_| told)
                && let Ok(until) = self.today.checked_add(i64::from(spell.days - 1).days())
            {
                self.tell(Reporter::Patient, FactKind::Away { until });
            }
        }
        if self.sign.is_none() && self.person.warning_sign(day) {
            let signs = self.ready.told.iter().filter(|one| one.role == Role::Sign);
            let drawn = |item| {
                let draws = self.person.draws;
                draws.below(i64::MAX, Purpose::WhichSign, day, item)
            };
            let which = signs.map(|one| one.item).min_by_key(|item| drawn(*item));
            self.sign = which.map(|item| (item, day));
        }
        let model = self.person.model;
        let lasts = model.days(Of::ScreenedEvery) + model.days(Of::ClearedAfter);
        if self.sign.is_some_and(|(_, since)| day > since + lasts) {
            self.sign = None;
        }
    }

    /// The clinic assesses and screens when it is time, or once the person is back.
    fn visited(&mut self, day: u32) {
        if day == 0 {
            for event in self.ready.events.clone() {
                self.tell(Reporter::Clinician, FactKind::Event(event));
            }
            if !self.ready.owned.is_empty() {
                let equipment = Equipment {
                    owned: self.ready.owned.clone(),
                    ..Equipment::default()
                };
                self.tell(Reporter::Clinician, FactKind::Equipment(equipment));
            }
        }
        if self.is_away(day) {
            return;
        }
        let model = self.person.model;
        let due =
            |last: Option<u32>, every: Of| last.is_none_or(|on| day >= on + model.days(every));
        let moment = self.moment(day, 0);
        if due(self.screened_on, Of::ScreenedEvery) {
            self.screened_on = Some(day);
            let readings = readings(self.ready, self.person, Carrier::Screening, moment);
            if !readings.is_empty() {
                self.tell(Reporter::Patient, FactKind::Screening(readings));
            }
        }
        if due(self.assessed_on, Of::AssessedEvery) {
            self.assessed_on = Some(day);
            let readings = readings(self.ready, self.person, Carrier::Assessment, moment);
            if !readings.is_empty() {
                let assessment = Assessment {
                    readings,
                    other_side: other_side(self.ready),
                    other_side_sound: self.chance(Of::OtherSideSound, Purpose::OtherSide, 0, 0),
                };
                self.tell(Reporter::Clinician, FactKind::Assessment(assessment));
            }
        }
    }

    /// The night after a session is told of, or not.
    fn morning(&mut self, day: u32) {
        let Some(beyond) = self.yesterday else { return };
        if !self.chance(Of::MorningTold, Purpose::MorningTold, day, 0) {
            return;
        }
        let lasting = self.person.has(Of::Lasting);
        let added = self.body.felt(self.person, beyond).saturating_mul(lasting) / 1000;
        let moment = self.moment(day, added);
        let readings = readings(self.ready, self.person, Carrier::MorningAfter, moment);
        let Ok(session_date) = self.today.checked_sub(1.day()) else {
            return;
        };
        if !readings.is_empty() {
            let morning = MorningAfter {
                session_date,
                session_number: None,
                readings,
            };
            self.tell(Reporter::Patient, FactKind::MorningAfter(morning));
        }
    }

    /// A clinician accepts what is proposed.
    fn signed(&mut self, day: u32) {
        let Some((decision, due)) = self.proposed else {
            return;
        };
        if day < due {
            return;
        }
        self.proposed = None;
        self.accepted = true;
        let kind = FactKind::SignOff {
            decision,
            accepted: true,
            who: WHO.into(),
        };
        self.tell(Reporter::Clinician, kind);
        self.accept(decision, day);
        self.look_up();
    }

    /// A clinician clears what is referred, the sign being gone.
    fn cleared(&mut self, day: u32) {
        if self.cleared_on.is_none_or(|on| day < on) {
            return;
        }
        self.cleared_on = None;
        self.sign = None;
        let directive = Directive {
            who: WHO.into(),
            why: "seen, and nothing found".to_owned(),
            until: None,
            clinic_wide: false,
            order: Order::Clear {
                rules: std::mem::take(&mut self.latched),
            },
        };
        self.tell(Reporter::Clinician, FactKind::Directive(directive));
        self.look_up();
    }

    /// Reads what is prescribed from here on: what stands, on its rungs. There are no bounds on it, no measured bands and no
    /// comfortable ranges told, so that it is the engine's own prescription, which would cost more.
    fn look_up(&mut self) {
        let pack = self.ready.pack;
        self.prescribed.clear();
        let Some((_, _, last)) = self.player.history().last_decision() else {
            return;
        };
        let accepted = last.if_accepted.as_ref().filter(|_| self.accepted);
        let state = accepted.unwrap_or(&last.state);
        let stops = |rule: &Key| {
            let rule = pack.rule(rule).and_then(|ix| pack.rules.get(ix.at()));
            rule.is_none_or(|rule| matches!(rule.kind, RuleKind::Refer { stops: true }))
        };
        if state.began.is_none() || self.latched.iter().any(stops) {
            return;
        }
        let prescribed = state.places.iter().filter_map(|place| {
            let ix = pack.exercise(&place.exercise)?;
            let exercise = pack.exercises.get(ix.at())?;
            let rung = ladder::map_rung(exercise, &place.rung)?;
            let dose = ladder::dose(exercise, rung, &place.relief);
            Some(Prescribed {
                exercise: ix,
                key: place.exercise.clone(),
                sets: as_prescribed(&ladder::dose_values(exercise, &dose)),
                weight: self.ready.weight(ix, exercise, &dose),
            })
        });
        self.prescribed = prescribed.collect();
    }

    /// Trains where a session is due and kept; how far that was beyond what is borne, in millionths.
    fn trains(&mut self, day: u32) -> Option<i64> {
        let phase = self.ready.pack.phases.get(self.phase?.at())?;
        if self.prescribed.is_empty() || self.is_away(day) || !is_due(phase, day) {
            return None;
        }
        let mut kept = self.person.has(Of::Kept);
        if self.body.in_flare_up(day) {
            kept = kept * self.person.has(Of::KeptInFlareUp) / 1000;
        }
        let draws = self.person.draws;
        if !draws.chance(kept, Purpose::Kept, day, 0) {
            return None;
        }
        let (mut beyond, mut weights, mut done) = (0, 0, 0);
        let mut exercises = Vec::with_capacity(self.prescribed.len());
        for one in &self.prescribed {
            let (report, strain) = self.exercised(one, day);
            if report.done == Done::Done {
                beyond = strain.max(beyond);
                weights += one.weight;
                done += 1;
            }
            exercises.push(report);
        }
        let moment = self.moment(day, 0);
        let session = Session {
            number: 1,
            followed: None,
            readings: readings(self.ready, self.person, Carrier::Session, moment),
            exercises,
        };
        self.tell(Reporter::Patient, FactKind::Session(session));
        self.life.sessions += 1;
        if done > 0 {
            self.body.trained(self.person, weights / done, beyond, day);
        }
        Some(beyond)
    }

    /// One exercise of a session, and how far its dose was beyond what is borne.
    fn exercised(&self, one: &Prescribed, day: u32) -> (ExerciseReport, i64) {
        let item = self.ready.item(one.exercise);
        let strain = self.body.beyond(self.person, one.weight, day);
        let added = self.body.felt(self.person, strain) + self.person.sore(item);
        let moment = self.moment(day, added);
        let share = self.person.has(Of::EverydayShare);
        let hurts = moment.symptoms * share / 1000 + added;
        let done = if hurts >= self.person.has(Of::SkippedAt) * 1000 {
            Done::SkippedForPain
        } else if self.chance(Of::ExerciseKept, Purpose::ExerciseKept, day, item) {
            Done::Done
        } else {
            Done::SkippedOtherwise
        };
        // Who tells the sets of one exercise tells those of all.
        let told = self.chance(Of::SetsTold, Purpose::SetsTold, day, 0);
        let sets = one.sets.iter();
        let report = ExerciseReport {
            exercise: one.key.clone(),
            done,
            sets: if done != Done::Done {
                Vec::new()
            } else if told {
                sets.map(|set| body::managed(*set, strain)).collect()
            } else {
                sets.map(|_| SetDone::default()).collect()
            },
            readings: if done == Done::Done {
                readings(self.ready, self.person, Carrier::Exercise, moment)
            } else {
                Vec::new()
            },
        };
        (report, strain)
    }
}

#[cfg(test)]
mod tests;

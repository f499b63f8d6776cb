//! Made-up courses of care: somebody who does everything and reports everything, with the best values there are but for
//! what a [`Plan`] says otherwise; played day by day, and written as a diary at the same time.
//!
//! Leaves to others: which plans are worth playing, and what is made of them (`crate::best`, `crate::versions`).

pub(crate) mod values;

use crate::diary::{Entry, SessionPlan};
use crate::play::Player;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::fact::{
    Assessment, DecisionNo, Episode, Equipment, Fact, FactKind, MorningAfter, Value,
};
use rungwise_pack::model::{
    Carrier, CheckedPack, Computed, Origin, Outcome, Phase, PhaseIx, Reporter,
};
use rungwise_pack::quantity::Key;
use std::fmt::Write as _;
use values::as_toml;

/// The first day of every made-up course.
pub(crate) const OPENED: Date = date(2026, 1, 5);
const WHO: &str = "an invented clinician";

/// Most kinds of event that are tried one by one.
const EVENTS_MAX: usize = 8;

/// How the first assessment goes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Start {
    /// At its best, so that rules to start in a later phase are met.
    Best,
    /// At its worst in what such rules read and no refer rule does, so that care begins with the first phase; and in
    /// what must have become better since.
    Poor,
}

/// What a course is like.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Plan {
    /// How the first assessment goes.
    pub(crate) start: Start,
    /// What happened on the first day.
    pub(crate) events: Vec<Key>,
    /// A measure that has this value throughout, and not its best.
    pub(crate) with: Option<(Key, Value)>,
}

impl Plan {
    /// The same on every day but the first.
    fn later(&self) -> Self {
        Self {
            start: Start::Best,
            ..self.clone()
        }
    }

    /// Every plan without a value of its own: with no event that a pack counts from, with each, with all.
    pub(crate) fn best(pack: &CheckedPack) -> Vec<Self> {
        let counted = pack.measures.iter().filter_map(|one| match &one.origin {
            Origin::Computed(Computed::DaysSince(event) | Computed::WeeksSince(event)) => {
                Some(event.clone())
            }
            _ => None,
        });
        let mut events: Vec<Key> = counted.collect();
        events.sort_unstable();
        events.dedup();
        let mut sets: Vec<Vec<Key>> = vec![vec![]];
        sets.extend(
            events
                .iter()
                .take(EVENTS_MAX)
                .map(|event| vec![event.clone()]),
        );
        if events.len() > 1 {
            sets.push(events);
        }
        let plans = sets.into_iter().flat_map(|events| {
            [Start::Poor, Start::Best].map(|start| Self {
                start,
                events: events.clone(),
                with: None,
            })
        });
        plans.collect()
    }
}

/// Whether a phase's session is due on a day, counted from 0: as many a week as it prescribes, spread over the week.
pub(crate) fn is_due(phase: &Phase, day: u32) -> bool {
    let sessions = u32::from(phase.sessions_a_week);
    day % 7 * sessions % 7 < sessions
}

/// Every piece of equipment that an exercise asks for.
pub(crate) fn everything_owned(pack: &CheckedPack) -> Vec<Key> {
    let exercises = pack.exercises.iter();
    let mut owned: Vec<Key> = exercises
        .flat_map(|one| one.equipment.iter().cloned())
        .collect();
    owned.sort_unstable();
    owned.dedup();
    owned
}

/// A course on its way.
pub(crate) struct Course<'p> {
    pack: &'p CheckedPack,
    player: Player<'p>,
    plan: Plan,
    reached: Vec<Option<u32>>,
    ended: Option<u32>,
    diary: String,
    last: Option<DecisionNo>,
}

impl<'p> Course<'p> {
    /// Nothing has happened yet.
    pub(crate) fn new(pack: &'p CheckedPack, plan: Plan) -> Self {
        let episode = Episode {
            opened_on: OPENED,
            born_on: Some(date(1980, 1, 5)),
            imported: false,
        };
        Self {
            pack,
            player: Player::new(pack, episode),
            reached: vec![None; pack.phases.len()],
            ended: None,
            diary: values::head(pack, OPENED, &plan),
            plan,
            last: None,
        }
    }

    /// Plays it until care ends, or for so many days. `before_ask` is called before each ask, with the date.
    pub(crate) fn run(mut self, days: u32, before_ask: &mut dyn FnMut(&Player<'p>, Date)) -> Self {
        let mut trained = false;
        for day in 0..days {
            let Ok(today) = OPENED.checked_add(i64::from(day).days()) else {
                break;
            };
            let assessed = day.is_multiple_of(7);
            if assessed {
                self.assessed(today, day == 0);
            }
            if trained {
                self.morning(today);
            }
            trained = day > 0 && self.trains(day);
            if trained {
                self.session(today);
            }
            self.wrote(today, day, assessed, trained);
            before_ask(&self.player, today);
            if self.asked(today, day) {
                break;
            }
        }
        self
    }

    fn values(&self, carrier: Carrier, first: bool) -> Vec<rungwise_engine::fact::Reading> {
        if first {
            values::best(self.pack, carrier, &self.plan)
        } else {
            values::best(self.pack, carrier, &self.plan.later())
        }
    }

    /// Reports one fact. The pack's own best values are always understood; what is not is not part of the course.
    fn tell(&mut self, date: Date, by: Reporter, kind: FactKind) {
        let entry = Entry::Fact(Fact { date, by, kind });
        let _refused = self.player.report(date, &entry);
    }

    fn assessed(&mut self, today: Date, first: bool) {
        if first {
            for event in self.plan.events.clone() {
                self.tell(today, Reporter::Clinician, FactKind::Event(event));
            }
            let owned = everything_owned(self.pack);
            if !owned.is_empty() {
                let equipment = Equipment {
                    owned,
                    ..Equipment::default()
                };
                self.tell(today, Reporter::Clinician, FactKind::Equipment(equipment));
            }
        }
        let screening = self.values(Carrier::Screening, first);
        if !screening.is_empty() {
            self.tell(today, Reporter::Patient, FactKind::Screening(screening));
        }
        let readings = self.values(Carrier::Assessment, first);
        if !readings.is_empty() {
            let assessment = Assessment {
                readings,
                other_side: values::other_side(self.pack),
                other_side_sound: true,
            };
            self.tell(today, Reporter::Clinician, FactKind::Assessment(assessment));
        }
    }

    fn morning(&mut self, today: Date) {
        let readings = self.values(Carrier::MorningAfter, false);
        let Ok(session_date) = today.checked_sub(1.day()) else {
            return;
        };
        let morning = MorningAfter {
            session_date,
            session_number: None,
            readings,
        };
        self.tell(today, Reporter::Patient, FactKind::MorningAfter(morning));
    }

    /// Whether the phase in force wants a session on this day.
    fn trains(&self, day: u32) -> bool {
        let phase = self
            .phase()
            .and_then(|phase| self.pack.phases.get(phase.at()));
        phase.is_some_and(|phase| is_due(phase, day))
    }

    /// The phase in force.
    pub(crate) fn phase(&self) -> Option<PhaseIx> {
        let (_, _, decision) = self.player.history().last_decision()?;
        decision
            .state
            .phase
            .as_ref()
            .and_then(|phase| self.pack.phase(phase))
    }

    fn session(&mut self, today: Date) {
        let plan = SessionPlan {
            date: today,
            number: 1,
            readings: self.values(Carrier::Session, false),
            rest: Some(self.values(Carrier::Exercise, false)),
            exercises: Vec::new(),
        };
        let _refused = self.player.report(today, &Entry::Session(plan));
    }

    /// Asks, accepts what is proposed, and says whether care has ended.
    fn asked(&mut self, today: Date, day: u32) -> bool {
        let Ok((number, again)) = self.player.ask(today) else {
            return true;
        };
        self.last = Some(number);
        let decided = self.player.history().decision(number);
        let Some((outcome, proposed)) = decided.map(|(_, one)| (one.outcome, one.proposed)) else {
            return true;
        };
        if proposed && !again {
            let accept = Entry::SignOff {
                date: today,
                accepted: true,
                who: WHO.into(),
            };
            if self.player.report(today, &accept).is_ok() {
                self.diary.push_str(&values::accepted(today, WHO));
            }
        }
        if let Some(reached) = self
            .phase()
            .and_then(|phase| self.reached.get_mut(phase.at()))
        {
            reached.get_or_insert(day);
        }
        if outcome == Outcome::Discharge {
            self.ended = Some(day);
        }
        self.ended.is_some()
    }

    /// Writes the day into the diary.
    fn wrote(&mut self, today: Date, day: u32, assessed: bool, trained: bool) {
        let mut text = format!("\n[[day]]\ndate = \"{today}\"\n");
        if day == 0 && !self.plan.events.is_empty() {
            let names: Vec<String> = self
                .plan
                .events
                .iter()
                .map(|event| as_toml(event))
                .collect();
            // A String takes everything.
            let _ = writeln!(text, "events = [{}]", names.join(", "));
        }
        if assessed {
            let readings = self.values(Carrier::Assessment, day == 0);
            text.push_str(&values::assessed(self.pack, &readings, day == 0));
        }
        if trained {
            text.push_str("session = [{ next_morning = {} }]\n");
        }
        text.push_str("expect = {}\n");
        self.diary.push_str(&text);
    }

    /// By phase: the day on which the course came to it.
    pub(crate) fn reached(&self) -> &[Option<u32>] {
        &self.reached
    }

    /// The day on which care ended.
    pub(crate) const fn ended(&self) -> Option<u32> {
        self.ended
    }

    /// The last ask's decision, and everything recorded.
    pub(crate) fn last(&self) -> Option<(DecisionNo, &rungwise_engine::history::History)> {
        Some((self.last?, self.player.history()))
    }

    /// The course so far as a diary.
    pub(crate) fn diary(&self) -> &str {
        &self.diary
    }
}

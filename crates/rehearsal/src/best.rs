//! The best course: does a person who does everything, reports everything and is as well as can be come through every
//! phase, and does their care end?
//!
//! Caution is monotone, so nobody gets further than the best reported values do: a phase that this course never comes
//! to is one that nobody comes to, but for values of measures without a better end, of which one is tried. It is a
//! search over a few courses and a bounded number of days: coming through is shown by the course itself; not coming
//! through is shown for these courses, one of which is given as a diary.
//!
//! Leaves to others: what the sentences alone prove (`rungwise_pack::prove`).

mod values;

use crate::diary::{Entry, SessionPlan};
use crate::play::Player;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use rungwise_engine::explain::{View, explain};
use rungwise_engine::fact::{
    Assessment, DecisionNo, Episode, Equipment, Fact, FactKind, MorningAfter,
};
use rungwise_pack::model::{Carrier, CheckedPack, Computed, Origin, Outcome, PhaseIx, Reporter};
use rungwise_pack::quantity::Key;
use values::{Start, as_toml, best};

/// Longest course looked at.
pub const DAYS_MAX: u32 = 730;

/// Most kinds of event that are tried one by one.
const EVENTS_MAX: usize = 8;

const OPENED: Date = date(2026, 1, 5);
const WHO: &str = "an invented clinician";

/// What the best courses came to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Best {
    /// By [`PhaseIx`]: the day, from 0, on which some course first came to the phase.
    pub reached: Vec<Option<u32>>,
    /// The day on which the first of them ended with DISCHARGE.
    pub ended: Option<u32>,
    /// Where the one that came furthest stopped, unless it ended.
    pub stuck: Option<Stuck>,
}

/// Where a best course stops.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Stuck {
    /// The phase, unless care never began.
    pub phase: Option<PhaseIx>,
    /// What was still missing on the last day, in the words of the explanation.
    pub missing: Vec<String>,
    /// The rules and limits that decided on the last day, by name.
    pub because: Vec<String>,
    /// The course as a diary that can be rehearsed.
    pub diary: String,
}

impl Best {
    /// Phases that no course came to, in order of care.
    #[must_use]
    pub fn unreached(&self) -> Vec<PhaseIx> {
        let reached = (0_u16..).map(PhaseIx).zip(&self.reached);
        reached
            .filter(|(_, day)| day.is_none())
            .map(|(phase, _)| phase)
            .collect()
    }
}

/// Plays the best courses that a pack allows.
#[must_use]
pub fn best_course(pack: &CheckedPack) -> Best {
    let mut best = Best {
        reached: vec![None; pack.phases.len()],
        ended: None,
        stuck: None,
    };
    let counted = pack.measures.iter().filter_map(|one| match &one.origin {
        Origin::Computed(Computed::DaysSince(event) | Computed::WeeksSince(event)) => {
            Some(event.clone())
        }
        _ => None,
    });
    let mut events: Vec<Key> = counted.collect();
    events.sort_unstable();
    events.dedup();
    let mut with_events: Vec<Vec<Key>> = vec![vec![]];
    with_events.extend(
        events
            .iter()
            .take(EVENTS_MAX)
            .map(|event| vec![event.clone()]),
    );
    if events.len() > 1 {
        with_events.push(events);
    }
    let mut furthest = None;
    for events in with_events {
        // What the pack lets begin and end needs no other history.
        if best.ended.is_some() && best.unreached().is_empty() {
            break;
        }
        for start in [Start::Poor, Start::Best] {
            let course = Course::new(pack, start, events.clone()).run();
            for (so_far, day) in best.reached.iter_mut().zip(&course.reached) {
                *so_far = earliest(*so_far, *day);
            }
            best.ended = earliest(best.ended, course.ended);
            let far = course.reached.iter().rposition(Option::is_some);
            if course.ended.is_none() && furthest.is_none_or(|most| far > most) {
                furthest = Some(far);
                best.stuck = Some(course.stuck());
            }
        }
    }
    if best.ended.is_some() {
        best.stuck = None;
    }
    best
}

fn earliest(one: Option<u32>, other: Option<u32>) -> Option<u32> {
    one.into_iter().chain(other).min()
}

struct Course<'p> {
    pack: &'p CheckedPack,
    player: Player<'p>,
    start: Start,
    events: Vec<Key>,
    reached: Vec<Option<u32>>,
    ended: Option<u32>,
    diary: String,
    last: Option<DecisionNo>,
}

impl<'p> Course<'p> {
    fn new(pack: &'p CheckedPack, start: Start, events: Vec<Key>) -> Self {
        let episode = Episode {
            opened_on: OPENED,
            born_on: Some(date(1980, 1, 5)),
            imported: false,
        };
        Self {
            pack,
            player: Player::new(pack, episode),
            start,
            events,
            reached: vec![None; pack.phases.len()],
            ended: None,
            diary: values::head(pack, OPENED),
            last: None,
        }
    }

    fn run(mut self) -> Self {
        let mut trained = false;
        for day in 0..DAYS_MAX {
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
            if self.asked(today, day) {
                break;
            }
        }
        self
    }

    /// Reports one fact. The pack's own best values are always understood; what is not is not part of the course.
    fn tell(&mut self, date: Date, by: Reporter, kind: FactKind) {
        let entry = Entry::Fact(Fact { date, by, kind });
        let _refused = self.player.report(date, &entry);
    }

    fn assessed(&mut self, today: Date, first: bool) {
        if first {
            for event in self.events.clone() {
                self.tell(today, Reporter::Clinician, FactKind::Event(event));
            }
            let mut owned: Vec<Key> = self
                .pack
                .exercises
                .iter()
                .flat_map(|one| one.equipment.iter().cloned())
                .collect();
            owned.sort_unstable();
            owned.dedup();
            if !owned.is_empty() {
                let equipment = Equipment {
                    owned,
                    ..Equipment::default()
                };
                self.tell(today, Reporter::Clinician, FactKind::Equipment(equipment));
            }
        }
        let screening = best(self.pack, Carrier::Screening, Start::Best);
        if !screening.is_empty() {
            self.tell(today, Reporter::Patient, FactKind::Screening(screening));
        }
        let start = if first { self.start } else { Start::Best };
        let readings = best(self.pack, Carrier::Assessment, start);
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
        let readings = best(self.pack, Carrier::MorningAfter, Start::Best);
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

    /// Whether the phase in force wants a session on this day: as many a week as it prescribes, spread over the week.
    fn trains(&self, day: u32) -> bool {
        let phase = self
            .phase()
            .and_then(|phase| self.pack.phases.get(phase.at()));
        phase.is_some_and(|phase| {
            let sessions = u32::from(phase.sessions_a_week);
            day % 7 * sessions % 7 < sessions
        })
    }

    fn phase(&self) -> Option<PhaseIx> {
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
            readings: best(self.pack, Carrier::Session, Start::Best),
            rest: Some(best(self.pack, Carrier::Exercise, Start::Best)),
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
        if day == 0 && !self.events.is_empty() {
            let names: Vec<String> = self.events.iter().map(|event| as_toml(event)).collect();
            text.push_str(&format!("events = [{}]\n", names.join(", ")));
        }
        if assessed {
            let start = if day == 0 { self.start } else { Start::Best };
            text.push_str(&values::assessed(self.pack, start, day == 0));
        }
        if trained {
            text.push_str("session = [{ next_morning = {} }]\n");
        }
        text.push_str("expect = {}\n");
        self.diary.push_str(&text);
    }

    fn stuck(self) -> Stuck {
        let explained = self
            .last
            .and_then(|number| explain(self.pack, self.player.history(), number, View::Basic).ok());
        let (missing, because) = explained.map_or_else(Default::default, |told| {
            let causes = told.because.into_iter().map(|(_, text)| text);
            (told.to_progress, causes.collect())
        });
        Stuck {
            phase: self.phase(),
            missing,
            because,
            diary: self.diary,
        }
    }
}

//! Many courses added up: when people come to what, where they are stuck, what holds them, what it costs.
//!
//! Leaves to others: one course (`super::life`), two packs beside each other (`super::paired`).

use super::life::Life;
use super::ready::Ready;
use rungwise_pack::quantity::Key;
use std::collections::BTreeMap;

/// On which day how many came.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Arrivals {
    by_day: Vec<u64>,
    people: u64,
}

impl Arrivals {
    const fn none() -> Self {
        Self {
            by_day: Vec::new(),
            people: 0,
        }
    }

    fn add(&mut self, day: Option<u32>) {
        self.people += 1;
        let Some(at) = day.and_then(|day| usize::try_from(day).ok()) else {
            return;
        };
        if self.by_day.len() <= at {
            self.by_day.resize(at + 1, 0);
        }
        if let Some(count) = self.by_day.get_mut(at) {
            *count += 1;
        }
    }

    fn merge(&mut self, other: &Self) {
        self.people += other.people;
        if self.by_day.len() < other.by_day.len() {
            self.by_day.resize(other.by_day.len(), 0);
        }
        add_all(&mut self.by_day, &other.by_day);
    }

    /// How many people there are, whether they came or not.
    #[must_use]
    pub const fn people(&self) -> u64 {
        self.people
    }

    /// How many came.
    #[must_use]
    pub fn came(&self) -> u64 {
        self.by_day.iter().sum()
    }

    /// By day, from 0: how many came that day.
    #[must_use]
    pub fn by_day(&self) -> &[u64] {
        &self.by_day
    }

    /// The first day by which at least so many thousandths of all people had come; none where they did not.
    #[must_use]
    pub fn day_of(&self, permille: u64) -> Option<u32> {
        let mut so_far = 0;
        let enough = |so_far: u64| so_far > 0 && so_far * 1000 >= permille * self.people;
        let at = self.by_day.iter().position(|count| {
            so_far += count;
            enough(so_far)
        })?;
        u32::try_from(at).ok()
    }
}

/// What a cohort came to under one pack.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Cohort {
    /// How many people.
    pub people: u64,
    /// When care began.
    pub began: Arrivals,
    /// By phase: when it was first entered.
    pub phases: Vec<Arrivals>,
    /// When care ended.
    pub ended: Arrivals,
    /// People who were stuck at some time.
    pub stuck: u64,
    /// Of these: in which phase, the first time.
    pub stuck_in: Vec<u64>,
    /// By sentence: how many of them lacked it then.
    pub stuck_lacked: Vec<u64>,
    /// By rule: how many of them it held then.
    pub stuck_held: Vec<u64>,
    /// Decisions made.
    pub decisions: u64,
    /// Decisions by outcome, in the order of the enum.
    pub outcomes: [u64; 8],
    /// Moves by kind, in the order of the enum.
    pub moves: [u64; 8],
    /// Lines eased or withdrawn, by the limit they were over; none: skipped because of pain.
    pub over: BTreeMap<Option<Key>, u64>,
    /// By sentence: decisions that lacked it for the next phase or for discharge.
    pub lacked: Vec<u64>,
    /// By sentence: people who ever lacked it.
    pub lacked_people: Vec<u64>,
    /// By rule: decisions that it held, sent back or referred.
    pub held: Vec<u64>,
    /// Of these: in doubt, something that was not told deciding.
    pub doubted: Vec<u64>,
    /// By rule: people whom it ever did.
    pub held_people: Vec<u64>,
    /// Days in care.
    pub days: u64,
    /// Of these: days on which nothing was prescribed.
    pub days_without: u64,
    /// Sessions done.
    pub sessions: u64,
    /// Flare-ups.
    pub flare_ups: u64,
    /// People who had one.
    pub flare_up_people: u64,
    /// People who were sent back a phase.
    pub regressed_people: u64,
    /// Refer rules that came into force.
    pub referrals: u64,
    /// People referred.
    pub referred_people: u64,
}

impl Cohort {
    /// Nobody yet.
    #[must_use]
    pub fn new(ready: &Ready<'_>) -> Self {
        let pack = ready.pack();
        let sentences = || vec![0; pack.sentences.len()];
        let rules = || vec![0; pack.rules.len()];
        Self {
            people: 0,
            began: Arrivals::none(),
            phases: vec![Arrivals::none(); pack.phases.len()],
            ended: Arrivals::none(),
            stuck: 0,
            stuck_in: vec![0; pack.phases.len()],
            stuck_lacked: sentences(),
            stuck_held: rules(),
            decisions: 0,
            outcomes: [0; 8],
            moves: [0; 8],
            over: BTreeMap::new(),
            lacked: sentences(),
            lacked_people: sentences(),
            held: rules(),
            doubted: rules(),
            held_people: rules(),
            days: 0,
            days_without: 0,
            sessions: 0,
            flare_ups: 0,
            flare_up_people: 0,
            regressed_people: 0,
            referrals: 0,
            referred_people: 0,
        }
    }

    /// Adds a course.
    pub fn add(&mut self, life: &Life) {
        self.people += 1;
        self.began.add(life.began);
        for (arrivals, day) in self.phases.iter_mut().zip(&life.reached) {
            arrivals.add(*day);
        }
        self.ended.add(life.ended);
        if let Some(stuck) = &life.stuck {
            self.stuck += 1;
            one_more(&mut self.stuck_in, stuck.phase.at());
            // A sentence may stand twice in what a phase wants.
            let mut lacked: Vec<usize> = stuck.lacked.iter().map(|one| one.at()).collect();
            lacked.sort_unstable();
            lacked.dedup();
            for at in lacked {
                one_more(&mut self.stuck_lacked, at);
            }
            for rule in &stuck.held {
                one_more(&mut self.stuck_held, rule.at());
            }
        }
        self.decisions += u64::from(life.decisions);
        add_some(&mut self.outcomes, &life.outcomes);
        add_some(&mut self.moves, &life.moves);
        for (limit, count) in &life.over {
            *self.over.entry(limit.clone()).or_default() += u64::from(*count);
        }
        add_some(&mut self.lacked, &life.lacked);
        add_ever(&mut self.lacked_people, &life.lacked);
        add_some(&mut self.held, &life.held);
        add_some(&mut self.doubted, &life.doubted);
        add_ever(&mut self.held_people, &life.held);
        self.days += u64::from(life.days);
        self.days_without += u64::from(life.days_without);
        self.sessions += u64::from(life.sessions);
        self.flare_ups += u64::from(life.flare_ups);
        self.flare_up_people += u64::from(life.flare_ups > 0);
        self.regressed_people += u64::from(life.regressed());
        self.referrals += u64::from(life.referrals);
        self.referred_people += u64::from(life.referrals > 0);
    }

    /// Adds the courses of another part of the cohort.
    pub fn merge(&mut self, other: &Self) {
        self.people += other.people;
        self.began.merge(&other.began);
        for (arrivals, more) in self.phases.iter_mut().zip(&other.phases) {
            arrivals.merge(more);
        }
        self.ended.merge(&other.ended);
        self.stuck += other.stuck;
        add_all(&mut self.stuck_in, &other.stuck_in);
        add_all(&mut self.stuck_lacked, &other.stuck_lacked);
        add_all(&mut self.stuck_held, &other.stuck_held);
        self.decisions += other.decisions;
        add_all(&mut self.outcomes, &other.outcomes);
        add_all(&mut self.moves, &other.moves);
        for (limit, count) in &other.over {
            *self.over.entry(limit.clone()).or_default() += count;
        }
        add_all(&mut self.lacked, &other.lacked);
        add_all(&mut self.lacked_people, &other.lacked_people);
        add_all(&mut self.held, &other.held);
        add_all(&mut self.doubted, &other.doubted);
        add_all(&mut self.held_people, &other.held_people);
        self.days += other.days;
        self.days_without += other.days_without;
        self.sessions += other.sessions;
        self.flare_ups += other.flare_ups;
        self.flare_up_people += other.flare_up_people;
        self.regressed_people += other.regressed_people;
        self.referrals += other.referrals;
        self.referred_people += other.referred_people;
    }
}

fn one_more(counts: &mut [u64], at: usize) {
    if let Some(count) = counts.get_mut(at) {
        *count += 1;
    }
}

fn add_some(counts: &mut [u64], more: &[u32]) {
    for (count, more) in counts.iter_mut().zip(more) {
        *count += u64::from(*more);
    }
}

fn add_ever(counts: &mut [u64], more: &[u32]) {
    for (count, more) in counts.iter_mut().zip(more) {
        *count += u64::from(*more > 0);
    }
}

fn add_all(counts: &mut [u64], more: &[u64]) {
    for (count, more) in counts.iter_mut().zip(more) {
        *count += more;
    }
}

#[cfg(test)]
pub(super) fn arrivals(days: &[Option<u32>]) -> Arrivals {
    let mut arrivals = Arrivals::none();
    for day in days {
        arrivals.add(*day);
    }
    arrivals
}

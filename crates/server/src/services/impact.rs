//! What a pack would change for the people who are there: every episode of its id opened once, spread over cores.
//!
//! One core is left to the calls of others. Episodes are read past the cache, which keeps those that are in use.
//!
//! Leaves to others: what changes for one episode (`rungwise_rehearsal::impact`).

use super::drafts::draft_of;
use crate::clinic::{Clinic, KeptPack, Listed};
use crate::episode::Loaded;
use crate::limits::{IMPACT_PROGRESS_EPISODES, STREAM_BUFFER};
use crate::refusal::Refusal;
use crate::service::{Service, clinic_field, date_field};
use jiff::civil::Date;
use rungwise_api::name::EpisodeName;
use rungwise_api::to_wire::outcome_to_wire;
use rungwise_api::v1::assess_impact_response::Told;
use rungwise_api::v1::{self, ChangeDirection, Reason};
use rungwise_rehearsal::impact::{Change, Direction, Impact, PastChange, Today, impact};
use std::num::NonZero;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use tokio::sync::{OwnedSemaphorePermit, mpsc};
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;

/// What AssessImpact answers with.
pub(super) type ImpactStream = ReceiverStream<Result<v1::AssessImpactResponse, Status>>;

/// An assessment under way, shared by the cores that work on it.
struct Assessing {
    service: Arc<Service>,
    clinic: Arc<Clinic>,
    newer: Arc<KeptPack>,
    as_of: Date,
    episodes: Vec<Listed>,
    /// The next episode to look at.
    next: AtomicUsize,
    done: AtomicU64,
    counts: Counts,
    answers: mpsc::Sender<Result<v1::AssessImpactResponse, Status>>,
    /// Held until the last core is done.
    _permit: OwnedSemaphorePermit,
}

#[derive(Default)]
struct Counts {
    episodes: AtomicU64,
    decisions: AtomicU64,
    past: [AtomicU64; 3],
    in_force: AtomicU64,
    today: [AtomicU64; 3],
    sheets_again: AtomicU64,
    unmapped: AtomicU64,
    unbound: AtomicU64,
}

/// Nobody reads the answers any more, or the server stops.
struct Gone;

pub(super) fn assess(
    service: &Arc<Service>,
    given: &v1::AssessImpactRequest,
) -> Result<ImpactStream, Refusal> {
    let clinic = service.clinic(&clinic_field("parent", &given.parent)?)?;
    let _entered = clinic.enter()?;
    let as_of = date_field("as_of", &given.as_of)?;
    let newer = draft_of(service, &clinic, given.draft.as_ref(), &given.newer)?;
    let permit = service.checks.clone().try_acquire_owned();
    let permit = permit.map_err(|_| Refusal::Busy(Reason::TooManyChecks))?;
    let (answers, stream) = mpsc::channel(STREAM_BUFFER);
    let assessing = Arc::new(Assessing {
        service: service.clone(),
        episodes: clinic.opened_from(0, usize::MAX)?,
        clinic: clinic.clone(),
        newer,
        as_of,
        next: AtomicUsize::new(0),
        done: AtomicU64::new(0),
        counts: Counts::default(),
        answers,
        _permit: permit,
    });
    tokio::spawn(over_cores(assessing));
    Ok(ReceiverStream::new(stream))
}

async fn over_cores(assessing: Arc<Assessing>) {
    let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
    let workers = cores.saturating_sub(1).max(1);
    let work = |assessing: Arc<Assessing>| tokio::task::spawn_blocking(move || assessing.work());
    let working: Vec<_> = (0..workers).map(|_| work(assessing.clone())).collect();
    for one in working {
        let ended = one.await;
        let refusal = match ended {
            Ok(Ok(())) => continue,
            Ok(Err(Ended::Gone(Gone))) => return,
            Ok(Err(Ended::Refused(refusal))) => refusal,
            Err(error) => Refusal::Fault(error.to_string()),
        };
        // Nobody may be there any more to be told.
        let _ = assessing.answers.send(Err(refusal.status())).await;
        return;
    }
    let summary = Told::Summary(assessing.counts.to_wire());
    let _ = assessing.answers.send(Ok(told(summary))).await;
}

/// Why a core ended early.
enum Ended {
    Gone(Gone),
    Refused(Refusal),
}

impl From<Refusal> for Ended {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl From<Gone> for Ended {
    fn from(gone: Gone) -> Self {
        Self::Gone(gone)
    }
}

fn told(told: Told) -> v1::AssessImpactResponse {
    v1::AssessImpactResponse { told: Some(told) }
}

impl Assessing {
    fn work(&self) -> Result<(), Ended> {
        loop {
            let at = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(listed) = self.episodes.get(at) else {
                return Ok(());
            };
            if *self.service.stopping.borrow() {
                return Err(Refusal::Stopping.into());
            }
            self.look_at(listed)?;
            let done = self.done.fetch_add(1, Ordering::Relaxed).saturating_add(1);
            if done.is_multiple_of(IMPACT_PROGRESS_EPISODES) {
                self.send(Told::Progress(v1::ImpactProgress {
                    episodes: done,
                    episodes_total: u64::try_from(self.episodes.len()).unwrap_or(u64::MAX),
                }))?;
            }
        }
    }

    fn send(&self, what: Told) -> Result<(), Gone> {
        self.answers.blocking_send(Ok(told(what))).map_err(|_| Gone)
    }

    fn look_at(&self, listed: &Listed) -> Result<(), Ended> {
        let name = EpisodeName {
            clinic: self.clinic.id.to_string(),
            episode: listed.stream.to_string(),
        };
        let today = self.service.clock.today();
        let episode = Loaded::read(&self.service.store, &self.clinic, &name, today)?;
        if episode.opening.pack != self.newer.pack.id {
            return Ok(());
        }
        let last = episode.history.last_decision();
        let as_of = last.map_or(self.as_of, |(_, _, last)| last.as_of.max(self.as_of));
        let as_of = Some(as_of).filter(|_| episode.closed.is_none());
        let older = episode.pack_on(&self.clinic, as_of.unwrap_or(today));
        let found = impact(&older.pack, &self.newer.pack, &episode.history, as_of);
        self.counts.take(&found);
        for past in &found.past {
            self.send(Told::Past(past_to_wire(&name, past)))?;
        }
        if let Some(today) = found.today.as_ref().filter(|today| today.is_another()) {
            self.send(Told::Today(today_to_wire(&name, today)))?;
        }
        Ok(())
    }
}

impl Counts {
    fn take(&self, found: &Impact) {
        let add = |count: &AtomicU64, more: usize| {
            count.fetch_add(u64::try_from(more).unwrap_or(u64::MAX), Ordering::Relaxed);
        };
        let of = |counts: &[AtomicU64; 3], change: &Change| {
            let [bolder, cautious, sideways] = counts;
            let count = match change.direction {
                Direction::Bolder => bolder,
                Direction::Cautious => cautious,
                Direction::Sideways => sideways,
            };
            add(count, 1);
        };
        add(&self.episodes, 1);
        add(&self.decisions, found.decisions);
        for past in &found.past {
            of(&self.past, &past.change);
        }
        let Some(today) = &found.today else {
            return;
        };
        add(&self.in_force, 1);
        if let Some(change) = &today.change {
            of(&self.today, change);
        }
        add(&self.sheets_again, usize::from(today.sheet_again));
        add(&self.unmapped, usize::from(!today.unmapped.is_empty()));
        add(&self.unbound, usize::from(!today.unbound.is_empty()));
    }

    fn to_wire(&self) -> v1::ImpactSummary {
        let told = |count: &AtomicU64| count.load(Ordering::Relaxed);
        let [past_bolder, past_cautious, past_sideways] = self.past.each_ref().map(told);
        let [today_bolder, today_cautious, today_sideways] = self.today.each_ref().map(told);
        v1::ImpactSummary {
            episodes: told(&self.episodes),
            decisions: told(&self.decisions),
            past_bolder,
            past_cautious,
            past_sideways,
            in_force: told(&self.in_force),
            today_bolder,
            today_cautious,
            today_sideways,
            sheets_again: told(&self.sheets_again),
            unmapped: told(&self.unmapped),
            unbound: told(&self.unbound),
        }
    }
}

fn change_to_wire(change: &Change) -> v1::DecisionChange {
    let direction = match change.direction {
        Direction::Bolder => ChangeDirection::Bolder,
        Direction::Cautious => ChangeDirection::Cautious,
        Direction::Sideways => ChangeDirection::Sideways,
    };
    v1::DecisionChange {
        direction: direction.into(),
        older: outcome_to_wire(change.older).into(),
        newer: outcome_to_wire(change.newer).into(),
        what: change.what.clone(),
        rules: change.rules.iter().map(ToString::to_string).collect(),
        sentences: change.sentences.clone(),
    }
}

fn past_to_wire(episode: &EpisodeName, past: &PastChange) -> v1::PastChange {
    v1::PastChange {
        decision: episode.decision(past.number.0),
        as_of: past.as_of.to_string(),
        change: Some(change_to_wire(&past.change)),
    }
}

fn today_to_wire(episode: &EpisodeName, today: &Today) -> v1::TodayChange {
    let unbound = today.unbound.iter();
    v1::TodayChange {
        episode: episode.to_string(),
        change: today.change.as_ref().map(change_to_wire),
        outcome: outcome_to_wire(today.outcome).into(),
        sheet_again: today.sheet_again,
        unmapped: today.unmapped.iter().map(ToString::to_string).collect(),
        unbound: unbound.map(|position| episode.fact(position.0)).collect(),
    }
}

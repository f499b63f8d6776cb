//! What every service shares: the store, the clinics, the episodes read lately, and the fields that every call has.
//!
//! Leaves to others: the calls themselves (`crate::services`), writing (`crate::write`).

use crate::cache::{Cache, Shared};
use crate::clinic::Clinic;
use crate::clock::Clock;
use crate::episode::Loaded;
use crate::limits::{
    CHECKS_AT_ONCE, PAGE_SIZE_DEFAULT, PAGE_SIZE_MAX, REQUEST_ID_BYTES_MAX, WATCHES_MAX,
};
use crate::refusal::Refusal;
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_api::from_wire::{Reader, shown};
use rungwise_api::name::{self, EpisodeName};
use rungwise_api::v1::Reason;
use rungwise_engine::admit::AHEAD_DAYS_MAX;
use rungwise_pack::model::Pack;
use rungwise_store::{ClinicId, Store};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::{Semaphore, watch};

/// The authenticated caller. There is one until identities are configured.
pub(crate) const LOCAL_CALLER: &str = "local";

/// What every service shares.
#[derive(Debug)]
pub(crate) struct Service {
    /// The ledgers.
    pub(crate) store: Arc<Store>,
    /// The time.
    pub(crate) clock: Clock,
    /// Whether the server is stopping.
    pub(crate) stopping: watch::Receiver<bool>,
    /// Watches held open.
    pub(crate) watches: Arc<Semaphore>,
    /// Drafts being checked or compared.
    pub(crate) checks: Arc<Semaphore>,
    clinics: BTreeMap<String, Arc<Clinic>>,
    episodes: Cache,
}

/// An episode found, with its clinic.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    /// The clinic.
    pub(crate) clinic: Arc<Clinic>,
    /// The episode.
    pub(crate) episode: Shared,
}

impl Found {
    /// The episode, held.
    pub(crate) fn lock(&self) -> MutexGuard<'_, Loaded> {
        lock(&self.episode)
    }
}

/// An episode, held. One that a panicking call held is read on from its stream like any other.
pub(crate) fn lock(episode: &Mutex<Loaded>) -> MutexGuard<'_, Loaded> {
    episode.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Service {
    /// A service over these clinics.
    pub(crate) fn new(
        store: Arc<Store>,
        clock: Clock,
        stopping: watch::Receiver<bool>,
        clinics: Vec<Clinic>,
        episodes_bytes_max: usize,
    ) -> Self {
        let named = |clinic: Clinic| (clinic.id.to_string(), Arc::new(clinic));
        Self {
            store,
            clock,
            stopping,
            watches: Arc::new(Semaphore::new(WATCHES_MAX)),
            checks: Arc::new(Semaphore::new(CHECKS_AT_ONCE)),
            clinics: clinics.into_iter().map(named).collect(),
            episodes: Cache::new(episodes_bytes_max),
        }
    }

    /// The clinic of this id, read on to its end.
    ///
    /// INVARIANT (own-clinic): every read and write goes through the clinic of the name asked for, and the store keeps
    /// one ledger a clinic.
    pub(crate) fn clinic(&self, id: &str) -> Result<Arc<Clinic>, Refusal> {
        let known = ClinicId::new(id).ok().and_then(|_| self.clinics.get(id));
        let clinic = known.ok_or_else(|| Refusal::NotFound {
            reason: Reason::ClinicNotFound,
            kind: "clinic",
            name: format!("clinics/{id}"),
        })?;
        clinic.catch_up()?;
        Ok(clinic.clone())
    }

    /// The episode of this name, read on to its end.
    pub(crate) fn episode(&self, name: &EpisodeName) -> Result<Found, Refusal> {
        let clinic = self.clinic(&name.clinic)?;
        let episode = self.episode_of(&clinic, name)?;
        Ok(Found { clinic, episode })
    }

    /// The episode of this name of a clinic, read on to its end.
    pub(crate) fn episode_of(
        &self,
        clinic: &Clinic,
        name: &EpisodeName,
    ) -> Result<Shared, Refusal> {
        if let Some(episode) = self.episodes.get(name) {
            self.read_on(clinic, &mut lock(&episode))?;
            return Ok(episode);
        }
        let today = self.clock.today();
        Ok(self
            .episodes
            .keep(Loaded::read(&self.store, clinic, name, today)?))
    }

    /// Reads an episode on to its end.
    pub(crate) fn read_on(&self, clinic: &Clinic, episode: &mut Loaded) -> Result<(), Refusal> {
        let before = episode.next_sequence;
        episode.catch_up(&self.store, clinic, self.clock.today())?;
        if episode.next_sequence != before {
            self.episodes.resize(&episode.name, episode.memory_bytes());
        }
        Ok(())
    }
}

/// The clinic of a field that names one.
pub(crate) fn clinic_field(field: &str, value: &str) -> Result<String, Refusal> {
    name::clinic_from_name(value).ok_or_else(|| name_refusal(field, value, "clinics/{clinic}"))
}

/// The episode of a field that names one.
pub(crate) fn episode_field(field: &str, value: &str) -> Result<EpisodeName, Refusal> {
    name::episode_from_name(value)
        .ok_or_else(|| name_refusal(field, value, "clinics/{clinic}/episodes/{episode}"))
}

/// The decision of a field that names one.
pub(crate) fn decision_field(field: &str, value: &str) -> Result<(EpisodeName, u32), Refusal> {
    name::decision_from_name(value).ok_or_else(|| {
        name_refusal(
            field,
            value,
            "clinics/{clinic}/episodes/{episode}/decisions/{number}",
        )
    })
}

/// The fact of a field that names one.
pub(crate) fn fact_field(field: &str, value: &str) -> Result<(EpisodeName, u64), Refusal> {
    name::fact_from_name(value).ok_or_else(|| {
        name_refusal(
            field,
            value,
            "clinics/{clinic}/episodes/{episode}/facts/{position}",
        )
    })
}

/// Refuses a field that should name something and does not.
pub(crate) fn name_refusal(field: &str, value: &str, pattern: &str) -> Refusal {
    let right = format!("give a name of the form `{pattern}`");
    if value.is_empty() {
        return Refusal::field(field, Reason::FieldMissing, "it is required", right);
    }
    Refusal::field(
        field,
        Reason::FieldMalformed,
        format!("`{}` is not such a name", shown(value)),
        right,
    )
}

/// The request id of a call that writes.
pub(crate) fn request_id(value: &str) -> Result<String, Refusal> {
    let right = format!("give 1 to {REQUEST_ID_BYTES_MAX} printable ASCII characters, best a UUID");
    if value.is_empty() {
        return Err(Refusal::field(
            "request_id",
            Reason::FieldMissing,
            "it is required",
            right,
        ));
    }
    let is_sound =
        value.len() <= REQUEST_ID_BYTES_MAX && value.bytes().all(|byte| byte.is_ascii_graphic());
    if !is_sound {
        let wrong = "not a request id";
        return Err(Refusal::field(
            "request_id",
            Reason::FieldMalformed,
            wrong,
            right,
        ));
    }
    Ok(value.to_owned())
}

/// How many entries a page may hold.
pub(crate) fn page_size(value: i32) -> Result<usize, Refusal> {
    match usize::try_from(value) {
        Ok(0) => Ok(PAGE_SIZE_DEFAULT),
        Ok(size) => Ok(size.min(PAGE_SIZE_MAX)),
        Err(_) => {
            let right = format!("give 0 for the default, or up to {PAGE_SIZE_MAX}");
            Err(Refusal::field(
                "page_size",
                Reason::FieldMalformed,
                format!("{value} is negative"),
                right,
            ))
        }
    }
}

/// A required expected sequence.
pub(crate) fn required_sequence(value: Option<u64>) -> Result<u64, Refusal> {
    value.ok_or_else(|| {
        let right = "give the episode's `sequence` as last seen";
        Refusal::field(
            "expected_sequence",
            Reason::SequenceMissing,
            "it is required here",
            right,
        )
    })
}

/// The language asked for, or the pack's own.
pub(crate) fn language(pack: &Pack, value: &str) -> Result<String, Refusal> {
    if value.is_empty() {
        return Ok(pack.language.to_string());
    }
    if pack.texts.contains_key(value) {
        return Ok(value.to_owned());
    }
    let known: Vec<String> = pack
        .texts
        .keys()
        .map(|language| format!("`{language}`"))
        .collect();
    let wrong = format!("the pack has no language `{}`", shown(value));
    Err(Refusal::field(
        "language",
        Reason::LanguageUnknown,
        wrong,
        format!("one of {}", known.join(", ")),
    ))
}

/// The date of a required field.
pub(crate) fn date_field(field: &str, value: &str) -> Result<Date, Refusal> {
    let mut reader = Reader::default();
    reader
        .date(field, value)
        .ok_or(Refusal::Fields(reader.violations))
}

/// The last date that may be reported: somewhere it is tomorrow already.
pub(crate) fn latest_date(clock: &Clock) -> Date {
    clock
        .today()
        .saturating_add(i64::from(AHEAD_DAYS_MAX).days())
}

/// The date of a required field, not more than a day ahead of UTC.
pub(crate) fn present_date_field(clock: &Clock, field: &str, value: &str) -> Result<Date, Refusal> {
    let date = date_field(field, value)?;
    let latest = latest_date(clock);
    if date > latest {
        let right = format!("a date up to {latest}");
        return Err(Refusal::field(
            field,
            Reason::InTheFuture,
            "dated in the future",
            right,
        ));
    }
    Ok(date)
}

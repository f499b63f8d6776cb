//! Opening an episode, at its beginning or in the middle of its course.
//!
//! Leaves to others: everything after (`super::episodes`).

use super::episodes::too_many_facts;
use crate::clinic::{Clinic, KeptPack};
use crate::limits::{APPEND_TRIES_MAX, ID_BYTES_MAX};
use crate::next::person_refer;
use crate::refusal::Refusal;
use crate::reported::Reported;
use crate::service::{Service, clinic_field, lock, request_id};
use crate::write::{admit_all, fingerprinted, request};
use jiff::civil::Date;
use rungwise_api::Violation;
use rungwise_api::content::{self, Content, Opening, Side};
use rungwise_api::from_wire::{Reader, place_from_wire};
use rungwise_api::name::{EpisodeName, hex};
use rungwise_api::v1::{self, Reason};
use rungwise_engine::admit::{self, WHO_BYTES_MAX, WHY_BYTES_MAX};
use rungwise_engine::fact::{Directive, Episode, Fact, FactKind};
use rungwise_pack::model::Reporter;
use rungwise_pack::quantity::Key;
use rungwise_store::{Append, AppendError, Appended, KeyId, Kind, NewEntry, StreamId};
use std::sync::Arc;

/// The name of an episode that has none yet, for reading the facts it is imported with.
const UNNAMED: &str = "new";

fn import_naming(at: usize, refusal: &admit::Refusal) -> Violation {
    if let Some(at) = at.checked_sub(1) {
        return Violation::from_refusal(&format!("facts[{at}]."), refusal);
    }
    let mut violation = Violation::from_refusal("", refusal);
    if let Some(field) = violation.field.strip_prefix("directive.") {
        violation.field = match field.strip_prefix("place") {
            Some(rest) => format!("placement{rest}"),
            None => field.to_owned(),
        };
    } else if violation.field == "date" {
        "episode.opened_on".clone_into(&mut violation.field);
    }
    violation
}

impl Service {
    /// Opens an episode.
    pub(super) async fn open(
        &self,
        given: &v1::OpenEpisodeRequest,
    ) -> Result<v1::Episode, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let id = request_id(&given.request_id)?;
        let (opening, _) = self.opening(&clinic, given.episode.as_ref(), false)?;
        let (name, _) = self
            .append_opening(&clinic, ("OpenEpisode", id), opening, Vec::new())
            .await?;
        let episode = self.episode_of(&clinic, &name)?;
        let episode = lock(&episode).to_wire();
        Ok(episode)
    }

    /// Imports an episode.
    pub(super) async fn import(
        &self,
        given: &v1::ImportEpisodeRequest,
    ) -> Result<v1::ImportEpisodeResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let id = request_id(&given.request_id)?;
        too_many_facts(given.facts.len())?;
        let (opening, pack) = self.opening(&clinic, given.episode.as_ref(), true)?;
        let facts = imported_facts(&clinic, &pack, &opening, given, self.clock.today())?;
        let (name, positions) = self
            .append_opening(&clinic, ("ImportEpisode", id), opening, facts)
            .await?;
        let episode = self.episode_of(&clinic, &name)?;
        let episode = lock(&episode).to_wire();
        let imported = given.facts.len().saturating_add(1);
        let facts = positions
            .iter()
            .skip(1)
            .take(imported)
            .map(|position| name.fact(*position))
            .collect();
        Ok(v1::ImportEpisodeResponse {
            episode: Some(episode),
            facts,
        })
    }

    fn opening(
        &self,
        clinic: &Clinic,
        given: Option<&v1::Episode>,
        imported: bool,
    ) -> Result<(Opening, Arc<KeptPack>), Refusal> {
        let mut reader = Reader::default();
        let Some(given) = given else {
            reader.missing::<()>("episode", "say what is known of it");
            return Err(Refusal::Fields(reader.violations));
        };
        let person = reader.text("episode.person", &given.person, ID_BYTES_MAX);
        let side = match v1::Side::try_from(given.side) {
            Ok(v1::Side::Left) => Some(Side::Left),
            Ok(v1::Side::Right) => Some(Side::Right),
            Ok(v1::Side::None) => Some(Side::Without),
            Ok(v1::Side::Unspecified) | Err(_) => {
                reader.unknown_enum("episode.side", given.side, "say left, right, or none")
            }
        };
        let pack_id = reader.text("episode.pack", &given.pack, ID_BYTES_MAX);
        let opened_on = reader.date("episode.opened_on", &given.opened_on);
        let born_on = reader.date_or_none("episode.born_on", &given.born_on);
        if given.external_id.len() > ID_BYTES_MAX {
            reader.text("episode.external_id", &given.external_id, ID_BYTES_MAX);
        }
        if let (Some(opened_on), Some(born_on)) = (opened_on, born_on) {
            self.opening_dates(&mut reader, opened_on, born_on);
        }
        let (Some(person), Some(side), Some(pack_id), Some(opened_on), Some(born_on), true) = (
            person,
            side,
            pack_id,
            opened_on,
            born_on,
            reader.violations.is_empty(),
        ) else {
            return Err(Refusal::Fields(reader.violations));
        };
        let pack = clinic
            .for_new(&pack_id, self.clock.today())
            .ok_or_else(|| Refusal::NotFound {
                reason: Reason::PackNotFound,
                kind: "pack",
                name: format!("clinics/{}/packs/{pack_id}", clinic.id),
            })?;
        let external_id = Some(given.external_id.as_str())
            .filter(|id| !id.is_empty())
            .map(Key::from);
        let opening = Opening {
            person: person.into(),
            side,
            pack: pack_id.into(),
            opened_on,
            born_on,
            external_id,
            imported,
        };
        Ok((opening, pack))
    }

    fn opening_dates(&self, reader: &mut Reader, opened_on: Date, born_on: Option<Date>) {
        let latest = self.clock.today().tomorrow().unwrap_or(Date::MAX);
        if opened_on > latest {
            let right = format!("a date up to {latest}");
            reader.refuse::<()>(
                "episode.opened_on",
                Reason::InTheFuture,
                "dated in the future",
                right,
            );
        }
        if let Some(born_on) = born_on.filter(|born_on| *born_on > opened_on) {
            let right = format!("a date from {born_on} on");
            let wrong = "dated before the person was born";
            reader.refuse::<()>("episode.opened_on", Reason::BeforeBirth, wrong, right);
        }
    }

    /// Appends an opening with its facts, and with what is latched of the person in their other episodes.
    async fn append_opening(
        &self,
        clinic: &Arc<Clinic>,
        (call, id): (&'static str, String),
        opening: Opening,
        facts: Vec<Fact>,
    ) -> Result<(EpisodeName, Vec<u64>), Refusal> {
        let contents: Vec<Vec<u8>> = std::iter::once(Content::Opening(opening.clone()))
            .chain(facts.into_iter().map(Content::Fact))
            .map(|content| content::encode(&content))
            .collect();
        let value = fingerprinted(call, clinic.id.as_str(), &contents);
        let request = request(&self.store, clinic, id, &value);
        for _ in 0..APPEND_TRIES_MAX {
            if let Some(earlier) = self.store.answered(&clinic.id, &request)? {
                return self.opened(clinic, &earlier);
            }
            let key = clinic.key_of(&opening.person)?;
            let stream = random_stream()?;
            let mut expects = vec![(stream.clone(), 0)];
            let latched = self.latched_of(clinic, &opening, &mut expects)?;
            let all = contents.iter().cloned().chain(
                latched
                    .into_iter()
                    .map(|fact| content::encode(&Content::Fact(fact))),
            );
            let append = Append {
                clinic: clinic.id.clone(),
                expects,
                entries: all
                    .enumerate()
                    .map(|(at, content)| entry(&stream, key, at, content))
                    .collect(),
                request: Some(request.clone()),
                answer: Vec::new(),
            };
            match self.store.append(append).await {
                Ok(appended) => {
                    clinic.settle_key(&opening.person);
                    return self.opened(clinic, &appended);
                }
                Err(AppendError::Conflict { .. }) => {}
                Err(error) => return Err(error.into()),
            }
        }
        Err(Refusal::Contended {
            episode: format!("clinics/{}/episodes/-", clinic.id),
        })
    }

    /// What stands latched of the person in their other open episodes, as facts of the new one.
    fn latched_of(
        &self,
        clinic: &Clinic,
        opening: &Opening,
        expects: &mut Vec<(StreamId, u64)>,
    ) -> Result<Vec<Fact>, Refusal> {
        let mut facts: Vec<Fact> = Vec::new();
        for listed in clinic.of_person(&opening.person)? {
            let name = EpisodeName {
                clinic: clinic.id.to_string(),
                episode: listed.stream.to_string(),
            };
            let other = self.episode_of(clinic, &name)?;
            let other = lock(&other);
            if other.closed.is_some() || other.opening.pack != opening.pack {
                continue;
            }
            expects.push((other.stream.clone(), other.next_sequence));
            for rule in other.latched() {
                let fact = person_refer(&other, opening.opened_on, &rule, self.clock.today());
                facts.extend(fact.filter(|fact| facts.iter().all(|known| known.kind != fact.kind)));
            }
        }
        Ok(facts)
    }

    fn opened(
        &self,
        clinic: &Clinic,
        appended: &Appended,
    ) -> Result<(EpisodeName, Vec<u64>), Refusal> {
        let first = appended.positions.first().copied().unwrap_or_default();
        let entry = self.store.entry(&clinic.id, first)?;
        let entry = entry
            .ok_or_else(|| Refusal::Fault("an opening recorded is not in the ledger".to_owned()))?;
        let name = EpisodeName {
            clinic: clinic.id.to_string(),
            episode: entry.stream.to_string(),
        };
        Ok((name, appended.positions.clone()))
    }
}

fn entry(stream: &StreamId, key: KeyId, at: usize, content: Vec<u8>) -> NewEntry {
    let kind = if at == 0 { Kind::Open } else { Kind::Fact };
    NewEntry {
        stream: stream.clone(),
        kind,
        semantics: 0,
        pack_digest: None,
        content,
        key,
    }
}

/// A new episode's stream: random, so that its name says nothing about the person.
fn random_stream() -> Result<StreamId, Refusal> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes)
        .map_err(|error| Refusal::Fault(format!("no random bytes: {error}")))?;
    StreamId::new(hex(&bytes)).map_err(|error| Refusal::Fault(error.to_string()))
}

/// The placement and the facts of an import, admitted.
fn imported_facts(
    clinic: &Clinic,
    pack: &KeptPack,
    opening: &Opening,
    given: &v1::ImportEpisodeRequest,
    today: Date,
) -> Result<Vec<Fact>, Refusal> {
    let name = EpisodeName {
        clinic: clinic.id.to_string(),
        episode: UNNAMED.to_owned(),
    };
    let mut reader = Reader::default();
    let order = match &given.placement {
        Some(place) => place_from_wire("placement", place, &mut reader),
        None => reader.missing("placement", "say where it stands"),
    };
    let who = reader.text("who", &given.who, WHO_BYTES_MAX);
    let why = reader.text("why", &given.why, WHY_BYTES_MAX);
    let mut reported = Reported::new(clinic, &pack.pack, &name);
    let read = given.facts.iter().enumerate();
    let facts: Vec<Option<Fact>> = read
        .map(|(at, fact)| reported.fact(&format!("facts[{at}]"), fact))
        .collect();
    let facts: Option<Vec<Fact>> = facts.into_iter().collect();
    reader.violations.extend(reported.reader.violations);
    reader.violations.extend(reported.withdrawn);
    let (Some(order), Some(who), Some(why), Some(facts), true) =
        (order, who, why, facts, reader.violations.is_empty())
    else {
        return Err(Refusal::Fields(reader.violations));
    };
    let directive = Directive {
        who: who.into(),
        why,
        until: None,
        clinic_wide: false,
        order,
    };
    let placed = Fact {
        date: opening.opened_on,
        by: Reporter::Clinician,
        kind: FactKind::Directive(directive),
    };
    let all: Vec<Fact> = std::iter::once(placed).chain(facts).collect();
    let episode = Episode {
        opened_on: opening.opened_on,
        born_on: opening.born_on,
        imported: opening.imported,
    };
    admit_all(&pack.pack, &episode, &[], &all, today, import_naming)?;
    Ok(all)
}

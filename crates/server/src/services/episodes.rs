//! EpisodeService: recording, correcting, closing and reading.
//!
//! Leaves to others: opening (`super::open`), lists (`super::lists`), watching (`super::watch`).

use super::watch::WatchStream;
use crate::limits::FACTS_MAX;
use crate::refusal::Refusal;
use crate::reported::Reported;
use crate::service::{
    Service, episode_field, fact_field, present_date_field, request_id, required_sequence,
};
use crate::write::{Draft, Naming, Written};
use jiff::civil::Date;
use rungwise_api::Violation;
use rungwise_api::content::Closing;
use rungwise_api::from_wire::Reader;
use rungwise_api::v1::episode_service_server::EpisodeService;
use rungwise_api::v1::{self, Reason};
use rungwise_engine::admit::{self, WHO_BYTES_MAX, WHY_BYTES_MAX};
use rungwise_engine::fact::{Correction, Fact, FactKind, Position};
use rungwise_pack::model::Reporter;
use rungwise_pack::quantity::Key;
use std::sync::Arc;
use tonic::{Request, Response, Status};

/// The service.
#[derive(Clone, Debug)]
pub(crate) struct Episodes(pub(crate) Arc<Service>);

/// Facts of a request that lists them.
pub(super) fn too_many_facts(count: usize) -> Result<(), Refusal> {
    if count > FACTS_MAX {
        let right = format!("at most {FACTS_MAX}; send the rest in another call");
        return Err(Refusal::field(
            "facts",
            Reason::TooMany,
            format!("{count} are too many"),
            right,
        ));
    }
    Ok(())
}

fn record_naming(at: usize, refusal: &admit::Refusal) -> Violation {
    Violation::from_refusal(&format!("facts[{at}]."), refusal)
}

/// Fields of a correction stand in the request itself.
fn correct_naming(_: usize, refusal: &admit::Refusal) -> Violation {
    let mut violation = Violation::from_refusal("", refusal);
    violation.field = match violation.field.strip_prefix("correction.") {
        Some("of") => "fact".to_owned(),
        Some(field) => field.replace("replacement.by", "replacement.reported_by"),
        None => violation.field,
    };
    violation
}

/// What corrections have in common.
struct Correcting<'a> {
    fact: &'a str,
    request_id: &'a str,
    expected_sequence: Option<u64>,
    date: &'a str,
    reported_by: i32,
    who: &'a str,
    why: &'a str,
    replacement: Option<&'a v1::Fact>,
}

impl Service {
    async fn record(
        &self,
        request: &v1::RecordFactsRequest,
    ) -> Result<v1::RecordFactsResponse, Refusal> {
        let name = episode_field("episode", &request.episode)?;
        let id = request_id(&request.request_id)?;
        if request.facts.is_empty() {
            return Err(Refusal::field(
                "facts",
                Reason::FieldMissing,
                "it is required",
                "give at least one fact",
            ));
        }
        too_many_facts(request.facts.len())?;
        let clinic = self.clinic(&name.clinic)?;
        let _entered = clinic.enter()?;
        let written = self
            .write(
                &name,
                ("RecordFacts", id),
                request.expected_sequence,
                |episode| {
                    let mut reported = Reported::new(&clinic, &episode.pack.pack, &name);
                    let read = request.facts.iter().enumerate();
                    let facts: Vec<Option<Fact>> = read
                        .map(|(at, fact)| reported.fact(&format!("facts[{at}]"), fact))
                        .collect();
                    let facts: Option<Vec<Fact>> = facts.into_iter().collect();
                    let wrong = reported.reader.violations;
                    let Some(facts) = facts.filter(|_| wrong.is_empty()) else {
                        return Err(Refusal::Fields(wrong));
                    };
                    if facts
                        .iter()
                        .any(|fact| matches!(fact.kind, FactKind::Directive(_)))
                    {
                        required_sequence(request.expected_sequence)?;
                    }
                    Ok(Draft::Facts(facts, record_naming, reported.withdrawn))
                },
            )
            .await?;
        let facts = written
            .positions
            .iter()
            .map(|position| name.fact(*position))
            .collect();
        Ok(v1::RecordFactsResponse {
            facts,
            sequence: written.sequence,
        })
    }

    async fn correct(
        &self,
        call: &'static str,
        given: &Correcting<'_>,
    ) -> Result<(String, u64), Refusal> {
        let (name, position) = fact_field("fact", given.fact)?;
        let id = request_id(given.request_id)?;
        let expected = required_sequence(given.expected_sequence)?;
        let date = present_date_field(&self.clock, "date", given.date)?;
        let mut reader = Reader::default();
        let by = reader.reporter("reported_by", given.reported_by);
        let who = reader.text("who", given.who, WHO_BYTES_MAX);
        let why = reader.text("why", given.why, WHY_BYTES_MAX);
        let (Some(by), Some(who), Some(why)) = (by, who, why) else {
            return Err(Refusal::Fields(reader.violations));
        };
        let clinic = self.clinic(&name.clinic)?;
        let _entered = clinic.enter()?;
        let written = self
            .write(&name, (call, id), Some(expected), |episode| {
                let known = episode
                    .history
                    .records()
                    .iter()
                    .any(|record| record.position.0 == position);
                if !known {
                    let reason = Reason::FactNotFound;
                    return Err(Refusal::NotFound {
                        reason,
                        kind: "fact",
                        name: given.fact.to_owned(),
                    });
                }
                let mut reported = Reported::new(&clinic, &episode.pack.pack, &name);
                let replacement = given
                    .replacement
                    .map(|fact| reported.fact("replacement", fact));
                let wrong = reported.reader.violations;
                let replacement = match replacement {
                    None => None,
                    Some(Some(fact)) if wrong.is_empty() => Some(Box::new(fact)),
                    Some(_) => return Err(Refusal::Fields(wrong)),
                };
                let of = Position(position);
                let correction = Correction {
                    of,
                    who: Key::from(who.as_str()),
                    why: why.clone(),
                    replacement,
                };
                let fact = Fact {
                    date,
                    by,
                    kind: FactKind::Correction(correction),
                };
                let withdrawn = reported.withdrawn;
                Ok(Draft::Facts(
                    vec![fact],
                    correct_naming as Naming,
                    withdrawn,
                ))
            })
            .await?;
        let correction = written
            .positions
            .first()
            .map(|position| name.fact(*position))
            .unwrap_or_default();
        Ok((correction, written.sequence))
    }

    async fn close(
        &self,
        request: &v1::CloseEpisodeRequest,
    ) -> Result<v1::CloseEpisodeResponse, Refusal> {
        let name = episode_field("episode", &request.episode)?;
        let id = request_id(&request.request_id)?;
        let expected = required_sequence(request.expected_sequence)?;
        let date: Date = present_date_field(&self.clock, "date", &request.date)?;
        let mut reader = Reader::default();
        let who = reader.text("who", &request.who, WHO_BYTES_MAX);
        let why = reader.text("why", &request.why, WHY_BYTES_MAX);
        let (Some(who), Some(why)) = (who, why) else {
            return Err(Refusal::Fields(reader.violations));
        };
        let closing = Closing {
            date,
            who: Key::from(who),
            why,
        };
        let clinic = self.clinic(&name.clinic)?;
        let _entered = clinic.enter()?;
        let Written { found, .. } = self
            .write(&name, ("CloseEpisode", id), Some(expected), |_| {
                Ok(Draft::Close(closing.clone()))
            })
            .await?;
        let episode = found.lock().to_wire();
        Ok(v1::CloseEpisodeResponse {
            episode: Some(episode),
        })
    }

    /// Signing off is a fact like any other; the answer is its name and the sequence after it.
    pub(super) async fn sign_off(
        &self,
        (name, number): (&rungwise_api::name::EpisodeName, u32),
        request_id: String,
        expected: u64,
        date: Date,
        (who, accepted): (Key, bool),
    ) -> Result<Written, Refusal> {
        fn naming(_: usize, refusal: &admit::Refusal) -> Violation {
            let mut violation = Violation::from_refusal("", refusal);
            if let Some(field) = violation.field.strip_prefix("sign_off.") {
                violation.field = field.to_owned();
            }
            violation
        }
        self.write(name, ("SignOff", request_id), Some(expected), |episode| {
            let decision = rungwise_engine::fact::DecisionNo(number);
            if episode.history.decision(decision).is_none() {
                return Err(Refusal::no_decision(name.decision(number)));
            }
            let kind = FactKind::SignOff {
                decision,
                accepted,
                who: who.clone(),
            };
            Ok(Draft::Facts(
                vec![Fact {
                    date,
                    by: Reporter::Clinician,
                    kind,
                }],
                naming,
                Vec::new(),
            ))
        })
        .await
    }
}

#[tonic::async_trait]
impl EpisodeService for Episodes {
    async fn open_episode(
        &self,
        request: Request<v1::OpenEpisodeRequest>,
    ) -> Result<Response<v1::OpenEpisodeResponse>, Status> {
        let episode = self.0.open(request.get_ref()).await?;
        Ok(Response::new(v1::OpenEpisodeResponse {
            episode: Some(episode),
        }))
    }

    async fn import_episode(
        &self,
        request: Request<v1::ImportEpisodeRequest>,
    ) -> Result<Response<v1::ImportEpisodeResponse>, Status> {
        Ok(Response::new(self.0.import(request.get_ref()).await?))
    }

    async fn record_facts(
        &self,
        request: Request<v1::RecordFactsRequest>,
    ) -> Result<Response<v1::RecordFactsResponse>, Status> {
        Ok(Response::new(self.0.record(request.get_ref()).await?))
    }

    async fn correct_fact(
        &self,
        request: Request<v1::CorrectFactRequest>,
    ) -> Result<Response<v1::CorrectFactResponse>, Status> {
        let request = request.get_ref();
        let Some(replacement) = &request.replacement else {
            let right = "give what stands in its place, or use VoidFact";
            return Err(Refusal::field(
                "replacement",
                Reason::FieldMissing,
                "it is required",
                right,
            )
            .into());
        };
        let given = Correcting {
            fact: &request.fact,
            request_id: &request.request_id,
            expected_sequence: request.expected_sequence,
            date: &request.date,
            reported_by: request.reported_by,
            who: &request.who,
            why: &request.why,
            replacement: Some(replacement),
        };
        let (correction, sequence) = self.0.correct("CorrectFact", &given).await?;
        Ok(Response::new(v1::CorrectFactResponse {
            correction,
            sequence,
        }))
    }

    async fn void_fact(
        &self,
        request: Request<v1::VoidFactRequest>,
    ) -> Result<Response<v1::VoidFactResponse>, Status> {
        let request = request.get_ref();
        let given = Correcting {
            fact: &request.fact,
            request_id: &request.request_id,
            expected_sequence: request.expected_sequence,
            date: &request.date,
            reported_by: request.reported_by,
            who: &request.who,
            why: &request.why,
            replacement: None,
        };
        let (correction, sequence) = self.0.correct("VoidFact", &given).await?;
        Ok(Response::new(v1::VoidFactResponse {
            correction,
            sequence,
        }))
    }

    async fn close_episode(
        &self,
        request: Request<v1::CloseEpisodeRequest>,
    ) -> Result<Response<v1::CloseEpisodeResponse>, Status> {
        Ok(Response::new(self.0.close(request.get_ref()).await?))
    }

    async fn get_episode(
        &self,
        request: Request<v1::GetEpisodeRequest>,
    ) -> Result<Response<v1::GetEpisodeResponse>, Status> {
        let name = episode_field("name", &request.get_ref().name)?;
        let found = self.0.episode(&name)?;
        let _entered = found.clinic.enter()?;
        let episode = found.lock().to_wire();
        Ok(Response::new(v1::GetEpisodeResponse {
            episode: Some(episode),
        }))
    }

    async fn list_episodes(
        &self,
        request: Request<v1::ListEpisodesRequest>,
    ) -> Result<Response<v1::ListEpisodesResponse>, Status> {
        Ok(Response::new(self.0.list_episodes(request.get_ref())?))
    }

    async fn list_facts(
        &self,
        request: Request<v1::ListFactsRequest>,
    ) -> Result<Response<v1::ListFactsResponse>, Status> {
        Ok(Response::new(self.0.list_facts(request.get_ref())?))
    }

    type WatchStream = WatchStream;

    async fn watch(
        &self,
        request: Request<v1::WatchRequest>,
    ) -> Result<Response<WatchStream>, Status> {
        Ok(Response::new(super::watch::watch(
            self.0.clone(),
            request.get_ref(),
        )?))
    }
}

//! AuditService: decisions looked at afterwards, and the record proved.
//!
//! Leaves to others: explaining and recomputing (`rungwise-engine`), verifying (`rungwise-ledger`).

use crate::clinic::{Clinic, KeptPack};
use crate::episode::Loaded;
use crate::limits::{EXAMINED_MAX, READ_ENTRIES};
use crate::page;
use crate::refusal::Refusal;
use crate::service::{
    Service, clinic_field, date_field, decision_field, lock, name_refusal, page_size,
};
use jiff::civil::Date;
use rungwise_api::name::{self, EpisodeName, hex};
use rungwise_api::to_wire::{explanation_to_wire, outcome_to_wire};
use rungwise_api::v1::audit_service_server::AuditService;
use rungwise_api::v1::{self, Reason, Recomputation};
use rungwise_engine::SEMANTICS;
use rungwise_engine::decision::{Cause, Decision};
use rungwise_engine::explain::{View, explain};
use rungwise_engine::fact::{DecisionNo, Position};
use rungwise_engine::recompute::{Recomputed, recompute};
use rungwise_store::{Kind, Verified};
use std::sync::Arc;
use tonic::{Request, Response, Status};

/// The service.
#[derive(Clone, Debug)]
pub(crate) struct Audit(pub(crate) Arc<Service>);

/// What the decisions of a list must be like.
struct Wanted {
    outcome: v1::Outcome,
    from: Option<Date>,
    to: Option<Date>,
    because: String,
    proposed: bool,
}

impl Wanted {
    fn read(request: &v1::ListDecisionsRequest) -> Result<Self, Refusal> {
        let outcome = v1::Outcome::try_from(request.outcome).map_err(|_| {
            let wrong = format!("{} is not known", request.outcome);
            Refusal::field(
                "outcome",
                Reason::EnumUnknown,
                wrong,
                "name an outcome, or leave it out for every one",
            )
        })?;
        let date = |field, text: &str| {
            if text.is_empty() {
                Ok(None)
            } else {
                date_field(field, text).map(Some)
            }
        };
        Ok(Self {
            outcome,
            from: date("as_of_from", &request.as_of_from)?,
            to: date("as_of_to", &request.as_of_to)?,
            because: request.because.clone(),
            proposed: request.proposed,
        })
    }

    fn is(&self, decision: &Decision) -> bool {
        (self.outcome == v1::Outcome::Unspecified
            || outcome_to_wire(decision.outcome) == self.outcome)
            && self.from.is_none_or(|from| decision.as_of >= from)
            && self.to.is_none_or(|to| decision.as_of <= to)
            && (!self.proposed || decision.proposed)
            && (self.because.is_empty() || self.decided(decision))
    }

    fn decided(&self, decision: &Decision) -> bool {
        let lines = decision.moves.iter().flat_map(|line| &line.because);
        let mut named = decision
            .because
            .iter()
            .chain(lines)
            .filter_map(|cause| match cause {
                Cause::Met(key)
                | Cause::Doubt(key)
                | Cause::MetBefore(key)
                | Cause::Latched(key)
                | Cause::OverLimit {
                    limit: Some(key), ..
                }
                | Cause::OverLimitTwice {
                    limit: Some(key), ..
                } => Some(key),
                _ => None,
            });
        named.any(|key| **key == *self.because)
    }
}

/// A page being filled.
struct Page {
    size: usize,
    decisions: Vec<v1::Decision>,
}

impl Service {
    fn list_decisions(
        &self,
        request: &v1::ListDecisionsRequest,
    ) -> Result<v1::ListDecisionsResponse, Refusal> {
        let every = request
            .parent
            .strip_suffix("/episodes/-")
            .and_then(name::clinic_from_name);
        let only = name::episode_from_name(&request.parent).filter(|_| every.is_none());
        let Some(clinic) = every.or_else(|| only.as_ref().map(|name| name.clinic.clone())) else {
            return Err(name_refusal(
                "parent",
                &request.parent,
                "clinics/{clinic}/episodes/{episode}",
            ));
        };
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        let wanted = Wanted::read(request)?;
        let flags = format!("{} {}", request.outcome, request.proposed);
        let conditions = [
            "ListDecisions",
            &request.parent,
            &request.as_of_from,
            &request.as_of_to,
            &request.because,
            &flags,
        ];
        let start = page::start(&request.page_token, &conditions)?;
        let mut page = Page {
            size: page_size(request.page_size)?,
            decisions: Vec::new(),
        };
        let next = match only {
            Some(name) => self.of_episode(&clinic, &name, (&wanted, start), &mut page)?,
            None => self.of_clinic(&clinic, (&wanted, start), &mut page)?,
        };
        let next_page_token = next
            .map(|next| page::token(next, &conditions))
            .unwrap_or_default();
        Ok(v1::ListDecisionsResponse {
            decisions: page.decisions,
            next_page_token,
        })
    }

    /// Fills the page from one episode; gives the position where the next one begins.
    fn of_episode(
        &self,
        clinic: &Clinic,
        name: &EpisodeName,
        (wanted, start): (&Wanted, u64),
        page: &mut Page,
    ) -> Result<Option<u64>, Refusal> {
        let episode = self.episode_of(clinic, name)?;
        let episode = lock(&episode);
        for (at, (position, decision)) in episode.history.decisions().enumerate() {
            if position.0 < start || !wanted.is(decision) {
                continue;
            }
            if page.decisions.len() == page.size {
                return Ok(Some(position.0));
            }
            let number = DecisionNo(u32::try_from(at).unwrap_or(u32::MAX));
            page.decisions
                .extend(episode.decision_to_wire(clinic, number));
        }
        Ok(None)
    }

    /// Fills the page from every episode; gives the position where the next one begins.
    fn of_clinic(
        &self,
        clinic: &Clinic,
        (wanted, start): (&Wanted, u64),
        page: &mut Page,
    ) -> Result<Option<u64>, Refusal> {
        let mut position = start;
        for _ in 0..EXAMINED_MAX.div_ceil(READ_ENTRIES) {
            let entries = self.store.entries(&clinic.id, position, READ_ENTRIES)?;
            if entries.is_empty() {
                return Ok(None);
            }
            for entry in entries {
                if page.decisions.len() == page.size {
                    return Ok(Some(entry.position));
                }
                position = entry.position.saturating_add(1);
                if entry.kind != Kind::Decision {
                    continue;
                }
                let name = EpisodeName {
                    clinic: clinic.id.to_string(),
                    episode: entry.stream.to_string(),
                };
                let episode = self.episode_of(clinic, &name)?;
                let episode = lock(&episode);
                let Some(number) = episode.number_at(Position(entry.position)) else {
                    continue;
                };
                if episode
                    .history
                    .decision(number)
                    .is_some_and(|(_, decision)| wanted.is(decision))
                {
                    page.decisions
                        .extend(episode.decision_to_wire(clinic, number));
                }
            }
        }
        Ok(Some(position))
    }

    /// Does `work` with a decision's episode, number and the pack that it was made under.
    fn with_decision<T>(
        &self,
        name: &str,
        work: impl FnOnce(&Clinic, &Loaded, DecisionNo, &KeptPack) -> Result<T, Refusal>,
    ) -> Result<T, Refusal> {
        let (episode_name, number) = decision_field("name", name)?;
        let found = self.episode(&episode_name)?;
        let _entered = found.clinic.enter()?;
        let episode = found.lock();
        let number = DecisionNo(number);
        let missing = || Refusal::no_decision(name);
        let (_, decision) = episode.history.decision(number).ok_or_else(missing)?;
        let pack = found.clinic.pack(&decision.pack).ok_or_else(|| {
            Refusal::Damaged(format!(
                "the pack of `{name}` is not in the ledger or is no longer accepted"
            ))
        })?;
        work(&found.clinic, &episode, number, &pack)
    }

    fn explain(
        &self,
        request: &v1::ExplainDecisionRequest,
    ) -> Result<v1::ExplainDecisionResponse, Refusal> {
        let view = match v1::ExplanationView::try_from(request.view) {
            Ok(v1::ExplanationView::Unspecified | v1::ExplanationView::Basic) => View::Basic,
            Ok(v1::ExplanationView::Full) => View::Full,
            Err(_) => {
                let wrong = format!("{} is not known", request.view);
                return Err(Refusal::field(
                    "view",
                    Reason::EnumUnknown,
                    wrong,
                    "say basic or full",
                ));
            }
        };
        self.with_decision(&request.name, |_, episode, number, pack| {
            let explanation = explain(&pack.pack, &episode.history, number, view)
                .map_err(|error| Refusal::Fault(error.to_string()))?;
            let text = explanation.text();
            Ok(v1::ExplainDecisionResponse {
                explanation: Some(explanation_to_wire(&episode.name, &explanation)),
                text,
            })
        })
    }

    fn recompute(
        &self,
        request: &v1::RecomputeDecisionRequest,
    ) -> Result<v1::RecomputeDecisionResponse, Refusal> {
        self.with_decision(&request.name, |_, episode, number, pack| {
            let mut response = v1::RecomputeDecisionResponse {
                recorded_semantics: SEMANTICS,
                semantics: SEMANTICS,
                ..v1::RecomputeDecisionResponse::default()
            };
            let recomputation = match recompute(&pack.pack, &episode.history, number) {
                Recomputed::Same => Recomputation::Same,
                Recomputed::Differs { fields } => {
                    response.differences = fields.into_iter().map(ToOwned::to_owned).collect();
                    Recomputation::Differs
                }
                Recomputed::OtherRevision(revision) => {
                    response.recorded_semantics = revision;
                    Recomputation::OtherSemantics
                }
                Recomputed::OtherPack(_) | Recomputed::NoSuchDecision => {
                    return Err(Refusal::Fault(format!(
                        "`{}` was found and cannot be recomputed",
                        request.name
                    )));
                }
            };
            response.recomputation = recomputation.into();
            Ok(response)
        })
    }

    async fn verify(
        &self,
        request: &v1::VerifyLedgerRequest,
    ) -> Result<v1::VerifyLedgerResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &request.parent)?)?;
        let _entered = clinic.enter()?;
        let (store, id) = (self.store.clone(), clinic.id.clone());
        let verified = tokio::task::spawn_blocking(move || store.verify(&id)).await;
        let verified = verified.map_err(|error| Refusal::Fault(error.to_string()))?;
        Ok(match verified {
            Ok(Verified {
                head,
                streams,
                checkpoint_size,
            }) => v1::VerifyLedgerResponse {
                sound: true,
                size: head.size,
                root: hex(&head.root),
                streams,
                checkpoint_size: checkpoint_size.unwrap_or_default(),
                faults: Vec::new(),
            },
            Err(fault) => {
                let head = self.store.head(&clinic.id);
                v1::VerifyLedgerResponse {
                    sound: false,
                    size: head.size,
                    root: hex(&head.root),
                    faults: vec![fault.to_string()],
                    ..v1::VerifyLedgerResponse::default()
                }
            }
        })
    }

    async fn checkpoint(
        &self,
        request: &v1::GetCheckpointRequest,
    ) -> Result<v1::GetCheckpointResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &request.parent)?)?;
        let _entered = clinic.enter()?;
        let (store, id) = (self.store.clone(), clinic.id.clone());
        let signed = tokio::task::spawn_blocking(move || {
            let note = store.checkpoint(&id)?;
            store.verifier_key(&id).map(|key| (note, key))
        });
        let signed = signed
            .await
            .map_err(|error| Refusal::Fault(error.to_string()))?;
        let (note, verifier_key) =
            signed.map_err(|error| Refusal::StoreStopped(error.to_string()))?;
        // The second line of a checkpoint note is its size.
        let size = note
            .lines()
            .nth(1)
            .and_then(|size| size.parse().ok())
            .unwrap_or_default();
        Ok(v1::GetCheckpointResponse {
            note,
            verifier_key,
            size,
        })
    }
}

#[tonic::async_trait]
impl AuditService for Audit {
    async fn list_decisions(
        &self,
        request: Request<v1::ListDecisionsRequest>,
    ) -> Result<Response<v1::ListDecisionsResponse>, Status> {
        Ok(Response::new(self.0.list_decisions(request.get_ref())?))
    }

    async fn get_decision(
        &self,
        request: Request<v1::GetDecisionRequest>,
    ) -> Result<Response<v1::GetDecisionResponse>, Status> {
        let decision = self
            .0
            .with_decision(&request.get_ref().name, |clinic, episode, number, _| {
                Ok(episode.decision_to_wire(clinic, number))
            })?;
        Ok(Response::new(v1::GetDecisionResponse { decision }))
    }

    async fn explain_decision(
        &self,
        request: Request<v1::ExplainDecisionRequest>,
    ) -> Result<Response<v1::ExplainDecisionResponse>, Status> {
        Ok(Response::new(self.0.explain(request.get_ref())?))
    }

    async fn recompute_decision(
        &self,
        request: Request<v1::RecomputeDecisionRequest>,
    ) -> Result<Response<v1::RecomputeDecisionResponse>, Status> {
        Ok(Response::new(self.0.recompute(request.get_ref())?))
    }

    async fn verify_ledger(
        &self,
        request: Request<v1::VerifyLedgerRequest>,
    ) -> Result<Response<v1::VerifyLedgerResponse>, Status> {
        Ok(Response::new(self.0.verify(request.get_ref()).await?))
    }

    async fn get_checkpoint(
        &self,
        request: Request<v1::GetCheckpointRequest>,
    ) -> Result<Response<v1::GetCheckpointResponse>, Status> {
        Ok(Response::new(self.0.checkpoint(request.get_ref()).await?))
    }
}

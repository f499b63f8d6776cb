//! A diary played to a server over gRPC, as a clinic's program would: everything that this side knows of the server's
//! answers, it read from messages.
//!
//! Leaves to others: what a diary says (`rungwise-rehearsal`), printing (`super::table`).

use crate::failure::Failure;
use jiff::civil::Date;
use rungwise_api::from_wire::Reader;
use rungwise_api::name::{EpisodeName, decision_from_name, episode_from_name};
use rungwise_api::to_wire::fact_to_wire;
use rungwise_api::v1;
use rungwise_api::v1::audit_service_client::AuditServiceClient;
use rungwise_api::v1::episode_service_client::EpisodeServiceClient;
use rungwise_api::v1::prescription_service_client::PrescriptionServiceClient;
use rungwise_engine::fact::DecisionNo;
use rungwise_pack::model::CheckedPack;
use rungwise_rehearsal::diary::{Diary, Entry, Prescribed};
use tonic::transport::Channel;

/// An ask and what came back.
#[derive(Clone, Debug)]
pub(crate) struct Asked {
    /// The decision with the prescription in force from then on.
    pub(crate) next: v1::NextResponse,
    /// Why.
    pub(crate) explanation: v1::Explanation,
}

/// A course of care at a server.
pub(crate) struct Course<'p> {
    pack: &'p CheckedPack,
    clinic: String,
    episode: EpisodeName,
    episodes: EpisodeServiceClient<Channel>,
    prescriptions: PrescriptionServiceClient<Channel>,
    audit: AuditServiceClient<Channel>,
    sequence: u64,
    requests: u64,
}

impl<'p> Course<'p> {
    /// Opens an episode for the person of a diary.
    pub(crate) async fn open(
        pack: &'p CheckedPack,
        diary: &Diary,
        clinic: &str,
        channel: Channel,
    ) -> Result<Self, Failure> {
        let mut episodes = EpisodeServiceClient::new(channel.clone());
        let opened = episodes
            .open_episode(v1::OpenEpisodeRequest {
                parent: format!("clinics/{clinic}"),
                request_id: "demo-open".to_owned(),
                episode: Some(v1::Episode {
                    person: "invented-person".to_owned(),
                    side: v1::Side::Right.into(),
                    pack: pack.id.to_string(),
                    opened_on: diary.episode.opened_on.to_string(),
                    born_on: diary
                        .episode
                        .born_on
                        .map(|date| date.to_string())
                        .unwrap_or_default(),
                    ..v1::Episode::default()
                }),
            })
            .await?
            .into_inner();
        let opened = opened
            .episode
            .ok_or(Failure::AnswerIncomplete("the episode opened"))?;
        let episode = episode_from_name(&opened.name)
            .ok_or(Failure::AnswerIncomplete("the episode's name"))?;
        Ok(Self {
            pack,
            clinic: clinic.to_owned(),
            episode,
            episodes,
            prescriptions: PrescriptionServiceClient::new(channel.clone()),
            audit: AuditServiceClient::new(channel),
            sequence: opened.sequence,
            requests: 0,
        })
    }

    /// The episode.
    pub(crate) const fn episode(&self) -> &EpisodeName {
        &self.episode
    }

    /// Reports one entry of a diary.
    pub(crate) async fn report(&mut self, entry: &Entry) -> Result<(), Failure> {
        let date = entry.date();
        match entry {
            Entry::SignOff { accepted, who, .. } => self.sign_off(date, *accepted, who).await,
            Entry::Fact(_) => self.record(entry, &[]).await,
            Entry::Session(_) => {
                let current = self.current(date).await?;
                let prescribed = prescribed(current.prescription.as_ref())?;
                self.record(entry, &prescribed).await
            }
        }
    }

    async fn record(&mut self, entry: &Entry, prescribed: &[Prescribed]) -> Result<(), Failure> {
        let fact = entry
            .resolve(prescribed, None)
            .ok_or(Failure::AnswerIncomplete("a proposal to answer"))?;
        let request = v1::RecordFactsRequest {
            episode: self.episode.to_string(),
            request_id: self.request_id(),
            facts: vec![fact_to_wire(self.pack, &self.episode, &fact)],
            expected_sequence: Some(self.sequence),
        };
        self.sequence = self
            .episodes
            .record_facts(request)
            .await?
            .into_inner()
            .sequence;
        Ok(())
    }

    async fn sign_off(&mut self, date: Date, accepted: bool, who: &str) -> Result<(), Failure> {
        let proposal = self.current(date).await?.proposal;
        let answer = if accepted {
            v1::Answer::Accept
        } else {
            v1::Answer::Decline
        };
        let request = v1::SignOffRequest {
            decision: proposal,
            request_id: self.request_id(),
            expected_sequence: Some(self.sequence),
            date: date.to_string(),
            who: who.to_owned(),
            answer: answer.into(),
            language: String::new(),
        };
        self.sequence = self
            .prescriptions
            .sign_off(request)
            .await?
            .into_inner()
            .sequence;
        Ok(())
    }

    async fn current(&mut self, date: Date) -> Result<v1::CurrentResponse, Failure> {
        let request = v1::CurrentRequest {
            episode: self.episode.to_string(),
            as_of: date.to_string(),
            language: String::new(),
        };
        Ok(self.prescriptions.current(request).await?.into_inner())
    }

    /// Asks for the next prescription, and why.
    pub(crate) async fn ask(&mut self, date: Date) -> Result<Asked, Failure> {
        let request = v1::NextRequest {
            episode: self.episode.to_string(),
            request_id: self.request_id(),
            as_of: date.to_string(),
            expected_sequence: Some(self.sequence),
            language: String::new(),
        };
        let next = self.prescriptions.next(request).await?.into_inner();
        self.sequence = next.sequence;
        let name = next
            .decision
            .as_ref()
            .ok_or(Failure::AnswerIncomplete("the decision"))?
            .name
            .clone();
        let why = v1::ExplainDecisionRequest {
            name,
            view: v1::ExplanationView::Basic.into(),
        };
        let why = self.audit.explain_decision(why).await?.into_inner();
        let explanation = why
            .explanation
            .ok_or(Failure::AnswerIncomplete("the explanation"))?;
        Ok(Asked { next, explanation })
    }

    /// The patient's sheet on a date.
    pub(crate) async fn sheet(&mut self, date: Date) -> Result<String, Failure> {
        let request = v1::RenderRequest {
            episode: self.episode.to_string(),
            as_of: date.to_string(),
            language: String::new(),
        };
        Ok(self.prescriptions.render(request).await?.into_inner().sheet)
    }

    /// Has a decision made again.
    pub(crate) async fn recompute(
        &mut self,
        number: DecisionNo,
    ) -> Result<v1::RecomputeDecisionResponse, Failure> {
        let request = v1::RecomputeDecisionRequest {
            name: self.episode.decision(number.0),
        };
        Ok(self.audit.recompute_decision(request).await?.into_inner())
    }

    /// Has the whole ledger verified.
    pub(crate) async fn verify(&mut self) -> Result<v1::VerifyLedgerResponse, Failure> {
        let request = v1::VerifyLedgerRequest {
            parent: format!("clinics/{}", self.clinic),
        };
        Ok(self.audit.verify_ledger(request).await?.into_inner())
    }

    /// Request ids need only differ from one another here: the store is new.
    fn request_id(&mut self) -> String {
        self.requests = self.requests.saturating_add(1);
        format!("demo-{}", self.requests)
    }
}

/// What is prescribed, as far as a session told "as prescribed" needs it.
fn prescribed(prescription: Option<&v1::Prescription>) -> Result<Vec<Prescribed>, Failure> {
    let exercises = prescription
        .map(|prescription| prescription.exercises.as_slice())
        .unwrap_or_default();
    exercises
        .iter()
        .map(|exercise| {
            let dose = Reader::default().dose("dose", &exercise.dose);
            Ok(Prescribed {
                exercise: exercise.exercise.as_str().into(),
                dose: dose.ok_or(Failure::AnswerIncomplete("a dose"))?,
            })
        })
        .collect()
}

/// The number of a decision from its name.
pub(crate) fn number_of(decision: &v1::Decision) -> Result<DecisionNo, Failure> {
    let (_, number) =
        decision_from_name(&decision.name).ok_or(Failure::AnswerIncomplete("a decision's name"))?;
    Ok(DecisionNo(number))
}

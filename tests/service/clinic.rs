//! A clinic's software: one connection, and the calls that a course of care needs.

use super::facts::{DAY, assessment, session};
use super::server::Server;
use rungwise_api::v1;
use rungwise_api::v1::audit_service_client::AuditServiceClient;
use rungwise_api::v1::band_service_client::BandServiceClient;
use rungwise_api::v1::episode_service_client::EpisodeServiceClient;
use rungwise_api::v1::prescription_service_client::PrescriptionServiceClient;
use rungwise_api::v1::rule_pack_service_client::RulePackServiceClient;
use std::sync::atomic::{AtomicU64, Ordering};
use tonic::Status;
use tonic::transport::{Channel, Endpoint};

/// The clinic that a server without configuration serves.
pub(crate) const CLINIC: &str = "clinics/demo";

/// A connection. A clone uses the same one.
#[derive(Clone)]
pub(crate) struct Clinic {
    pub(crate) channel: Channel,
    pub(crate) episodes: EpisodeServiceClient<Channel>,
    pub(crate) prescriptions: PrescriptionServiceClient<Channel>,
    pub(crate) audit: AuditServiceClient<Channel>,
    pub(crate) packs: RulePackServiceClient<Channel>,
    pub(crate) bands: BandServiceClient<Channel>,
}

/// A request id that no other call has.
pub(crate) fn request_id() -> String {
    static NEXT: AtomicU64 = AtomicU64::new(0);
    format!("request-{}", NEXT.fetch_add(1, Ordering::Relaxed))
}

/// An episode with its first prescription in force and one session reported.
pub(crate) struct Begun {
    pub(crate) episode: String,
    /// The fact of the session, dated the day after it began.
    pub(crate) session: String,
    pub(crate) decision: v1::Decision,
    pub(crate) prescription: v1::Prescription,
    pub(crate) sequence: u64,
}

impl Clinic {
    pub(crate) async fn connect(server: &Server) -> Self {
        let endpoint =
            Endpoint::from_shared(format!("http://{}", server.address)).expect("an address");
        let channel = endpoint.connect().await.expect("the server answers");
        Self {
            episodes: EpisodeServiceClient::new(channel.clone()),
            prescriptions: PrescriptionServiceClient::new(channel.clone()),
            audit: AuditServiceClient::new(channel.clone()),
            packs: RulePackServiceClient::new(channel.clone()),
            bands: BandServiceClient::new(channel.clone()),
            channel,
        }
    }

    /// Opens an episode of this person.
    pub(crate) async fn open(&self, person: &str, side: v1::Side) -> v1::Episode {
        let request = opening(person, side);
        self.episodes
            .clone()
            .open_episode(request)
            .await
            .expect("it opens")
            .into_inner()
            .episode
            .expect("an episode")
    }

    /// Every screening question of the pack answered as well as can be.
    pub(crate) async fn all_clear(&self, date: &str) -> v1::Fact {
        let request = v1::GetPackRequest {
            name: format!("{CLINIC}/packs/rotator-cuff"),
            ..Default::default()
        };
        let pack = self
            .packs
            .clone()
            .get_pack(request)
            .await
            .expect("the pack")
            .into_inner();
        let of_screening = pack
            .measures
            .iter()
            .filter(|measure| measure.carrier() == v1::Carrier::Screening);
        let readings = of_screening.map(|measure| match measure.choices.first() {
            Some(best) => super::facts::choice(&measure.name, best),
            None => super::facts::number(&measure.name, &measure.min, &measure.unit),
        });
        super::facts::screened(date, readings.collect())
    }

    /// Opens an episode, answers the screening, begins, and reports one session that did not hurt.
    pub(crate) async fn begin(&self, person: &str, side: v1::Side) -> Begun {
        let episode = self.open(person, side).await.name;
        self.record(&episode, vec![self.all_clear(DAY).await, assessment(DAY)])
            .await
            .expect("recorded");
        let begun = self.next(&episode, DAY).await.expect("a decision");
        let decision = begun.decision.expect("a decision");
        assert_eq!(decision.outcome(), v1::Outcome::Begin);
        let prescription = begun.prescription.expect("a prescription");
        let reported = session(&super::facts::day(1), &prescription, 1);
        let recorded = self
            .record(&episode, vec![reported])
            .await
            .expect("recorded");
        Begun {
            episode,
            session: recorded
                .facts
                .into_iter()
                .next()
                .expect("one fact, one name"),
            decision,
            prescription,
            sequence: recorded.sequence,
        }
    }

    pub(crate) async fn record(
        &self,
        episode: &str,
        facts: Vec<v1::Fact>,
    ) -> Result<v1::RecordFactsResponse, Status> {
        let request = recording(episode, facts);
        self.episodes
            .clone()
            .record_facts(request)
            .await
            .map(tonic::Response::into_inner)
    }

    /// Records a clinician's word, read against the episode as it stands.
    pub(crate) async fn order(
        &self,
        episode: &str,
        fact: v1::Fact,
    ) -> Result<v1::RecordFactsResponse, Status> {
        let expected_sequence = Some(self.episode(episode).await.sequence);
        let request = v1::RecordFactsRequest {
            expected_sequence,
            ..recording(episode, vec![fact])
        };
        self.episodes
            .clone()
            .record_facts(request)
            .await
            .map(tonic::Response::into_inner)
    }

    pub(crate) async fn next(
        &self,
        episode: &str,
        as_of: &str,
    ) -> Result<v1::NextResponse, Status> {
        self.prescriptions
            .clone()
            .next(asking(episode, as_of))
            .await
            .map(tonic::Response::into_inner)
    }

    pub(crate) async fn episode(&self, name: &str) -> v1::Episode {
        let request = v1::GetEpisodeRequest {
            name: name.to_owned(),
        };
        self.episodes
            .clone()
            .get_episode(request)
            .await
            .expect("it is there")
            .into_inner()
            .episode
            .expect("an episode")
    }

    /// Every fact of an episode, page by page.
    pub(crate) async fn facts(&self, episode: &str) -> Vec<v1::RecordedFact> {
        let mut found = Vec::new();
        let mut page_token = String::new();
        loop {
            let request = v1::ListFactsRequest {
                parent: episode.to_owned(),
                page_size: 3,
                page_token,
            };
            let page = self
                .episodes
                .clone()
                .list_facts(request)
                .await
                .expect("a page")
                .into_inner();
            assert!(page.facts.len() <= 3, "a page is longer than was asked");
            found.extend(page.facts);
            page_token = page.next_page_token;
            if page_token.is_empty() {
                return found;
            }
        }
    }

    /// Every decision of an episode, page by page.
    pub(crate) async fn decisions(&self, episode: &str) -> Vec<v1::Decision> {
        let mut found = Vec::new();
        let mut page_token = String::new();
        loop {
            let request = v1::ListDecisionsRequest {
                parent: episode.to_owned(),
                page_size: 2,
                page_token,
                ..Default::default()
            };
            let page = self
                .audit
                .clone()
                .list_decisions(request)
                .await
                .expect("a page")
                .into_inner();
            found.extend(page.decisions);
            page_token = page.next_page_token;
            if page_token.is_empty() {
                return found;
            }
        }
    }

    /// Has the whole ledger verified; it must be sound.
    pub(crate) async fn verified(&self) -> v1::VerifyLedgerResponse {
        let request = v1::VerifyLedgerRequest {
            parent: CLINIC.to_owned(),
        };
        let verified = self
            .audit
            .clone()
            .verify_ledger(request)
            .await
            .expect("it verifies")
            .into_inner();
        assert!(verified.sound, "{:?}", verified.faults);
        verified
    }

    pub(crate) async fn current(&self, episode: &str, as_of: &str) -> v1::CurrentResponse {
        let request = v1::CurrentRequest {
            episode: episode.to_owned(),
            as_of: as_of.to_owned(),
            language: String::new(),
        };
        self.prescriptions
            .clone()
            .current(request)
            .await
            .expect("what is in force")
            .into_inner()
    }

    pub(crate) async fn void(
        &self,
        fact: &str,
        sequence: u64,
        date: &str,
    ) -> Result<v1::VoidFactResponse, Status> {
        let request = voiding(fact, sequence, date);
        self.episodes
            .clone()
            .void_fact(request)
            .await
            .map(tonic::Response::into_inner)
    }

    pub(crate) async fn close(
        &self,
        episode: &str,
        date: &str,
    ) -> Result<v1::CloseEpisodeResponse, Status> {
        let request = closing(episode, self.episode(episode).await.sequence, date);
        self.episodes
            .clone()
            .close_episode(request)
            .await
            .map(tonic::Response::into_inner)
    }
}

pub(crate) fn opening(person: &str, side: v1::Side) -> v1::OpenEpisodeRequest {
    let episode = v1::Episode {
        person: person.to_owned(),
        side: side.into(),
        pack: "rotator-cuff".to_owned(),
        opened_on: DAY.to_owned(),
        born_on: "1980-05-17".to_owned(),
        ..Default::default()
    };
    v1::OpenEpisodeRequest {
        parent: CLINIC.to_owned(),
        request_id: request_id(),
        episode: Some(episode),
    }
}

pub(crate) fn recording(episode: &str, facts: Vec<v1::Fact>) -> v1::RecordFactsRequest {
    v1::RecordFactsRequest {
        episode: episode.to_owned(),
        request_id: request_id(),
        facts,
        expected_sequence: None,
    }
}

pub(crate) fn asking(episode: &str, as_of: &str) -> v1::NextRequest {
    v1::NextRequest {
        episode: episode.to_owned(),
        request_id: request_id(),
        as_of: as_of.to_owned(),
        expected_sequence: None,
        language: String::new(),
    }
}

pub(crate) fn voiding(fact: &str, sequence: u64, date: &str) -> v1::VoidFactRequest {
    v1::VoidFactRequest {
        fact: fact.to_owned(),
        request_id: request_id(),
        expected_sequence: Some(sequence),
        date: date.to_owned(),
        reported_by: v1::ReportedBy::Patient.into(),
        who: "invented-clinician-1".to_owned(),
        why: "typed for somebody else".to_owned(),
    }
}

pub(crate) fn correcting(
    fact: &str,
    sequence: u64,
    replacement: v1::Fact,
) -> v1::CorrectFactRequest {
    v1::CorrectFactRequest {
        fact: fact.to_owned(),
        request_id: request_id(),
        expected_sequence: Some(sequence),
        date: replacement.date.clone(),
        reported_by: v1::ReportedBy::Clinician.into(),
        who: "invented-clinician-1".to_owned(),
        why: "misheard".to_owned(),
        replacement: Some(replacement),
    }
}

pub(crate) fn closing(episode: &str, sequence: u64, date: &str) -> v1::CloseEpisodeRequest {
    v1::CloseEpisodeRequest {
        episode: episode.to_owned(),
        request_id: request_id(),
        expected_sequence: Some(sequence),
        date: date.to_owned(),
        who: "invented-clinician-1".to_owned(),
        why: "moved away".to_owned(),
    }
}

pub(crate) fn importing(
    person: &str,
    phase: &str,
    places: Vec<v1::ExercisePlace>,
) -> v1::ImportEpisodeRequest {
    let opened = opening(person, v1::Side::Left);
    v1::ImportEpisodeRequest {
        parent: opened.parent,
        request_id: opened.request_id,
        episode: opened.episode,
        placement: Some(v1::PlaceOrder {
            phase: phase.to_owned(),
            places,
        }),
        who: "invented-clinician-1".to_owned(),
        why: "came from another clinic".to_owned(),
        facts: Vec::new(),
    }
}

pub(crate) fn signing(
    decision: &str,
    sequence: u64,
    date: &str,
    answer: v1::Answer,
) -> v1::SignOffRequest {
    v1::SignOffRequest {
        decision: decision.to_owned(),
        request_id: request_id(),
        expected_sequence: Some(sequence),
        date: date.to_owned(),
        who: "invented-clinician-1".to_owned(),
        answer: answer.into(),
        language: String::new(),
    }
}

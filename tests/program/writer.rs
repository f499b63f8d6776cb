//! A client that writes until it is cut off, and remembers what was acknowledged.

use rungwise_api::v1;
use rungwise_api::v1::audit_service_client::AuditServiceClient;
use rungwise_api::v1::episode_service_client::EpisodeServiceClient;
use rungwise_api::v1::prescription_service_client::PrescriptionServiceClient;
use tonic::transport::Channel;

/// The clinic that a server without configuration serves.
pub(crate) const CLINIC: &str = "clinics/demo";
/// The day on which the episodes of these tests opened, and every fact happened.
const DAY: &str = "2026-03-02";

/// Something that the server said is recorded.
#[derive(Clone, PartialEq, Debug)]
pub(crate) enum Acknowledged {
    /// A fact, by name, with what it says.
    Fact(String, Box<v1::Fact>),
    /// A decision, whole.
    Decision(Box<v1::Decision>),
}

/// A connection with an episode of its own.
pub(crate) struct Writer {
    episodes: EpisodeServiceClient<Channel>,
    prescriptions: PrescriptionServiceClient<Channel>,
    pack: String,
    episode: String,
    number: u64,
    requests: u64,
}

/// Connects; none where the server is gone.
async fn channel(url: &str) -> Option<Channel> {
    tonic::transport::Endpoint::from_shared(url.to_owned())
        .unwrap()
        .connect()
        .await
        .ok()
}

/// The id of the one pack in force.
async fn pack(channel: Channel) -> Result<String, tonic::Status> {
    let request = v1::ListPacksRequest {
        parent: CLINIC.to_owned(),
        page_size: 0,
        page_token: String::new(),
    };
    let packs = v1::rule_pack_service_client::RulePackServiceClient::new(channel)
        .list_packs(request)
        .await?;
    Ok(packs
        .into_inner()
        .packs
        .into_iter()
        .find(|pack| pack.in_force)
        .map(|pack| pack.id)
        .unwrap())
}

impl Writer {
    /// Connects; none where the server is gone.
    pub(crate) async fn new(url: &str, number: u64) -> Option<Self> {
        let channel = channel(url).await?;
        let pack = pack(channel.clone()).await.ok()?;
        Some(Self {
            episodes: EpisodeServiceClient::new(channel.clone()),
            prescriptions: PrescriptionServiceClient::new(channel),
            pack,
            episode: String::new(),
            number,
            requests: 0,
        })
    }

    /// Opens an episode to write to from now on; none where the server is gone.
    pub(crate) async fn open(&mut self) -> Option<()> {
        let request_id = self.request_id();
        let request = v1::OpenEpisodeRequest {
            parent: CLINIC.to_owned(),
            request_id: request_id.clone(),
            episode: Some(v1::Episode {
                person: format!("invented-{request_id}"),
                side: v1::Side::Left.into(),
                pack: self.pack.clone(),
                opened_on: DAY.to_owned(),
                ..v1::Episode::default()
            }),
        };
        let opened = self.episodes.open_episode(request).await.ok()?.into_inner();
        self.episode = opened.episode.expect("an episode").name;
        Some(())
    }

    /// Records one fact; what was acknowledged, or none where the server is gone.
    pub(crate) async fn record(&mut self) -> Option<Acknowledged> {
        let fact = v1::Fact {
            date: DAY.to_owned(),
            reported_by: v1::ReportedBy::Patient.into(),
            kind: Some(v1::fact::Kind::Away(v1::Away {
                until: format!("2026-03-{:02}", 3 + self.requests % 28),
            })),
        };
        let request = v1::RecordFactsRequest {
            episode: self.episode.clone(),
            request_id: self.request_id(),
            facts: vec![fact.clone()],
            expected_sequence: None,
        };
        let answer = self.episodes.record_facts(request).await.ok()?.into_inner();
        Some(Acknowledged::Fact(
            answer.facts.into_iter().next().expect("one fact, one name"),
            Box::new(fact),
        ))
    }

    /// Asks for the next prescription; what was acknowledged, or none where the server is gone.
    pub(crate) async fn next(&mut self) -> Option<Acknowledged> {
        let request = v1::NextRequest {
            episode: self.episode.clone(),
            request_id: self.request_id(),
            as_of: DAY.to_owned(),
            expected_sequence: None,
            language: String::new(),
        };
        let answer = self.prescriptions.next(request).await.ok()?.into_inner();
        Some(Acknowledged::Decision(Box::new(
            answer.decision.expect("a decision"),
        )))
    }

    fn request_id(&mut self) -> String {
        self.requests += 1;
        format!("writer-{}-{}", self.number, self.requests)
    }
}

/// Writes until the server is gone; everything it acknowledged.
pub(crate) async fn write_until_cut_off(url: &str, number: u64) -> Vec<Acknowledged> {
    let mut acknowledged = Vec::new();
    let Some(mut writer) = Writer::new(url, number).await else {
        return acknowledged;
    };
    if writer.open().await.is_none() {
        return acknowledged;
    }
    loop {
        let answer = if writer.requests % 3 == 0 {
            writer.next().await
        } else {
            writer.record().await
        };
        match answer {
            Some(one) => acknowledged.push(one),
            None => return acknowledged,
        }
    }
}

/// Whether everything acknowledged is there as it was; panics with the first that is not. How many were checked.
pub(crate) async fn check(url: &str, acknowledged: &[Acknowledged]) -> usize {
    let channel = channel(url).await.expect("the server answers");
    let mut audit = AuditServiceClient::new(channel.clone());
    let mut episodes = EpisodeServiceClient::new(channel);
    let mut known: std::collections::BTreeMap<String, v1::Fact> = std::collections::BTreeMap::new();
    for one in acknowledged {
        match one {
            Acknowledged::Fact(name, fact) => {
                if !known.contains_key(name) {
                    let episode = name.split("/facts/").next().unwrap();
                    known.extend(facts(&mut episodes, episode).await);
                }
                assert_eq!(known.get(name), Some(&**fact), "`{name}` was acknowledged");
            }
            Acknowledged::Decision(decision) => {
                let request = v1::GetDecisionRequest {
                    name: decision.name.clone(),
                };
                let there = audit
                    .get_decision(request)
                    .await
                    .expect("an acknowledged decision")
                    .into_inner();
                assert_eq!(
                    there.decision.as_ref(),
                    Some(&**decision),
                    "`{}` was acknowledged",
                    decision.name
                );
            }
        }
    }
    acknowledged.len()
}

/// Every fact of an episode, by name.
async fn facts(
    episodes: &mut EpisodeServiceClient<Channel>,
    episode: &str,
) -> Vec<(String, v1::Fact)> {
    let mut found = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = v1::ListFactsRequest {
            parent: episode.to_owned(),
            page_size: 500,
            page_token,
        };
        let page = episodes
            .list_facts(request)
            .await
            .expect("an acknowledged episode")
            .into_inner();
        found.extend(
            page.facts
                .into_iter()
                .map(|recorded| (recorded.name, recorded.fact.expect("a fact"))),
        );
        page_token = page.next_page_token;
        if page_token.is_empty() {
            return found;
        }
    }
}

/// Has the server verify its ledger.
pub(crate) async fn verify(url: &str) -> v1::VerifyLedgerResponse {
    let channel = channel(url).await.expect("the server answers");
    let request = v1::VerifyLedgerRequest {
        parent: CLINIC.to_owned(),
    };
    AuditServiceClient::new(channel)
        .verify_ledger(request)
        .await
        .expect("it verifies")
        .into_inner()
}

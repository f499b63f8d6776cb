//! A real server on a temporary store, and an invented course of care to send to it. It leaves the tests to the others.

use jiff::civil::Date;
use rungwise_api::v1::audit_service_client::AuditServiceClient;
use rungwise_api::v1::episode_service_client::EpisodeServiceClient;
use rungwise_api::v1::prescription_service_client::PrescriptionServiceClient;
use rungwise_api::v1::rule_pack_service_client::RulePackServiceClient;
use rungwise_api::v1::{self, reading::Value};
use rungwise_pack::source::SourceFiles;
use rungwise_server::{Clock, Running, ServeConfig, ServeError, serve};
use rungwise_store::{ClinicId, OpenError, Store, StoreOptions, packs::read_dir};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::sync::oneshot;
use tonic::transport::Channel;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, StatusExt as _};

/// The clinic.
pub(crate) const CLINIC: &str = "clinics/demo";
/// The pack.
pub(crate) const PACK: &str = "rotator-cuff";
/// Today, 2026-03-09 at noon UTC, milliseconds since 1970.
pub(crate) const NOW_MS: u64 = 1_773_057_600_000;
/// Its civil date.
pub(crate) const NOW: &str = "2026-03-09";

/// The pack's folder.
fn pack_dir() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../rules")
        .join(PACK)
}

/// The pack's files.
pub(crate) fn pack_files() -> SourceFiles {
    SourceFiles::new(read_dir(&pack_dir()).expect("the pack is there"))
}

/// A server on a store of its own.
pub(crate) struct Rig {
    /// The store's folder.
    pub(crate) dir: TempDir,
    /// The store.
    pub(crate) store: Arc<Store>,
    /// Where the server listens.
    pub(crate) address: std::net::SocketAddr,
    channel: Channel,
    stop: oneshot::Sender<()>,
    running: Running,
}

/// A store in a folder, with today's clock.
pub(crate) async fn open_store(dir: &Path) -> Arc<Store> {
    let began = Instant::now();
    loop {
        let options = StoreOptions {
            clock: Arc::new(|| NOW_MS),
            ..StoreOptions::default()
        };
        match Store::open(dir, options) {
            Ok(store) => return Arc::new(store),
            // A server that was just stopped lets go of it when its last connection has ended.
            Err(OpenError::InUse(_)) if began.elapsed() < Duration::from_secs(10) => {
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            Err(error) => panic!("{error}"),
        }
    }
}

impl Rig {
    /// A server on a new store.
    pub(crate) async fn start() -> Self {
        Self::start_with(TempDir::new().expect("a folder"), pack_files(), |_| {}).await
    }

    /// A server on a store, with a pack, its settings changed.
    pub(crate) async fn start_with(
        dir: TempDir,
        pack: SourceFiles,
        change: impl FnOnce(&mut ServeConfig),
    ) -> Self {
        let store = open_store(&dir.path().join("store")).await;
        let mut config = ServeConfig::new(store.clone(), vec![pack]);
        config.clock = Clock::of(|| NOW_MS);
        change(&mut config);
        let (stop, stopped) = oneshot::channel::<()>();
        let running = serve(config, async { drop(stopped.await) })
            .await
            .expect("the server starts");
        let address = running.address();
        let channel = Channel::from_shared(format!("http://{address}")).expect("a URL");
        let channel = channel.connect().await.expect("the server listens");
        Self {
            dir,
            store,
            address,
            channel,
            stop,
            running,
        }
    }

    /// Stops the server; gives the store's folder.
    pub(crate) async fn stop(self) -> (TempDir, Result<(), ServeError>) {
        drop((self.stop, self.channel));
        let ended = self.running.ended().await;
        (self.dir, ended)
    }

    /// Where the server listens, as a URL's channel.
    pub(crate) fn channel(&self) -> Channel {
        self.channel.clone()
    }

    /// EpisodeService.
    pub(crate) fn episodes(&self) -> EpisodeServiceClient<Channel> {
        EpisodeServiceClient::new(self.channel())
    }

    /// PrescriptionService.
    pub(crate) fn prescriptions(&self) -> PrescriptionServiceClient<Channel> {
        PrescriptionServiceClient::new(self.channel())
    }

    /// RulePackService.
    pub(crate) fn packs(&self) -> RulePackServiceClient<Channel> {
        RulePackServiceClient::new(self.channel())
    }

    /// AuditService.
    pub(crate) fn audit(&self) -> AuditServiceClient<Channel> {
        AuditServiceClient::new(self.channel())
    }

    /// How many entries the clinic's ledger has.
    pub(crate) fn size(&self) -> u64 {
        self.store.head(&ClinicId::new("demo").expect("an id")).size
    }

    /// Opens an episode of a person.
    pub(crate) async fn open(&self, person: &str) -> v1::Episode {
        let request = v1::OpenEpisodeRequest {
            parent: CLINIC.into(),
            request_id: request_id(),
            episode: Some(episode(person)),
        };
        let response = self
            .episodes()
            .open_episode(request)
            .await
            .expect("an episode opens");
        response.into_inner().episode.expect("the episode")
    }

    /// Records facts.
    pub(crate) async fn record(
        &self,
        episode: &str,
        facts: Vec<v1::Fact>,
    ) -> Result<v1::RecordFactsResponse, Status> {
        let request = v1::RecordFactsRequest {
            episode: episode.into(),
            request_id: request_id(),
            facts,
            expected_sequence: None,
        };
        self.episodes()
            .record_facts(request)
            .await
            .map(tonic::Response::into_inner)
    }

    /// Asks for the next prescription.
    pub(crate) async fn next(
        &self,
        episode: &str,
        as_of: &str,
    ) -> Result<v1::NextResponse, Status> {
        let request = v1::NextRequest {
            episode: episode.into(),
            request_id: request_id(),
            as_of: as_of.into(),
            ..v1::NextRequest::default()
        };
        self.prescriptions()
            .next(request)
            .await
            .map(tonic::Response::into_inner)
    }

    /// An episode with its screening answered and its first prescription.
    pub(crate) async fn begun(&self, person: &str) -> (String, v1::NextResponse) {
        let name = self.open(person).await.name;
        self.record(&name, vec![screening(DAY, &[]), assessment(DAY)])
            .await
            .expect("recorded");
        let next = self.next(&name, DAY).await.expect("decided");
        (name, next)
    }

    /// Where the episode's stream stands.
    pub(crate) async fn sequence(&self, episode: &str) -> u64 {
        let request = v1::GetEpisodeRequest {
            name: episode.into(),
        };
        let response = self
            .episodes()
            .get_episode(request)
            .await
            .expect("the episode is there");
        response.into_inner().episode.expect("the episode").sequence
    }
}

/// The day on which episodes of these tests open.
pub(crate) const DAY: &str = "2026-03-02";

/// The civil date so many days after [`DAY`].
pub(crate) fn day(after: i64) -> String {
    let first: Date = DAY.parse().expect("a date");
    first
        .saturating_add(jiff::Span::new().days(after))
        .to_string()
}

/// A new request id.
pub(crate) fn request_id() -> String {
    static NEXT: AtomicU64 = AtomicU64::new(0);
    format!("request-{}", NEXT.fetch_add(1, Ordering::Relaxed))
}

/// An episode of a person, as a request has it.
pub(crate) fn episode(person: &str) -> v1::Episode {
    v1::Episode {
        person: person.into(),
        side: v1::Side::Left.into(),
        pack: PACK.into(),
        opened_on: DAY.into(),
        born_on: "1980-05-17".into(),
        ..v1::Episode::default()
    }
}

/// A number.
pub(crate) fn number(measure: &str, number: &str, unit: &str) -> v1::Reading {
    v1::Reading {
        measure: measure.into(),
        value: Some(Value::Number(number.into())),
        unit: unit.into(),
    }
}

/// A choice.
pub(crate) fn choice(measure: &str, choice: &str) -> v1::Reading {
    v1::Reading {
        measure: measure.into(),
        value: Some(Value::Choice(choice.into())),
        unit: String::new(),
    }
}

/// A fact.
pub(crate) fn fact(date: &str, by: v1::ReportedBy, kind: v1::fact::Kind) -> v1::Fact {
    v1::Fact {
        date: date.into(),
        reported_by: by.into(),
        kind: Some(kind),
    }
}

const QUESTIONS: [&str; 18] = [
    "hot swollen shoulder",
    "fever or feeling ill",
    "injury with changed shape",
    "injury with weakness",
    "bony tenderness after an injury",
    "past or present cancer",
    "new lump",
    "unrelenting night pain",
    "weight loss or night sweats",
    "sudden loss of strength or feeling",
    "lasting numbness or weakness",
    "chest pain or breathlessness on effort",
    "belly pain with shoulder pain",
    "headache or change of sight",
    "both shoulders ache",
    "several swollen joints",
    "heart condition not under control",
    "broken or unstable shoulder",
];

/// A screening answered `no` but for these.
pub(crate) fn screening(date: &str, yes: &[&str]) -> v1::Fact {
    let answer =
        |question: &&str| choice(question, if yes.contains(question) { "yes" } else { "no" });
    let mut readings: Vec<v1::Reading> = QUESTIONS.iter().map(answer).collect();
    readings.push(number("morning stiffness", "10", "min"));
    fact(
        date,
        v1::ReportedBy::Clinician,
        v1::fact::Kind::Screening(v1::Screening { readings }),
    )
}

/// An assessment.
pub(crate) fn assessment(date: &str) -> v1::Fact {
    let readings = vec![
        number("active elevation", "122", "deg"),
        choice("hitch when lifting", "slight"),
        number("manual strength", "3", "{grade}"),
        number("pain at rest", "1", "{score}"),
    ];
    let assessment = v1::Assessment {
        readings,
        ..v1::Assessment::default()
    };
    fact(
        date,
        v1::ReportedBy::Clinician,
        v1::fact::Kind::Assessment(assessment),
    )
}

/// A session in which every prescribed exercise was done as prescribed, with this pain.
pub(crate) fn session(date: &str, prescription: &v1::Prescription, pain: &str) -> v1::Fact {
    let count = |exercise: &v1::PrescribedExercise, variable: v1::Variable| {
        let value = exercise
            .dose
            .iter()
            .find(|value| value.variable() == variable)?;
        match value.value.as_ref()? {
            v1::dose_value::Value::Number(number) => number.parse::<u32>().ok(),
            v1::dose_value::Value::Label(_) => None,
        }
    };
    let report = |exercise: &v1::PrescribedExercise| {
        let set = v1::SetDone {
            reps: count(exercise, v1::Variable::Reps),
            hold_s: count(exercise, v1::Variable::HoldTime),
        };
        let sets = count(exercise, v1::Variable::Sets).unwrap_or(1);
        v1::ExerciseReport {
            exercise: exercise.exercise.clone(),
            done: v1::Done::Done.into(),
            sets: (0..sets).map(|_| set).collect(),
            readings: vec![
                number("pain during exercise", pain, "{score}"),
                choice("feel of the sets", "comfortable"),
            ],
        }
    };
    let session = v1::Session {
        readings: vec![
            number("pain before session", "1", "{score}"),
            number("pain after session", "1", "{score}"),
            choice("warning sign", "absent"),
        ],
        exercises: prescription.exercises.iter().map(report).collect(),
        ..v1::Session::default()
    };
    fact(
        date,
        v1::ReportedBy::Patient,
        v1::fact::Kind::Session(session),
    )
}

/// The code, reason and details of a refusal.
pub(crate) fn refusal<T: std::fmt::Debug>(
    answer: Result<T, Status>,
) -> (Code, String, ErrorDetails) {
    let status = answer.expect_err("it must be refused");
    let details = status.get_error_details();
    let info = details
        .error_info()
        .unwrap_or_else(|| panic!("no reason with {status:?}"));
    assert_eq!(info.domain, "rungwise");
    (status.code(), info.reason.clone(), details)
}

//! Starting and stopping: packs into force, listening, health, reflection, and a drain with a hard limit.
//!
//! Leaves to others: the calls (`crate::services`), opening the store and reading files (the caller).

use crate::clinic::Clinic;
use crate::clock::Clock;
use crate::gate::GateLayer;
use crate::leads::{LeadsError, leads};
use crate::limits::{
    CALLS_MAX, EPISODES_BYTES_MAX, GRACE_TIME, MESSAGE_BYTES_MAX, STREAMS_OF_CONNECTION_MAX,
};
use crate::refusal::Refusal;
use crate::service::Service;
use crate::services::{Audit, Bands, Episodes, Packs, Prescriptions};
use rungwise_api::DESCRIPTORS;
use rungwise_api::content::Content;
use rungwise_api::v1::audit_service_server::AuditServiceServer;
use rungwise_api::v1::band_service_server::BandServiceServer;
use rungwise_api::v1::episode_service_server::EpisodeServiceServer;
use rungwise_api::v1::prescription_service_server::PrescriptionServiceServer;
use rungwise_api::v1::rule_pack_service_server::RulePackServiceServer;
use rungwise_pack::diagnostic::Diagnostic;
use rungwise_pack::source::SourceFiles;
use rungwise_rehearsal::readiness::readiness;
use rungwise_store::{ClinicId, Kind, State, StopReason, Store};
use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tonic::service::Routes;
use tonic::transport::Server;
use tonic::transport::server::TcpIncoming;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

/// The one clinic of a server without configuration; it is invented.
pub const DEMO_CLINIC: &str = "demo";

/// What a server is started with.
#[derive(Debug)]
pub struct ServeConfig {
    /// Where to listen; a loopback address. Port 0 takes a free one.
    pub listen: SocketAddr,
    /// The store, open. It is drained when the server ends.
    pub store: Arc<Store>,
    /// The rule packs that are in force from now on, as files. None may be given in a clinic that has leads.
    pub packs: Vec<SourceFiles>,
    /// The same, left out in a clinic that has leads.
    pub built_in: Vec<SourceFiles>,
    /// The keys of everybody who may propose and approve packs, as C2SP verifier keys; none: as recorded before.
    pub leads: Vec<String>,
    /// The time.
    pub clock: Clock,
    /// How long calls in flight may go on once the server stops.
    pub grace: Duration,
    /// Most memory that episodes read may take, bytes, by estimate.
    pub episodes_bytes_max: usize,
    /// Most calls answered at once.
    pub calls_max: usize,
}

impl ServeConfig {
    /// The defaults: a free port of this machine.
    #[must_use]
    pub fn new(store: Arc<Store>, packs: Vec<SourceFiles>) -> Self {
        Self {
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            store,
            packs,
            built_in: Vec::new(),
            leads: Vec::new(),
            clock: Clock::of_system(),
            grace: GRACE_TIME,
            episodes_bytes_max: EPISODES_BYTES_MAX,
            calls_max: CALLS_MAX,
        }
    }
}

/// Why a server did not start, or ended otherwise than it was asked to.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The address is not this machine's own.
    #[error(
        "`{0}` is not a loopback address: without TLS and identities this server listens to this machine alone; \
         listen on 127.0.0.1 or [::1]"
    )]
    NotLoopback(SocketAddr),
    /// The address could not be bound.
    #[error("`{address}` cannot be listened on: {cause}")]
    Bind {
        /// The address.
        address: SocketAddr,
        /// Why.
        cause: std::io::Error,
    },
    /// A pack may not come into force. The one in force stays in force.
    #[error(
        "a rule pack may not come into force: {} findings, errors among them, and {} differences in its diaries",
        .diagnostics.len(), .diaries.len()
    )]
    PackRefused {
        /// Its digest.
        digest: [u8; 32],
        /// Everything that was found.
        diagnostics: Vec<Diagnostic>,
        /// Where its diaries do not go as they say.
        diaries: Vec<String>,
    },
    /// The leads cannot be a clinic's.
    #[error("the leads cannot be used: {0}")]
    Leads(#[from] LeadsError),
    /// Packs were given in a clinic whose leads bring them into force.
    #[error(
        "this clinic has leads: its packs come into force by `rungwise rules propose` and `rungwise rules approve`; \
         leave `packs` out"
    )]
    PacksAreForLeads,
    /// Two packs of one id were given.
    #[error("two rule packs of id `{0}` were given")]
    PackTwice(String),
    /// The ledger could not be read, or a pack could not be recorded.
    #[error("the ledger cannot be used: {0}")]
    Ledger(String),
    /// Calls were still in flight when the grace period ended; they were cut off. What was recorded is safe.
    #[error("calls were still in flight after {0:?}")]
    GraceEnded(Duration),
    /// The transport failed.
    #[error("serving failed: {0}")]
    Transport(String),
}

/// A server that listens.
#[derive(Debug)]
pub struct Running {
    address: SocketAddr,
    ended: JoinHandle<Result<(), ServeError>>,
}

impl Running {
    /// Where it listens.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Waits until it has stopped: calls in flight answered, store drained.
    ///
    /// # Errors
    /// It ended otherwise than it was asked to, or the grace period did not suffice.
    pub async fn ended(self) -> Result<(), ServeError> {
        self.ended
            .await
            .unwrap_or_else(|error| Err(ServeError::Transport(error.to_string())))
    }
}

/// Starts a server; it listens when this returns, and stops when `shutdown` is done.
///
/// # Errors
/// It cannot listen there, a pack has errors, or the ledger cannot be read.
pub async fn serve(
    config: ServeConfig,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> Result<Running, ServeError> {
    if !config.listen.ip().is_loopback() {
        return Err(ServeError::NotLoopback(config.listen));
    }
    let clinic = demo_clinic(&config).await?;
    let bind = |cause| ServeError::Bind {
        address: config.listen,
        cause,
    };
    let listener = TcpListener::bind(config.listen).await.map_err(bind)?;
    let address = listener.local_addr().map_err(bind)?;
    let (stop, stopping) = watch::channel(false);
    let service = Service::new(
        config.store.clone(),
        config.clock.clone(),
        stopping.clone(),
        vec![clinic],
        config.episodes_bytes_max,
    );
    let (health, routes) = routes(&Arc::new(service)).await?;
    tokio::spawn(follow_store(config.store.clone(), health.clone()));
    let serving = Server::builder()
        .max_concurrent_streams(STREAMS_OF_CONNECTION_MAX)
        .http2_keepalive_interval(Some(Duration::from_secs(60)))
        .http2_keepalive_timeout(Some(Duration::from_secs(20)))
        .layer(GateLayer::new(config.calls_max))
        .add_routes(routes)
        .serve_with_incoming_shutdown(
            TcpIncoming::from(listener).with_nodelay(Some(true)),
            stopped(stopping),
        );
    tracing::info!(%address, "listening");
    let (store, grace) = (config.store, config.grace);
    let ended = tokio::spawn(async move {
        let ended = until_stopped(serving, shutdown, (stop, health), grace).await;
        let drained = tokio::task::spawn_blocking(move || store.drain()).await;
        if !matches!(drained, Ok(Ok(()))) {
            tracing::error!(?drained, "the store was not drained");
        }
        ended
    });
    Ok(Running { address, ended })
}

async fn stopped(mut stopping: watch::Receiver<bool>) {
    // An error means that nobody can stop the server any more, which is as good as being told to stop.
    let _ = stopping.wait_for(|stopping| *stopping).await;
}

/// Serves until `shutdown`, then waits for the calls in flight, but not for ever: a connection that never sends anything
/// would hold tonic's own shutdown up.
async fn until_stopped(
    serving: impl Future<Output = Result<(), tonic::transport::Error>>,
    shutdown: impl Future<Output = ()>,
    (stop, health): (watch::Sender<bool>, HealthReporter),
    grace: Duration,
) -> Result<(), ServeError> {
    let transport = |error: tonic::transport::Error| ServeError::Transport(error.to_string());
    let mut serving = std::pin::pin!(serving);
    tokio::select! {
        ended = &mut serving => return ended.map_err(transport),
        () = shutdown => {}
    }
    tracing::info!("stopping");
    set_health(&health, ServingStatus::NotServing).await;
    let _ = stop.send(true);
    match tokio::time::timeout(grace, serving).await {
        Ok(ended) => ended.map_err(transport),
        Err(_) => Err(ServeError::GraceEnded(grace)),
    }
}

/// The demo clinic with its leads, or with its packs in force.
async fn demo_clinic(config: &ServeConfig) -> Result<Clinic, ServeError> {
    let ledger = |refusal: Refusal| ServeError::Ledger(format!("{refusal:?}"));
    let id = ClinicId::new(DEMO_CLINIC).map_err(|error| ServeError::Ledger(error.to_string()))?;
    let clinic = Clinic::read(config.store.clone(), id).map_err(ledger)?;
    if !config.leads.is_empty() {
        let keys = leads(&config.leads)?;
        if clinic.in_stream(|stream| stream.leads != keys) {
            let keys = keys.iter().map(ToString::to_string).collect();
            let entry = (Kind::Role, None, Content::Leads(keys));
            clinic.append_own(&[entry]).await.map_err(ledger)?;
        }
    }
    if clinic.in_stream(|stream| !stream.leads.is_empty()) {
        return match config.packs.as_slice() {
            [] => Ok(clinic),
            _ => Err(ServeError::PacksAreForLeads),
        };
    }
    let mut seen: Vec<String> = Vec::new();
    let packs = config.packs.iter().chain(&config.built_in);
    for files in packs {
        let pack = in_force_from_now(&clinic, files).await?;
        if seen.contains(&pack) {
            return Err(ServeError::PackTwice(pack));
        }
        seen.push(pack);
    }
    Ok(clinic)
}

/// Brings a pack into force, unless that version is; gives its id.
async fn in_force_from_now(clinic: &Clinic, files: &SourceFiles) -> Result<String, ServeError> {
    let ledger = |refusal: Refusal| ServeError::Ledger(format!("{refusal:?}"));
    let digest = rungwise_pack::digest(files);
    let kept = clinic.pack(&digest).map(|kept| kept.pack.id.to_string());
    let is_newest = |id: &String| {
        clinic.in_stream(|stream| {
            let newest = stream.newest_version(id);
            newest.is_some_and(|version| version.digest == digest)
        })
    };
    if let Some(id) = kept.filter(is_newest) {
        return Ok(id);
    }
    let judged = files.clone();
    let judged = tokio::task::spawn_blocking(move || readiness(&judged)).await;
    let judged = judged.map_err(|error| ServeError::Ledger(error.to_string()))?;
    let is_sound = judged.is_sound();
    let Some(pack) = judged.pack.filter(|_| is_sound) else {
        let diaries = judged.diaries.into_iter().flat_map(|diary| {
            let file = diary.file;
            let differences = diary.differences.into_iter();
            differences.map(move |one| format!("{file}: {one}"))
        });
        return Err(ServeError::PackRefused {
            digest,
            diagnostics: judged.findings,
            diaries: diaries.collect(),
        });
    };
    clinic.activate(&pack, files).await.map_err(ledger)?;
    Ok(pack.id.to_string())
}

/// Every service, with health and reflection.
async fn routes(service: &Arc<Service>) -> Result<(HealthReporter, Routes), ServeError> {
    macro_rules! sized {
        ($server:ident, $of:ident) => {
            $server::new($of(service.clone()))
                .max_decoding_message_size(MESSAGE_BYTES_MAX)
                .max_encoding_message_size(MESSAGE_BYTES_MAX)
        };
    }
    let reflection = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(DESCRIPTORS)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
    };
    let failed = |error: tonic_reflection::server::Error| ServeError::Transport(error.to_string());
    let (health, health_server) = tonic_health::server::health_reporter();
    set_health(&health, ServingStatus::Serving).await;
    let routes = Routes::new(health_server)
        .add_service(reflection().build_v1().map_err(failed)?)
        .add_service(reflection().build_v1alpha().map_err(failed)?)
        .add_service(sized!(EpisodeServiceServer, Episodes))
        .add_service(sized!(PrescriptionServiceServer, Prescriptions))
        .add_service(sized!(RulePackServiceServer, Packs))
        .add_service(sized!(BandServiceServer, Bands))
        .add_service(sized!(AuditServiceServer, Audit));
    Ok((health, routes))
}

/// The health of every service, and of the server as a whole (the empty name).
async fn set_health(health: &HealthReporter, status: ServingStatus) {
    for service in [
        "",
        "rungwise.v1.EpisodeService",
        "rungwise.v1.PrescriptionService",
        "rungwise.v1.RulePackService",
        "rungwise.v1.BandService",
        "rungwise.v1.AuditService",
    ] {
        health.set_service_status(service, status).await;
    }
}

/// Says that nothing is served once the store takes no writes.
async fn follow_store(store: Arc<Store>, health: HealthReporter) {
    let mut changes = store.state_changes();
    loop {
        let state = changes.borrow_and_update().clone();
        if let State::Stopped(why) = state {
            if why == StopReason::Drained {
                tracing::info!("the store is drained");
            } else {
                tracing::error!(%why, "the store has stopped");
            }
            set_health(&health, ServingStatus::NotServing).await;
            return;
        }
        if changes.changed().await.is_err() {
            return;
        }
    }
}

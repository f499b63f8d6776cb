//! Starting and stopping: packs into force, listening, health, reflection, and a drain with a hard limit.
//!
//! Leaves to others: the calls (`crate::services`), opening the store and reading files (the caller).

use crate::clinic::Clinic;
use crate::clock::Clock;
use crate::gate::GateLayer;
use crate::limits::{
    CALLS_MAX, EPISODES_BYTES_MAX, GRACE_TIME, MESSAGE_BYTES_MAX, STREAMS_OF_CONNECTION_MAX,
};
use crate::refusal::Refusal;
use crate::service::Service;
use crate::services::{Audit, Bands, Episodes, Packs, Prescriptions};
use rungwise_api::DESCRIPTORS;
use rungwise_api::v1::audit_service_server::AuditServiceServer;
use rungwise_api::v1::band_service_server::BandServiceServer;
use rungwise_api::v1::episode_service_server::EpisodeServiceServer;
use rungwise_api::v1::prescription_service_server::PrescriptionServiceServer;
use rungwise_api::v1::rule_pack_service_server::RulePackServiceServer;
use rungwise_pack::diagnostic::Diagnostic;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;
use rungwise_store::{ClinicId, State, StopReason, Store};
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
    /// The rule packs that are in force from now on, as files.
    pub packs: Vec<SourceFiles>,
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
    /// A pack has errors. The one in force stays in force.
    #[error("a rule pack has {} findings, errors among them", .diagnostics.len())]
    PackRefused {
        /// Everything that was found.
        diagnostics: Vec<Diagnostic>,
    },
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

/// The demo clinic with its packs in force.
async fn demo_clinic(config: &ServeConfig) -> Result<Clinic, ServeError> {
    let ledger = |refusal: Refusal| ServeError::Ledger(format!("{refusal:?}"));
    let mut checked: Vec<(CheckedPack, &SourceFiles)> = Vec::new();
    for files in &config.packs {
        let found = rungwise_pack::check(files);
        let Some(pack) = found.pack else {
            return Err(ServeError::PackRefused {
                diagnostics: found.diagnostics,
            });
        };
        if checked.iter().any(|(other, _)| other.id == pack.id) {
            return Err(ServeError::PackTwice(pack.id.to_string()));
        }
        checked.push((pack, files));
    }
    let id = ClinicId::new(DEMO_CLINIC).map_err(|error| ServeError::Ledger(error.to_string()))?;
    let clinic = Clinic::read(config.store.clone(), id).map_err(ledger)?;
    for (pack, files) in &checked {
        clinic.activate(pack, files).await.map_err(ledger)?;
    }
    Ok(clinic)
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

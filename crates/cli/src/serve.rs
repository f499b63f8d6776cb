//! Starting a server, waiting until it is told to stop, and connecting to one.
//!
//! Leaves to others: serving (`rungwise-server`), keeping (`rungwise-store`).

use crate::Answer;
use crate::args::ServeArgs;
use crate::config::{Config, LogFormat};
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::Screen;
use rungwise_pack::diagnostic::{Style, render};
use rungwise_server::{DEMO_CLINIC, ServeConfig, ServeError};
use rungwise_store::{State, Store, StoreOptions};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use tokio::runtime::Runtime;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::oneshot;
use tonic::transport::{Channel, Endpoint};

/// Runs a server until it is told to stop.
pub(crate) fn run(args: &ServeArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let config = Config::of(args)?;
    log_to_standard_error(&config)?;
    let given = config.packs.iter();
    let given = given.map(|folder| PackFiles::of_folder(folder));
    let given = given.collect::<Result<Vec<_>, _>>()?;
    let built_in = if given.is_empty() {
        PackFiles::embedded().collect()
    } else {
        Vec::new()
    };
    let rules = Rules {
        given,
        built_in,
        leads: config.leads.clone(),
    };
    let mut options = StoreOptions {
        epoch_key_dir: config.epoch_keys.clone(),
        ..StoreOptions::default()
    };
    if let Some(origin) = config.origin {
        options.origin = origin;
    }
    let store = Arc::new(Store::open(&config.store, options)?);
    runtime()?.block_on(async {
        let server = Running::start(store.clone(), rules, config.listen).await?;
        screen.line(&format!("listening on {}", server.address))?;
        let told = tokio::select! {
            told = told_to_stop() => told,
            why = stopped(&store) => Err(Failure::StoreStopped(why)),
        };
        drop(store);
        let ended = server.stop().await;
        told.and(ended).map(|()| Answer::Yes)
    })
}

/// Waits for SIGINT or SIGTERM.
async fn told_to_stop() -> Result<(), Failure> {
    let mut terminate = signal(SignalKind::terminate()).map_err(Failure::Signals)?;
    tokio::select! {
        told = tokio::signal::ctrl_c() => told.map_err(Failure::Signals),
        _ = terminate.recv() => Ok(()),
    }
}

/// Waits until the store takes no writes any more; why.
///
/// The program then ends, so that whatever supervises it starts it again and the store recovers.
async fn stopped(store: &Store) -> String {
    let mut changes = store.state_changes();
    let stopped = changes
        .wait_for(|state| matches!(state, State::Stopped(_)))
        .await;
    match stopped.as_deref() {
        Ok(State::Stopped(why)) => why.to_string(),
        _ => "its writer has ended".to_owned(),
    }
}

fn log_to_standard_error(config: &Config) -> Result<(), Failure> {
    let filter = tracing_subscriber::EnvFilter::try_new(&config.log).map_err(|error| {
        Failure::LogFilter {
            given: config.log.clone(),
            why: error.to_string(),
        }
    })?;
    let lines = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr);
    match config.log_format {
        LogFormat::Text => lines
            .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()))
            .init(),
        LogFormat::Json => lines.json().init(),
    }
    Ok(())
}

/// Whose rules a server goes by.
struct Rules {
    /// Packs in force from now on.
    given: Vec<PackFiles>,
    /// The same, unless the clinic has leads.
    built_in: Vec<PackFiles>,
    /// The keys of the leads.
    leads: Vec<String>,
}

/// A server of this process.
pub(crate) struct Running {
    /// Where it listens.
    pub(crate) address: SocketAddr,
    server: rungwise_server::Running,
    stop: oneshot::Sender<()>,
}

impl Running {
    /// Starts a server over an open store.
    async fn start(store: Arc<Store>, rules: Rules, listen: SocketAddr) -> Result<Self, Failure> {
        let files = |packs: &[PackFiles]| packs.iter().map(|pack| pack.files.clone()).collect();
        let (stop, told) = oneshot::channel();
        let config = ServeConfig {
            listen,
            built_in: files(&rules.built_in),
            leads: rules.leads.clone(),
            ..ServeConfig::new(store, files(&rules.given))
        };
        let server = rungwise_server::serve(config, async {
            // Where the sender is gone, there is nobody left to serve either.
            let _ = told.await;
        });
        let server = server.await.map_err(|error| refused(error, &rules))?;
        Ok(Self {
            address: server.address(),
            server,
            stop,
        })
    }

    /// Starts a server on a free port of this machine, over a new store in a folder.
    pub(crate) async fn start_for_demo(folder: &Path, pack: PackFiles) -> Result<Self, Failure> {
        let store = Store::open(&folder.join("store"), StoreOptions::default())?;
        let rules = Rules {
            given: vec![pack],
            built_in: Vec::new(),
            leads: Vec::new(),
        };
        Self::start(
            Arc::new(store),
            rules,
            SocketAddr::from(([127, 0, 0, 1], 0)),
        )
        .await
    }

    /// The clinic that it serves.
    pub(crate) const fn clinic(&self) -> &'static str {
        DEMO_CLINIC
    }

    /// A connection to it.
    pub(crate) async fn connect(&self) -> Result<Channel, Failure> {
        connect(&format!("http://{}", self.address)).await
    }

    /// Stops it and waits until the calls in flight are done and the store is drained.
    pub(crate) async fn stop(self) -> Result<(), Failure> {
        // It may have ended by itself; `ended` says how.
        let _ = self.stop.send(());
        Ok(self.server.ended().await?)
    }
}

/// A refusal to start; where a pack is the reason, with what was found in it.
fn refused(error: ServeError, rules: &Rules) -> Failure {
    let ServeError::PackRefused {
        digest,
        diagnostics,
        diaries,
    } = &error
    else {
        return Failure::Serve(error);
    };
    let mut packs = rules.given.iter().chain(&rules.built_in);
    match packs.find(|pack| rungwise_pack::digest(&pack.files) == *digest) {
        Some(pack) => {
            let mut findings = render(&pack.files, diagnostics, Style::Plain);
            findings.push_str(&diaries.join("\n"));
            Failure::PackRefused {
                pack: pack.called.clone(),
                findings,
            }
        }
        None => Failure::Serve(error),
    }
}

/// What async work runs on.
pub(crate) fn runtime() -> Result<Runtime, Failure> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(Failure::Runtime)
}

/// A connection to a server.
pub(crate) async fn connect(url: &str) -> Result<Channel, Failure> {
    let unreachable = |cause: tonic::transport::Error| Failure::Unreachable {
        server: url.to_owned(),
        why: std::error::Error::source(&cause)
            .map_or_else(|| cause.to_string(), ToString::to_string),
    };
    Endpoint::from_shared(url.to_owned())
        .map_err(unreachable)?
        .connect()
        .await
        .map_err(unreachable)
}

//! The configuration of `rungwise serve`: a TOML file, the command line above it, defaults below it.
//!
//! Leaves to others: acting on it (`crate::serve`).

use crate::args::ServeArgs;
use crate::failure::Failure;
use crate::input;
use serde::Deserialize;
use std::net::SocketAddr;
use std::path::PathBuf;

/// Where the server listens unless told otherwise: this machine only.
const LISTEN: SocketAddr =
    SocketAddr::new(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST), 7864);
/// Where the store is unless told otherwise.
const STORE: &str = "rungwise-store";

/// What a configuration file may say. `deploy/rungwise.example.toml` tells what each key is for.
#[derive(Clone, PartialEq, Eq, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct File {
    listen: Option<SocketAddr>,
    store: Option<PathBuf>,
    packs: Vec<PathBuf>,
    leads: Vec<String>,
    epoch_keys: Option<PathBuf>,
    origin: Option<String>,
    log: Option<String>,
    log_format: LogFormat,
}

/// How log lines are written.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum LogFormat {
    /// For people.
    #[default]
    Text,
    /// One object a line.
    Json,
}

/// What a server is started with.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Config {
    /// Where to listen.
    pub(crate) listen: SocketAddr,
    /// The store's folder.
    pub(crate) store: PathBuf,
    /// Folders of rule packs; none: those that came with the program.
    pub(crate) packs: Vec<PathBuf>,
    /// The keys of the leads; none: as recorded before.
    pub(crate) leads: Vec<String>,
    /// The folder of the epoch keys; none: inside the store.
    pub(crate) epoch_keys: Option<PathBuf>,
    /// First part of a checkpoint's origin; none: the store's own default.
    pub(crate) origin: Option<String>,
    /// What is logged, as a filter of levels.
    pub(crate) log: String,
    /// How log lines are written.
    pub(crate) log_format: LogFormat,
}

impl Config {
    /// Puts the command line above the file that it names, and both above the defaults.
    pub(crate) fn of(args: &ServeArgs) -> Result<Self, Failure> {
        let file = match &args.config {
            None => File::default(),
            Some(path) => {
                toml::from_str(&input::text_of(path)?).map_err(|error| Failure::Config {
                    path: path.clone(),
                    why: error.to_string().trim_end().to_owned(),
                })?
            }
        };
        Ok(Self {
            listen: args.listen.or(file.listen).unwrap_or(LISTEN),
            store: args
                .store
                .clone()
                .or(file.store)
                .unwrap_or_else(|| STORE.into()),
            packs: if args.packs.is_empty() {
                file.packs
            } else {
                args.packs.clone()
            },
            leads: if args.leads.is_empty() {
                file.leads
            } else {
                args.leads.clone()
            },
            epoch_keys: file.epoch_keys,
            origin: file.origin,
            log: file.log.unwrap_or_else(|| "info".to_owned()),
            log_format: file.log_format,
        })
    }
}

#[cfg(test)]
mod tests;

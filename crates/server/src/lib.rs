//! The gRPC service: the services of `rungwise.v1`, their limits, and the one map from refusals to statuses.
//!
//! [`serve`] starts a server over an open store. It leaves to others: deciding (`rungwise-engine`), the messages
//! (`rungwise-api`), durability (`rungwise-store`), and the command line.

mod cache;
mod catalogue;
mod clinic;
mod clock;
mod episode;
mod gate;
mod leads;
pub mod limits;
mod next;
mod page;
mod refusal;
mod reported;
mod run;
mod service;
mod services;
mod snapshot;
mod write;

pub use clock::Clock;
pub use leads::{LEADS_MAX, LEADS_MIN, LeadsError};
pub use refusal::DOMAIN;
pub use run::{DEMO_CLINIC, Running, ServeConfig, ServeError, serve};

//! Why a call was refused, and the one map from that to a status with its details.
//!
//! Leaves to others: finding out (every other module).

use crate::limits::{MESSAGE_BYTES_MAX, RETRY_BUSY, RETRY_CONTENDED, RETRY_UNAVAILABLE};
use rungwise_api::Violation;
use rungwise_api::v1::{self, Reason};
use rungwise_store::{AppendError, ReadError};
use std::collections::HashMap;
use std::time::Duration;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, StatusExt as _};

/// The domain of every reason.
pub const DOMAIN: &str = "rungwise";

/// Why a call was refused. Nothing was written.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) enum Refusal {
    /// Fields are wrong; at least one.
    Fields(Vec<Violation>),
    /// There is no such thing.
    NotFound {
        /// The named reason.
        reason: Reason,
        /// Its kind, such as `episode`.
        kind: &'static str,
        /// The name asked for.
        name: String,
    },
    /// The request id was used for another request.
    RequestReused {
        /// The id.
        request_id: String,
    },
    /// The episode's stream does not stand where the caller saw it.
    Stale {
        /// The episode's name.
        episode: String,
        /// Where the caller saw it.
        expected: u64,
        /// Where it stands.
        found: u64,
    },
    /// Others wrote each time.
    Contended {
        /// The episode's name.
        episode: String,
    },
    /// The state of what is asked about does not allow it.
    Precondition {
        /// The named reason.
        reason: Reason,
        /// What it is about, by name.
        subject: String,
        /// What is wrong.
        wrong: String,
        /// What would be right.
        right: String,
    },
    /// Too much at once.
    Busy(Reason),
    /// The message is larger than this server takes.
    TooLarge,
    /// The deadline passed.
    DeadlinePassed,
    /// The server is stopping.
    Stopping,
    /// The store takes no writes.
    StoreStopped(String),
    /// A stored entry cannot be read.
    Damaged(String),
    /// Another host or origin was named.
    HostRefused(String),
    /// A fault of this program.
    Fault(String),
}

impl Refusal {
    /// One wrong field.
    pub(crate) fn field(
        field: &str,
        reason: Reason,
        wrong: impl Into<String>,
        right: impl Into<String>,
    ) -> Self {
        Self::Fields(vec![Violation::new(field, reason, wrong, right)])
    }

    /// There is no such episode.
    pub(crate) fn no_episode(name: impl ToString) -> Self {
        Self::NotFound {
            reason: Reason::EpisodeNotFound,
            kind: "episode",
            name: name.to_string(),
        }
    }

    /// There is no such decision.
    pub(crate) fn no_decision(name: impl Into<String>) -> Self {
        Self::NotFound {
            reason: Reason::DecisionNotFound,
            kind: "decision",
            name: name.into(),
        }
    }

    fn reason(&self) -> Reason {
        match self {
            Self::Fields(violations) => violations
                .first()
                .map_or(Reason::FieldMalformed, |first| first.reason),
            Self::NotFound { reason, .. }
            | Self::Precondition { reason, .. }
            | Self::Busy(reason) => *reason,
            Self::RequestReused { .. } => Reason::RequestIdReused,
            Self::Stale { .. } => Reason::SequenceStale,
            Self::Contended { .. } => Reason::Contended,
            Self::TooLarge => Reason::MessageTooLarge,
            Self::DeadlinePassed => Reason::DeadlinePassed,
            Self::Stopping => Reason::Stopping,
            Self::StoreStopped(_) => Reason::StoreStopped,
            Self::Damaged(_) => Reason::EntryDamaged,
            Self::HostRefused(_) => Reason::HostRefused,
            Self::Fault(_) => Reason::Fault,
        }
    }

    const fn code(&self) -> Code {
        match self {
            Self::Fields(_) => Code::InvalidArgument,
            Self::NotFound { .. } => Code::NotFound,
            Self::RequestReused { .. } => Code::AlreadyExists,
            Self::Stale { .. } | Self::Contended { .. } => Code::Aborted,
            Self::Precondition { .. } => Code::FailedPrecondition,
            Self::Busy(_) | Self::TooLarge => Code::ResourceExhausted,
            Self::DeadlinePassed => Code::DeadlineExceeded,
            Self::Stopping | Self::StoreStopped(_) => Code::Unavailable,
            Self::Damaged(_) => Code::DataLoss,
            Self::HostRefused(_) => Code::PermissionDenied,
            Self::Fault(_) => Code::Internal,
        }
    }

    fn message(&self) -> String {
        match self {
            Self::Fields(violations) => match violations.as_slice() {
                [] => "a field is wrong".to_owned(),
                [one] => format!("`{}`: {}", one.field, one.description()),
                [first, rest @ ..] => {
                    format!("`{}`: {} (and {} more)", first.field, first.description(), rest.len())
                }
            },
            Self::NotFound { kind, name, .. } => format!("there is no {kind} `{name}`"),
            Self::RequestReused { request_id } => {
                format!("request id `{request_id}` was used for another request; choose a new one")
            }
            Self::Stale { episode, expected, found } => {
                format!("`{episode}` stands at {found}, not at {expected}; read it again")
            }
            Self::Contended { episode } => format!("others wrote to `{episode}` each time; try again"),
            Self::Precondition { subject, wrong, right, .. } => format!("`{subject}`: {wrong}; {right}"),
            Self::Busy(_) => "too much at once; try again shortly".to_owned(),
            Self::TooLarge => format!("a message may be {MESSAGE_BYTES_MAX} bytes at most; send it in parts"),
            Self::DeadlinePassed => {
                "the deadline passed; a write may have been recorded, ask again with the same request id".to_owned()
            }
            Self::Stopping => "the server is stopping".to_owned(),
            Self::StoreStopped(why) => format!("the store takes no writes: {why}"),
            Self::Damaged(what) => format!("a stored entry cannot be read: {what}"),
            Self::HostRefused(host) => format!("this server does not answer for `{host}`"),
            Self::Fault(_) => "a fault of this program; its log says more".to_owned(),
        }
    }

    /// Every value that the message mentions.
    fn metadata(&self) -> HashMap<String, String> {
        let pairs: Vec<(&str, String)> = match self {
            Self::Fields(violations) => {
                let first = violations.first();
                vec![
                    (
                        "field",
                        first.map(|first| first.field.clone()).unwrap_or_default(),
                    ),
                    ("violations", violations.len().to_string()),
                ]
            }
            Self::NotFound { kind, name, .. } => {
                vec![("kind", (*kind).to_owned()), ("name", name.clone())]
            }
            Self::RequestReused { request_id } => vec![("requestId", request_id.clone())],
            Self::Stale {
                episode,
                expected,
                found,
            } => vec![
                ("episode", episode.clone()),
                ("expectedSequence", expected.to_string()),
                ("sequence", found.to_string()),
            ],
            Self::Contended { episode } => vec![("episode", episode.clone())],
            Self::Precondition { subject, .. } => vec![("subject", subject.clone())],
            Self::StoreStopped(why) => vec![("why", why.clone())],
            Self::Damaged(what) => vec![("what", what.clone())],
            Self::HostRefused(host) => vec![("host", host.clone())],
            Self::TooLarge => vec![("bytesMax", MESSAGE_BYTES_MAX.to_string())],
            Self::Busy(_) | Self::DeadlinePassed | Self::Stopping | Self::Fault(_) => Vec::new(),
        };
        pairs
            .into_iter()
            .map(|(key, value)| (key.to_owned(), value))
            .collect()
    }

    const fn retry(&self) -> Option<Duration> {
        match self {
            Self::Busy(_) => Some(RETRY_BUSY),
            Self::Stale { .. } | Self::Contended { .. } => Some(RETRY_CONTENDED),
            Self::Stopping | Self::StoreStopped(_) => Some(RETRY_UNAVAILABLE),
            _ => None,
        }
    }

    fn details(&self) -> ErrorDetails {
        let mut details =
            ErrorDetails::with_error_info(reason_word(self.reason()), DOMAIN, self.metadata());
        match self {
            Self::Fields(violations) => {
                for violation in violations {
                    details.add_bad_request_violation(
                        violation.field.clone(),
                        violation.description(),
                    );
                }
            }
            Self::NotFound { kind, name, .. } => {
                details.set_resource_info(
                    format!("rungwise/{kind}"),
                    name.clone(),
                    "",
                    self.message(),
                );
            }
            Self::RequestReused { request_id } => {
                details.set_resource_info(
                    "rungwise/request",
                    request_id.clone(),
                    "",
                    self.message(),
                );
            }
            Self::Precondition {
                subject,
                wrong,
                right,
                ..
            } => {
                let violated = reason_word(self.reason());
                details.add_precondition_failure_violation(
                    violated,
                    subject.clone(),
                    format!("{wrong}; {right}"),
                );
            }
            _ => {}
        }
        if let Some(after) = self.retry() {
            details.set_retry_info(Some(after));
        }
        details
    }

    /// The status that says so.
    pub(crate) fn status(&self) -> Status {
        if let Self::Fault(what) | Self::Damaged(what) = self {
            tracing::error!(what, "refused for a fault");
        }
        Status::with_error_details(self.code(), self.message(), self.details())
    }

    /// The same for one request of a batch.
    pub(crate) fn to_wire(&self) -> v1::Refusal {
        let violations = match self {
            Self::Fields(violations) => violations.as_slice(),
            _ => &[],
        };
        v1::Refusal {
            code: self.code().into(),
            reason: reason_word(self.reason()).to_owned(),
            message: self.message(),
            field_violations: violations
                .iter()
                .map(|violation| v1::FieldViolation {
                    field: violation.field.clone(),
                    description: violation.description(),
                })
                .collect(),
        }
    }
}

impl From<Refusal> for Status {
    fn from(refusal: Refusal) -> Self {
        refusal.status()
    }
}

impl From<ReadError> for Refusal {
    fn from(error: ReadError) -> Self {
        match error {
            ReadError::KeyMissing(_) | ReadError::Damaged { .. } => {
                Self::Damaged(error.to_string())
            }
            ReadError::Log(why) => Self::StoreStopped(why),
        }
    }
}

impl From<AppendError> for Refusal {
    /// What the writer refuses whatever is tried again; conflicts are for the one who appends.
    fn from(error: AppendError) -> Self {
        match error {
            AppendError::RequestReused { request_id } => Self::RequestReused { request_id },
            AppendError::Overloaded => Self::Busy(Reason::StoreOverloaded),
            AppendError::Stopped(why) => Self::StoreStopped(why.to_string()),
            other => Self::Fault(other.to_string()),
        }
    }
}

/// The reason as it travels: without its prefix.
fn reason_word(reason: Reason) -> &'static str {
    let name = reason.as_str_name();
    name.strip_prefix("REASON_").unwrap_or(name)
}

#[cfg(test)]
mod tests;

//! What a caller hands in to be appended, and what comes back.
//!
//! Leaves to others: sealing (`crate::seal`), deciding whether it lands (`crate::stage`), making it durable
//! (`crate::writer`).

use crate::id::{ClinicId, KeyId, Kind, StreamId};
use crate::state::{State, StopReason};
use std::future::Future;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::sync::{oneshot, watch};

/// Most entries of one append.
pub const APPEND_ENTRIES_MAX: usize = 4_096;
/// Most bytes of one append: contents and answer together.
pub const APPEND_BYTES_MAX: usize = 1_048_576;
/// Most bytes of one entry's content: what it becomes when sealed stays under the 128 KiB from which the database would keep it
/// in a file of its own.
pub const ENTRY_BYTES_MAX: usize = 114_688;
/// Longest caller or request id, bytes.
pub const REQUEST_NAME_BYTES_MAX: usize = 128;
/// How long a `request_id` is remembered at least, milliseconds (7 days), unless [`REQUESTS_RETAINED_MAX`] is met before.
pub const REQUEST_RETENTION_MS: u64 = 7 * 24 * 3_600 * 1_000;
/// How many requests a store remembers at most; past it the oldest is forgotten early.
pub const REQUESTS_RETAINED_MAX: usize = 200_000;

/// Entries that land together or not at all.
#[derive(Clone, Debug)]
pub struct Append {
    /// The ledger.
    pub clinic: ClinicId,
    /// Streams that must stand where the caller saw them: (stream, next sequence expected). A stream without entries
    /// expects 0. Streams that are not named here are not compared.
    pub expects: Vec<(StreamId, u64)>,
    /// What to append, in order; at least one.
    pub entries: Vec<NewEntry>,
    /// The request that this answers, where it may be repeated.
    pub request: Option<Request>,
    /// What a repeat of the request is answered with, opaque. Sealed under the first entry's key.
    pub answer: Vec<u8>,
}

/// An entry to append.
#[derive(Clone, Debug)]
pub struct NewEntry {
    /// The stream.
    pub stream: StreamId,
    /// What it is.
    pub kind: Kind,
    /// Revision of the semantics it was made under; 0 where that means nothing.
    pub semantics: u32,
    /// Digest of the pack it was made under, where there is one.
    pub pack_digest: Option<[u8; 32]>,
    /// The content, in clear; it is sealed before it is queued.
    pub content: Vec<u8>,
    /// The key it is sealed under ([`crate::Store::create_key`]).
    pub key: KeyId,
}

/// Who asked, under which id, for what.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Request {
    /// The authenticated caller; request ids are the caller's own within a clinic.
    pub caller: String,
    /// The id the caller gave.
    pub request_id: String,
    /// Keyed fingerprint of the converted value ([`crate::Store::fingerprint`]).
    pub fingerprint: [u8; 32],
}

/// Where an append landed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Appended {
    /// Leaf index of each entry, in the order given.
    pub positions: Vec<u64>,
    /// Sequence in its stream of each entry, in the order given.
    pub sequences: Vec<u64>,
    /// When it was recorded, milliseconds since 1970 UTC; of a repeat, when the first was.
    pub recorded_at_ms: u64,
    /// The answer given the first time, when this request had landed before. Nothing was then written.
    pub repeated: Option<Vec<u8>>,
}

/// Why nothing was appended.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AppendError {
    /// A stream does not stand where the caller saw it. Read it and decide again.
    #[error("stream `{stream}` stands at {found}, not at {expected}")]
    Conflict {
        /// The stream.
        stream: StreamId,
        /// Next sequence the caller expected.
        expected: u64,
        /// Next sequence there is.
        found: u64,
    },
    /// The request id was used for something else.
    #[error("request id `{request_id}` was used before for another value")]
    RequestReused {
        /// The id.
        request_id: String,
    },
    /// Too much is waiting. Try again shortly.
    #[error("the store has too much waiting")]
    Overloaded,
    /// The store writes no more (drained, or stopped by an error).
    #[error("the store has stopped: {0}")]
    Stopped(StopReason),
    /// An entry names a key that the clinic does not have.
    #[error("the clinic has no key `{0}`")]
    KeyMissing(KeyId),
    /// Empty, or above a bound of this module.
    #[error("the append has {found} {what}, outside {min} to {max}")]
    Bounds {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// Fewest.
        min: usize,
        /// Most.
        max: usize,
    },
    /// The operating system gave no random bytes.
    #[error("no random bytes: {0}")]
    Random(String),
}

/// An append on its way: await it, or [`Pending::wait`].
///
/// Dropping it does not call the append back.
#[derive(Debug)]
pub struct Pending(Inner);

#[derive(Debug)]
enum Inner {
    Known(Option<AppendError>),
    Waiting(
        oneshot::Receiver<Result<Appended, AppendError>>,
        watch::Receiver<State>,
    ),
}

impl Pending {
    pub(crate) fn refused(error: AppendError) -> Self {
        Self(Inner::Known(Some(error)))
    }

    /// Waits for the writer's answer; why there is none is read from the store's state.
    pub(crate) fn waiting(
        answer: oneshot::Receiver<Result<Appended, AppendError>>,
        state: watch::Receiver<State>,
    ) -> Self {
        Self(Inner::Waiting(answer, state))
    }

    /// Blocks until the append is durable or refused. Not for use inside an async task, which awaits instead.
    ///
    /// # Errors
    /// Nothing was appended; see [`AppendError`]. After [`AppendError::Stopped`] it may have been: ask again under the
    /// same request id once the store has been opened anew.
    pub fn wait(self) -> Result<Appended, AppendError> {
        match self.0 {
            Inner::Known(error) => Err(error.unwrap_or(AppendError::Overloaded)),
            Inner::Waiting(answer, state) => answer
                .blocking_recv()
                .unwrap_or_else(|_| Err(stopped(&state))),
        }
    }
}

impl Future for Pending {
    type Output = Result<Appended, AppendError>;

    fn poll(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Self::Output> {
        match &mut self.get_mut().0 {
            Inner::Known(error) => {
                Poll::Ready(Err(error.take().unwrap_or(AppendError::Overloaded)))
            }
            Inner::Waiting(answer, state) => Pin::new(answer)
                .poll(cx)
                .map(|got| got.unwrap_or_else(|_| Err(stopped(state)))),
        }
    }
}

/// The writer ended without an answer: why it says it did.
fn stopped(state: &watch::Receiver<State>) -> AppendError {
    match &*state.borrow() {
        State::Stopped(reason) => AppendError::Stopped(reason.clone()),
        State::Serving => AppendError::Stopped(StopReason::Ended),
    }
}

//! What every call passes before it is answered: host and origin, the bound on calls at once, its deadline, its log line.
//!
//! tonic answers CANCELLED when a deadline passes and OUT_OF_RANGE when a message is too large; here they are
//! DEADLINE_EXCEEDED and RESOURCE_EXHAUSTED, as the contract says. Leaves to others:
//! the bound on one clinic's calls (`crate::clinic`).

use crate::limits::{CALL_TIME_MAX, CALL_TIME_MIN};
use crate::refusal::Refusal;
use rungwise_api::v1::Reason;
use std::convert::Infallible;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::{Duration, Instant};
use tokio::sync::Semaphore;
use tonic::body::Body;
use tonic::codegen::http::{HeaderMap, Request, Response, Uri};
use tonic::{Code, Status};
use tower::{Layer, Service};
use tracing::Instrument as _;

/// How much earlier than tonic's own the deadline passes here, so that it is this one that answers.
const EARLIER: Duration = Duration::from_millis(5);

/// Puts the gate before every service.
#[derive(Clone, Debug)]
pub(crate) struct GateLayer {
    calls: Arc<Semaphore>,
}

impl GateLayer {
    /// A gate that lets so many calls through at once.
    pub(crate) fn new(calls_max: usize) -> Self {
        Self {
            calls: Arc::new(Semaphore::new(calls_max)),
        }
    }
}

impl<S> Layer<S> for GateLayer {
    type Service = Gate<S>;

    fn layer(&self, inner: S) -> Gate<S> {
        Gate {
            calls: self.calls.clone(),
            inner,
        }
    }
}

/// The gate.
#[derive(Clone, Debug)]
pub(crate) struct Gate<S> {
    calls: Arc<Semaphore>,
    inner: S,
}

impl<S> Service<Request<Body>> for Gate<S>
where
    S: Service<Request<Body>, Response = Response<Body>, Error = Infallible> + Send,
    S::Future: Send + 'static,
{
    type Response = Response<Body>;
    type Error = Infallible;
    type Future = Pin<Box<dyn Future<Output = Result<Response<Body>, Infallible>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        let span = tracing::info_span!("call", path = request.uri().path());
        let began = Instant::now();
        if let Some(host) = refused_host(request.uri(), request.headers()) {
            return refused(Refusal::HostRefused(host));
        }
        let Ok(permit) = self.calls.clone().try_acquire_owned() else {
            return refused(Refusal::Busy(Reason::TooManyCalls));
        };
        let deadline = time_left(request.headers());
        if deadline < CALL_TIME_MIN {
            return refused(Refusal::DeadlinePassed);
        }
        let answer = self.inner.call(request);
        let answering = async move {
            let answer = tokio::time::timeout(deadline, answer).await;
            drop(permit);
            let answer = answer.unwrap_or_else(|_| Ok(status_response(&Refusal::DeadlinePassed)));
            let answer = answer.map(name_too_large);
            tracing::debug!(
                elapsed_us = u64::try_from(began.elapsed().as_micros()).unwrap_or(u64::MAX),
                "answered"
            );
            answer
        };
        Box::pin(answering.instrument(span))
    }
}

fn refused(
    refusal: Refusal,
) -> Pin<Box<dyn Future<Output = Result<Response<Body>, Infallible>> + Send>> {
    tracing::debug!(?refusal, "refused at the gate");
    Box::pin(std::future::ready(Ok(status_response(&refusal))))
}

fn status_response(refusal: &Refusal) -> Response<Body> {
    refusal.status().into_http()
}

/// Gives the contract's name to tonic's own refusal of a message that is too large: it says OUT_OF_RANGE, which nothing
/// else here does.
fn name_too_large(answer: Response<Body>) -> Response<Body> {
    let is_too_large = Status::from_header_map(answer.headers())
        .is_some_and(|status| status.code() == Code::OutOfRange);
    if is_too_large {
        return status_response(&Refusal::TooLarge);
    }
    answer
}

/// How long the call may take: what it came with, within the bound.
fn time_left(headers: &HeaderMap) -> Duration {
    let given = headers
        .get("grpc-timeout")
        .and_then(|value| value.to_str().ok())
        .and_then(parse_timeout);
    let given = given.map(|given| given.saturating_sub(EARLIER.min(given / 10)));
    given.unwrap_or(CALL_TIME_MAX).min(CALL_TIME_MAX)
}

/// A gRPC timeout: up to 8 digits and a unit.
fn parse_timeout(text: &str) -> Option<Duration> {
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if digits.is_empty() || digits.len() > 8 || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let count: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(count.saturating_mul(3_600))),
        "M" => Some(Duration::from_secs(count.saturating_mul(60))),
        "S" => Some(Duration::from_secs(count)),
        "m" => Some(Duration::from_millis(count)),
        "u" => Some(Duration::from_micros(count)),
        "n" => Some(Duration::from_nanos(count)),
        _ => None,
    }
}

/// The host or origin that this server does not answer for, if one is named. It listens on this machine alone, so only
/// this machine's names are its own; a web page's origin never is.
fn refused_host(uri: &Uri, headers: &HeaderMap) -> Option<String> {
    if let Some(origin) = headers.get("origin") {
        return Some(String::from_utf8_lossy(origin.as_bytes()).into_owned());
    }
    let named = uri.host().map(ToOwned::to_owned).or_else(|| {
        let host: Uri = headers.get("host")?.to_str().ok()?.parse().ok()?;
        host.host().map(ToOwned::to_owned)
    });
    named.filter(|host| !is_local(host))
}

fn is_local(host: &str) -> bool {
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    host.eq_ignore_ascii_case("localhost")
        || bare
            .parse::<std::net::IpAddr>()
            .is_ok_and(|ip| ip.is_loopback())
}

#[cfg(test)]
mod tests;

//! The edges: bounds set by hand, and stopping.

use crate::rig::*;
use rungwise_api::v1;
use rungwise_server::ServeError;
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::net::TcpStream;
use tokio_stream::StreamExt as _;
use tonic::Code;

#[tokio::test]
async fn too_many_calls_are_refused_at_once() {
    let rig = Rig::start_with(TempDir::new().unwrap(), pack_files(), |config| {
        config.calls_max = 0
    })
    .await;
    let request = v1::GetEpisodeRequest {
        name: format!("{CLINIC}/episodes/x"),
    };
    let began = Instant::now();
    let (code, reason, details) = refusal(rig.episodes().get_episode(request).await);
    assert_eq!(
        (code, reason.as_str()),
        (Code::ResourceExhausted, "TOO_MANY_CALLS")
    );
    assert!(details.retry_info().unwrap().retry_delay.is_some());
    assert!(began.elapsed() < Duration::from_secs(1));
}

#[tokio::test]
async fn stopping_ends_watches_and_does_not_wait_for_silent_connections() {
    let grace = Duration::from_millis(500);
    let rig = Rig::start_with(TempDir::new().unwrap(), pack_files(), |config| {
        config.grace = grace
    })
    .await;
    let silent = TcpStream::connect(rig.address).await.unwrap();
    let request = v1::WatchRequest {
        parent: CLINIC.into(),
        from_position: 1_000,
    };
    let mut watch = rig.episodes().watch(request).await.unwrap().into_inner();
    let began = Instant::now();
    let watching = tokio::spawn(async move { watch.next().await });
    let (dir, ended) = rig.stop().await;
    assert!(
        began.elapsed() < Duration::from_secs(5),
        "{:?}",
        began.elapsed()
    );
    assert!(
        matches!(ended, Ok(()) | Err(ServeError::GraceEnded(_))),
        "{ended:?}"
    );
    let last = watching.await.unwrap().expect("an answer");
    assert_eq!(refusal(last.map(|_| ())).1, "STOPPING");
    drop(silent);
    open_store(&dir.path().join("store")).await;
}

//! The edges: where it listens, health, reflection, deadlines, bounds, and stopping.

use crate::rig::*;
use rungwise_api::v1;
use rungwise_server::{ServeConfig, ServeError, serve};
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tempfile::TempDir;
use tokio::net::TcpStream;
use tokio_stream::StreamExt as _;
use tonic::Code;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;
use tonic_reflection::pb::{v1::ServerReflectionRequest, v1alpha};

#[tokio::test]
async fn it_listens_to_this_machine_alone() {
    let dir = TempDir::new().unwrap();
    let store = open_store(&dir.path().join("store")).await;
    let mut config = ServeConfig::new(store, vec![pack_files()]);
    config.listen = SocketAddr::from(([0, 0, 0, 0], 0));
    let refused = serve(config, std::future::pending()).await;
    assert!(matches!(refused, Err(ServeError::NotLoopback(_))));
}

#[tokio::test]
async fn a_pack_with_an_error_never_comes_into_force() {
    let rig = Rig::start().await;
    let (dir, ended) = rig.stop().await;
    ended.unwrap();
    let broken = |file: &rungwise_pack::source::SourceFile| {
        (
            file.name.clone(),
            file.text.replace("isometric", "isometirc "),
        )
    };
    let files = pack_files().files().iter().map(broken).collect();
    let store = open_store(&dir.path().join("store")).await;
    let config = ServeConfig::new(store, vec![rungwise_pack::source::SourceFiles::new(files)]);
    let refused = serve(config, std::future::pending()).await;
    assert!(
        matches!(refused, Err(ServeError::PackRefused { diagnostics }) if !diagnostics.is_empty())
    );
    let rig = Rig::start_with(dir, pack_files(), |_| {}).await;
    let listed = rig
        .packs()
        .list_packs(v1::ListPacksRequest {
            parent: CLINIC.into(),
            ..Default::default()
        })
        .await;
    assert_eq!(
        listed.unwrap().into_inner().packs.len(),
        1,
        "the one in force stays in force"
    );
}

#[tokio::test]
async fn health_and_both_reflections_answer() {
    let rig = Rig::start().await;
    for service in ["", "rungwise.v1.EpisodeService", "rungwise.v1.AuditService"] {
        let request = HealthCheckRequest {
            service: service.into(),
        };
        let health = HealthClient::new(rig.channel())
            .check(request)
            .await
            .unwrap()
            .into_inner();
        assert_eq!(health.status(), ServingStatus::Serving, "{service}");
    }
    let request = ServerReflectionRequest {
        host: String::new(),
        message_request: Some(MessageRequest::ListServices(String::new())),
    };
    let mut answers = ServerReflectionClient::new(rig.channel())
        .server_reflection_info(tokio_stream::iter([request]))
        .await
        .unwrap()
        .into_inner();
    let Some(MessageResponse::ListServicesResponse(listed)) =
        answers.next().await.unwrap().unwrap().message_response
    else {
        panic!("no list of services");
    };
    let names: Vec<&str> = listed
        .service
        .iter()
        .map(|service| service.name.as_str())
        .collect();
    for wanted in [
        "rungwise.v1.EpisodeService",
        "rungwise.v1.PrescriptionService",
        "rungwise.v1.RulePackService",
        "rungwise.v1.AuditService",
        "grpc.health.v1.Health",
    ] {
        assert!(names.contains(&wanted), "{wanted} in {names:?}");
    }
    let request = v1alpha::ServerReflectionRequest {
        host: String::new(),
        message_request: Some(
            v1alpha::server_reflection_request::MessageRequest::FileContainingSymbol(
                "rungwise.v1.EpisodeService".into(),
            ),
        ),
    };
    let mut client = v1alpha::server_reflection_client::ServerReflectionClient::new(rig.channel());
    let mut answers = client
        .server_reflection_info(tokio_stream::iter([request]))
        .await
        .unwrap()
        .into_inner();
    assert!(matches!(
        answers.next().await.unwrap().unwrap().message_response,
        Some(v1alpha::server_reflection_response::MessageResponse::FileDescriptorResponse(_))
    ));
}

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
async fn a_message_too_large_is_refused() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let size = rig.size();
    let long = v1::Fact {
        date: "x".repeat(rungwise_server::limits::MESSAGE_BYTES_MAX),
        ..v1::Fact::default()
    };
    let status = rig.record(&name, vec![long]).await.unwrap_err();
    assert!(
        matches!(status.code(), Code::OutOfRange | Code::ResourceExhausted),
        "{status:?}"
    );
    let many = vec![screening(DAY, &[]); 201];
    assert_eq!(refusal(rig.record(&name, many).await).1, "TOO_MANY");
    assert_eq!(rig.size(), size);
}

#[tokio::test]
async fn another_host_or_a_web_page_is_not_answered() {
    let rig = Rig::start().await;
    let mut request = tonic::Request::new(v1::GetEpisodeRequest {
        name: format!("{CLINIC}/episodes/x"),
    });
    request
        .metadata_mut()
        .insert("origin", "http://localhost:8000".parse().unwrap());
    let (code, reason, _) = refusal(rig.episodes().get_episode(request).await);
    assert_eq!(
        (code, reason.as_str()),
        (Code::PermissionDenied, "HOST_REFUSED")
    );
    let channel =
        tonic::transport::Channel::from_shared(format!("http://{}", rig.address)).unwrap();
    let channel = channel
        .origin("http://rebound.example".parse().unwrap())
        .connect()
        .await
        .unwrap();
    let mut client = rungwise_api::v1::episode_service_client::EpisodeServiceClient::new(channel);
    let request = v1::GetEpisodeRequest {
        name: format!("{CLINIC}/episodes/x"),
    };
    assert_eq!(refusal(client.get_episode(request).await).1, "HOST_REFUSED");
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

//! Around the calls: deadlines, sizes, hosts, health, reflection, and what is never logged.

use super::clinic::{CLINIC, Clinic, asking, opening, recording};
use super::facts::{DAY, day, directive, event};
use super::server::Server;
use super::writing::must_be;
use prost::Message as _;
use rungwise_api::v1;
use rungwise_api::v1::Reason;
use std::collections::BTreeSet;
use std::time::Duration;
use tonic::codegen::http::{HeaderMap, Request};
use tonic::{Code, Status};
use tonic_health::pb::health_client::HealthClient;

/// Longest wait for an answer.
const WAIT_MAX: Duration = Duration::from_secs(20);

/// One call over a connection without a gRPC client, which would keep deadlines itself.
async fn bare_call(
    server: &Server,
    path: &str,
    message: &[u8],
    headers: &[(&str, &str)],
) -> HeaderMap {
    let socket = tokio::net::TcpStream::connect(&server.address)
        .await
        .expect("the server answers");
    let (mut client, connection) = h2::client::handshake(socket).await.expect("HTTP/2");
    let connection = tokio::spawn(connection);
    let host = headers
        .iter()
        .find(|(name, _)| *name == "host")
        .map_or(server.address.as_str(), |(_, value)| *value);
    let mut request = Request::post(format!("http://{host}{path}"))
        .header("content-type", "application/grpc")
        .header("te", "trailers");
    for (name, value) in headers.iter().filter(|(name, _)| *name != "host") {
        request = request.header(*name, *value);
    }
    let (answer, mut body) = client
        .send_request(request.body(()).expect("a request"), false)
        .expect("it is sent");
    let mut frame = vec![0];
    frame.extend_from_slice(
        &u32::try_from(message.len())
            .expect("a small message")
            .to_be_bytes(),
    );
    frame.extend_from_slice(message);
    body.send_data(frame.into(), true).expect("it is sent");
    let answered = async {
        let answer = answer.await.expect("an answer");
        let (head, mut body) = answer.into_parts();
        while let Some(data) = body.data().await {
            let data = data.expect("a body");
            body.flow_control()
                .release_capacity(data.len())
                .expect("it was received");
        }
        body.trailers()
            .await
            .expect("an end")
            .unwrap_or(head.headers)
    };
    let trailers = tokio::time::timeout(WAIT_MAX, answered)
        .await
        .expect("in time");
    connection.abort();
    trailers
}

/// The deadline that a call comes with is kept by the server: answered in time, or told that it passed; never cancelled.
#[tokio::test]
async fn a_deadline_that_passes_is_called_so() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let mut seen = BTreeSet::new();
    for timeout in ["1n", "1u", "50u", "300u", "1m", "5m", "20S"] {
        for path in [
            "rungwise.v1.PrescriptionService/Next",
            "rungwise.v1.AuditService/VerifyLedger",
        ] {
            let message = match path {
                "rungwise.v1.AuditService/VerifyLedger" => v1::VerifyLedgerRequest {
                    parent: CLINIC.into(),
                }
                .encode_to_vec(),
                _ => asking(&begun.episode, &day(1)).encode_to_vec(),
            };
            let trailers = bare_call(
                &server,
                &format!("/{path}"),
                &message,
                &[("grpc-timeout", timeout)],
            )
            .await;
            let status = Status::from_header_map(&trailers).expect("a gRPC status");
            seen.insert(i32::from(status.code()));
            match status.code() {
                Code::Ok => assert_ne!(timeout, "1n", "{path} was done in a nanosecond"),
                _ => must_be(&status, Code::DeadlineExceeded, Reason::DeadlinePassed),
            }
        }
    }
    assert_eq!(
        seen.into_iter().collect::<Vec<_>>(),
        [i32::from(Code::Ok), i32::from(Code::DeadlineExceeded)]
    );
    // Whatever was cut off, the ledger is whole and the episode goes on.
    clinic.verified().await;
    clinic
        .next(&begun.episode, &day(1))
        .await
        .expect("it goes on");
}

#[tokio::test]
async fn a_message_that_is_too_large_is_refused_and_the_next_is_answered() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let before = clinic.verified().await;
    let why = "x".repeat(3 * 1_048_576);
    let large = directive(&day(2), &why, v1::directive::Order::Hold(v1::HoldOrder {}));
    let request = v1::RecordFactsRequest {
        expected_sequence: Some(begun.sequence),
        ..recording(&begun.episode, vec![large])
    };
    let status = clinic
        .episodes
        .clone()
        .record_facts(request)
        .await
        .expect_err("3 MiB");
    must_be(&status, Code::ResourceExhausted, Reason::MessageTooLarge);
    assert!(
        status.message().contains("2097152"),
        "it says how large a message may be: {status}"
    );
    let after = clinic.verified().await;
    assert_eq!((before.size, before.root), (after.size, after.root));
    clinic
        .record(&begun.episode, vec![event(&day(2), "fall")])
        .await
        .expect("the same connection goes on");
}

/// A page in a browser must not reach a server that listens to this machine alone.
#[tokio::test]
async fn other_hosts_and_every_origin_are_refused() {
    let server = Server::start();
    let message = v1::ListEpisodesRequest {
        parent: CLINIC.into(),
        ..Default::default()
    }
    .encode_to_vec();
    let path = "/rungwise.v1.EpisodeService/ListEpisodes";
    for headers in [
        ("host", "clinic.example"),
        ("origin", "http://clinic.example"),
        ("origin", "null"),
    ] {
        let trailers = bare_call(&server, path, &message, &[headers]).await;
        let status = Status::from_header_map(&trailers).expect("a gRPC status");
        must_be(&status, Code::PermissionDenied, Reason::HostRefused);
    }
    for host in ["localhost:1", "127.0.0.1", "[::1]:80"] {
        let trailers = bare_call(&server, path, &message, &[("host", host)]).await;
        assert_eq!(
            Status::from_header_map(&trailers)
                .expect("a gRPC status")
                .code(),
            Code::Ok,
            "{host}"
        );
    }
}

#[tokio::test]
async fn health_is_told_for_every_service() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let mut health = HealthClient::new(clinic.channel.clone());
    for service in [
        "",
        "rungwise.v1.EpisodeService",
        "rungwise.v1.PrescriptionService",
        "rungwise.v1.AuditService",
        "rungwise.v1.RulePackService",
        "rungwise.v1.BandService",
    ] {
        let request = tonic_health::pb::HealthCheckRequest {
            service: service.to_owned(),
        };
        let answer = health
            .check(request)
            .await
            .expect("it is known")
            .into_inner();
        assert_eq!(
            answer.status(),
            tonic_health::pb::health_check_response::ServingStatus::Serving,
            "{service}"
        );
    }
    let request = tonic_health::pb::HealthCheckRequest {
        service: "rungwise.v1.Juggling".to_owned(),
    };
    assert_eq!(
        health
            .check(request)
            .await
            .expect_err("there is none")
            .code(),
        Code::NotFound
    );
}

/// The services that reflection must know.
const SERVICES: [&str; 7] = [
    "grpc.health.v1.Health",
    "grpc.reflection.",
    "rungwise.v1.AuditService",
    "rungwise.v1.BandService",
    "rungwise.v1.EpisodeService",
    "rungwise.v1.PrescriptionService",
    "rungwise.v1.RulePackService",
];

macro_rules! reflection {
    ($test:ident, $version:ident) => {
        #[tokio::test]
        async fn $test() {
            use tonic_reflection::pb::$version::ServerReflectionRequest;
            use tonic_reflection::pb::$version::server_reflection_client::ServerReflectionClient;
            use tonic_reflection::pb::$version::server_reflection_request::MessageRequest;
            use tonic_reflection::pb::$version::server_reflection_response::MessageResponse;
            let server = Server::start();
            let clinic = Clinic::connect(&server).await;
            let mut client = ServerReflectionClient::new(clinic.channel.clone());
            let ask = |wanted| ServerReflectionRequest {
                host: String::new(),
                message_request: Some(wanted),
            };
            let requests = vec![
                ask(MessageRequest::ListServices(String::new())),
                ask(MessageRequest::FileContainingSymbol(
                    "rungwise.v1.EpisodeService".to_owned(),
                )),
                ask(MessageRequest::FileContainingSymbol(
                    "rungwise.v1.Reading".to_owned(),
                )),
            ];
            let answers = client
                .server_reflection_info(tokio_stream::iter(requests))
                .await
                .expect("it reflects");
            let mut answers = answers.into_inner();
            let mut next = async || {
                answers
                    .message()
                    .await
                    .expect("no error")
                    .expect("an answer")
                    .message_response
            };
            let Some(MessageResponse::ListServicesResponse(listed)) = next().await else {
                panic!("no list")
            };
            let names: Vec<&str> = listed
                .service
                .iter()
                .map(|service| service.name.as_str())
                .collect();
            for wanted in SERVICES {
                assert!(
                    names.iter().any(|name| name.starts_with(wanted)),
                    "no {wanted} among {names:?}"
                );
            }
            for wanted in ["episode_service.proto", "reading.proto"] {
                let Some(MessageResponse::FileDescriptorResponse(found)) = next().await else {
                    panic!("no {wanted}")
                };
                let files: Vec<_> = found
                    .file_descriptor_proto
                    .iter()
                    .map(|file| prost_types::FileDescriptorProto::decode(file.as_slice()).unwrap())
                    .collect();
                assert!(
                    files.iter().any(|file| file.name().ends_with(wanted)),
                    "no {wanted}"
                );
            }
        }
    };
}

reflection!(reflection_v1_knows_every_service, v1);
reflection!(reflection_v1alpha_knows_every_service, v1alpha);

/// Words that stand in nothing but what was reported.
const MARKS: [&str; 5] = [
    "zeppelin-person",
    "zeppelin-why",
    "zeppelin-chart",
    "zeppelin-who",
    "zeppelin-measure",
];

/// Logs carry ids and never content, at the level debug too; and nothing stands in clear on the disk.
#[tokio::test]
async fn nothing_that_was_reported_is_logged_or_stored_in_clear() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let mut request = opening("zeppelin-person", v1::Side::Left);
    request.episode.as_mut().unwrap().external_id = "zeppelin-chart".to_owned();
    let opened = clinic
        .episodes
        .clone()
        .open_episode(request)
        .await
        .unwrap()
        .into_inner();
    let episode = opened.episode.unwrap().name;
    clinic
        .record(
            &episode,
            vec![clinic.all_clear(DAY).await, super::facts::assessment(DAY)],
        )
        .await
        .unwrap();
    clinic.next(&episode, DAY).await.unwrap();
    let mut hold = directive(
        &day(1),
        "zeppelin-why",
        v1::directive::Order::Hold(v1::HoldOrder {}),
    );
    if let Some(v1::fact::Kind::Directive(said)) = hold.kind.as_mut() {
        said.who = "zeppelin-who".to_owned();
    }
    clinic.order(&episode, hold).await.expect("held");
    clinic.next(&episode, &day(1)).await.expect("decided");
    // Refusals name what was wrong to the caller and to nobody else.
    let wrong = super::facts::screened(
        DAY,
        vec![super::facts::choice("zeppelin-measure", "zeppelin-why")],
    );
    let status = clinic
        .record(&episode, vec![wrong])
        .await
        .expect_err("no such measure");
    assert!(status.message().contains("zeppelin-measure"));
    let list = v1::ListEpisodesRequest {
        parent: CLINIC.into(),
        person: "zeppelin-person".into(),
        ..Default::default()
    };
    assert_eq!(
        clinic
            .episodes
            .clone()
            .list_episodes(list)
            .await
            .unwrap()
            .into_inner()
            .episodes
            .len(),
        1
    );

    let log = server.log();
    assert!(
        log.contains("RecordFacts") || log.contains("listening"),
        "it logs nothing at all: {log}"
    );
    for mark in MARKS {
        assert!(!log.contains(mark), "`{mark}` is logged:\n{log}");
    }
    let stored = server.stored();
    assert!(
        stored.iter().map(Vec::len).sum::<usize>() > 1_000,
        "nothing is stored"
    );
    for mark in MARKS {
        let found = stored.iter().any(|file| {
            file.windows(mark.len())
                .any(|window| window == mark.as_bytes())
        });
        assert!(!found, "`{mark}` stands in clear in the store");
    }
}

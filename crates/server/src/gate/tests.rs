//! Timeouts are read as gRPC writes them, and only this machine's names are let through.

use super::*;

#[test]
fn timeouts_are_read_as_they_are_written() {
    assert_eq!(parse_timeout("2S"), Some(Duration::from_secs(2)));
    assert_eq!(parse_timeout("150m"), Some(Duration::from_millis(150)));
    assert_eq!(parse_timeout("1H"), Some(Duration::from_secs(3_600)));
    for wrong in ["", "S", "-1S", "1", "123456789S", "1x", "1.5S", "５S", "1ü"] {
        assert_eq!(parse_timeout(wrong), None, "{wrong}");
    }
}

#[test]
fn a_deadline_never_exceeds_the_bound() {
    let mut headers = HeaderMap::new();
    assert_eq!(time_left(&headers), CALL_TIME_MAX);
    headers.insert("grpc-timeout", "99H".parse().expect("a header"));
    assert_eq!(time_left(&headers), CALL_TIME_MAX);
    headers.insert("grpc-timeout", "100m".parse().expect("a header"));
    assert_eq!(time_left(&headers), Duration::from_millis(95));
}

#[test]
fn only_this_machine_is_answered_for() {
    let local = |uri: &str| refused_host(&uri.parse().expect("a uri"), &HeaderMap::new());
    for own in [
        "http://localhost:7/x",
        "http://127.0.0.1:7/x",
        "http://[::1]:7/x",
        "/x",
    ] {
        assert_eq!(local(own), None, "{own}");
    }
    assert_eq!(
        local("http://example.org/x").as_deref(),
        Some("example.org")
    );
    assert_eq!(local("http://192.0.2.7/x").as_deref(), Some("192.0.2.7"));
    let mut headers = HeaderMap::new();
    headers.insert("host", "rebound.example:80".parse().expect("a header"));
    assert_eq!(
        refused_host(&"/x".parse().expect("a uri"), &headers).as_deref(),
        Some("rebound.example")
    );
    headers.insert("origin", "http://localhost".parse().expect("a header"));
    assert_eq!(
        refused_host(&"/x".parse().expect("a uri"), &headers).as_deref(),
        Some("http://localhost")
    );
}

#[tokio::test]
async fn a_deadline_that_passes_meanwhile_says_so_and_frees_its_place() {
    let never = tower::service_fn(|_: Request<Body>| {
        std::future::pending::<Result<Response<Body>, Infallible>>()
    });
    let mut gate = GateLayer::new(1).layer(never);
    for timeout in ["20m", "1n", "20m"] {
        let mut request = Request::new(Body::empty());
        request
            .headers_mut()
            .insert("grpc-timeout", timeout.parse().expect("a header"));
        let answer = gate.call(request).await.expect("an answer");
        assert_eq!(answer.headers().get("grpc-status").expect("a status"), "4");
    }
}

//! A server beside the program's own commands: `audit why` over the wire, and how `serve` starts and stops.

use super::binary::{Server, complaint, path, run, text};
use super::writer::{Acknowledged, Writer};
use std::process::Command;

fn one_decision(server: &Server) -> String {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let decided = runtime.block_on(async {
        let mut writer = Writer::new(&server.url, 1)
            .await
            .expect("the server answers");
        writer.open().await.expect("an episode opens");
        writer.next().await.expect("a decision")
    });
    match decided {
        Acknowledged::Decision(decision) => decision.name,
        Acknowledged::Fact(..) => panic!("asked for a decision"),
    }
}

#[test]
fn audit_why_says_why_for_people_and_for_machines() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(&folder.path().join("store"));
    let name = one_decision(&server);
    let why = run(&["audit", "why", &name, "--server", &server.url]);
    assert_eq!(why.status.code(), Some(0), "{}", complaint(&why));
    assert!(text(&why).starts_with("AWAIT for "), "{}", text(&why));
    let why = run(&[
        "audit",
        "why",
        &name,
        "--full",
        "--json",
        "--server",
        &server.url,
    ]);
    let json: serde_json::Value = serde_json::from_str(&text(&why)).expect("JSON");
    assert_eq!(
        (json["outcome"].as_str(), json["decision"].as_str()),
        (Some("AWAIT"), Some(name.as_str()))
    );
    assert_eq!(
        json["others"].as_array().map(|all| all.len() as u64),
        json["others_count"].as_u64()
    );

    let missing = run(&[
        "audit",
        "why",
        &name.replace("decisions/0", "decisions/9"),
        "--server",
        &server.url,
    ]);
    assert_eq!(missing.status.code(), Some(1), "{}", complaint(&missing));
    let malformed = run(&["audit", "why", "decision nine", "--server", &server.url]);
    assert_eq!(
        malformed.status.code(),
        Some(3),
        "{}",
        complaint(&malformed)
    );
    let url = server.url.clone();
    assert_eq!(server.stop(), Some(0));
    let gone = run(&["audit", "why", &name, "--server", &url]);
    assert_eq!(gone.status.code(), Some(3));
    assert!(complaint(&gone).contains(&url), "{}", complaint(&gone));
}

#[test]
fn serve_refuses_what_is_not_this_machine_and_a_store_in_use() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store");
    let serve = |listen: &str| {
        let run = Command::new(path())
            .args(["serve", "--listen", listen, "--store"])
            .arg(&store)
            .output()
            .unwrap();
        (run.status.code(), complaint(&run))
    };
    let (code, why) = serve("0.0.0.0:0");
    assert_eq!(code, Some(3));
    assert!(why.contains("not a loopback address"), "{why}");
    let server = Server::start(&store);
    let (code, why) = serve("127.0.0.1:0");
    assert_eq!(code, Some(3));
    assert!(why.contains("open in another process"), "{why}");
    assert_eq!(server.stop(), Some(0));
}

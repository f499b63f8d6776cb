//! A clinician's word over the wire: proposals answered, care ended and taken up again.

use super::clinic::{Clinic, signing};
use super::facts::{DAY, assessment, day, directive, morning, session};
use super::server::Server;
use super::writing::must_be;
use rungwise_api::v1;
use rungwise_api::v1::{Answer, Outcome, Reason};
use std::path::Path;
use tempfile::TempDir;
use tonic::Code;

/// The pack with more outcomes that need a clinician.
fn pack_with_sign_off() -> TempDir {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules/rotator-cuff");
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("text")).unwrap();
    let files = [
        "pack.toml",
        "measures.toml",
        "screening.toml",
        "phases.toml",
        "exercises.toml",
        "text/en.toml",
    ];
    for file in files {
        let text = std::fs::read_to_string(from.join(file)).unwrap();
        let wanted = r#"sign_off = ["BEGIN", "PROGRESS", "DISCHARGE"]"#;
        let changed = text.replace(r#"sign_off = ["DISCHARGE"]"#, wanted);
        assert_eq!(changed != text, file == "pack.toml", "{file}");
        std::fs::write(folder.path().join(file), changed).unwrap();
    }
    folder
}

/// A server whose first prescription is proposed, and the answer that proposed it.
async fn proposed() -> (Server, Clinic, String, v1::NextResponse) {
    let pack = pack_with_sign_off();
    let server = Server::start_with(&["--pack", pack.path().to_str().unwrap()]);
    let clinic = Clinic::connect(&server).await;
    let episode = clinic.open("invented-1", v1::Side::Left).await.name;
    clinic
        .record(&episode, vec![clinic.all_clear(DAY).await, assessment(DAY)])
        .await
        .unwrap();
    let answer = clinic.next(&episode, DAY).await.unwrap();
    (server, clinic, episode, answer)
}

#[tokio::test]
async fn a_proposal_waits_until_a_clinician_accepts_it() {
    let (_server, clinic, episode, answer) = proposed().await;
    let decision = answer.decision.unwrap();
    assert_eq!(
        (decision.outcome(), decision.proposed),
        (Outcome::Begin, true)
    );
    assert!(
        decision
            .asks
            .iter()
            .any(|ask| ask.kind() == v1::AskKind::SignOff),
        "{:?}",
        decision.asks
    );
    assert!(
        answer.prescription.unwrap().exercises.is_empty(),
        "what was in force stands: nothing"
    );
    assert_eq!(clinic.episode(&episode).await.phase, "");
    let once_accepted = answer.if_accepted.expect("what it would prescribe");
    assert!(!once_accepted.exercises.is_empty());
    assert_eq!(clinic.current(&episode, DAY).await.proposal, decision.name);

    let request = signing(&decision.name, answer.sequence, DAY, Answer::Accept);
    let signed = clinic
        .prescriptions
        .clone()
        .sign_off(request.clone())
        .await
        .expect("accepted")
        .into_inner();
    let mut prescribed = signed.prescription.clone().unwrap();
    assert_eq!(prescribed.decision, decision.name);
    prescribed.decision.clone_from(&once_accepted.decision);
    assert_eq!(prescribed, once_accepted);
    assert_eq!(clinic.episode(&episode).await.phase, "isometric");
    let again = clinic
        .prescriptions
        .clone()
        .sign_off(request)
        .await
        .expect("the same request")
        .into_inner();
    assert_eq!(again, signed);

    let second = signing(&decision.name, signed.sequence, DAY, Answer::Decline);
    let status = clinic
        .prescriptions
        .clone()
        .sign_off(second)
        .await
        .expect_err("answered already");
    must_be(&status, Code::FailedPrecondition, Reason::NoOpenProposal);
    assert!(clinic.current(&episode, DAY).await.proposal.is_empty());
    clinic
        .record(
            &episode,
            vec![session(DAY, &once_accepted, 1), morning(&day(1))],
        )
        .await
        .unwrap();
    let next = clinic
        .next(&episode, &day(1))
        .await
        .unwrap()
        .decision
        .unwrap();
    assert_eq!(next.outcome(), Outcome::Continue);
}

#[tokio::test]
async fn a_proposal_declined_leaves_what_stood() {
    let (_server, clinic, episode, answer) = proposed().await;
    let decision = answer.decision.unwrap();
    let request = signing(&decision.name, answer.sequence, DAY, Answer::Decline);
    let signed = clinic
        .prescriptions
        .clone()
        .sign_off(request)
        .await
        .expect("declined")
        .into_inner();
    assert!(signed.prescription.unwrap().exercises.is_empty());
    assert!(clinic.current(&episode, DAY).await.proposal.is_empty());
    let verified = clinic.verified().await;
    let listed = clinic.facts(&episode).await;
    let Some(v1::fact::Kind::SignOff(said)) = listed.last().unwrap().fact.clone().unwrap().kind
    else {
        panic!("the answer is a fact")
    };
    assert_eq!((said.decision, said.accepted), (decision.number, false));
    assert!(verified.size > 0);
}

#[tokio::test]
async fn care_ends_by_a_directive_and_is_taken_up_again_by_one() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    // While a morning after is missing, a rule is in doubt, and what is in doubt holds.
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let discharge = v1::directive::Order::Discharge(v1::DischargeOrder {});
    clinic
        .order(&begun.episode, directive(&day(2), "all is well", discharge))
        .await
        .expect("discharged");
    let next = clinic.next(&begun.episode, &day(2)).await.unwrap();
    let decision = next.decision.unwrap();
    assert_eq!(
        (decision.outcome(), decision.proposed),
        (Outcome::Discharge, true),
        "this pack has it signed off"
    );
    let request = signing(&decision.name, next.sequence, &day(2), Answer::Accept);
    let signed = clinic
        .prescriptions
        .clone()
        .sign_off(request)
        .await
        .expect("signed off")
        .into_inner();
    assert_eq!(
        signed.prescription.unwrap().standing(),
        v1::Standing::Discharged
    );
    assert!(clinic.episode(&begun.episode).await.discharged);

    let reopen = || v1::directive::Order::Reopen(v1::ReopenOrder {});
    clinic
        .order(&begun.episode, directive(&day(3), "it came back", reopen()))
        .await
        .expect("reopened");
    let status = clinic
        .order(&begun.episode, directive(&day(3), "twice", reopen()))
        .await
        .expect_err("it is open");
    must_be(&status, Code::InvalidArgument, Reason::NotDischarged);
    let next = clinic.next(&begun.episode, &day(3)).await.unwrap();
    let decision = next.decision.unwrap();
    assert!(
        !decision.discharged && decision.outcome() != Outcome::Discharge,
        "{:?}",
        decision.outcome()
    );
    assert_eq!(next.prescription.unwrap().standing(), v1::Standing::InForce);
}

//! An episode from opening to closing: imports, proposals, referrals of the person.

use crate::rig::*;
use rungwise_api::v1;
use rungwise_api::v1::fact::Kind;
use std::collections::BTreeSet;
use tonic::Code;

#[tokio::test]
async fn a_closed_episode_takes_nothing_more() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let close = v1::CloseEpisodeRequest {
        episode: name.clone(),
        request_id: request_id(),
        expected_sequence: Some(1),
        date: day(1),
        who: "invented clinician".into(),
        why: "moved away".into(),
    };
    let closed = rig
        .episodes()
        .close_episode(close)
        .await
        .unwrap()
        .into_inner()
        .episode
        .unwrap();
    assert!(closed.closed);
    let size = rig.size();
    for (code, reason, _) in [
        refusal(rig.record(&name, vec![screening(DAY, &[])]).await),
        refusal(rig.next(&name, &day(1)).await),
    ] {
        assert_eq!(
            (code, reason.as_str()),
            (Code::FailedPrecondition, "EPISODE_CLOSED")
        );
    }
    assert_eq!(rig.size(), size);
    let open_only = v1::ListEpisodesRequest {
        parent: CLINIC.into(),
        ..Default::default()
    };
    assert!(
        rig.episodes()
            .list_episodes(open_only.clone())
            .await
            .unwrap()
            .into_inner()
            .episodes
            .is_empty()
    );
    let all = v1::ListEpisodesRequest {
        include_closed: true,
        ..open_only
    };
    assert_eq!(
        rig.episodes()
            .list_episodes(all)
            .await
            .unwrap()
            .into_inner()
            .episodes
            .len(),
        1
    );
}

#[tokio::test]
async fn an_import_brings_its_place_and_its_past() {
    let rig = Rig::start().await;
    let request = v1::GetPackRequest {
        name: format!("{CLINIC}/packs/{PACK}"),
        ..Default::default()
    };
    let pack = rig.packs().get_pack(request).await.unwrap().into_inner();
    let phase = &pack.phases[1];
    let import = v1::ImportEpisodeRequest {
        parent: CLINIC.into(),
        request_id: request_id(),
        episode: Some(episode("invented-1")),
        placement: Some(v1::PlaceOrder {
            phase: phase.key.clone(),
            places: vec![v1::ExercisePlace {
                exercise: phase.exercises[0].clone(),
                dose: Vec::new(),
            }],
        }),
        who: "invented clinician".into(),
        why: "came from another clinic".into(),
        facts: vec![screening(DAY, &[]), assessment("2026-02-20")],
    };
    let wrong = v1::ImportEpisodeRequest {
        placement: Some(v1::PlaceOrder {
            phase: "moon".into(),
            places: Vec::new(),
        }),
        ..import.clone()
    };
    let size = rig.size();
    let (_, reason, details) = refusal(rig.episodes().import_episode(wrong).await);
    assert_eq!(reason, "UNKNOWN_PHASE");
    assert_eq!(
        details.bad_request().unwrap().field_violations[0].field,
        "placement.phase"
    );
    assert_eq!(rig.size(), size);
    let imported = rig
        .episodes()
        .import_episode(import.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(rig.size(), size + 4);
    assert_eq!(imported.facts.len(), 3);
    let known = imported.episode.clone().unwrap();
    assert!(known.imported && known.last_decision.is_empty());
    assert_eq!(
        rig.episodes()
            .import_episode(import)
            .await
            .unwrap()
            .into_inner(),
        imported
    );
    let next = rig.next(&known.name, DAY).await.unwrap();
    assert_eq!(next.decision.unwrap().phase, phase.key);
    let placed = next.prescription.unwrap();
    assert!(
        placed
            .exercises
            .iter()
            .any(|exercise| exercise.exercise == phase.exercises[0])
    );
}

#[tokio::test]
async fn a_proposal_waits_for_its_sign_off() {
    let rig = Rig::start_with(tempfile::TempDir::new().unwrap(), signing_pack(), |_| {}).await;
    let (name, begun) = rig.begun("invented-1").await;
    let decision = begun.decision.unwrap();
    assert!(decision.proposed);
    assert!(begun.prescription.unwrap().exercises.is_empty());
    let proposed = begun.if_accepted.expect("what it would prescribe");
    assert!(!proposed.exercises.is_empty());
    let current = v1::CurrentRequest {
        episode: name.clone(),
        as_of: DAY.into(),
        language: String::new(),
    };
    let current = rig
        .prescriptions()
        .current(current)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(current.proposal, decision.name);
    let sign_off = v1::SignOffRequest {
        decision: decision.name.clone(),
        request_id: request_id(),
        expected_sequence: Some(begun.sequence),
        date: DAY.into(),
        who: "invented clinician".into(),
        answer: 0,
        language: String::new(),
    };
    let (_, reason, details) = refusal(rig.prescriptions().sign_off(sign_off.clone()).await);
    assert_eq!(reason, "ENUM_UNKNOWN");
    assert_eq!(
        details.bad_request().unwrap().field_violations[0].field,
        "answer"
    );
    let accept = v1::SignOffRequest {
        answer: v1::Answer::Accept.into(),
        ..sign_off
    };
    let accepted = rig
        .prescriptions()
        .sign_off(accept.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(accepted.prescription.unwrap().exercises, proposed.exercises);
    let again = rig
        .prescriptions()
        .sign_off(accept.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(again.fact, accepted.fact);
    let twice = v1::SignOffRequest {
        request_id: request_id(),
        expected_sequence: Some(accepted.sequence),
        ..accept
    };
    let (code, reason, _) = refusal(rig.prescriptions().sign_off(twice).await);
    assert_eq!(
        (code, reason.as_str()),
        (Code::FailedPrecondition, "NO_OPEN_PROPOSAL")
    );
}

/// The pack with BEGIN signed off.
fn signing_pack() -> rungwise_pack::source::SourceFiles {
    let files = pack_files();
    let signed = |file: &rungwise_pack::source::SourceFile| {
        let text = file.text.replace(
            "sign_off = [\"DISCHARGE\"]",
            "sign_off = [\"BEGIN\", \"DISCHARGE\"]",
        );
        (file.name.clone(), text)
    };
    rungwise_pack::source::SourceFiles::new(files.files().iter().map(signed).collect())
}

#[tokio::test]
async fn a_referral_of_the_person_holds_in_every_open_episode_of_theirs() {
    let rig = Rig::start().await;
    let (left, _) = rig.begun("invented-1").await;
    let (right, _) = rig.begun("invented-1").await;
    let (other, _) = rig.begun("invented-2").await;
    rig.record(
        &left,
        vec![screening(
            &day(1),
            &["chest pain or breathlessness on effort"],
        )],
    )
    .await
    .unwrap();
    let referred = rig.next(&left, &day(1)).await.unwrap().decision.unwrap();
    assert_eq!(referred.outcome(), v1::Outcome::Refer);
    let linked = rig.next(&right, &day(1)).await.unwrap().decision.unwrap();
    assert_eq!(linked.outcome(), v1::Outcome::Refer, "it is of the person");
    let request = v1::ListFactsRequest {
        parent: right.clone(),
        ..Default::default()
    };
    let facts = rig
        .episodes()
        .list_facts(request)
        .await
        .unwrap()
        .into_inner()
        .facts;
    assert!(
        facts
            .iter()
            .any(|fact| matches!(fact.fact.as_ref().unwrap().kind, Some(Kind::PersonRefer(_))))
    );
    let apart = rig.next(&other, &day(1)).await.unwrap().decision.unwrap();
    assert_ne!(
        apart.outcome(),
        v1::Outcome::Refer,
        "another person is not concerned"
    );
    let request = v1::ListEpisodesRequest {
        parent: CLINIC.into(),
        referred: true,
        ..Default::default()
    };
    let listed = rig
        .episodes()
        .list_episodes(request)
        .await
        .unwrap()
        .into_inner()
        .episodes;
    let names: BTreeSet<String> = listed.into_iter().map(|episode| episode.name).collect();
    assert_eq!(names, BTreeSet::from([left, right]));
    let new = rig.open("invented-1").await;
    assert_eq!(new.sequence, 2, "a new episode of theirs begins with it");
}

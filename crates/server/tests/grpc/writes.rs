//! Writing: once for each request id, only where the caller saw the stream stand, all or nothing.

use crate::rig::*;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::{self, ReportedBy, directive::Order};
use rungwise_store::{ClinicId, Kind as Entry};
use std::collections::BTreeSet;
use tonic::Code;

#[tokio::test]
async fn a_request_repeated_is_answered_the_same_and_written_once() {
    let rig = Rig::start().await;
    let open = v1::OpenEpisodeRequest {
        parent: CLINIC.into(),
        request_id: "open-once".into(),
        episode: Some(episode("invented-1")),
    };
    let first = rig
        .episodes()
        .open_episode(open.clone())
        .await
        .unwrap()
        .into_inner();
    let size = rig.size();
    let again = rig
        .episodes()
        .open_episode(open.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(first, again);
    assert_eq!(rig.size(), size);
    let name = first.episode.unwrap().name;

    let record = v1::RecordFactsRequest {
        episode: name.clone(),
        request_id: "record-once".into(),
        facts: vec![screening(DAY, &[]), assessment(DAY)],
        expected_sequence: None,
    };
    let first = rig
        .episodes()
        .record_facts(record.clone())
        .await
        .unwrap()
        .into_inner();
    let again = rig
        .episodes()
        .record_facts(record.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(first, again);
    assert_eq!(rig.size(), size + 2);

    let next = v1::NextRequest {
        episode: name,
        request_id: "next-once".into(),
        as_of: DAY.into(),
        ..Default::default()
    };
    let first = rig
        .prescriptions()
        .next(next.clone())
        .await
        .unwrap()
        .into_inner();
    let again = rig
        .prescriptions()
        .next(next.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(first, again);
    assert_eq!(rig.size(), size + 3);

    let size = rig.size();
    let mut other = record;
    other.facts.pop();
    let reused = [
        refusal(rig.episodes().record_facts(other).await),
        refusal(
            rig.prescriptions()
                .next(v1::NextRequest {
                    as_of: day(1),
                    ..next
                })
                .await,
        ),
        refusal(
            rig.episodes()
                .open_episode(v1::OpenEpisodeRequest {
                    episode: Some(episode("invented-2")),
                    ..open
                })
                .await,
        ),
    ];
    for (code, reason, details) in reused {
        assert_eq!(
            (code, reason.as_str()),
            (Code::AlreadyExists, "REQUEST_ID_REUSED")
        );
        assert!(details.resource_info().is_some());
    }
    assert_eq!(rig.size(), size, "nothing is written");
}

#[tokio::test]
async fn a_session_recorded_is_not_recorded_again_under_the_same_request() {
    let rig = Rig::start().await;
    let (name, begun) = rig.begun("invented-1").await;
    let record = v1::RecordFactsRequest {
        episode: name.clone(),
        request_id: "session-once".into(),
        facts: vec![session(&day(1), &begun.prescription.unwrap(), "1")],
        expected_sequence: Some(begun.sequence),
    };
    let first = rig
        .episodes()
        .record_facts(record.clone())
        .await
        .unwrap()
        .into_inner();
    let again = rig
        .episodes()
        .record_facts(record.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(
        first, again,
        "although the sequence has moved on and the session is there already"
    );
    let anew = v1::RecordFactsRequest {
        request_id: request_id(),
        expected_sequence: None,
        ..record
    };
    assert_eq!(
        refusal(rig.episodes().record_facts(anew).await).1,
        "DUPLICATE_SESSION"
    );
}

#[tokio::test]
async fn a_stale_sequence_is_told_and_nothing_written() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    rig.record(&name, vec![screening(DAY, &[])]).await.unwrap();
    let size = rig.size();
    let request = v1::RecordFactsRequest {
        episode: name.clone(),
        request_id: request_id(),
        facts: vec![assessment(DAY)],
        expected_sequence: Some(1),
    };
    let (code, reason, details) = refusal(rig.episodes().record_facts(request.clone()).await);
    assert_eq!((code, reason.as_str()), (Code::Aborted, "SEQUENCE_STALE"));
    assert!(details.retry_info().is_some());
    assert_eq!(details.error_info().unwrap().metadata["sequence"], "2");
    let ahead = v1::RecordFactsRequest {
        expected_sequence: Some(3),
        ..request
    };
    assert_eq!(
        refusal(rig.episodes().record_facts(ahead).await).1,
        "SEQUENCE_STALE"
    );
    let hold = vec![directive(DAY, Order::Hold(v1::HoldOrder {}))];
    let (code, reason, _) = refusal(rig.record(&name, hold).await);
    assert_eq!(
        (code, reason.as_str()),
        (Code::InvalidArgument, "SEQUENCE_MISSING"),
        "a directive must say it"
    );
    assert_eq!(rig.size(), size);
}

#[tokio::test]
async fn many_asking_at_once_record_one_decision() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    rig.record(&name, vec![screening(DAY, &[]), assessment(DAY)])
        .await
        .unwrap();
    let size = rig.size();
    let asking = (0..32).map(|_| {
        let (mut client, name) = (rig.prescriptions(), name.clone());
        tokio::spawn(async move {
            let request = v1::NextRequest {
                episode: name,
                request_id: request_id(),
                as_of: DAY.into(),
                ..Default::default()
            };
            client.next(request).await.map(tonic::Response::into_inner)
        })
    });
    let asking: Vec<_> = asking.collect();
    let mut decisions = BTreeSet::new();
    let mut recorded = 0;
    for answer in asking {
        let answer = answer.await.unwrap().unwrap();
        recorded += u32::from(answer.recorded);
        decisions.insert(answer.decision.unwrap().name);
    }
    assert_eq!((decisions.len(), recorded, rig.size()), (1, 1, size + 1));
}

#[tokio::test]
async fn many_reporting_at_once_are_all_recorded_once() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let size = rig.size();
    let event = |date: &str| {
        fact(
            date,
            ReportedBy::Patient,
            Kind::Event(v1::Event {
                event: "fall".into(),
            }),
        )
    };
    let reporting: Vec<_> = (0..6)
        .map(|after| {
            let (mut client, name, fact) = (rig.episodes(), name.clone(), event(&day(after)));
            tokio::spawn(async move {
                let request = v1::RecordFactsRequest {
                    episode: name,
                    request_id: request_id(),
                    facts: vec![fact],
                    expected_sequence: None,
                };
                client
                    .record_facts(request)
                    .await
                    .map(tonic::Response::into_inner)
            })
        })
        .collect();
    let mut names = BTreeSet::new();
    for answer in reporting {
        names.extend(answer.await.unwrap().unwrap().facts);
    }
    assert_eq!((names.len(), rig.size()), (6, size + 6));
    let mut listed = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = v1::ListFactsRequest {
            parent: name.clone(),
            page_size: 4,
            page_token,
        };
        let page = rig
            .episodes()
            .list_facts(request)
            .await
            .unwrap()
            .into_inner();
        listed.extend(page.facts.into_iter().map(|fact| fact.name));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(listed.len(), 6);
    assert_eq!(listed.into_iter().collect::<BTreeSet<_>>(), names);
}

#[tokio::test]
async fn a_fact_is_corrected_and_voided_and_stays_in_the_ledger() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let recorded = rig
        .record(&name, vec![screening(DAY, &[]), assessment(DAY)])
        .await
        .unwrap();
    let correct = v1::CorrectFactRequest {
        fact: recorded.facts[1].clone(),
        request_id: request_id(),
        expected_sequence: Some(recorded.sequence),
        date: day(1),
        reported_by: ReportedBy::Clinician.into(),
        who: "invented clinician".into(),
        why: "misread".into(),
        replacement: Some(screening(DAY, &[])),
    };
    let (_, reason, details) = refusal(rig.episodes().correct_fact(correct.clone()).await);
    assert_eq!(reason, "OTHER_KIND");
    assert_eq!(
        details.bad_request().unwrap().field_violations[0].field,
        "replacement"
    );
    let correct = v1::CorrectFactRequest {
        replacement: Some(assessment(DAY)),
        ..correct
    };
    let corrected = rig
        .episodes()
        .correct_fact(correct)
        .await
        .unwrap()
        .into_inner();
    let void = v1::VoidFactRequest {
        fact: recorded.facts[1].clone(),
        request_id: request_id(),
        expected_sequence: Some(corrected.sequence),
        date: day(1),
        reported_by: ReportedBy::Clinician.into(),
        who: "invented clinician".into(),
        why: "of another person".into(),
    };
    let voided = rig
        .episodes()
        .void_fact(void.clone())
        .await
        .unwrap()
        .into_inner();
    let again = v1::VoidFactRequest {
        request_id: request_id(),
        expected_sequence: Some(voided.sequence),
        ..void
    };
    let (code, reason, details) = refusal(rig.episodes().void_fact(again).await);
    assert_eq!(
        (code, reason.as_str()),
        (Code::FailedPrecondition, "ALREADY_VOID")
    );
    assert!(details.precondition_failure().is_some());
    let request = v1::ListFactsRequest {
        parent: name,
        ..Default::default()
    };
    let facts = rig
        .episodes()
        .list_facts(request)
        .await
        .unwrap()
        .into_inner()
        .facts;
    assert_eq!(facts.len(), 4);
    assert!(
        matches!(&facts[3].fact.as_ref().unwrap().kind, Some(Kind::Correction(of)) if of.replacement.is_none())
    );
}

#[tokio::test]
async fn a_person_has_one_key_however_many_episodes_open_at_once() {
    let rig = Rig::start().await;
    let opening: Vec<_> = (0..12)
        .map(|at| {
            let mut client = rig.episodes();
            let request = v1::OpenEpisodeRequest {
                parent: CLINIC.into(),
                request_id: request_id(),
                episode: Some(episode(if at % 2 == 0 {
                    "invented-1"
                } else {
                    "invented-2"
                })),
            };
            tokio::spawn(async move { client.open_episode(request).await.unwrap() })
        })
        .collect();
    for opened in opening {
        opened.await.unwrap();
    }
    let entries = rig
        .store
        .entries(&ClinicId::new("demo").unwrap(), 0, 100)
        .unwrap();
    let keys = entries
        .iter()
        .filter(|entry| entry.kind == Entry::Open)
        .map(|entry| entry.key);
    assert_eq!(keys.collect::<BTreeSet<_>>().len(), 2);
}

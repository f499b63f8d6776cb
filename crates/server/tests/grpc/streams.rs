//! Watching from a position on, and asking for many at once.

use crate::rig::*;
use rungwise_api::v1::next_batch_response::Answer;
use rungwise_api::v1::watch_response::Recorded;
use rungwise_api::v1::{self};
use std::collections::BTreeMap;
use std::time::Duration;
use tokio_stream::StreamExt as _;

/// The next thing watched, within a second.
async fn next_of(stream: &mut tonic::Streaming<v1::WatchResponse>) -> v1::WatchResponse {
    let next = tokio::time::timeout(Duration::from_secs(5), stream.next()).await;
    next.expect("it comes at once")
        .expect("the stream goes on")
        .expect("no error")
}

#[tokio::test]
async fn a_watch_goes_on_from_where_it_was_left() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let request = v1::WatchRequest {
        parent: CLINIC.into(),
        from_position: 0,
    };
    let mut watch = rig.episodes().watch(request).await.unwrap().into_inner();
    let activated = next_of(&mut watch).await;
    assert!(
        matches!(activated.recorded, Some(Recorded::PackActivated(_)))
            && activated.episode.is_empty()
    );
    let opened = next_of(&mut watch).await;
    assert!(matches!(&opened.recorded, Some(Recorded::Opened(episode)) if episode.name == name));
    assert_eq!(opened.position, rig.size() - 1);

    rig.record(&name, vec![screening(DAY, &[]), assessment(DAY)])
        .await
        .unwrap();
    let first = next_of(&mut watch).await;
    assert!(
        matches!(&first.recorded, Some(Recorded::Fact(fact)) if fact.position == first.position)
    );
    drop(watch);

    rig.next(&name, DAY).await.unwrap();
    let request = v1::WatchRequest {
        parent: name.clone(),
        from_position: first.position + 1,
    };
    let mut watch = rig.episodes().watch(request).await.unwrap().into_inner();
    let second = next_of(&mut watch).await;
    assert_eq!(
        (second.position, second.sequence),
        (first.position + 1, first.sequence + 1)
    );
    let decided = next_of(&mut watch).await;
    assert!(
        matches!(&decided.recorded, Some(Recorded::Decision(decision)) if decision.number == 0)
    );

    rig.open("invented-2").await;
    rig.record(&name, vec![assessment(&day(1))]).await.unwrap();
    let third = next_of(&mut watch).await;
    assert_eq!(third.episode, name, "another episode is passed over");
    assert_eq!(third.position, decided.position + 2);
}

#[tokio::test]
async fn a_watch_of_what_is_not_there_is_refused() {
    let rig = Rig::start().await;
    for (parent, wanted) in [
        ("clinics/other", "CLINIC_NOT_FOUND"),
        ("clinics/demo/episodes/0", "EPISODE_NOT_FOUND"),
        ("demo", "FIELD_MALFORMED"),
        ("", "FIELD_MISSING"),
    ] {
        let request = v1::WatchRequest {
            parent: parent.into(),
            from_position: 0,
        };
        assert_eq!(
            refusal(rig.episodes().watch(request).await).1,
            wanted,
            "{parent}"
        );
    }
}

#[tokio::test]
async fn a_batch_answers_each_request_and_a_refusal_ends_only_its_own() {
    let rig = Rig::start().await;
    let mut names = Vec::new();
    for person in 0..20 {
        let name = rig.open(&format!("invented-{person}")).await.name;
        rig.record(&name, vec![screening(DAY, &[]), assessment(DAY)])
            .await
            .unwrap();
        names.push(name);
    }
    let mut asked: Vec<v1::NextBatchRequest> = names
        .iter()
        .enumerate()
        .map(|(at, name)| v1::NextBatchRequest {
            correlation_id: at.to_string(),
            next: Some(v1::NextRequest {
                episode: name.clone(),
                request_id: request_id(),
                as_of: DAY.into(),
                ..Default::default()
            }),
        })
        .collect();
    asked[7].next.as_mut().unwrap().as_of = "soon".into();
    asked[8].next = None;
    let size = rig.size();
    let stream = rig
        .prescriptions()
        .next_batch(tokio_stream::iter(asked))
        .await
        .unwrap()
        .into_inner();
    let answers: BTreeMap<String, Answer> = stream
        .map(|answer| {
            let answer = answer.unwrap();
            (answer.correlation_id, answer.answer.unwrap())
        })
        .collect::<Vec<_>>()
        .await
        .into_iter()
        .collect();
    assert_eq!(answers.len(), 20);
    for (id, answer) in &answers {
        match (id.as_str(), answer) {
            ("7", Answer::Refusal(refusal)) => {
                assert_eq!(
                    (refusal.code, refusal.reason.as_str()),
                    (3, "FIELD_MALFORMED")
                );
                assert_eq!(refusal.field_violations[0].field, "as_of");
            }
            ("8", Answer::Refusal(refusal)) => assert_eq!(refusal.reason, "FIELD_MISSING"),
            (_, Answer::Next(next)) => assert!(next.recorded),
            (id, other) => panic!("{id}: {other:?}"),
        }
    }
    assert_eq!(rig.size(), size + 18);
}

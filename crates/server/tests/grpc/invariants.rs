//! The invariants that the service keeps, by name, where a test must reach into the process.

use crate::rig::*;
use rungwise_api::v1;
use rungwise_store::{Append, ClinicId, Kind, NewEntry, StreamId};
use std::collections::BTreeSet;
use tempfile::TempDir;
use tonic::Code;

#[tokio::test]
async fn record_first_without_the_store_nothing_is_answered_as_written() {
    let rig = Rig::start().await;
    let (name, begun) = rig.begun("invented-1").await;
    let size = rig.size();
    let store = rig.store.clone();
    tokio::task::spawn_blocking(move || store.drain())
        .await
        .unwrap()
        .unwrap();
    for (code, reason, details) in [
        refusal(rig.record(&name, vec![assessment(DAY)]).await),
        refusal(rig.next(&name, &day(1)).await),
    ] {
        assert_eq!(
            (code, reason.as_str()),
            (Code::Unavailable, "STORE_STOPPED")
        );
        assert!(details.retry_info().is_some());
    }
    assert_eq!(rig.size(), size);
    let current = v1::CurrentRequest {
        episode: name,
        as_of: DAY.into(),
        language: String::new(),
    };
    let current = rig
        .prescriptions()
        .current(current)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(current.prescription, begun.prescription, "reading goes on");
}

#[tokio::test]
async fn own_clinic_no_call_reaches_another_ledger_of_the_same_store() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let (_, id) = name.rsplit_once('/').unwrap();
    let other = ClinicId::new("other").unwrap();
    let key = rig.store.create_key(&other).unwrap();
    let copied = rig
        .store
        .entries(&ClinicId::new("demo").unwrap(), rig.size() - 1, 1)
        .unwrap();
    let entry = NewEntry {
        stream: StreamId::new("of-the-other-clinic").unwrap(),
        kind: Kind::Open,
        semantics: 0,
        pack_digest: None,
        content: copied[0].content.clone(),
        key,
    };
    let append = Append {
        clinic: other,
        expects: Vec::new(),
        entries: vec![entry],
        request: None,
        answer: Vec::new(),
    };
    rig.store.append(append).await.unwrap();
    let size = rig.size();
    for (name, wanted) in [
        (format!("clinics/other/episodes/{id}"), "CLINIC_NOT_FOUND"),
        (
            "clinics/other/episodes/of-the-other-clinic".to_owned(),
            "CLINIC_NOT_FOUND",
        ),
        (
            format!("{CLINIC}/episodes/of-the-other-clinic"),
            "EPISODE_NOT_FOUND",
        ),
    ] {
        let get = v1::GetEpisodeRequest { name: name.clone() };
        assert_eq!(
            refusal(rig.episodes().get_episode(get).await).1,
            wanted,
            "{name}"
        );
        assert_eq!(
            refusal(rig.record(&name, vec![assessment(DAY)]).await).1,
            wanted
        );
        assert_eq!(refusal(rig.next(&name, DAY).await).1, wanted);
        let watch = v1::WatchRequest {
            parent: name.clone(),
            from_position: 0,
        };
        assert_eq!(refusal(rig.episodes().watch(watch).await).1, wanted);
    }
    for parent in ["clinics/other", "clinics/../demo", "clinics/DEMO"] {
        let list = v1::ListEpisodesRequest {
            parent: parent.into(),
            ..Default::default()
        };
        let code = refusal(rig.episodes().list_episodes(list).await).0;
        assert!(
            matches!(code, Code::NotFound | Code::InvalidArgument),
            "{parent}"
        );
    }
    assert_eq!(rig.size(), size);
}

#[tokio::test]
async fn bounded_memory_for_episodes_changes_no_answer() {
    let rig = Rig::start_with(TempDir::new().unwrap(), pack_files(), |config| {
        config.episodes_bytes_max = 1
    })
    .await;
    let mut begun = Vec::new();
    for person in 0..4 {
        begun.push(rig.begun(&format!("invented-{person}")).await);
    }
    for (name, first) in begun {
        let again = rig.next(&name, DAY).await.unwrap();
        assert!(!again.recorded);
        assert_eq!(again.decision, first.decision);
        assert_eq!(again.prescription, first.prescription);
    }
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
        .filter(|entry| entry.kind == Kind::Open)
        .map(|entry| entry.key);
    assert_eq!(keys.collect::<BTreeSet<_>>().len(), 2);
}

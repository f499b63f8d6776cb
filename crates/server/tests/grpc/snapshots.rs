//! Episodes read from their snapshots: the same answers as from the whole stream, and never from a wrong snapshot.

use crate::rig::*;
use prost::Message as _;
use rungwise_api::content::{decode_snapshot, encode_snapshot};
use rungwise_api::v1;
use rungwise_engine::fact::{Body, FactKind, Position};
use rungwise_store::{ClinicId, KeyId, Snapshot, StreamId};
use tempfile::TempDir;

/// Sessions reported, each followed by a decision.
const SESSIONS: i64 = 12;

/// The next decision and everything that is read of an episode, in bytes.
async fn answers(rig: &Rig, name: &str) -> Vec<Vec<u8>> {
    let get = v1::GetEpisodeRequest { name: name.into() };
    let facts = v1::ListFactsRequest {
        parent: name.into(),
        page_size: 500,
        ..Default::default()
    };
    let decisions = v1::ListDecisionsRequest {
        parent: name.into(),
        page_size: 500,
        ..Default::default()
    };
    let preview = v1::PreviewRequest {
        episode: name.into(),
        as_of: NOW.into(),
        ..Default::default()
    };
    let episode = rig.episodes().get_episode(get).await.unwrap();
    let facts = rig.episodes().list_facts(facts).await.unwrap();
    let decisions = rig.audit().list_decisions(decisions).await.unwrap();
    let preview = rig.prescriptions().preview(preview).await.unwrap();
    vec![
        episode.into_inner().encode_to_vec(),
        facts.into_inner().encode_to_vec(),
        decisions.into_inner().encode_to_vec(),
        preview.into_inner().encode_to_vec(),
    ]
}

fn stream(name: &str) -> StreamId {
    StreamId::new(name.rsplit_once('/').unwrap().1).unwrap()
}

/// A server that holds no episode longer than it must.
async fn forgetful() -> Rig {
    Rig::start_with(TempDir::new().unwrap(), pack_files(), |config| {
        config.episodes_bytes_max = 1
    })
    .await
}

/// A course with facts after its last snapshot.
async fn course(rig: &Rig, person: &str) -> String {
    let (name, begun) = rig.begun(person).await;
    let mut prescription = begun.prescription.unwrap();
    for at in 0..SESSIONS {
        // Two sessions a day: the clock allows a week.
        let date = day(1 + at / 2);
        let mut reported = session(&date, &prescription, "2");
        if let Some(v1::fact::Kind::Session(session)) = &mut reported.kind {
            session.number = u32::try_from(at % 2 + 1).unwrap();
        }
        let fall = fact(
            &date,
            v1::ReportedBy::Patient,
            v1::fact::Kind::Event(v1::Event {
                event: "fall".into(),
            }),
        );
        let facts = if at % 4 == 0 {
            vec![reported, assessment(&date)]
        } else {
            vec![reported]
        };
        rig.record(&name, facts).await.unwrap();
        if at == SESSIONS - 1 {
            rig.record(&name, vec![fall]).await.unwrap();
        }
        let next = rig.next(&name, &date).await.unwrap();
        prescription = next.prescription.unwrap();
    }
    name
}

#[tokio::test]
async fn an_episode_read_from_its_snapshot_answers_like_one_read_whole() {
    let rig = forgetful().await;
    let clinic = ClinicId::new("demo").unwrap();
    let name = course(&rig, "invented-1").await;
    let other = course(&rig, "invented-2").await;
    let kept = rig.store.snapshot(&clinic, &stream(&name)).expect("one");
    let sequence = rig.sequence(&name).await;
    assert!(kept.next_sequence >= 32 && kept.next_sequence <= sequence);
    rig.record(&name, vec![assessment(&day(6))]).await.unwrap();
    let snapshot = decode_snapshot(&kept.content).unwrap();
    let key = KeyId(snapshot.key);
    let put = |next_sequence, content: Vec<u8>| {
        let row = Snapshot {
            next_sequence,
            content,
        };
        rig.store.put_snapshot(&clinic, &stream(&name), key, &row);
        // Another episode takes its place among those held.
        rig.sequence(&other)
    };
    put(kept.next_sequence, kept.content.clone()).await;
    let from_snapshot = answers(&rig, &name).await;

    let mut cut = kept.content.clone();
    cut.truncate(cut.len() / 2);
    let foreign = rig.store.snapshot(&clinic, &stream(&other)).expect("one");
    let mut moved = snapshot.clone();
    moved.records.last_mut().unwrap().position = Position(1);
    let mut gap = snapshot.clone();
    gap.records.remove(5);
    for (why, next_sequence, content) in [
        ("no snapshot", kept.next_sequence, b"damaged".to_vec()),
        ("cut", kept.next_sequence, cut),
        ("of another", foreign.next_sequence, foreign.content),
        ("ahead", 10_000, kept.content.clone()),
        (
            "another ledger's",
            kept.next_sequence,
            encode_snapshot(&moved),
        ),
        ("a gap", kept.next_sequence, encode_snapshot(&gap)),
    ] {
        put(next_sequence, content).await;
        assert!(answers(&rig, &name).await == from_snapshot, "{why}");
    }

    // What a sound snapshot says is what is answered: it was read, and not the stream.
    let mut told = snapshot;
    for record in &mut told.records {
        if let Body::Fact(fact) = &mut record.body
            && let FactKind::Assessment(assessment) = &mut fact.kind
        {
            assessment.readings.clear();
        }
    }
    put(kept.next_sequence, encode_snapshot(&told)).await;
    assert!(answers(&rig, &name).await != from_snapshot);
}

#[tokio::test]
async fn a_snapshot_is_taken_again_only_once_an_episode_has_grown() {
    let rig = forgetful().await;
    let clinic = ClinicId::new("demo").unwrap();
    let (name, _) = rig.begun("invented-1").await;
    let mut taken = Vec::new();
    for at in 0..75_i64 {
        let date = day(at / 12);
        rig.record(&name, vec![assessment(&date)]).await.unwrap();
        rig.next(&name, &date).await.unwrap();
        let kept = rig.store.snapshot(&clinic, &stream(&name));
        if let Some(kept) = kept.filter(|kept| taken.last() != Some(&kept.next_sequence)) {
            assert_eq!(kept.next_sequence, rig.sequence(&name).await);
            taken.push(kept.next_sequence);
        }
    }
    assert_eq!(taken, [32, 64, 96, 144]);
}

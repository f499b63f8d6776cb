//! What a pack would change, over gRPC: told for every episode of its id, of the past and of today, and nothing is written.

use crate::leads::draft;
use crate::rig::*;
use rungwise_api::v1::{self, ChangeDirection, assess_impact_response::Told};

/// The draft with the first phase's limit on pain two steps higher.
fn looser() -> v1::PackDraft {
    let mut draft = draft("9.0.0");
    let phases = draft
        .files
        .iter_mut()
        .find(|file| file.path == "phases.toml");
    let phases = &mut phases.expect("phases").text;
    for (from, to) in [
        (
            "sentence = \"pain during exercise at most 3\"",
            "sentence = \"pain during exercise at most 5\"",
        ),
        ("pain over 3 of 10", "pain over 5 of 10"),
    ] {
        assert!(phases.contains(from), "`{from}` is not there");
        *phases = phases.replacen(from, to, 1);
    }
    draft
}

async fn assessed(rig: &Rig, draft: v1::PackDraft) -> (Vec<Told>, v1::ImpactSummary) {
    let request = v1::AssessImpactRequest {
        parent: CLINIC.into(),
        draft: Some(draft),
        as_of: NOW.into(),
        ..v1::AssessImpactRequest::default()
    };
    let mut parts = rig
        .packs()
        .assess_impact(request)
        .await
        .unwrap()
        .into_inner();
    let (mut told, mut summary) = (Vec::new(), None);
    while let Some(part) = parts.message().await.expect("a part") {
        match part.told.expect("something told") {
            Told::Summary(found) => summary = Some(found),
            Told::Progress(_) => {}
            other => told.push(other),
        }
    }
    (told, summary.expect("a summary"))
}

#[tokio::test]
async fn an_impact_tells_who_is_decided_otherwise_and_writes_nothing() {
    let rig = Rig::start().await;
    let (sore, begun) = rig.begun("invented-1").await;
    let (well, _) = rig.begun("invented-2").await;
    let prescription = begun.prescription.expect("prescribed");
    rig.record(&sore, vec![session(&day(1), &prescription, "4")])
        .await
        .expect("recorded");
    rig.record(&well, vec![session(&day(1), &prescription, "1")])
        .await
        .expect("recorded");
    for name in [&sore, &well] {
        rig.next(name, &day(2)).await.expect("decided");
    }
    let size = rig.size();

    let (told, summary) = assessed(&rig, draft("9.0.0")).await;
    assert_eq!(
        told,
        [],
        "another version that decides alike changes nothing"
    );
    assert_eq!(
        (summary.episodes, summary.decisions, summary.in_force),
        (2, 4, 2)
    );

    let (told, summary) = assessed(&rig, looser()).await;
    assert!(
        summary.past_bolder == 1 && summary.past_cautious == 0,
        "{summary:?}"
    );
    let past = told.iter().find_map(|one| match one {
        Told::Past(past) => Some(past),
        _ => None,
    });
    let past = past.expect("a decision of the past");
    assert_eq!(past.decision, format!("{sore}/decisions/1"));
    assert_eq!(past.as_of, day(2));
    let change = past.change.as_ref().expect("how");
    assert_eq!(change.direction(), ChangeDirection::Bolder);
    assert!(!change.rules.is_empty(), "{change:?}");
    assert!(
        told.iter()
            .any(|one| matches!(one, Told::Today(today) if today.sheet_again)),
        "a limit that patients read has changed"
    );
    assert_eq!(rig.size(), size, "nothing was written");
}

#[tokio::test]
async fn a_reader_that_leaves_makes_room_for_the_next() {
    let rig = Rig::start().await;
    rig.begun("invented-1").await;
    let mut answered = 0;
    for _ in 0..500 {
        let request = v1::AssessImpactRequest {
            parent: CLINIC.into(),
            draft: Some(draft("9.0.0")),
            as_of: NOW.into(),
            ..v1::AssessImpactRequest::default()
        };
        // The reader leaves at once, whatever it was told.
        match rig.packs().assess_impact(request).await {
            Ok(parts) => {
                drop(parts);
                answered += 1;
            }
            Err(status) => assert_eq!(refusal(Err::<(), _>(status)).1, "TOO_MANY_CHECKS"),
        }
        if answered == 3 {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(20)).await;
    }
    panic!("only {answered} were answered");
}

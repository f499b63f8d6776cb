//! Lists: every condition holds for what is listed, and pages together are the whole list, each thing once.

use crate::rig::*;
use rungwise_api::v1;

async fn episodes(rig: &Rig, request: v1::ListEpisodesRequest) -> Vec<String> {
    let mut request = v1::ListEpisodesRequest {
        parent: CLINIC.into(),
        ..request
    };
    let mut names = Vec::new();
    loop {
        let page = rig
            .episodes()
            .list_episodes(request.clone())
            .await
            .unwrap()
            .into_inner();
        assert!(
            request.page_size == 0
                || page.episodes.len() <= usize::try_from(request.page_size).unwrap()
        );
        names.extend(page.episodes.into_iter().map(|episode| episode.name));
        if page.next_page_token.is_empty() {
            return names;
        }
        request.page_token = page.next_page_token;
    }
}

#[tokio::test]
async fn episodes_are_listed_by_what_they_are_like() {
    let rig = Rig::start().await;
    let mut opened = Vec::new();
    for (person, external_id) in [
        ("invented-1", "a"),
        ("invented-1", "b"),
        ("invented-2", "c"),
        ("invented-3", ""),
    ] {
        let known = v1::Episode {
            external_id: external_id.into(),
            ..episode(person)
        };
        let request = v1::OpenEpisodeRequest {
            parent: CLINIC.into(),
            request_id: request_id(),
            episode: Some(known),
        };
        opened.push(
            rig.episodes()
                .open_episode(request)
                .await
                .unwrap()
                .into_inner()
                .episode
                .unwrap()
                .name,
        );
    }
    let all = v1::ListEpisodesRequest::default;
    assert_eq!(episodes(&rig, all()).await, opened);
    assert_eq!(
        episodes(
            &rig,
            v1::ListEpisodesRequest {
                page_size: 1,
                ..all()
            }
        )
        .await,
        opened
    );
    assert_eq!(
        episodes(
            &rig,
            v1::ListEpisodesRequest {
                page_size: 3,
                ..all()
            }
        )
        .await,
        opened
    );
    let of_person = v1::ListEpisodesRequest {
        person: "invented-1".into(),
        ..all()
    };
    assert_eq!(episodes(&rig, of_person).await, opened[..2]);
    let external = v1::ListEpisodesRequest {
        external_id: "c".into(),
        ..all()
    };
    assert_eq!(episodes(&rig, external).await, opened[2..3]);
    assert!(
        episodes(
            &rig,
            v1::ListEpisodesRequest {
                referred: true,
                ..all()
            }
        )
        .await
        .is_empty()
    );

    rig.record(&opened[0], vec![screening(DAY, &[]), assessment(DAY)])
        .await
        .unwrap();
    let begun = rig.next(&opened[0], DAY).await.unwrap();
    rig.record(
        &opened[0],
        vec![session(&day(5), &begun.prescription.unwrap(), "1")],
    )
    .await
    .unwrap();
    let silent = |days, as_of: &str| v1::ListEpisodesRequest {
        silent_days: days,
        silent_as_of: as_of.into(),
        ..v1::ListEpisodesRequest::default()
    };
    assert_eq!(episodes(&rig, silent(4, &day(7))).await, opened[1..]);
    assert!(episodes(&rig, silent(7, &day(7))).await.is_empty());
    let (_, reason, details) = refusal(
        rig.episodes()
            .list_episodes(v1::ListEpisodesRequest {
                parent: CLINIC.into(),
                ..silent(4, "")
            })
            .await,
    );
    assert_eq!(reason, "FIELD_MISSING");
    assert_eq!(
        details.bad_request().unwrap().field_violations[0].field,
        "silent_as_of"
    );

    rig.next(&opened[3], DAY).await.unwrap();
    let due = v1::ListEpisodesRequest {
        ask_due_by: DAY.into(),
        ..all()
    };
    assert_eq!(
        episodes(&rig, due).await,
        opened[3..],
        "its screening is asked for"
    );
}

#[tokio::test]
async fn decisions_are_listed_by_what_they_decided() {
    let rig = Rig::start().await;
    let mut made = Vec::new();
    for person in 0..3 {
        let name = rig.open(&format!("invented-{person}")).await.name;
        made.push(rig.next(&name, DAY).await.unwrap().decision.unwrap());
        rig.record(&name, vec![screening(DAY, &[]), assessment(DAY)])
            .await
            .unwrap();
        made.push(rig.next(&name, &day(1)).await.unwrap().decision.unwrap());
    }
    let list = async |request: v1::ListDecisionsRequest| {
        let mut request = request;
        if request.parent.is_empty() {
            request.parent = format!("{CLINIC}/episodes/-");
        }
        let mut names = Vec::new();
        loop {
            let page = rig
                .audit()
                .list_decisions(request.clone())
                .await
                .unwrap()
                .into_inner();
            names.extend(page.decisions.into_iter().map(|decision| decision.name));
            if page.next_page_token.is_empty() {
                return names;
            }
            request.page_token = page.next_page_token;
        }
    };
    let names = |of: &dyn Fn(&v1::Decision) -> bool| -> Vec<String> {
        made.iter()
            .filter(|decision| of(decision))
            .map(|decision| decision.name.clone())
            .collect()
    };
    let all = v1::ListDecisionsRequest::default;
    assert_eq!(list(all()).await, names(&|_| true));
    assert_eq!(
        list(v1::ListDecisionsRequest {
            page_size: 1,
            ..all()
        })
        .await,
        names(&|_| true)
    );
    let began = v1::ListDecisionsRequest {
        outcome: v1::Outcome::Begin.into(),
        ..all()
    };
    assert_eq!(
        list(began).await,
        names(&|decision| decision.outcome() == v1::Outcome::Begin)
    );
    let later = v1::ListDecisionsRequest {
        as_of_from: day(1),
        ..all()
    };
    assert_eq!(list(later).await, names(&|decision| decision.as_of != DAY));
    let earlier = v1::ListDecisionsRequest {
        as_of_to: DAY.into(),
        ..all()
    };
    assert_eq!(
        list(earlier).await,
        names(&|decision| decision.as_of == DAY)
    );
    assert!(
        list(v1::ListDecisionsRequest {
            proposed: true,
            ..all()
        })
        .await
        .is_empty()
    );
    let doubted = list(v1::ListDecisionsRequest {
        because: "heart-pain".into(),
        ..all()
    })
    .await;
    assert_eq!(
        doubted,
        names(&|decision| decision
            .because
            .iter()
            .any(|cause| cause.about == "heart-pain"))
    );
    assert_eq!(
        doubted.len(),
        3,
        "before the screening it could not be ruled out"
    );
    assert!(
        list(v1::ListDecisionsRequest {
            because: "no-such-rule".into(),
            ..all()
        })
        .await
        .is_empty()
    );
    let episode = made[2].name.split("/decisions").next().unwrap().to_owned();
    let of_one = v1::ListDecisionsRequest {
        parent: episode,
        page_size: 1,
        ..all()
    };
    assert_eq!(
        list(of_one).await,
        [made[2].name.clone(), made[3].name.clone()]
    );
}

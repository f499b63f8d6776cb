//! Episodes as such: imported, closed, listed, and linked through their person.

use super::clinic::{CLINIC, Clinic, asking, closing, importing, opening};
use super::facts::{
    DAY, choice, day, directive, dose, event, morning, place, report, score, screened, session_of,
};
use super::server::Server;
use super::writing::must_be;
use rungwise_api::v1;
use rungwise_api::v1::{Outcome, Reason, Side, Variable};
use tonic::Code;

async fn started() -> (Server, Clinic) {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    (server, clinic)
}

#[tokio::test]
async fn an_episode_is_imported_in_the_middle_of_its_course() {
    let (_server, clinic) = started().await;
    let places = vec![
        place("er-side-lying", vec![dose(Variable::Reps, "10")]),
        place("raise-active", Vec::new()),
    ];
    let mut request = importing("invented-1", "active-range", places);
    let earlier = report(
        "er-side-lying",
        vec![
            score("pain during exercise", 1),
            choice("feel of the sets", "comfortable"),
        ],
    );
    request.facts = vec![
        clinic.all_clear("2026-02-20").await,
        super::facts::assessment("2026-02-20"),
        session_of("2026-02-27", vec![earlier]),
        morning("2026-02-28"),
    ];
    let imported = clinic
        .episodes
        .clone()
        .import_episode(request.clone())
        .await
        .expect("imported")
        .into_inner();
    let episode = imported.episode.clone().unwrap();
    assert!(episode.imported);
    assert_eq!(
        (imported.facts.len(), episode.sequence),
        (5, 6),
        "the placement and four facts"
    );
    let again = clinic
        .episodes
        .clone()
        .import_episode(request)
        .await
        .expect("the same request")
        .into_inner();
    assert_eq!(again, imported);

    let listed = clinic.facts(&episode.name).await;
    assert_eq!(
        listed
            .iter()
            .map(|fact| fact.name.clone())
            .collect::<Vec<_>>(),
        imported.facts
    );
    assert!(matches!(
        listed[0].fact.as_ref().unwrap().kind,
        Some(v1::fact::Kind::Directive(_))
    ));
    assert_eq!(
        clinic.decisions(&episode.name).await,
        [],
        "no past decision is invented"
    );

    let next = clinic.next(&episode.name, DAY).await.unwrap();
    let decision = next.decision.unwrap();
    assert!(decision.prescribes, "{:?}", decision.outcome());
    assert_eq!(decision.phase, "active-range");
    let prescription = next.prescription.unwrap();
    let rotation = prescription
        .exercises
        .iter()
        .find(|exercise| exercise.exercise == "er-side-lying")
        .expect("as placed");
    let reps = rotation
        .dose
        .iter()
        .find(|value| value.variable() == Variable::Reps)
        .unwrap();
    assert_eq!(reps.value, dose(Variable::Reps, "10").value);

    // A session from before it opened is accepted of an imported episode alone.
    clinic
        .record(&episode.name, vec![session_of("2026-02-25", Vec::new())])
        .await
        .expect("an older session");
}

#[tokio::test]
async fn a_closed_episode_takes_nothing_more() {
    let (_server, clinic) = started().await;
    let begun = clinic.begin("invented-1", Side::Left).await;
    let request = closing(&begun.episode, begun.sequence, &day(2));
    let closed = clinic
        .episodes
        .clone()
        .close_episode(request.clone())
        .await
        .expect("closed")
        .into_inner();
    let episode = closed.episode.clone().unwrap();
    assert_eq!(
        (episode.closed, episode.sequence),
        (true, begun.sequence + 1)
    );
    let again = clinic
        .episodes
        .clone()
        .close_episode(request)
        .await
        .expect("the same request")
        .into_inner();
    assert_eq!(again, closed);

    let before = clinic.verified().await;
    let reopen = directive(
        &day(3),
        "it came back",
        v1::directive::Order::Reopen(v1::ReopenOrder {}),
    );
    for status in [
        clinic
            .record(&begun.episode, vec![event(&day(2), "fall")])
            .await
            .map(drop),
        clinic.order(&begun.episode, reopen).await.map(drop),
        clinic.next(&begun.episode, &day(3)).await.map(drop),
        clinic
            .void(&begun.session, episode.sequence, &day(3))
            .await
            .map(drop),
        clinic.close(&begun.episode, &day(3)).await.map(drop),
    ] {
        let status = status.expect_err("it is closed");
        must_be(&status, Code::FailedPrecondition, Reason::EpisodeClosed);
        assert!(
            status.message().contains(&day(2)) && status.message().contains("open another"),
            "{status}"
        );
    }
    let after = clinic.verified().await;
    assert_eq!((before.size, before.root), (after.size, after.root));

    // What was, can be read: the facts, the decisions, what was in force.
    assert_eq!(clinic.facts(&begun.episode).await.len(), 3);
    assert_eq!(clinic.decisions(&begun.episode).await.len(), 1);
    assert!(
        clinic
            .current(&begun.episode, &day(2))
            .await
            .prescription
            .is_some()
    );
    let request = v1::PreviewRequest {
        episode: begun.episode.clone(),
        as_of: day(3),
        language: String::new(),
    };
    clinic
        .prescriptions
        .clone()
        .preview(request)
        .await
        .expect("a preview writes nothing");
}

/// The persons of the episodes that a list gives, page by page.
async fn listed(clinic: &Clinic, change: impl FnOnce(&mut v1::ListEpisodesRequest)) -> Vec<String> {
    let mut request = v1::ListEpisodesRequest {
        parent: CLINIC.to_owned(),
        page_size: 2,
        ..Default::default()
    };
    change(&mut request);
    let mut persons = Vec::new();
    loop {
        let page = clinic
            .episodes
            .clone()
            .list_episodes(request.clone())
            .await
            .expect("a page")
            .into_inner();
        assert!(page.episodes.len() <= 2);
        persons.extend(page.episodes.into_iter().map(|episode| episode.person));
        request.page_token = page.next_page_token;
        if request.page_token.is_empty() {
            return persons;
        }
    }
}

#[tokio::test]
async fn episodes_are_listed_by_what_is_asked_of_them() {
    let (_server, clinic) = started().await;
    let quiet = clinic.open("invented-quiet", Side::Left).await.name;
    clinic.begin("invented-training", Side::Left).await;
    let referred = clinic.begin("invented-referred", Side::Left).await.episode;
    let closed = clinic.begin("invented-closed", Side::Left).await.episode;
    let mut request = opening("invented-known", Side::Right);
    request.episode.as_mut().unwrap().external_id = "chart-7".to_owned();
    clinic.episodes.clone().open_episode(request).await.unwrap();
    clinic.close(&closed, &day(2)).await.unwrap();
    clinic
        .record(
            &referred,
            vec![screened(&day(2), vec![choice("new lump", "yes")])],
        )
        .await
        .unwrap();
    let outcome = clinic
        .next(&referred, &day(2))
        .await
        .unwrap()
        .decision
        .unwrap()
        .outcome();
    assert_eq!(outcome, Outcome::Refer);
    clinic.next(&quiet, DAY).await.unwrap();

    let all = [
        "invented-quiet",
        "invented-training",
        "invented-referred",
        "invented-known",
    ];
    assert_eq!(listed(&clinic, |_| ()).await, all);
    let with_closed = listed(&clinic, |request| request.include_closed = true).await;
    assert_eq!(
        with_closed,
        [
            "invented-quiet",
            "invented-training",
            "invented-referred",
            "invented-closed",
            "invented-known"
        ]
    );
    assert_eq!(
        listed(&clinic, |request| request.external_id = "chart-7".into()).await,
        ["invented-known"]
    );
    assert_eq!(
        listed(&clinic, |request| request.person = "invented-quiet".into()).await,
        ["invented-quiet"]
    );
    assert_eq!(
        listed(&clinic, |request| request.referred = true).await,
        ["invented-referred"]
    );
    let due = listed(&clinic, |request| request.ask_due_by = day(2)).await;
    assert!(
        due.contains(&"invented-quiet".to_owned()) && !due.contains(&"invented-known".to_owned()),
        "{due:?}"
    );
    let silent = |days: u32, as_of: i32| {
        listed(&clinic, move |request| {
            (request.silent_days, request.silent_as_of) = (days, day(as_of))
        })
    };
    // Opened on day 0; two of them trained on day 1.
    assert_eq!(
        silent(7, 7).await,
        Vec::<String>::new(),
        "day 0 is one of the seven days before day 7"
    );
    assert_eq!(silent(7, 8).await, ["invented-quiet", "invented-known"]);
    assert_eq!(silent(7, 9).await, all);
}

/// A refer rule of the person holds in each of their open episodes, now and opened later.
#[tokio::test]
async fn a_referral_of_the_person_holds_in_their_other_episode() {
    let (_server, clinic) = started().await;
    let left = clinic.begin("invented-1", Side::Left).await;
    let right = clinic.begin("invented-1", Side::Right).await;
    let other = clinic.begin("invented-2", Side::Left).await;
    let closed = clinic.begin("invented-1", Side::None).await;
    clinic.close(&closed.episode, &day(1)).await.unwrap();

    let answer = screened(
        &day(2),
        vec![choice("chest pain or breathlessness on effort", "yes")],
    );
    clinic.record(&left.episode, vec![answer]).await.unwrap();
    let referred = clinic.next(&left.episode, &day(2)).await.unwrap();
    let decision = referred.decision.unwrap();
    assert_eq!(decision.outcome(), Outcome::Refer);
    assert_eq!(decision.latched_rules, ["heart-pain"]);
    let prescription = referred.prescription.unwrap();
    assert_eq!(
        (prescription.standing(), prescription.stopped_by.as_slice()),
        (v1::Standing::Stopped, &["heart-pain".to_owned()][..])
    );

    assert_eq!(
        clinic.episode(&right.episode).await.latched_rules,
        ["heart-pain"]
    );
    let told = clinic.facts(&right.episode).await;
    let Some(v1::fact::Kind::PersonRefer(latched)) =
        told.last().unwrap().fact.clone().unwrap().kind
    else {
        panic!("the other episode was told nothing")
    };
    assert_eq!(latched.rule, "heart-pain");
    let current = clinic.current(&right.episode, &day(2)).await;
    let current = current.prescription.unwrap();
    assert_eq!(
        (current.standing(), current.stopped_by.as_slice()),
        (v1::Standing::Stopped, &["heart-pain".to_owned()][..]),
        "it is stopped before its next decision"
    );
    assert!(current.exercises.is_empty());
    let next = clinic
        .next(&right.episode, &day(2))
        .await
        .unwrap()
        .decision
        .unwrap();
    assert_eq!(
        (next.outcome(), next.latched_rules),
        (Outcome::Refer, vec!["heart-pain".to_owned()])
    );

    assert!(
        clinic
            .episode(&other.episode)
            .await
            .latched_rules
            .is_empty(),
        "another person"
    );
    assert_eq!(
        clinic.facts(&closed.episode).await.len(),
        3,
        "a closed episode is left alone"
    );
    let opened = clinic.open("invented-1", Side::Right).await;
    assert_eq!(
        opened.latched_rules,
        ["heart-pain"],
        "an episode opened while it is latched begins with it"
    );

    // A referral of the shoulder stays with its episode.
    let answer = screened(&day(3), vec![choice("injury with weakness", "yes")]);
    clinic.record(&left.episode, vec![answer]).await.unwrap();
    clinic.next(&left.episode, &day(3)).await.unwrap();
    assert!(
        clinic
            .episode(&left.episode)
            .await
            .latched_rules
            .contains(&"acute-tear".to_owned())
    );
    assert_eq!(
        clinic.episode(&right.episode).await.latched_rules,
        ["heart-pain"]
    );
    let request = asking(&right.episode, &day(3));
    clinic
        .prescriptions
        .clone()
        .next(request)
        .await
        .expect("it goes on");
}

//! What a write promises: once, all or nothing, durable before it is answered, and nothing from a question.

use super::clinic::{Begun, Clinic, asking, correcting, opening, recording};
use super::facts::{
    DAY, day, directive, event, morning, number, report, score, session, session_of,
};
use super::server::Server;
use rungwise_api::v1;
use rungwise_api::v1::{Outcome, Reason};
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// The status says this and nothing else.
pub(crate) fn must_be(status: &Status, code: Code, reason: Reason) {
    let info = status.get_error_details();
    let found = info
        .error_info()
        .map(|info| (info.reason.clone(), info.domain.clone()));
    let wanted = reason
        .as_str_name()
        .trim_start_matches("REASON_")
        .to_owned();
    assert_eq!(
        (status.code(), found),
        (code, Some((wanted, "rungwise".to_owned()))),
        "{status}"
    );
}

async fn begun() -> (Server, Clinic, Begun) {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    (server, clinic, begun)
}

#[tokio::test]
async fn next_asked_again_gives_the_same_decision_and_records_nothing() {
    let (_server, clinic, begun) = begun().await;
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let first = clinic.next(&begun.episode, &day(2)).await.unwrap();
    let size = clinic.verified().await.size;
    let second = clinic.next(&begun.episode, &day(2)).await.unwrap();
    assert_eq!((first.recorded, second.recorded), (true, false));
    assert_eq!(
        (&second.decision, &second.prescription),
        (&first.decision, &first.prescription)
    );
    assert_eq!(
        (second.sequence, clinic.verified().await.size),
        (first.sequence, size)
    );

    // A fact that is new makes it another question.
    clinic
        .record(&begun.episode, vec![event(&day(2), "flare-up")])
        .await
        .unwrap();
    let third = clinic.next(&begun.episode, &day(2)).await.unwrap();
    assert!(third.recorded);
    assert_eq!(third.decision.unwrap().outcome(), Outcome::Hold);
}

#[tokio::test]
async fn preview_says_what_next_will_say_and_writes_nothing() {
    let (_server, clinic, begun) = begun().await;
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let before = clinic.verified().await;
    let request = v1::PreviewRequest {
        episode: begun.episode.clone(),
        as_of: day(2),
        language: String::new(),
    };
    let previewed = clinic
        .prescriptions
        .clone()
        .preview(request)
        .await
        .unwrap()
        .into_inner();
    let after = clinic.verified().await;
    assert_eq!((before.size, before.root), (after.size, after.root));

    let answered = clinic.next(&begun.episode, &day(2)).await.unwrap();
    let (mut foreseen, mut decided) = (previewed.decision.unwrap(), answered.decision.unwrap());
    assert!(foreseen.name.is_empty() && foreseen.recorded_at.is_none() && foreseen.position == 0);
    for decision in [&mut foreseen, &mut decided] {
        (decision.name, decision.recorded_at) = (String::new(), None);
        (decision.number, decision.position) = (0, 0);
    }
    assert_eq!(foreseen, decided);
    let (mut foreseen, mut prescribed) = (
        previewed.prescription.unwrap(),
        answered.prescription.unwrap(),
    );
    foreseen.decision.clear();
    prescribed.decision.clear();
    assert_eq!(foreseen, prescribed);

    // Of the past too: what would have been decided on the day on which it began.
    let request = v1::PreviewRequest {
        episode: begun.episode,
        as_of: DAY.to_owned(),
        language: String::new(),
    };
    clinic
        .prescriptions
        .clone()
        .preview(request)
        .await
        .expect("a preview may look back");
}

#[tokio::test]
async fn a_request_id_belongs_to_its_request() {
    let (_server, clinic, begun) = begun().await;
    let request = recording(
        &begun.episode,
        vec![event(&day(2), "fall"), event(&day(2), "flare-up")],
    );
    let first = clinic
        .episodes
        .clone()
        .record_facts(request.clone())
        .await
        .unwrap()
        .into_inner();
    // Others write in between.
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let before = clinic.verified().await.size;
    let again = clinic
        .episodes
        .clone()
        .record_facts(request.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(again, first);

    let asked = asking(&begun.episode, &day(2));
    let decided = clinic
        .prescriptions
        .clone()
        .next(asked.clone())
        .await
        .unwrap()
        .into_inner();
    let repeated = clinic
        .prescriptions
        .clone()
        .next(asked.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(
        (&repeated.decision, repeated.recorded),
        (&decided.decision, true)
    );

    let opened = opening("invented-2", v1::Side::Right);
    let episode = clinic
        .episodes
        .clone()
        .open_episode(opened.clone())
        .await
        .unwrap()
        .into_inner();
    let same = clinic
        .episodes
        .clone()
        .open_episode(opened.clone())
        .await
        .unwrap()
        .into_inner();
    assert_eq!(same, episode);
    assert_eq!(clinic.verified().await.size, before + 2);

    refused_under_used_ids(&clinic, &begun, request, asked, opened).await;
    assert_eq!(clinic.verified().await.size, before + 2);
}

/// Ids already used, sent again with something else.
async fn refused_under_used_ids(
    clinic: &Clinic,
    begun: &Begun,
    request: v1::RecordFactsRequest,
    asked: v1::NextRequest,
    opened: v1::OpenEpisodeRequest,
) {
    let other = v1::RecordFactsRequest {
        facts: vec![event(&day(2), "fall")],
        ..request.clone()
    };
    let status = clinic
        .episodes
        .clone()
        .record_facts(other)
        .await
        .expect_err("another request");
    must_be(&status, Code::AlreadyExists, Reason::RequestIdReused);
    assert!(
        status.get_error_details().resource_info().is_some()
            && status.message().contains(&request.request_id)
    );
    let other = v1::NextRequest {
        as_of: day(3),
        ..asked
    };
    let status = clinic
        .prescriptions
        .clone()
        .next(other)
        .await
        .expect_err("another question");
    must_be(&status, Code::AlreadyExists, Reason::RequestIdReused);
    let mut other = opened;
    other.episode.as_mut().unwrap().person = "invented-3".to_owned();
    let status = clinic
        .episodes
        .clone()
        .open_episode(other)
        .await
        .expect_err("another person");
    must_be(&status, Code::AlreadyExists, Reason::RequestIdReused);
    // An id is used up by a call of any kind.
    let other = v1::NextRequest {
        request_id: request.request_id,
        ..asking(&begun.episode, &day(3))
    };
    let status = clinic
        .prescriptions
        .clone()
        .next(other)
        .await
        .expect_err("another call");
    must_be(&status, Code::AlreadyExists, Reason::RequestIdReused);
}

/// A request that was refused has not used its id up.
#[tokio::test]
async fn a_refused_request_may_be_mended_under_its_id() {
    let (_server, clinic, begun) = begun().await;
    let wrong = recording(&begun.episode, vec![event(&day(2), "eclipse")]);
    clinic
        .episodes
        .clone()
        .record_facts(wrong.clone())
        .await
        .expect_err("no such event");
    let mended = v1::RecordFactsRequest {
        facts: vec![event(&day(2), "fall")],
        ..wrong
    };
    clinic
        .episodes
        .clone()
        .record_facts(mended)
        .await
        .expect("now it is right");
}

#[tokio::test]
async fn facts_are_recorded_all_or_none() {
    let (_server, clinic, begun) = begun().await;
    let sore = session_of(
        &day(2),
        vec![report(
            "er-isometric",
            vec![score("pain during exercise", 11)],
        )],
    );
    let before = clinic.verified().await;
    let facts = vec![morning(&day(2)), sore, event(&day(2), "fall")];
    let status = clinic
        .record(&begun.episode, facts)
        .await
        .expect_err("one of three is wrong");
    must_be(&status, Code::InvalidArgument, Reason::OutOfRange);
    let after = clinic.verified().await;
    assert_eq!((before.size, before.root), (after.size, after.root));
    assert_eq!(
        clinic.facts(&begun.episode).await.len(),
        3,
        "screening, assessment, session"
    );

    let facts = vec![
        morning(&day(2)),
        session(&day(2), &begun.prescription, 1),
        morning(&day(3)),
    ];
    let recorded = clinic.record(&begun.episode, facts.clone()).await.unwrap();
    assert_eq!(recorded.sequence, begun.sequence + 3);
    let listed = clinic.facts(&begun.episode).await;
    let last: Vec<_> = listed.iter().rev().take(3).rev().collect();
    assert_eq!(
        last.iter()
            .map(|fact| fact.name.clone())
            .collect::<Vec<_>>(),
        recorded.facts
    );
    let positions: Vec<u64> = last.iter().map(|fact| fact.position).collect();
    assert_eq!(
        positions,
        [positions[0], positions[0] + 1, positions[0] + 2]
    );
    for (listed, mut sent) in last.into_iter().zip(facts) {
        // What the server fills in where nothing was said: the session's number, and the morning-after's session.
        match sent.kind.as_mut() {
            Some(v1::fact::Kind::Session(session)) => session.number = 1,
            Some(v1::fact::Kind::MorningAfter(after)) => {
                after.session_date = listed.fact.as_ref().map(|fact| fact.date.clone()).unwrap();
                after.session_date = if after.session_date == day(2) {
                    day(1)
                } else {
                    day(2)
                };
            }
            _ => {}
        }
        assert_eq!(listed.fact.as_ref(), Some(&sent));
    }
}

#[tokio::test]
async fn a_corrected_fact_counts_as_corrected_and_the_decision_stays() {
    let (_server, clinic, begun) = begun().await;
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let first = clinic.next(&begun.episode, &day(2)).await.unwrap();
    assert_eq!(
        first.decision.as_ref().unwrap().outcome(),
        Outcome::Continue
    );

    // The session hurt after all: 5 of 10, over the phase's limit of 3.
    let sore = session(&day(1), &begun.prescription, 5);
    let request = correcting(&begun.session, first.sequence, sore);
    let corrected = clinic
        .episodes
        .clone()
        .correct_fact(request)
        .await
        .expect("corrected")
        .into_inner();
    assert_eq!(corrected.sequence, first.sequence + 1);
    let next = clinic.next(&begun.episode, &day(2)).await.unwrap();
    let decision = next.decision.unwrap();
    let eased = decision
        .moves
        .iter()
        .filter(|line| line.r#move() == v1::Move::Ease)
        .count();
    assert!(
        eased >= 3,
        "a late over-limit session still eases: {:?}",
        decision.moves
    );

    let listed = clinic.facts(&begun.episode).await;
    let of = |name: &str| {
        listed
            .iter()
            .find(|fact| fact.name == name)
            .and_then(|fact| fact.fact.clone())
    };
    let v1::fact::Kind::Session(stands) = of(&begun.session).unwrap().kind.unwrap() else {
        panic!("a session")
    };
    assert_eq!(
        stands.exercises[0].readings[0],
        score("pain during exercise", 1),
        "listed as it was recorded"
    );
    let v1::fact::Kind::Correction(of) = of(&corrected.correction).unwrap().kind.unwrap() else {
        panic!("a correction")
    };
    assert_eq!(
        (of.of, of.replacement.is_some()),
        (begun.session.clone(), true)
    );

    let request = v1::RecomputeDecisionRequest {
        name: first.decision.unwrap().name,
    };
    let again = clinic
        .audit
        .clone()
        .recompute_decision(request)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(
        again.recomputation(),
        v1::Recomputation::Same,
        "a decision is made again from what it saw"
    );
}

#[tokio::test]
async fn a_void_fact_counts_no_more_and_is_not_voided_again() {
    let (_server, clinic, begun) = begun().await;
    let voided = clinic
        .void(&begun.session, begun.sequence, &day(2))
        .await
        .expect("voided");
    assert_eq!(
        clinic.episode(&begun.episode).await.sequence,
        voided.sequence
    );
    let voided_on = clinic.episode(&begun.episode).await.last_session_on;
    assert_eq!(voided_on, "", "a void session was none");
    let before = clinic.verified().await.size;
    let status = clinic
        .void(&begun.session, voided.sequence, &day(2))
        .await
        .expect_err("void already");
    must_be(&status, Code::FailedPrecondition, Reason::AlreadyVoid);
    let details = status.get_error_details();
    let violation = &details
        .precondition_failure()
        .expect("a precondition")
        .violations[0];
    assert!(
        violation.description.contains("report the fact anew"),
        "{violation:?}"
    );
    assert_eq!(clinic.verified().await.size, before);

    // The session is reported anew under the same date and number.
    clinic
        .record(
            &begun.episode,
            vec![session(&day(1), &begun.prescription, 2)],
        )
        .await
        .expect("reported anew");
    clinic
        .next(&begun.episode, &day(1))
        .await
        .expect("and it goes on");
}

#[tokio::test]
async fn a_directive_is_not_corrected_but_withdrawn() {
    let (_server, clinic, begun) = begun().await;
    let hold = v1::directive::Order::Hold(v1::HoldOrder {});
    let held = clinic
        .order(
            &begun.episode,
            directive(&day(2), "an invented reason", hold),
        )
        .await
        .expect("held");
    let name = held.facts[0].clone();
    let status = clinic
        .void(&name, held.sequence, &day(2))
        .await
        .expect_err("a directive");
    must_be(&status, Code::InvalidArgument, Reason::NotCorrectable);
    let outcome = clinic
        .next(&begun.episode, &day(2))
        .await
        .unwrap()
        .decision
        .unwrap()
        .outcome();
    assert_eq!(outcome, Outcome::Hold);

    let withdraw = v1::directive::Order::Withdraw(v1::WithdrawOrder { directive: name });
    clinic
        .order(
            &begun.episode,
            directive(&day(2), "no longer needed", withdraw),
        )
        .await
        .expect("withdrawn");
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let outcome = clinic
        .next(&begun.episode, &day(2))
        .await
        .unwrap()
        .decision
        .unwrap()
        .outcome();
    assert_eq!(outcome, Outcome::Continue);
}

#[tokio::test]
async fn a_session_follows_only_what_prescribed() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let episode = clinic.open("invented-1", v1::Side::Left).await.name;
    let awaited = clinic.next(&episode, DAY).await.unwrap().decision.unwrap();
    assert_eq!(awaited.outcome(), Outcome::Await);
    let mut done = session_of(
        &day(1),
        vec![report(
            "er-isometric",
            vec![number("pain during exercise", "1", "{score}")],
        )],
    );
    let Some(v1::fact::Kind::Session(session)) = done.kind.as_mut() else {
        panic!("a session")
    };
    session.followed = Some(0);
    let status = clinic
        .record(&episode, vec![done])
        .await
        .expect_err("it prescribed nothing");
    must_be(&status, Code::InvalidArgument, Reason::FollowsNothing);
    assert!(status.message().contains("prescribes nothing"), "{status}");
}

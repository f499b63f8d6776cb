//! The two streams: everything recorded, from any position on; and many questions at once.

use super::clinic::{CLINIC, Clinic, asking};
use super::facts::{DAY, day, event, morning};
use super::server::Server;
use rungwise_api::v1;
use rungwise_api::v1::next_batch_response::Answer;
use rungwise_api::v1::watch_response::Recorded;
use std::collections::BTreeMap;
use std::time::Duration;
use tonic::{Code, Streaming};

/// Longest wait for something that was recorded.
const WAIT_MAX: Duration = Duration::from_secs(20);
/// How long nothing more must come for a stream to be quiet.
const QUIET: Duration = Duration::from_millis(300);

pub(crate) async fn watch(
    clinic: &Clinic,
    parent: &str,
    from_position: u64,
) -> Streaming<v1::WatchResponse> {
    let request = v1::WatchRequest {
        parent: parent.to_owned(),
        from_position,
    };
    clinic
        .episodes
        .clone()
        .watch(request)
        .await
        .expect("it watches")
        .into_inner()
}

pub(crate) async fn one(stream: &mut Streaming<v1::WatchResponse>) -> v1::WatchResponse {
    let next = tokio::time::timeout(WAIT_MAX, stream.message()).await;
    next.expect("something recorded is sent")
        .expect("no error")
        .expect("it does not end")
}

/// Everything that a watch has to say until it is quiet.
async fn all(stream: &mut Streaming<v1::WatchResponse>) -> Vec<v1::WatchResponse> {
    let mut found = vec![one(stream).await];
    while let Ok(next) = tokio::time::timeout(QUIET, stream.message()).await {
        found.push(next.expect("no error").expect("it does not end"));
    }
    found
}

#[tokio::test]
async fn a_watch_goes_on_where_it_stopped_without_gaps_or_repeats() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let other = clinic.begin("invented-2", v1::Side::Right).await;
    let whole = all(&mut watch(&clinic, CLINIC, 0).await).await;
    let size = clinic.verified().await.size;
    assert!(
        matches!(whole[0].recorded, Some(Recorded::PackActivated(_)))
            && whole[0].episode.is_empty()
    );
    assert_eq!(whole.last().unwrap().position, size - 1);
    let of_pack =
        |one: &&v1::WatchResponse| matches!(one.recorded, Some(Recorded::PackActivated(_)));
    let first = whole.iter().rfind(of_pack).expect("a pack").position;
    let after_packs = whole.iter().filter(|one| one.position >= first);
    let positions: Vec<u64> = after_packs.map(|one| one.position).collect();
    assert_eq!(
        positions,
        (first..size).collect::<Vec<u64>>(),
        "every entry once, after the packs' parts"
    );

    // From each position on it sends the rest, whatever it is.
    for from in [0, first, first + 1, size - 1] {
        let rest = all(&mut watch(&clinic, CLINIC, from).await).await;
        let wanted: Vec<_> = whole
            .iter()
            .filter(|one| one.position >= from)
            .cloned()
            .collect();
        assert_eq!(rest, wanted, "from {from}");
    }

    // Cut off in the middle and asked again while others write: what comes after is what was not yet received.
    let mut received = Vec::new();
    let mut stream = watch(&clinic, CLINIC, 0).await;
    for at in 0..30 {
        if at % 3 == 0 {
            clinic
                .record(&begun.episode, vec![event(&day(2), "fall")])
                .await
                .unwrap();
        }
        if at % 7 == 6 {
            let last: &v1::WatchResponse = received.last().unwrap();
            stream = watch(&clinic, CLINIC, last.position + 1).await;
        }
        if received.len() < whole.len() + at / 3 {
            received.push(one(&mut stream).await);
        }
    }
    let every = all(&mut watch(&clinic, CLINIC, 0).await).await;
    assert!(received.len() > whole.len());
    assert_eq!(received, every[..received.len()]);

    // Of one episode: its own, gapless in its stream, and the same as in the clinic's.
    let own = all(&mut watch(&clinic, &other.episode, 0).await).await;
    assert_eq!(
        own.iter().map(|one| one.sequence).collect::<Vec<_>>(),
        (0..other.sequence).collect::<Vec<u64>>()
    );
    assert!(matches!(own[0].recorded, Some(Recorded::Opened(_))));
    let in_clinic: Vec<_> = whole
        .iter()
        .filter(|one| one.episode == other.episode)
        .cloned()
        .collect();
    assert_eq!(own, in_clinic);

    // From beyond the end: nothing until there is something.
    let size = clinic.verified().await.size;
    let mut ahead = watch(&clinic, CLINIC, size + 1).await;
    clinic
        .record(
            &begun.episode,
            vec![event(&day(2), "fall"), event(&day(2), "flare-up")],
        )
        .await
        .unwrap();
    assert_eq!(one(&mut ahead).await.position, size + 1);
}

/// What an opened episode said of itself then, and not what became of it.
#[tokio::test]
async fn a_watch_tells_what_was_then() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    clinic.close(&begun.episode, &day(2)).await.unwrap();
    let told = all(&mut watch(&clinic, &begun.episode, 0).await).await;
    let Some(Recorded::Opened(opened)) = &told[0].recorded else {
        panic!("opened first")
    };
    assert_eq!(
        (opened.closed, opened.sequence, opened.phase.as_str()),
        (false, 1, "")
    );
    let decided = told.iter().find_map(|one| match &one.recorded {
        Some(Recorded::Decision(decision)) => Some(decision.clone()),
        _ => None,
    });
    assert_eq!(decided, Some(begun.decision));
    let Some(Recorded::Closed(closed)) = &told.last().unwrap().recorded else {
        panic!("closed last")
    };
    assert_eq!(closed.date, day(2));
    assert!(told.iter().all(|one| one.recorded_at.is_some()));
}

/// A request that is wrong, by its id, and what must be said of it: the code, the reason, the field.
type Wrong = (
    &'static str,
    Option<v1::NextRequest>,
    Code,
    &'static str,
    &'static str,
);

fn wrong_requests(episodes: &BTreeMap<String, String>) -> [Wrong; 6] {
    let wrong_date = asking(&episodes["good-0"], "2026-13-01");
    let early = asking(&episodes["good-1"], "2026-03-01");
    let stale = v1::NextRequest {
        expected_sequence: Some(1),
        ..asking(&episodes["good-2"], &day(2))
    };
    [
        (
            "bad-nobody",
            Some(asking("clinics/demo/episodes/nobody", DAY)),
            Code::NotFound,
            "EPISODE_NOT_FOUND",
            "",
        ),
        (
            "bad-clinic",
            Some(asking("clinics/elsewhere/episodes/x", DAY)),
            Code::NotFound,
            "CLINIC_NOT_FOUND",
            "",
        ),
        (
            "bad-date",
            Some(wrong_date),
            Code::InvalidArgument,
            "FIELD_MALFORMED",
            "as_of",
        ),
        (
            "bad-early",
            Some(early),
            Code::FailedPrecondition,
            "BEFORE_LAST_DECISION",
            "",
        ),
        (
            "bad-stale",
            Some(stale),
            Code::Aborted,
            "SEQUENCE_STALE",
            "",
        ),
        (
            "bad-empty",
            None,
            Code::InvalidArgument,
            "FIELD_MISSING",
            "next",
        ),
    ]
}

#[tokio::test]
async fn a_batch_answers_each_request_and_a_refusal_ends_its_own() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let mut asked = Vec::new();
    let mut episodes = BTreeMap::new();
    for at in 0..20 {
        let begun = clinic
            .begin(&format!("invented-{at}"), v1::Side::Left)
            .await;
        clinic
            .record(&begun.episode, vec![morning(&day(2))])
            .await
            .unwrap();
        episodes.insert(format!("good-{at}"), begun.episode.clone());
        asked.push((format!("good-{at}"), Some(asking(&begun.episode, &day(2)))));
    }
    let bad = wrong_requests(&episodes);
    for (at, (id, request, ..)) in bad.iter().enumerate() {
        asked.insert(at * 3, ((*id).to_owned(), request.clone()));
    }
    let count = asked.len();
    let requests = asked
        .into_iter()
        .map(|(correlation_id, next)| v1::NextBatchRequest {
            correlation_id,
            next,
        });
    let requests: Vec<_> = requests.collect();
    let batch = clinic
        .prescriptions
        .clone()
        .next_batch(tokio_stream::iter(requests))
        .await
        .expect("a stream");
    let mut batch = batch.into_inner();
    let mut answers = BTreeMap::new();
    while let Some(answer) = tokio::time::timeout(WAIT_MAX, batch.message())
        .await
        .expect("in time")
        .expect("no error")
    {
        let before = answers.insert(answer.correlation_id, answer.answer.expect("an answer"));
        assert!(before.is_none(), "answered twice");
    }
    assert_eq!(answers.len(), count);
    for wrong in bad {
        must_be_refused(&answers, &wrong);
    }
    for (id, episode) in &episodes {
        let Some(Answer::Next(next)) = answers.get(id) else {
            panic!("{id} was refused: {:?}", answers.get(id))
        };
        assert!(
            next.recorded
                && next
                    .decision
                    .as_ref()
                    .is_some_and(|decision| decision.name.starts_with(episode))
        );
        assert_eq!(clinic.episode(episode).await.sequence, next.sequence);
    }
}

fn must_be_refused(answers: &BTreeMap<String, Answer>, (id, _, code, reason, field): &Wrong) {
    let Some(Answer::Refusal(refusal)) = answers.get(*id) else {
        panic!("{id} was not refused")
    };
    let code: i32 = (*code).into();
    assert_eq!(
        (refusal.code, refusal.reason.as_str()),
        (code, *reason),
        "{id}"
    );
    let fields = refusal.field_violations.iter();
    let fields: Vec<&str> = fields.map(|violation| violation.field.as_str()).collect();
    assert_eq!(fields.join(" "), *field, "{id}");
    assert!(!refusal.message.is_empty());
}

/// What cannot be read ends the stream with its reason: an end without one would say that all was answered.
#[tokio::test]
async fn a_batch_that_cannot_be_read_ends_with_its_reason() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let good = v1::NextBatchRequest {
        correlation_id: "good".into(),
        next: Some(asking(&begun.episode, &day(2))),
    };
    let large = v1::NextBatchRequest {
        correlation_id: "x".repeat(3 * 1_048_576),
        next: None,
    };
    let batch = clinic
        .prescriptions
        .clone()
        .next_batch(tokio_stream::iter([good, large]))
        .await
        .expect("a stream");
    let mut batch = batch.into_inner();
    let mut answered = Vec::new();
    let status = loop {
        match tokio::time::timeout(WAIT_MAX, batch.message())
            .await
            .expect("in time")
        {
            Ok(Some(answer)) => answered.push(answer.correlation_id),
            Ok(None) => panic!("it ended as if all had been answered: {answered:?}"),
            Err(status) => break status,
        }
    };
    super::writing::must_be(
        &status,
        Code::ResourceExhausted,
        v1::Reason::MessageTooLarge,
    );
}

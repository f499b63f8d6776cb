//! Many callers on one episode: each is answered or told to try again, and the stream stays whole.

use super::clinic::{Clinic, opening, recording};
use super::facts::{choice, day, event, morning, screened};
use super::server::Server;
use rungwise_api::v1;
use std::collections::BTreeSet;
use tonic::Code;

/// Callers at the same time.
const CALLERS: usize = 8;
/// Calls of each.
const CALLS: usize = 12;

/// What one caller was told is recorded.
#[derive(Default)]
struct Told {
    facts: Vec<String>,
    decisions: Vec<v1::Decision>,
    aborted: usize,
}

async fn call(clinic: Clinic, episode: String, caller: usize) -> Told {
    let mut told = Told::default();
    for at in 0..CALLS {
        let code = if (caller + at).is_multiple_of(2) {
            match clinic
                .record(
                    &episode,
                    vec![event(&day(2), "fall"), event(&day(2), "injection")],
                )
                .await
            {
                Ok(recorded) => {
                    assert_eq!(recorded.facts.len(), 2);
                    told.facts.extend(recorded.facts);
                    continue;
                }
                Err(status) => status.code(),
            }
        } else {
            match clinic.next(&episode, &day(2)).await {
                Ok(next) => {
                    told.decisions.extend(next.decision);
                    continue;
                }
                Err(status) => status.code(),
            }
        };
        assert_eq!(
            code,
            Code::Aborted,
            "neither answered nor told to try again"
        );
        told.aborted += 1;
    }
    told
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn callers_on_one_episode_are_answered_or_told_to_try_again() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    clinic
        .record(&begun.episode, vec![morning(&day(2))])
        .await
        .unwrap();
    let mut callers = Vec::new();
    for caller in 0..CALLERS {
        // Each on a connection of its own.
        let clinic = Clinic::connect(&server).await;
        callers.push(tokio::spawn(call(clinic, begun.episode.clone(), caller)));
    }
    let mut told = Told::default();
    for caller in callers {
        let one = caller.await.expect("a caller ends by itself");
        told.facts.extend(one.facts);
        told.decisions.extend(one.decisions);
        told.aborted += one.aborted;
    }
    assert!(
        told.aborted < CALLERS * CALLS / 2,
        "{} calls were told to try again",
        told.aborted
    );

    // Every acknowledged fact is there once, every acknowledged decision as it was told, and nothing else.
    let facts = clinic.facts(&begun.episode).await;
    let decisions = clinic.decisions(&begun.episode).await;
    let names: BTreeSet<&String> = facts.iter().map(|fact| &fact.name).collect();
    assert_eq!(names.len(), facts.len());
    assert_eq!(
        told.facts.iter().collect::<BTreeSet<_>>().len(),
        told.facts.len(),
        "a fact was acknowledged twice"
    );
    assert!(told.facts.iter().all(|fact| names.contains(fact)));
    assert_eq!(facts.len(), 4 + told.facts.len());
    for decision in &told.decisions {
        assert!(
            decisions.contains(decision),
            "`{}` is not as it was told",
            decision.name
        );
    }
    let mut sequences: Vec<u64> = facts.iter().map(|fact| fact.sequence).collect();
    assert!(sequences.is_sorted());
    let numbers: Vec<u32> = decisions.iter().map(|decision| decision.number).collect();
    assert_eq!(numbers, (0..numbers.len() as u32).collect::<Vec<_>>());

    // The stream has no gap: opening, facts and decisions fill it.
    let sequence = clinic.episode(&begun.episode).await.sequence;
    assert_eq!(sequence, 1 + facts.len() as u64 + decisions.len() as u64);
    sequences.dedup();
    assert_eq!(sequences.len(), facts.len());
    for decision in decisions {
        let request = v1::RecomputeDecisionRequest {
            name: decision.name.clone(),
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
            "{}: {:?}",
            decision.name,
            again.differences
        );
    }
    clinic.verified().await;
}

/// A request sent again before it was answered is done once, and everybody hears the same.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_request_sent_many_times_at_once_is_done_once() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let recording = recording(&begun.episode, vec![event(&day(2), "fall")]);
    let opening = opening("invented-2", v1::Side::Left);
    let before = clinic.verified().await.size;
    let mut callers = Vec::new();
    for _ in 0..CALLERS {
        let clinic = Clinic::connect(&server).await;
        let (recording, opening) = (recording.clone(), opening.clone());
        callers.push(tokio::spawn(async move {
            let opened = clinic.episodes.clone().open_episode(opening).await;
            let recorded = clinic.episodes.clone().record_facts(recording).await;
            let opened = opened
                .expect("opened")
                .into_inner()
                .episode
                .expect("an episode");
            (opened.name, recorded.expect("recorded").into_inner())
        }));
    }
    let mut answers = Vec::new();
    for caller in callers {
        answers.push(caller.await.expect("a caller ends by itself"));
    }
    answers.dedup();
    assert_eq!(answers.len(), 1, "{answers:?}");
    assert_eq!(clinic.verified().await.size, before + 2);
    assert_eq!(
        clinic.episode(&begun.episode).await.sequence,
        begun.sequence + 1
    );
}

/// Episodes of one person opened at the same time are all opened, and a referral of the person reaches each.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn episodes_of_one_person_opened_at_once_belong_together() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let mut callers = Vec::new();
    for _ in 0..CALLERS {
        let clinic = Clinic::connect(&server).await;
        callers.push(tokio::spawn(async move {
            clinic.open("invented-1", v1::Side::Right).await.name
        }));
    }
    let mut names = BTreeSet::new();
    for caller in callers {
        names.insert(caller.await.expect("opened"));
    }
    assert_eq!(names.len(), CALLERS);
    let answer = screened(
        &day(2),
        vec![choice("chest pain or breathlessness on effort", "yes")],
    );
    clinic
        .record(&begun.episode, vec![answer])
        .await
        .expect("recorded");
    clinic
        .next(&begun.episode, &day(2))
        .await
        .expect("referred");
    for name in names {
        assert_eq!(clinic.episode(&name).await.latched_rules, ["heart-pain"]);
    }
    clinic.verified().await;
}

//! A course of care from opening to a harder prescription, and what can be read of it afterwards.

use super::clinic::{CLINIC, Clinic};
use super::facts::{DAY, assessment, day, morning, session};
use super::server::Server;
use rungwise_api::v1;
use rungwise_api::v1::{ExplanationView, Outcome, Recomputation};

/// Reports a session each day without pain, and its mornings after, from the day after `from` until `until`.
async fn train(
    clinic: &Clinic,
    episode: &str,
    prescription: &v1::Prescription,
    (from, until): (i32, i32),
) {
    for at in from..until {
        let facts = vec![session(&day(at), prescription, 1), morning(&day(at + 1))];
        clinic.record(episode, facts).await.expect("recorded");
    }
}

#[tokio::test]
async fn a_course_of_care_is_decided_recorded_explained_and_verified() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let opened = clinic.open("invented-1", v1::Side::Left).await;
    assert_eq!(
        (opened.sequence, opened.closed, opened.imported),
        (1, false, false)
    );
    assert!(
        opened.phase.is_empty()
            && opened.last_decision.is_empty()
            && opened.latched_rules.is_empty()
    );

    let waiting = clinic.next(&opened.name, DAY).await.expect("a decision");
    let awaited = waiting.decision.expect("a decision");
    assert_eq!(
        (awaited.outcome(), awaited.prescribes, awaited.number),
        (Outcome::Await, false, 0)
    );
    let standing = waiting.prescription.expect("it says so").standing();
    assert_eq!(standing, v1::Standing::NotBegun);

    let recorded = clinic
        .record(
            &opened.name,
            vec![clinic.all_clear(DAY).await, assessment(DAY)],
        )
        .await
        .unwrap();
    assert_eq!((recorded.facts.len(), recorded.sequence), (2, 4));

    let begun = clinic.next(&opened.name, DAY).await.expect("a decision");
    assert!(begun.recorded && begun.if_accepted.is_none());
    assert_eq!(begun.sequence, 5);
    let decision = begun.decision.expect("a decision");
    assert_eq!(
        (decision.outcome(), decision.number, decision.proposed),
        (Outcome::Begin, 1, false)
    );
    assert_eq!(decision.phase, "isometric");
    assert!(decision.recorded_at.is_some() && decision.semantics >= 1);
    let prescription = begun.prescription.expect("a prescription");
    assert_eq!(prescription.decision, decision.name);
    assert_eq!(prescription.standing(), v1::Standing::InForce);
    assert_eq!(
        prescription.exercises.len(),
        3,
        "the phase introduces three at first"
    );
    assert!(!prescription.cautions.is_empty() && !prescription.limits.is_empty());

    train(&clinic, &opened.name, &prescription, (0, 3)).await;
    let next = clinic
        .next(&opened.name, &day(3))
        .await
        .expect("a decision");
    let decision = next.decision.expect("a decision");
    assert_eq!(decision.outcome(), Outcome::Continue);
    let climbed: Vec<&v1::LineMove> = decision
        .moves
        .iter()
        .filter(|line| line.r#move() == v1::Move::Climb)
        .collect();
    assert!(
        !climbed.is_empty(),
        "three quiet sessions raised nothing: {:?}",
        decision.moves
    );
    let dose = |prescription: &v1::Prescription, line: &str| {
        prescription
            .exercises
            .iter()
            .find(|exercise| exercise.line == line)
            .map(|exercise| exercise.dose.clone())
    };
    let now = next.prescription.expect("a prescription");
    for line in climbed {
        assert_ne!(
            dose(&now, &line.line),
            dose(&prescription, &line.line),
            "{} climbed",
            line.line
        );
    }
    assert!(
        now.exercises.len() > prescription.exercises.len(),
        "more lines after sessions that count"
    );

    what_was_decided_can_be_read(&clinic, &opened.name, &decision, &now).await;
    why_is_told(&clinic, &opened.name, &decision).await;
    the_record_holds(&clinic, &opened.name).await;
}

/// Current, Wanted, Render and Get agree with what Next answered.
async fn what_was_decided_can_be_read(
    clinic: &Clinic,
    episode: &str,
    decision: &v1::Decision,
    now: &v1::Prescription,
) {
    let current = clinic.current(episode, &day(3)).await;
    assert_eq!(current.prescription.as_ref(), Some(now));
    assert!(current.proposal.is_empty());

    let read = clinic.episode(episode).await;
    assert_eq!(
        (read.phase.as_str(), &read.last_decision),
        ("isometric", &decision.name)
    );
    assert_eq!(
        (read.last_session_on, read.asks),
        (day(2), decision.asks.clone())
    );

    // The morning after the session of day 3 is due on day 4.
    clinic
        .record(episode, vec![session(&day(3), now, 1)])
        .await
        .unwrap();
    let request = v1::WantedRequest {
        episode: episode.to_owned(),
        as_of: day(5),
        language: String::new(),
    };
    let wanted = clinic
        .prescriptions
        .clone()
        .wanted(request)
        .await
        .unwrap()
        .into_inner()
        .questions;
    let asked = |kind: v1::AskKind| {
        wanted
            .iter()
            .any(|question| question.ask.as_ref().is_some_and(|ask| ask.kind() == kind))
    };
    assert!(asked(v1::AskKind::MorningAfter), "{wanted:?}");
    assert!(wanted.iter().all(|question| !question.wording.is_empty()));

    let request = v1::RenderRequest {
        episode: episode.to_owned(),
        as_of: day(3),
        language: "en".to_owned(),
    };
    let sheet = clinic
        .prescriptions
        .clone()
        .render(request)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(
        (sheet.language.as_str(), &sheet.decision),
        ("en", &decision.name)
    );
    for exercise in &now.exercises {
        assert!(
            sheet.sheet.contains(&exercise.name),
            "no {} on the sheet:\n{}",
            exercise.name,
            sheet.sheet
        );
    }
}

/// An explanation is told in short and in full, and leads back to the facts.
async fn why_is_told(clinic: &Clinic, episode: &str, decision: &v1::Decision) {
    let explain = |view: ExplanationView| {
        let request = v1::ExplainDecisionRequest {
            name: decision.name.clone(),
            view: view.into(),
        };
        let mut audit = clinic.audit.clone();
        async move { audit.explain_decision(request).await.unwrap().into_inner() }
    };
    let basic = explain(ExplanationView::Basic).await;
    let full = explain(ExplanationView::Full).await;
    let (in_short, whole) = (basic.explanation.unwrap(), full.explanation.unwrap());
    assert!(in_short.others.is_empty() && in_short.others_count > 0);
    assert_eq!(whole.others.len(), in_short.others_count as usize);
    assert_eq!(
        (&whole.decision, whole.outcome()),
        (&decision.name, Outcome::Continue)
    );
    assert_eq!(
        (whole.moves.len(), whole.pack_id.as_str()),
        (decision.moves.len(), "rotator-cuff")
    );
    assert!(
        !whole.to_progress.is_empty(),
        "the next phase still wants something"
    );
    assert!(
        full.text.len() > basic.text.len() && full.text.contains("pain during exercise at most 3")
    );
    let values = whole
        .deciding
        .iter()
        .chain(&whole.others)
        .flat_map(|finding| &finding.sentences)
        .flat_map(|s| &s.values);
    let facts: Vec<&str> = values
        .map(|value| value.fact.as_str())
        .filter(|fact| !fact.is_empty())
        .collect();
    assert!(
        !facts.is_empty() && facts.iter().all(|fact| fact.starts_with(episode)),
        "{facts:?}"
    );
}

/// Every condition holds for the decisions listed, and pages together are the whole list.
async fn decisions_are_listed_by_what_they_decided(clinic: &Clinic, episode: &str) {
    let of = |change: fn(&mut v1::ListDecisionsRequest)| {
        let mut request = v1::ListDecisionsRequest {
            parent: format!("{CLINIC}/episodes/-"),
            ..Default::default()
        };
        change(&mut request);
        let mut audit = clinic.audit.clone();
        async move {
            let listed = audit.list_decisions(request).await.unwrap().into_inner();
            listed
                .decisions
                .iter()
                .map(|decision| decision.number)
                .collect::<Vec<_>>()
        }
    };
    assert_eq!(of(|_| ()).await, [0, 1, 2]);
    assert_eq!(
        of(|request| request.outcome = Outcome::Begin.into()).await,
        [1]
    );
    assert_eq!(of(|request| request.as_of_from = day(1)).await, [2]);
    assert_eq!(
        of(|request| request.as_of_to = DAY.to_owned()).await,
        [0, 1]
    );
    assert_eq!(
        of(|request| request.proposed = true).await,
        Vec::<u32>::new()
    );
    assert_eq!(
        of(|request| request.because = "heart-pain".to_owned()).await,
        [0],
        "before the screening it could not be ruled out"
    );
    assert_eq!(
        of(|request| request.because = "no-such-rule".to_owned()).await,
        Vec::<u32>::new()
    );
    let every = clinic.decisions(&format!("{CLINIC}/episodes/-")).await;
    assert_eq!(every, clinic.decisions(episode).await);
}

/// Decisions are listed, read and made again alike; the ledger is sound; a checkpoint signs its size.
async fn the_record_holds(clinic: &Clinic, episode: &str) {
    let decisions = clinic.decisions(episode).await;
    assert_eq!(
        decisions
            .iter()
            .map(|decision| decision.number)
            .collect::<Vec<_>>(),
        [0, 1, 2]
    );
    for listed in &decisions {
        let request = v1::GetDecisionRequest {
            name: listed.name.clone(),
        };
        let read = clinic
            .audit
            .clone()
            .get_decision(request)
            .await
            .unwrap()
            .into_inner();
        assert_eq!(read.decision.as_ref(), Some(listed));
        let request = v1::RecomputeDecisionRequest {
            name: listed.name.clone(),
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
            Recomputation::Same,
            "{}: {:?}",
            listed.name,
            again.differences
        );
        assert_eq!(
            (again.semantics, again.recorded_semantics),
            (listed.semantics, listed.semantics)
        );
    }
    decisions_are_listed_by_what_they_decided(clinic, episode).await;

    let verified = clinic.verified().await;
    let request = v1::GetCheckpointRequest {
        parent: CLINIC.to_owned(),
    };
    let checkpoint = clinic
        .audit
        .clone()
        .get_checkpoint(request)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(checkpoint.size, verified.size);
    let lines: Vec<&str> = checkpoint.note.lines().collect();
    assert_eq!(lines[1], verified.size.to_string());
    assert!(
        checkpoint.note.contains("\n\n\u{2014} "),
        "no signature: {}",
        checkpoint.note
    );
    let origin = checkpoint.verifier_key.split('+').next().unwrap();
    assert_eq!(lines[0], origin);
    assert_eq!(clinic.verified().await.checkpoint_size, verified.size);
}

#[tokio::test]
async fn nothing_is_rendered_before_the_first_prescription() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let episode = clinic.open("invented-1", v1::Side::Left).await.name;
    let request = v1::RenderRequest {
        episode: episode.clone(),
        as_of: day(0),
        language: String::new(),
    };
    let status = clinic
        .prescriptions
        .clone()
        .render(request)
        .await
        .expect_err("there is nothing to render");
    super::writing::must_be(
        &status,
        tonic::Code::FailedPrecondition,
        v1::Reason::NothingPrescribed,
    );
    assert_eq!(clinic.current(&episode, DAY).await.prescription, None);
}

/// A fact may be dated a day ahead of UTC: somewhere it is tomorrow already.
#[tokio::test]
async fn tomorrow_is_somewhere_today() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let tomorrow = super::facts::today(1);
    clinic
        .record(&begun.episode, vec![super::facts::event(&tomorrow, "fall")])
        .await
        .expect("tomorrow is accepted");
    clinic
        .next(&begun.episode, &tomorrow)
        .await
        .expect("and decided for");
}

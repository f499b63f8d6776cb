//! The main job: what was reported goes in, the next prescription comes out, with its reasons, and can be made again.

use crate::rig::*;
use rungwise_api::v1::{self, Outcome, Recomputation};
use tonic::Code;

#[tokio::test]
async fn nothing_is_prescribed_before_the_screening() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let next = rig.next(&name, DAY).await.unwrap();
    let decision = next.decision.unwrap();
    assert_eq!(decision.outcome(), Outcome::Await);
    assert!(!decision.prescribes && next.recorded);
    let prescription = next.prescription.unwrap();
    assert!(prescription.exercises.is_empty());
    assert_eq!(prescription.standing(), v1::Standing::NotBegun);
    assert!(!prescription.cautions.is_empty());
    let request = v1::WantedRequest {
        episode: name,
        as_of: DAY.into(),
        language: String::new(),
    };
    let wanted = rig
        .prescriptions()
        .wanted(request)
        .await
        .unwrap()
        .into_inner();
    assert!(
        wanted.questions.len() >= 18
            && wanted
                .questions
                .iter()
                .all(|question| !question.wording.is_empty())
    );
}

#[tokio::test]
async fn good_sessions_raise_a_dose_and_the_decision_says_why_and_is_made_again() {
    let rig = Rig::start().await;
    let (name, first) = rig.begun("invented-2").await;
    let decision = first.decision.unwrap();
    assert_eq!(decision.outcome(), Outcome::Begin);
    let mut prescription = first.prescription.unwrap();
    assert_eq!(prescription.decision, decision.name);
    assert!(!prescription.exercises.is_empty());
    let mut climbed = None;
    for after in 1..6 {
        rig.record(&name, vec![session(&day(after), &prescription, "1")])
            .await
            .unwrap();
        rig.record(&name, vec![morning_after(&day(after + 1))])
            .await
            .unwrap();
        let next = rig.next(&name, &day(after + 1)).await.unwrap();
        let decision = next.decision.unwrap();
        if decision
            .moves
            .iter()
            .any(|line| line.r#move() == v1::Move::Climb)
        {
            climbed = Some(decision);
            break;
        }
        prescription = next.prescription.unwrap();
    }
    let climbed = climbed.expect("good sessions raise a dose");
    for view in [v1::ExplanationView::Basic, v1::ExplanationView::Full] {
        let request = v1::ExplainDecisionRequest {
            name: climbed.name.clone(),
            view: view.into(),
        };
        let why = rig
            .audit()
            .explain_decision(request)
            .await
            .unwrap()
            .into_inner();
        let explanation = why.explanation.unwrap();
        assert_eq!(explanation.decision, climbed.name);
        assert_eq!(
            explanation.others.is_empty(),
            view == v1::ExplanationView::Basic
        );
        assert!(
            explanation
                .moves
                .iter()
                .any(|line| line.r#move() == v1::Move::Climb)
        );
        assert!(why.text.starts_with("CONTINUE"), "{}", why.text);
    }
    let render = v1::RenderRequest {
        episode: name.clone(),
        as_of: climbed.as_of.clone(),
        language: "en".into(),
    };
    let sheet = rig
        .prescriptions()
        .render(render)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(sheet.decision, climbed.name);
    assert!(!sheet.sheet.is_empty());
    let current = v1::CurrentRequest {
        episode: name,
        as_of: climbed.as_of.clone(),
        language: String::new(),
    };
    let current = rig
        .prescriptions()
        .current(current)
        .await
        .unwrap()
        .into_inner()
        .prescription
        .unwrap();
    for exercise in &current.exercises {
        assert!(sheet.sheet.contains(&exercise.name), "{}", exercise.name);
    }
    assert_every_decision_is_made_again(&rig).await;
}

/// Every decision of the clinic recomputed, and the ledger verified.
async fn assert_every_decision_is_made_again(rig: &Rig) {
    let request = v1::ListDecisionsRequest {
        parent: format!("{CLINIC}/episodes/-"),
        ..Default::default()
    };
    let listed = rig
        .audit()
        .list_decisions(request)
        .await
        .unwrap()
        .into_inner();
    assert!(!listed.decisions.is_empty());
    for decision in listed.decisions {
        let request = v1::RecomputeDecisionRequest {
            name: decision.name.clone(),
        };
        let again = rig
            .audit()
            .recompute_decision(request)
            .await
            .unwrap()
            .into_inner();
        assert_eq!(
            again.recomputation(),
            Recomputation::Same,
            "{} {:?}",
            decision.name,
            again.differences
        );
    }
    let request = v1::VerifyLedgerRequest {
        parent: CLINIC.into(),
    };
    let verified = rig
        .audit()
        .verify_ledger(request)
        .await
        .unwrap()
        .into_inner();
    assert!(verified.sound, "{:?}", verified.faults);
    assert_eq!(verified.size, rig.size());
}

#[tokio::test]
async fn asked_again_it_answers_the_same_and_records_nothing() {
    let rig = Rig::start().await;
    let (name, first) = rig.begun("invented-3").await;
    let size = rig.size();
    let again = rig.next(&name, DAY).await.unwrap();
    assert!(!again.recorded);
    assert_eq!(
        (again.decision, again.sequence),
        (first.decision.clone(), first.sequence)
    );
    let request = v1::PreviewRequest {
        episode: name.clone(),
        as_of: day(3),
        language: String::new(),
    };
    let preview = rig
        .prescriptions()
        .preview(request)
        .await
        .unwrap()
        .into_inner();
    assert!(preview.decision.unwrap().name.is_empty());
    assert_eq!(
        rig.size(),
        size,
        "neither asking again nor a preview writes"
    );
    let (code, reason, _) = refusal(rig.next(&name, "2026-03-01").await);
    assert_eq!(
        (code, reason.as_str()),
        (Code::FailedPrecondition, "BEFORE_LAST_DECISION")
    );
}

#[tokio::test]
async fn a_store_opened_again_holds_the_same_and_an_older_pack_still_decides_its_own() {
    let rig = Rig::start().await;
    let (name, first) = rig.begun("invented-4").await;
    let decision = first.decision.unwrap();
    let old_pack = decision.pack.clone();
    let (dir, ended) = rig.stop().await;
    ended.unwrap();

    let mut files: Vec<(String, String)> = pack_files()
        .files()
        .iter()
        .map(|file| (file.name.clone(), file.text.clone()))
        .collect();
    for (file, text) in &mut files {
        if file == "pack.toml" {
            *text = text.replace("version = \"1.", "version = \"9.");
        }
    }
    let rig = Rig::start_with(dir, rungwise_pack::source::SourceFiles::new(files), |_| {}).await;
    let request = v1::GetDecisionRequest {
        name: decision.name.clone(),
    };
    let kept = rig
        .audit()
        .get_decision(request)
        .await
        .unwrap()
        .into_inner()
        .decision;
    assert_eq!(kept.as_ref(), Some(&decision));
    let listed = rig
        .packs()
        .list_packs(v1::ListPacksRequest {
            parent: CLINIC.into(),
            ..Default::default()
        })
        .await;
    let packs = listed.unwrap().into_inner().packs;
    let in_force: Vec<(&str, bool)> = packs
        .iter()
        .map(|pack| (pack.name.as_str(), pack.in_force))
        .collect();
    assert_eq!(in_force.len(), 2);
    assert_eq!(in_force[0], (old_pack.as_str(), false));
    assert!(in_force[1].1);
    let next = rig.next(&name, &day(1)).await.unwrap().decision.unwrap();
    assert_eq!(next.pack, packs[1].name);
    assert_eq!(next.number, 1);
    assert_every_decision_is_made_again(&rig).await;
}

#[tokio::test]
async fn a_pack_says_what_may_be_reported() {
    let rig = Rig::start().await;
    let request = v1::GetPackRequest {
        name: format!("{CLINIC}/packs/{PACK}"),
        with_files: true,
        language: String::new(),
    };
    let pack = rig
        .packs()
        .get_pack(request.clone())
        .await
        .unwrap()
        .into_inner();
    let known = pack.pack.unwrap();
    assert!(known.in_force && known.id == PACK);
    let elevation = pack
        .measures
        .iter()
        .find(|measure| measure.name == "active elevation")
        .unwrap();
    assert_eq!(
        (elevation.unit.as_str(), elevation.max.as_str()),
        ("deg", "180")
    );
    assert_eq!(
        (elevation.carrier(), elevation.worse()),
        (v1::Carrier::Assessment, v1::Worse::Lower)
    );
    assert!(!pack.phases.is_empty() && !pack.exercises.is_empty() && !pack.rules.is_empty());
    let files = pack
        .files
        .into_iter()
        .map(|file| (file.path, file.text))
        .collect();
    let digest = rungwise_pack::digest(&rungwise_pack::source::SourceFiles::new(files));
    assert_eq!(
        known.name,
        rungwise_api::name::pack_name("demo", &digest),
        "its files are all there"
    );
    let by_digest = v1::GetPackRequest {
        name: known.name,
        ..request
    };
    assert!(rig.packs().get_pack(by_digest).await.is_ok());
    let (code, reason, details) = refusal(
        rig.packs()
            .get_pack(v1::GetPackRequest {
                name: format!("{CLINIC}/packs/none"),
                ..Default::default()
            })
            .await,
    );
    assert_eq!((code, reason.as_str()), (Code::NotFound, "PACK_NOT_FOUND"));
    assert!(details.resource_info().is_some());
}

#[tokio::test]
async fn a_checkpoint_is_signed() {
    let rig = Rig::start().await;
    rig.open("invented-5").await;
    let request = v1::GetCheckpointRequest {
        parent: CLINIC.into(),
    };
    let checkpoint = rig
        .audit()
        .get_checkpoint(request)
        .await
        .unwrap()
        .into_inner();
    assert_eq!(checkpoint.size, rig.size());
    assert!(checkpoint.note.contains("\u{2014} ") && !checkpoint.verifier_key.is_empty());
}

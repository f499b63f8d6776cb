//! Packs of a store that is opened again.

use crate::rig::*;
use rungwise_api::v1::{self, Recomputation};
use rungwise_server::{ServeConfig, ServeError, serve};

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

/// Every decision of the clinic recomputed, and the ledger verified.
pub(crate) async fn assert_every_decision_is_made_again(rig: &Rig) {
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
async fn a_pack_with_an_error_never_comes_into_force() {
    let rig = Rig::start().await;
    let (dir, ended) = rig.stop().await;
    ended.unwrap();
    let broken = |file: &rungwise_pack::source::SourceFile| {
        (
            file.name.clone(),
            file.text.replace("isometric", "isometirc "),
        )
    };
    let files = pack_files().files().iter().map(broken).collect();
    let store = open_store(&dir.path().join("store")).await;
    let config = ServeConfig::new(store, vec![rungwise_pack::source::SourceFiles::new(files)]);
    let refused = serve(config, std::future::pending()).await;
    assert!(
        matches!(refused, Err(ServeError::PackRefused { diagnostics, .. }) if !diagnostics.is_empty())
    );
    let rig = Rig::start_with(dir, pack_files(), |_| {}).await;
    let listed = rig
        .packs()
        .list_packs(v1::ListPacksRequest {
            parent: CLINIC.into(),
            ..Default::default()
        })
        .await;
    assert_eq!(
        listed.unwrap().into_inner().packs.len(),
        1,
        "the one in force stays in force"
    );
}

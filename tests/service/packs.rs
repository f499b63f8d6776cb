//! Rule packs as clinic software reads them.

use super::clinic::{CLINIC, Clinic};
use super::server::Server;
use rungwise_api::v1;
use rungwise_pack::source::SourceFiles;

#[tokio::test]
async fn a_pack_says_what_may_be_reported() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let request = v1::GetPackRequest {
        name: format!("{CLINIC}/packs/rotator-cuff"),
        with_files: true,
        language: String::new(),
    };
    let pack = clinic
        .packs
        .clone()
        .get_pack(request.clone())
        .await
        .unwrap()
        .into_inner();
    let known = pack.pack.unwrap();
    assert!(known.in_force && known.id == "rotator-cuff");
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
    let digest = rungwise_pack::digest(&SourceFiles::new(files));
    assert_eq!(
        known.name,
        rungwise_api::name::pack_name("demo", &digest),
        "its files are all there"
    );
    let by_digest = v1::GetPackRequest {
        name: known.name,
        ..request
    };
    assert!(clinic.packs.clone().get_pack(by_digest).await.is_ok());
}

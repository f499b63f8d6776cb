//! RulePackService: the packs that are or were in force.
//!
//! Leaves to others: bringing one into force (`crate::clinic`).

use crate::clinic::KeptPack;
use crate::page;
use crate::refusal::Refusal;
use crate::service::{Service, clinic_field, language, name_refusal, page_size};
use rungwise_api::name::{hex, pack_from_name, pack_name};
use rungwise_api::to_wire::{
    exercises_to_wire, measures_to_wire, outcome_to_wire, phases_to_wire, rules_to_wire,
    timestamp_from_ms,
};
use rungwise_api::v1::rule_pack_service_server::RulePackService;
use rungwise_api::v1::{self, Reason};
use std::sync::Arc;
use tonic::{Request, Response, Status};

/// The service.
#[derive(Clone, Debug)]
pub(crate) struct Packs(pub(crate) Arc<Service>);

fn pack_to_wire(clinic: &str, kept: &KeptPack, in_force: bool) -> v1::Pack {
    let pack = &kept.pack;
    let others = pack
        .texts
        .keys()
        .filter(|language| **language != pack.language);
    v1::Pack {
        name: pack_name(clinic, &pack.digest),
        id: pack.id.to_string(),
        version: pack.version.to_string(),
        title: pack.title.clone(),
        scope: pack.scope.clone(),
        in_force,
        activated_at: Some(timestamp_from_ms(kept.activated_at_ms)),
        languages: std::iter::once(&pack.language)
            .chain(others)
            .map(ToString::to_string)
            .collect(),
    }
}

impl Service {
    fn list_packs(&self, request: &v1::ListPacksRequest) -> Result<v1::ListPacksResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &request.parent)?)?;
        let _entered = clinic.enter()?;
        let size = page_size(request.page_size)?;
        let conditions = ["ListPacks", request.parent.as_str()];
        let start = page::start(&request.page_token, &conditions)?;
        let start = usize::try_from(start).unwrap_or(usize::MAX);
        let all = clinic.packs();
        let page = all.iter().skip(start).take(size);
        let packs = page
            .map(|(kept, in_force)| pack_to_wire(clinic.id.as_str(), kept, *in_force))
            .collect();
        let end = start.saturating_add(size);
        let next = (end < all.len())
            .then(|| page::token(u64::try_from(end).unwrap_or(u64::MAX), &conditions));
        Ok(v1::ListPacksResponse {
            packs,
            next_page_token: next.unwrap_or_default(),
        })
    }

    fn get_pack(&self, request: &v1::GetPackRequest) -> Result<v1::GetPackResponse, Refusal> {
        let Some((clinic, wanted)) = pack_from_name(&request.name) else {
            return Err(name_refusal(
                "name",
                &request.name,
                "clinics/{clinic}/packs/{digest or id}",
            ));
        };
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        let all = clinic.packs();
        let found = all.iter().find(|(kept, in_force)| {
            hex(&kept.pack.digest) == wanted || (*in_force && *kept.pack.id == *wanted)
        });
        let (kept, in_force) = found.ok_or_else(|| Refusal::NotFound {
            reason: Reason::PackNotFound,
            kind: "pack",
            name: request.name.clone(),
        })?;
        let pack = &kept.pack;
        let language = language(pack, &request.language)?;
        let file = |file: &rungwise_pack::source::SourceFile| v1::PackFile {
            path: file.name.clone(),
            text: file.text.clone(),
        };
        let files = kept.files.files().iter().filter(|_| request.with_files);
        Ok(v1::GetPackResponse {
            pack: Some(pack_to_wire(clinic.id.as_str(), kept, *in_force)),
            measures: measures_to_wire(pack),
            events: pack.events.iter().map(ToString::to_string).collect(),
            phases: phases_to_wire(pack),
            exercises: exercises_to_wire(pack, &language),
            rules: rules_to_wire(pack),
            sign_off: pack
                .sign_off
                .iter()
                .map(|outcome| outcome_to_wire(*outcome).into())
                .collect(),
            files: files.map(file).collect(),
        })
    }
}

#[tonic::async_trait]
impl RulePackService for Packs {
    async fn list_packs(
        &self,
        request: Request<v1::ListPacksRequest>,
    ) -> Result<Response<v1::ListPacksResponse>, Status> {
        Ok(Response::new(self.0.list_packs(request.get_ref())?))
    }

    async fn get_pack(
        &self,
        request: Request<v1::GetPackRequest>,
    ) -> Result<Response<v1::GetPackResponse>, Status> {
        Ok(Response::new(self.0.get_pack(request.get_ref())?))
    }
}

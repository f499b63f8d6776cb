//! RulePackService: the packs that are or were in force.
//!
//! Leaves to others: drafts, proposals and directives (the modules beside it), which version decides what (`crate::clinic`).

use super::impact::{ImpactStream, assess};
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
use rungwise_pack::source::SourceFile;
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
        activated_at: Some(timestamp_from_ms(kept.recorded_at_ms)),
        languages: std::iter::once(&pack.language)
            .chain(others)
            .map(ToString::to_string)
            .collect(),
    }
}

/// A file of a pack.
pub(super) fn file_to_wire(file: &SourceFile) -> v1::PackFile {
    v1::PackFile {
        path: file.name.clone(),
        text: file.text.clone(),
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
        let all = clinic.packs(self.clock.today());
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
        let all = clinic.packs(self.clock.today());
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
            files: files.map(file_to_wire).collect(),
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

    async fn check_pack(
        &self,
        request: Request<v1::CheckPackRequest>,
    ) -> Result<Response<v1::CheckPackResponse>, Status> {
        Ok(Response::new(self.0.check_pack(request.get_ref()).await?))
    }

    async fn compare_packs(
        &self,
        request: Request<v1::ComparePacksRequest>,
    ) -> Result<Response<v1::ComparePacksResponse>, Status> {
        Ok(Response::new(
            self.0.compare_packs(request.get_ref()).await?,
        ))
    }

    async fn propose_pack(
        &self,
        request: Request<v1::ProposePackRequest>,
    ) -> Result<Response<v1::ProposePackResponse>, Status> {
        Ok(Response::new(self.0.propose_pack(request.get_ref()).await?))
    }

    async fn approve_proposal(
        &self,
        request: Request<v1::ApproveProposalRequest>,
    ) -> Result<Response<v1::ApproveProposalResponse>, Status> {
        Ok(Response::new(
            self.0.approve_proposal(request.get_ref()).await?,
        ))
    }

    async fn withdraw_proposal(
        &self,
        request: Request<v1::WithdrawProposalRequest>,
    ) -> Result<Response<v1::WithdrawProposalResponse>, Status> {
        Ok(Response::new(
            self.0.withdraw_proposal(request.get_ref()).await?,
        ))
    }

    async fn get_proposal(
        &self,
        request: Request<v1::GetProposalRequest>,
    ) -> Result<Response<v1::GetProposalResponse>, Status> {
        Ok(Response::new(self.0.get_proposal(request.get_ref())?))
    }

    async fn list_proposals(
        &self,
        request: Request<v1::ListProposalsRequest>,
    ) -> Result<Response<v1::ListProposalsResponse>, Status> {
        Ok(Response::new(self.0.list_proposals(request.get_ref())?))
    }

    async fn direct_clinic(
        &self,
        request: Request<v1::DirectClinicRequest>,
    ) -> Result<Response<v1::DirectClinicResponse>, Status> {
        Ok(Response::new(
            self.0.direct_clinic(request.get_ref()).await?,
        ))
    }

    async fn lift_clinic_directive(
        &self,
        request: Request<v1::LiftClinicDirectiveRequest>,
    ) -> Result<Response<v1::LiftClinicDirectiveResponse>, Status> {
        Ok(Response::new(
            self.0.lift_clinic_directive(request.get_ref()).await?,
        ))
    }

    async fn list_clinic_directives(
        &self,
        request: Request<v1::ListClinicDirectivesRequest>,
    ) -> Result<Response<v1::ListClinicDirectivesResponse>, Status> {
        Ok(Response::new(
            self.0.list_clinic_directives(request.get_ref())?,
        ))
    }

    type AssessImpactStream = ImpactStream;

    async fn assess_impact(
        &self,
        request: Request<v1::AssessImpactRequest>,
    ) -> Result<Response<Self::AssessImpactStream>, Status> {
        Ok(Response::new(assess(&self.0, request.get_ref())?))
    }
}

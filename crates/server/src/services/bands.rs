//! BandService: the clinic's band catalogue.
//!
//! Leaves to others: what a roll may look like (`rungwise_api::from_wire`), keeping it (`crate::catalogue`).

use crate::catalogue::{Catalogue, KeptRoll};
use crate::clinic::{Clinic, Stream};
use crate::limits::ROLLS_MAX;
use crate::page;
use crate::refusal::Refusal;
use crate::service::{
    Service, clinic_field, latest_date, name_refusal, page_size, present_date_field, request_id,
};
use rungwise_api::content::{self, Content, RollWithdrawal};
use rungwise_api::from_wire::{Reader, roll_from_wire};
use rungwise_api::name::{clinic_name, roll_from_name, roll_name};
use rungwise_api::v1::band_service_server::BandService;
use rungwise_api::v1::{self, Reason};
use rungwise_engine::admit::{WHO_BYTES_MAX, WHY_BYTES_MAX};
use rungwise_store::Kind;
use std::sync::Arc;
use tonic::{Request, Response, Status};

/// The service.
#[derive(Clone, Debug)]
pub(crate) struct Bands(pub(crate) Arc<Service>);

/// The clinic and position of a field that names a roll.
fn roll_field(field: &str, value: &str) -> Result<(String, u64), Refusal> {
    roll_from_name(value).ok_or_else(|| name_refusal(field, value, "clinics/{clinic}/rolls/{roll}"))
}

fn no_roll(name: &str) -> Refusal {
    Refusal::NotFound {
        reason: Reason::RollNotFound,
        kind: "roll",
        name: name.to_owned(),
    }
}

/// Whether the catalogue takes another roll.
fn room(clinic: &str, catalogue: &Catalogue) -> Result<(), Refusal> {
    if catalogue.len() < ROLLS_MAX {
        return Ok(());
    }
    Err(Refusal::Precondition {
        reason: Reason::CatalogueFull,
        subject: clinic_name(clinic),
        wrong: format!("its catalogue holds {ROLLS_MAX} rolls, which is all it may"),
        right: "use one of them".to_owned(),
    })
}

impl Service {
    async fn record_roll(
        &self,
        given: &v1::RecordRollRequest,
    ) -> Result<v1::RecordRollResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let id = request_id(&given.request_id)?;
        let content = Content::Roll(self.roll(given.roll.as_ref())?);
        let position = clinic
            .write(
                ("RecordRoll", id),
                &[(Kind::Band, None, content)],
                |stream| room(clinic.id.as_str(), &stream.catalogue),
            )
            .await?;
        Ok(v1::RecordRollResponse {
            roll: Some(kept_roll(&clinic, position)?),
        })
    }

    /// The roll of a request, with everything that is wrong with it.
    fn roll(&self, given: Option<&v1::Roll>) -> Result<content::Roll, Refusal> {
        let mut reader = Reader::default();
        let Some(given) = given else {
            reader.missing::<()>("roll", "say what was measured");
            return Err(Refusal::Fields(reader.violations));
        };
        let roll = roll_from_wire("roll", given, &mut reader);
        let latest = latest_date(&self.clock);
        if roll.as_ref().is_some_and(|roll| roll.measured_on > latest) {
            let right = format!("a date up to {latest}");
            let wrong = "dated in the future";
            reader.refuse::<()>("roll.measured_on", Reason::InTheFuture, wrong, right);
        }
        roll.filter(|_| reader.violations.is_empty())
            .ok_or(Refusal::Fields(reader.violations))
    }

    async fn withdraw_roll(
        &self,
        given: &v1::WithdrawRollRequest,
    ) -> Result<v1::WithdrawRollResponse, Refusal> {
        let (clinic, roll) = roll_field("name", &given.name)?;
        let id = request_id(&given.request_id)?;
        let date = present_date_field(&self.clock, "date", &given.date)?;
        let mut reader = Reader::default();
        let who = reader.text("who", &given.who, WHO_BYTES_MAX);
        let why = reader.text("why", &given.why, WHY_BYTES_MAX);
        let (Some(who), Some(why)) = (who, why) else {
            return Err(Refusal::Fields(reader.violations));
        };
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        let content = Content::RollWithdrawal(RollWithdrawal {
            roll,
            date,
            who: who.into(),
            why,
        });
        let stands = |stream: &Stream| {
            let kept = stream
                .catalogue
                .roll(roll)
                .ok_or_else(|| no_roll(&given.name))?;
            match &kept.withdrawal {
                None => Ok(()),
                Some(earlier) => Err(Refusal::Precondition {
                    reason: Reason::AlreadyWithdrawn,
                    subject: given.name.clone(),
                    wrong: format!("it was withdrawn on {}", earlier.date),
                    right: "leave it so, or record the roll anew".to_owned(),
                }),
            }
        };
        clinic
            .write(("WithdrawRoll", id), &[(Kind::Band, None, content)], stands)
            .await?;
        Ok(v1::WithdrawRollResponse {
            roll: Some(kept_roll(&clinic, roll)?),
        })
    }

    fn get_roll(&self, given: &v1::GetRollRequest) -> Result<v1::GetRollResponse, Refusal> {
        let (clinic, position) = roll_field("name", &given.name)?;
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        Ok(v1::GetRollResponse {
            roll: Some(kept_roll(&clinic, position)?),
        })
    }

    fn list_rolls(&self, given: &v1::ListRollsRequest) -> Result<v1::ListRollsResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let size = page_size(given.page_size)?;
        let withdrawn = given.include_withdrawn;
        let conditions = [
            "ListRolls",
            given.parent.as_str(),
            given.label.as_str(),
            if withdrawn { "withdrawn too" } else { "" },
        ];
        let start = page::start(&given.page_token, &conditions)?;
        let wanted = |kept: &KeptRoll| {
            (given.label.is_empty() || *kept.roll.piece.label == *given.label)
                && (withdrawn || kept.withdrawal.is_none())
        };
        let (rolls, next) = clinic.in_stream(|stream| {
            let catalogue = &stream.catalogue;
            let rolls = catalogue.recorded_from(start);
            let mut found = rolls
                .filter(|(_, kept)| wanted(kept))
                .map(|(position, _)| position);
            let page: Vec<v1::Roll> = (&mut found)
                .take(size)
                .filter_map(|position| catalogue.to_wire(clinic.id.as_str(), position))
                .collect();
            (page, found.next())
        });
        Ok(v1::ListRollsResponse {
            rolls,
            next_page_token: next
                .map(|next| page::token(next, &conditions))
                .unwrap_or_default(),
        })
    }
}

/// The roll recorded at this position, as it stands.
fn kept_roll(clinic: &Clinic, position: u64) -> Result<v1::Roll, Refusal> {
    let id = clinic.id.as_str();
    clinic
        .in_stream(|stream| stream.catalogue.to_wire(id, position))
        .ok_or_else(|| no_roll(&roll_name(id, position)))
}

#[tonic::async_trait]
impl BandService for Bands {
    async fn record_roll(
        &self,
        request: Request<v1::RecordRollRequest>,
    ) -> Result<Response<v1::RecordRollResponse>, Status> {
        Ok(Response::new(self.0.record_roll(request.get_ref()).await?))
    }

    async fn get_roll(
        &self,
        request: Request<v1::GetRollRequest>,
    ) -> Result<Response<v1::GetRollResponse>, Status> {
        Ok(Response::new(self.0.get_roll(request.get_ref())?))
    }

    async fn list_rolls(
        &self,
        request: Request<v1::ListRollsRequest>,
    ) -> Result<Response<v1::ListRollsResponse>, Status> {
        Ok(Response::new(self.0.list_rolls(request.get_ref())?))
    }

    async fn withdraw_roll(
        &self,
        request: Request<v1::WithdrawRollRequest>,
    ) -> Result<Response<v1::WithdrawRollResponse>, Status> {
        Ok(Response::new(
            self.0.withdraw_roll(request.get_ref()).await?,
        ))
    }
}

#[cfg(test)]
mod tests;

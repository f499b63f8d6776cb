//! Facts of a request: read under the episode's pack, their bands cut from the rolls that they name.
//!
//! What a roll says is written into the fact, so that a decision is a function of the episode's facts alone.
//!
//! Leaves to others: what a fact may look like (`rungwise_api::from_wire`, `rungwise_engine::admit`), the catalogue
//! (`crate::catalogue`).

use crate::clinic::Clinic;
use rungwise_api::Violation;
use rungwise_api::from_wire::{Reader, fact_from_wire, shown};
use rungwise_api::name::{EpisodeName, roll_from_name};
use rungwise_api::to_wire::band_to_wire;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::{self, Reason};
use rungwise_engine::fact::Fact;
use rungwise_pack::model::Pack;

/// Reads the facts of one request.
pub(crate) struct Reported<'a> {
    clinic: &'a Clinic,
    pack: &'a Pack,
    episode: &'a EpisodeName,
    /// What is wrong with them.
    pub(crate) reader: Reader,
    /// Bands cut from rolls that were withdrawn. Their facts are read, since a request that was recorded before the
    /// withdrawal may come again; new they are refused.
    pub(crate) withdrawn: Vec<Violation>,
}

impl<'a> Reported<'a> {
    /// For facts of an episode of this clinic.
    pub(crate) fn new(clinic: &'a Clinic, pack: &'a Pack, episode: &'a EpisodeName) -> Self {
        Self {
            clinic,
            pack,
            episode,
            reader: Reader::default(),
            withdrawn: Vec::new(),
        }
    }

    /// A fact; what is wrong with it is kept, each under `path`.
    pub(crate) fn fact(&mut self, path: &str, fact: &v1::Fact) -> Option<Fact> {
        let cut = match &fact.kind {
            Some(Kind::Equipment(equipment))
                if equipment.bands.iter().any(|band| !band.roll.is_empty()) =>
            {
                let equipment = self.cut(&format!("{path}.equipment"), equipment)?;
                Some(v1::Fact {
                    kind: Some(Kind::Equipment(equipment)),
                    ..fact.clone()
                })
            }
            _ => None,
        };
        let fact = cut.as_ref().unwrap_or(fact);
        fact_from_wire(self.pack, self.episode, path, fact, &mut self.reader)
    }

    /// The same equipment, each band that names a roll with what the roll says.
    fn cut(&mut self, path: &str, equipment: &v1::Equipment) -> Option<v1::Equipment> {
        let bands: Vec<Option<v1::MeasuredBand>> = equipment
            .bands
            .iter()
            .enumerate()
            .map(|(at, band)| match band.roll.as_str() {
                "" => Some(band.clone()),
                roll => self.cut_from(&format!("{path}.bands[{at}]"), roll, band),
            })
            .collect();
        Some(v1::Equipment {
            bands: bands.into_iter().collect::<Option<_>>()?,
            ..equipment.clone()
        })
    }

    fn cut_from(
        &mut self,
        path: &str,
        roll: &str,
        band: &v1::MeasuredBand,
    ) -> Option<v1::MeasuredBand> {
        let before = self.reader.violations.len();
        let said = [
            ("points", !band.points.is_empty()),
            ("elongation_max", !band.elongation_max.is_empty()),
        ];
        for (field, _) in said.iter().filter(|(_, is_said)| *is_said) {
            let wrong = "the roll says it already";
            let right = "leave it empty, or name no roll";
            let path = format!("{path}.{field}");
            self.reader
                .refuse::<()>(&path, Reason::SaidAlready, wrong, right);
        }
        let path = format!("{path}.roll");
        let position = roll_from_name(roll).filter(|(clinic, _)| clinic == self.clinic.id.as_str());
        let found = position.and_then(|(_, position)| {
            self.clinic.in_stream(|stream| {
                let kept = stream.catalogue.roll(position)?;
                let withdrawn_on = kept.withdrawal.as_ref().map(|withdrawal| withdrawal.date);
                Some((band_to_wire(&kept.roll.piece), withdrawn_on))
            })
        });
        let right =
            "name a roll of the clinic, `clinics/{clinic}/rolls/{roll}`; ListRolls lists them";
        let Some((piece, withdrawn_on)) = found else {
            let wrong = format!("no roll `{}` is in the catalogue", shown(roll));
            return self.reader.refuse(&path, Reason::UnknownRoll, wrong, right);
        };
        if let Some(date) = withdrawn_on {
            let wrong = format!("the roll was withdrawn on {date}");
            self.withdrawn
                .push(Violation::new(path, Reason::UnknownRoll, wrong, right));
        }
        let label = match band.label.as_str() {
            "" => piece.label,
            label => label.to_owned(),
        };
        (self.reader.violations.len() == before).then_some(v1::MeasuredBand {
            label,
            rest_length_mm: band.rest_length_mm,
            may_be_doubled: band.may_be_doubled,
            ..piece
        })
    }
}

//! What a person has to set a load with on a date: measured bands, room and height, as the facts say.
//!
//! Leaves to others: setting it (`super::fit`).

use crate::fact::{Equipment, FactKind, Position};
use crate::history::{History, Val, fact_of, value_in};
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_bands::band::Band;
use rungwise_bands::body::Body;
use rungwise_bands::curve::{Curve, Measured};
use rungwise_pack::model::{MeasureKind, Pack};
use rungwise_pack::quantity::Milli;
use std::cell::OnceCell;

/// What there is to set a load with.
#[derive(Clone, Debug)]
pub(crate) struct Bench<'a> {
    /// From which position on what is owned is known; none: nobody said.
    pub(crate) position: Option<Position>,
    /// Standing height; none: not known, or too long ago.
    pub(crate) height_mm: Option<u32>,
    equipment: Option<&'a Equipment>,
    /// The bands and whether each may be doubled, made when first needed.
    bands: OnceCell<Vec<(Band, bool)>>,
}

impl<'a> Bench<'a> {
    /// What there is on a date: the latest list of equipment, and the last height given, while it is fresh.
    pub(crate) fn on(pack: &Pack, history: &'a History, as_of: Date) -> Self {
        Self::of_height(history, as_of, height_mm(pack, history, as_of))
    }

    /// The same with a height known from elsewhere.
    pub(crate) fn of_height(history: &'a History, as_of: Date, height_mm: Option<u32>) -> Self {
        let lists = history.index().equipment.iter();
        let newest = lists
            .filter(|one| one.date <= as_of)
            .max_by_key(|one| (one.date, one.position));
        let equipment = newest.and_then(|one| {
            let record = history.records().get(one.record as usize)?;
            match &fact_of(record)?.kind {
                FactKind::Equipment(equipment) => Some(equipment),
                _ => None,
            }
        });
        Self {
            position: newest.map(|one| one.known),
            height_mm,
            equipment,
            bands: OnceCell::new(),
        }
    }

    /// Whether a load can be measured at all: there is a measured band, and the height is known.
    pub(crate) fn measures(&self) -> bool {
        self.height_mm.is_some() && self.equipment.is_some_and(|one| !one.bands.is_empty())
    }

    /// The bands, each with whether it may be doubled. One whose readings make no curve is left out: admitting refuses it.
    pub(super) fn bands(&self) -> &[(Band, bool)] {
        self.bands.get_or_init(|| {
            let bands = self.equipment.iter().flat_map(|one| &one.bands);
            bands
                .filter_map(|band| {
                    let points = band.points.iter().map(|point| Measured {
                        elongation_mpct: point.elongation.0,
                        force_mn: point.force.0,
                    });
                    let points: Vec<Measured> = points.collect();
                    let curve = Curve::from_points(&points).ok()?;
                    let label = band.label.as_ref().into();
                    let safe_mpct = band.elongation_max.0;
                    let rest_length_mm = u32::try_from(band.rest_length_mm).ok()?;
                    let made = Band::new(label, rest_length_mm, curve, safe_mpct).ok()?;
                    Some((made, band.may_be_doubled))
                })
                .collect()
        })
    }

    /// The furthest that there is room to stand, where it was said.
    pub(super) fn room_mm(&self) -> Option<u32> {
        let room_mm = self.equipment.and_then(|one| one.room_mm)?;
        u32::try_from(room_mm).ok()
    }

    /// The person, as far as the motions need them.
    pub(super) fn body(&self) -> Option<Body> {
        Body::from_height(i64::from(self.height_mm?)).ok()
    }
}

/// The last standing height given on or before `as_of`, while it is fresh, in whole mm rounded down.
fn height_mm(pack: &Pack, history: &History, as_of: Date) -> Option<u32> {
    let index = pack.height?;
    let measure = pack.measures.get(index.at())?;
    let sheets = history.index().assessments.iter().rev();
    let mut given = sheets
        .filter(|sheet| sheet.date <= as_of)
        .filter_map(|sheet| Some((sheet.date, value_in(&sheet.values, index)?)));
    let (date, value) = given.next()?;
    if let Some(fresh) = measure.fresh_days {
        let last = date.checked_add(i64::from(fresh).days()).ok()?;
        if as_of > last {
            return None;
        }
    }
    let (Val::Number(thousandths), MeasureKind::Number { unit, .. }) = (value, &measure.kind)
    else {
        return None;
    };
    let Milli(mm) = match &*unit.code {
        "m" => Milli(thousandths),
        "cm" => Milli(thousandths.div_euclid(100)),
        _ => Milli(thousandths.div_euclid(1000)),
    };
    u32::try_from(mm).ok()
}

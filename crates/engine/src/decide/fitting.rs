//! Loads of exercises with a band: what a climb needs to raise one, and every place's setting once the lines have moved.
//!
//! Leaves to others: the mechanics and what a setting is (`crate::band`).

use super::case::Case;
use super::stand::{Spot, Stand};
use crate::band::{Ask, Dose, Hold, Rise, Setting, dose_of, fit, settle};
use crate::decision::Cause;
use crate::ladder;
use rungwise_pack::model::{BandWork, Exercise};

/// Sets every place's band: what still holds is kept, and what was set otherwise counts anew.
pub(crate) fn settle_all(case: &Case<'_>, stand: &mut Stand) {
    for spot in &mut stand.spots {
        settle_one(case, spot);
    }
}

/// Sets only places that were never set: those of a *place* on which no decision has acted.
pub(crate) fn settle_new(case: &Case<'_>, stand: &mut Stand) {
    for spot in stand.spots.iter_mut().filter(|spot| spot.setting.is_none()) {
        settle_one(case, spot);
    }
}

fn settle_one(case: &Case<'_>, spot: &mut Spot) {
    let Some((work, dose)) = work_of(case, spot) else {
        spot.setting = None;
        return;
    };
    let Some(now) = settle(case.bench(), work, dose, spot.setting.as_ref(), case.no) else {
        return;
    };
    if spot
        .setting
        .as_ref()
        .is_some_and(|was| !holds_the_same(was, &now))
    {
        spot.set_anew = case.no;
    }
    spot.setting = Some(now);
}

/// Whether two settings ask the same of the same band.
fn holds_the_same(was: &Setting, now: &Setting) -> bool {
    match (&was.hold, &now.hold) {
        (Hold::Set(was), Hold::Set(now)) => was.grip == now.grip,
        (Hold::Unmeasured, Hold::Unmeasured) | (Hold::None(_), Hold::None(_)) => true,
        _ => false,
    }
}

fn work_of<'c>(case: &'c Case<'_>, spot: &Spot) -> Option<(&'c BandWork, Dose)> {
    let exercise: &Exercise = case.pack.exercises.get(spot.exercise.at())?;
    let work = exercise.band.as_ref()?;
    let dose = dose_of(exercise, &ladder::dose(exercise, spot.rung, &spot.relief))?;
    Some((work, dose))
}

/// Whether a place's exercise is left out because nothing that is owned can be set.
pub(crate) fn is_left_out(spot: &Spot) -> Option<Cause> {
    match &spot.setting.as_ref()?.hold {
        Hold::None(binds) => Some(Cause::NoBandFits(*binds)),
        Hold::Unmeasured | Hold::Set(_) => None,
    }
}

/// A place whose load obtained is short of its dose's, a step nearer to it. None: it is not short, or nothing fits.
pub(crate) fn nearer(case: &Case<'_>, spot: &Spot) -> Option<Spot> {
    let (work, dose) = work_of(case, spot)?;
    let held = spot.setting.as_ref()?.held()?;
    if !held.is_short || !case.bench().measures() {
        return None;
    }
    let mut to = spot.clone();
    to.set_anew = case.no;
    step(case, work, dose, spot, &mut to).ok()?;
    Some(to)
}

/// Sets the band of the place that a line climbs to. A load above the one before needs a setting within one step of it.
///
/// # Errors
/// Why the load is not raised.
pub(crate) fn fit_climb(case: &Case<'_>, from: &Spot, to: &mut Spot) -> Result<(), Cause> {
    let Some((work, dose)) = work_of(case, to) else {
        return Ok(());
    };
    if to.exercise != from.exercise {
        settle_one(case, to);
        return is_left_out(to).map_or(Ok(()), Err);
    }
    let Some(was) = &from.setting else {
        return Err(Cause::LoadUnmeasured);
    };
    let raises = dose.load > was.load;
    match &was.hold {
        Hold::Unmeasured if raises => Err(Cause::LoadUnmeasured),
        Hold::None(binds) => Err(Cause::NoBandFits(*binds)),
        Hold::Set(_) if raises && !case.bench().measures() => Err(Cause::LoadUnmeasured),
        Hold::Set(_) if raises => step(case, work, dose, from, to),
        Hold::Set(_) | Hold::Unmeasured => {
            settle_one(case, to);
            is_left_out(to).map_or(Ok(()), Err)
        }
    }
}

/// A step up in load from what was obtained.
fn step(
    case: &Case<'_>,
    work: &BandWork,
    dose: Dose,
    from: &Spot,
    to: &mut Spot,
) -> Result<(), Cause> {
    let was = from.setting.as_ref().and_then(Setting::held);
    let Some(was) = was else {
        return Err(Cause::LoadUnmeasured);
    };
    let ask = Ask {
        dose,
        at_most: dose.load,
        rise: Some(Rise {
            from_mnm: was.torque_mnm,
        }),
        last: Some(was),
        by: case.no,
    };
    match fit(case.bench(), work, &ask) {
        Ok(held) => {
            to.setting = Some(Setting::new(case.bench(), dose, Hold::Set(held), None));
            Ok(())
        }
        Err(binds) => Err(Cause::NoBandFits(binds)),
    }
}

//! A dose set with what a person has.
//!
//! Leaves to others: which load is asked for (`crate::decide`).

use super::{Bench, Bind, Binds, Grip, Held};
use crate::fact::DecisionNo;
use crate::ladder;
use rungwise_bands::body::GRIP_MPCT;
use rungwise_bands::motion::{Anchored, Apart, Arc, Height, Motion, Underfoot};
use rungwise_bands::profile::Setting;
use rungwise_bands::solve::{self, Counts, Owned, OwnedBand, SolveError, Step, Wanted, solve};
use rungwise_pack::model::{BandHeight, BandMotion, BandWork, Exercise, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

/// The load of a dose and where its motion ends.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Dose {
    /// The load.
    pub(crate) load: Milli,
    /// The end of the motion, in thousandths of a degree.
    pub(crate) to_mdeg: i64,
}

/// What is asked of the bands.
pub(crate) struct Ask<'a> {
    /// The dose.
    pub(crate) dose: Dose,
    /// The load that may not be passed: the dose's or less.
    pub(crate) at_most: Milli,
    /// A step up from the load before; none: the highest that can be had.
    pub(crate) rise: Option<Rise>,
    /// How the band is held now.
    pub(crate) last: Option<&'a Held>,
    /// The decision that asks.
    pub(crate) by: DecisionNo,
}

/// A step up within the exercise's bounds.
#[derive(Clone, Copy)]
pub(crate) struct Rise {
    /// The load obtained before.
    pub(crate) from_mnm: i64,
}

/// The load and the end of the motion of a dose; none where the exercise has no band.
pub(crate) fn dose_of(exercise: &Exercise, dose: &[u16]) -> Option<Dose> {
    let work = exercise.band.as_ref()?;
    let number = |variable: Variable| {
        let row = ladder::row_of(exercise, variable)?;
        let index = usize::from(*dose.get(row)?);
        match &exercise.rows.get(row)?.values.get(index)?.value {
            RowValue::Number(number) => Some(*number),
            RowValue::Label(_) => None,
        }
    };
    let to_mdeg = match work.to_mdeg {
        Some(to_mdeg) => to_mdeg,
        None => work.from_mdeg.checked_add(number(Variable::Range)?.0)?,
    };
    Some(Dose {
        load: number(Variable::Load)?,
        to_mdeg,
    })
}

/// How the dose is held with what there is. The load obtained is never above `at_most`.
///
/// # Errors
/// What binds for the band that changes least.
pub(crate) fn fit(bench: &Bench<'_>, work: &BandWork, ask: &Ask<'_>) -> Result<Held, Binds> {
    let bands = bench.bands();
    let Some(body) = bench.body().filter(|_| !bands.is_empty()) else {
        return Err(binds(Bind::NothingOwned, 0));
    };
    let owned: Vec<OwnedBand<'_>> = bands
        .iter()
        .map(|(band, may_be_doubled)| OwnedBand {
            band,
            may_be_doubled: *may_be_doubled,
        })
        .collect();
    let (stance_mm_min, furthest_mm) = work
        .motion
        .anchored()
        .map_or((0, 0), |anchored| anchored.distance_mm);
    let stance_mm_max = bench
        .room_mm()
        .map_or(furthest_mm, |room| room.min(furthest_mm));
    if stance_mm_max < stance_mm_min {
        return Err(binds(Bind::Room, i64::from(stance_mm_min - stance_mm_max)));
    }
    let last = ask.last.and_then(|last| {
        let at = bands
            .iter()
            .position(|(band, _)| *band.label == *last.grip.band)?;
        Some(Setting {
            band: at,
            strands: last.grip.strands,
            working_length_mm: last.grip.working_length_mm,
            stance_mm: last.grip.stance_mm,
        })
    });
    let owned = Owned {
        bands: &owned,
        body: &body,
        stance_mm_min,
        stance_mm_max,
        working_length_mm_min: shortest_mm(&work.motion),
        last,
    };
    let wanted = Wanted {
        torque_mnm: ask.at_most.0,
        at_mdeg: work.load_at_mdeg,
        arc: Arc {
            from_mdeg: work.from_mdeg,
            to_mdeg: ask.dose.to_mdeg,
        },
        counts: Counts::Band,
        start_mn_min: work.start_mn_min,
        step: ask.rise.map(|rise| Step {
            last_mnm: rise.from_mnm,
            mpct_min: work.step_min_mpct,
            mpct_max: work.step_max_mpct,
        }),
        short_mpct_max: work.step_max_mpct,
    };
    let fit = solve(&motion(&work.motion), &owned, &wanted).map_err(|error| bound(&error))?;
    let Some((band, _)) = bands.get(fit.setting.band) else {
        return Err(binds(Bind::NothingOwned, 0));
    };
    let grip = Grip {
        band: band.label.as_str().into(),
        strands: fit.setting.strands,
        working_length_mm: fit.setting.working_length_mm,
        stance_mm: fit.setting.stance_mm,
    };
    Ok(Held {
        grip,
        torque_mnm: fit.load_mnm,
        start_mn: fit.summary.start_mn,
        end_mn: fit.summary.end_mn,
        is_short: is_short(work, ask.dose.load, fit.load_mnm),
        by: ask.by,
        before: ask.last.map(|last| (last.grip.clone(), last.torque_mnm)),
    })
}

/// A hundred percent, in thousandths of one.
const WHOLE_MPCT: i128 = 100_000;

/// Whether a load obtained is further below the dose's than a step may be.
fn is_short(work: &BandWork, load: Milli, obtained_mnm: i64) -> bool {
    let least = i128::from(load.0) * (WHOLE_MPCT - i128::from(work.step_max_mpct));
    i128::from(obtained_mnm) * WHOLE_MPCT < least
}

fn shortest_mm(motion: &BandMotion) -> u32 {
    match motion {
        BandMotion::Elevation { shortest_mm, .. } | BandMotion::HandsApart { shortest_mm, .. } => {
            *shortest_mm
        }
        BandMotion::Rotation(_) | BandMotion::Extension(_) => 1,
    }
}

const fn height(of: BandHeight) -> Height {
    match of {
        BandHeight::AboveFloor(mm) => Height::Floor(mm),
        BandHeight::AboveJoint(mm) => Height::Joint(mm),
    }
}

fn anchored(of: &rungwise_pack::model::Anchored) -> Anchored {
    Anchored {
        height: height(of.height),
        bearing_mdeg: of.bearing_mdeg,
        ahead_mm: of.ahead_mm,
        aside_mm: of.aside_mm,
        working_length_mm: of.working_length_mm,
        grip_mpct: of.grip_mpct.unwrap_or(GRIP_MPCT),
    }
}

/// A pack's motion as the mechanics know it: the middle of the hand where the pack says nothing of the grip.
#[must_use]
pub fn motion(of: &BandMotion) -> Motion {
    match of {
        BandMotion::Rotation(of) => Motion::Rotation(anchored(of)),
        BandMotion::Extension(of) => Motion::Extension(anchored(of)),
        BandMotion::Elevation {
            out_mm,
            off_mm,
            height_mm,
            grip_mpct,
            ..
        } => Motion::Elevation(Underfoot {
            out_mm: *out_mm,
            off_mm: *off_mm,
            height_mm: *height_mm,
            grip_mpct: grip_mpct.unwrap_or(GRIP_MPCT),
        }),
        BandMotion::HandsApart {
            height: of,
            grip_mpct,
            ..
        } => Motion::HandsApart(Apart {
            height: height(*of),
            grip_mpct: grip_mpct.unwrap_or(GRIP_MPCT),
        }),
    }
}

const fn binds(what: Bind, by: i64) -> Binds {
    Binds { what, by }
}

/// What binds, as the solver says it. INVARIANT (fail-closed): whatever goes wrong there sets nothing.
fn bound(error: &SolveError) -> Binds {
    match error {
        SolveError::NoFit(none) => match none.bind() {
            solve::Bind::NothingOwned => binds(Bind::NothingOwned, 0),
            solve::Bind::Room { over_mm } => binds(Bind::Room, over_mm),
            solve::Bind::Near { over_mm } => binds(Bind::Near, over_mm),
            solve::Bind::Hold { over_mm } => binds(Bind::TooShort, over_mm),
            solve::Bind::Start { slack_mm, .. } if slack_mm > 0 => binds(Bind::Slack, slack_mm),
            solve::Bind::Start { short_mn, .. } => binds(Bind::Tension, short_mn),
            solve::Bind::Elongation { over_mpct } => binds(Bind::Elongation, over_mpct),
            solve::Bind::StepTooLarge { over_mpct } => binds(Bind::StepTooLarge, over_mpct),
            solve::Bind::TooHeavy { over_mnm } => binds(Bind::TooHeavy, over_mnm),
            solve::Bind::TooLight { short_mnm } => binds(Bind::TooLight, short_mnm),
            solve::Bind::NoMoment => binds(Bind::Motion, 0),
        },
        SolveError::NoStep {
            wanted_mnm,
            least_mnm,
            ..
        } => binds(Bind::TooLight, least_mnm.saturating_sub(*wanted_mnm)),
        SolveError::Motion(_)
        | SolveError::Bounds { .. }
        | SolveError::MassUnknown
        | SolveError::Unsound(_) => binds(Bind::Motion, 0),
    }
}

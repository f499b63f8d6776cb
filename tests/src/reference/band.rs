//! Loads of exercises with a band: what a place asks of one, settled after the lines have moved, and raised by climbs.
//!
//! What a band pulls with is taken from `rungwise-bands` as data. Leaves to others: everything else of a climb
//! (`super::climb`).

use super::climb::may_hold;
use super::context::Context;
use super::dose::{Spot, effective_rows, effective_spot};
use super::lines::Making;
use super::rule::judge;
use super::view::{View, days_between};
use rungwise_bands::band::Band;
use rungwise_bands::body::{Body, GRIP_MPCT};
use rungwise_bands::curve::{Curve, Measured};
use rungwise_bands::motion::{Anchored, Apart, Arc, Height, Motion, Underfoot};
use rungwise_bands::profile;
use rungwise_bands::solve::{
    Bind as Bound, Counts, Owned, OwnedBand, SolveError, Step, Wanted, solve,
};
use rungwise_engine::band::{Bind, Binds, Grip, Held, Hold, Setting};
use rungwise_engine::decision::{Place, RuleVerdict, State};
use rungwise_engine::fact::{DecisionNo, Equipment, FactKind, Position, Value};
use rungwise_pack::model::{BandHeight, BandMotion, BandWork, CheckedPack, MeasureKind, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

/// What somebody has on a date.
struct Has {
    known: Option<Position>,
    height_mm: Option<u32>,
    list: Equipment,
}

fn has(view: &View<'_>) -> Has {
    let lists = view
        .entries
        .iter()
        .filter_map(|entry| match &entry.fact.kind {
            FactKind::Equipment(list) => Some((entry.fact.date, entry.position, entry.known, list)),
            _ => None,
        });
    let newest = lists.max_by_key(|(date, position, ..)| (*date, *position));
    Has {
        known: newest.map(|(_, _, known, _)| known),
        height_mm: height_mm(view),
        list: newest.map_or_else(Equipment::default, |(.., list)| list.clone()),
    }
}

fn height_mm(view: &View<'_>) -> Option<u32> {
    let measure = &view.pack.measures[view.pack.height?.at()];
    let mut given = Vec::new();
    for entry in &view.entries {
        let FactKind::Assessment(assessment) = &entry.fact.kind else {
            continue;
        };
        for reading in assessment
            .readings
            .iter()
            .filter(|one| one.measure == measure.name && one.value != Value::CouldNot)
        {
            given.push((entry.fact.date, entry.position, &reading.value));
        }
    }
    given.sort_by_key(|(date, position, _)| (*date, *position));
    let (date, _, value) = given.last()?;
    if measure
        .fresh_days
        .is_some_and(|days| days_between(*date, view.today) > i64::from(days))
    {
        return None;
    }
    let (Value::Number(Milli(milli)), MeasureKind::Number { unit, .. }) = (value, &measure.kind)
    else {
        return None;
    };
    let per_mm = match &*unit.code {
        "mm" => 1000,
        "cm" => 100,
        _ => 1,
    };
    u32::try_from(milli / per_mm).ok()
}

impl Has {
    fn measures(&self) -> bool {
        self.height_mm.is_some() && !self.list.bands.is_empty()
    }

    fn bands(&self) -> Vec<(Band, bool)> {
        let one = |band: &rungwise_engine::fact::MeasuredBand| {
            let points: Vec<Measured> = band
                .points
                .iter()
                .map(|point| Measured {
                    elongation_mpct: point.elongation.0,
                    force_mn: point.force.0,
                })
                .collect();
            let curve = Curve::from_points(&points).expect("admitted");
            let made = Band::new(
                band.label.to_string(),
                band.rest_length_mm as u32,
                curve,
                band.elongation_max.0,
            );
            (made.expect("admitted"), band.may_be_doubled)
        };
        self.list.bands.iter().map(one).collect()
    }
}

/// The load of a dose and the end of its motion.
fn dose(pack: &CheckedPack, place: &Place) -> Option<(BandWork, Milli, i64)> {
    let exercise = &pack.exercises[pack.exercise(&place.exercise)?.at()];
    let work = exercise.band.clone()?;
    let rows = effective_rows(exercise, place);
    let number = |variable| {
        let row = exercise
            .rows
            .iter()
            .position(|row| row.variable == variable)?;
        match exercise.rows[row].values[rows[row]].value {
            RowValue::Number(number) => Some(number),
            RowValue::Label(_) => None,
        }
    };
    let to_mdeg = work
        .to_mdeg
        .or_else(|| Some(work.from_mdeg + number(Variable::Range)?.0));
    Some((work, number(Variable::Load)?, to_mdeg?))
}

/// A band set, or what binds: at most `at_most`; a step up `from` a load, where one is asked for.
#[allow(clippy::too_many_lines, reason = "one question")]
fn set(
    has: &Has,
    (work, load, to_mdeg): &(BandWork, Milli, i64),
    (at_most, from): (i64, Option<i64>),
    last: Option<&Held>,
    by: DecisionNo,
) -> Result<Held, Binds> {
    let no = |what, by| Err(Binds { what, by });
    let bands = has.bands();
    let body = has
        .height_mm
        .and_then(|mm| Body::from_height(i64::from(mm)).ok());
    let Some(body) = body.filter(|_| !bands.is_empty()) else {
        return no(Bind::NothingOwned, 0);
    };
    let (near, far) = work
        .motion
        .anchored()
        .map_or((0, 0), |anchored| anchored.distance_mm);
    let room = has.list.room_mm.map_or(far, |room| far.min(room as u32));
    if room < near {
        return no(Bind::Room, i64::from(near - room));
    }
    let owned: Vec<OwnedBand<'_>> = bands
        .iter()
        .map(|(band, may_be_doubled)| OwnedBand {
            band,
            may_be_doubled: *may_be_doubled,
        })
        .collect();
    let last_setting = last.and_then(|last| {
        Some(profile::Setting {
            band: bands
                .iter()
                .position(|(band, _)| band.label == *last.grip.band)?,
            strands: last.grip.strands,
            working_length_mm: last.grip.working_length_mm,
            stance_mm: last.grip.stance_mm,
        })
    });
    let found = solve(
        &motion(&work.motion),
        &Owned {
            bands: &owned,
            body: &body,
            stance_mm_min: near,
            stance_mm_max: room,
            working_length_mm_min: match work.motion {
                BandMotion::Elevation { shortest_mm, .. }
                | BandMotion::HandsApart { shortest_mm, .. } => shortest_mm,
                _ => 1,
            },
            last: last_setting,
        },
        &Wanted {
            torque_mnm: at_most,
            at_mdeg: work.load_at_mdeg,
            arc: Arc {
                from_mdeg: work.from_mdeg,
                to_mdeg: *to_mdeg,
            },
            counts: Counts::Band,
            start_mn_min: work.start_mn_min,
            step: from.map(|last_mnm| Step {
                last_mnm,
                mpct_min: work.step_min_mpct,
                mpct_max: work.step_max_mpct,
            }),
            short_mpct_max: work.step_max_mpct,
        },
    );
    match found {
        Ok(fit) => Ok(Held {
            grip: Grip {
                band: bands[fit.setting.band].0.label.as_str().into(),
                strands: fit.setting.strands,
                working_length_mm: fit.setting.working_length_mm,
                stance_mm: fit.setting.stance_mm,
            },
            torque_mnm: fit.load_mnm,
            start_mn: fit.summary.start_mn,
            end_mn: fit.summary.end_mn,
            is_short: fit.load_mnm * 100_000 < load.0 * (100_000 - work.step_max_mpct),
            by,
            before: last.map(|last| (last.grip.clone(), last.torque_mnm)),
        }),
        Err(SolveError::NoFit(none)) => match none.bind() {
            Bound::NothingOwned => no(Bind::NothingOwned, 0),
            Bound::Room { over_mm } => no(Bind::Room, over_mm),
            Bound::Near { over_mm } => no(Bind::Near, over_mm),
            Bound::Hold { over_mm } => no(Bind::TooShort, over_mm),
            Bound::Start { slack_mm, short_mn } => {
                if slack_mm > 0 {
                    no(Bind::Slack, slack_mm)
                } else {
                    no(Bind::Tension, short_mn)
                }
            }
            Bound::Elongation { over_mpct } => no(Bind::Elongation, over_mpct),
            Bound::StepTooLarge { over_mpct } => no(Bind::StepTooLarge, over_mpct),
            Bound::TooHeavy { over_mnm } => no(Bind::TooHeavy, over_mnm),
            Bound::TooLight { short_mnm } => no(Bind::TooLight, short_mnm),
            Bound::NoMoment => no(Bind::Motion, 0),
        },
        Err(SolveError::NoStep {
            wanted_mnm,
            least_mnm,
            ..
        }) => no(Bind::TooLight, least_mnm - wanted_mnm),
        Err(_) => no(Bind::Motion, 0),
    }
}

fn motion(of: &BandMotion) -> Motion {
    let height = |height: BandHeight| match height {
        BandHeight::AboveFloor(mm) => Height::Floor(mm),
        BandHeight::AboveJoint(mm) => Height::Joint(mm),
    };
    let anchored = |of: &rungwise_pack::model::Anchored| Anchored {
        height: height(of.height),
        bearing_mdeg: of.bearing_mdeg,
        ahead_mm: of.ahead_mm,
        aside_mm: of.aside_mm,
        working_length_mm: of.working_length_mm,
        grip_mpct: of.grip_mpct.unwrap_or(GRIP_MPCT),
    };
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

/// Reading 44 for one place.
fn settled(has: &Has, pack: &CheckedPack, place: &Place, by: DecisionNo) -> Place {
    let mut after = place.clone();
    let Some(wanted) = dose(pack, place) else {
        after.setting = None;
        return after;
    };
    let (_, load, to_mdeg) = &wanted;
    let was = place.setting.as_ref();
    let holds = was.is_some_and(|was| {
        let old_height = has.height_mm.is_none() && matches!(was.hold, Hold::Set(_));
        (was.load, was.to_mdeg, was.equipment) == (*load, *to_mdeg, has.known)
            && (was.height_mm == has.height_mm || old_height)
    });
    if holds {
        return after;
    }
    let obtained = was.and_then(|was| was.obtained);
    let hold = if has.measures() {
        let most = obtained.map_or(load.0, |(of, mnm)| {
            let share = i128::from(mnm) * i128::from(load.0) / i128::from(of.0);
            (share as i64).min(mnm).min(load.0)
        });
        match set(has, &wanted, (most, None), was.and_then(Setting::held), by) {
            Ok(held) => Hold::Set(held),
            Err(binds) => Hold::None(binds),
        }
    } else {
        Hold::Unmeasured
    };
    let now = new(has, &wanted, hold, obtained);
    let alike = was.is_none_or(|was| match (&was.hold, &now.hold) {
        (Hold::Set(was), Hold::Set(now)) => was.grip == now.grip,
        (Hold::None(_), Hold::None(_)) | (Hold::Unmeasured, Hold::Unmeasured) => true,
        _ => false,
    });
    if !alike {
        after.set_anew = by;
    }
    after.setting = Some(now);
    after
}

fn new(
    has: &Has,
    (_, load, to_mdeg): &(BandWork, Milli, i64),
    hold: Hold,
    before: Option<(Milli, i64)>,
) -> Setting {
    Setting {
        equipment: has.known,
        height_mm: has.height_mm,
        load: *load,
        to_mdeg: *to_mdeg,
        obtained: match &hold {
            Hold::Set(held) => Some((*load, held.torque_mnm)),
            _ => before,
        },
        hold,
    }
}

/// Settles every place of a state.
pub fn settle_state(view: &View<'_>, state: &mut State) {
    let (has, by) = (has(view), view.next_number());
    for place in &mut state.places {
        *place = settled(&has, view.pack, place, by);
    }
}

/// Reading 45: where a line that may climb goes to, given where it would go without a band.
#[must_use]
pub fn climb(
    making: &Making<'_>,
    ctx: &Context<'_>,
    spot: &Spot,
    target: Option<Spot>,
) -> Option<Spot> {
    let (pack, by) = (making.view.pack, making.number);
    let has = has(making.view);
    if let Some(Setting {
        hold: Hold::None(_),
        ..
    }) = spot.setting
    {
        return None;
    }
    let here = dose(pack, &spot.recorded(pack));
    let held = spot.setting.as_ref().and_then(Setting::held);
    let up = |to: &Spot, wanted: &(BandWork, Milli, i64)| {
        let held = held.filter(|_| has.measures())?;
        let step = (wanted.1.0, Some(held.torque_mnm));
        let raised = set(&has, wanted, step, Some(held), by).ok()?;
        let setting = Some(new(&has, wanted, Hold::Set(raised), None));
        Some(Spot {
            set_anew: by,
            setting,
            ..to.clone()
        })
    };
    if let (Some(here), Some(held)) = (&here, held)
        && held.is_short
        && may_hold(ctx, spot)
        && may_be_loaded(ctx, spot)
        && let Some(near) = up(spot, here)
    {
        return Some(near);
    }
    let target = target?;
    let place = target.recorded(pack);
    let Some(wanted) = dose(pack, &place) else {
        return Some(target);
    };
    if target.exercise == spot.exercise {
        let was = spot.setting.as_ref()?;
        if wanted.1 > was.load {
            return up(&target, &wanted);
        }
    }
    let settled = settled(&has, pack, &place, by);
    let left_out = matches!(
        settled.setting,
        Some(Setting {
            hold: Hold::None(_),
            ..
        })
    );
    (!left_out).then_some(Spot {
        set_anew: settled.set_anew,
        setting: settled.setting,
        ..target
    })
}

/// Reading 48.
#[must_use]
pub fn load_counts(place: &Place) -> bool {
    let held = place.setting.as_ref().and_then(Setting::held);
    held.is_some_and(|held| !held.is_short)
}

/// Whether what the load of a place needs is met.
fn may_be_loaded(ctx: &Context<'_>, spot: &Spot) -> bool {
    let exercise = &ctx.pack().exercises[spot.exercise.at()];
    let load = exercise.rows.iter().position(|row| row.is_sequence);
    let Some(row) = load else { return true };
    let at = effective_spot(ctx.pack(), spot)[row];
    let needs = exercise.rows[row].values[at].needs.as_ref();
    needs.is_none_or(|needs| judge(ctx, needs).verdict == RuleVerdict::Met)
}

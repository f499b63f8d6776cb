//! How the band of a prescribed exercise is held.
//!
//! Leaves to others: the words (`crate::sheet`), and setting it in a decision (`crate::decide`).

use super::{Basis, WhyLeftOut};
use crate::band::{Grip, Held, Hold, dose_of, settle};
use crate::decision::Place;
use crate::fact::DecisionNo;
use rungwise_pack::model::{BandMotion, Exercise};
use rungwise_pack::quantity::{Milli, Variable};

/// How the band of an exercise is held.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct BandItem {
    /// How; none: its load is not measured, and is kept.
    pub held: Option<Held>,
    /// How it was held last time, and the load obtained; as now, where the decision in force did not set it.
    pub last: Option<(Grip, i64)>,
    /// Whether one stands nearer or further; else the band is held shorter or longer.
    pub is_anchored: bool,
    /// The angle at which the load is stated.
    pub load_at: Milli,
    /// Whether the load gave way: with a load that is not measured, less pull than before.
    pub is_eased: bool,
}

impl BandItem {
    /// By how many mm further (nearer: negative) one stands than last time, or longer the band is held; none the first time,
    /// and where it is another band or has other strands.
    #[must_use]
    pub fn moved_mm(&self) -> Option<i32> {
        let (held, (last, _)) = (self.held.as_ref()?, self.last.as_ref()?);
        if last.band != held.grip.band || last.strands != held.grip.strands {
            return None;
        }
        let of = |grip: &Grip| {
            let mm = if self.is_anchored {
                grip.stance_mm
            } else {
                grip.working_length_mm
            };
            i32::try_from(mm).ok()
        };
        of(&held.grip)?.checked_sub(of(last)?)
    }
}

/// The change from one load to another in thousandths, rounded to the nearer one (half away from nought).
#[must_use]
pub fn change_permille(from_mnm: i64, to_mnm: i64) -> i64 {
    let (from, to) = (i128::from(from_mnm.max(1)), i128::from(to_mnm));
    let scaled = (to - from) * 2000;
    let half = if scaled < 0 { -from } else { from };
    let permille = (scaled + half).checked_div(from * 2).unwrap_or(0);
    i64::try_from(permille).unwrap_or(i64::MAX)
}

/// The band of a place, at its dose within every bound. A dose that is bounded is set for itself.
pub(super) fn item(
    basis: &Basis<'_>,
    exercise: &Exercise,
    place: &Place,
    dose: &[u16],
) -> Result<Option<BandItem>, WhyLeftOut> {
    let (Some(work), Some(wanted)) = (&exercise.band, dose_of(exercise, dose)) else {
        return Ok(None);
    };
    let no = basis.decision.unwrap_or(DecisionNo(0));
    let was = place.setting.as_ref();
    let is_bounded =
        was.is_some_and(|was| was.load != wanted.load || was.to_mdeg != wanted.to_mdeg);
    let bench = basis.bench.as_ref().filter(|_| is_bounded);
    let bounded = bench.and_then(|bench| settle(bench, work, wanted, was, no));
    let held = match bounded.as_ref().or(was).map(|setting| &setting.hold) {
        Some(Hold::None(binds)) => return Err(WhyLeftOut::NoBand(*binds)),
        Some(Hold::Set(held)) => Some(held.clone()),
        Some(Hold::Unmeasured) | None => None,
    };
    let last = held.as_ref().and_then(|held| {
        if held.by == no {
            held.before.clone()
        } else {
            Some((held.grip.clone(), held.torque_mnm))
        }
    });
    Ok(Some(BandItem {
        held,
        last,
        is_anchored: matches!(
            work.motion,
            BandMotion::Rotation(_) | BandMotion::Extension(_)
        ),
        load_at: Milli(work.load_at_mdeg),
        is_eased: place.relief.contains(&Variable::Load),
    }))
}

//! Keeping a setting that still holds, and setting the others anew without a load above the one before.
//!
//! Leaves to others: climbing (`crate::decide`).

use super::{Ask, Bench, Dose, Hold, Setting, fit};
use crate::fact::DecisionNo;
use rungwise_pack::model::BandWork;
use rungwise_pack::quantity::Milli;

/// The setting of a dose with what there is; none: the one it has still holds.
///
/// INVARIANT (fail-closed): no load here is above what was obtained before.
pub(crate) fn settle(
    bench: &Bench<'_>,
    work: &BandWork,
    dose: Dose,
    was: Option<&Setting>,
    by: DecisionNo,
) -> Option<Setting> {
    if let Some(was) = was {
        let same_dose = was.load == dose.load && was.to_mdeg == dose.to_mdeg;
        let same_bands = was.equipment == bench.position;
        // A height that grew old does not undo what was set with it.
        let grew_old = bench.height_mm.is_none() && was.held().is_some();
        if same_dose && same_bands && (was.height_mm == bench.height_mm || grew_old) {
            return None;
        }
    }
    let obtained = was.and_then(|was| was.obtained);
    let hold = if bench.measures() {
        let ask = Ask {
            dose,
            at_most: at_most(dose.load, obtained),
            rise: None,
            last: was.and_then(Setting::held),
            by,
        };
        match fit(bench, work, &ask) {
            Ok(held) => Hold::Set(held),
            Err(binds) => Hold::None(binds),
        }
    } else {
        Hold::Unmeasured
    };
    Some(Setting::new(bench, dose, hold, obtained))
}

/// The load that may not be passed: the one obtained before, less as much as the dose's is less than it was then.
fn at_most(load: Milli, obtained: Option<(Milli, i64)>) -> Milli {
    let Some((of, obtained_mnm)) = obtained else {
        return load;
    };
    let share = i128::from(obtained_mnm)
        .saturating_mul(i128::from(load.0))
        .checked_div(i128::from(of.0));
    let share = share.and_then(|share| i64::try_from(share).ok());
    Milli(share.unwrap_or(0).min(obtained_mnm).min(load.0))
}

impl Setting {
    /// One worked out now; what was obtained before is kept where nothing is set.
    pub(crate) fn new(
        bench: &Bench<'_>,
        dose: Dose,
        hold: Hold,
        before: Option<(Milli, i64)>,
    ) -> Self {
        let obtained = match &hold {
            Hold::Set(held) => Some((dose.load, held.torque_mnm)),
            Hold::Unmeasured | Hold::None(_) => before,
        };
        Self {
            equipment: bench.position,
            height_mm: bench.height_mm,
            load: dose.load,
            to_mdeg: dose.to_mdeg,
            hold,
            obtained,
        }
    }
}

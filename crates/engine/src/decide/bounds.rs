//! Doses within what a clinician orders and what is comfortable.
//!
//! Leaves to others: the prescription (`crate::prescription`), which is bounded the same way.

use super::case::Case;
use super::stand::Spot;
use crate::decision::Cause;
use crate::evaluate::{Context, Read, Reader, Scope, Tap, Value};
use crate::fact::{Order, Position, SetDone};
use crate::ladder;
use crate::prescription::{Bound, BoundBy, bound_dose};
use rungwise_pack::model::{Exercise, ExerciseIx, RowValue};
use rungwise_pack::quantity::{Milli, Variable};

/// The bounds that directives set on doses.
pub(crate) struct Bounds {
    orders: Vec<(Option<ExerciseIx>, Bound)>,
}

impl Bounds {
    /// Those that bind in a case.
    pub(crate) fn of(case: &Case<'_>) -> Self {
        let mut orders = Vec::new();
        for one in case.binding() {
            let by = BoundBy::Directive(one.position);
            match &one.directive.order {
                Order::Cap {
                    exercise,
                    variable,
                    at_most,
                } => {
                    let of = exercise.as_ref().map(|key| case.exercise(key));
                    let bound = Bound {
                        variable: *variable,
                        at_most: at_most.clone(),
                        by,
                    };
                    match of {
                        None => orders.push((None, bound)),
                        Some(Some(exercise)) => orders.push((Some(exercise), bound)),
                        Some(None) => {}
                    }
                }
                Order::SetDose { exercise, dose } => {
                    let Some(exercise) = case.exercise(exercise) else {
                        continue;
                    };
                    for (variable, at_most) in dose {
                        let bound = Bound {
                            variable: *variable,
                            at_most: at_most.clone(),
                            by: by.clone(),
                        };
                        orders.push((Some(exercise), bound));
                    }
                }
                _ => {}
            }
        }
        Self { orders }
    }

    fn on(&self, exercise: ExerciseIx) -> Vec<Bound> {
        let orders = self.orders.iter();
        orders
            .filter(|(of, _)| of.is_none_or(|of| of == exercise))
            .map(|(_, bound)| bound.clone())
            .collect()
    }

    /// Whether the sets done reached a place's dose, relief and directives counted: as many sets as the dose has, each
    /// of the first so many with its repetitions and its hold time. A ladder without sets asks for at least one, and all.
    pub(crate) fn reached(
        &self,
        case: &Case<'_>,
        spot: &Spot,
        exercise: &Exercise,
        sets: &[SetDone],
    ) -> bool {
        let dose = ladder::dose(exercise, spot.rung, &spot.relief);
        if let (_, Some(at_most)) = comfortable_range(case, spot.exercise, exercise)
            && ladder::cap(exercise, &dose, Variable::Range, &at_most).is_none()
        {
            return false;
        }
        let Ok(bounded) = bound_dose(exercise, &dose, &self.on(spot.exercise)) else {
            return false;
        };
        let asked = |variable: Variable| -> Option<i64> {
            let row = ladder::row_of(exercise, variable)?;
            let index = bounded.dose.get(row)?;
            let step = exercise.rows.get(row)?.values.get(usize::from(*index))?;
            match &step.value {
                RowValue::Number(Milli(milli)) => Some(*milli),
                RowValue::Label(_) => None,
            }
        };
        let count = match asked(Variable::Sets) {
            Some(milli) => usize::try_from(milli.div_euclid(1000)).unwrap_or(usize::MAX),
            None => sets.len().max(1),
        };
        let reps = asked(Variable::Reps);
        let hold = asked(Variable::HoldTime);
        let enough = |wanted: Option<i64>, done: Option<u16>| {
            wanted.is_none_or(|wanted| {
                done.is_some_and(|done| i64::from(done).saturating_mul(1000) >= wanted)
            })
        };
        sets.len() >= count
            && sets
                .iter()
                .take(count)
                .all(|set| enough(reps, set.reps) && enough(hold, set.hold_s))
    }

    /// Whether a place may be climbed to: within every directive and the comfortable range.
    ///
    /// # Errors
    /// What it would break.
    pub(crate) fn allow(&self, case: &Case<'_>, to: &Spot) -> Result<(), Cause> {
        if let Some(position) = case.left_out(to.exercise) {
            return Err(Cause::Directive(position));
        }
        let Some(exercise) = case.pack.exercises.get(to.exercise.at()) else {
            return Err(Cause::AtTop);
        };
        let dose = ladder::dose(exercise, to.rung, &to.relief);
        match bound_dose(exercise, &dose, &self.on(to.exercise)) {
            Err(by) => return Err(caused(&by)),
            Ok(bounded) => {
                if let Some((_, by)) = bounded.by.first() {
                    return Err(caused(by));
                }
            }
        }
        comfortable(case, to, exercise, &dose)
    }
}

fn caused(by: &BoundBy) -> Cause {
    match by {
        BoundBy::Directive(Position(position)) => Cause::Directive(Position(*position)),
        BoundBy::Comfortable(_) => Cause::Comfortable,
    }
}

/// A climb stays within the comfortable range last reported; where that is missing now, nothing climbs.
fn comfortable(case: &Case<'_>, to: &Spot, exercise: &Exercise, dose: &[u16]) -> Result<(), Cause> {
    let within = match comfortable_range(case, to.exercise, exercise) {
        (missing, None) => !missing,
        (_, Some(at_most)) => {
            ladder::cap(exercise, dose, Variable::Range, &at_most).as_deref() == Some(dose)
        }
    };
    if within {
        Ok(())
    } else {
        Err(Cause::Comfortable)
    }
}

/// Whether an exercise's comfortable range is missing though a fact should carry it; and the range last reported.
fn comfortable_range(
    case: &Case<'_>,
    ix: ExerciseIx,
    exercise: &Exercise,
) -> (bool, Option<RowValue>) {
    let Some(measure) = exercise.comfortable else {
        return (false, None);
    };
    if ladder::row_of(exercise, Variable::Range).is_none() {
        return (false, None);
    }
    let tap = Tap::default();
    let reader = Reader::new(case.view(), Scope::CAUTIOUS, &tap);
    match reader.latest(measure, Some(ix)) {
        (Read::Known(Value::Number(range)), _) => {
            let at_most = range.floor().unwrap_or(Milli(i64::MIN));
            (false, Some(RowValue::Number(at_most)))
        }
        (Read::PassedOver | Read::NotFull, _) | (_, Context::Nothing) => (false, None),
        _ => (true, None),
    }
}

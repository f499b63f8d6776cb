//! Directives to stored messages and back.
//!
//! Leaves to others: the values inside (`super::value`).

use super::DecodeError;
use super::value::{
    date_or_none_from_stored, date_or_none_to_stored, dose_from_stored, dose_to_stored,
    dose_value_from_stored, dose_value_to_stored, keys, words,
};
use crate::stored;
use crate::stored::directive::Order as Stored;
use rungwise_engine::fact::{Directive, Order, Position};
use rungwise_pack::quantity::Key;

pub(super) fn directive_to_stored(directive: &Directive) -> stored::Directive {
    stored::Directive {
        who: directive.who.to_string(),
        why: directive.why.clone(),
        until: date_or_none_to_stored(directive.until),
        clinic_wide: directive.clinic_wide,
        order: Some(order_to_stored(&directive.order)),
    }
}

pub(super) fn directive_from_stored(
    directive: stored::Directive,
) -> Result<Directive, DecodeError> {
    Ok(Directive {
        who: directive.who.into(),
        why: directive.why,
        until: date_or_none_from_stored("directive.until", directive.until)?,
        clinic_wide: directive.clinic_wide,
        order: order_from_stored(
            directive
                .order
                .ok_or(DecodeError::Absent("directive.order"))?,
        )?,
    })
}

fn order_to_stored(order: &Order) -> Stored {
    const NOTHING: stored::Nothing = stored::Nothing {};
    match order {
        Order::Hold => Stored::Hold(NOTHING),
        Order::Cap {
            exercise,
            variable,
            at_most,
        } => Stored::Cap(stored::Cap {
            exercise: exercise.as_deref().unwrap_or_default().to_owned(),
            at_most: Some(dose_value_to_stored(*variable, at_most)),
        }),
        Order::LeaveOut { exercise } => Stored::LeaveOut(exercise.to_string()),
        Order::Add { exercise } => Stored::Add(exercise.to_string()),
        Order::SetDose { exercise, dose } => Stored::SetDose(stored::ExerciseDose {
            exercise: exercise.to_string(),
            dose: dose_to_stored(dose),
        }),
        Order::Place { phase, places } => Stored::Place(stored::Place {
            phase: phase.to_string(),
            places: places
                .iter()
                .map(|(exercise, dose)| stored::ExerciseDose {
                    exercise: exercise.to_string(),
                    dose: dose_to_stored(dose),
                })
                .collect(),
        }),
        Order::NewBaseline => Stored::NewBaseline(NOTHING),
        Order::Clear { rules } => Stored::Clear(stored::RuleKeys {
            rules: words(rules),
        }),
        Order::Pause => Stored::Pause(NOTHING),
        Order::Discharge => Stored::Discharge(NOTHING),
        Order::Reopen => Stored::Reopen(NOTHING),
        Order::Confirm => Stored::Confirm(NOTHING),
        Order::Withdraw { directive } => Stored::Withdraw(directive.0),
    }
}

fn order_from_stored(order: Stored) -> Result<Order, DecodeError> {
    Ok(match order {
        Stored::Hold(_) => Order::Hold,
        Stored::Cap(cap) => {
            let at_most = cap.at_most.ok_or(DecodeError::Absent("cap.at_most"))?;
            let (variable, at_most) = dose_value_from_stored(at_most)?;
            let exercise = Some(cap.exercise)
                .filter(|key| !key.is_empty())
                .map(Key::from);
            Order::Cap {
                exercise,
                variable,
                at_most,
            }
        }
        Stored::LeaveOut(exercise) => Order::LeaveOut {
            exercise: exercise.into(),
        },
        Stored::Add(exercise) => Order::Add {
            exercise: exercise.into(),
        },
        Stored::SetDose(set) => Order::SetDose {
            exercise: set.exercise.into(),
            dose: dose_from_stored(set.dose)?,
        },
        Stored::Place(place) => {
            let one = |place: stored::ExerciseDose| {
                Ok((place.exercise.into(), dose_from_stored(place.dose)?))
            };
            let places = place
                .places
                .into_iter()
                .map(one)
                .collect::<Result<_, DecodeError>>()?;
            Order::Place {
                phase: place.phase.into(),
                places,
            }
        }
        Stored::NewBaseline(_) => Order::NewBaseline,
        Stored::Clear(clear) => Order::Clear {
            rules: keys(clear.rules),
        },
        Stored::Pause(_) => Order::Pause,
        Stored::Discharge(_) => Order::Discharge,
        Stored::Reopen(_) => Order::Reopen,
        Stored::Confirm(_) => Order::Confirm,
        Stored::Withdraw(position) => Order::Withdraw {
            directive: Position(position),
        },
    })
}

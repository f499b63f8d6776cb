//! Directives from messages.
//!
//! Leaves to others: which of them a pack and an episode allow (`rungwise_engine::admit`).

use super::Reader;
use crate::name::{EpisodeName, fact_from_name};
use crate::v1::directive::Order as Given;
use crate::v1::{self, Reason};
use rungwise_engine::fact::{Directive, Order, Position};
use rungwise_pack::quantity::Key;

/// A directive for one episode.
pub(super) fn directive_from_wire(
    episode: &EpisodeName,
    path: &str,
    directive: &v1::Directive,
    reader: &mut Reader,
) -> Option<Directive> {
    let until = reader.date_or_none(&format!("{path}.until"), &directive.until);
    if directive.clinic_wide {
        let right = "leave it out, or call RulePackService.DirectClinic";
        reader.refuse::<()>(
            &format!("{path}.clinic_wide"),
            Reason::OutputOnly,
            "the server alone says this",
            right,
        );
    }
    let order = match &directive.order {
        None => reader.missing(&format!("{path}.order"), "say what it orders"),
        Some(order) => order_from_wire(episode, path, order, reader),
    };
    Some(Directive {
        who: Key::from(directive.who.as_str()),
        why: directive.why.clone(),
        until: until?,
        clinic_wide: false,
        order: order?,
    })
}

fn order_from_wire(
    episode: &EpisodeName,
    path: &str,
    order: &Given,
    reader: &mut Reader,
) -> Option<Order> {
    let key = |text: &String| Key::from(text.as_str());
    Some(match order {
        Given::Hold(_) => Order::Hold,
        Given::Cap(cap) => {
            let path = format!("{path}.cap.at_most");
            let Some(at_most) = &cap.at_most else {
                return reader.missing(&path, "give the variable and the highest value allowed");
            };
            let (variable, at_most) = reader.dose_value(&path, at_most)?;
            let exercise = Some(&cap.exercise)
                .filter(|exercise| !exercise.is_empty())
                .map(key);
            Order::Cap {
                exercise,
                variable,
                at_most,
            }
        }
        Given::LeaveOut(order) => Order::LeaveOut {
            exercise: key(&order.exercise),
        },
        Given::Add(order) => Order::Add {
            exercise: key(&order.exercise),
        },
        Given::SetDose(order) => {
            let dose = reader.dose(&format!("{path}.set_dose.dose"), &order.dose)?;
            Order::SetDose {
                exercise: key(&order.exercise),
                dose,
            }
        }
        Given::Place(order) => place_from_wire(&format!("{path}.place"), order, reader)?,
        Given::NewBaseline(_) => Order::NewBaseline,
        Given::Clear(order) => Order::Clear {
            rules: order.rules.iter().map(key).collect(),
        },
        Given::Pause(_) => Order::Pause,
        Given::Discharge(_) => Order::Discharge,
        Given::Reopen(_) => Order::Reopen,
        Given::Confirm(_) => Order::Confirm,
        Given::Withdraw(order) => {
            let path = format!("{path}.withdraw.directive");
            match fact_from_name(&order.directive) {
                Some((of, position)) if of == *episode => Order::Withdraw {
                    directive: Position(position),
                },
                Some(_) => {
                    let right = "name a directive of this episode";
                    return reader.refuse(
                        &path,
                        Reason::NotADirective,
                        "it is of another episode",
                        right,
                    );
                }
                None => {
                    let right = format!("give a fact's name, `{episode}/facts/{{position}}`");
                    return reader.refuse(
                        &path,
                        Reason::FieldMalformed,
                        "not a fact's name",
                        right,
                    );
                }
            }
        }
    })
}

/// A directive of the whole clinic, without who gave it; `pack` and `date` are the message's own.
pub fn clinic_directive_from_wire(
    path: &str,
    directive: &v1::Directive,
    reader: &mut Reader,
) -> Option<Directive> {
    // No order of a clinic names a fact of an episode; one that does is refused below.
    let nobody = EpisodeName {
        clinic: String::new(),
        episode: String::new(),
    };
    if let Some(Given::Withdraw(_)) = directive.order {
        let path = format!("{path}.withdraw");
        let right = "call RulePackService.LiftClinicDirective";
        return reader.refuse(
            &path,
            Reason::TooBoldForAClinic,
            "it ends a directive",
            right,
        );
    }
    let given = directive_from_wire(&nobody, path, directive, reader)?;
    Some(Directive {
        clinic_wide: true,
        ..given
    })
}

/// A placement.
pub fn place_from_wire(path: &str, place: &v1::PlaceOrder, reader: &mut Reader) -> Option<Order> {
    let places: Vec<_> = place
        .places
        .iter()
        .enumerate()
        .map(|(at, place)| {
            let dose = reader.dose(&format!("{path}.places[{at}].dose"), &place.dose)?;
            Some((Key::from(place.exercise.as_str()), dose))
        })
        .collect();
    Some(Order::Place {
        phase: Key::from(place.phase.as_str()),
        places: places.into_iter().collect::<Option<_>>()?,
    })
}

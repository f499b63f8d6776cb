//! What bounds a dose from above: caps and doses ordered by a clinician, and the comfortable range reported.
//!
//! Leaves to others: which directives are in force (`crate::history`).

use crate::fact::Position;
use crate::ladder;
use rungwise_pack::model::{Exercise, RowValue};
use rungwise_pack::quantity::{Key, Variable};

/// One bound on one variable of a dose.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bound {
    /// The variable bounded.
    pub variable: Variable,
    /// Its highest value, by the row's own order.
    pub at_most: RowValue,
    /// Who or what bounds it.
    pub by: BoundBy,
}

/// Who or what bounds a dose.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum BoundBy {
    /// The directive at this position.
    Directive(Position),
    /// The comfortable range last reported under this measure.
    Comfortable(Key),
}

/// A dose within every bound.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bounded {
    /// Row indexes.
    pub dose: Vec<u16>,
    /// What took off from the dose, by variable.
    pub by: Vec<(Variable, BoundBy)>,
}

/// The highest dose at or below `dose` within every bound, whatever their order.
///
/// # Errors
/// The bound that no value of its row keeps: the exercise is left out.
pub fn bound_dose(exercise: &Exercise, dose: &[u16], bounds: &[Bound]) -> Result<Bounded, BoundBy> {
    let mut bounded = Bounded {
        dose: dose.to_vec(),
        by: Vec::new(),
    };
    for bound in bounds {
        let alone = ladder::cap(exercise, dose, bound.variable, &bound.at_most)
            .ok_or_else(|| bound.by.clone())?;
        if alone != dose {
            bounded.by.push((bound.variable, bound.by.clone()));
        }
        for (index, most) in bounded.dose.iter_mut().zip(&alone) {
            *index = (*index).min(*most);
        }
    }
    Ok(bounded)
}

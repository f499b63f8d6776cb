//! What stands after a decision, to stored messages and back.
//!
//! Leaves to others: the values inside (`super::value`).

use super::DecodeError;
use super::band::{setting_from_stored, setting_to_stored};
use super::value::{
    date_from_stored, date_or_none_from_stored, date_or_none_to_stored, date_to_stored,
    dose_from_stored, dose_to_stored, keys, numbers_or_none, small, variable_to_stored,
    variables_from_stored, words,
};
use crate::stored;
use rungwise_engine::decision::{LastPlace, Place, State, Withdrawal};
use rungwise_engine::fact::DecisionNo;
use rungwise_pack::quantity::{Key, Variable};

pub(super) fn state_to_stored(state: &State) -> stored::State {
    let since = |exercise: &Key, decision: DecisionNo| stored::ExerciseSince {
        exercise: exercise.to_string(),
        decision: decision.0,
    };
    stored::State {
        phase: state.phase.as_ref().map(ToString::to_string),
        stay: state.stay.map(|(decision, date)| stored::Stay {
            decision: decision.0,
            date: date_to_stored(date),
        }),
        began: date_or_none_to_stored(state.began),
        introduced: numbers_or_none(state.introduced),
        places: state.places.iter().map(place_to_stored).collect(),
        last_places: state.last_places.iter().map(last_place_to_stored).collect(),
        withdrawals: state
            .withdrawals
            .iter()
            .map(|withdrawal| since(&withdrawal.exercise, withdrawal.by))
            .collect(),
        run_from: state
            .run_from
            .iter()
            .map(|(exercise, from)| since(exercise, *from))
            .collect(),
        latched: words(&state.latched),
        lay_offs: state
            .lay_offs
            .iter()
            .map(|(began, row)| stored::LayOff {
                began: date_to_stored(*began),
                row: (*row).into(),
            })
            .collect(),
        climbed_last: words(&state.climbed_last),
        discharged: state.discharged,
    }
}

pub(super) fn state_from_stored(state: stored::State) -> Result<State, DecodeError> {
    let stay = |stay: stored::Stay| {
        Ok::<_, DecodeError>((
            DecisionNo(stay.decision),
            date_from_stored("stay.date", stay.date)?,
        ))
    };
    let lay_off = |lay_off: stored::LayOff| {
        Ok((
            date_from_stored("lay_off.began", lay_off.began)?,
            small("lay_off.row", lay_off.row)?,
        ))
    };
    Ok(State {
        phase: state.phase.map(Key::from),
        stay: state.stay.map(stay).transpose()?,
        began: date_or_none_from_stored("state.began", state.began)?,
        introduced: state.introduced.map(DecisionNo),
        places: state
            .places
            .into_iter()
            .map(place_from_stored)
            .collect::<Result<_, _>>()?,
        last_places: state
            .last_places
            .into_iter()
            .map(last_place_from_stored)
            .collect::<Result<_, _>>()?,
        withdrawals: state
            .withdrawals
            .into_iter()
            .map(|since| Withdrawal {
                exercise: since.exercise.into(),
                by: DecisionNo(since.decision),
            })
            .collect(),
        run_from: state
            .run_from
            .into_iter()
            .map(|since| (since.exercise.into(), DecisionNo(since.decision)))
            .collect(),
        latched: keys(state.latched),
        lay_offs: state
            .lay_offs
            .into_iter()
            .map(lay_off)
            .collect::<Result<_, DecodeError>>()?,
        climbed_last: keys(state.climbed_last),
        discharged: state.discharged,
    })
}

fn relief_to_stored(relief: &[Variable]) -> Vec<i32> {
    relief.iter().copied().map(variable_to_stored).collect()
}

fn place_to_stored(place: &Place) -> stored::LinePlace {
    stored::LinePlace {
        line: place.line.to_string(),
        exercise: place.exercise.to_string(),
        rung: dose_to_stored(&place.rung),
        relief: relief_to_stored(&place.relief),
        set_anew: place.set_anew.0,
        setting: place.setting.as_ref().map(setting_to_stored),
    }
}

fn place_from_stored(place: stored::LinePlace) -> Result<Place, DecodeError> {
    Ok(Place {
        line: place.line.into(),
        exercise: place.exercise.into(),
        rung: dose_from_stored(place.rung)?,
        relief: variables_from_stored(place.relief)?,
        set_anew: DecisionNo(place.set_anew),
        setting: place.setting.map(setting_from_stored).transpose()?,
    })
}

fn last_place_to_stored(place: &LastPlace) -> stored::LastPlace {
    stored::LastPlace {
        exercise: place.exercise.to_string(),
        rung: dose_to_stored(&place.rung),
        relief: relief_to_stored(&place.relief),
        setting: place.setting.as_ref().map(setting_to_stored),
    }
}

fn last_place_from_stored(place: stored::LastPlace) -> Result<LastPlace, DecodeError> {
    Ok(LastPlace {
        exercise: place.exercise.into(),
        rung: dose_from_stored(place.rung)?,
        relief: variables_from_stored(place.relief)?,
        setting: place.setting.map(setting_from_stored).transpose()?,
    })
}

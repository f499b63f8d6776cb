//! Reading a model from TOML.
//!
//! Leaves to others: what the parameters stand for (`super`), whether a pack has the measures named (`crate::cohort`).

use super::{MeasureModel, Model, PARAMETERS, Parameter, Spread};
use toml::{Table, Value};

/// Why a model is not one.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum ModelError {
    /// The text is not TOML.
    #[error("it is not TOML: {0}")]
    NotToml(String),
    /// No parameter has this key.
    #[error("`{key}` is no parameter of the model{}; `--assumptions` lists them all", nearest(.hint))]
    Unknown {
        /// The key.
        key: String,
        /// The nearest key, if one is near.
        hint: Option<String>,
    },
    /// A value that the parameter cannot have.
    #[error("`{key}` is {given}; {allowed}")]
    Value {
        /// The key.
        key: String,
        /// What was given.
        given: String,
        /// What is allowed.
        allowed: String,
    },
    /// A measure that no pack of the simulation reports as a symptom.
    #[error("`measure.\"{name}\"`: no measure of the pack that symptoms move is called so")]
    NoSuchMeasure {
        /// Its name.
        name: String,
    },
    /// An event that no pack of the simulation has.
    #[error("`events_at_start`: the pack has no event `{name}`")]
    NoSuchEvent {
        /// Its name.
        name: String,
    },
}

fn nearest(hint: &Option<String>) -> String {
    hint.as_ref()
        .map(|key| format!("; did you mean `{key}`"))
        .unwrap_or_default()
}

pub(super) fn read(text: &str) -> Result<Model, Vec<ModelError>> {
    let table: Table = text
        .parse()
        .map_err(|error: toml::de::Error| vec![ModelError::NotToml(error.to_string())])?;
    let mut model = Model::default();
    let mut errors = Vec::new();
    for (key, value) in &table {
        let read = match key.as_str() {
            "flare_up_event" => text_of(key, value).map(|name| model.flare_up_event = name),
            "events_at_start" => names(key, value).map(|names| model.events_at_start = Some(names)),
            "measure" => {
                measures(value, &mut model, &mut errors);
                Ok(())
            }
            _ => parameter(key, value, &mut model),
        };
        errors.extend(read.err());
    }
    if errors.is_empty() {
        Ok(model)
    } else {
        Err(errors)
    }
}

fn parameter(key: &str, value: &Value, model: &mut Model) -> Result<(), ModelError> {
    let at = PARAMETERS.iter().position(|one| one.key == key);
    let (Some(parameter), Some(slot)) = (
        at.and_then(|at| PARAMETERS.get(at)),
        at.and_then(|at| model.values.get_mut(at)),
    ) else {
        return Err(unknown(key, PARAMETERS.iter().map(|one| one.key)));
    };
    *slot = spread(parameter, value)?;
    Ok(())
}

/// A number, or of what is drawn a list of the least and the greatest.
fn spread(parameter: &Parameter, value: &Value) -> Result<Spread, ModelError> {
    let refuse = || {
        let Parameter { least, most, .. } = parameter;
        let allowed = if parameter.drawn {
            format!(
                "a whole number from {least} to {most}, or `[least, greatest]` of two, is allowed"
            )
        } else {
            format!("a whole number from {least} to {most} is allowed")
        };
        ModelError::Value {
            key: parameter.key.to_owned(),
            given: given(value),
            allowed,
        }
    };
    let number = |value: &Value| {
        let number = value.as_integer();
        number.filter(|number| (parameter.least..=parameter.most).contains(number))
    };
    let spread = match value {
        Value::Array(pair) if parameter.drawn => match pair.as_slice() {
            [low, high] => number(low)
                .zip(number(high))
                .filter(|(low, high)| low <= high),
            _ => None,
        },
        one => number(one).map(|one| (one, one)),
    };
    let (low, high) = spread.ok_or_else(refuse)?;
    Ok(Spread { low, high })
}

fn measures(value: &Value, model: &mut Model, errors: &mut Vec<ModelError>) {
    let Value::Table(measures) = value else {
        errors.push(ModelError::Value {
            key: "measure".to_owned(),
            given: given(value),
            allowed: "a table for each measure, `[measure.\"NAME\"]`, is allowed".to_owned(),
        });
        return;
    };
    for (name, said) in measures {
        match measure(name, said) {
            Ok(measure) => {
                model.measures.insert(name.clone(), measure);
            }
            Err(error) => errors.push(error),
        }
    }
}

fn measure(name: &str, said: &Value) -> Result<MeasureModel, ModelError> {
    const KEYS: [&str; 2] = ["recovered_permille", "worst_permille"];
    let called = |key: &str| format!("measure.\"{name}\".{key}");
    let table = said.as_table();
    let unknown_key = table
        .into_iter()
        .flat_map(|table| table.keys())
        .find(|key| !KEYS.contains(&key.as_str()));
    if let Some(key) = unknown_key {
        return Err(unknown(&called(key), KEYS.into_iter()));
    }
    let number = |key: &str| {
        let value = table.and_then(|table| table.get(key));
        let number = value.and_then(Value::as_integer);
        number
            .filter(|number| (0..=1000).contains(number))
            .ok_or_else(|| ModelError::Value {
                key: called(key),
                given: value.map_or_else(|| "not there".to_owned(), given),
                allowed: "a whole number from 0 to 1000 is allowed".to_owned(),
            })
    };
    Ok(MeasureModel {
        recovered_permille: number("recovered_permille")?,
        worst_permille: number("worst_permille")?,
    })
}

fn unknown<'k>(key: &str, known: impl Iterator<Item = &'k str>) -> ModelError {
    ModelError::Unknown {
        key: key.to_owned(),
        hint: rungwise_pack::suggest::nearest(key, known).map(ToOwned::to_owned),
    }
}

fn text_of(key: &str, value: &Value) -> Result<String, ModelError> {
    let text = value.as_str().map(ToOwned::to_owned);
    text.ok_or_else(|| ModelError::Value {
        key: key.to_owned(),
        given: given(value),
        allowed: "the name of an event in quotes is allowed".to_owned(),
    })
}

fn names(key: &str, value: &Value) -> Result<Vec<String>, ModelError> {
    let list = value.as_array();
    let names = list.and_then(|list| list.iter().map(|one| one.as_str()).collect());
    let names: Option<Vec<&str>> = names;
    names
        .map(|names| names.into_iter().map(ToOwned::to_owned).collect())
        .ok_or_else(|| ModelError::Value {
            key: key.to_owned(),
            given: given(value),
            allowed: "a list of names of events is allowed".to_owned(),
        })
}

/// What was given, as it would be written.
fn given(value: &Value) -> String {
    format!("`{value}`")
}

//! Evaluates band curves for `test_curves.py`: data sets as JSON on standard input, what the curve gives on standard output.
//!
//! In: `[{"readings": [[elongation_mpct, force_mn], …], "at_mpct": […], "for_n": […]}, …]`. Out, for each set:
//! `{"force_n": […], "energy_j_per_m": […], "elongation": […]}`, a `null` where the curve says nothing.
//!
//! Leaves to others: what they should be.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a tool of a test may fail loudly"
)]

use rungwise_bands::curve::{Curve, Measured};
use serde_json::{Value, json};

fn main() {
    let sets: Vec<Value> = serde_json::from_reader(std::io::stdin().lock()).unwrap();
    let found: Vec<Value> = sets.iter().map(evaluated).collect();
    println!("{}", Value::from(found));
}

fn evaluated(set: &Value) -> Value {
    let list = |key: &str| set[key].as_array().unwrap().clone();
    let readings: Vec<Measured> = list("readings")
        .iter()
        .map(|reading| Measured {
            elongation_mpct: reading[0].as_i64().unwrap(),
            force_mn: reading[1].as_i64().unwrap(),
        })
        .collect();
    let curve = Curve::from_points(&readings).unwrap();
    let at = list("at_mpct");
    let elongations = at.iter().map(|one| one.as_f64().unwrap() / 100_000.0);
    let forces = list("for_n");
    json!({
        "force_n": elongations.clone().map(|one| curve.force_n(one)).collect::<Vec<_>>(),
        "energy_j_per_m": elongations.map(|one| curve.energy_j_per_m(one)).collect::<Vec<_>>(),
        "elongation": forces
            .iter()
            .map(|one| curve.elongation_for(one.as_f64().unwrap()))
            .collect::<Vec<_>>(),
    })
}

//! Prescriptions to messages, with the pack's words.
//!
//! Leaves to others: the patient's sheet (`rungwise_engine::sheet`).

use super::{date_or_empty, dose_to_wire, variable_to_wire, word_or_empty, words};
use crate::name::EpisodeName;
use crate::v1;
use rungwise_engine::explain::binds_text;
use rungwise_engine::prescription::{
    BandItem, BoundBy, Item, LeftOut, LimitInForce, Prescription, Standing, WhyLeftOut,
    change_permille,
};
use rungwise_engine::sheet::{band_sentences, say, say_dose};
use rungwise_pack::model::{Exercise, Pack};
use rungwise_pack::quantity::{Key, Milli};

/// A prescription of `episode` with its words in `language`; `decision` is the number of the decision in force.
#[must_use]
pub fn prescription_to_wire(
    pack: &Pack,
    episode: &EpisodeName,
    decision: Option<u32>,
    prescription: &Prescription,
    language: &str,
) -> v1::Prescription {
    let phase = prescription.phase.as_ref().and_then(|key| pack.phase(key));
    let phase = phase.and_then(|index| pack.phases.get(index.at()));
    let (standing, stopped_by, paused_by) = match &prescription.standing {
        Standing::NotBegun => (v1::Standing::NotBegun, Vec::new(), String::new()),
        Standing::InForce => (v1::Standing::InForce, Vec::new(), String::new()),
        Standing::Paused(by) => (v1::Standing::Paused, Vec::new(), episode.fact(by.0)),
        Standing::Stopped(rules) => (v1::Standing::Stopped, words(rules), String::new()),
        Standing::Discharged => (v1::Standing::Discharged, Vec::new(), String::new()),
    };
    let text = |key: &Key| say(pack, language, key, &[]);
    v1::Prescription {
        decision: decision
            .map(|number| episode.decision(number))
            .unwrap_or_default(),
        as_of: prescription.as_of.to_string(),
        valid_until: date_or_empty(prescription.valid_until),
        standing: standing.into(),
        stopped_by,
        paused_by,
        phase: word_or_empty(prescription.phase.as_ref()),
        aim: phase.map(|phase| phase.aim.clone()).unwrap_or_default(),
        sessions_a_week: phase
            .map(|phase| phase.sessions_a_week.into())
            .unwrap_or_default(),
        exercises: prescription
            .items
            .iter()
            .map(|item| item_to_wire(pack, episode, item, language))
            .collect(),
        left_out: prescription
            .left_out
            .iter()
            .map(|left| left_out_to_wire(episode, left))
            .collect(),
        limits: prescription
            .limits
            .iter()
            .map(|limit| limit_to_wire(limit, text(&limit.text)))
            .collect(),
        cautions: prescription.cautions.iter().map(text).collect(),
    }
}

fn item_to_wire(
    pack: &Pack,
    episode: &EpisodeName,
    item: &Item,
    language: &str,
) -> v1::PrescribedExercise {
    let exercise: Option<&Exercise> = pack
        .exercise(&item.exercise)
        .and_then(|index| pack.exercises.get(index.at()));
    let text = |key: &Key| say(pack, language, key, &[]);
    v1::PrescribedExercise {
        line: item.line.to_string(),
        exercise: item.exercise.to_string(),
        name: exercise
            .map(|exercise| text(&exercise.name))
            .unwrap_or_default(),
        how: exercise
            .map(|exercise| text(&exercise.how))
            .unwrap_or_default(),
        cues: exercise
            .map(|exercise| exercise.cues.iter().map(text).collect())
            .unwrap_or_default(),
        equipment: exercise
            .map(|exercise| words(&exercise.equipment))
            .unwrap_or_default(),
        dose: dose_to_wire(&item.dose, item.band.is_some()),
        dose_text: say_dose(pack, language, &item.dose),
        relief: item
            .relief
            .iter()
            .map(|variable| variable_to_wire(*variable).into())
            .collect(),
        bounds: item
            .bounded
            .iter()
            .map(|(variable, by)| v1::DoseBound {
                variable: variable_to_wire(*variable).into(),
                by: Some(match by {
                    BoundBy::Directive(at) => v1::dose_bound::By::Directive(episode.fact(at.0)),
                    BoundBy::Comfortable(measure) => {
                        v1::dose_bound::By::Comfortable(measure.to_string())
                    }
                }),
            })
            .collect(),
        band: item
            .band
            .as_ref()
            .map(|band| band_to_wire(pack, band, language)),
    }
}

fn band_to_wire(pack: &Pack, band: &BandItem, language: &str) -> v1::BandHold {
    let text = band_sentences(pack, language, band);
    let Some(held) = &band.held else {
        return v1::BandHold {
            text,
            ..v1::BandHold::default()
        };
    };
    let grip = &held.grip;
    let change = band.last.as_ref().map(|(_, mnm)| {
        let permille = change_permille(*mnm, held.torque_mnm);
        Milli(permille.saturating_mul(100)).to_string()
    });
    v1::BandHold {
        measured: true,
        band: grip.band.to_string(),
        strands: grip.strands.into(),
        working_length_mm: grip.working_length_mm,
        stance_mm: band.is_anchored.then_some(grip.stance_mm),
        torque: Milli(held.torque_mnm).to_string(),
        load_at: band.load_at.to_string(),
        start_force: Milli(held.start_mn).to_string(),
        end_force: Milli(held.end_mn).to_string(),
        change: change.unwrap_or_default(),
        moved_mm: band.moved_mm(),
        text,
    }
}

fn left_out_to_wire(episode: &EpisodeName, left: &LeftOut) -> v1::LeftOut {
    let (why, directive) = match &left.why {
        WhyLeftOut::Withdrawn => (v1::WhyLeftOut::Withdrawn, String::new()),
        WhyLeftOut::Directive(at) => (v1::WhyLeftOut::Directive, episode.fact(at.0)),
        WhyLeftOut::Bound(BoundBy::Directive(at)) => (v1::WhyLeftOut::Bound, episode.fact(at.0)),
        WhyLeftOut::Bound(BoundBy::Comfortable(_)) => (v1::WhyLeftOut::Bound, String::new()),
        WhyLeftOut::Unmapped => (v1::WhyLeftOut::Unmapped, String::new()),
        WhyLeftOut::NoBand(_) => (v1::WhyLeftOut::NoBand, String::new()),
    };
    let detail = match &left.why {
        WhyLeftOut::NoBand(binds) => binds_text(*binds),
        _ => String::new(),
    };
    v1::LeftOut {
        exercise: left.exercise.to_string(),
        why: why.into(),
        directive,
        detail,
    }
}

fn limit_to_wire(limit: &LimitInForce, text: String) -> v1::LimitInForce {
    v1::LimitInForce {
        limit: limit.limit.to_string(),
        exercise: word_or_empty(limit.exercise.as_ref()),
        sentence: limit.sentence.clone(),
        text,
    }
}

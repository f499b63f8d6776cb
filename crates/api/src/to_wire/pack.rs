//! What a pack says, to messages.
//!
//! Leaves to others: where packs are kept (`rungwise-server`).

use super::{dose_value_to_wire, reporter_to_wire, words};
use crate::v1;
use rungwise_engine::sheet::say;
use rungwise_pack::model::{
    Carrier, Criterion, Exercise, MeasureKind, Origin, Pack, PhaseIx, RuleKind, SentenceIx, Worse,
};

/// Its measures.
#[must_use]
pub fn measures_to_wire(pack: &Pack) -> Vec<v1::Measure> {
    let one = |measure: &rungwise_pack::model::Measure| {
        // What is worked out is carried by nothing that a client could report.
        let reported = matches!(measure.origin, Origin::Reported);
        let carrier = if reported {
            measure.carrier
        } else {
            Carrier::Nothing
        };
        let mut wire = v1::Measure {
            name: measure.name.to_string(),
            worse: worse_to_wire(measure.worse).into(),
            carrier: carrier_to_wire(carrier).into(),
            expected: measure.expected && reported,
            both_sides: measure.both_sides,
            fresh_days: measure.fresh_days.unwrap_or_default(),
            asked_of: measure
                .reported_by
                .iter()
                .map(|by| reporter_to_wire(*by))
                .collect(),
            ..v1::Measure::default()
        };
        match &measure.kind {
            MeasureKind::Number {
                unit,
                min,
                max,
                step,
            } => {
                wire.unit = unit.code.to_string();
                wire.min = min.to_string();
                wire.max = max.to_string();
                wire.step = step.to_string();
            }
            MeasureKind::Choice { choices } => wire.choices = words(choices),
        }
        wire
    };
    pack.measures.iter().map(one).collect()
}

const fn worse_to_wire(worse: Worse) -> v1::Worse {
    match worse {
        Worse::Higher => v1::Worse::Higher,
        Worse::Lower => v1::Worse::Lower,
        Worse::Neither => v1::Worse::Unspecified,
    }
}

const fn carrier_to_wire(carrier: Carrier) -> v1::Carrier {
    match carrier {
        Carrier::Exercise => v1::Carrier::Exercise,
        Carrier::Session => v1::Carrier::Session,
        Carrier::MorningAfter => v1::Carrier::MorningAfter,
        Carrier::Assessment => v1::Carrier::Assessment,
        Carrier::Screening => v1::Carrier::Screening,
        Carrier::Nothing => v1::Carrier::Unspecified,
    }
}

/// Its phases.
#[must_use]
pub fn phases_to_wire(pack: &Pack) -> Vec<v1::Phase> {
    let key = |index: &rungwise_pack::model::ExerciseIx| {
        pack.exercises
            .get(index.at())
            .map(|exercise| exercise.key.to_string())
    };
    pack.phases
        .iter()
        .map(|phase| v1::Phase {
            key: phase.key.to_string(),
            aim: phase.aim.clone(),
            exercises: phase.exercises.iter().filter_map(key).collect(),
            sessions_a_week: phase.sessions_a_week.into(),
        })
        .collect()
}

/// Its exercises, with their names in `language`.
#[must_use]
pub fn exercises_to_wire(pack: &Pack, language: &str) -> Vec<v1::Exercise> {
    let one = |exercise: &Exercise| v1::Exercise {
        key: exercise.key.to_string(),
        line: pack
            .lines
            .get(exercise.line.at())
            .map(|line| line.key.to_string())
            .unwrap_or_default(),
        name: say(pack, language, &exercise.name, &[]),
        equipment: words(&exercise.equipment),
        ladder: exercise
            .rows
            .iter()
            .map(|row| v1::LadderRow {
                values: row
                    .values
                    .iter()
                    .map(|step| {
                        dose_value_to_wire(&(row.variable, step.value.clone()), row.is_sequence)
                    })
                    .collect(),
            })
            .collect(),
    };
    pack.exercises.iter().map(one).collect()
}

/// Its rules.
#[must_use]
pub fn rules_to_wire(pack: &Pack) -> Vec<v1::Rule> {
    let phase = |index: PhaseIx| {
        pack.phases
            .get(index.at())
            .map(|phase| phase.key.to_string())
    };
    pack.rules
        .iter()
        .map(|rule| {
            let mut sentences = Vec::new();
            collect_sentences(&rule.when, &mut sentences);
            let exercise = rule
                .exercise
                .and_then(|index| pack.exercises.get(index.at()));
            v1::Rule {
                key: rule.key.to_string(),
                kind: rule_kind_to_wire(rule.kind).into(),
                reason: rule.reason.clone(),
                sentences: sentences
                    .into_iter()
                    .filter_map(|index| {
                        pack.sentences
                            .get(index.at())
                            .map(|sentence| sentence.text.clone())
                    })
                    .collect(),
                phase: rule.phase.and_then(phase).unwrap_or_default(),
                exercise: exercise
                    .map(|exercise| exercise.key.to_string())
                    .unwrap_or_default(),
            }
        })
        .collect()
}

fn collect_sentences(criterion: &Criterion, sentences: &mut Vec<SentenceIx>) {
    match criterion {
        Criterion::Sentence(index) => sentences.push(*index),
        Criterion::All(parts) | Criterion::Any(parts) | Criterion::None(parts) => {
            for part in parts {
                collect_sentences(part, sentences);
            }
        }
    }
}

pub(super) const fn rule_kind_to_wire(kind: RuleKind) -> v1::RuleKind {
    match kind {
        RuleKind::Refer { stops: true } => v1::RuleKind::ReferAndStop,
        RuleKind::Refer { stops: false } => v1::RuleKind::Refer,
        RuleKind::Regress => v1::RuleKind::Regress,
        RuleKind::Hold => v1::RuleKind::Hold,
        RuleKind::Ease => v1::RuleKind::Ease,
        RuleKind::Review => v1::RuleKind::Review,
        RuleKind::Enter => v1::RuleKind::Enter,
        RuleKind::Start => v1::RuleKind::Start,
        RuleKind::Discharge => v1::RuleKind::Discharge,
        RuleKind::Climb => v1::RuleKind::Climb,
        RuleKind::BringBack => v1::RuleKind::BringBack,
    }
}

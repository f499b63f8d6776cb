//! Measures of two packs: what they mean, how long they count, whether they are asked for.

use super::criteria::differences;
use super::{Both, Effect};
use crate::model::{
    Carrier, Combined, Computed, Criterion, Measure, MeasureIx, MeasureKind, Origin, Pack,
    Polarity, Worse,
};

impl Both<'_> {
    pub(super) fn measures(&mut self) {
        let (old, new) = (self.old, self.new);
        for was in &old.measures {
            let of = format!("measure `{}`", was.name);
            let is = new
                .measure(&was.name)
                .and_then(|ix| new.measures.get(ix.at()));
            let Some(is) = is else {
                // What is no longer asked for is read by nothing; the rules that read it are compared by themselves.
                self.add(Effect::Unclear, &of, Some(meaning(old, was)), None);
                continue;
            };
            let (before, after) = (meaning(old, was), meaning(new, is));
            self.value(Effect::Unclear, &of, (&before, &after), String::clone);
            self.value(
                Effect::Unclear,
                &format!("{of} counts for"),
                (&was.fresh_days, &is.fresh_days),
                |days| days.map_or_else(|| "ever".to_owned(), |days| format!("{days} days")),
            );
            let effect = if is.expected {
                Effect::Unclear
            } else {
                Effect::Loosens
            };
            self.value(effect, &of, (&was.expected, &is.expected), |expected| {
                let word = if *expected {
                    "expected in every fact"
                } else {
                    "not expected in every fact"
                };
                word.to_owned()
            });
            self.features(&of, was, is);
        }
        for is in &new.measures {
            if old.measure(&is.name).is_none() {
                // By itself it only adds a question; what reads it is a change of its own.
                let effect = if is.expected {
                    Effect::Unclear
                } else {
                    Effect::Neither
                };
                self.add(
                    effect,
                    &format!("measure `{}`", is.name),
                    None,
                    Some(meaning(new, is)),
                );
            }
        }
    }

    /// A defined measure is worse where more of its features are met.
    fn features(&mut self, of: &str, was: &Measure, is: &Measure) {
        let (Origin::Defined(before), Origin::Defined(after)) = (&was.origin, &is.origin) else {
            return;
        };
        for (choice, criterion) in &after.features {
            if !before.features.iter().any(|(other, _)| other == choice) {
                let now = super::criteria::words(self.new, criterion);
                self.add(Effect::Tightens, of, None, Some(now));
            }
        }
        for (choice, criterion) in &before.features {
            let now = after.features.iter().find(|(other, _)| other == choice);
            let nothing = Criterion::Any(Vec::new());
            let now = now.map_or(&nothing, |(_, criterion)| criterion);
            let all = differences(self.old, criterion, self.new, now);
            for (order, before, after) in all {
                self.add(order.effect(Polarity::Cautious), of, before, after);
            }
        }
    }
}

/// What a measure means, but for how long it counts, whether it is expected, and the features of a defined one.
fn meaning(pack: &Pack, measure: &Measure) -> String {
    let kind = match &measure.kind {
        MeasureKind::Number {
            unit,
            min,
            max,
            step,
        } => {
            format!("{min} to {max} {} in steps of {step}", unit.code)
        }
        MeasureKind::Choice { choices } => super::rules::list(choices),
    };
    let name = |ix: &MeasureIx| {
        pack.measures
            .get(ix.at())
            .map_or_else(String::new, |one| one.name.to_string())
    };
    let origin = match &measure.origin {
        Origin::Reported => "reported".to_owned(),
        Origin::Defined(_) => "defined".to_owned(),
        Origin::Computed(Computed::WeekOnWeek { of, in_total }) => {
            let what = if *in_total { "total" } else { "average" };
            format!("week on week of `{}`, {what}", name(of))
        }
        Origin::Computed(computed) => format!("computed: {computed:?}"),
        Origin::Combined(combined) => {
            let parts: Vec<String> = combined.parts().iter().map(name).collect();
            format!("{} of {}", recipe(combined), parts.join(", "))
        }
    };
    let sides = if measure.both_sides {
        ", both sides"
    } else {
        ""
    };
    let ratio = if measure.ratio {
        ", with a true zero"
    } else {
        ""
    };
    format!(
        "{kind}, {}, {}{origin}{sides}{ratio}",
        worse_words(measure.worse),
        carrier_words(measure.carrier)
    )
}

const fn worse_words(worse: Worse) -> &'static str {
    match worse {
        Worse::Higher => "higher is worse",
        Worse::Lower => "lower is worse",
        Worse::Neither => "neither way is worse",
    }
}

const fn carrier_words(carrier: Carrier) -> &'static str {
    match carrier {
        Carrier::Exercise => "of each exercise, ",
        Carrier::Session => "of a session, ",
        Carrier::MorningAfter => "of the morning after, ",
        Carrier::Assessment => "of an assessment, ",
        Carrier::Screening => "of a screening, ",
        Carrier::Nothing => "",
    }
}

fn recipe(combined: &Combined) -> String {
    match combined {
        Combined::Maximum {
            method,
            repetitions,
            in_reserve,
            repetitions_max,
            ..
        } => format!(
            "one-repetition maximum by {} up to {repetitions_max} (repetitions given: {}, in reserve given: {})",
            method.word(),
            repetitions.is_some(),
            in_reserve.is_some()
        ),
        Combined::OtherSide { .. } => "share of the other side".to_owned(),
        Combined::Ratio { method, .. } => format!("ratio by {method}"),
        Combined::Mean {
            scales,
            answered_min,
            told_as,
        } => {
            let sizes: Vec<String> = scales.iter().map(|scale| scale.len().to_string()).collect();
            format!(
                "mean of {} with at least {answered_min} answered as {told_as:?}",
                sizes.join(" + ")
            )
        }
        Combined::VolumeLoad => "volume load".to_owned(),
        Combined::TimeUnderTension => "time under tension".to_owned(),
    }
}

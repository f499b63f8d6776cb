//! The values of a course: the best of each measure, and where a measure has no better end, one that upward rules
//! want of it; and the same as a diary writes them.

use super::{Plan, Start};
use jiff::civil::Date;
use rungwise_engine::fact::{Reading, Value};
use rungwise_pack::model::{
    Amount, Carrier, CheckedPack, Compare, Criterion, Measure, MeasureIx, MeasureKind, Origin,
    Polarity, Relation, RuleKind, Sentence, Subject, Worse,
};
use rungwise_pack::quantity::Milli;
use std::fmt::Write as _;

/// Every measure of a carrier as a plan wants it.
pub(super) fn best(pack: &CheckedPack, carrier: Carrier, plan: &Plan) -> Vec<Reading> {
    let measures = (0_u16..).map(MeasureIx).zip(&pack.measures);
    let measures = measures
        .filter(|(_, measure)| measure.carrier == carrier)
        .filter(|(_, measure)| matches!(measure.origin, Origin::Reported));
    let reading = |(ix, measure): (MeasureIx, &Measure)| {
        let poor = plan.start == Start::Poor
            && is_read(pack, ix, |kind, sentence| {
                let changes = matches!(sentence.relation, Relation::Change(..));
                kind == RuleKind::Start || changes && kind.polarity() == Polarity::Upward
            })
            && !is_read(pack, ix, |kind, _| matches!(kind, RuleKind::Refer { .. }));
        let own = plan.with.as_ref().filter(|(name, _)| *name == measure.name);
        Some(Reading {
            measure: measure.name.clone(),
            value: match own {
                Some((_, value)) => value.clone(),
                None => value(pack, ix, measure, poor)?,
            },
        })
    };
    measures.filter_map(reading).collect()
}

/// The best of what may be reported of the other side too.
pub(super) fn other_side(pack: &CheckedPack) -> Vec<Reading> {
    let plan = Plan {
        start: Start::Best,
        events: Vec::new(),
        with: None,
    };
    let mut readings = best(pack, Carrier::Assessment, &plan);
    readings.retain(|reading| {
        let measure = pack.measure(&reading.measure);
        let measure = measure.and_then(|ix| pack.measures.get(ix.at()));
        measure.is_some_and(|measure| measure.both_sides)
    });
    readings
}

fn value(pack: &CheckedPack, ix: MeasureIx, measure: &Measure, poor: bool) -> Option<Value> {
    Some(match &measure.kind {
        MeasureKind::Choice { choices } => {
            let choice = if poor {
                choices.last()
            } else {
                choices.first()
            };
            Value::Choice(choice?.clone())
        }
        MeasureKind::Number { min, max, step, .. } => Value::Number(match (measure.worse, poor) {
            (Worse::Higher, false) | (Worse::Lower, true) => *min,
            (Worse::Lower, false) | (Worse::Higher, true) => *max,
            (Worse::Neither, _) => {
                wanted(pack, ix, *step).unwrap_or_else(|| middle(*min, *max, *step))
            }
        }),
    })
}

/// The value of a measure that has no better end; none where it has one.
pub(crate) fn undirected(pack: &CheckedPack, ix: MeasureIx, measure: &Measure) -> Option<Value> {
    (measure.worse == Worse::Neither)
        .then(|| value(pack, ix, measure, false))
        .flatten()
}

fn middle(min: Milli, max: Milli, step: Milli) -> Milli {
    let steps = max.0.saturating_sub(min.0).checked_div(step.0).unwrap_or(0);
    Milli(min.0.saturating_add((steps / 2).saturating_mul(step.0)))
}

/// A value that the first upward sentence about a measure takes.
fn wanted(pack: &CheckedPack, ix: MeasureIx, step: Milli) -> Option<Milli> {
    let upward = pack.rules.iter().filter(|rule| {
        matches!(
            rule.kind,
            RuleKind::Enter | RuleKind::Discharge | RuleKind::Climb | RuleKind::Start
        )
    });
    let mut sentences = upward.flat_map(|rule| sentences(pack, &rule.when));
    sentences.find_map(|sentence| {
        if !reads(sentence, ix) {
            return None;
        }
        match &sentence.relation {
            Relation::Between(Amount::Fixed(low), _) => Some(*low),
            Relation::Compare(compare, Amount::Fixed(amount)) => Some(match compare {
                Compare::AtMost | Compare::AtLeast => *amount,
                Compare::Below => Milli(amount.0.saturating_sub(step.0)),
                Compare::Above => Milli(amount.0.saturating_add(step.0)),
            }),
            _ => None,
        }
    })
}

fn is_read(pack: &CheckedPack, ix: MeasureIx, of: impl Fn(RuleKind, &Sentence) -> bool) -> bool {
    pack.rules.iter().any(|rule| {
        let mut read = sentences(pack, &rule.when).into_iter();
        read.any(|sentence| reads(sentence, ix) && of(rule.kind, sentence))
    })
}

/// Whether a sentence is about a measure.
pub(crate) fn reads(sentence: &Sentence, ix: MeasureIx) -> bool {
    matches!(&sentence.subject, Subject::Measure { measure, .. } if *measure == ix)
}

/// The sentences of a criterion.
pub(crate) fn sentences<'p>(pack: &'p CheckedPack, criterion: &Criterion) -> Vec<&'p Sentence> {
    let mut found = Vec::new();
    criterion.each_sentence(&mut |ix| found.extend(pack.sentences.get(ix.at())));
    found
}

/// The beginning of a diary of a best course.
pub(super) fn head(pack: &CheckedPack, opened: Date, plan: &Plan) -> String {
    let usual = |carrier| table(&best(pack, carrier, plan));
    format!(
        "diary = \"best-course\"\nabout = \"\"\"\nInvented: somebody who does everything, reports everything and is as well as can be.\"\"\"\nopened = \"{opened}\"\nborn = \"1980-01-05\"\n\n[usual]\nsession = {}\nexercise = {}\nmorning_after = {}\nscreening = {}\n",
        usual(Carrier::Session),
        usual(Carrier::Exercise),
        usual(Carrier::MorningAfter),
        usual(Carrier::Screening),
    )
}

/// What a day of assessment adds to its table.
pub(super) fn assessed(pack: &CheckedPack, readings: &[Reading], first: bool) -> String {
    let mut text = String::new();
    if first {
        let mut owned: Vec<String> = pack
            .exercises
            .iter()
            .flat_map(|one| one.equipment.iter().map(|name| as_toml(name)))
            .collect();
        owned.sort_unstable();
        owned.dedup();
        if !owned.is_empty() {
            // A String takes everything.
            let _ = writeln!(text, "equipment = [{}]", owned.join(", "));
        }
    }
    text.push_str("screening = {}\n");
    if !readings.is_empty() {
        let _ = writeln!(text, "assessment = {}", table(readings));
        let other = other_side(pack);
        if !other.is_empty() {
            let _ = writeln!(text, "other_side = {}", table(&other));
        }
        let _ = writeln!(text, "other_side_sound = true");
    }
    text
}

/// A clinician's consent, as a moment of its own.
pub(super) fn accepted(on: Date, who: &str) -> String {
    format!("\n[[day]]\ndate = \"{on}\"\nsign_off = {{ accepted = true, who = \"{who}\" }}\n")
}

fn table(readings: &[Reading]) -> String {
    let entries: Vec<String> = readings
        .iter()
        .map(|reading| {
            let value = match &reading.value {
                Value::Number(number) => number.to_string(),
                Value::Choice(choice) => as_toml(choice),
                _ => String::new(),
            };
            format!("{} = {value}", as_toml(&reading.measure))
        })
        .collect();
    format!("{{ {} }}", entries.join(", "))
}

/// A text in quotes. Names have no characters that would have to be escaped.
pub(super) fn as_toml(text: &str) -> String {
    format!("\"{text}\"")
}

//! The demo's dated table: for each decision the outcome, the phase, what moved and why.
//!
//! Lines that made the same move for the same reason stand together. Of a dose only what changed is told, where the exercise
//! is the same as before; of work against a measured band, how it is held and the load really obtained.
//!
//! Leaves to others: where the answers come from (`super::course`).

use super::course::Asked;
use crate::failure::Failure;
use crate::screen::{Screen, bold, faint};
use rungwise_api::from_wire::Reader;
use rungwise_api::v1;
use rungwise_engine::sheet::say_dose;
use rungwise_pack::model::{CheckedPack, RowValue};
use rungwise_pack::quantity::Variable;
use textwrap::{Options, WordSplitter};

/// Columns that a line of the table may take.
const WIDTH: usize = 110;
/// Columns before what moved: the date.
const INDENT: &str = "            ";

/// Millimetres in a centimetre.
const MM_A_CM: u32 = 10;

/// A dose, value by value.
type Dose = Vec<(Variable, RowValue)>;

/// Prints one decision. `before` is the prescription that was in force until then.
pub(crate) fn print(
    screen: &mut Screen,
    pack: &CheckedPack,
    asked: &Asked,
    before: Option<&v1::Prescription>,
) -> Result<(), Failure> {
    let told = &asked.explanation;
    let phase = if told.phase.is_empty() {
        "no phase yet"
    } else {
        &told.phase
    };
    let proposed = if told.proposed {
        ", waits for a clinician's sign-off"
    } else {
        ""
    };
    screen.line(&format!(
        "{}  {}  {phase}{proposed}",
        told.as_of,
        bold(&format!("{:<9}", outcome(told.outcome)))
    ))?;
    let after = if told.proposed {
        asked.next.if_accepted.as_ref()
    } else {
        asked.next.prescription.as_ref()
    };
    let whole = reasons(pack, &told.because);
    let mut causes = Vec::new();
    for reason in &whole {
        wrapped(&mut causes, reason, INDENT);
    }
    for line in causes {
        screen.line(&format!("{INDENT}{}", faint(&line)))?;
    }
    let whole = whole.join("; ");
    for group in groups(pack, told) {
        let indent = format!("{INDENT}{:<12}", "");
        let mut lines = Vec::new();
        if group.moved == v1::Move::Keep {
            let names: Vec<&str> = group
                .lines
                .iter()
                .map(|moved| moved.line.as_str())
                .collect();
            wrapped(&mut lines, &names.join(", "), &indent);
        } else {
            for moved in &group.lines {
                wrapped(&mut lines, &exercise(pack, moved, before, after), &indent);
            }
        }
        if !group.why.is_empty() && group.why != whole {
            wrapped(&mut lines, &format!("why: {}", group.why), &indent);
        }
        let mut word = bold(&format!("{:<12}", word(group.moved)));
        for line in lines {
            screen.line(&format!("{INDENT}{word}{line}"))?;
            word = format!("{:<12}", "");
        }
    }
    screen.line("")
}

/// Lines that made the same move for the same reason.
struct Group<'a> {
    moved: v1::Move,
    why: String,
    lines: Vec<&'a v1::MoveExplained>,
}

fn groups<'a>(pack: &CheckedPack, told: &'a v1::Explanation) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'a>> = Vec::new();
    for moved in &told.moves {
        let why = reasons(pack, &moved.because).join("; ");
        match groups
            .iter_mut()
            .find(|group| group.moved == moved.r#move() && group.why == why)
        {
            Some(group) => group.lines.push(moved),
            None => groups.push(Group {
                moved: moved.r#move(),
                why,
                lines: vec![moved],
            }),
        }
    }
    groups
}

/// Reasons in words, each once. Where a rule is the reason, its own reason is told; where many rules of one verdict are,
/// only their keys.
fn reasons(pack: &CheckedPack, because: &[v1::CauseExplained]) -> Vec<String> {
    let mut told = of_verdict(pack, because, v1::CauseKind::Met, "all met: ", "");
    told.extend(of_verdict(
        pack,
        because,
        v1::CauseKind::NotMet,
        "not yet met: ",
        "not yet: ",
    ));
    for because in because {
        let kind = because
            .cause
            .as_ref()
            .map_or(v1::CauseKind::Unspecified, v1::Cause::kind);
        if !matches!(
            kind,
            v1::CauseKind::Met | v1::CauseKind::NotMet | v1::CauseKind::Outcome
        ) {
            told.push(because.text.clone());
        }
    }
    told.dedup();
    told
}

/// The rules of one verdict: a few with their reasons, each after `one`; many by their keys alone, after `many`.
fn of_verdict(
    pack: &CheckedPack,
    because: &[v1::CauseExplained],
    kind: v1::CauseKind,
    many: &str,
    one: &str,
) -> Vec<String> {
    /// Most rules whose reasons are told.
    const TOLD_MAX: usize = 2;
    let of_kind = because
        .iter()
        .filter_map(|because| because.cause.as_ref())
        .filter(|cause| cause.kind() == kind);
    let keys: Vec<&str> = of_kind.map(|cause| cause.about.as_str()).collect();
    if keys.len() > TOLD_MAX {
        return vec![format!("{many}{}", keys.join(", "))];
    }
    keys.into_iter()
        .map(|key| format!("{one}{}", reason_of(pack, key).unwrap_or(key)))
        .collect()
}

fn reason_of<'p>(pack: &'p CheckedPack, rule: &str) -> Option<&'p str> {
    let rule = pack.rules.get(pack.rule(rule)?.at())?;
    Some(rule.reason.as_str()).filter(|reason| !reason.is_empty())
}

/// An exercise with what changed of its dose, or with its whole dose where it is another exercise than before.
fn exercise(
    pack: &CheckedPack,
    moved: &v1::MoveExplained,
    before: Option<&v1::Prescription>,
    after: Option<&v1::Prescription>,
) -> String {
    let name = name_of(
        pack,
        if moved.after.is_empty() {
            &moved.before
        } else {
            &moved.after
        },
    );
    let Some(now) = given(after, &moved.after) else {
        return name;
    };
    let Some(dose) = dose_of(now) else {
        return name;
    };
    let say = |dose: &Dose| say_dose(pack, &pack.language, dose);
    let was = given(before, &moved.before).filter(|_| moved.before == moved.after);
    let old_dose = was.and_then(dose_of);
    let mut told = Vec::new();
    match &old_dose {
        None => told.push(say(&dose)),
        Some(old) => {
            let without = |dose: &Dose, other: &Dose| -> Dose {
                let changed = dose.iter().filter(|value| !other.contains(value));
                changed.cloned().collect()
            };
            let (changed, gone) = (without(&dose, old), without(old, &dose));
            if !changed.is_empty() {
                told.push(format!("{} (was {})", say(&changed), say(&gone)));
            }
        }
    }
    told.extend(hold(now, was));
    if told.is_empty() {
        return name;
    }
    format!("{name}: {}", told.join(", "))
}

/// How a measured band is held, where it is held otherwise than before.
fn hold(now: &v1::PrescribedExercise, was: Option<&v1::PrescribedExercise>) -> Option<String> {
    let of = |given: &v1::PrescribedExercise| {
        let held = given.band.as_ref().filter(|band| band.measured)?;
        let folded = if held.strands > 1 {
            " folded double"
        } else {
            ""
        };
        let (way, length_mm) = match held.stance_mm {
            Some(stance_mm) => ("away", stance_mm),
            None => ("of it held", held.working_length_mm),
        };
        let length_cm = length_mm / MM_A_CM;
        let load = &held.torque;
        Some(format!(
            "“{}”{folded}, {length_cm} cm {way}, {load} N.m",
            held.band
        ))
    };
    let held = of(now)?;
    let change = now.band.as_ref().map_or("", |band| band.change.as_str());
    let change = match change.strip_prefix('-') {
        Some(less) => format!("{less} % less"),
        None => format!("{change} % more"),
    };
    match was.and_then(of) {
        Some(before) if before == held => None,
        Some(before) => Some(format!("{held} (was {before}), {change}")),
        None => Some(held),
    }
}

fn name_of(pack: &CheckedPack, exercise: &str) -> String {
    let known = pack
        .exercise(exercise)
        .and_then(|index| pack.exercises.get(index.at()));
    let named = known.and_then(|known| pack.text(&pack.language, &known.name));
    named.unwrap_or(exercise).to_owned()
}

fn given<'p>(
    prescription: Option<&'p v1::Prescription>,
    exercise: &str,
) -> Option<&'p v1::PrescribedExercise> {
    let mut all = prescription?.exercises.iter();
    all.find(|prescribed| prescribed.exercise == exercise)
}

/// The dose without the load of a measured band, which is told with the band.
fn dose_of(given: &v1::PrescribedExercise) -> Option<Dose> {
    let mut dose = Reader::default().dose("dose", &given.dose)?;
    if given.band.as_ref().is_some_and(|band| band.measured) {
        dose.retain(|(variable, _)| *variable != Variable::Load);
    }
    Some(dose)
}

/// Adds a text in lines that fit; all but the first begin two columns further in.
fn wrapped(lines: &mut Vec<String>, text: &str, indent: &str) {
    let options = Options::new(WIDTH.saturating_sub(indent.len()))
        .subsequent_indent("  ")
        .word_splitter(WordSplitter::NoHyphenation);
    lines.extend(
        textwrap::wrap(text, options)
            .into_iter()
            .map(std::borrow::Cow::into_owned),
    );
}

/// The word of an outcome, as the design's tables write it.
fn outcome(value: i32) -> &'static str {
    let known = v1::Outcome::try_from(value).unwrap_or(v1::Outcome::Unspecified);
    known.as_str_name().trim_start_matches("OUTCOME_")
}

fn word(value: v1::Move) -> &'static str {
    value.as_str_name().trim_start_matches("MOVE_")
}

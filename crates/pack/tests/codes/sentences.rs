//! Sentences: what cannot be read, and what does not go together.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

const EASE: &str = "when = \"rest pain above 6\"";

/// The small pack's ease rule with another sentence.
fn ease(code: Code, bad: &str) -> Case {
    case(code).edit("phases.toml", EASE, format!("when = \"{bad}\""))
}

/// The same, and a sentence near it that is understood.
fn pair(code: Code, bad: &str, good: &str) -> Case {
    ease(code, bad).twin("phases.toml", EASE, format!("when = \"{good}\""))
}

/// The same for sentences that read a reference, which want a number beside them.
fn beside(code: Code, bad: &str, good: &str, number: &str) -> Case {
    let when = |sentence: &str| format!("when = {{ any = [\"{sentence}\", \"{number}\"] }}");
    case(code)
        .edit("phases.toml", EASE, when(bad))
        .twin("phases.toml", EASE, when(good))
}

/// The small pack's first limit of the first phase with another sentence.
fn limit(sentence: &str) -> Case {
    case(Code::LimitForm).edit("phases.toml", "pain during exercise at most 4", sentence)
}

const FEVER: &str = "[[measure]]\nname = \"fever\"";

/// Another measure before `fever`: a number of exercises or assessments, without a direction or a true zero.
fn another(name: &str, carrier: &str, unit: &str, more: &str) -> String {
    format!(
        "[[measure]]\nname = \"{name}\"\nunit = \"{unit}\"\nmin = 0\nmax = 180\nstep = 1\ncarrier = \"{carrier}\"\n\
         expected = false\nreported_by = [\"patient\"]\nsource = \"invented\"\n{more}\n{FEVER}"
    )
}

fn tremor() -> String {
    another("tremor", "exercise", "{score}", "")
}

fn knee() -> String {
    another("knee bend", "assessment", "deg", "worse = \"lower\"\n")
}

pub(crate) fn cases() -> Vec<Case> {
    let mut cases = reading();
    cases.extend(going_together());
    cases.extend(limits());
    cases
}

fn reading() -> Vec<Case> {
    let rest = "rest pain above 9";
    let rise = "rest pain up by at least 2 since the first assessment";
    let rise_now = "pain next morning above 6 in each of the last 2 sessions";
    vec![
        ease(Code::Subject, "rest paim above 6"),
        ease(Code::Subject, "mood above 6"),
        pair(
            Code::Subject,
            "pain during exercise of er-bandd above 6",
            "pain during exercise of er-banded above 6",
        ),
        ease(Code::Subject, "at least 1 exercise has reached reps 8"),
        ease(Code::Subject, "   "),
        ease(Code::Relation, "rest pain > 6"),
        ease(Code::Relation, "rest pain abve 6"),
        ease(Code::Number, "rest pain above six"),
        pair(
            Code::Number,
            "active elevation below 90deg",
            "active elevation below 90 deg",
        ),
        ease(Code::Number, "rest pain above"),
        ease(Code::SentenceUnit, "active elevation below 90 degrees"),
        ease(Code::SentenceUnit, "active elevation below 90 cm"),
        ease(Code::SentenceUnit, "active elevation below 1 rad"),
        pair(Code::Amount, "rest pain above 11", "rest pain above 10"),
        ease(Code::Amount, "rest pain at least -1"),
        pair(Code::Choice, "fever is yess", "fever is yes"),
        pair(
            Code::Choice,
            "irritability is not middling",
            "irritability is not low",
        ),
        ease(Code::Window, "rest pain above 6 for a week"),
        pair(
            Code::Window,
            "pain next morning above 6 in each of the last 2 session",
            rise_now,
        ),
        ease(Code::Window, "pain next morning above 6 at worst last week"),
        ease(
            Code::Window,
            "pain next morning above 6 in the last session of all",
        ),
        beside(Code::Reference, "rest pain up by at least 2", rise, rest),
        beside(
            Code::Reference,
            "rest pain up by at least 2 since the first assesment",
            rise,
            rest,
        ),
        pair(
            Code::Count,
            "pain next morning above 6 in each of the last 0 sessions",
            rise_now,
        ),
        pair(
            Code::Count,
            "pain next morning above 6 in at least 3 of the last 2 sessions",
            "pain next morning above 6 in at least 2 of the last 2 sessions",
        ),
        pair(
            Code::RelationKind,
            "irritability at least 2",
            "irritability is high",
        ),
        ease(Code::RelationKind, "rest pain is 2"),
    ]
}

fn going_together() -> Vec<Case> {
    let rest = "rest pain above 9";
    vec![
        pair(
            Code::Quantifier,
            "in any exercise pain next morning above 6",
            "in any exercise pain during exercise above 6",
        ),
        pair(
            Code::Quantifier,
            "in any exercise pain during exercise above 6 at worst over the last 7 days",
            "pain during exercise above 6 at worst over the last 7 days",
        ),
        pair(
            Code::Count,
            "in at least 3 exercises pain during exercise above 6",
            "in at least 2 exercises pain during exercise above 6",
        ),
        pair(
            Code::WindowKind,
            "rest pain above 6 in the last session",
            "rest pain above 6 on at least 1 of the last 7 days",
        ),
        ease(
            Code::WindowKind,
            "days since the last session above 6 at worst over the last 7 days",
        ),
        pair(
            Code::Statistic,
            "fever is yes in total over the last 2 weeks",
            "fever is yes at worst over the last 2 weeks",
        ),
        ease(
            Code::Statistic,
            "tremor of er-banded above 2 at worst over the last 2 weeks",
        )
        .edit("measures.toml", FEVER, tremor()),
        beside(
            Code::Percent,
            "active elevation below 80 % of knee bend",
            "active elevation below 80 % of the other side",
            "active elevation below 60",
        )
        .edit("measures.toml", FEVER, knee()),
        beside(
            Code::OtherSide,
            "knee bend below 80 % of the other side",
            "knee bend below 60",
            "knee bend below 70",
        )
        .both(
            "measures.toml",
            FEVER,
            &knee().replace("step = 1", "step = 1\nratio = true"),
        ),
        beside(
            Code::RelativeKind,
            "rest pain at least 2 above irritability",
            "rest pain at least 2 above pain next morning",
            rest,
        ),
        beside(
            Code::RelativeKind,
            "rest pain at least 2 above rest pain",
            "rest pain up by at least 2 since the best assessment",
            rest,
        ),
        beside(
            Code::RelativeKind,
            "rest pain at least 2 above days since the last session",
            "rest pain at least 2 above pain before session",
            rest,
        ),
        beside(
            Code::RelativeKind,
            "pain next morning above 1 above pain before session at worst over the last 7 days",
            "pain next morning above 1 above pain before session in any of the last 2 sessions",
            "pain next morning above 6",
        ),
        beside(
            Code::ChangeWindow,
            "rest pain up by at least 2 since the first assessment at worst over the last 7 days",
            "rest pain up by at least 2 compared with the 7 days before at worst over the last 7 days",
            rest,
        ),
        beside(
            Code::ChangeWindow,
            "rest pain up by at least 2 compared with the 7 days before",
            "rest pain up by at least 2 since entering the phase",
            rest,
        ),
        ease(Code::NoDirection, "tremor above 2").edit("measures.toml", FEVER, tremor()),
        pair(
            Code::Reached,
            "er-isometric has reached reps 8",
            "er-isometric has reached hold time 30",
        ),
        ease(Code::Reached, "er-isometric has reached hold time 25"),
        pair(
            Code::Reached,
            "at least 3 exercises have reached reps 12",
            "at least 2 exercises have reached reps 12",
        ),
        ease(Code::Reached, "er-isometric has reached holdtime 20"),
        ease(Code::Reached, "er-banded has reached load"),
    ]
}

fn limits() -> Vec<Case> {
    vec![
        limit("pain during exercise at most 4 in the last session"),
        limit("in any exercise pain during exercise at most 4"),
        limit("rest pain at most 4"),
        limit("er-isometric has reached hold time 20"),
        limit("pain during exercise down by at least 2 since the first assessment"),
    ]
}

//! Volume load, time under tension, their change from week to week, and how long a repetition takes.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

/// Before this table of the small pack others are put.
const ANCHOR: &str = "[[measure]]\nname = \"weeks since surgery\"";

const RIGHT: &str = "
[[measure]]
name = \"work\"
computed = \"volume load\"
unit = \"N\"

[[measure]]
name = \"time held\"
computed = \"time under tension\"
unit = \"s\"

[[measure]]
name = \"weekly rise\"
computed = \"week-on-week change\"
of = \"work\"
statistic = \"on average\"
unit = \"%\"
worse = \"higher\"

";

const WORDS: &str = "variable = \"load\"\nvalues = [\"light\", \"medium\"]";
const NUMBERS: &str = "variable = \"load\"\nvalues = [20, 30]";
const ROW: &str = "variable = \"rest\"\nvalues = [90, 60]\njudgement = { by = \"Invented\", why = \"Less rest is harder.\" }";
const NEEDS: &str = "needs = \"pain during exercise at most 1 in each of the last 2 sessions\"";

/// The small pack with volumes and a load in numbers.
fn with_volumes(code: Code) -> Case {
    case(code).both("exercises.toml", WORDS, NUMBERS)
}

/// Volumes with one word changed in the failing pack.
fn changed(code: Code, from: &str, to: &str) -> Case {
    assert_eq!(RIGHT.matches(from).count(), 1, "`{from}` stands once");
    with_volumes(code)
        .edit("measures.toml", ANCHOR, RIGHT.replace(from, to) + ANCHOR)
        .twin("measures.toml", ANCHOR, RIGHT.to_owned() + ANCHOR)
}

/// What the hardest value of an exercise with loads needs.
fn needs(code: Code, wrong: &str, right: &str) -> Case {
    let needs = |sentence: &str| format!("needs = \"{sentence}\"");
    with_volumes(code)
        .both("measures.toml", ANCHOR, &(RIGHT.to_owned() + ANCHOR))
        .edit("exercises.toml", NEEDS, needs(wrong))
        .twin("exercises.toml", NEEDS, needs(right))
}

/// A tempo's values.
fn tempo(code: Code, wrong: &str, right: &str) -> Case {
    let row = |values: &str| {
        format!(
            "{ROW}\n[[line.exercise.ladder]]\nvariable = \"tempo\"\nvalues = [{values}]\nsource = \"invented\""
        )
    };
    case(code)
        .edit("exercises.toml", ROW, row(wrong))
        .twin("exercises.toml", ROW, row(right))
}

pub(crate) fn cases() -> Vec<Case> {
    let volumes = RIGHT.to_owned() + ANCHOR;
    vec![
        // Which exercise has one.
        needs(
            Code::NoVolume,
            "time held below 200 in the last session",
            "work below 2000 in the last session",
        ),
        needs(
            Code::NoVolume,
            "weekly rise of wall-slide at most 10 %",
            "weekly rise of er-banded at most 10 %",
        ),
        case(Code::NoVolume)
            .both("measures.toml", ANCHOR, &volumes)
            .twin("exercises.toml", WORDS, NUMBERS),
        // How they are declared.
        changed(
            Code::MissingKey,
            "computed = \"volume load\"\nunit = \"N\"",
            "computed = \"volume load\"",
        ),
        changed(Code::UnknownUnit, "unit = \"N\"", "unit = \"kg\""),
        changed(Code::UnknownUnit, "unit = \"s\"", "unit = \"min\""),
        changed(Code::UnknownUnit, "unit = \"%\"", "unit = \"N\""),
        changed(Code::Parts, "of = \"work\"", "of = \"rest pain\""),
        changed(Code::Parts, "of = \"work\"", "of = \"weekly rise\""),
        changed(Code::Parts, "worse = \"higher\"", "worse = \"lower\""),
        changed(
            Code::Parts,
            "unit = \"s\"",
            "unit = \"s\"\nworse = \"higher\"",
        ),
        changed(Code::UnknownName, "of = \"work\"", "of = \"werk\""),
        changed(Code::UnknownWord, "\"on average\"", "\"at worst\""),
        changed(Code::MissingKey, "statistic = \"on average\"\n", ""),
        changed(
            Code::Exclusive,
            "unit = \"s\"",
            "unit = \"s\"\nof = \"work\"",
        ),
        changed(
            Code::Exclusive,
            "statistic = \"on average\"",
            "statistic = \"on average\"\ndays = 7",
        ),
        // Sentences about them.
        needs(
            Code::WindowKind,
            "weekly rise at most 10 % in the last session",
            "weekly rise at most 10 %",
        ),
        needs(
            Code::Quantifier,
            "in any exercise weekly rise at most 10 %",
            "work below 2000 in total over the last 7 days",
        ),
        needs(
            Code::Statistic,
            "work below 2000 at worst over the last 7 days",
            "work below 2000 on average over the last 7 days",
        ),
        needs(
            Code::SentenceUnit,
            "work below 2000 N.m in the last session",
            "work below 2000 N in the last session",
        ),
        case(Code::LimitForm)
            .both("measures.toml", ANCHOR, &volumes)
            .both("exercises.toml", WORDS, NUMBERS)
            .edit(
                "exercises.toml",
                "pain during exercise at most 4",
                "work at most 2000",
            ),
        // How long a repetition takes.
        tempo(
            Code::RowValueKind,
            "{ value = \"slow\", seconds = 0 }",
            "{ value = \"slow\", seconds = 7.5 }",
        ),
        tempo(
            Code::RowValueKind,
            "{ value = \"3-1-2-0\", seconds = 6 }",
            "\"3-1-2-0\"",
        ),
        case(Code::RowValueKind).edit(
            "exercises.toml",
            "{ value = 15, ",
            "{ value = 15, seconds = 6, ",
        ),
    ]
}

//! The forms that keep caution monotone, and where rules must stand.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

const EASE: &str = "when = \"rest pain above 6\"";
const DISCHARGE: &str = "\"rest pain at most 1\"]";

/// The small pack's ease rule with another criterion, and one near it that passes.
fn ease(code: Code, bad: &str, good: &str) -> Case {
    case(code)
        .edit("phases.toml", EASE, format!("when = {bad}"))
        .twin("phases.toml", EASE, format!("when = {good}"))
}

/// The same with the last sentences of its discharge rule.
fn discharge(code: Code, bad: &str, good: &str) -> Case {
    case(code)
        .edit("phases.toml", DISCHARGE, format!("{bad}]"))
        .twin("phases.toml", DISCHARGE, format!("{good}]"))
}

pub(crate) fn cases() -> Vec<Case> {
    let mut cases = polarity();
    cases.extend(bounds());
    cases.extend(places());
    cases
}

fn polarity() -> Vec<Case> {
    vec![
        discharge(
            Code::UpwardPolarity,
            "\"rest pain at least 1\"",
            "\"rest pain below 1\"",
        ),
        discharge(
            Code::UpwardPolarity,
            "\"active elevation at most 90\"",
            "\"active elevation above 90\"",
        ),
        discharge(
            Code::UpwardPolarity,
            "{ none = [\"rest pain at most 1\"] }",
            "{ none = [\"rest pain above 1\"] }",
        ),
        discharge(
            Code::UpwardPolarity,
            "\"irritability is moderate\"",
            "\"irritability is low\"",
        ),
        discharge(
            Code::UpwardPolarity,
            "\"irritability is not low\"",
            "\"irritability is not high\"",
        ),
        discharge(
            Code::UpwardPolarity,
            "{ none = [\"irritability no worse than moderate\"] }",
            "{ none = [{ none = [\"irritability no worse than moderate\"] }] }",
        ),
        discharge(
            Code::UpwardPolarity,
            "\"rest pain at most 4\", \"rest pain up by at least 2 since the first assessment\"",
            "\"rest pain at most 4\", \"rest pain down by at least 2 since the first assessment\"",
        ),
        // A limit is kept by better values.
        case(Code::UpwardPolarity).edit(
            "phases.toml",
            "pain during exercise at most 4",
            "pain during exercise at least 4",
        ),
        ease(
            Code::CautiousPolarity,
            "\"rest pain at most 6\"",
            "\"rest pain at least 6\"",
        ),
        ease(
            Code::CautiousPolarity,
            "{ none = [\"rest pain above 6\"] }",
            "{ none = [\"rest pain at most 6\"] }",
        ),
        ease(
            Code::CautiousPolarity,
            "\"irritability no worse than moderate\"",
            "{ none = [\"irritability no worse than moderate\"] }",
        ),
        ease(
            Code::CautiousPolarity,
            "\"irritability is moderate\"",
            "\"irritability is not low\"",
        ),
        case(Code::CautiousPolarity).edit(
            "measures.toml",
            "moderate = \"rest pain at least 4\"",
            "moderate = \"rest pain at most 4\"",
        ),
        case(Code::CautiousPolarity).edit(
            "phases.toml",
            "while = \"irritability is high\"",
            "while = \"irritability is low\"",
        ),
        // Computed measures have nothing to report worse, and are exempt.
        ease(
            Code::BetweenDirected,
            "\"rest pain between 2 and 4\"",
            "\"days since the last session between 2 and 4\"",
        ),
        discharge(
            Code::BetweenDirected,
            "\"rest pain between 0 and 1\"",
            "\"rest pain at most 1\"",
        ),
    ]
}

fn bounds() -> Vec<Case> {
    let change = "\"rest pain down by at least 2 since the first assessment\"";
    let rise = "\"rest pain up by at least 2 since the first assessment\"";
    let side = "\"active elevation at least 80 % of the other side\"";
    vec![
        discharge(
            Code::UpwardBound,
            change,
            &format!("{change}, \"rest pain at most 3\""),
        ),
        discharge(
            Code::UpwardBound,
            &format!(
                "{side}, {{ any = [\"active elevation at least 120\", \"rest pain at most 1\"] }}"
            ),
            &format!(
                "{side}, {{ any = [\"active elevation at least 120\", \"active elevation at least 130\"] }}"
            ),
        ),
        discharge(
            Code::UpwardBound,
            &format!("{{ any = [{side}, \"active elevation at least 120\"] }}"),
            &format!(
                "{{ any = [{{ all = [{side}, \"active elevation at least 100\"] }}, \"active elevation at least 120\"] }}"
            ),
        ),
        ease(
            Code::CautiousBound,
            rise,
            &format!("{{ any = [{rise}, \"rest pain above 6\"] }}"),
        ),
        ease(
            Code::CautiousBound,
            &format!("[{rise}, \"rest pain above 6\"]"),
            // None of: neither of the two unmet; so any of them met.
            &format!("{{ none = [[{{ none = [{rise}] }}, \"rest pain at most 6\"]] }}"),
        ),
        case(Code::LimitBound)
            .edit(
                "phases.toml",
                "pain next morning at most 3\"",
                "pain next morning at most 1 above pain before session\"",
            )
            .twin(
                "phases.toml",
                "pain next morning at most 3\"",
                "pain next morning at most 2\"",
            ),
        ease(
            Code::ByTimeAlone,
            "\"pain next morning above 4 on average over the last 7 days\"",
            "\"pain next morning above 4 at worst over the last 7 days\"",
        ),
        ease(
            Code::ByTimeAlone,
            "{ none = [\"sessions kept at least 3 in total over the last 7 days\"] }",
            "{ none = [\"sessions kept at least 3 at worst over the last 7 days\"] }",
        )
        .both("measures.toml", "[[measure]]\nname = \"fever\"", &kept()),
    ]
}

/// A measure that more of is better, so that a total too low is caution.
fn kept() -> String {
    "[[measure]]\nname = \"sessions kept\"\nunit = \"{sessions}\"\nmin = 0\nmax = 3\nstep = 1\nworse = \"lower\"\n\
     carrier = \"session\"\nexpected = true\nreported_by = [\"patient\"]\nsource = \"invented\"\n\n\
     [[measure]]\nname = \"fever\""
        .to_owned()
}

fn places() -> Vec<Case> {
    let bands = "[[phase]]\nphase = \"bands\"";
    let rule = |kind: &str, when: &str| {
        format!(
            "[[phase.{kind}]]\nrule = \"odd\"\nwhen = \"{when}\"\nreason = \"Odd.\"\nsource = \"invented\"\n\n{bands}"
        )
    };
    vec![
        case(Code::EmptyCriterion)
            .edit("phases.toml", EASE, "when = []")
            .twin("phases.toml", EASE, "when = [\"rest pain above 6\"]"),
        case(Code::EmptyCriterion).edit("phases.toml", EASE, "when = { any = [] }"),
        case(Code::NoEnter)
            .edit(
                "phases.toml",
                bands,
                format!("{}\n{bands}", third("lighter")),
            )
            .twin(
                "phases.toml",
                bands,
                format!("{}{}\n{bands}", third("lighter"), enter("lighter")),
            ),
        case(Code::NoDischarge).edit("phases.toml", "[[phase.discharge]]", "[[phase.enter]]"),
        case(Code::RuleMisplaced).edit("phases.toml", bands, rule("enter", "rest pain at most 1")),
        case(Code::RuleMisplaced).edit("phases.toml", bands, rule("start", "rest pain at most 1")),
        case(Code::RuleMisplaced).edit(
            "phases.toml",
            bands,
            rule("discharge", "rest pain at most 1"),
        ),
        case(Code::Cycle).edit(
            "measures.toml",
            "moderate = \"rest pain at least 4\"",
            "moderate = \"irritability is high\"",
        ),
        case(Code::LayOffOrder)
            .edit(
                "pack.toml",
                "[[lay_off]]",
                format!("{}[[lay_off]]", lay_off(7, 1)),
            )
            .twin(
                "pack.toml",
                "[[lay_off]]",
                format!("{}[[lay_off]]", lay_off(4, 0)),
            ),
        case(Code::LayOffOrder).edit(
            "pack.toml",
            "[[lay_off]]",
            format!("{}[[lay_off]]", lay_off(4, 2)),
        ),
    ]
}

fn lay_off(days: u32, steps: u32) -> String {
    format!(
        "[[lay_off]]\ndays = {days}\nsteps = {steps}\njudgement = {{ by = \"Invented\", why = \"For tests.\" }}\n\n"
    )
}

fn third(phase: &str) -> String {
    format!(
        "[[phase]]\nphase = \"{phase}\"\naim = \"In between.\"\nexercises = [\"er-isometric\"]\nsessions_a_week = 5\n"
    )
}

fn enter(phase: &str) -> String {
    format!(
        "\n[[phase.enter]]\nrule = \"{phase}-enter\"\nwhen = \"rest pain at most 2\"\nreason = \"Calmer.\"\nsource = \"invented\"\n"
    )
}

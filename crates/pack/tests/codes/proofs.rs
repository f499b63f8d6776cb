//! What is proved of a sound pack: a seeded defect of every kind, and a pack near it that has none.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

const EASE: &str = "when = \"rest pain above 6\"";
const DISCHARGE: &str = "when = [\"at least 1 exercises have reached reps 12\", \"sessions in this phase at least 6\", \"rest pain at most 1\"]";
const REGRESS: &str = "[[phase.regress]]\nrule = \"bands-regress\"";
const HOLD: &str = "pain next morning above 5 in each of the last 2 sessions";
const RANGE: &str = "\"irritability no worse than moderate\"] }";

/// The small pack with one text in its phases replaced, and the same with another that passes.
fn phases(code: Code, from: &'static str, bad: &str, good: &str) -> Case {
    case(code)
        .edit("phases.toml", from, bad)
        .twin("phases.toml", from, good)
}

/// The small pack with a hold rule in its second phase.
fn hold(code: Code, bad: &str, good: &str) -> Case {
    let rule = |when: &str| {
        format!(
            "[[phase.hold]]\nrule = \"bands-hold\"\nwhen = {when}\nreason = \"Not settled.\"\nsource = \"invented\"\n\n{REGRESS}"
        )
    };
    phases(code, REGRESS, &rule(bad), &rule(good))
}

pub(crate) fn cases() -> Vec<Case> {
    let mut cases = alone();
    cases.extend(together());
    cases.extend(exercises());
    cases
}

fn alone() -> Vec<Case> {
    let discharge = |when: &str| format!("when = [{when}]");
    vec![
        phases(
            Code::AlwaysMet,
            "\"rest pain at most 1\"",
            "\"rest pain at most 10\"",
            "\"rest pain at most 9\"",
        ),
        phases(
            Code::AlwaysMet,
            "pain during exercise at most 4",
            "pain during exercise at most 10",
            "pain during exercise at most 9",
        ),
        phases(
            Code::AlwaysMet,
            "\"irritability no worse than moderate\"",
            "\"irritability no worse than high\"",
            "\"irritability no worse than moderate\"",
        ),
        phases(
            Code::NeverMet,
            EASE,
            "when = \"rest pain above 10\"",
            "when = \"rest pain above 9\"",
        ),
        phases(
            Code::NeverMet,
            EASE,
            "when = \"active elevation below 0 deg\"",
            "when = \"active elevation below 1 deg\"",
        ),
        phases(
            Code::NotFresh,
            EASE,
            "when = \"active elevation below 60 deg on at least 62 of the last 90 days\"",
            "when = \"active elevation below 60 deg on at least 61 of the last 90 days\"",
        ),
        phases(
            Code::NotFresh,
            EASE,
            "when = \"active elevation below 60 deg at worst over the last 62 days\"",
            EASE,
        ),
        phases(
            Code::TotalFloor,
            DISCHARGE,
            &discharge("\"rest pain at most 4 in total over the last 14 days\""),
            &discharge(
                "\"rest pain at most 4 in total over the last 14 days\", \"sessions in this phase at least 6\"",
            ),
        ),
        phases(
            Code::NeverHappened,
            "\"sessions in this phase at least 6\"",
            "\"weeks since surgery at least 12\"",
            "\"weeks since surgery at least 12\", \"weeks since surgery at most 52\"",
        ),
    ]
}

fn together() -> Vec<Case> {
    let enter = |also: &str| format!("\"irritability no worse than moderate\", \"{also}\"] }}");
    vec![
        phases(
            Code::NeverTogether,
            "\"sessions in this phase at least 6\"",
            "\"sessions in this phase at least 6\", \"sessions in this phase at most 5\"",
            "\"sessions in this phase at least 6\", \"sessions in this phase at most 6\"",
        ),
        // Each rule can be met, and both are wanted.
        phases(
            Code::NeverTogether,
            "\"er-isometric has reached hold time 20\",\n]",
            "\"days since the last session at least 4\",\n]",
            "\"days since the last session at most 3\",\n]",
        )
        .both(
            "phases.toml",
            RANGE,
            &enter("days since the last session at most 3"),
        ),
        // A climb that a rung's own need excludes.
        case(Code::NeverTogether)
            .edit(
                "exercises.toml",
                "needs = \"pain during exercise at most 1 in each of the last 2 sessions\"",
                "needs = { none = [\"sessions in this phase at least 1\"] }",
            )
            .twin(
                "exercises.toml",
                "needs = \"pain during exercise at most 1 in each of the last 2 sessions\"",
                "needs = { none = [\"sessions in this phase at least 9\"] }",
            )
            .both(
                "exercises.toml",
                "rule = \"er-banded-climb\"\nwhen = \"pain during exercise at most 2 in each of the last 2 sessions\"",
                "rule = \"er-banded-climb\"\nwhen = \"sessions in this phase at least 1\"",
            ),
        hold(
            Code::EnterIsHeld,
            "\"days since the last session at most 3\"",
            "\"days since the last session at least 4\"",
        )
        .both(
            "phases.toml",
            RANGE,
            &enter("days since the last session at most 2"),
        ),
        hold(
            Code::EnterNearHeld,
            "\"pain during exercise above 2 in each of the last 4 sessions\"",
            "\"pain during exercise above 3 in each of the last 4 sessions\"",
        ),
        phases(
            Code::LimitHeld,
            HOLD,
            "pain during exercise above 3 in the last session",
            "pain during exercise above 4 in the last session",
        ),
    ]
}

fn exercises() -> Vec<Case> {
    vec![
        case(Code::NothingGives)
            .edit(
                "exercises.toml",
                "gives_way = [\"load\", \"reps\"]",
                "gives_way = [\"load\"]",
            )
            .both(
                "exercises.toml",
                "values = [\"light\", \"medium\"]",
                "values = [\"light\"]",
            ),
        case(Code::NoLimit).edit(
            "phases.toml",
            "[[phase.limit]]\nlimit = \"pain-during-holds\"\nsentence = \"pain during exercise at most 4\"\ntext = \"limit.pain-during\"\nsource = \"invented\"\n",
            "",
        ),
        case(Code::OwnSessions).edit(
            "exercises.toml",
            "when = \"rest pain at most 2\"",
            "when = \"pain during exercise at most 2 in the last session\"",
        ),
    ]
}

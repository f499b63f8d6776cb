//! Measures worked out from other values of the same fact.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

/// Before this table of the small pack others are put.
const ANCHOR: &str = "[[measure]]\nname = \"weeks since surgery\"";

const RANGE: &str = "when = { all = [\"active elevation at least 80 % of the other side\", \"active elevation at least 120 deg\", \"irritability no worse than moderate\"] }";

/// Reported measures for the others to be worked out from.
const REPORTED: &str = "
[[measure]]
name = \"push\"
unit = \"N\"
min = 0
max = 600
step = 1
worse = \"lower\"
carrier = \"assessment\"
expected = false
both_sides = true
ratio = true
reported_by = [\"clinician\"]
source = \"invented\"

[[measure]]
name = \"pull\"
unit = \"N\"
min = 0
max = 600
step = 1
worse = \"lower\"
carrier = \"assessment\"
expected = false
ratio = true
reported_by = [\"clinician\"]
source = \"invented\"

[[measure]]
name = \"weight used\"
unit = \"kg\"
min = 0
max = 60
step = 0.5
worse = \"lower\"
carrier = \"exercise\"
expected = false
ratio = true
reported_by = [\"patient\"]
source = \"invented\"

[[measure]]
name = \"answer\"
numbered = 3
unit = \"{score}\"
min = 1
max = 5
step = 1
worse = \"higher\"
carrier = \"assessment\"
expected = false
reported_by = [\"patient\"]
source = \"invented\"
";

/// Tables of worked-out measures, all of them right.
const WORKED: [&str; 5] = [
    "[[measure]]\nname = \"push against the other side\"\ncomputed = \"percent of the other side\"\nof = \"push\"\nunit = \"%\"\nworse = \"lower\"",
    "[[measure]]\nname = \"push to pull\"\ncomputed = \"ratio\"\nof = \"push\"\nto = \"pull\"\nmethod = \"held by hand, elbow at the side\"\nunit = \"{quotient}\"",
    "[[measure]]\nname = \"best weight\"\ncomputed = \"estimated maximum\"\nmethod = \"Brzycki\"\nload = \"weight used\"\nrepetitions_max = 10\nunit = \"kg\"\nsource = \"invented\"",
    "[[measure]]\nname = \"form\"\ncomputed = \"mean of items in percent\"\nitems = [\"answer\"]\nanswered_min = 2\nunit = \"{score}\"\nsource = \"invented\"",
    "[[measure]]\nname = \"form by halves\"\ncomputed = \"mean of scales in percent\"\nscales = [\"answer 1\", \"answer 2\"]\nanswered_min = 2\nworse = \"lower\"\nunit = \"%\"\nsource = \"invented\"",
];

fn tables(worked: &str) -> String {
    format!("{REPORTED}\n{worked}\n\n{ANCHOR}")
}

/// All of them, with one word changed in the failing one.
fn changed(code: Code, from: &'static str, to: &str) -> Case {
    let right = tables(&WORKED.join("\n\n"));
    assert_eq!(right.matches(from).count(), 1, "`{from}` stands once");
    let wrong = right.replace(from, to);
    case(code)
        .edit("measures.toml", ANCHOR, wrong)
        .twin("measures.toml", ANCHOR, right)
}

fn rule(code: Code, wrong: &str, right: &str) -> Case {
    let measures = tables(&WORKED.join("\n\n"));
    let when = |more: &str| RANGE.replace("\"irritability", &format!("{more}, \"irritability"));
    case(code)
        .both("measures.toml", ANCHOR, &measures)
        .edit("phases.toml", RANGE, when(wrong))
        .twin("phases.toml", RANGE, when(right))
}

pub(crate) fn cases() -> Vec<Case> {
    let limit = "pain during exercise at most 4";
    let measures = tables(&WORKED.join("\n\n"));
    vec![
        // The parts.
        changed(Code::Parts, "to = \"pull\"", "to = \"rest pain\""),
        changed(Code::Parts, "to = \"pull\"", "to = \"push\""),
        changed(Code::Parts, "to = \"pull\"", "to = \"pain before session\""),
        changed(Code::Parts, "to = \"pull\"", "to = \"irritability\""),
        changed(Code::Parts, "of = \"push\"\nunit", "of = \"pull\"\nunit"),
        changed(
            Code::Parts,
            "max = 5\nstep = 1\nworse = \"higher\"\ncarrier = \"assessment\"\nexpected = false",
            "max = 5\nstep = 1\nworse = \"higher\"\ncarrier = \"assessment\"\nexpected = true",
        ),
        changed(
            Code::Parts,
            "items = [\"answer\"]",
            "items = [\"answer\", \"rest pain\"]",
        ),
        changed(
            Code::Parts,
            "unit = \"%\"\nworse = \"lower\"",
            "unit = \"%\"\nworse = \"higher\"",
        ),
        changed(
            Code::Parts,
            "load = \"weight used\"",
            "load = \"pain during exercise\"",
        ),
        changed(
            Code::Parts,
            "load = \"weight used\"",
            "load = \"weight used\"\nin_reserve = \"push\"",
        ),
        changed(
            Code::Parts,
            "load = \"weight used\"",
            "load = \"push\"\nrepetitions = \"pull\"",
        ),
        changed(Code::UnknownName, "to = \"pull\"", "to = \"pul\""),
        changed(
            Code::Twice,
            "items = [\"answer\"]",
            "items = [\"answer\", \"answer 2\"]",
        ),
        changed(Code::Twice, "name = \"push to pull\"", "name = \"answer\""),
        changed(
            Code::OutOfBounds,
            "answered_min = 2\nunit = \"{s",
            "answered_min = 4\nunit = \"{s",
        ),
        changed(
            Code::OutOfBounds,
            "repetitions_max = 10",
            "repetitions_max = 37",
        ),
        changed(
            Code::MissingKey,
            "load = \"weight used\"",
            "load = \"push\"",
        ),
        changed(Code::MissingKey, "to = \"pull\"\n", ""),
        changed(Code::MissingKey, "items = [\"answer\"]\n", ""),
        changed(Code::Empty, "items = [\"answer\"]", "items = []"),
        changed(
            Code::UnknownWord,
            "method = \"Brzycki\"",
            "method = \"Brzicki\"",
        ),
        changed(
            Code::UnknownUnit,
            "repetitions_max = 10\nunit = \"kg\"",
            "repetitions_max = 10\nunit = \"N\"",
        ),
        changed(
            Code::Exclusive,
            "to = \"pull\"",
            "to = \"pull\"\nitems = [\"answer\"]",
        ),
        changed(
            Code::NoGrounds,
            "repetitions_max = 10\nunit = \"kg\"\nsource = \"invented\"",
            "repetitions_max = 10\nunit = \"kg\"",
        ),
        // Sentences about them.
        rule(
            Code::UpwardBound,
            "\"push against the other side at least 80 %\"",
            "\"push against the other side at least 80 %\", \"push at least 50 N\"",
        ),
        rule(
            Code::UpwardBound,
            "\"push to pull up by at least 0.1 since the first assessment\", \"push to pull at least 0.6\"",
            "\"push to pull up by at least 0.1 since the first assessment\", \"push to pull at least 0.6\", \"push at least 50 N\"",
        ),
        rule(
            Code::UpwardPolarity,
            "\"form at least 40\"",
            "\"form at most 40\"",
        ),
        rule(
            Code::Percent,
            "\"push at least 50 N\", \"push to pull at least 0.6\", \"push to pull up by at least 10 % since the first assessment\"",
            "\"push at least 50 N\", \"best weight at least 2 kg in the last session\"",
        ),
        case(Code::LimitForm)
            .both("measures.toml", ANCHOR, &measures)
            .edit("exercises.toml", limit, "best weight at least 4 kg"),
        case(Code::LimitForm)
            .both("measures.toml", ANCHOR, &measures)
            .edit(
                "phases.toml",
                "while = \"irritability is high\"",
                "while = { any = [\"irritability is high\", \"best weight below 4 kg\"] }",
            ),
    ]
}

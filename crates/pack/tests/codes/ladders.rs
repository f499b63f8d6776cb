//! Lines and ladders.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

const RANGE: &str = "values = [60, 90, 120]";

/// The wall slide's range row with other values, and ones near them that pass.
fn range(code: Code, bad: &str, good: &str) -> Case {
    case(code)
        .edit("exercises.toml", RANGE, format!("values = [{bad}]"))
        .twin("exercises.toml", RANGE, format!("values = [{good}]"))
}

pub(crate) fn cases() -> Vec<Case> {
    let many = |most: u32| {
        (1..=most)
            .map(|value| value.to_string())
            .collect::<Vec<_>>()
            .join(", ")
    };
    vec![
        range(Code::RowEmpty, "", "60"),
        range(Code::RowOrder, "60, 120, 90", "60, 90.5, 120"),
        case(Code::RowOrder)
            .edit("exercises.toml", "values = [90, 60]", "values = [60, 90]")
            .twin(
                "exercises.toml",
                "values = [90, 60]",
                "values = [90, 60, 0]",
            ),
        range(
            Code::RowOrder,
            "60, \"shoulder height\"",
            "\"below the shoulder\", \"shoulder height\"",
        ),
        range(Code::RowValueTwice, "60, 60", "60, 61"),
        case(Code::RowValueTwice).edit(
            "exercises.toml",
            "variable = \"rest\"\nvalues = [90, 60]",
            "variable = \"range\"\nvalues = [60, 90]",
        ),
        range(Code::RowValueKind, "60, true", "60, 90"),
        range(Code::RowValueKind, "60, 400", "60, 360"),
        case(Code::RowValueKind).edit(
            "exercises.toml",
            "values = [8, 12]",
            "values = [8, \"twelve\"]",
        ),
        case(Code::RowValueKind).edit("exercises.toml", "values = [8, 12]", "values = [8, 12.5]"),
        case(Code::OffLadder)
            .edit(
                "exercises.toml",
                "start = { reps = 8 }",
                "start = { reps = 9 }",
            )
            .twin(
                "exercises.toml",
                "start = { reps = 8 }",
                "start = { reps = 10 }",
            ),
        case(Code::OffLadder).edit(
            "exercises.toml",
            "start = { reps = 8 }",
            "start = { tempo = \"slow\" }",
        ),
        // Sets stay full once load has turned, so this place is never come to.
        case(Code::OffLadder)
            .edit(
                "exercises.toml",
                "start = { reps = 8 }",
                "start = { sets = 2, load = \"medium\" }",
            )
            .twin(
                "exercises.toml",
                "start = { reps = 8 }",
                "start = { sets = 3, load = \"medium\" }",
            ),
        case(Code::OffLadder).edit(
            "exercises.toml",
            "\"days a week\" = 2",
            "\"load\" = \"heavy\"",
        ),
        case(Code::GivesWay)
            .edit(
                "exercises.toml",
                "gives_way = [\"range\", \"reps\"]",
                "gives_way = [\"range\", \"load\"]",
            )
            .twin(
                "exercises.toml",
                "gives_way = [\"range\", \"reps\"]",
                "gives_way = []",
            ),
        case(Code::GivesWay).edit(
            "exercises.toml",
            "gives_way = [\"range\", \"reps\"]",
            "gives_way = [\"range\", \"range\"]",
        ),
        case(Code::LadderTooLong)
            .edit(
                "exercises.toml",
                "values = [8, 12]\nfull = \"stays\"",
                format!("values = [{}]", many(100)),
            )
            .edit("exercises.toml", RANGE, format!("values = [{}]", many(11)))
            .edit("exercises.toml", "values = [90, 60]", "values = [90]"),
        case(Code::TooMany)
            .edit(
                "exercises.toml",
                "values = [8, 12]",
                format!("values = [{}]", many(101)),
            )
            .twin(
                "exercises.toml",
                "values = [8, 12]",
                format!("values = [{}]", many(100)),
            ),
        case(Code::ReturnAt)
            .edit("exercises.toml", "return_at = 1", "return_at = 3")
            .twin("exercises.toml", "return_at = 1", "return_at = 2"),
    ]
}

//! Work against a band: loads as a sequence of torques, the angles, the step, and the person's height.

use super::{Case, case};
use rungwise_pack::diagnostic::Code;

/// An invented exercise against a band.
pub(crate) const BANDED: &str = include_str!("../../tests-data/banded.toml");

/// The small pack with that exercise, and `from` made `to` in it. The twin has the exercise as it is.
fn banded(code: Code, from: &str, to: &str) -> Case {
    assert_eq!(BANDED.matches(from).count(), 1, "`{from}` stands once");
    on(case(code), &BANDED.replace(from, to))
}

/// A case on the small pack with a banded exercise, its twin with the exercise as it is.
fn on(case: Case, exercise: &str) -> Case {
    let line = "[[line]]\nline = \"elevation\"";
    let phase = "\"er-banded\", ";
    let with = |exercise: &str| format!("{exercise}\n{line}");
    let height = "[[measure]]\nname = \"standing height\"\nunit = \"cm\"\nmin = 50\nmax = 250\nstep = 0.5\n\
         carrier = \"assessment\"\nexpected = false\nreported_by = [\"clinician\"]\nsource = \"invented\"\n\n";
    let texts = "\"ir-banded.name\" = \"Inward turn\"\n\"ir-banded.how\" = \"Turn inward.\"\n";
    let anchor = "\"wall-slide.name\"";
    let measure = "[[measure]]\nname = \"days since the last session\"";
    case.edit("exercises.toml", line, with(exercise))
        .twin("exercises.toml", line, with(BANDED))
        .both("phases.toml", phase, &format!("{phase}\"ir-banded\", "))
        .both("measures.toml", measure, &format!("{height}{measure}"))
        .both("text/en.toml", anchor, &format!("{texts}{anchor}"))
        .both(
            "pack.toml",
            "[sources]",
            "[bands]\nheight = \"standing height\"\n\n[sources]",
        )
}

const SEQUENCE: &str = "{ from = 1.5, to = 6, unit = \"N.m\", step = \"8 %\" }";
const LOAD: &str =
    "variable = \"load\"\nvalues = { from = 1.5, to = 6, unit = \"N.m\", step = \"8 %\" }";
const ANCHOR: &str = "anchor = { above_joint = \"0 cm\", bearing = \"-90 deg\" }";

const DISTANCE: &str = "{ from = \"40 cm\", to = \"250 cm\" }";

pub(crate) fn cases() -> Vec<Case> {
    [sequences(), tables(), together()]
        .into_iter()
        .flatten()
        .collect()
}

fn sequences() -> Vec<Case> {
    vec![
        banded(Code::LoadSequence, "unit = \"N.m\"", "unit = \"Nm\""),
        banded(Code::LoadSequence, "step = \"8 %\"", "step = \"0.1 %\""),
        banded(Code::LoadSequence, "step = \"8 %\"", "step = \"0.5 %\""),
        banded(Code::LoadSequence, "to = 6", "to = 1"),
        banded(Code::LoadSequence, "from = 1.5, to", "from = 0, to"),
        banded(
            Code::LoadSequence,
            "variable = \"range\"\nvalues = [60, 70]",
            "variable = \"range\"\nvalues = { from = 60, to = 70, unit = \"N.m\", step = \"8 %\" }",
        ),
        banded(Code::MissingKey, ", step = \"8 %\"", ""),
        banded(Code::UnknownKey, "to = 6,", "to = 6, until = 6,"),
        banded(Code::OffLadder, "load = 1.5", "load = 1.4"),
        on(
            case(Code::Reached)
                .edit(
                    "phases.toml",
                    "er-isometric has reached hold time 20",
                    "ir-banded has reached load 7 N.m",
                )
                .twin(
                    "phases.toml",
                    "er-isometric has reached hold time 20",
                    "ir-banded has reached load 2.5 N.m",
                ),
            BANDED,
        ),
        on(
            case(Code::Reached)
                .edit(
                    "phases.toml",
                    "er-isometric has reached hold time 20",
                    "ir-banded has reached load 2.5 N",
                )
                .twin(
                    "phases.toml",
                    "er-isometric has reached hold time 20",
                    "ir-banded has reached load 2.5",
                ),
            BANDED,
        ),
    ]
}

fn tables() -> Vec<Case> {
    vec![
        banded(
            Code::UnknownWord,
            "motion = \"rotation\"",
            "motion = \"rotating\"",
        ),
        banded(Code::MissingKey, "load_at = \"0 deg\"\n", ""),
        banded(Code::MissingKey, ", bearing = \"-90 deg\"", ""),
        banded(Code::MissingKey, "above_joint = \"0 cm\", ", ""),
        banded(
            Code::Exclusive,
            "above_joint = \"0 cm\"",
            "above_joint = \"0 cm\", above_floor = \"1 m\"",
        ),
        banded(Code::UnknownKey, ANCHOR, &format!("{ANCHOR}\nfoot = {{}}")),
        banded(
            Code::UnknownUnit,
            "from = \"-30 deg\"",
            "from = \"-30 degrees\"",
        ),
        banded(Code::UnknownUnit, "from = \"40 cm\"", "from = \"40\""),
        banded(Code::NotExact, "from = \"40 cm\"", "from = \"40.05 cm\""),
        banded(
            Code::NotExact,
            "step_max = \"10 %\"",
            "step_max = \"10.0005 %\"",
        ),
        banded(Code::OutOfBounds, "from = \"40 cm\"", "from = \"-40 cm\""),
        banded(Code::OutOfBounds, "to = \"250 cm\"", "to = \"30 cm\""),
        banded(
            Code::OutOfBounds,
            "bearing = \"-90 deg\"",
            "bearing = \"-270 deg\"",
        ),
        banded(
            Code::NoGrounds,
            "judgement = { by = \"Invented\", why = \"Nobody's geometry.\" }\n",
            "",
        ),
    ]
}

fn together() -> Vec<Case> {
    let without_table = |exercise: &str| {
        let (before, after) = exercise
            .split_once("[line.exercise.band]")
            .expect("a table");
        let (_, after) = after.split_once("\n\n").expect("it ends");
        format!("{before}{after}")
    };
    vec![
        on(case(Code::BandLoad), &without_table(BANDED)),
        banded(
            Code::BandLoad,
            &format!("values = {SEQUENCE}"),
            "values = [1.5, 2]",
        ),
        banded(
            Code::BandLoad,
            "[line.exercise.climb]",
            "[line.exercise.maintenance]\nload = 3\n[line.exercise.climb]",
        ),
        banded(Code::BandArc, "load_at = \"0 deg\"", "load_at = \"31 deg\""),
        banded(
            Code::BandArc,
            "load_at = \"0 deg\"",
            "load_at = \"-31 deg\"",
        ),
        banded(
            Code::BandArc,
            "from = \"-30 deg\"",
            "from = \"-30 deg\"\nto = \"30 deg\"",
        ),
        banded(
            Code::BandArc,
            "variable = \"range\"\nvalues = [60, 70]",
            "variable = \"sets\"\nvalues = [2, 3]",
        ),
        banded(Code::BandArc, "values = [60, 70]", "values = [60, 220]"),
        banded(Code::BandStep, "step_max = \"10 %\"", "step_max = \"7 %\""),
        banded(Code::BandStep, "step_min = \"2 %\"", "step_min = \"10 %\""),
        banded(
            Code::OutOfBounds,
            "start_tension = \"1 N\"",
            "start_tension = \"0 N\"",
        ),
        banded(
            Code::MissingKey,
            &format!("distance = {DISTANCE}\n{ANCHOR}"),
            "foot = {}",
        )
        .edit(
            "exercises.toml",
            "motion = \"rotation\"",
            "motion = \"elevation\"",
        ),
        on(case(Code::BandHeight), BANDED).edit(
            "pack.toml",
            "[bands]\nheight = \"standing height\"\n\n",
            "",
        ),
        on(case(Code::BandHeight), BANDED).edit(
            "pack.toml",
            "height = \"standing height\"",
            "height = \"active elevation\"",
        ),
        on(case(Code::UnknownName), BANDED).edit(
            "pack.toml",
            "height = \"standing height\"",
            "height = \"standing hight\"",
        ),
        banded(
            Code::BandLoad,
            LOAD,
            "variable = \"load\"\nvalues = [\"light\", \"middle\"]",
        )
        .edit("exercises.toml", "load = 1.5 }", "load = \"light\" }"),
    ]
}

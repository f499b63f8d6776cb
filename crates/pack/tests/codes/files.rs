//! Files, keys and values.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;
use rungwise_pack::read::TEXT_BYTES_MAX;
use rungwise_pack::source::FILE_BYTES_MAX;

pub(crate) fn cases() -> Vec<Case> {
    let mut cases = file_cases();
    cases.extend(key_cases());
    cases.extend(bound_cases());
    cases
}

fn file_cases() -> Vec<Case> {
    vec![
        case(Code::FileMissing).remove("screening.toml"),
        case(Code::FileUnknown).add("phase.toml", ""),
        case(Code::FileUnknown).add("notes.md", "Remember the milk.\n"),
        case(Code::FileTooLarge).edit(
            "screening.toml",
            "[[refer]]",
            format!("#{}\n[[refer]]", "x".repeat(FILE_BYTES_MAX)),
        ),
        case(Code::FileTwice).add("screening.toml", ""),
        case(Code::Syntax).edit(
            "phases.toml",
            "aim = \"Calm it down.\"",
            "aim = \"Calm it down.",
        ),
        // Two faults in one file, and what follows an open bracket is only its echo.
        case(Code::Syntax)
            .edit("measures.toml", "fresh_days = 60", "fresh_days = sixty")
            .edit(
                "measures.toml",
                "choices = [\"no\", \"yes\"]",
                "choices = [\"no\", \"yes\"",
            ),
    ]
}

fn key_cases() -> Vec<Case> {
    vec![
        case(Code::UnknownKey).edit("phases.toml", "climb_max = 1", "climb_maximum = 1"),
        case(Code::UnknownKey).edit("phases.toml", "climb_max = 1", "mood = \"good\""),
        case(Code::WrongType).edit("phases.toml", "climb_max = 1", "climb_max = \"one\""),
        case(Code::WrongType)
            .edit(
                "text/en.toml",
                "\"cue.elbow\" = ",
                "sheet.title = \"Exercises\"\n\"cue.elbow\" = ",
            )
            .twin(
                "text/en.toml",
                "\"cue.elbow\" = ",
                "'sheet.title' = \"Exercises\"\n\"cue.elbow\" = ",
            ),
        case(Code::WrongType).edit("screening.toml", "[[refer]]", "[refer]"),
        case(Code::MissingKey).edit("phases.toml", "aim = \"Calm it down.\"\n", ""),
        case(Code::MissingKey).edit("screening.toml", "when = \"fever is yes\"", "when = {}"),
        case(Code::UnknownWord).edit("measures.toml", "worse = \"lower\"", "worse = \"lowest\""),
        case(Code::NotExact).edit(
            "exercises.toml",
            "values = [60, 90, 120]",
            "values = [60, 90.0005, 120]",
        ),
        case(Code::NotExact).edit(
            "phases.toml",
            "rest pain above 6",
            "rest pain above 6.12345",
        ),
        case(Code::OutOfBounds).edit("phases.toml", "sessions_a_week = 7", "sessions_a_week = 0"),
        case(Code::OutOfBounds)
            .edit(
                "measures.toml",
                "max = 180\nstep = 1",
                "max = 180\nstep = 7",
            )
            .twin(
                "measures.toml",
                "max = 180\nstep = 1",
                "max = 180\nstep = 0.5",
            ),
        case(Code::Empty)
            .edit(
                "pack.toml",
                "cautions = [\"caution.clinician\"]",
                "cautions = []",
            )
            .edit(
                "text/en.toml",
                "\"caution.clinician\" = \"Ask your physiotherapist.\"\n",
                "",
            ),
        case(Code::Empty).edit(
            "pack.toml",
            "title = \"A small invented pack\"",
            "title = \" \"",
        ),
        case(Code::Exclusive).edit(
            "screening.toml",
            "judgement = ",
            "source = \"invented\"\njudgement = ",
        ),
        case(Code::Exclusive).edit(
            "measures.toml",
            "choices = [\"no\", \"yes\"]",
            "choices = [\"no\", \"yes\"]\nworse = \"higher\"",
        ),
        case(Code::Exclusive).edit(
            "screening.toml",
            "when = \"fever is yes\"",
            "when = { any = [\"fever is yes\"], none = [\"fever is no\"] }",
        ),
        case(Code::BadName).edit("phases.toml", "\"bands-ease\"", "\"Bands Ease\""),
        case(Code::BadName)
            .edit(
                "measures.toml",
                "name = \"active elevation\"\nunit = \"deg\"",
                "name = \"active  elevation\"\nunit = \"deg\"",
            )
            .edit(
                "exercises.toml",
                "comfortable = \"active elevation\"",
                "comfortable = \"active  elevation\"",
            ),
        case(Code::LanguageVersion).edit(
            "pack.toml",
            "language_version = 1",
            "language_version = 2",
        ),
        case(Code::UnknownUnit).edit("measures.toml", "unit = \"deg\"", "unit = \"degrees\""),
        case(Code::UnknownUnit)
            .edit(
                "measures.toml",
                "name = \"rest pain\"\nunit = \"{score}\"",
                "name = \"rest pain\"\nunit = \"points\"",
            )
            .twin(
                "measures.toml",
                "name = \"rest pain\"\nunit = \"{score}\"",
                "name = \"rest pain\"\nunit = \"{points}\"",
            ),
        case(Code::UnknownUnit).edit("measures.toml", "unit = \"wk\"", "unit = \"d\""),
    ]
}

fn bound_cases() -> Vec<Case> {
    let deep = |depth: usize| {
        let opening = "{ any = [".repeat(depth);
        format!("{opening}\"fever is yes\"{}", "] }".repeat(depth))
    };
    vec![
        case(Code::TooMany)
            .edit("screening.toml", "\"fever is yes\"", deep(7))
            .twin("screening.toml", "\"fever is yes\"", deep(6)),
        case(Code::TooMany)
            .edit(
                "text/en.toml",
                "Elbow at your side.",
                "x".repeat(TEXT_BYTES_MAX + 1),
            )
            .twin(
                "text/en.toml",
                "Elbow at your side.",
                "x".repeat(TEXT_BYTES_MAX),
            ),
        case(Code::TooMany).edit(
            "screening.toml",
            "fever is yes",
            format!("fever is yes {}", "x".repeat(400)),
        ),
    ]
}

//! Names, sources and texts.

use crate::{Case, case};
use rungwise_pack::diagnostic::Code;

pub(crate) fn cases() -> Vec<Case> {
    vec![
        case(Code::Twice).edit("phases.toml", "rule = \"bands-ease\"", "rule = \"fever\""),
        case(Code::Twice).edit(
            "phases.toml",
            "\"er-isometric\", \"er-banded\"",
            "\"er-isometric\", \"er-banded\", \"er-banded\"",
        ),
        case(Code::Twice).edit(
            "measures.toml",
            "choices = [\"no\", \"yes\"]",
            "choices = [\"no\", \"yes\", \"yes\"]",
        ),
        case(Code::UnknownSource).edit(
            "phases.toml",
            "source = \"invented\"\nstates = \"3 of 10\"",
            "source = \"inventd\"",
        ),
        case(Code::UnknownName).edit(
            "phases.toml",
            "\"er-banded\", \"wall-slide\"",
            "\"er-banded\", \"wall-slide\", \"wall-slid\"",
        ),
        case(Code::UnknownName).edit("measures.toml", "event = \"surgery\"", "event = \"sugery\""),
        case(Code::UnknownName).edit(
            "exercises.toml",
            "equipment = [\"band\"]",
            "equipment = [\"kettle\"]",
        ),
        case(Code::UnknownName).edit("measures.toml", "moderate = ", "middling = "),
        case(Code::NoGrounds).edit(
            "phases.toml",
            "source = \"invented\"\nstates = \"3 of 10\"\n",
            "",
        ),
        case(Code::NoGrounds).edit(
            "pack.toml",
            "judgement = { by = \"Invented\", why = \"A week off is felt.\" }",
            "",
        ),
        case(Code::TextMissing).edit(
            "exercises.toml",
            "cues = [\"cue.elbow\"]",
            "cues = [\"cue.elbow\", \"cue.elbows\"]",
        ),
        case(Code::TextMissing).edit(
            "text/en.toml",
            "\"wall-slide.how\" = \"Slide your hand up the wall.\"\n",
            "",
        ),
        case(Code::TextUnused)
            .edit(
                "text/en.toml",
                "\"cue.elbow\" = ",
                "\"cue.knee\" = \"Bend it.\"\n\"cue.elbow\" = ",
            )
            .twin(
                "text/en.toml",
                "\"cue.elbow\" = ",
                "\"label.light\" = \"your lightest\"\n\"cue.elbow\" = ",
            ),
        case(Code::Language).edit(
            "pack.toml",
            "languages = [\"en\"]",
            "languages = [\"en\", \"eo\"]",
        ),
        case(Code::Language).add("text/eo.toml", ""),
        case(Code::ExerciseUnused).edit(
            "phases.toml",
            "\"er-banded\", \"wall-slide\"",
            "\"er-banded\"",
        ),
        case(Code::SourceUnused).edit(
            "pack.toml",
            "[sources]\n",
            "[sources]\nother = \"Another one, invented too.\"\n",
        ),
    ]
}

//! The commands: what they print, and how they end.

use super::binary::{complaint, run, text};
use std::path::{Path, PathBuf};

#[test]
fn help_says_what_each_exit_code_means_and_shows_examples() {
    let help = run(&["--help"]);
    assert_eq!(help.status.code(), Some(0));
    assert!(text(&help).contains("Exit codes:"), "{}", text(&help));
    for command in [
        &["demo"][..],
        &["serve"],
        &["next"],
        &["audit", "why"],
        &["rules", "check"],
        &["rules", "compare"],
        &["rules", "cohort"],
        &["band", "fit"],
        &["band", "show"],
        &["band", "compare"],
        &["rules", "rehearse"],
        &["rules", "chart"],
        &["rules", "new"],
        &["rules", "schema"],
    ] {
        let mut args = command.to_vec();
        args.push("--help");
        let help = run(&args);
        assert_eq!(help.status.code(), Some(0));
        assert!(
            text(&help).contains("Examples:"),
            "{command:?}: {}",
            text(&help)
        );
    }
}

#[test]
fn a_command_line_that_is_not_understood_ends_with_2() {
    let run = run(&["exercise"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(complaint(&run).contains("exercise"));
}

#[test]
fn a_file_that_is_not_there_ends_with_3_and_is_named() {
    for args in [
        &["next", "no-such-diary.toml"][..],
        &["rules", "check", "no-such-pack"],
        &["band", "compare", "no-such-courses.toml"],
        &[
            "band",
            "fit",
            "--rest-length-mm",
            "1000",
            "no-such-points.csv",
        ],
        &["rules", "rehearse", "no-such-pack"],
        &["rules", "cohort", "no-such-pack"],
        &["rules", "chart", "no-such-pack"],
    ] {
        let run = run(args);
        assert_eq!(run.status.code(), Some(3), "{args:?}: {}", complaint(&run));
        assert!(
            complaint(&run).contains(args.last().unwrap()),
            "{}",
            complaint(&run)
        );
    }
}

#[test]
fn a_code_is_explained_and_one_that_is_not_there_is_a_mistake_of_the_command_line() {
    let known = run(&["rules", "check", "--explain", "rw0401"]);
    assert_eq!(known.status.code(), Some(0), "{}", complaint(&known));
    for part in ["RW0401", "Refused:", "Accepted:"] {
        assert!(text(&known).contains(part), "{}", text(&known));
    }
    let unknown = run(&["rules", "check", "--explain", "RW041"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(
        complaint(&unknown).contains("RW0401"),
        "{}",
        complaint(&unknown)
    );
}

#[test]
fn an_expectation_that_fails_is_shown_and_accepted_with_its_comments() {
    let folder = tempfile::tempdir().unwrap();
    let pack = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules/rotator-cuff");
    for name in ["", "text", "diaries"] {
        std::fs::create_dir_all(folder.path().join(name)).unwrap();
        for entry in std::fs::read_dir(pack.join(name)).unwrap() {
            let from = entry.unwrap().path();
            if from.is_file() {
                let to = folder.path().join(name).join(from.file_name().unwrap());
                std::fs::copy(&from, to).unwrap();
            }
        }
    }
    let diary = folder.path().join("diaries/demo.toml");
    let right = std::fs::read_to_string(&diary).unwrap();
    let wrong = right.replacen("outcome = \"BEGIN\"", "outcome = \"HOLD\"", 1);
    assert_ne!(right, wrong);
    std::fs::write(&diary, &wrong).unwrap();
    let place = folder.path().to_str().unwrap();

    let shown = run(&["rules", "rehearse", place]);
    assert_eq!(shown.status.code(), Some(1), "{}", complaint(&shown));
    let difference = "outcome: expected HOLD, got BEGIN";
    assert!(text(&shown).contains(difference), "{}", text(&shown));
    assert_eq!(std::fs::read_to_string(&diary).unwrap(), wrong);

    let accepted = run(&["rules", "rehearse", place, "--accept", "--json"]);
    assert_eq!(accepted.status.code(), Some(0), "{}", complaint(&accepted));
    assert_eq!(std::fs::read_to_string(&diary).unwrap(), right);

    let covered = run(&["rules", "rehearse", place, "--coverage"]);
    let said = text(&covered);
    assert!(said.contains("all as expected"), "{said}");
    assert!(
        said.contains("sentences were seen met, not met and unknown"),
        "{said}"
    );
    assert!(
        !said.contains('\u{1b}'),
        "colour codes although nobody looks"
    );
}

#[test]
fn the_demo_agrees_with_itself_and_needs_nothing_beside_it() {
    let run = run(&["demo"]);
    let printed = text(&run);
    assert_eq!(run.status.code(), Some(0), "{printed}\n{}", complaint(&run));
    for outcome in ["BEGIN", "CONTINUE", "PROGRESS", "HOLD"] {
        assert!(
            printed.contains(outcome),
            "no {outcome} in the demo:\n{printed}"
        );
    }
    assert!(printed.contains("recomputed"), "{printed}");
    assert!(printed.contains("ledger"), "{printed}");
    assert!(
        !printed.contains('\u{1b}'),
        "colour codes although nobody looks"
    );
}

/// Readings in a file of their own, and a band fitted to them with whatever else is said.
fn fitted(readings: &str, more: &[&str]) -> (std::process::Output, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let points = folder.path().join("roll.csv");
    std::fs::write(&points, readings).expect("a file of readings");
    let points = points.to_string_lossy().into_owned();
    let mut args = vec!["band", "fit", &points, "--rest-length-mm", "400"];
    args.extend(more);
    (run(&args), folder)
}

#[test]
fn a_band_is_fitted_printed_for_machines_and_drawn() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let svg = folder.path().join("curve.svg");
    let readings = "length [mm],force [kgf]\n600,1\n800,1.5\n";
    let drawn = ["--json", "--svg", &svg.to_string_lossy()];
    let (run, _points) = fitted(readings, &drawn);
    assert_eq!(run.status.code(), Some(0), "{}", complaint(&run));
    let json: serde_json::Value = serde_json::from_str(&text(&run)).expect("it prints JSON");
    assert_eq!(json["elongation_mpct_max"], 100_000);
    assert_eq!(json["means"][0]["mean_mn"], 9_807);
    let svg = std::fs::read_to_string(svg).expect("a drawing");
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
}

#[test]
fn readings_that_are_wrong_end_with_3_and_their_line_and_a_wrong_option_with_2() {
    let (run, _points) = fitted("elongation [%],force [N]\n50,8\n100,7\n", &[]);
    assert_eq!(run.status.code(), Some(3));
    assert!(text(&run).is_empty());
    let said = complaint(&run);
    assert!(said.contains("line 3: force `7 N`"), "{said}");
    assert!(said.contains("above 8 N is allowed"), "{said}");

    let readings = "elongation [%],force [N]\n50,8\n100,9\n";
    let (run, _points) = fitted(readings, &["--elongation-max-pct", "120"]);
    assert_eq!(run.status.code(), Some(2));
    let said = complaint(&run);
    assert!(said.contains("up to the last reading at 100 %"), "{said}");
}

/// The folder of the rotator cuff pack.
fn rotator_cuff() -> PathBuf {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    top.join("rules/rotator-cuff")
}

/// A copy of the rotator cuff pack in a folder of its own, with one text of its phases replaced.
fn edited(from: &str, to: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let pack = rotator_cuff();
    for sub in ["", "text", "diaries"] {
        std::fs::create_dir_all(folder.path().join(sub)).unwrap();
        for entry in std::fs::read_dir(pack.join(sub)).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                let name = folder.path().join(sub).join(path.file_name().unwrap());
                std::fs::copy(&path, name).unwrap();
            }
        }
    }
    let phases = folder.path().join("phases.toml");
    let text = std::fs::read_to_string(&phases).unwrap();
    assert!(text.contains(from));
    std::fs::write(phases, text.replace(from, to)).unwrap();
    folder
}

#[test]
fn a_pack_that_stops_the_best_course_is_not_ready_and_the_course_is_written() {
    let folder = edited(
        "pain next morning at most 0 above pain before session",
        "pain next morning at most 1 below pain before session",
    );
    let pack = folder.path().to_str().unwrap();
    let course = folder.path().join("course.toml");
    let course = course.to_str().unwrap();
    let check = run(&["rules", "check", pack, "--course", course]);
    assert_eq!(check.status.code(), Some(1));
    let said = text(&check);
    assert!(said.contains("error[RW0613]"), "{said}");
    assert!(
        said.contains("is sound, but must not come into force"),
        "{said}"
    );
    let written = std::fs::read_to_string(course).unwrap();
    assert!(written.starts_with("diary = \"best-course\""), "{written}");
    // What is there already is not written over.
    let again = run(&["rules", "check", pack, "--course", course]);
    assert_eq!(again.status.code(), Some(3));
    assert!(complaint(&again).contains(course), "{}", complaint(&again));
    // The diary can be asked about, and stays where the course stopped.
    let next = run(&["next", course, "--pack", pack]);
    assert_eq!(next.status.code(), Some(0), "{}", complaint(&next));
    assert!(text(&next).contains("active-range"), "{}", text(&next));
}

#[test]
fn a_check_says_what_is_proved_and_lists_what_lies_outside() {
    let pack = rotator_cuff();
    let pack = pack.to_str().unwrap();
    let check = run(&["rules", "check", pack, "--outside"]);
    assert_eq!(check.status.code(), Some(0), "{}", text(&check));
    assert!(
        text(&check).contains("\n  pain next morning at most 0 above pain before session"),
        "{}",
        text(&check)
    );
    let json = run(&["rules", "check", pack, "--json"]);
    let json: serde_json::Value = serde_json::from_str(&text(&json)).unwrap();
    assert_eq!(json["ready"], true);
    assert!(
        json["proved"]["best_course"]["ends_on_day"].is_u64(),
        "{json}"
    );
}

#[test]
fn two_packs_are_compared_in_their_own_sentences_and_a_bolder_one_is_shown_to_be() {
    let old = rotator_cuff();
    let old = old.to_str().unwrap();
    let sore = "sentence = \"pain during exercise at most 3\"";
    let looser = edited(sore, "sentence = \"pain during exercise at most 4\"");
    let looser = looser.path().to_str().unwrap();
    let course = looser.to_owned() + "/bolder.toml";
    let run_looser = run(&["rules", "compare", old, looser, "--course", &course]);
    assert_eq!(run_looser.status.code(), Some(1));
    let said = text(&run_looser);
    assert!(said.contains("Loosens"), "{said}");
    let told = "pain during exercise at most 3 → pain during exercise at most 4";
    assert!(said.contains(told), "{said}");
    assert!(said.contains("bolder: on "), "{said}");
    // Turned round it is tighter, and proved never to be bolder.
    let tighter = run(&["rules", "compare", looser, old, "--json"]);
    assert_eq!(tighter.status.code(), Some(0), "{}", text(&tighter));
    let json: serde_json::Value = serde_json::from_str(&text(&tighter)).unwrap();
    assert_eq!(json["never_bolder"], true);
    assert_eq!(json["changes"][0]["effect"], "tightens");
    let same = run(&["rules", "compare", old, old]);
    assert_eq!(same.status.code(), Some(0));
    assert!(
        text(&same).contains("the packs decide alike"),
        "{}",
        text(&same)
    );
}

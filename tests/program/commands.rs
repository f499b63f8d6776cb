//! The commands: what they print, and how they end.

use super::binary::{complaint, run, text};

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

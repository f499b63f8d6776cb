//! `rungwise rules chart` on every pack of the project.

use super::binary::{complaint, run, text};
use std::path::{Path, PathBuf};

/// The folders of the project's packs.
pub(crate) fn packs() -> Vec<PathBuf> {
    let rules = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules");
    let mut packs: Vec<PathBuf> = std::fs::read_dir(rules)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.join("pack.toml").is_file())
        .collect();
    packs.sort();
    assert!(packs.len() >= 3, "{packs:?}");
    packs
}

#[test]
fn every_pack_is_read_aloud_and_drawn() {
    for pack in packs() {
        let folder = tempfile::tempdir().unwrap();
        let wall = folder.path().join("wall.svg");
        let run = run(&[
            "rules".as_ref(),
            "chart".as_ref(),
            pack.as_os_str(),
            "--svg".as_ref(),
            wall.as_os_str(),
        ]);
        assert_eq!(run.status.code(), Some(0), "{}", complaint(&run));
        let said = text(&run);
        for line in said.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        for part in [
            "Phase 1 of ",
            "In every phase",
            "To be seen by a doctor",
            "Line 1 of ",
        ] {
            assert!(said.contains(part), "{}: no {part}", pack.display());
        }
        let sheets = complaint(&run).lines().count();
        assert!(sheets > 1, "{}", complaint(&run));
        assert!(!wall.exists(), "several sheets are numbered");
        for number in 1..=sheets {
            let sheet = folder.path().join(format!("wall-{number}.svg"));
            let drawn = std::fs::read_to_string(sheet).unwrap();
            assert!(drawn.starts_with("<svg "), "sheet {number}");
            assert!(drawn.ends_with("</svg>\n"), "sheet {number}");
            assert!(drawn.contains(&format!("sheet {number} of {sheets}")));
            assert!(drawn.contains("width=\"420mm\"") && drawn.contains("height=\"297mm\""));
        }
        let again = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(again, sheets, "nothing but the sheets");
    }
}

#[test]
fn a_language_that_the_pack_has_not_is_refused_with_those_that_it_has() {
    let pack = packs().remove(0);
    let run = run(&[
        "rules".as_ref(),
        "chart".as_ref(),
        pack.as_os_str(),
        "--language".as_ref(),
        "tlh".as_ref(),
    ]);
    assert_eq!(run.status.code(), Some(2), "{}", complaint(&run));
    assert_eq!(text(&run), "");
    let said = complaint(&run);
    assert!(said.contains("`tlh`") && said.contains("en"), "{said}");
}

#[test]
fn a_sheet_that_cannot_be_written_is_named() {
    let pack = packs().remove(0);
    let run = run(&[
        "rules".as_ref(),
        "chart".as_ref(),
        pack.as_os_str(),
        "--svg".as_ref(),
        "no-such-folder/wall.svg".as_ref(),
    ]);
    assert_eq!(run.status.code(), Some(3));
    assert!(
        complaint(&run).contains("no-such-folder"),
        "{}",
        complaint(&run)
    );
}

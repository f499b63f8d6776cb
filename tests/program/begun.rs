//! A pack to begin with, and the schemas of its files, as the program writes them.

use super::binary::{complaint, run, text};
use std::path::Path;

fn rules(command: &str, folder: &Path, more: &[&str]) -> std::process::Output {
    let mut args = vec!["rules".to_owned(), command.to_owned()];
    args.push(folder.to_str().unwrap().to_owned());
    args.extend(more.iter().map(|one| (*one).to_owned()));
    run(&args)
}

#[test]
fn what_is_begun_with_is_sound_and_its_diary_covers_every_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let pack = folder.path().join("ours/first");
    let made = rules(
        "new",
        &pack,
        &["--id", "our-first", "--title", "Ours: \"first\""],
    );
    assert_eq!(made.status.code(), Some(0), "{}", complaint(&made));

    let checked = rules("check", &pack, &["--json"]);
    assert_eq!(checked.status.code(), Some(0), "{}", text(&checked));
    let said: serde_json::Value = serde_json::from_str(&text(&checked)).unwrap();
    assert_eq!(
        said["findings"],
        serde_json::json!([]),
        "not even a warning"
    );
    assert_eq!(said["pack"]["id"], "our-first");

    let rehearsed = rules("rehearse", &pack, &["--coverage"]);
    assert_eq!(rehearsed.status.code(), Some(0), "{}", text(&rehearsed));
    let said = text(&rehearsed);
    assert!(said.contains("all as expected"), "{said}");
    assert!(said.contains(": 100.0 %"), "{said}");

    let chart = rules("chart", &pack, &[]);
    assert_eq!(chart.status.code(), Some(0), "{}", complaint(&chart));
    assert!(
        text(&chart).starts_with("Ours: \"first\"\n"),
        "{}",
        text(&chart)
    );
}

/// Every number has somebody who answers for it, and here that is nobody yet.
#[test]
fn its_numbers_say_that_they_are_placeholders_and_its_files_name_their_schemas() {
    let folder = tempfile::tempdir().unwrap();
    let made = rules("new", folder.path(), &[]);
    assert_eq!(
        made.status.code(),
        Some(0),
        "an empty folder may be filled: {}",
        complaint(&made)
    );
    let files = rungwise_store::packs::read_dir(folder.path()).unwrap();
    let mut judgements = 0;
    for (name, text) in &files {
        let first = text.lines().next().unwrap();
        let schema = first
            .strip_prefix("#:schema ")
            .unwrap_or_else(|| panic!("{name}"));
        let beside = folder.path().join(name).parent().unwrap().join(schema);
        assert!(beside.is_file(), "{name}: {schema}");
        assert!(!text.contains("\nsource = "), "{name}");
        for line in text.lines().filter(|line| line.starts_with("judgement = ")) {
            judgements += 1;
            assert!(line.contains("placeholder"), "{name}: {line}");
        }
    }
    assert!(judgements > 10, "{judgements}");
}

#[test]
fn a_folder_that_holds_something_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("notes.txt"), "mine").unwrap();
    let made = rules("new", folder.path(), &[]);
    assert_eq!(made.status.code(), Some(3));
    assert!(
        complaint(&made).contains("is not empty"),
        "{}",
        complaint(&made)
    );
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn an_identity_that_cannot_be_is_refused_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let pack = folder.path().join("pack");
    let made = rules("new", &pack, &["--id", "Our Pack"]);
    assert_eq!(made.status.code(), Some(3));
    assert!(
        complaint(&made).contains("our-pack"),
        "{}",
        complaint(&made)
    );
    assert!(!pack.exists());
}

#[test]
fn schemas_are_written_as_they_stand_in_the_tree_and_over_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let into = folder.path().join("schema");
    for _ in 0..2 {
        let made = rules("schema", &into, &[]);
        assert_eq!(made.status.code(), Some(0), "{}", complaint(&made));
    }
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("../rules/schema");
    let mut count = 0;
    for entry in std::fs::read_dir(own).unwrap() {
        let path = entry.unwrap().path();
        let written = std::fs::read(into.join(path.file_name().unwrap())).unwrap();
        assert!(
            written == std::fs::read(&path).unwrap(),
            "{}",
            path.display()
        );
        count += 1;
    }
    assert_eq!(std::fs::read_dir(&into).unwrap().count(), count);

    std::fs::write(into.join("pack.json"), "{ \"mine\": true }").unwrap();
    let made = rules("schema", &into, &[]);
    assert_eq!(made.status.code(), Some(3));
    assert!(
        complaint(&made).contains("pack.json"),
        "{}",
        complaint(&made)
    );
    let kept = std::fs::read_to_string(into.join("pack.json")).unwrap();
    assert_eq!(kept, "{ \"mine\": true }");
}

//! `rungwise rules cohort`: the same people for the same seed on any number of cores, two packs on the same people, the page,
//! and what is refused.

use super::binary::{complaint, run, text};
use std::path::{Path, PathBuf};

fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// A small pack in a folder of its own, with one text of its files replaced.
fn small(from: &str, to: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("text")).unwrap();
    let kept = top().join("crates/rehearsal/src/read/tests");
    for name in [
        "pack.toml",
        "measures.toml",
        "screening.toml",
        "phases.toml",
        "exercises.toml",
        "en.toml",
    ] {
        let text = std::fs::read_to_string(kept.join(name)).unwrap();
        let to_folder = if name == "en.toml" { "text" } else { "" };
        let path = folder.path().join(to_folder).join(name);
        std::fs::write(path, text.replace(from, to)).unwrap();
    }
    folder
}

fn as_it_is() -> tempfile::TempDir {
    small("nothing like this", "")
}

/// `rules cohort` of a folder with more arguments.
fn cohort(folder: &Path, more: &[&str]) -> std::process::Output {
    let mut args = vec!["rules", "cohort", folder.to_str().unwrap()];
    args.extend(more);
    run(&args)
}

fn printed(folder: &Path, more: &[&str]) -> String {
    let run = cohort(folder, more);
    assert_eq!(run.status.code(), Some(0), "{}", complaint(&run));
    text(&run)
}

/// Compares with a kept text; `UPDATE_GOLDEN=1` writes it.
fn golden(name: &str, printed: &str) {
    let path: PathBuf = top().join("tests/program").join(name);
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&path, printed).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(printed, kept, "{name} (UPDATE_GOLDEN=1 writes it)");
}

#[test]
fn a_small_cohort_and_the_assumptions_are_told_as_kept() {
    let folder = as_it_is();
    let told = printed(folder.path(), &["--people", "50", "--weeks", "20"]);
    golden(
        "cohort.txt",
        &told.replace(folder.path().to_str().unwrap(), "PACK"),
    );
    let assumptions = run(&["rules", "cohort", "--assumptions"]);
    assert_eq!(assumptions.status.code(), Some(0));
    golden("assumptions.txt", &text(&assumptions));
}

#[test]
fn the_same_seed_gives_the_same_bytes_on_any_number_of_cores_and_another_seed_others() {
    let folder = as_it_is();
    let told = |more: &[&str]| {
        let mut args = vec!["--people", "150", "--json"];
        args.extend(more);
        printed(folder.path(), &args)
    };
    let one = told(&["--cores", "1"]);
    assert_eq!(one, told(&["--cores", "1"]));
    assert_eq!(one, told(&["--cores", "3"]));
    assert_eq!(one, told(&[]));
    let other = told(&["--seed", "2"]);
    let day = |text: &str| {
        let json: serde_json::Value = serde_json::from_str(text).unwrap();
        json["packs"][0]["discharged"]["by_day"].clone()
    };
    assert_ne!(day(&one), day(&other));
}

#[test]
fn the_packs_of_the_repository_bring_somebody_to_every_phase() {
    for entry in std::fs::read_dir(top().join("rules")).unwrap() {
        let folder = entry.unwrap().path();
        if !folder.join("pack.toml").is_file() {
            continue;
        }
        let json = printed(&folder, &["--people", "200", "--json"]);
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        let phases = json["packs"][0]["phases"].as_array().unwrap().clone();
        assert!(phases.len() >= 4, "{}", folder.display());
        for phase in phases {
            let came = phase["came"]["people"].as_u64();
            assert!(came > Some(0), "nobody: {phase}");
        }
        assert!(json["packs"][0]["decisions"].as_u64() > Some(200));
    }
}

#[test]
fn two_packs_meet_the_same_people_and_a_stricter_one_is_later() {
    let (folder, strict) = (as_it_is(), small("at least 100 deg", "at least 130 deg"));
    let against = strict.path().to_str().unwrap();
    let json = printed(
        folder.path(),
        &["--people", "200", "--against", against, "--json"],
    );
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let last = &json["differences"]["days_to_phase"]["last"];
    assert_eq!(last["less"], 0, "{last}");
    assert!(last["more"].as_u64() > Some(20), "{last}");
    let low =
        last["mean_milli"].as_i64().unwrap() - last["half_width_95_pct_milli"].as_i64().unwrap();
    assert!(low > 0, "{last}");
    assert_eq!(json["differences"]["days_to_phase"]["first"]["same"], 200);
    assert_ne!(json["packs"][0]["digest"], json["packs"][1]["digest"]);

    let told = printed(folder.path(), &["--people", "50", "--against", against]);
    assert!(told.contains("person by person"), "{told}");
    assert!(told.contains("weeks to last"), "{told}");
}

#[test]
fn the_page_needs_nothing_but_itself_and_shows_a_pack_s_words_as_they_are() {
    let folder = small("version = \"1", "version = \"<b>&1");
    let strict = small("at least 100 deg", "at least 130 deg");
    let page = folder.path().join("page.html");
    let page_path = page.to_str().unwrap();
    let more = [
        "--people",
        "60",
        "--report",
        page_path,
        "--against",
        strict.path().to_str().unwrap(),
    ];
    let first = cohort(folder.path(), &more);
    assert_eq!(first.status.code(), Some(0), "{}", complaint(&first));
    let html = std::fs::read_to_string(&page).unwrap();
    for part in [
        "<!doctype html>",
        "not evidence",
        "seed 1",
        "<svg",
        "start_permille",
        "What the model leaves out",
        "digest ",
        "person by person",
    ] {
        assert!(html.contains(part), "no {part}");
    }
    assert!(
        html.contains("&lt;b&gt;&amp;1") && !html.contains("<b>&1"),
        "not escaped"
    );
    for word in [
        "<script", "src=", "href=", "url(", "@import", "red", "green", "amber",
    ] {
        let found = html.match_indices(word).find(|(at, _)| {
            // A word by itself: `occurred` is no colour.
            let before = html[..*at].chars().last();
            !before.is_some_and(char::is_alphanumeric)
        });
        assert_eq!(found.map(|(at, _)| &html[at..at + 40]), None, "{word}");
    }
    // The only address is the name of SVG.
    let addresses = html.matches("http").count();
    assert_eq!(
        addresses,
        html.matches("http://www.w3.org/2000/svg").count()
    );
    // Only greys are drawn.
    for (at, _) in html.match_indices("=\"#") {
        let colour = &html[at + 3..at + 9];
        assert!(
            colour[..2] == colour[2..4] && colour[2..4] == colour[4..6],
            "{colour}"
        );
    }
    // What is there already is not written over.
    let again = cohort(folder.path(), &["--people", "10", "--report", page_path]);
    assert_eq!(again.status.code(), Some(3));
    assert!(
        complaint(&again).contains(page_path),
        "{}",
        complaint(&again)
    );
}

#[test]
fn what_is_not_understood_is_refused_by_its_name() {
    let folder = as_it_is();
    let refused = |more: &[&str], code: i32, named: &str| {
        let run = cohort(folder.path(), more);
        assert_eq!(
            run.status.code(),
            Some(code),
            "{more:?}: {}",
            complaint(&run)
        );
        assert!(complaint(&run).contains(named), "{}", complaint(&run));
        assert!(text(&run).is_empty());
    };
    refused(&["--people", "0"], 2, "--people");
    refused(&["--weeks", "261"], 2, "--weeks");
    refused(&["--seed", "one"], 2, "--seed");
    refused(&["--against", "no-such-pack"], 3, "no-such-pack");
    refused(&["--model", "no-such-model.toml"], 3, "no-such-model.toml");
    let model = folder.path().join("clinic.toml");
    let model_path = model.to_str().unwrap().to_owned();
    for (said, named) in [
        ("keeps_permille = 3", "did you mean `kept_permille`"),
        (
            "stuck_weeks = 90",
            "`stuck_weeks` is `90`; a whole number from 1 to 52 is allowed",
        ),
        (
            "[measure.\"no such\"]\nrecovered_permille = 0\nworst_permille = 1",
            "no such",
        ),
        (
            "events_at_start = [\"flood\"]",
            "the pack has no event `flood`",
        ),
        ("stuck_weeks", "not TOML"),
    ] {
        std::fs::write(&model, said).unwrap();
        refused(&["--model", &model_path], 2, named);
        refused(&["--model", &model_path], 2, "clinic.toml");
    }
    let none = run(&["rules", "cohort"]);
    assert_eq!(none.status.code(), Some(2));
}

#[test]
fn a_model_changes_who_is_played() {
    let folder = as_it_is();
    let model = folder.path().join("clinic.toml");
    std::fs::write(
        &model,
        "recovery_permille_a_week = 0\nstart_permille = [100, 150]\n",
    )
    .unwrap();
    let more = [
        "--people",
        "50",
        "--json",
        "--model",
        model.to_str().unwrap(),
    ];
    let json: serde_json::Value = serde_json::from_str(&printed(folder.path(), &more)).unwrap();
    assert_eq!(json["packs"][0]["discharged"]["people"], 0);
    assert_eq!(json["packs"][0]["stuck"]["people"], 50);
    assert_eq!(
        json["model"]["parameters"]["recovery_permille_a_week"]["greatest"],
        0
    );
    let told = run(&[
        "rules",
        "cohort",
        "--assumptions",
        "--model",
        model.to_str().unwrap(),
    ]);
    assert!(text(&told).contains("100 to 150"), "{}", text(&told));
}

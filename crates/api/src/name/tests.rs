//! Each name is read as it is written, and nothing else is a name.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;

#[test]
fn what_is_written_is_read_back() {
    let episode = episode_from_name("clinics/sample/episodes/3f2a").unwrap();
    assert_eq!(episode.to_string(), "clinics/sample/episodes/3f2a");
    assert_eq!(
        decision_from_name(&episode.decision(0)),
        Some((episode.clone(), 0))
    );
    assert_eq!(
        fact_from_name(&episode.fact(u64::MAX)),
        Some((episode, u64::MAX))
    );
    assert_eq!(
        clinic_from_name("clinics/sample").as_deref(),
        Some("sample")
    );
    assert_eq!(
        roll_from_name(&roll_name("sample", 7)),
        Some(("sample".to_owned(), 7))
    );
    let digest = [0xab; 32];
    let (clinic, named) = pack_from_name(&pack_name("sample", &digest)).unwrap();
    assert_eq!((clinic.as_str(), named), ("sample", "ab".repeat(32)));
}

#[test]
fn what_is_no_name_is_refused() {
    for name in [
        "",
        "clinics",
        "clinics/",
        "clinics/sample/",
        "clinic/sample",
        "clinics/../episodes/x",
        "clinics/a b/episodes/x",
        "clinics/sample/episodes/x/decisions/1",
        &format!("clinics/sample/episodes/{}", "x".repeat(PART_BYTES_MAX + 1)),
    ] {
        assert_eq!(episode_from_name(name), None, "{name}");
    }
    for number in ["-1", "+1", "01", "1.0", "4294967296", "x"] {
        assert_eq!(
            decision_from_name(&format!("clinics/sample/episodes/x/decisions/{number}")),
            None,
            "{number}"
        );
        // Positions are wider than numbers of decisions.
        if number != "4294967296" {
            let name = format!("clinics/sample/rolls/{number}");
            assert_eq!(roll_from_name(&name), None, "{number}");
        }
    }
}

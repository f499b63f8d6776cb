//! Proves that a sentence counts as covered by what decisions saw of it, and what each belongs to.

use super::*;
use crate::diary::read;
use crate::play_watched;
use crate::read::tests::pack;

const HEAD: &str = "diary = \"x\"\nabout = \"Invented: for a test.\"\nopened = \"2026-01-05\"\n\
    [usual]\nsession = { before = 0 }\nexercise = { pain = 0 }\nmorning_after = { ache = 0 }\n\
    [[day]]\ndate = \"2026-01-05\"\nscreening = { fever = \"no\" }\nassessment = { reach = 80 }\nask = true\n";

/// Each sentence that was given a verdict: owner, and M, N, U for met, not met, unknown.
fn seen(rest: &str) -> Vec<String> {
    let pack = pack();
    let text = format!("{HEAD}{rest}");
    let watch = Watch::new();
    let diary = read(&pack, "x.toml", &text).unwrap_or_else(|found| panic!("{found:?}"));
    let played = play_watched(&pack, &diary, &watch);
    assert!(played.refused.is_empty(), "{played:?}");
    let covered = coverage(&pack, &watch);
    assert_eq!(covered.len(), pack.sentences.len());
    let said = covered.iter().map(|one| {
        let mark = |seen: bool, mark: &'static str| if seen { mark } else { "" };
        format!(
            "{}: {}{}{}",
            one.owner
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default(),
            mark(one.seen.met, "M"),
            mark(one.seen.not_met, "N"),
            mark(one.seen.unknown, "U")
        )
    });
    said.filter(|said| !said.ends_with(": ")).collect()
}

#[test]
fn what_no_decision_reads_is_not_seen() {
    assert_eq!(seen(""), ["rule fever: N"]);
}

#[test]
fn met_not_met_and_unknown_are_told_apart() {
    let session = |date: &str, pain: &str| {
        format!(
            "[[day]]\ndate = \"{date}\"\nsession = [{{ exercises = {{ hold-still = {{ readings = {{ {pain} }} }} }} }}]\nask = true\n"
        )
    };
    let said = seen(&format!(
        "{}{}",
        session("2026-01-06", "pain = 1"),
        session("2026-01-07", "pain = 4")
    ));
    let wanted = [
        "rule fever: N",
        "rule looked-at: N",
        "limit pain-during: M",
        "rule enter-last: N",
        "rule hold-still-climb: MN",
    ];
    assert_eq!(said, wanted);
}

#[test]
fn a_sentence_is_whole_once_it_was_unknown_too_if_it_can_be() {
    let whole = |met, not_met, unknown, can_be_unknown| {
        let seen = Verdicts {
            met,
            not_met,
            unknown,
            not_yet_full: true,
        };
        let sentence = Covered {
            sentence: SentenceIx(0),
            owner: None,
            seen,
            can_be_unknown,
            repeats: false,
        };
        sentence.is_whole()
    };
    assert!(whole(true, true, true, true) && whole(true, true, false, false));
    assert!(!whole(true, true, false, true));
    assert!(!whole(false, true, true, true) && !whole(true, false, false, false));
}

#[test]
fn a_need_that_repeats_its_climb_rule_is_known_and_another_is_not() {
    let pack = pack();
    let owners = owners(&pack);
    let said = repeating(&pack).into_iter().map(|ix| {
        let owner = owners.get(ix.at()).cloned().flatten();
        owner.map(|owner| owner.to_string())
    });
    let said: Vec<_> = said.collect();
    assert_eq!(said, [Some("needs of push reps 10".to_owned())]);
}

#[test]
fn shares_are_rounded_down_and_all_of_nothing_is_everything() {
    for (part, whole, tenths) in [(0, 3, 0), (2, 3, 666), (3, 3, 1000), (0, 0, 1000)] {
        assert_eq!(tenths_of_percent(part, whole), tenths);
    }
}

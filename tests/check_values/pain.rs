//! Check values of pain and irritability.
//!
//! Leaves to others: everything else (the files beside this one).

use crate::person::{Person, moves, verdict};
use crate::{MET, NOT_MET};
use rungwise_engine::decision::Move;
use rungwise_pack::model::Outcome;

// --- Pain while exercising, after, and on the next morning -------------------------------------

/// PM11, PM12: more than 5 of 10 is over the ceiling, 5 is not. Holmgren 2012, BMJ 344:e787.
/// PM04 to PM06, PM08: 5 acceptable, 6 and 10 high risk (Thomee 1997 and Silbernagel 2007, memory; 5 found in Holmgren).
#[test]
fn pain_during_exercise_has_its_ceiling_at_5() {
    for (pain, mv) in [
        (4, Move::Keep),
        (5, Move::Keep),
        (6, Move::Ease),
        (10, Move::Ease),
    ] {
        let mut person = Person::in_phase("active-range");
        person.session(&format!("exercises = {{ er-side-lying = {{ readings = {{ \"pain during exercise\" = {pain} }} }} }}"));
        assert_eq!(moves(&person.ask(), "external-rotation"), mv, "pain {pain}");
    }
}

/// ST03: no activity with pain over 3 of 10 in stage I. BMC Musculoskelet Disord 2021, s12891-021-04588-9.
/// PM07: 3 is still safe where the first line is drawn at 3 (secondary summary of Silbernagel 2007).
#[test]
fn in_the_first_phase_the_ceiling_is_3() {
    for (pain, mv) in [(3, Move::Keep), (4, Move::Ease)] {
        let mut person = Person::in_phase("isometric");
        person.session(&format!("exercises = {{ er-isometric = {{ readings = {{ \"pain during exercise\" = {pain} }} }} }}"));
        assert_eq!(moves(&person.ask(), "external-rotation"), mv, "pain {pain}");
    }
}

/// PM09, PM10: during 5, before 2, next session (here: next morning) 2: load not reduced; 3: load reduced.
/// Holmgren 2012, BMJ 344:e787.
#[test]
fn pain_that_did_not_settle_by_the_morning_lowers_the_load() {
    for (next, mv) in [(2, Move::Keep), (3, Move::Ease)] {
        let mut person = Person::in_phase("active-range");
        person.session_and_morning(
            "readings = { \"pain before session\" = 2, \"pain after session\" = 5 }, readings_each = { \"pain during exercise\" = 5 }",
            &format!("\"pain next morning\" = {next}"),
        );
        let decision = person.ask();
        assert_eq!(
            moves(&decision, "external-rotation"),
            mv,
            "next morning {next}"
        );
        assert_eq!(moves(&decision, "reach"), mv, "next morning {next}");
    }
}

/// After exercise pain may reach 5, not more (pain-monitoring model, Silbernagel 2007; memory).
#[test]
fn pain_after_a_session_has_its_ceiling_at_5() {
    for (after, mv) in [(5, Move::Keep), (6, Move::Ease)] {
        let mut person = Person::in_phase("active-range");
        person.session(&format!(
            "readings = {{ \"pain after session\" = {after} }}"
        ));
        assert_eq!(
            moves(&person.ask(), "external-rotation"),
            mv,
            "after {after}"
        );
    }
}

// --- Irritability ------------------------------------------------------------------------------

/// IR01, IR02, IR03, IR04, IR05: Kelley 2009 and 2013, McClure and Michener 2015 (memory; that the worst feature decides
/// is an engineering default).
#[test]
fn irritability_is_its_worst_feature() {
    for (row, pain, night, high, at_least_moderate) in [
        ("IR01", 7, "constant", true, true),
        ("IR02", 5, "intermittent", false, true),
        ("IR03", 3, "absent", false, false),
        ("IR04", 3, "constant", true, true),
        ("IR05", 8, "absent", true, true),
    ] {
        let mut person = Person::in_phase("banded-strengthening");
        person.session_and_morning(
            "",
            &format!("\"worst daily pain\" = {pain}, \"night pain\" = \"{night}\""),
        );
        let decision = person.ask();
        let wanted = |met| if met { MET } else { NOT_MET };
        assert_eq!(
            verdict(&decision, "irritability-high"),
            wanted(high),
            "{row}"
        );
        assert_eq!(
            verdict(&decision, "full-irritability-low"),
            wanted(!at_least_moderate),
            "{row}"
        );
    }
}

/// High irritability permits no resistance (Kelley 2009, McClure and Michener 2015; memory): one phase back at a time, and
/// whatever is kept is made easier meanwhile.
#[test]
fn at_high_irritability_what_is_kept_is_made_easier() {
    for (pain, outcome, mv) in [
        (6, Outcome::Continue, Move::Keep),
        (7, Outcome::Regress, Move::Ease),
    ] {
        let mut person = Person::placed("full-use", "ir-band = { reps = 15, load = 2.719 }");
        person.session_and_morning("", &format!("\"worst daily pain\" = {pain}"));
        let decision = person.ask();
        assert_eq!(
            (decision.outcome, moves(&decision, "internal-rotation")),
            (outcome, mv),
            "worst pain {pain}"
        );
        let asked = verdict(&decision, "irritability-looked-at") == MET;
        assert_eq!(asked, outcome == Outcome::Regress, "worst pain {pain}");
    }
}

//! Check values of red flags and stop signs.
//!
//! Leaves to others: the rest of the course (the files beside this one).

use crate::person::{Person, pack, verdict};
use crate::{MET, NOT_MET};
use rungwise_pack::model::{Outcome, Urgency};

// --- Red flags ---------------------------------------------------------------------------------

/// RF01 to RF07, RF10: red flags by urgency. Mitchell 2005, BMJ 331:1124-8, and primary-care pathways that repeat it;
/// EULAR/ACR 2012 for the age of 50; the urgency of RF06 and RF07 is from memory.
#[test]
fn red_flags_are_referred_by_urgency() {
    let flags: [(&str, &str, &str, &str, Urgency); 9] = [
        (
            "RF01",
            "hot swollen shoulder = fever",
            "1986-01-01",
            "joint-infection",
            Urgency::SameDay,
        ),
        (
            "RF02",
            "injury with changed shape",
            "1986-01-01",
            "unreduced-dislocation",
            Urgency::SameDay,
        ),
        (
            "RF03",
            "injury with weakness",
            "1986-01-01",
            "acute-tear",
            Urgency::Urgent,
        ),
        ("RF04", "new lump", "1986-01-01", "tumour", Urgency::Urgent),
        (
            "RF05",
            "sudden loss of strength or feeling",
            "1986-01-01",
            "sudden-loss",
            Urgency::SameDay,
        ),
        (
            "RF06",
            "both shoulders ache = headache",
            "1956-01-01",
            "temporal-arteritis",
            Urgency::Emergency,
        ),
        (
            "RF07",
            "chest pain or breathlessness on effort",
            "1986-01-01",
            "heart-pain",
            Urgency::Emergency,
        ),
        (
            "fracture",
            "bony tenderness after an injury",
            "1986-01-01",
            "fracture",
            Urgency::Emergency,
        ),
        (
            "nerve",
            "lasting numbness or weakness",
            "1986-01-01",
            "nerve",
            Urgency::Urgent,
        ),
    ];
    for (row, answer, born, rule, urgency) in flags {
        let decision = Person::screened(born, &answers(answer));
        assert_eq!(decision.outcome, Outcome::Refer, "{row}");
        assert_eq!(verdict(&decision, rule), MET, "{row}");
        let found = pack()
            .screening
            .iter()
            .find(|given| *pack().rules[given.rule.at()].key == *rule);
        assert_eq!(found.map(|given| given.urgency), Some(urgency), "{row}");
    }
    let younger = Person::screened("1976-01-06", &answers("both shoulders ache = headache"));
    assert_eq!(
        verdict(&younger, "temporal-arteritis"),
        NOT_MET,
        "RF10: at 49 it does not apply"
    );
}

fn answers(flags: &str) -> String {
    let full = |flag: &str| match flag {
        "fever" => "fever or feeling ill".to_owned(),
        "headache" => "headache or change of sight".to_owned(),
        other => other.to_owned(),
    };
    flags
        .split(" = ")
        .map(|flag| format!("\"{}\" = \"yes\"", full(flag)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Polymyalgia: more than 45 minutes of morning stiffness, from 50 years, both shoulders. EULAR/ACR 2012.
#[test]
fn morning_stiffness_counts_above_45_minutes() {
    for (minutes, wanted) in [(45, NOT_MET), (50, MET)] {
        let told = format!("\"both shoulders ache\" = \"yes\", \"morning stiffness\" = {minutes}");
        assert_eq!(
            verdict(&Person::screened("1966-01-01", &told), "polymyalgia"),
            wanted,
            "{minutes}"
        );
    }
}

/// RF13: light-headedness while exercising stops it (ACSM signs for stopping, PMC10847087).
#[test]
fn a_warning_sign_in_a_session_stops_everything() {
    for sign in ["shoulder", "chest or head"] {
        let mut person = Person::in_phase("active-range");
        person.session(&format!("readings = {{ \"warning sign\" = \"{sign}\" }}"));
        let decision = person.ask();
        assert_eq!(decision.outcome, Outcome::Refer, "{sign}");
        assert!(decision.state.places.is_empty(), "{sign}");
    }
}

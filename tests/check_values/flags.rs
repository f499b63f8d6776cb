//! Check values of red flags and stop signs.
//!
//! Leaves to others: the rest of the course (the files beside this one).

use crate::person::{Person, pack, verdict};
use crate::{MET, NOT_MET};
use rungwise_pack::model::{Outcome, RuleKind, Urgency};

// --- Red flags ---------------------------------------------------------------------------------

/// Which row, what is answered `yes`, born when, the rule that says so, how soon.
const FLAGS: [(&str, &str, &str, &str, Urgency); 17] = [
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
    (
        "hot joint alone",
        "hot swollen shoulder",
        "1986-01-01",
        "hot-swollen-shoulder",
        Urgency::SameDay,
    ),
    (
        "past cancer",
        "past or present cancer",
        "1986-01-01",
        "cancer-history-or-night-pain",
        Urgency::Urgent,
    ),
    (
        "night pain",
        "unrelenting night pain",
        "1986-01-01",
        "cancer-history-or-night-pain",
        Urgency::Urgent,
    ),
    (
        "systemic",
        "weight loss or night sweats",
        "1986-01-01",
        "systemic",
        Urgency::Urgent,
    ),
    (
        "belly",
        "belly pain with shoulder pain",
        "1986-01-01",
        "belly-pain",
        Urgency::Urgent,
    ),
    (
        "joints",
        "several swollen joints",
        "1986-01-01",
        "inflammatory-arthritis",
        Urgency::Urgent,
    ),
    (
        "5.2, heart",
        "heart condition not under control",
        "1986-01-01",
        "heart-condition",
        Urgency::Urgent,
    ),
    (
        "5.2, bone and joint",
        "broken or unstable shoulder",
        "1986-01-01",
        "broken-or-unstable",
        Urgency::Urgent,
    ),
];

/// RF01 to RF07, RF10: red flags by urgency. Mitchell 2005, BMJ 331:1124-8, and primary-care pathways that repeat it;
/// EULAR/ACR 2012 for the age of 50; the urgency of RF06 and RF07 is from memory.
#[test]
fn red_flags_are_referred_by_urgency() {
    for (row, answer, born, rule, urgency) in FLAGS {
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

/// An unresolved red flag rules out resisted exercise (memory: general safety logic), so each stops it until cleared.
#[test]
fn every_red_flag_stops_exercise() {
    for given in &pack().screening {
        let rule = &pack().rules[given.rule.at()];
        assert!(
            matches!(rule.kind, RuleKind::Refer { stops: true, .. }),
            "{}",
            rule.key
        );
    }
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

/// Still unable to lift to 90 deg two weeks after an injury: suspect a tear (specialists' pathway for injuries,
/// exetershoulder.com). Day 13 is not week 2; 90 deg is not below 90.
#[test]
fn who_cannot_lift_two_weeks_after_a_fall_is_referred() {
    for (days, lift, wanted) in [(13, 80, NOT_MET), (14, 80, MET), (14, 90, NOT_MET)] {
        let mut person = Person::in_phase("isometric");
        person.event("fall");
        person.pass(days);
        person.assess(&format!("\"active elevation\" = {lift}"), 165);
        assert_eq!(
            verdict(&person.ask(), "tear-after-fall"),
            wanted,
            "{lift} deg on day {days}"
        );
    }
}

/// RF11, RF12, RF13: what the sheet says of when to stop. ACSM signs for stopping, PMC10847087: chest pain, severe
/// breathlessness, light-headedness, confusion, ataxia, pallor, cyanosis, cold skin; systolic 250, diastolic 115, a fall of
/// systolic by more than 10; the person asks to. Of the shoulder, and after an operation: memory.
#[test]
fn the_sheet_says_when_to_stop() {
    let said = |key: &str| pack().text("en", key).unwrap().to_owned();
    let stop = said("sheet.stop.text");
    let signs = [
        "emergency services",
        "chest pain",
        "trouble breathing",
        "dizziness",
        "faintness",
        "unsteadiness",
        "confusion",
        "cold sweat",
        "pale or blue",
        "250",
        "115",
        "more than 10",
        "whenever you want",
    ];
    let shoulder = [
        "the same day",
        "tears, pops or slips out",
        "cannot lift the arm",
        "numb or weak",
        "swells or changes colour",
        "above what is allowed",
    ];
    for words in signs.iter().chain(&shoulder) {
        assert!(stop.contains(words), "{words}: {stop}");
    }
    assert!(said("limit.pain-during").contains("5 out of 10"));
    let surgeon = said("caution.surgeon");
    for words in ["fever", "wound", "calf", "breathing"] {
        assert!(surgeon.contains(words), "{words}: {surgeon}");
    }
}

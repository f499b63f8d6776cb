//! Check values of strength: estimated maximum, quotients of sides and of measures, changes beyond measurement error.
//!
//! Leaves to others: scores of questionnaires (`super::scores`).

use crate::worked::{Exact, Worked, assessed, both_sides, computed, number};
use rungwise_engine::decision::Verdict::{Met, NotMet, Unknown};
use rungwise_engine::fact::FactKind;

pub(crate) fn maximum(method: &str, most: u32) -> Worked {
    let measures = number("test load", "kg", (0, 100, "0.1"), "lower", "ratio = true")
        + &number("test reps", "{reps}", (0, 60, "1"), "lower", "")
        + &number("test reserve", "{reps}", (0, 10, "1"), "lower", "")
        + &computed(
            "plain maximum",
            "estimated maximum",
            "kg",
            &format!(
                "method = \"{method}\"\nload = \"test load\"\nrepetitions = \"test reps\"\nrepetitions_max = {most}"
            ),
        )
        + &computed(
            "maximum",
            "estimated maximum",
            "kg",
            &format!(
                "method = \"{method}\"\nload = \"test load\"\nrepetitions = \"test reps\"\n\
                 in_reserve = \"test reserve\"\nrepetitions_max = {most}"
            ),
        );
    Worked {
        name: "plain maximum",
        measures,
        higher_is_worse: false,
        beside: "fever is yes",
    }
}

pub(crate) fn lifted(load: &str, reps: &str) -> FactKind {
    assessed(&[("test load", load), ("test reps", reps)])
}

/// RM01 to RM12, RM14, RM16: Epley 1985 and Brzycki 1993 [found: S14]; 3 kg x 20 from section 2.2 (own numbers).
#[test]
fn one_repetition_maximum() {
    let rows: [(&str, &str, &str, Exact, Exact); 7] = [
        ("RM01 RM02 RM16", "10", "10", (40_000, 3), (40_000, 3)),
        ("RM03 RM04", "5", "12", (7000, 1), (7200, 1)),
        ("RM05 RM06", "20", "5", (70_000, 3), (22_500, 1)),
        ("RM07 RM08", "8", "12", (11_200, 1), (11_520, 1)),
        ("RM09 RM10", "6", "15", (9000, 1), (108_000, 11)),
        ("RM11 RM12", "4", "8", (76_000, 15), (144_000, 29)),
        (
            "section 2.2, 3 kg x 20",
            "3",
            "20",
            (5000, 1),
            (108_000, 17),
        ),
    ];
    for (row, load, reps, epley, brzycki) in rows {
        maximum("Epley", 20).gives(row, &lifted(load, reps), epley);
        maximum("Brzycki", 20).gives(row, &lifted(load, reps), brzycki);
    }
}

/// RM13: Brzycki 1993 [found: S14]. RM14: Epley 1985, one repetition is the load itself [found: S14].
#[test]
fn one_repetition_is_its_load() {
    maximum("Brzycki", 10).gives("RM13", &lifted("10", "1"), (10_000, 1));
    maximum("Epley", 10).gives("RM14", &lifted("10", "1"), (10_000, 1));
}

/// RM15: Brzycki has no number from 37 repetitions on [memory]; nor is either used past what the pack allows (Brzycki is
/// recommended to 10 [found: S14]). A load lifted so often was at least what the last repetition allowed gives.
#[test]
fn past_its_domain_a_maximum_is_unknown() {
    let brzycki = maximum("Brzycki", 36);
    brzycki.is("RM15", "below 40 kg", &[lifted("1", "37")], Unknown);
    brzycki.is("RM15", "below 36 kg", &[lifted("1", "37")], NotMet);
    let ten = maximum("Brzycki", 10);
    ten.is("3 kg x 20", "below 6 kg", &[lifted("3", "20")], Unknown);
    ten.is("3 kg x 20", "below 4 kg", &[lifted("3", "20")], NotMet);
    ten.is("none done", "below 3 kg", &[lifted("3", "0")], Unknown);
    ten.is("none done", "at most 3 kg", &[lifted("3", "0")], Met);
}

/// RM17: 8 kg x 10 with 2 in reserve is 12 possible repetitions: Epley 11.2, Brzycki 11.52 [found: S14, S15].
#[test]
fn repetitions_in_reserve_are_added() {
    let fact = assessed(&[
        ("test load", "8"),
        ("test reps", "10"),
        ("test reserve", "2"),
    ]);
    for (method, exact) in [("Epley", (11_200, 1)), ("Brzycki", (11_520, 1))] {
        let worked = Worked {
            name: "maximum",
            ..maximum(method, 15)
        };
        worked.gives("RM17", &fact, exact);
        // Not said, they may be any number of them.
        worked.is("RM17", "below 11 kg", &[lifted("8", "10")], Unknown);
        worked.is("RM17", "below 10 kg", &[lifted("8", "10")], NotMet);
    }
}

fn sides() -> Worked {
    let measures = number(
        "push",
        "kgf",
        (0, 60, "0.1"),
        "lower",
        "ratio = true\nboth_sides = true",
    ) + &number("pull", "kgf", (0, 60, "0.1"), "lower", "ratio = true")
        + &computed(
            "push against the other side",
            "percent of the other side",
            "%",
            "of = \"push\"",
        )
        + &computed(
            "push to pull",
            "ratio",
            "{quotient}",
            "of = \"push\"\nto = \"pull\"\nmethod = \"invented\"",
        );
    Worked {
        name: "push against the other side",
        measures,
        higher_is_worse: false,
        beside: "push below 0 kgf",
    }
}

/// SR04 to SR07: limb symmetry of a published case, kg force [found: S43].
#[test]
fn limb_symmetry() {
    let rows: [(&str, &str, &str, Exact); 4] = [
        ("SR04", "6.2", "12.4", (50_000, 1)),
        ("SR05", "4", "12.3", (4_000_000, 123)),
        ("SR06", "4.3", "14.1", (4_300_000, 141)),
        ("SR07", "9.8", "20.8", (9_800_000, 208)),
    ];
    for (row, own, other, exact) in rows {
        let both = |sound| both_sides(&[("push", own)], &[("push", other)], sound);
        sides().gives(row, &both(true), exact);
        sides().is(row, "below 60 %", &[both(false)], Unknown);
        // The same, written as an amount of the other side.
        let beside = Worked {
            name: "push",
            ..sides()
        };
        let floor = exact.0.div_euclid(exact.1);
        for (percent, wanted) in [(floor - 1, NotMet), (floor + 1, Met)] {
            let percent = rungwise_pack::quantity::Milli(percent);
            let sentence = format!("below {percent} % of the other side");
            beside.is(row, &sentence, &[both(true)], wanted);
            sides().is(row, &format!("below {percent} %"), &[both(true)], wanted);
        }
    }
}

/// SR01: Ivey 1985, 3:2 [found: S41]. SR02, SR03: a published case, involved and other side [found: S43].
#[test]
fn ratio_of_two_strengths() {
    let worked = Worked {
        name: "push to pull",
        ..sides()
    };
    let rows: [(&str, &str, &str, Exact); 3] = [
        ("SR01", "24", "36", (2000, 3)),
        ("SR02", "6.2", "9.8", (62_000, 98)),
        ("SR03", "12.4", "20.8", (124_000, 208)),
    ];
    for (row, of, to, exact) in rows {
        worked.gives(row, &assessed(&[("push", of), ("pull", to)]), exact);
    }
    let nothing = assessed(&[("push", "6"), ("pull", "0")]);
    worked.is("by nothing", "below 0.6", &[nothing], Unknown);
    let half = assessed(&[("push", "60")]);
    worked.is(
        "by what is not said",
        "below 0.9",
        std::slice::from_ref(&half),
        NotMet,
    );
    worked.is("by what is not said", "below 1.1", &[half], Unknown);
}

/// ER04, ER05: a change beyond 23.7 and 13.29 per cent, 60 N to 70 N. Hand-held dynamometry 2016 [found: S39].
#[test]
fn a_change_of_strength_beyond_measurement_error() {
    let worked = Worked {
        name: "force",
        measures: number("force", "N", (0, 600, "1"), "higher", "ratio = true"),
        higher_is_worse: true,
        beside: "force above 600 N",
    };
    let facts = [assessed(&[("force", "60")]), assessed(&[("force", "70")])];
    let rise = |percent: &str| format!("up by at least {percent} % since the first assessment");
    worked.is("ER04", &rise("23.7"), &facts, NotMet);
    worked.is("ER05", &rise("13.29"), &facts, Met);
}

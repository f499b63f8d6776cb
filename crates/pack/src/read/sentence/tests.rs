//! The sentence grammar, production by production.

#![allow(clippy::panic, reason = "a test may fail")]

use super::{Names, parse};
use crate::model::{
    Amount, Carrier, ChangeBy, ChoiceIx, Compare, Direction, ExerciseIx, Measure, MeasureIx,
    MeasureKind, Origin, Over, Reference, Relation, RowValue, Span, Stat, Subject, Which, Window,
    Worse,
};
use crate::quantity::{Key, Milli, Variable};
use crate::unit;

fn measure(name: &str, kind: MeasureKind) -> Measure {
    Measure {
        name: name.into(),
        kind,
        worse: Worse::Higher,
        origin: Origin::Reported,
        carrier: Carrier::Exercise,
        expected: true,
        both_sides: false,
        ratio: false,
        fresh_days: None,
        reported_by: Vec::new(),
    }
}

/// `pain` (0), `pain at night` (1), `elevation` in degrees (2), `share` in per cent (3), `fever` (4: no, yes), `sleep`
/// (5: good, not good at all, none).
fn measures() -> Vec<Measure> {
    let number = |code: &str| match unit::find(code) {
        Some(unit) => MeasureKind::Number {
            unit,
            min: Milli(0),
            max: Milli::whole(180),
            step: Milli::whole(1),
        },
        None => panic!("{code} is a unit"),
    };
    let choice = |words: &[&str]| MeasureKind::Choice {
        choices: words.iter().map(|word| Key::from(*word)).collect(),
    };
    vec![
        measure("pain", number("{score}")),
        measure("pain at night", number("{score}")),
        measure("elevation", number("deg")),
        measure("share", number("%")),
        measure("fever", choice(&["no", "yes"])),
        measure("sleep", choice(&["good", "not good at all", "none"])),
    ]
}

/// Parses with the measures above and the exercises `slide` (0) and `slide-far` (1).
fn understood(text: &str) -> Result<(Subject, Relation, Window), String> {
    let (measures, exercises) = (measures(), [Key::from("slide"), Key::from("slide-far")]);
    let names = Names {
        measures: &measures,
        exercises: &exercises,
    };
    match parse(text, names) {
        Ok(parsed) => Ok((parsed.subject, parsed.relation, parsed.window)),
        Err(error) => {
            let marked = text.get(error.span).unwrap_or("outside");
            Err(format!("{} at `{marked}`", error.code.id()))
        }
    }
}

fn check(text: &str, expected: (Subject, Relation, Window)) {
    assert_eq!(understood(text), Ok(expected), "{text}");
}

/// The code, and the words that it points at.
fn refused(text: &str, expected: &str) {
    assert_eq!(understood(text), Err(expected.to_owned()), "{text}");
}

const fn plain(measure: u16) -> Subject {
    Subject::Measure {
        measure: MeasureIx(measure),
        over: Over::Plain,
    }
}

const fn over(measure: u16, over: Over) -> Subject {
    Subject::Measure {
        measure: MeasureIx(measure),
        over,
    }
}

const fn at_most(units: i64) -> Relation {
    Relation::Compare(Compare::AtMost, Amount::Fixed(Milli::whole(units)))
}

#[test]
fn subjects() {
    check("pain at most 3", (plain(0), at_most(3), Window::Latest));
    check(
        "pain at night at most 3",
        (plain(1), at_most(3), Window::Latest),
    );
    check(
        "  pain   at  most 3 ",
        (plain(0), at_most(3), Window::Latest),
    );
    check(
        "in any exercise pain at most 3",
        (over(0, Over::AnyExercise), at_most(3), Window::Latest),
    );
    check(
        "in every exercise pain at most 3",
        (over(0, Over::EveryExercise), at_most(3), Window::Latest),
    );
    check(
        "in at least 2 exercises pain at most 3",
        (
            over(0, Over::AtLeastExercises(2)),
            at_most(3),
            Window::Latest,
        ),
    );
    check(
        "pain of slide-far at most 3",
        (over(0, Over::Of(ExerciseIx(1))), at_most(3), Window::Latest),
    );
    check(
        "pain of slide at most 3",
        (over(0, Over::Of(ExerciseIx(0))), at_most(3), Window::Latest),
    );
}

#[test]
fn how_far_exercises_have_come() {
    let reached = |which, variable, value| {
        (
            Subject::Reached {
                which,
                variable,
                value,
            },
            Relation::Reached,
            Window::Latest,
        )
    };
    let number = |units| RowValue::Number(Milli::whole(units));
    check(
        "slide has reached reps 12",
        reached(Which::One(ExerciseIx(0)), Variable::Reps, number(12)),
    );
    check(
        "slide has reached hold time 20 s",
        reached(Which::One(ExerciseIx(0)), Variable::HoldTime, number(20)),
    );
    check(
        "at least 3 exercises have reached days a week 5",
        reached(Which::AtLeast(3), Variable::DaysAWeek, number(5)),
    );
    let label = |text: &str| RowValue::Label(text.into());
    check(
        "slide has reached load 2 kg",
        reached(Which::One(ExerciseIx(0)), Variable::Load, label("2 kg")),
    );
    for load in ["2", "2 N", "2 N.m"] {
        check(
            &format!("slide has reached load {load}"),
            reached(Which::One(ExerciseIx(0)), Variable::Load, number(2)),
        );
    }
    check(
        "slide-far has reached position at shoulder height",
        reached(
            Which::One(ExerciseIx(1)),
            Variable::Position,
            label("at shoulder height"),
        ),
    );
    refused("slide has reached", "RW0319 at `reached`");
    refused("slide has reached depth 3", "RW0319 at `depth`");
    refused("slide at most 3", "RW0301 at `slide`");
}

#[test]
fn relations() {
    for (words, compare) in [
        ("at most", Compare::AtMost),
        ("at least", Compare::AtLeast),
        ("below", Compare::Below),
        ("above", Compare::Above),
    ] {
        let relation = Relation::Compare(compare, Amount::Fixed(Milli(2500)));
        check(
            &format!("pain {words} 2.5"),
            (plain(0), relation, Window::Latest),
        );
    }
    let between = Relation::Between(
        Amount::Fixed(Milli::whole(2)),
        Amount::Fixed(Milli::whole(4)),
    );
    check("pain between 2 and 4", (plain(0), between, Window::Latest));
    refused("pain between 2 4", "RW0303 at `4`");
    check(
        "fever is yes",
        (plain(4), Relation::Is(ChoiceIx(1)), Window::Latest),
    );
    check(
        "fever is not yes",
        (plain(4), Relation::IsNot(ChoiceIx(1)), Window::Latest),
    );
    check(
        "fever no worse than no",
        (plain(4), Relation::NoWorseThan(ChoiceIx(0)), Window::Latest),
    );
    check(
        "sleep is not good at all",
        (plain(5), Relation::Is(ChoiceIx(1)), Window::Latest),
    );
    check(
        "sleep is not good",
        (plain(5), Relation::IsNot(ChoiceIx(0)), Window::Latest),
    );
    check(
        "sleep is not not good at all",
        (plain(5), Relation::IsNot(ChoiceIx(1)), Window::Latest),
    );
    refused("fever at most 2", "RW0310 at `at most`");
    refused("pain is yes", "RW0310 at `is`");
    refused("pain roughly 3", "RW0302 at `roughly`");
}

#[test]
fn amounts() {
    let compare = |amount| Relation::Compare(Compare::AtLeast, amount);
    check(
        "elevation at least 90 deg",
        (
            plain(2),
            compare(Amount::Fixed(Milli::whole(90))),
            Window::Latest,
        ),
    );
    check(
        "pain at least 1 above pain at night",
        (
            plain(0),
            compare(Amount::Offset(Milli::whole(1), MeasureIx(1))),
            Window::Latest,
        ),
    );
    check(
        "elevation at least 5 deg below elevation",
        (
            plain(2),
            compare(Amount::Offset(Milli::whole(-5), MeasureIx(2))),
            Window::Latest,
        ),
    );
    for percent in ["80 %", "80%"] {
        check(
            &format!("elevation at least {percent} of the other side"),
            (
                plain(2),
                compare(Amount::PercentOfOtherSide(Milli::whole(80))),
                Window::Latest,
            ),
        );
    }
    check(
        "pain at least 50 % of pain at night",
        (
            plain(0),
            compare(Amount::PercentOf(Milli::whole(50), MeasureIx(1))),
            Window::Latest,
        ),
    );
    check(
        "share at least 50 %",
        (
            plain(3),
            compare(Amount::Fixed(Milli::whole(50))),
            Window::Latest,
        ),
    );
    refused("pain at least three", "RW0303 at `three`");
    refused("pain at least 1e3", "RW0303 at `1e3`");
    refused("pain at least 0.0001", "RW0105 at `0.0001`");
    refused("elevation at least 90 degrees", "RW0304 at `degrees`");
    refused("pain at least 1 above mood", "RW0301 at `mood`");
}

#[test]
fn changes() {
    let change = |direction, by, reference| {
        (
            plain(0),
            Relation::Change(direction, by, reference),
            Window::Latest,
        )
    };
    let two = ChangeBy::Units(Milli::whole(2));
    for (words, reference) in [
        ("since the first assessment", Reference::FirstAssessment),
        ("since the assessment before", Reference::AssessmentBefore),
        ("since the best assessment", Reference::BestAssessment),
        ("since entering the phase", Reference::PhaseEntry),
        (
            "compared with the 14 days before",
            Reference::DaysBefore(14),
        ),
    ] {
        check(
            &format!("pain up by at least 2 {words}"),
            change(Direction::Up, two, reference),
        );
    }
    check(
        "pain down by at least 30 % since the first assessment",
        change(
            Direction::Down,
            ChangeBy::Percent(Milli::whole(30)),
            Reference::FirstAssessment,
        ),
    );
    // A measure in per cent moves by points of it.
    let points = Relation::Change(
        Direction::Down,
        ChangeBy::Units(Milli::whole(30)),
        Reference::FirstAssessment,
    );
    check(
        "share down by at least 30 % since the first assessment",
        (plain(3), points, Window::Latest),
    );
    refused("pain up by at least 2 since yesterday", "RW0308 at `since`");
    refused(
        "pain up by at least 2 compared with the 14 weeks before",
        "RW0307 at `weeks`",
    );
}

#[test]
fn windows() {
    for (words, window) in [
        ("in the last session", Window::LastSession),
        ("in each of the last 3 sessions", Window::EachOfLast(3)),
        ("in any of the last 3 sessions", Window::AnyOfLast(3)),
        (
            "in at least 2 of the last 3 sessions",
            Window::SessionsOfLast { k: 2, n: 3 },
        ),
        (
            "on at least 2 of the last 7 days",
            Window::DaysOfLast { k: 2, n: 7 },
        ),
        (
            "on average over the last 7 days",
            Window::Over(Stat::Average, Span::Days(7)),
        ),
        (
            "at worst over the last 2 weeks",
            Window::Over(Stat::Worst, Span::Days(14)),
        ),
        (
            "at best since entering the phase",
            Window::Over(Stat::Best, Span::SincePhase),
        ),
        (
            "in total over the last 1 days",
            Window::Over(Stat::Total, Span::Days(1)),
        ),
    ] {
        check(
            &format!("pain at most 3 {words}"),
            (plain(0), at_most(3), window),
        );
    }
    refused(
        "pain at most 3 in each of the last sessions",
        "RW0303 at `sessions`",
    );
    refused(
        "pain at most 3 in each of the last 1.5 sessions",
        "RW0309 at `1.5`",
    );
    refused(
        "pain at most 3 in each of the last 3 sessions please",
        "RW0307 at `please`",
    );
    refused(
        "pain at most 3 on at least 8 of the last 7 days",
        "RW0309 at `8 of the last 7 days`",
    );
    refused(
        "pain at most 3 at worst over the last 7 sessions",
        "RW0307 at `sessions`",
    );
}

#[test]
fn words_are_taken_whole() {
    refused("painful at most 3", "RW0301 at `painful`");
    refused("pain at mostly 3", "RW0302 at `at`");
    refused("", "RW0301 at ``");
    refused("pain", "RW0302 at `pain`");
}

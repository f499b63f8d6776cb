//! Two courses as they are printed and drawn, and what is said of files that are none.

use super::Compared;

const COURSES: &str = include_str!("courses.toml");

#[test]
fn every_step_is_printed_and_the_highest_is_named() {
    let compared = Compared::read(COURSES).unwrap();
    let text = compared.lines().join("\n") + "\n";
    let text = anstream::adapter::strip_str(&text).to_string();
    assert_eq!(text, include_str!("courses.txt"));
    let json = compared.as_json();
    assert_eq!(json["courses"][0]["highest_step_up"], "+8.2 %");
    assert_eq!(json["courses"][1]["highest_step_up"], "+40.0 %");
    assert_eq!(json["courses"][1]["loads"][2]["step"], "-28.6 %");
}

#[test]
fn two_courses_are_drawn_to_the_byte() {
    let compared = Compared::read(COURSES).unwrap();
    assert_eq!(compared.drawn().unwrap(), include_str!("courses.svg"));
}

#[test]
fn a_file_that_says_no_two_courses_is_told_why() {
    for (from, to, why) in [
        (
            "\"2026-04-05\"",
            "\"2026-04-01\"",
            "course `by distance, and then by band`: a load from 2026-04-01; after 2026-04-01 and up to 2026-04-30 is allowed",
        ),
        (
            "torque_mnm = 1620",
            "torque_mnm = 0",
            "course `by distance, and then by band`: a load of `0` thousandths of a N.m; from 1 to 1000000 is allowed",
        ),
        (
            "\"2026-04-30\"",
            "\"soon\"",
            "`soon` is not a date; write it as 2026-01-31",
        ),
    ] {
        let text = COURSES.replacen(from, to, 1);
        assert_eq!(Compared::read(&text).err().as_deref(), Some(why));
    }
    let one = COURSES
        .split("[[course]]")
        .take(2)
        .collect::<Vec<_>>()
        .join("[[course]]");
    let why = Compared::read(&one).err();
    assert_eq!(why.as_deref(), Some("`1` courses; 2 are allowed"));
}

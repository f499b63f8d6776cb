//! What is near enough to be suggested.

use super::nearest;

fn check(word: &str, expected: Option<&str>) {
    let known = ["climb_max", "lines_max", "aim", "text"];
    assert_eq!(nearest(word, known), expected, "{word}");
}

#[test]
fn a_slip_is_near_and_another_word_is_not() {
    check("climb_max", Some("climb_max"));
    check("climbmax", Some("climb_max"));
    check("Climb_Max", Some("climb_max"));
    check("aims", Some("aim"));
    check("txet", Some("text"));
    check("mood", None);
    check("", None);
}

//! UCUM codes: the published check values, and what is suggested for a wrong one.

use super::{find, meant, same};
use crate::quantity::Dimension;

fn check(code: &str, expected: Option<Dimension>) {
    assert_eq!(find(code).map(|unit| unit.dimension), expected, "{code}");
}

/// Source: The Unified Code for Units of Measure, case-sensitive codes (check values UC01 to UC10).
#[test]
fn published_codes_are_told_apart() {
    check("deg", Some(Dimension::Angle)); // UC01
    check("N.m", Some(Dimension::Torque)); // UC02
    check("Nm", None); // UC03
    check("kg", Some(Dimension::Mass)); // UC04
    check("KG", None); // UC05
    check("/wk", Some(Dimension::Frequency)); // UC06
    check("{reps}", Some(Dimension::One)); // UC07
    check("sec", None); // UC08
    check("kgf", Some(Dimension::Force)); // UC09
    check("y", None); // UC10
}

#[test]
fn annotations_are_the_unity_and_nothing_else_in_braces_is() {
    check("{score}", Some(Dimension::One));
    check("{}", None);
    check("{a b}", None);
    check("{a{b}", None);
    check("{score", None);
    check("", None);
    let (score, reps, percent) = (find("{score}"), find("{reps}"), find("%"));
    let both = |a: &Option<crate::quantity::Unit>, b: &Option<crate::quantity::Unit>| {
        a.as_ref().zip(b.as_ref()).is_some_and(|(a, b)| same(a, b))
    };
    assert!(both(&score, &reps));
    assert!(!both(&score, &percent));
    assert!(!both(&find("d"), &find("wk")));
}

#[test]
fn a_wrong_code_gets_the_one_meant() {
    for (wrong, right) in [
        ("Nm", "N.m"),
        ("KG", "kg"),
        ("sec", "s"),
        ("y", "a"),
        ("degrees", "deg"),
        ("weeks", "wk"),
        ("lb", "[lb_av]"),
    ] {
        assert_eq!(meant(wrong), Some(right), "{wrong}");
    }
    assert_eq!(meant("furlongs"), None);
}

//! A token leads back to where it was given, for the conditions it was given for and no others.

use super::*;

#[test]
fn a_token_is_bound_to_its_list() {
    let given = token(77, &["clinics/demo", "x"]);
    assert_eq!(start(&given, &["clinics/demo", "x"]), Ok(77));
    assert_eq!(start("", &["clinics/demo"]), Ok(0));
    for (wrong, conditions) in [
        (given.as_str(), ["clinics/demo", "y"]),
        (given.as_str(), ["clinics/demox", ""]),
        ("nonsense", ["clinics/demo", "x"]),
        ("zzzzzzzzzzzzzzzz0000000000000000", ["clinics/demo", "x"]),
        ("ü2345678901234567890123456789012", ["clinics/demo", "x"]),
    ] {
        assert!(start(wrong, &conditions).is_err(), "{wrong}");
    }
}

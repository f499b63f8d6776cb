//! Files of readings: what is read of them, and what is said of every one that is wrong.

use super::Points;
use rungwise_bands::curve::{Kind, Measured};

fn said(text: &str) -> String {
    let mistakes = Points::read(text, 400).unwrap_err();
    let lines: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

fn readings(text: &str) -> Vec<(i64, i64)> {
    let points = Points::read(text, 400).unwrap();
    let residuals = points.curve.residuals();
    residuals
        .iter()
        .map(|residual| residual.measured)
        .map(
            |Measured {
                 elongation_mpct,
                 force_mn,
             }| (elongation_mpct, force_mn),
        )
        .collect()
}

#[test]
fn columns_stand_in_either_order_with_their_units_in_any_brackets() {
    for header in [
        "elongation [%],force [N]",
        "Elongation (%), force N",
        "elongation_%,force_N",
    ] {
        assert_eq!(
            readings(&format!("# scale 3\n{header}\n\n50,8.2\n100 , 12.5\n")),
            [(50_000, 8_200), (100_000, 12_500)],
            "{header}"
        );
    }
    assert_eq!(
        readings("force [N],elongation [%]\n8.2,50\n"),
        [(50_000, 8_200)]
    );
}

#[test]
fn lengths_and_kilograms_of_force_are_converted() {
    // 1 kgf is 9.80665 N, exactly: the definition, CGPM 1901. Rounded up to a thousandth.
    assert_eq!(
        readings("length [mm],force [kgf]\n600,1\n800,2.5\n"),
        [(50_000, 9_807), (100_000, 24_517)]
    );
}

#[test]
fn lines_are_those_of_the_file() {
    let points = Points::read(
        "# remark\nelongation [%],force [N]\n50,8\n\n# more\n100,12\n",
        400,
    );
    assert_eq!(points.unwrap().lines, [3, 6]);
    let wrong = "# remark\n\nelongation [%],force [N]\n\n50,x\n";
    assert!(said(wrong).starts_with("line 5: "), "{}", said(wrong));
    assert!(said("# remark\nforce\n").starts_with("line 2: "));
}

#[test]
fn one_elongation_makes_a_strip() {
    let points = Points::read("elongation [%],force [N]\n100,8\n100,9\n", 400).unwrap();
    assert_eq!(points.curve.kind(), Kind::Strip);
}

#[test]
fn everything_wrong_is_said_at_once_with_its_line() {
    assert_eq!(
        said("length [mm],force [N]\n600,8,1\n390,8\n600.5,x\n700,1.2345\n"),
        "line 2: 3 values; 2 are allowed, as in the header\n\
         line 3: length `390 mm`; whole mm from the rest length, 400 mm, are allowed\n\
         line 4: length `600.5 mm`; whole mm from the rest length, 400 mm, are allowed\n\
         line 4: force `x` is not a plain decimal number; a number such as `12.5` is allowed\n\
         line 5: force `1.2345` is finer than thousandths; a number such as `12.5` is allowed"
    );
}

#[test]
fn headers_say_what_the_columns_are() {
    assert_eq!(
        said(""),
        "it is empty; the first line names the columns, as `elongation [%],force [N]`"
    );
    assert_eq!(
        said("50,8\n"),
        "line 1: column `50`; `elongation [%]` or `length [mm]`, and `force [N]` or `force [kgf]`, are allowed\n\
         line 1: column `8`; `elongation [%]` or `length [mm]`, and `force [N]` or `force [kgf]`, are allowed"
    );
    assert_eq!(
        said("force [N],force [kgf]\n"),
        "line 1: 2 columns of force; one is allowed, the other one is of elongation or length"
    );
    assert_eq!(
        said("elongation [%],length [mm],force [N]\n"),
        "line 1: 2 columns of elongation or length; one is allowed, the other one is of force"
    );
}

#[test]
fn readings_that_make_no_curve_are_found_in_the_file() {
    let with = |readings: &str| said(&format!("elongation [%],force [N]\n{readings}"));
    assert_eq!(
        with("50,8\n100,-2\n"),
        "line 3: force `-2 N`; from 0 N to 2000 N is allowed"
    );
    assert_eq!(
        with("100,7\n50,8\n100,8\n"),
        "lines 2, 4: force `7.5 N` at `100 %` elongation, after 8 N at 50 %; above 8 N is allowed"
    );
    assert_eq!(
        with("0,0\n"),
        "no reading above 0 % elongation; at least one is needed, two or more are better"
    );
}

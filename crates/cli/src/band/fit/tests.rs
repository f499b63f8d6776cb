//! A calibration as it is printed, as JSON, and as it is drawn.

use super::{Fit, Points};
use crate::band::drawing;
use rungwise_bands::band::Band;

/// The readings that the README shows.
const ROLL_A: &str = include_str!("../../../../../deploy/roll-a.csv");

fn with<T>(text: &str, safe_mpct: i64, look: impl FnOnce(&Fit<'_>) -> T) -> T {
    let points = Points::read(text, 1_000).unwrap();
    let band = Band::new("roll-a".to_owned(), 1_000, points.curve.clone(), safe_mpct).unwrap();
    look(&Fit {
        points: &points,
        band: &band,
    })
}

fn printed(fit: &Fit<'_>) -> String {
    let text = fit.lines().join("\n") + "\n";
    anstream::adapter::strip_str(&text).to_string()
}

#[test]
fn a_roll_read_three_times_is_printed_with_its_scatter() {
    with(ROLL_A, 250_000, |fit| {
        assert_eq!(printed(fit), include_str!("roll-a.txt"));
    });
}

#[test]
fn one_reading_is_a_strip_and_says_that_its_scatter_is_not_known() {
    with("length [mm],force [kgf]\n2000,1.5\n", 80_000, |fit| {
        assert_eq!(printed(fit), include_str!("strip.txt"));
    });
}

#[test]
fn machines_get_whole_numbers_and_the_line_of_every_reading() {
    with(ROLL_A, 200_000, |fit| {
        let json = fit.as_json();
        assert_eq!(json["kind"], "cubic");
        assert_eq!(json["elongation_mpct_max"], 200_000);
        assert_eq!(json["length_mm_max"], 3_000);
        assert_eq!(json["readings"][0]["line"], 3);
        assert_eq!(json["readings"][0]["force_mn"], 6_400);
        // 6.4, 6.7 and 6.6 N: their mean, rounded up to a thousandth.
        assert_eq!(json["means"][0]["mean_mn"], 6_567);
        assert_eq!(json["means"][0]["lowest_mn"], 6_400);
        assert_eq!(json["means"][0]["highest_mn"], 6_700);
        // From the curve to the first reading: 6.4 less 6.566…, away from zero.
        assert_eq!(json["readings"][0]["off_the_curve_mn"], -167);
        let last = json["curve"].as_array().unwrap().last().unwrap();
        assert_eq!(last["elongation_mpct"], 200_000);
        assert_eq!(last["force_mn"], 24_500);
    });
}

#[test]
fn a_curve_is_drawn_to_the_byte() {
    with(ROLL_A, 200_000, |fit| {
        assert_eq!(
            drawing::curve(fit.band).unwrap(),
            include_str!("roll-a.svg")
        );
    });
}

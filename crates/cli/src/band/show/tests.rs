//! An exercise of a pack with a band: as it is printed, as JSON, as it is drawn, and what is said where it cannot be.

use super::{Arc, Body, Pull, Setting, Shows, shows};
use crate::args::{Cli, Command};
use crate::band::args::{BandCommand, ShowArgs};
use crate::failure::Failure;
use clap::Parser as _;
use rungwise_bands::body::GRIP_MPCT;
use rungwise_bands::motion::{Motion, Underfoot};
use rungwise_pack::model::{BandHeight, BandMotion, BandWork, CheckedPack};
use rungwise_pack::source::SourceFiles;
use std::path::Path;

/// The small invented pack of `rungwise-pack` with its invented exercise against a band.
fn pack() -> CheckedPack {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../pack/tests-data");
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
    let banded = read("banded.toml");
    let height = "[[measure]]\nname = \"standing height\"\nunit = \"cm\"\nmin = 50\nmax = 250\nstep = 0.5\n\
         carrier = \"assessment\"\nexpected = false\nreported_by = [\"clinician\"]\nsource = \"invented\"\n\n";
    let texts = "\"ir-banded.name\" = \"Inward turn\"\n\"ir-banded.how\" = \"Turn inward.\"\n";
    let insertions = [
        ("exercises.toml", "[[line]]\nline = \"elevation\"", &*banded),
        (
            "measures.toml",
            "[[measure]]\nname = \"days since the last session\"",
            height,
        ),
        ("text/en.toml", "\"wall-slide.name\"", texts),
        (
            "pack.toml",
            "[sources]",
            "[bands]\nheight = \"standing height\"\n\n",
        ),
        ("phases.toml", "\"er-banded\", ", "\"ir-banded\", "),
        ("screening.toml", "", ""),
    ];
    let files = insertions.map(|(name, before, new)| {
        let text = read(&format!("small/{name}"));
        let text = text.replacen(
            before,
            &format!("{new}\n{before}"),
            usize::from(!new.is_empty()),
        );
        (name.to_owned(), text)
    });
    let checked = rungwise_pack::check(&SourceFiles::new(files.to_vec()));
    let said: Vec<_> = checked.diagnostics.iter().map(|one| &one.message).collect();
    checked.pack.unwrap_or_else(|| panic!("{said:?}"))
}

/// What the command line asks for, beside the pack.
fn args(more: &str) -> ShowArgs {
    let points = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../deploy/roll-a.csv");
    let points = points.to_string_lossy().into_owned();
    let mut line = vec![
        "rungwise",
        "band",
        "show",
        "--points",
        &points,
        "--height-mm",
        "1720",
    ];
    line.extend(["--rest-length-mm", "1000"]);
    line.extend(more.split_whitespace());
    match Cli::try_parse_from(line).unwrap().command {
        Command::Band(BandCommand::Show(args)) => *args,
        other => panic!("{other:?}"),
    }
}

const INWARD: &str = "--exercise ir-banded --stance-mm 1300";

fn with<T>(more: &str, look: impl FnOnce(&Shows<'_>) -> T) -> T {
    shows(&args(more), &pack(), |shown, _| Ok(look(shown))).unwrap()
}

fn refused(more: &str) -> (u8, String) {
    let failure = shows(&args(more), &pack(), |_, _| Ok(())).unwrap_err();
    let failure: Failure = failure;
    (failure.exit_code(), failure.to_string())
}

#[test]
fn force_and_torque_are_printed_at_every_angle() {
    with(INWARD, |shown| {
        let text = shown.lines().join("\n") + "\n";
        let text = anstream::adapter::strip_str(&text).to_string();
        assert_eq!(text, include_str!("inward.txt"));
    });
}

#[test]
fn machines_get_whole_numbers_that_agree_with_what_is_printed() {
    with(&format!("{INWARD} --angles 3 --range 60"), |shown| {
        let json = shown.as_json();
        assert_eq!(json["arc"]["from_mdeg"], -30_000);
        assert_eq!(json["arc"]["to_mdeg"], 30_000);
        assert_eq!(json["setting"]["working_length_mm"], 1_000);
        let points = json["points"].as_array().unwrap();
        assert_eq!(points.len(), 3);
        assert_eq!(points[1], json["stated"]);
        assert_eq!(points[2]["force_mn"], json["end_mn"]);
        // Nothing weighs on a turn about a vertical axis.
        assert_eq!(json["with_the_limb"], json["of_the_band"]);
    });
}

#[test]
fn a_piece_cut_shorter_pulls_harder_at_the_same_distance() {
    let end = |more: &str| with(more, |shown| shown.profile.summary.end_mn);
    assert!(end(&format!("{INWARD} --cut-mm 800")) > end(INWARD));
}

#[test]
fn what_cannot_be_asked_ends_with_2_and_says_what_is_allowed() {
    assert_eq!(
        refused("--exercise ir-banded"),
        (
            2,
            "exercise `ir-banded` has an anchor; `--stance-mm` from 400 to 2500 is allowed"
                .to_owned()
        )
    );
    assert_eq!(
        refused("--exercise nothing"),
        (
            2,
            "exercise `nothing` is not in pack `small`; `ir-banded` moves a measured band"
                .to_owned()
        )
    );
    assert_eq!(
        refused("--exercise wall-slide"),
        (2, "exercise `wall-slide` does not say how it moves a band; `ir-banded` moves a measured band".to_owned())
    );
    assert_eq!(
        refused(&format!("{INWARD} --range 20")),
        (
            2,
            "exercise `ir-banded` states its load at 0 deg; `--range` from 30 is allowed"
                .to_owned()
        )
    );
    assert_eq!(
        refused(&format!("{INWARD} --elongation-max-pct 300")),
        (
            2,
            "safe elongation `300 %`; above 0 %, up to the last reading at 250 %, is allowed"
                .to_owned()
        )
    );
}

/// What is said of a pull between the hands for which the band may not be held shorter than 700 mm; else the length held.
fn between_the_hands(more: &str, rest_length_mm: u32) -> Result<u32, String> {
    let args = args(&format!("--exercise apart {more}"));
    let (_, band) = super::read(&args.points, &args.band, rest_length_mm).unwrap();
    let work = BandWork {
        motion: BandMotion::HandsApart {
            height: BandHeight::AboveFloor(1_300),
            shortest_mm: 700,
            grip_mpct: None,
        },
        from_mdeg: 0,
        to_mdeg: Some(40_000),
        load_at_mdeg: 20_000,
        step_min_mpct: 0,
        step_max_mpct: 10_000,
        start_mn_min: 1,
    };
    let setting = super::setting(&args, &work, &band);
    setting
        .map(|setting| setting.working_length_mm)
        .map_err(|failure| failure.to_string())
}

#[test]
fn a_band_is_not_held_shorter_than_the_pack_allows() {
    let refused = "exercise `apart` holds the band no shorter than `700 mm`; `--working-length-mm` from 700 to 1000 is \
                   allowed";
    let held = |mm: u32| between_the_hands(&format!("--working-length-mm {mm}"), 1_000);
    assert_eq!(held(700), Ok(700));
    assert_eq!(held(699), Err(refused.to_owned()));
    assert_eq!(between_the_hands("", 1_000), Ok(1_000));
    assert_eq!(
        between_the_hands("--strands 2", 1_000),
        Err("exercise `apart` asks for `700 mm` of band; this one gives `500 mm`".to_owned())
    );
}

#[test]
fn a_band_that_cannot_be_held_so_is_a_no_with_what_is_allowed() {
    let (code, said) = refused("--exercise ir-banded --stance-mm 400");
    assert_eq!(code, 1);
    assert!(
        said.contains("is slack by") && said.contains("a stance from"),
        "{said}"
    );
    let (code, said) = refused(&format!("{INWARD} --elongation-max-pct 20"));
    assert_eq!(code, 1);
    assert!(said.contains("past the safe 20 %"), "{said}");
}

#[test]
fn force_and_torque_are_drawn_to_the_byte() {
    let svg = shows(&args(INWARD), &pack(), |shown, pull| shown.drawn(pull)).unwrap();
    assert_eq!(svg, include_str!("inward.svg"));
}

/// Raising a straight limb to level against a band under the foot, 600 mm of it between the ends.
fn raised(mass_g: Option<i64>, look: impl FnOnce(&Shows<'_>, &Pull<'_>)) {
    let args = args(INWARD);
    let (_, band) = super::read(&args.points, &args.band, 1_000).unwrap();
    let motion = Motion::Elevation(Underfoot {
        out_mm: 0,
        off_mm: 0,
        height_mm: 0,
        grip_mpct: GRIP_MPCT,
    });
    let body = Body::from_height(1_720).unwrap();
    let body = mass_g.map_or(body, |mass_g| body.with_mass(mass_g).unwrap());
    let setting = Setting {
        band: 0,
        strands: 1,
        working_length_mm: 600,
        stance_mm: 0,
    };
    let arc = Arc {
        from_mdeg: 10_000,
        to_mdeg: 90_000,
    };
    let pull = Pull::new(&motion, &body, &band, &setting, arc).unwrap();
    let shown = Shows {
        exercise: "raise",
        height_mm: 1_720,
        band: &band,
        setting,
        arc,
        profile: pull.profile(3).unwrap(),
        stated: pull.point(60_000).unwrap(),
        start_mn_min: 100_000,
        gravity_acts: motion.gravity_acts(),
    };
    look(&shown, &pull);
}

#[test]
fn where_gravity_acts_the_limb_counts_if_the_mass_is_known() {
    raised(Some(70_000), |shown, pull| {
        let text = shown.lines().join("\n");
        assert!(text.contains("torque  with limb"), "{text}");
        assert!(
            text.contains("too little: the exercise asks for 100 N"),
            "{text}"
        );
        assert!(text.contains("with the limb's weight:"), "{text}");
        let svg = shown.drawn(pull).unwrap();
        assert!(svg.contains("with the limb&apos;s weight"), "{svg}");
    });
    raised(None, |shown, pull| {
        let text = shown.lines().join("\n");
        assert!(text.contains("unknown"), "{text}");
        assert!(text.contains("`--mass-kg` counts it"), "{text}");
        assert!(shown.as_json()["with_the_limb"].is_null());
        assert!(!shown.drawn(pull).unwrap().contains("weight"));
    });
}

//! Generated packs with measures that are worked out from others of the same fact, in place of some of their sentences.
//!
//! The packs they are made of, and the choices made for those, stay as they are.
//!
//! Leaves to others: making those packs (`super::pack`).

use super::Dice;
use super::pack::{ANYTHING, GROUNDS, files};
use super::sentence::Tone;
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::SourceFiles;

/// The files of a pack with combined measures.
#[must_use]
pub fn combined_files(seed: u64) -> SourceFiles {
    let mut dice = Dice::new(seed ^ 0xc0de);
    let plain = files(seed, ANYTHING);
    let woven = plain.files().iter().map(|file| {
        let mut text = file.text.clone();
        if file.name == "measures.toml" {
            text += &measures(&mut dice);
        }
        for (from, tone) in [
            ("\"measure-e no worse than mid\"", Tone::Good),
            ("\"measure-e is low\"", Tone::Good),
            ("\"measure-e is high\"", Tone::Bad),
            ("\"measure-e is not low\"", Tone::Bad),
        ] {
            text = replaced(&text, from, || of_assessment(&mut dice, tone));
        }
        text = replaced(&text, "measure-k is not high", || {
            format!("combined-lift at least {}", dice.number(1, 5) * 10)
        });
        text = replaced(&text, "measure-k is high", || {
            format!("combined-lift below {}", dice.number(1, 5) * 10)
        });
        (file.name.clone(), text)
    });
    SourceFiles::new(woven.collect())
}

/// A checked pack with combined measures.
///
/// # Panics
///
/// Where the checker refuses it, with everything that it says.
#[must_use]
pub fn combined_pack(seed: u64) -> CheckedPack {
    let files = combined_files(seed);
    let checked = rungwise_pack::check(&files);
    let said = checked.diagnostics;
    checked
        .pack
        .unwrap_or_else(|| panic!("pack {seed} is refused: {said:#?}"))
}

fn replaced(text: &str, from: &str, mut to: impl FnMut() -> String) -> String {
    let mut parts = text.split(from);
    let mut whole = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        whole += &to();
        whole += part;
    }
    whole
}

fn measures(dice: &mut Dice) -> String {
    let expected = [dice.percent(50), dice.percent(50), dice.percent(50)];
    let number = |name: &str, range: &str, more: &str| {
        format!(
            "\n[[measure]]\nname = \"{name}\"\n{range}\nreported_by = [\"clinician\"]\n{GROUNDS}\n{more}\n"
        )
    };
    let items = "unit = \"{score}\"\nmin = 1\nmax = 5\nstep = 1\nworse = \"higher\"\ncarrier = \"assessment\"\nexpected = false";
    let load = |carrier: &str, expected: bool| {
        format!(
            "unit = \"kg\"\nmin = 0\nmax = 50\nstep = 5\nratio = true\nworse = \"lower\"\n\
             carrier = \"{carrier}\"\nexpected = {expected}"
        )
    };
    let reps = format!(
        "unit = \"{{reps}}\"\nmin = 0\nmax = 20\nstep = 0.5\nworse = \"lower\"\ncarrier = \"assessment\"\nexpected = {}",
        expected[1]
    );
    let computed = |name: &str, recipe: &str, unit: &str, more: &str| {
        format!(
            "\n[[measure]]\nname = \"combined-{name}\"\ncomputed = \"{recipe}\"\nunit = \"{unit}\"\n{more}\n{GROUNDS}\n"
        )
    };
    let fresh = if dice.percent(30) {
        "fresh_days = 6"
    } else {
        ""
    };
    let method = *dice.pick(&["Epley", "Brzycki"]);
    let most = dice.number(1, 20);
    [
        number("measure-p", items, &format!("numbered = 5\n{fresh}")),
        number("measure-q", items, "numbered = 2"),
        number("measure-r", &load("assessment", expected[0]), ""),
        number("measure-s", &reps, ""),
        number("measure-t", &load("exercise", expected[2]), ""),
        computed("mean", "mean of items in percent", "%", &format!("items = [\"measure-p\"]\nanswered_min = {}", dice.number(2, 5))),
        computed("scales", "mean of scales in percent", "{score}", &format!("scales = [\"measure-p\", \"measure-q\"]\nworse = \"lower\"\nanswered_min = {}", dice.number(3, 7))),
        computed("plain", "mean of items", "{score}", "items = [\"measure-q\"]\nanswered_min = 2"),
        computed("side", "percent of the other side", "%", "of = \"measure-d\""),
        computed("ratio", "ratio", "1", "of = \"measure-d\"\nto = \"measure-i\"\nmethod = \"invented\""),
        computed("max", "estimated maximum", "kg", &format!("method = \"{method}\"\nload = \"measure-r\"\nrepetitions = \"measure-s\"\nrepetitions_max = {most}")),
        computed("lift", "estimated maximum", "kg", &format!("method = \"{method}\"\nload = \"measure-t\"\nrepetitions_max = {}", dice.number(10, 20))),
    ]
    .concat()
}

/// A criterion on a combined measure of assessments.
fn of_assessment(dice: &mut Dice, tone: Tone) -> String {
    let good = tone == Tone::Good;
    let how = if good { "all" } else { "any" };
    let (higher, lower) = if good {
        ("at most", "at least")
    } else {
        ("at least", "below")
    };
    let window = match dice.count(0, 5) {
        0 => format!(" on average over the last {} days", dice.number(2, 9)),
        1 => format!(" at worst over the last {} days", dice.number(2, 9)),
        _ => String::new(),
    };
    let reference = *dice.pick(&[
        "since the first assessment",
        "since the assessment before",
        "since the best assessment",
        "since entering the phase",
    ]);
    let (better_up, better_down) = if good { ("up", "down") } else { ("down", "up") };
    match dice.count(0, 8) {
        0 => format!(
            "\"combined-mean {higher} {}{window}\"",
            dice.number(1, 8) * 10
        ),
        1 => format!(
            "\"combined-scales {lower} {}{window}\"",
            dice.number(3, 9) * 10
        ),
        2 => format!("\"combined-plain {higher} {}{window}\"", dice.number(2, 4)),
        3 => format!(
            "\"combined-max {lower} {}{window}\"",
            dice.number(1, 4) * 10
        ),
        4 => format!(
            "{{ {how} = [\"combined-side {lower} {} %{window}\", \"measure-d {lower} {} deg\"] }}",
            dice.number(6, 11) * 10,
            dice.number(4, 24) * 5
        ),
        5 => format!(
            "{{ {how} = [\"combined-ratio {lower} {}{window}\", \"measure-d {lower} {} deg\"] }}",
            *dice.pick(&["0.5", "0.667", "0.9", "1.2"]),
            dice.number(4, 24) * 5
        ),
        6 => format!(
            "{{ {how} = [\"combined-mean {better_down} by at least {} {reference}\", \"combined-mean {higher} 60\"] }}",
            dice.number(1, 4) * 5
        ),
        7 => format!(
            "{{ {how} = [\"combined-max {better_up} by at least {} kg {reference}\", \"combined-max {lower} 20\"] }}",
            dice.number(1, 4)
        ),
        _ => format!(
            "{{ {how} = [\"measure-r {lower} {} % of combined-max\", \"measure-r {lower} 20\"] }}",
            dice.number(5, 9) * 10
        ),
    }
}

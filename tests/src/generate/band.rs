//! Work against bands, now and then: an exercise of a generated pack done with one, and what a person owns.
//!
//! Its choices come from dice of their own, so that packs without a band stay as they are.
//!
//! Leaves to others: everything else of a pack (`super::pack`).

use super::Dice;
use super::pack::GROUNDS;
use rungwise_engine::fact::{BandPoint, Equipment, FactKind, MeasuredBand};
use rungwise_pack::quantity::Milli;
use rungwise_pack::source::SourceFiles;

/// How many packs in a hundred have a band.
const BANDED: u32 = 20;

/// The files of a pack, of some with an exercise that is done with a band.
#[must_use]
pub(super) fn with_bands(seed: u64, files: SourceFiles) -> SourceFiles {
    let mut dice = Dice::new(!seed);
    if !dice.percent(BANDED) {
        return files;
    }
    let mut changed = Vec::new();
    for file in files.files() {
        let text = match file.name.as_str() {
            "exercises.toml" => match exercises(&mut dice, &file.text) {
                Some(text) => text,
                None => return files,
            },
            "pack.toml" => file.text.replacen(
                "[sources]",
                "[bands]\nheight = \"measure-z\"\n\n[sources]",
                1,
            ),
            "measures.toml" => format!("{}{}", file.text, measure(&mut dice)),
            _ => file.text.clone(),
        };
        changed.push((file.name.clone(), text));
    }
    SourceFiles::new(changed)
}

fn measure(dice: &mut Dice) -> String {
    let fresh = if dice.percent(40) {
        "fresh_days = 6\n"
    } else {
        ""
    };
    format!(
        "[[measure]]\nname = \"measure-z\"\nunit = \"cm\"\nmin = 150\nmax = 200\nstep = 0.5\n\
         carrier = \"assessment\"\nexpected = {}\n{fresh}reported_by = [\"clinician\"]\n{GROUNDS}\n\n",
        dice.percent(50)
    )
}

/// One exercise without a load of its own gets a band and loads, which turn first or last.
fn exercises(dice: &mut Dice, text: &str) -> Option<String> {
    const HEAD: &str = "[[line.exercise]]";
    const ROW: &str = "[[line.exercise.ladder]]";
    const CLIMB: &str = "[line.exercise.climb]";
    let parts: Vec<&str> = text.split(HEAD).collect();
    let free: Vec<usize> = (1..parts.len())
        .filter(|at| !parts[*at].contains("variable = \"load\"") && parts[*at].contains(ROW))
        .filter(|at| !parts[*at].contains("variable = \"range\"") || numbers_of_range(parts[*at]))
        .collect();
    if free.is_empty() {
        return None;
    }
    let at = *dice.pick(&free);
    let ends = if parts[at].contains("variable = \"range\"") {
        ""
    } else {
        "to = \"40 deg\"\n"
    };
    let table = format!(
        "[line.exercise.band]\nmotion = \"rotation\"\nfrom = \"0 deg\"\n{ends}load_at = \"5 deg\"\n\
         step_min = \"2 %\"\nstep_max = \"{} %\"\ndistance = {{ from = \"40 cm\", to = \"{} cm\" }}\n\
         anchor = {{ above_joint = \"0 cm\", bearing = \"-90 deg\" }}\n{GROUNDS}\n\n",
        dice.number(10, 15),
        dice.number(100, 250),
    );
    let full = if dice.percent(50) { "returns" } else { "stays" };
    let row = format!(
        "{ROW}\nvariable = \"load\"\nvalues = {{ from = 1.5, to = 2.3, unit = \"N.m\", step = \"8 %\" }}\n\
         full = \"{full}\"\n{GROUNDS}\n\n"
    );
    let mut part = parts[at].replacen(ROW, &format!("{table}{ROW}"), 1);
    let before = if dice.percent(50) { ROW } else { CLIMB };
    part = part.replacen(before, &format!("{row}{before}"), 1);
    if dice.percent(60) {
        part = part.replacen("gives_way = [", "gives_way = [\"load\", ", 1);
    }
    let mut whole: Vec<&str> = parts.clone();
    whole[at] = &part;
    Some(whole.join(HEAD))
}

/// Whether the range is in degrees and goes past where the load is stated.
fn numbers_of_range(part: &str) -> bool {
    let values = part.split("variable = \"range\"\nvalues = [").nth(1);
    let values = values
        .and_then(|rest| rest.split(']').next())
        .unwrap_or_default();
    values.split(',').all(|value| {
        value
            .trim()
            .parse::<i64>()
            .is_ok_and(|degrees| (5..=180).contains(&degrees))
    })
}

/// What a person owns: none to two bands, and a room.
#[must_use]
pub(super) fn equipment(dice: &mut Dice) -> FactKind {
    let labels = ["light", "strong"];
    let mut bands = Vec::new();
    for label in labels.into_iter().take(dice.count(0, 2)) {
        let tenths = dice.number(20, 120);
        bands.push(MeasuredBand {
            label: label.into(),
            rest_length_mm: dice.number(6, 14) * 100,
            points: (1..=dice.number(1, 4))
                .map(|halves| BandPoint {
                    elongation: Milli(halves * 50_000),
                    force: Milli(halves * tenths * 100),
                })
                .collect(),
            elongation_max: Milli::whole(50),
            may_be_doubled: dice.percent(40),
        });
    }
    let room_mm = dice.percent(40).then(|| dice.number(8, 25) * 100);
    FactKind::Equipment(Equipment {
        owned: Vec::new(),
        bands,
        room_mm,
    })
}

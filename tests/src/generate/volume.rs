//! Volumes in generated packs, now and then: loads in numbers, tempos, and sentences on what an exercise comes to and on
//! its change from week to week, in place of some others.
//!
//! Its choices come from dice of their own, so that packs without a volume stay as they are.
//!
//! Leaves to others: everything else of a pack (`super::pack`).

use super::Dice;
use super::pack::GROUNDS;
use rungwise_pack::source::SourceFiles;
use std::fmt::Write as _;

/// How many packs in a hundred have volumes.
const WITH_VOLUMES: u32 = 35;

/// An exercise begins so.
const HEAD: &str = "[[line.exercise]]";

/// The files of a pack, of some with volumes.
#[must_use]
pub(super) fn with_volumes(seed: u64, files: SourceFiles) -> SourceFiles {
    let mut dice = Dice::new(seed ^ 0x701e);
    if !dice.percent(WITH_VOLUMES) {
        return files;
    }
    // Numbers in N and torques cannot be counted together.
    let banded = files
        .files()
        .iter()
        .any(|file| file.text.contains("unit = \"N.m\""));
    let numbers = dice.percent(60) && !banded;
    let in_numbers = |text: &str| {
        if numbers {
            numbered(text)
        } else {
            text.to_owned()
        }
    };
    let mut texts: Vec<(String, String)> = Vec::new();
    for file in files.files() {
        let mut text = in_numbers(&file.text);
        if file.name == "exercises.toml" {
            text = with_tempos(&mut dice, &text);
            // Nothing is known of loads where a comfortable range bounds them.
            if dice.percent(60) {
                text = text.replace("comfortable = \"measure-i\"\n", "");
            }
        }
        texts.push((file.name.clone(), text));
    }
    let volumes: Vec<Volume> = texts
        .iter()
        .find(|(name, _)| name == "exercises.toml")
        .map(|(_, text)| volumes(text))
        .unwrap_or_default();
    if volumes.is_empty() {
        return files;
    }
    let woven = texts.into_iter().map(|(name, text)| {
        let mut text = match name.as_str() {
            "exercises.toml" => of_exercises(&mut dice, &text, &volumes),
            _ => woven(&mut dice, &text, None, &volumes),
        };
        if name == "measures.toml" {
            for volume in &volumes {
                text += &volume.tables();
            }
        }
        (name, text)
    });
    SourceFiles::new(woven.collect())
}

/// A volume, and the exercises that have it.
struct Volume {
    name: &'static str,
    recipe: &'static str,
    unit: &'static str,
    /// About what a session comes to.
    about: i64,
    exercises: Vec<String>,
}

impl Volume {
    fn tables(&self) -> String {
        let Self {
            name, recipe, unit, ..
        } = self;
        let mut text = format!(
            "[[measure]]\nname = \"volume-{name}\"\ncomputed = \"{recipe}\"\nunit = \"{unit}\"\n\n"
        );
        for (kind, statistic) in [("mean", "on average"), ("all", "in total")] {
            let _ = write!(
                text,
                "[[measure]]\nname = \"weekly-{name}-{kind}\"\ncomputed = \"week-on-week change\"\n\
                 unit = \"%\"\nof = \"volume-{name}\"\nstatistic = \"{statistic}\"\n\n"
            );
        }
        text
    }
}

/// Loads in numbers instead of words.
fn numbered(text: &str) -> String {
    let row = |line: &str| line.replace("\"light\"", "5").replace("\"heavy\"", "8");
    let lines = text.split_inclusive('\n').map(|line| {
        let line = if line.starts_with("values") || line.starts_with("start") {
            row(line)
        } else {
            line.to_owned()
        };
        line.replace("load light", "load 5")
            .replace("load heavy", "load 8")
    });
    lines.collect()
}

/// Some exercises have a tempo that turns last.
fn with_tempos(dice: &mut Dice, text: &str) -> String {
    let mut parts = text.split(HEAD);
    let mut whole = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        whole += HEAD;
        if !dice.percent(50) {
            whole += part;
            continue;
        }
        let values = *dice.pick(&[
            "[\"3-1-2-0\"]",
            "[\"2-0-2\", \"3-0-3\"]",
            "[{ value = \"slow\", seconds = 7.5 }, \"4-1-4-0\"]",
            "[\"easy\", \"2-0-2-0\"]",
        ]);
        let row = format!(
            "[[line.exercise.ladder]]\nvariable = \"tempo\"\nvalues = {values}\nfull = \"stays\"\n{GROUNDS}\n\n"
        );
        const CLIMB: &str = "[line.exercise.climb]";
        let part = part.replacen(CLIMB, &format!("{row}{CLIMB}"), 1);
        whole += &if dice.percent(40) {
            part.replacen("gives_way = [", "gives_way = [\"tempo\", ", 1)
        } else {
            part
        };
    }
    whole
}

fn volumes(text: &str) -> Vec<Volume> {
    let parts: Vec<&str> = text.split(HEAD).skip(1).collect();
    let having = |has: &dyn Fn(&str) -> bool| -> Vec<String> {
        let parts = parts.iter().filter(|part| has(part));
        parts.map(|part| key(part)).collect()
    };
    let all = [
        Volume {
            name: "torque",
            recipe: "volume load",
            unit: "N.m",
            about: 30,
            exercises: having(&|part| part.contains("unit = \"N.m\"")),
        },
        Volume {
            name: "force",
            recipe: "volume load",
            unit: "N",
            about: 120,
            exercises: having(&|part| {
                part.contains("variable = \"load\"\nvalues = [5")
                    || part.contains("variable = \"load\"\nvalues = [{ value = 5")
            }),
        },
        Volume {
            name: "time",
            recipe: "time under tension",
            unit: "s",
            about: 90,
            exercises: having(&|part| {
                let tempo = part.contains("variable = \"tempo\"");
                let holds = part.contains("variable = \"hold time\"");
                !part.contains("\"easy\"") && (tempo || holds)
            }),
        },
    ];
    all.into_iter()
        .filter(|volume| !volume.exercises.is_empty())
        .collect()
}

fn key(part: &str) -> String {
    let rest = part.split("exercise = \"").nth(1).unwrap_or_default();
    rest.split('"').next().unwrap_or_default().to_owned()
}

fn of_exercises(dice: &mut Dice, text: &str, volumes: &[Volume]) -> String {
    let mut parts = text.split(HEAD);
    let mut whole = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let key = key(part);
        let mut part = woven(dice, part, Some(&key), volumes);
        let torque = volumes.iter().find(|one| one.name == "torque");
        if torque.is_some_and(|one| one.exercises.contains(&key)) && dice.percent(50) {
            let most = dice.number(0, 25);
            let needs = format!("step = \"8 %\", needs = \"weekly-torque-mean at most {most} %\"");
            part = part.replacen("step = \"8 %\"", &needs, 1);
        }
        whole += HEAD;
        whole += &part;
    }
    whole
}

/// The same with other sentences in place of some that are exempt of a direction, or of no carrier's.
fn woven(dice: &mut Dice, text: &str, own: Option<&str>, volumes: &[Volume]) -> String {
    let mut whole = String::new();
    for line in text.split_inclusive('\n') {
        let of_limit = line.starts_with("sentence = ") || line.starts_with("while = ");
        for (at, part) in line.split('"').enumerate() {
            if at > 0 {
                whole.push('"');
            }
            let sentence = at % 2 == 1 && !of_limit && !line.starts_with("name");
            whole += &if sentence {
                sentence_for(dice, part, own, volumes).unwrap_or_else(|| part.to_owned())
            } else {
                part.to_owned()
            };
        }
    }
    whole
}

fn sentence_for(
    dice: &mut Dice,
    said: &str,
    own: Option<&str>,
    volumes: &[Volume],
) -> Option<String> {
    let session = said
        .strip_prefix("measure-k is not high")
        .or_else(|| said.strip_prefix("measure-k is high"));
    let computed = said.starts_with("computed-");
    if (session.is_none() && !computed) || dice.percent(25) {
        return None;
    }
    let own_ones: Vec<&Volume> = volumes
        .iter()
        .filter(|volume| own.is_some_and(|own| volume.exercises.iter().any(|one| one == own)))
        .collect();
    let is_own = !own_ones.is_empty() && dice.percent(80);
    let volume = if is_own {
        *dice.pick(&own_ones)
    } else {
        &volumes[dice.count(0, volumes.len() - 1)]
    };
    let least = *dice.pick(&["at least", "at most", "above", "below"]);
    let of = format!(" of {}", dice.pick(&volume.exercises));
    let name = volume.name;
    let Some(window) = session else {
        // Without an exercise of its own it is the highest of those in force.
        let of = match own {
            _ if is_own => String::new(),
            None if dice.percent(50) => String::new(),
            _ => of,
        };
        let kind = *dice.pick(&["mean", "all"]);
        let by = dice.number(-4, 12) * 5;
        return Some(format!("weekly-{name}-{kind}{of} {least} {by} %"));
    };
    let amount = volume.about * dice.number(2, 20) / 10;
    if is_own || dice.percent(50) {
        let of = if is_own { String::new() } else { of };
        let window = match dice.count(0, 3) {
            0 => " in total over the last 7 days",
            1 => " on average over the last 5 days",
            _ => window,
        };
        return Some(format!("volume-{name}{of} {least} {amount}{window}"));
    }
    let over = *dice.pick(&["in any exercise", "in every exercise"]);
    Some(format!("{over} volume-{name} {least} {amount}{window}"))
}

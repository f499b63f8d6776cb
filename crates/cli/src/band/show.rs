//! `rungwise band show`: force and torque through the range of an exercise of a rule pack, with one band held in one way.

use super::args::ShowArgs;
use super::drawing::{self, Told};
use super::number::{down, up};
use super::{keep, read};
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::{Screen, bold};
use rungwise_bands::band::Band;
use rungwise_bands::body::Body;
use rungwise_bands::motion::Arc;
use rungwise_bands::profile::{Effort, Point, Profile, Pull, Setting};
use rungwise_bands::thousandths::Shown;
use rungwise_engine::band::motion;
use rungwise_pack::model::{BandMotion, BandWork, CheckedPack, Exercise, RowValue};
use rungwise_pack::quantity::Variable;
use serde_json::{Value, json};

/// How many angles a drawing has.
const DRAWN_ANGLES: u16 = 181;

/// Works out the exercise with the band and prints it.
pub(crate) fn run(args: &ShowArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let pack = pack(args)?;
    shows(args, &pack, |shown, pull| {
        if args.shown.json {
            screen.json(&shown.as_json())?;
        } else {
            screen.line(&shown.lines().join("\n"))?;
        }
        if let Some(path) = &args.shown.svg {
            keep(&shown.drawn(pull)?, path, screen)?;
        }
        Ok(Answer::Yes)
    })
}

/// The pack that is named, else the first of those that came with the program that has the exercise.
fn pack(args: &ShowArgs) -> Result<CheckedPack, Failure> {
    if let Some(folder) = &args.pack {
        return PackFiles::of_folder(folder)?.checked();
    }
    for files in PackFiles::embedded() {
        let pack = files.checked()?;
        if pack.exercise(&args.exercise).is_some() {
            return Ok(pack);
        }
    }
    let why = "is in no pack that came with the program; name the pack's folder with `--pack`";
    Err(not(&args.exercise, why.to_owned()))
}

/// Works out what is asked and hands it on.
fn shows<T>(
    args: &ShowArgs,
    pack: &CheckedPack,
    hand_on: impl FnOnce(&Shows<'_>, &Pull<'_>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let rest_length_mm = args.cut_mm.unwrap_or(args.band.rest_length_mm);
    let (_, band) = read(&args.points, &args.band, rest_length_mm)?;
    let (exercise, work) = exercise(pack, &args.exercise)?;
    let setting = setting(args, work, &band)?;
    let arc = arc(args, exercise, work)?;
    let mut body = Body::from_height(args.height_mm)?;
    if let Some(mass) = args.mass_kg {
        body = body.with_mass(mass.0)?;
    }
    let motion = motion(&work.motion);
    let pull = Pull::new(&motion, &body, &band, &setting, arc)?;
    let shown = Shows {
        exercise: &args.exercise,
        height_mm: args.height_mm,
        band: &band,
        setting,
        arc,
        profile: pull.profile(args.angles.unwrap_or_else(|| angles(arc)))?,
        stated: pull.point(work.load_at_mdeg)?,
        start_mn_min: work.start_mn_min,
        gravity_acts: motion.gravity_acts(),
    };
    hand_on(&shown, &pull)
}

fn not(exercise: &str, why: String) -> Failure {
    Failure::Exercise {
        exercise: exercise.to_owned(),
        why,
    }
}

/// The exercise and how it moves a band.
fn exercise<'p>(pack: &'p CheckedPack, key: &str) -> Result<(&'p Exercise, &'p BandWork), Failure> {
    let with_band = || {
        let with = pack.exercises.iter().filter(|one| one.band.is_some());
        let keys: Vec<String> = with.map(|one| format!("`{}`", one.key)).collect();
        match keys.as_slice() {
            [] => format!("no exercise of pack `{}` moves a measured band", pack.id),
            [one] => format!("{one} moves a measured band"),
            [_, _, ..] => format!("{} move a measured band", keys.join(", ")),
        }
    };
    let found = pack
        .exercise(key)
        .and_then(|index| pack.exercises.get(index.at()));
    let Some(found) = found else {
        let why = format!("is not in pack `{}`; {}", pack.id, with_band());
        return Err(not(key, why));
    };
    match &found.band {
        Some(work) => Ok((found, work)),
        None => Err(not(
            key,
            format!("does not say how it moves a band; {}", with_band()),
        )),
    }
}

fn setting(args: &ShowArgs, work: &BandWork, band: &Band) -> Result<Setting, Failure> {
    let (stance_mm, working_length_mm) = match (work.motion.anchored(), args.stance_mm) {
        (None, Some(_)) => {
            let why = "has no anchor; leave out `--stance-mm` and give `--working-length-mm`";
            return Err(not(&args.exercise, why.to_owned()));
        }
        (None, None) => (0, None),
        (Some(anchored), stance_mm) => {
            let (nearest, furthest) = anchored.distance_mm;
            match stance_mm {
                Some(mm) if (nearest..=furthest).contains(&mm) => (mm, anchored.working_length_mm),
                _ => {
                    let why = format!(
                        "has an anchor; `--stance-mm` from {nearest} to {furthest} is allowed"
                    );
                    return Err(not(&args.exercise, why));
                }
            }
        }
    };
    let longest_mm = band.working_length_max_mm(args.strands);
    let working_length_mm = args
        .working_length_mm
        .or(working_length_mm)
        .unwrap_or(longest_mm);
    let shortest_mm = shortest_mm(&work.motion);
    if working_length_mm < shortest_mm {
        let why = if longest_mm < shortest_mm {
            format!("asks for `{shortest_mm} mm` of band; this one gives `{longest_mm} mm`")
        } else {
            format!(
                "holds the band no shorter than `{shortest_mm} mm`; `--working-length-mm` from {shortest_mm} to \
                 {longest_mm} is allowed"
            )
        };
        return Err(not(&args.exercise, why));
    }
    Ok(Setting {
        band: 0,
        strands: args.strands,
        working_length_mm,
        stance_mm,
    })
}

/// The shortest that an exercise lets the band be held; with an anchor one stands nearer instead.
const fn shortest_mm(motion: &BandMotion) -> u32 {
    match motion {
        BandMotion::Elevation { shortest_mm, .. } | BandMotion::HandsApart { shortest_mm, .. } => {
            *shortest_mm
        }
        BandMotion::Rotation(_) | BandMotion::Extension(_) => 0,
    }
}

/// The way from start to end: as asked, else as the exercise says, else the widest of its ladder.
fn arc(args: &ShowArgs, exercise: &Exercise, work: &BandWork) -> Result<Arc, Failure> {
    let from_mdeg = work.from_mdeg;
    let ladder = exercise
        .rows
        .iter()
        .filter(|row| row.variable == Variable::Range)
        .flat_map(|row| &row.values)
        .filter_map(|step| match &step.value {
            RowValue::Number(number) => Some(number.0),
            RowValue::Label(_) => None,
        });
    let to_mdeg = match (args.range, work.to_mdeg) {
        (Some(range), _) => from_mdeg.saturating_add(range.0),
        (None, Some(to_mdeg)) => to_mdeg,
        (None, None) => from_mdeg.saturating_add(ladder.max().unwrap_or_default()),
    };
    if work.load_at_mdeg > to_mdeg {
        let why = format!(
            "states its load at {} deg; `--range` from {} is allowed",
            Shown(work.load_at_mdeg),
            Shown(work.load_at_mdeg - from_mdeg)
        );
        return Err(not(&args.exercise, why));
    }
    Ok(Arc { from_mdeg, to_mdeg })
}

/// One angle every 10 degrees where that comes out even, else 11.
fn angles(arc: Arc) -> u16 {
    let width_mdeg = arc.to_mdeg - arc.from_mdeg;
    let even = (width_mdeg % 10_000 == 0).then_some(width_mdeg / 10_000 + 1);
    even.and_then(|count| u16::try_from(count).ok())
        .unwrap_or(11)
}

/// What is shown.
struct Shows<'a> {
    exercise: &'a str,
    height_mm: i64,
    band: &'a Band,
    setting: Setting,
    arc: Arc,
    profile: Profile,
    stated: Point,
    /// Tension that the exercise asks for where it starts.
    start_mn_min: i64,
    gravity_acts: bool,
}

impl Shows<'_> {
    /// How the band is held, in words.
    fn held(&self) -> String {
        let setting = &self.setting;
        let strands = if setting.strands == 1 {
            "single"
        } else {
            "doubled"
        };
        let working_mm = setting.working_length_mm;
        if setting.stance_mm == 0 {
            return format!("{strands}, held at {working_mm} mm");
        }
        format!(
            "{strands}, {working_mm} mm at rest, {} mm from the anchor",
            setting.stance_mm
        )
    }

    /// All of it, for people.
    fn lines(&self) -> Vec<String> {
        let summary = &self.profile.summary;
        let limb = if self.gravity_acts { "  with limb" } else { "" };
        let mut lines = vec![
            format!(
                "{} with band {}, {}; standing height {} mm",
                bold(self.exercise),
                self.band.label,
                self.held(),
                self.height_mm
            ),
            String::new(),
            format!("       angle    length  elongation     force  moment arm      torque{limb}"),
        ];
        lines.extend(self.profile.points.iter().map(|point| self.in_line(point)));
        lines.push(String::new());
        lines.extend([
            told(
                "load",
                &format!(
                    "{} N.m at {} deg, where the exercise states it",
                    up(self.stated.band_mnm, 2),
                    Shown(self.stated.at_mdeg)
                ),
            ),
            told("start", &self.start()),
            told("end", &format!("{} N", up(summary.end_mn, 1))),
            told(
                "stretched",
                &format!(
                    "{} % of {} % allowed",
                    up(summary.elongation_mpct, 1),
                    Shown(self.band.safe_mpct())
                ),
            ),
        ]);
        lines.extend(in_words(&summary.band));
        if self.gravity_acts {
            match &summary.whole {
                Some(whole) => {
                    lines.push("  with the limb's weight:".to_owned());
                    lines.extend(in_words(whole));
                }
                None => lines.push(
                    "  The limb's weight acts too and is not counted; `--mass-kg` counts it."
                        .to_owned(),
                ),
            }
        }
        lines
    }

    /// The tension at the start, and whether it is too little.
    fn start(&self) -> String {
        let start_mn = self.profile.summary.start_mn;
        let start = format!("{} N", down(start_mn, 1));
        if start_mn < self.start_mn_min {
            return format!(
                "{start}, too little: the exercise asks for {} N",
                Shown(self.start_mn_min)
            );
        }
        start
    }

    fn in_line(&self, point: &Point) -> String {
        let limb = match (self.gravity_acts, point.whole_mnm) {
            (false, _) => String::new(),
            (true, None) => "    unknown".to_owned(),
            (true, Some(whole)) => format!(" {:>6} N.m", up(whole, 2)),
        };
        format!(
            "  {:>6} deg {:>6} mm {:>9} % {:>7} N {:>8} mm {:>6} N.m{limb}",
            up(point.at_mdeg, 1),
            point.length_mm,
            up(point.elongation_mpct, 1),
            up(point.force_mn, 1),
            point.moment_arm_mm,
            up(point.band_mnm, 2)
        )
    }

    fn drawn(&self, pull: &Pull<'_>) -> Result<String, Failure> {
        drawing::torque(&Told {
            title: &format!(
                "{} with band {}, {}",
                self.exercise,
                self.band.label,
                self.held()
            ),
            profile: &pull.profile(DRAWN_ANGLES)?,
            stated: &self.stated,
        })
    }

    fn as_json(&self) -> Value {
        let summary = &self.profile.summary;
        json!({
            "exercise": self.exercise,
            "height_mm": self.height_mm,
            "band": {
                "label": self.band.label,
                "rest_length_mm": self.band.rest_length_mm,
                "elongation_mpct_max": self.band.safe_mpct(),
            },
            "setting": {
                "strands": self.setting.strands,
                "working_length_mm": self.setting.working_length_mm,
                "stance_mm": self.setting.stance_mm,
            },
            "arc": { "from_mdeg": self.arc.from_mdeg, "to_mdeg": self.arc.to_mdeg },
            "stated": point(&self.stated),
            "points": self.profile.points.iter().map(point).collect::<Vec<_>>(),
            "start_mn": summary.start_mn,
            "start_mn_min": self.start_mn_min,
            "end_mn": summary.end_mn,
            "elongation_mpct": summary.elongation_mpct,
            "of_the_band": effort(&summary.band),
            "with_the_limb": summary.whole.as_ref().map(effort),
        })
    }
}

fn told(what: &str, said: &str) -> String {
    format!("  {what:<10} {said}")
}

fn in_words(effort: &Effort) -> [String; 3] {
    [
        told(
            "peak",
            &format!(
                "{} N.m at {} deg",
                up(effort.peak_mnm, 2),
                up(effort.peak_at_mdeg, 1)
            ),
        ),
        told("mean", &format!("{} N.m", up(effort.mean_mnm, 2))),
        told(
            "work",
            &format!(
                "{} J from start to end of each repetition",
                up(effort.work_mj, 2)
            ),
        ),
    ]
}

fn point(point: &Point) -> Value {
    json!({
        "at_mdeg": point.at_mdeg,
        "length_mm": point.length_mm,
        "elongation_mpct": point.elongation_mpct,
        "force_mn": point.force_mn,
        "moment_arm_mm": point.moment_arm_mm,
        "band_mnm": point.band_mnm,
        "limb_mnm": point.limb_mnm,
        "whole_mnm": point.whole_mnm,
    })
}

fn effort(effort: &Effort) -> Value {
    json!({
        "peak_mnm": effort.peak_mnm,
        "peak_at_mdeg": effort.peak_at_mdeg,
        "mean_mnm": effort.mean_mnm,
        "work_mj": effort.work_mj,
    })
}

#[cfg(test)]
mod tests;

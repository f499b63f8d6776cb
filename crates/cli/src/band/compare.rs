//! `rungwise band compare`: two courses of loads beside each other, with the height of every step.
//!
//! Leaves to others: where the loads come from; a file says them.

use super::args::CompareArgs;
use super::drawing::{self, Course, Load};
use super::keep;
use super::number::{change, up};
use crate::Answer;
use crate::failure::Failure;
use crate::input;
use crate::screen::{Screen, bold};
use jiff::civil::Date;
use serde::Deserialize;
use serde_json::{Value, json};

/// The highest load that is drawn, in thousandths of a N.m.
const TORQUE_MNM_MAX: i64 = 1_000_000;

/// Reads the file and prints, and draws, its courses.
pub(crate) fn run(args: &CompareArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let text = input::text_of(&args.file)?;
    let compared = Compared::read(&text).map_err(|why| Failure::CoursesRefused {
        path: args.file.clone(),
        why,
    })?;
    if args.shown.json {
        screen.json(&compared.as_json())?;
    } else {
        screen.line(&compared.lines().join("\n"))?;
    }
    if let Some(path) = &args.shown.svg {
        keep(&compared.drawn()?, path, screen)?;
    }
    Ok(Answer::Yes)
}

/// What the file says.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Said {
    title: String,
    until: String,
    course: Vec<SaidCourse>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SaidCourse {
    name: String,
    loads: Vec<SaidLoad>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SaidLoad {
    from: String,
    torque_mnm: i64,
    note: Option<String>,
}

/// Two courses.
struct Compared {
    title: String,
    until: Date,
    courses: [Course; 2],
}

impl Compared {
    fn read(text: &str) -> Result<Self, String> {
        let said: Said = toml::from_str(text).map_err(|error| error.to_string())?;
        let until = date(&said.until)?;
        let count = said.course.len();
        let courses: Result<Vec<Course>, String> = said
            .course
            .into_iter()
            .map(|one| course(one, until))
            .collect();
        let courses = courses?
            .try_into()
            .map_err(|_| format!("`{count}` courses; 2 are allowed"))?;
        Ok(Self {
            title: said.title,
            until,
            courses,
        })
    }

    fn drawn(&self) -> Result<String, Failure> {
        let [first, second] = &self.courses;
        drawing::courses(&self.title, [first, second], self.until)
    }

    /// All of it, for people.
    fn lines(&self) -> Vec<String> {
        let mut lines = vec![bold(&self.title)];
        for course in &self.courses {
            lines.extend([String::new(), format!("  {}", course.name)]);
            for (load, step) in course.loads.iter().zip(course.steps()) {
                let line = format!(
                    "    {}  {:>6} N.m  {:>8}  {}",
                    load.from,
                    up(load.torque_mnm, 2),
                    step.unwrap_or_default(),
                    load.note.as_deref().unwrap_or_default()
                );
                lines.push(line.trim_end().to_owned());
            }
            let highest = course.highest_rise();
            lines.push(match highest {
                Some(rise) => format!("    highest step up {rise}"),
                None => "    no step up".to_owned(),
            });
        }
        lines
    }

    fn as_json(&self) -> Value {
        json!({
            "title": self.title,
            "until": self.until.to_string(),
            "courses": self.courses.iter().map(|course| json!({
                "name": course.name,
                "highest_step_up": course.highest_rise(),
                "loads": course.loads.iter().zip(course.steps()).map(|(load, step)| json!({
                    "from": load.from.to_string(),
                    "torque_mnm": load.torque_mnm,
                    "step": step,
                    "note": load.note,
                })).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
        })
    }
}

impl Course {
    /// The highest step up, in percent.
    fn highest_rise(&self) -> Option<String> {
        let pairs = self.loads.iter().zip(self.loads.iter().skip(1));
        let rises = pairs.filter(|(before, after)| after.torque_mnm > before.torque_mnm);
        // a / b above c / d, without dividing.
        let highest = rises.max_by(|(a, b), (c, d)| {
            let times = |x: &Load, y: &Load| i128::from(x.torque_mnm) * i128::from(y.torque_mnm);
            times(b, c).cmp(&times(d, a))
        });
        highest.map(|(before, after)| change(before.torque_mnm, after.torque_mnm))
    }
}

fn course(said: SaidCourse, until: Date) -> Result<Course, String> {
    let mut loads: Vec<Load> = Vec::with_capacity(said.loads.len());
    for load in said.loads {
        let from = date(&load.from)?;
        let earliest = loads.last().map(|before| before.from);
        if from > until || earliest.is_some_and(|earliest| from <= earliest) {
            let after =
                earliest.map_or_else(String::new, |earliest| format!("after {earliest} and "));
            return Err(format!(
                "course `{}`: a load from {from}; {after}up to {until} is allowed",
                said.name
            ));
        }
        if !(1..=TORQUE_MNM_MAX).contains(&load.torque_mnm) {
            return Err(format!(
                "course `{}`: a load of `{}` thousandths of a N.m; from 1 to {TORQUE_MNM_MAX} is allowed",
                said.name, load.torque_mnm
            ));
        }
        loads.push(Load {
            from,
            torque_mnm: load.torque_mnm,
            note: load.note,
        });
    }
    if loads.is_empty() {
        return Err(format!("course `{}` has no load; one is needed", said.name));
    }
    Ok(Course {
        name: said.name,
        loads,
    })
}

fn date(given: &str) -> Result<Date, String> {
    let date = given.parse();
    date.map_err(|_| format!("`{given}` is not a date; write it as 2026-01-31"))
}

#[cfg(test)]
mod demo_tests;
#[cfg(test)]
mod tests;

//! `rungwise rules cohort`: many invented people played under a pack, or under two, on all cores; told as text, as JSON or as a
//! page with charts.
//!
//! Leaves to others: the people, their courses and the sums (`rungwise_rehearsal::cohort`).

mod charts;
mod json;
mod lists;
mod number;
mod page;
mod tables;

use super::args::CohortArgs;
use super::write_new;
use crate::Answer;
use crate::failure::Failure;
use crate::input::{self, PackFiles};
use crate::screen::{Screen, bold};
use indicatif::{ProgressBar, ProgressStyle};
use rungwise_pack::model::CheckedPack;
use rungwise_rehearsal::cohort::{
    Cohort, Model, Paired, Ready, cohort as played, compared, unknown_to,
};
use std::num::NonZero;
use std::ops::Range;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;

/// What every telling of a simulation says first.
const CAUTION: &str = "A simulation of invented people, not evidence. It shows what the rules do to people as the model assumes them; it does not say how real people fare, and it replaces neither a clinician's judgement nor the pack's approval.";

/// People that a core takes at a time.
const PEOPLE_AT_A_TIME: u64 = 16;

/// A pack as played.
struct Side {
    /// Its folder.
    called: String,
    /// What it is called in titles.
    name: String,
    pack: CheckedPack,
    events: Vec<String>,
    cohort: Cohort,
}

/// A simulation.
struct Simulation<'a> {
    args: &'a CohortArgs,
    model: Model,
    first: Side,
    second: Option<(Side, Paired)>,
}

/// Plays the people and tells what became of them.
pub(crate) fn run(args: &CohortArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let model = model(args.model.as_deref())?;
    let Some(folder) = args.pack.as_deref().filter(|_| !args.assumptions) else {
        if args.json {
            screen.json(&json::model(&model))?;
        } else {
            let table = tables::assumptions(&model);
            screen.line(table.text().trim_start())?;
        }
        return Ok(Answer::Yes);
    };
    let first = PackFiles::of_folder(folder)?;
    let second = args.against.as_deref().map(PackFiles::of_folder);
    let second = second.transpose()?;
    let simulation = Simulation::play(args, model, &first, second.as_ref())?;
    if args.json {
        screen.json(&json::simulation(&simulation))?;
    } else {
        simulation.print(screen)?;
    }
    if let Some(path) = &args.report {
        write_new(path, &page::page(&simulation)?)?;
        screen.remark(&format!("the page is in {}", path.display()));
    }
    Ok(Answer::Yes)
}

fn model(path: Option<&Path>) -> Result<Model, Failure> {
    let Some(path) = path else {
        return Ok(Model::default());
    };
    Model::read(&input::text_of(path)?).map_err(|mistakes| Failure::ModelRefused {
        path: path.to_owned(),
        mistakes,
    })
}

/// One pack's sums, and the second's with the differences.
type Sums = (Cohort, Option<(Cohort, Paired)>);

impl<'a> Simulation<'a> {
    fn play(
        args: &'a CohortArgs,
        model: Model,
        first: &PackFiles,
        second: Option<&PackFiles>,
    ) -> Result<Self, Failure> {
        let pack = first.checked()?;
        let other = second.map(PackFiles::checked).transpose()?;
        let packs: Vec<&CheckedPack> = std::iter::once(&pack).chain(&other).collect();
        let mistakes = unknown_to(&model, &packs);
        if !mistakes.is_empty() {
            return Err(Failure::ModelRefused {
                path: args.model.clone().unwrap_or_default(),
                mistakes,
            });
        }
        let sums = spread(args, &model, first, second)?;
        let named = |pack: &CheckedPack| format!("{} {}", pack.id, pack.version);
        // Two of one name are told apart by their folders.
        let alike = other
            .as_ref()
            .is_some_and(|other| named(other) == named(&pack));
        let side = |files: &PackFiles, pack: CheckedPack, cohort: Cohort| {
            let ready = Ready::new(&pack, &model, args.weeks);
            let events = ready.events().iter().map(ToString::to_string).collect();
            Side {
                called: files.called.clone(),
                name: if alike {
                    format!("{} of {}", named(&pack), files.called)
                } else {
                    named(&pack)
                },
                pack,
                events,
                cohort,
            }
        };
        let (cohort, more) = sums;
        let first = side(first, pack, cohort);
        let second = match (second, other, more) {
            (Some(files), Some(pack), Some((cohort, paired))) => {
                Some((side(files, pack, cohort), paired))
            }
            _ => None,
        };
        Ok(Self {
            args,
            model,
            first,
            second,
        })
    }

    fn sides(&self) -> impl Iterator<Item = &Side> {
        std::iter::once(&self.first).chain(self.second.iter().map(|(side, _)| side))
    }

    /// What was played, in one line.
    fn title(&self) -> String {
        let packs: Vec<&str> = self.sides().map(|side| side.name.as_str()).collect();
        format!(
            "{}: {} invented people, {} weeks, seed {}",
            packs.join(" and "),
            number::grouped(self.args.people),
            self.args.weeks,
            self.args.seed
        )
    }

    fn print(&self, screen: &mut Screen) -> Result<(), Failure> {
        screen.line(&bold(&self.title()))?;
        screen.line(&textwrap::fill(CAUTION, 100))?;
        for side in self.sides() {
            screen.line(&tables::digest(side))?;
        }
        let mut told = Vec::new();
        if let Some((second, paired)) = &self.second {
            told.push(tables::differences(&self.first, second, paired));
        }
        for side in self.sides() {
            if self.second.is_some() {
                told.extend(tables::of(side).into_iter().map(|table| table.under(side)));
            } else {
                told.extend(tables::of(side));
            }
        }
        for table in told {
            screen.heading(&table.title)?;
            screen.line(table.text().trim_end())?;
        }
        screen.line("\n`--assumptions` lists what the people are made of, `--report FILE` draws it")
    }
}

/// Spreads the people over cores. Each core reads the packs for itself, so that none waits for another's count of users.
fn spread(
    args: &CohortArgs,
    model: &Model,
    first: &PackFiles,
    second: Option<&PackFiles>,
) -> Result<Sums, Failure> {
    // It draws nothing where standard error is no terminal.
    let bar = ProgressBar::new(args.people);
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len} people, {eta} left") {
        bar.set_style(style);
    }
    let next = AtomicU64::new(0);
    let take = || {
        let from = next.fetch_add(PEOPLE_AT_A_TIME, Ordering::Relaxed);
        let people = from..args.people.min(from.saturating_add(PEOPLE_AT_A_TIME));
        (!people.is_empty()).then_some(people)
    };
    let work = || {
        let pack = first.checked()?;
        let other = second.map(PackFiles::checked).transpose()?;
        let ready = Ready::new(&pack, model, args.weeks);
        let against = other
            .as_ref()
            .map(|other| Ready::new(other, model, args.weeks));
        Ok(some(args.seed, &ready, against.as_ref(), &bar, take))
    };
    let all = args.cores.map_or_else(
        || thread::available_parallelism().map_or(1, NonZero::get),
        usize::from,
    );
    let sums = thread::scope(|scope| {
        let others: Vec<_> = (1..all).map(|_| scope.spawn(work)).collect();
        let mut sums: Vec<Result<Sums, Failure>> = vec![work()];
        for other in others {
            match other.join() {
                Ok(more) => sums.push(more),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        sums
    });
    bar.finish_and_clear();
    // Sums do not depend on who took whom.
    let mut sums = sums.into_iter();
    let first = sums.next().ok_or(Failure::NoPack)??;
    sums.try_fold(first, |mut sum, more| {
        add(&mut sum, &more?);
        Ok(sum)
    })
}

/// The people that one core takes.
fn some(
    seed: u64,
    ready: &Ready<'_>,
    against: Option<&Ready<'_>>,
    bar: &ProgressBar,
    mut take: impl FnMut() -> Option<Range<u64>>,
) -> Sums {
    let play = |people: Range<u64>| match against {
        None => (played(ready, seed, people), None),
        Some(against) => {
            let (first, second, paired) = compared(ready, against, seed, people);
            (first, Some((second, paired)))
        }
    };
    let mut sums = play(0..0);
    while let Some(people) = take() {
        let count = people.end.saturating_sub(people.start);
        add(&mut sums, &play(people));
        bar.inc(count);
    }
    sums
}

fn add(sums: &mut Sums, more: &Sums) {
    sums.0.merge(&more.0);
    if let (Some((cohort, paired)), Some((more, differences))) = (&mut sums.1, &more.1) {
        cohort.merge(more);
        paired.merge(differences);
    }
}

//! `rungwise rules impact`: what a pack would change for the people who are there, told as the server finds it.
//!
//! What is kept is bounded: counts, the sentences behind them, and so many changes of each direction; all of them go to a file
//! where one is named.
//!
//! Leaves to others: finding it (the server).

use super::args::ImpactArgs;
use super::lead::client;
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::{Screen, bold, faint};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rungwise_api::name::clinic_name;
use rungwise_api::v1::assess_impact_response::Told;
use rungwise_api::v1::{self, ChangeDirection, Outcome};
use rungwise_server::Clock;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

/// Most sentences told behind the changes.
const SENTENCES_MAX: usize = 12;
/// Most different sentences counted.
const COUNTED_MAX: usize = 10_000;

/// One change, as it is listed.
struct Line {
    direction: ChangeDirection,
    /// Whether it is of today.
    is_today: bool,
    of: String,
    as_of: String,
    change: v1::DecisionChange,
}

/// What was told so far.
struct Gathered {
    as_of: String,
    list_max: usize,
    lists: BTreeMap<(bool, i32), Vec<Line>>,
    sentences: BTreeMap<String, u64>,
    /// Outcomes of those for whom today's changes.
    outcomes: BTreeMap<i32, u64>,
    sheets: Vec<String>,
    unmapped: Vec<(String, Vec<String>)>,
    unbound: Vec<String>,
    summary: Option<v1::ImpactSummary>,
    all: Option<csv::Writer<File>>,
}

/// Assesses a pack and prints what it would change.
pub(super) fn run(args: &ImpactArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let as_of = args.as_of.clone();
    let as_of = as_of.unwrap_or_else(|| Clock::of_system().today().to_string());
    let draft = match &args.pack {
        Some(folder) => {
            let pack = PackFiles::of_folder(folder)?;
            // What is wrong with it is said here, with its places.
            pack.checked()?;
            Some(pack.to_draft())
        }
        None => None,
    };
    let request = v1::AssessImpactRequest {
        parent: clinic_name(&args.of.clinic),
        draft,
        newer: args.newer.clone().unwrap_or_default(),
        as_of: as_of.clone(),
    };
    let mut gathered = Gathered {
        as_of,
        list_max: args.list,
        lists: BTreeMap::new(),
        sentences: BTreeMap::new(),
        outcomes: BTreeMap::new(),
        sheets: Vec::new(),
        unmapped: Vec::new(),
        unbound: Vec::new(),
        summary: None,
        all: args.out.as_deref().map(begun).transpose()?,
    };
    crate::serve::runtime()?.block_on(async {
        let mut client = client(&args.at.server).await?;
        let mut parts = client.assess_impact(request).await?.into_inner();
        let bar = bar();
        while let Some(part) = parts.message().await? {
            match part.told {
                Some(Told::Progress(progress)) => {
                    bar.set_length(progress.episodes_total);
                    bar.set_position(progress.episodes);
                }
                Some(told) => gathered.take(told, args.out.as_deref())?,
                None => {}
            }
        }
        bar.finish_and_clear();
        Ok::<_, Failure>(())
    })?;
    let summary = gathered.summary.take();
    let summary = summary.ok_or(Failure::AnswerIncomplete("the summary"))?;
    if args.json {
        screen.json(&gathered.to_json(&summary))?;
    } else {
        gathered.say(&summary, screen)?;
    }
    let bolder = summary.past_bolder.saturating_add(summary.today_bolder);
    Ok(if bolder == 0 { Answer::Yes } else { Answer::No })
}

/// A bar on standard error, on a terminal alone.
fn bar() -> ProgressBar {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{wide_bar} {pos} of {len} episodes, {eta} left");
    if let Ok(style) = style {
        bar.set_style(style);
    }
    bar
}

/// A file for every change, with its head.
fn begun(path: &Path) -> Result<csv::Writer<File>, Failure> {
    let file = File::create_new(path).map_err(|cause| Failure::Write {
        path: path.to_owned(),
        cause,
    })?;
    let mut all = csv::Writer::from_writer(file);
    let head = [
        "when",
        "direction",
        "of",
        "as_of",
        "older",
        "newer",
        "what",
        "rules",
        "sentences",
    ];
    all.write_record(head)
        .map_err(|cause| written(path, cause))?;
    Ok(all)
}

fn written(path: &Path, cause: csv::Error) -> Failure {
    Failure::Write {
        path: path.to_owned(),
        cause: cause.into(),
    }
}

impl Gathered {
    fn take(&mut self, told: Told, out: Option<&Path>) -> Result<(), Failure> {
        let (is_today, of, as_of, change) = match told {
            Told::Summary(summary) => {
                self.summary = Some(summary);
                if let (Some(all), Some(path)) = (&mut self.all, out) {
                    all.flush().map_err(|cause| written(path, cause.into()))?;
                }
                return Ok(());
            }
            Told::Past(past) => (false, past.decision, past.as_of, past.change),
            Told::Today(today) => {
                self.stands(&today);
                (true, today.episode, self.as_of.clone(), today.change)
            }
            Told::Progress(_) => return Ok(()),
        };
        let Some(change) = change else {
            return Ok(());
        };
        for sentence in &change.sentences {
            if self.sentences.len() < COUNTED_MAX || self.sentences.contains_key(sentence) {
                let count = self.sentences.entry(sentence.clone()).or_default();
                *count = count.saturating_add(1);
            }
        }
        let line = Line {
            direction: change.direction(),
            is_today,
            of,
            as_of,
            change,
        };
        if let (Some(all), Some(path)) = (&mut self.all, out) {
            all.write_record(line.row())
                .map_err(|cause| written(path, cause))?;
        }
        let list = self.lists.entry((is_today, line.change.direction));
        let list = list.or_default();
        if list.len() < self.list_max {
            list.push(line);
        }
        Ok(())
    }

    fn stands(&mut self, today: &v1::TodayChange) {
        if today.change.is_some() {
            let count = self.outcomes.entry(today.outcome).or_default();
            *count = count.saturating_add(1);
        }
        if today.sheet_again && self.sheets.len() < self.list_max {
            self.sheets.push(today.episode.clone());
        }
        if !today.unmapped.is_empty() && self.unmapped.len() < self.list_max {
            let unmapped = (today.episode.clone(), today.unmapped.clone());
            self.unmapped.push(unmapped);
        }
        for directive in &today.unbound {
            if self.unbound.len() < self.list_max {
                self.unbound.push(directive.clone());
            }
        }
    }

    fn say(&self, summary: &v1::ImpactSummary, screen: &mut Screen) -> Result<(), Failure> {
        screen.line(&bold("The past, each decision made once more"))?;
        screen.line(&format!(
            "  {} decisions of {} episodes: {} bolder, {} more cautious, {} otherwise",
            summary.decisions,
            summary.episodes,
            summary.past_bolder,
            summary.past_cautious,
            summary.past_sideways
        ))?;
        self.say_lists(false, screen)?;
        screen.line(&bold(&format!("Today, {}", self.as_of)))?;
        screen.line(&format!(
            "  {} prescriptions in force: {} decided bolder, {} more cautious, {} otherwise",
            summary.in_force, summary.today_bolder, summary.today_cautious, summary.today_sideways
        ))?;
        let outcomes = self.outcomes.iter().map(|(outcome, count)| {
            let outcome = Outcome::try_from(*outcome).unwrap_or_default();
            format!("{count} {}", word(outcome))
        });
        let outcomes: Vec<String> = outcomes.collect();
        if !outcomes.is_empty() {
            screen.line(&format!("  then decided: {}", outcomes.join(", ")))?;
        }
        self.say_lists(true, screen)?;
        self.say_standing(summary, screen)?;
        self.say_sentences(screen)
    }

    fn say_lists(&self, is_today: bool, screen: &mut Screen) -> Result<(), Failure> {
        for direction in [
            ChangeDirection::Bolder,
            ChangeDirection::Cautious,
            ChangeDirection::Sideways,
        ] {
            let list = self.lists.get(&(is_today, direction.into()));
            for line in list.into_iter().flatten() {
                screen.line(&format!("  {}", line.said()))?;
                for sentence in &line.change.sentences {
                    screen.line(&faint(&format!("      {sentence}")))?;
                }
            }
        }
        Ok(())
    }

    fn say_standing(
        &self,
        summary: &v1::ImpactSummary,
        screen: &mut Screen,
    ) -> Result<(), Failure> {
        screen.line(&format!(
            "  {} sheets to hand out again",
            summary.sheets_again
        ))?;
        for episode in &self.sheets {
            screen.line(&faint(&format!("      {episode}")))?;
        }
        if summary.unmapped > 0 {
            screen.line(&format!(
                "  {} episodes with an exercise that has no place: left out, with an ask",
                summary.unmapped
            ))?;
        }
        for (episode, exercises) in &self.unmapped {
            let exercises = exercises.join(", ");
            screen.line(&faint(&format!("      {episode}: {exercises}")))?;
        }
        if summary.unbound > 0 {
            screen.line(&format!(
                "  {} episodes with a directive that would bind nothing",
                summary.unbound
            ))?;
        }
        for directive in &self.unbound {
            screen.line(&faint(&format!("      {directive}")))?;
        }
        Ok(())
    }

    fn ranked(&self) -> Vec<(&String, u64)> {
        let sentences = self.sentences.iter();
        let mut ranked: Vec<(&String, u64)> =
            sentences.map(|(text, count)| (text, *count)).collect();
        ranked.sort_by_key(|(text, count)| (std::cmp::Reverse(*count), *text));
        ranked.truncate(SENTENCES_MAX);
        ranked
    }

    fn say_sentences(&self, screen: &mut Screen) -> Result<(), Failure> {
        let ranked = self.ranked();
        if ranked.is_empty() {
            return Ok(());
        }
        screen.line(&bold("Sentences behind the changes"))?;
        for (sentence, count) in ranked {
            screen.line(&format!("  {count:>6}  {sentence}"))?;
        }
        Ok(())
    }

    fn to_json(&self, summary: &v1::ImpactSummary) -> Value {
        let listed = |is_today: bool| -> Vec<Value> {
            let lists = self.lists.iter().filter(|((of, _), _)| *of == is_today);
            let lines = lists.flat_map(|(_, lines)| lines);
            lines.map(Line::to_json).collect()
        };
        let sentences = self.ranked().into_iter();
        let sentences =
            sentences.map(|(text, count)| json!({ "sentence": text, "changes": count }));
        json!({
            "as_of": self.as_of,
            "episodes": summary.episodes,
            "past": {
                "decisions": summary.decisions,
                "bolder": summary.past_bolder,
                "cautious": summary.past_cautious,
                "sideways": summary.past_sideways,
                "listed": listed(false),
            },
            "today": {
                "in_force": summary.in_force,
                "bolder": summary.today_bolder,
                "cautious": summary.today_cautious,
                "sideways": summary.today_sideways,
                "sheets_again": summary.sheets_again,
                "unmapped": summary.unmapped,
                "unbound": summary.unbound,
                "listed": listed(true),
            },
            "sentences": sentences.collect::<Vec<_>>(),
        })
    }
}

/// An outcome as the pack's words have it.
fn word(outcome: Outcome) -> &'static str {
    let name = outcome.as_str_name();
    name.strip_prefix("OUTCOME_").unwrap_or(name)
}

impl Line {
    fn direction(&self) -> &'static str {
        match self.direction {
            ChangeDirection::Bolder => "bolder",
            ChangeDirection::Cautious => "more cautious",
            ChangeDirection::Sideways => "otherwise",
            ChangeDirection::Unspecified => "unknown",
        }
    }

    fn outcomes(&self) -> (&'static str, &'static str) {
        (word(self.change.older()), word(self.change.newer()))
    }

    fn said(&self) -> String {
        let (older, newer) = self.outcomes();
        let (direction, of, what) = (self.direction(), &self.of, &self.change.what);
        let on = match self.is_today {
            true => String::new(),
            false => format!(" on {}", self.as_of),
        };
        format!("{direction}: {of}{on}: {older} → {newer}: {what}")
    }

    fn row(&self) -> [String; 9] {
        let (older, newer) = self.outcomes();
        let when = if self.is_today { "today" } else { "past" };
        [
            when.to_owned(),
            self.direction().to_owned(),
            self.of.clone(),
            self.as_of.clone(),
            older.to_owned(),
            newer.to_owned(),
            self.change.what.clone(),
            self.change.rules.join(" "),
            self.change.sentences.join("; "),
        ]
    }

    fn to_json(&self) -> Value {
        let (older, newer) = self.outcomes();
        json!({
            "direction": self.direction(),
            "of": self.of,
            "as_of": self.as_of,
            "older": older,
            "newer": newer,
            "what": self.change.what,
            "rules": self.change.rules,
            "sentences": self.change.sentences,
        })
    }
}

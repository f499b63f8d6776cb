//! `rungwise next`: a diary in, the next prescription out, without a server and without a record.
//!
//! Leaves to others: playing the diary (`rungwise-rehearsal`), deciding and its words (`rungwise-engine`).

use crate::Answer;
use crate::args::NextArgs;
use crate::failure::Failure;
use crate::input;
use crate::screen::{Screen, bold, faint};
use jiff::civil::Date;
use rungwise_engine::decide::NextError;
use rungwise_engine::decision::Decision;
use rungwise_engine::explain::{Explanation, View, explain};
use rungwise_engine::fact::DecisionNo;
use rungwise_engine::history::History;
use rungwise_engine::prescription::{Item, Prescription, Standing, prescription};
use rungwise_engine::sheet::{say, say_dose};
use rungwise_pack::model::{CheckedPack, RowValue};
use rungwise_pack::quantity::Key;
use rungwise_rehearsal::diary::Diary;
use rungwise_rehearsal::play::{Player, WhyRefused};
use rungwise_rehearsal::told::why_refused;
use serde_json::{Value, json};

/// Plays a diary up to a date and prints what is prescribed next.
pub(crate) fn run(args: &NextArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let text = input::text_of(&args.diary)?;
    let asked = args.as_of.as_deref().map(date).transpose()?;
    let files = input::pack_for(&args.diary, args.pack.as_deref())?;
    let pack = files.checked()?;
    let name = args
        .diary
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    let diary = input::diary(&pack, &name, &text)?;
    let as_of = asked
        .or_else(|| diary.steps.last().map(|step| step.date))
        .unwrap_or(diary.episode.opened_on);

    let mut player = Player::new(&pack, diary.episode.clone());
    let refused = play_until(&mut player, &diary, as_of);
    let (number, _) = player
        .ask(as_of)
        .map_err(
            |NextError::AsOfBeforeLast { as_of, last }| Failure::AsOfBeforeLast {
                asked: as_of,
                last,
            },
        )?;
    let next = Next::new(&pack, player.history(), number, as_of)?;
    if args.json {
        screen.json(&next.as_json(&refused))?;
    } else {
        next.print(screen, &refused)?;
    }
    Ok(if refused.is_empty() {
        Answer::Yes
    } else {
        Answer::No
    })
}

/// A civil date as the command line writes it.
fn date(given: &str) -> Result<Date, Failure> {
    given.parse().map_err(|_| Failure::Date {
        given: given.to_owned(),
    })
}

/// Plays the steps up to a date, asks included; what was refused, in words.
fn play_until(player: &mut Player<'_>, diary: &Diary, as_of: Date) -> Vec<String> {
    let mut refused = Vec::new();
    for step in diary.steps.iter().take_while(|step| step.date <= as_of) {
        for entry in &step.entries {
            if let Err(why) = player.report(step.date, entry) {
                refused.push(format!(
                    "line {} ({}): {}",
                    step.line,
                    step.date,
                    why_refused(&why)
                ));
            }
        }
        if step.ask.is_some()
            && let Err(why) = player.ask(step.date)
        {
            refused.push(format!(
                "line {} ({}): {}",
                step.line,
                step.date,
                why_refused(&WhyRefused::Ask(why))
            ));
        }
    }
    refused
}

/// A decision with all that is printed of it.
struct Next<'p> {
    pack: &'p CheckedPack,
    decision: &'p Decision,
    explanation: Explanation,
    prescription: Prescription,
}

impl<'p> Next<'p> {
    fn new(
        pack: &'p CheckedPack,
        history: &'p History,
        number: DecisionNo,
        as_of: Date,
    ) -> Result<Self, Failure> {
        let (_, decision) = history.decision(number).ok_or(Failure::NoDecision)?;
        let explanation = explain(pack, history, number, View::Basic)?;
        Ok(Self {
            pack,
            decision,
            explanation,
            prescription: prescription(pack, history, as_of),
        })
    }

    fn say(&self, key: &Key) -> String {
        say(self.pack, &self.pack.language, key, &[])
    }

    /// The exercise's name in words.
    fn name(&self, exercise: &str) -> String {
        let known = self
            .pack
            .exercise(exercise)
            .and_then(|index| self.pack.exercises.get(index.at()));
        known.map_or_else(|| exercise.to_owned(), |known| self.say(&known.name))
    }

    fn dose(&self, item: &Item) -> String {
        say_dose(self.pack, &self.pack.language, &item.dose)
    }

    fn print(&self, screen: &mut Screen, refused: &[String]) -> Result<(), Failure> {
        let told = &self.explanation;
        let phase = told.phase.as_deref().unwrap_or("none yet");
        let proposed = if told.proposed {
            ", proposed: it waits for a clinician's sign-off"
        } else {
            ""
        };
        screen.line(&format!(
            "{} for {}, phase {phase}{proposed}",
            bold(told.outcome.word()),
            told.as_of
        ))?;
        for (_, text) in &told.because {
            screen.line(&format!("  {text}"))?;
        }
        if !told.moves.is_empty() {
            screen.heading("Lines")?;
        }
        for moved in &told.moves {
            let to = moved
                .to
                .as_deref()
                .or(moved.from.as_deref())
                .unwrap_or("none");
            screen.line(&format!(
                "  {:<9} {}: {}",
                moved.mv.word(),
                moved.line,
                self.name(to)
            ))?;
            for (_, text) in &moved.because {
                screen.line(&format!("            {}", faint(text)))?;
            }
        }
        self.print_prescription(screen)?;
        list(screen, "To progress", &told.to_progress)?;
        list(screen, "Wanted", &told.asks)?;
        list(screen, "Cautions", &self.cautions())?;
        list(screen, "Not taken from the diary", refused)?;
        screen.line(&format!("\nLook again by {}.", told.next_review))
    }

    fn print_prescription(&self, screen: &mut Screen) -> Result<(), Failure> {
        screen.heading("Prescription")?;
        if self.prescription.items.is_empty() {
            return screen.line(&format!(
                "  nothing: {}",
                standing(&self.prescription.standing)
            ));
        }
        for item in &self.prescription.items {
            screen.line(&format!(
                "  {}: {}",
                self.name(&item.exercise),
                self.dose(item)
            ))?;
        }
        Ok(())
    }

    fn cautions(&self) -> Vec<String> {
        self.prescription
            .cautions
            .iter()
            .map(|key| self.say(key))
            .collect()
    }

    fn as_json(&self, refused: &[String]) -> Value {
        let told = &self.explanation;
        let words = |causes: &[(_, String)]| {
            causes
                .iter()
                .map(|(_, text)| text.clone())
                .collect::<Vec<_>>()
        };
        json!({
            "as_of": told.as_of.to_string(),
            "outcome": told.outcome.word(),
            "proposed": told.proposed,
            "phase": told.phase.as_deref(),
            "semantics": told.semantics,
            "pack": { "id": &*told.pack.0, "version": &*told.pack.1, "digest": crate::rules::hex(&told.pack.2) },
            "because": words(&told.because),
            "moves": told.moves.iter().map(|moved| json!({
                "line": &*moved.line,
                "move": moved.mv.word(),
                "before": moved.from.as_deref(),
                "after": moved.to.as_deref(),
                "because": words(&moved.because),
            })).collect::<Vec<_>>(),
            "prescription": self.prescription.items.iter().map(|item| json!({
                "line": &*item.line,
                "exercise": &*item.exercise,
                "name": self.name(&item.exercise),
                "dose": item.dose.iter().map(|(variable, value)| (variable.word().to_owned(), row_value(value)))
                    .collect::<serde_json::Map<_, _>>(),
                "in_words": self.dose(item),
            })).collect::<Vec<_>>(),
            "to_progress": told.to_progress,
            "wanted": told.asks,
            "cautions": self.cautions(),
            "next_review": told.next_review.to_string(),
            "prescribes": self.decision.prescribes,
            "not_taken": refused,
        })
    }
}

/// A number as its exact decimal text, so that no reader rounds it; a label as it is.
fn row_value(value: &RowValue) -> Value {
    match value {
        RowValue::Number(number) => Value::String(number.to_string()),
        RowValue::Label(label) => Value::String(label.to_string()),
    }
}

fn standing(standing: &Standing) -> String {
    match standing {
        Standing::NotBegun => "nothing was prescribed yet".to_owned(),
        Standing::InForce => "no exercise is in force".to_owned(),
        Standing::Paused(_) => "a clinician pauses it".to_owned(),
        Standing::Stopped(rules) => format!("stopped by {}", rules.join(", ")),
        Standing::Discharged => "care has ended".to_owned(),
    }
}

fn list(screen: &mut Screen, heading: &str, entries: &[String]) -> Result<(), Failure> {
    if entries.is_empty() {
        return Ok(());
    }
    screen.heading(heading)?;
    for entry in entries {
        screen.line(&format!("  {entry}"))?;
    }
    Ok(())
}

//! The patient's sheet: plain words, one sentence an exercise, what changed and why, what to do when it hurts.
//!
//! Plain text that also reads as Markdown; the same bytes for the same input. All words are the pack's, or the defaults
//! of [`TEXT_KEYS`]. No pictures, no colours, no faces.
//!
//! Leaves to others: what is prescribed (`crate::prescription`), the clinician's explanation (`crate::explain`).

mod band;
mod words;

pub use band::band_sentences;
pub use words::{BAND_TEXT_KEYS, TEXT_KEYS, say, say_dose, say_own};

use crate::decision::{Cause, Decision, LineMove, Move};
use crate::prescription::{BoundBy, Item, LeftOut, Prescription, Standing, WhyLeftOut};
use rungwise_pack::model::{CheckedPack, Outcome, Pack, RuleKind, Urgency};
use rungwise_pack::quantity::{Key, Variable};

/// Writes the sheet of a prescription and the decision it came from, in a language of the pack (or the pack's own).
#[must_use]
pub fn sheet(
    pack: &CheckedPack,
    prescription: &Prescription,
    decision: &Decision,
    language: &str,
) -> String {
    let mut page = Page {
        pack,
        language,
        outcome: decision.outcome,
        text: String::new(),
    };
    page.head(prescription, decision);
    page.changes(decision);
    page.exercises(prescription);
    page.left_out(prescription);
    // What may hurt, and a flare-up, are about exercising: where nothing is prescribed, nothing is allowed either.
    let exercises = !prescription.items.is_empty();
    if exercises {
        page.limits(prescription);
    }
    for section in ["sheet.stop", "sheet.flare-up", "sheet.call"] {
        if section == "sheet.flare-up" && !exercises {
            continue;
        }
        page.heading(section);
        let text = page.say(&format!("{section}.text"), &[]);
        page.line(&text);
    }
    page.heading("sheet.cautions");
    for caution in &prescription.cautions {
        page.item(&page.say(caution, &[]));
    }
    if let Some(until) = prescription.valid_until {
        page.line("");
        page.line(&page.say("sheet.valid-until", &[("date", &until.to_string())]));
    }
    page.text
}

struct Page<'p> {
    pack: &'p Pack,
    language: &'p str,
    outcome: Outcome,
    text: String,
}

impl Page<'_> {
    fn say(&self, key: &str, given: &[(&str, &str)]) -> String {
        say(self.pack, self.language, key, given)
    }

    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn item(&mut self, text: &str) {
        self.line(&format!("- {text}"));
    }

    fn heading(&mut self, key: &str) {
        let heading = self.say(key, &[]);
        self.line(&format!("\n## {heading}\n"));
    }

    fn head(&mut self, prescription: &Prescription, decision: &Decision) {
        let title = self.say("sheet.title", &[]);
        self.line(&format!("# {title}\n"));
        self.line(&self.say(
            "sheet.made-for",
            &[("date", &prescription.as_of.to_string())],
        ));
        if decision.proposed {
            self.line(&self.say("sheet.proposed", &[]));
        } else {
            self.line(&self.say(&format!("sheet.outcome.{}", decision.outcome.word()), &[]));
        }
        self.referrals(decision);
        if let Some(aim) = prescription
            .phase
            .as_ref()
            .and_then(|phase| self.aim(phase))
        {
            self.line(&self.say("sheet.phase", &[("aim", &aim)]));
        }
    }

    fn aim(&self, phase: &str) -> Option<String> {
        let own = say_own(self.pack, self.language, &format!("phase.{phase}.aim"), &[]);
        let aim = own.or_else(|| {
            let phase = self.pack.phase(phase)?;
            Some(self.pack.phases.get(phase.at())?.aim.clone())
        })?;
        Some(aim.trim_end().trim_end_matches('.').to_owned())
    }

    fn referrals(&mut self, decision: &Decision) {
        if decision.outcome != Outcome::Refer {
            return;
        }
        for cause in &decision.because {
            let (Cause::Met(rule) | Cause::Latched(rule)) = cause else {
                continue;
            };
            let pack = self.pack;
            let index = pack.rule(rule);
            let screening = pack
                .screening
                .iter()
                .find(|screening| Some(screening.rule) == index);
            let reason = index
                .and_then(|index| pack.rules.get(index.at()))
                .map(|rule| &rule.reason);
            let (Some(screening), Some(reason)) = (screening, reason) else {
                continue;
            };
            let own = say_own(pack, self.language, &format!("why.{rule}"), &[]);
            let reason = own.unwrap_or_else(|| reason.clone());
            let urgency = self.say(urgency_key(screening.urgency), &[]);
            let given = [
                ("reason", &*reason),
                ("route", &*screening.route),
                ("urgency", &*urgency),
            ];
            self.line(&self.say("sheet.refer", &given));
        }
    }

    /// Lines that moved, each with its reason; then those that stayed, together where the reason is the same. Of a
    /// proposal only what acts at once.
    fn changes(&mut self, decision: &Decision) {
        let acts = |line: &&LineMove| !decision.proposed || line.mv.rank() <= Move::Keep.rank();
        let (stayed, moved): (Vec<&LineMove>, Vec<&LineMove>) = decision
            .moves
            .iter()
            .filter(acts)
            .partition(|line| line.mv == Move::Keep);
        if stayed.is_empty() && moved.is_empty() {
            return;
        }
        self.heading("sheet.changed");
        for line in moved {
            let change = self.change(line);
            let why = self.why(&line.because);
            self.change_line(&change, why);
        }
        let mut kept: Vec<(Option<String>, Vec<String>)> = Vec::new();
        for line in stayed {
            let why = self.why(&line.because);
            let name = self.name(
                line.to
                    .as_ref()
                    .or(line.from.as_ref())
                    .unwrap_or(&line.line),
            );
            match kept.iter_mut().find(|(known, _)| *known == why) {
                Some((_, names)) => names.push(name),
                None => kept.push((why, vec![name])),
            }
        }
        for (why, names) in kept {
            let change = self.say("sheet.changed.KEEP", &[("exercise", &names.join(", "))]);
            self.change_line(&change, why);
        }
    }

    fn change_line(&mut self, change: &str, why: Option<String>) {
        let text = match why {
            Some(why) => self.say("sheet.changed.line", &[("change", change), ("why", &why)]),
            None => change.to_owned(),
        };
        self.item(&text);
    }

    fn change(&self, line: &LineMove) -> String {
        let from = line
            .from
            .as_ref()
            .or(line.to.as_ref())
            .map(|key| self.name(key))
            .unwrap_or_default();
        let to = line
            .to
            .as_ref()
            .or(line.from.as_ref())
            .map(|key| self.name(key))
            .unwrap_or_default();
        let key = match line.mv {
            Move::Back | Move::Ease | Move::Forward if line.to.is_none() => {
                "sheet.changed.ends".into()
            }
            Move::Climb if line.from.is_some() && line.from != line.to => {
                "sheet.changed.next".into()
            }
            mv => format!("sheet.changed.{}", mv.word()),
        };
        self.say(&key, &[("from", &from), ("exercise", &to)])
    }

    /// The first reason that says anything to the patient.
    fn why(&self, because: &[Cause]) -> Option<String> {
        because.iter().find_map(|cause| self.cause(cause))
    }

    fn cause(&self, cause: &Cause) -> Option<String> {
        let date = |on: &jiff::civil::Date| on.to_string();
        Some(match cause {
            Cause::Met(rule) | Cause::MetBefore(rule) | Cause::Latched(rule) => self.rule_why(rule),
            Cause::Doubt(_) | Cause::LimitValueMissing(_) => self.say("sheet.why.missing", &[]),
            Cause::NotMet(_) => self.say("sheet.why.not-yet", &[]),
            Cause::OverLimit { session, .. } => {
                self.say("sheet.why.limit", &[("date", &date(&session.0))])
            }
            Cause::OverLimitTwice { session, .. } => {
                self.say("sheet.why.limit-twice", &[("date", &date(&session.0))])
            }
            Cause::NothingLeft => self.say("sheet.why.nothing-left", &[]),
            Cause::LayOff { days } => self.say("sheet.why.lay-off", &[("days", &days.to_string())]),
            Cause::Directive(_) => self.say("sheet.why.directive", &[]),
            Cause::Corrected(_) => self.say("sheet.why.corrected", &[]),
            Cause::NoCountedSession | Cause::NothingNew => self.say("sheet.why.more-sessions", &[]),
            Cause::RungNotReached => self.say("sheet.why.reached", &[]),
            Cause::Needs(_) => self.say("sheet.why.needs", &[]),
            Cause::AtTop => self.say("sheet.why.top", &[]),
            Cause::NoSlot => self.say("sheet.why.turn", &[]),
            Cause::Withdrawn => self.say("sheet.why.withdrawn", &[]),
            Cause::ScreeningUnanswered => self.say("sheet.why.screening", &[]),
            Cause::Outcome => match self.outcome {
                Outcome::Refer => self.say("sheet.why.caution", &[]),
                Outcome::Regress | Outcome::Progress => self.say("sheet.why.phase", &[]),
                Outcome::Discharge => self.say("sheet.why.discharged", &[]),
                Outcome::Hold | Outcome::Await | Outcome::Continue | Outcome::Begin => return None,
            },
            Cause::LineEnds => self.say("sheet.why.phase", &[]),
            Cause::Discharged => self.say("sheet.why.discharged", &[]),
            Cause::Comfortable => self.say("sheet.why.comfortable", &[]),
            Cause::Unmapped(_) => self.say("sheet.why.unmapped", &[]),
            Cause::LoadUnmeasured => self.say("sheet.why.unmeasured", &[]),
            Cause::NoBandFits(_) => self.say("sheet.why.no-band", &[]),
        })
    }

    /// The pack's own clause for a rule, or one by what the rule is for.
    fn rule_why(&self, rule: &Key) -> String {
        if let Some(own) = say_own(self.pack, self.language, &format!("why.{rule}"), &[]) {
            return own;
        }
        let kind = self
            .pack
            .rule(rule)
            .and_then(|index| self.pack.rules.get(index.at()))
            .map(|rule| rule.kind);
        let key = match kind {
            Some(RuleKind::Climb | RuleKind::BringBack) => "sheet.why.met",
            Some(RuleKind::Enter | RuleKind::Start | RuleKind::Discharge) => "sheet.why.phase",
            _ => "sheet.why.caution",
        };
        self.say(key, &[])
    }

    fn exercises(&mut self, prescription: &Prescription) {
        let discharged = prescription.standing == Standing::Discharged;
        self.heading(if discharged {
            "sheet.maintenance"
        } else {
            "sheet.exercises"
        });
        if let Standing::Paused(_) = prescription.standing {
            self.line(&self.say("sheet.paused", &[]));
        } else if prescription.items.is_empty() {
            self.line(&self.say("sheet.none", &[]));
        }
        for (at, item) in prescription.items.iter().enumerate() {
            self.exercise(at.saturating_add(1), item);
        }
    }

    fn exercise(&mut self, number: usize, item: &Item) {
        // The load of a band is said with the band.
        let spoken = item.dose.iter();
        let spoken = spoken.filter(|(of, _)| item.band.is_none() || *of != Variable::Load);
        let spoken: Vec<_> = spoken.cloned().collect();
        let dose = say_dose(self.pack, self.language, &spoken);
        let found = self
            .pack
            .exercise(&item.exercise)
            .and_then(|index| self.pack.exercises.get(index.at()));
        let how = found
            .map(|exercise| self.own(&exercise.how))
            .unwrap_or_default();
        let given = [
            ("name", &*self.name(&item.exercise)),
            ("dose", &*dose),
            ("how", &*how),
        ];
        let sentence = self.say("sheet.exercise", &given);
        self.line(&format!("{number}. {sentence}"));
        let mut notes: Vec<String> = Vec::new();
        if let Some(band) = &item.band {
            notes.extend(band_sentences(self.pack, self.language, band));
        }
        if !how.is_empty() && !sentence.contains(&how) {
            notes.push(how);
        }
        notes.extend(
            found
                .iter()
                .flat_map(|exercise| &exercise.cues)
                .map(|cue| self.own(cue)),
        );
        let mut bounded: Vec<&str> = item.bounded.iter().map(|(_, by)| bound_key(by)).collect();
        bounded.sort_unstable();
        bounded.dedup();
        notes.extend(
            bounded
                .into_iter()
                .map(|key| format!("({})", self.say(key, &[]))),
        );
        for note in notes.iter().filter(|note| !note.is_empty()) {
            self.line(&format!("   {note}"));
        }
    }

    /// A text that the pack itself names; nothing where it has none.
    fn own(&self, key: &str) -> String {
        say_own(self.pack, self.language, key, &[]).unwrap_or_default()
    }

    fn name(&self, exercise: &str) -> String {
        let found = self
            .pack
            .exercise(exercise)
            .and_then(|index| self.pack.exercises.get(index.at()));
        let own = found.and_then(|exercise| say_own(self.pack, self.language, &exercise.name, &[]));
        own.unwrap_or_else(|| exercise.to_owned())
    }

    fn left_out(&mut self, prescription: &Prescription) {
        if prescription.left_out.is_empty() {
            return;
        }
        self.heading("sheet.left-out");
        for LeftOut { exercise, why } in &prescription.left_out {
            let why = self.say(left_out_key(why), &[]);
            let given = [("exercise", &*self.name(exercise)), ("why", &*why)];
            self.item(&self.say("sheet.left-out.line", &given));
        }
    }

    /// Each wording once, though several limits may share it; an exercise's own with its name.
    fn limits(&mut self, prescription: &Prescription) {
        let mut said: Vec<String> = Vec::new();
        for limit in &prescription.limits {
            let own = say_own(self.pack, self.language, &limit.text, &[]);
            let text = own.unwrap_or_else(|| limit.sentence.clone());
            let text = match &limit.exercise {
                Some(exercise) => format!("{}: {text}", self.name(exercise)),
                None => text,
            };
            if !said.contains(&text) {
                said.push(text);
            }
        }
        if !said.is_empty() {
            self.heading("sheet.allowed");
        }
        for text in said {
            self.item(&text);
        }
    }
}

const fn urgency_key(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Emergency => "sheet.urgency.emergency",
        Urgency::SameDay => "sheet.urgency.same-day",
        Urgency::Urgent => "sheet.urgency.urgent",
        Urgency::Routine => "sheet.urgency.routine",
    }
}

const fn bound_key(by: &BoundBy) -> &'static str {
    match by {
        BoundBy::Directive(_) => "sheet.capped.directive",
        BoundBy::Comfortable(_) => "sheet.capped.comfortable",
    }
}

const fn left_out_key(why: &WhyLeftOut) -> &'static str {
    match why {
        WhyLeftOut::Withdrawn => "sheet.why.withdrawn",
        WhyLeftOut::Directive(_) | WhyLeftOut::Bound(BoundBy::Directive(_)) => {
            "sheet.why.directive"
        }
        WhyLeftOut::Bound(BoundBy::Comfortable(_)) => "sheet.why.comfortable",
        WhyLeftOut::Unmapped => "sheet.why.unmapped",
        WhyLeftOut::NoBand(_) => "sheet.why.band",
    }
}

#[cfg(test)]
mod tests;

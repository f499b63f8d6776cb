//! The questions due on a date: what to ask, of whom, with the wording.
//!
//! Leaves to others: what a missing answer does (`crate::decide`), whose asks a decision carries.

use crate::decide::in_force;
use crate::decision::{Decision, State, Wanted};
use crate::fact::{Body, Done, Fact, FactKind, Order, Position};
use crate::history::{History, SessionFact, Sheet, value_in};
use crate::prescription::{referred_since, stops};
use crate::sheet::{say, say_own};
use jiff::ToSpan;
use jiff::civil::Date;
use rungwise_pack::model::{
    Carrier, CheckedPack, Measure, MeasureIx, MeasureKind, Origin, Pack, Reporter,
};
use rungwise_pack::quantity::Key;

/// How many days after its session a morning-after, or a value of the session, is still asked for.
pub const ASKED_DAYS_MAX: i32 = 7;

/// A question due.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Question {
    /// Since when it has been due, or by when a decision wanted it.
    pub due: Date,
    /// Of whom.
    pub of: Reporter,
    /// What is wanted.
    pub what: Wanted,
    /// The text key of its wording.
    pub text: Key,
    /// The rule that wants it, where one does.
    pub rule: Option<Key>,
}

/// The questions due on `as_of`, by date, without duplicates.
#[must_use]
pub fn wanted(pack: &CheckedPack, history: &History, as_of: Date) -> Vec<Question> {
    let force = in_force(pack, history, as_of);
    let indexed = history.indexed(pack);
    let mut due = Due {
        pack,
        history: &indexed,
        as_of,
        questions: Vec::new(),
    };
    due.screening();
    due.assessments();
    if force.state.began.is_some() && !force.state.discharged {
        due.session_reports();
        let stops = |rule: &Key| stops(pack, rule);
        let stopped = referred_since(history, as_of).iter().any(stops);
        if !force.paused && !stopped {
            due.next_session(&force.state);
        }
    }
    if let Some((_, _, decision)) = history.last_decision() {
        due.of_decision(decision, &force.state, force.open_proposal.is_some());
    }
    let mut questions = due.questions;
    questions.sort();
    // The same value may lack in several sessions: it is asked for once, for the newest.
    let mut newest_first: Vec<Question> = Vec::new();
    for question in questions.into_iter().rev() {
        if !newest_first
            .iter()
            .any(|newer| newer.what == question.what && newer.of == question.of)
        {
            newest_first.push(question);
        }
    }
    newest_first.reverse();
    newest_first
}

struct Due<'a> {
    pack: &'a CheckedPack,
    history: &'a History,
    as_of: Date,
    questions: Vec<Question>,
}

impl<'a> Due<'a> {
    fn ask(&mut self, due: Date, of: Reporter, what: Wanted, text: &str, rule: Option<Key>) {
        self.questions.push(Question {
            due,
            of,
            what,
            text: text.into(),
            rule,
        });
    }

    fn ask_measure(&mut self, due: Date, measure: &Measure, text: &str) {
        let of = measure
            .reported_by
            .first()
            .copied()
            .unwrap_or(Reporter::Clinician);
        self.ask(due, of, Wanted::Measure(measure.name.clone()), text, None);
    }

    /// Measures that every fact of this carrier should carry.
    fn expected(
        &self,
        carrier: Carrier,
    ) -> impl Iterator<Item = (MeasureIx, &'a Measure)> + use<'a> {
        let measures = self.pack.measures.iter().enumerate();
        measures.filter_map(move |(at, measure)| {
            let index = MeasureIx(u16::try_from(at).ok()?);
            let reported = matches!(measure.origin, Origin::Reported);
            (reported && measure.expected && measure.carrier == carrier).then_some((index, measure))
        })
    }

    /// Expected answers that were never given, or are stale.
    fn screening(&mut self) {
        let history = self.history;
        for (index, measure) in self.expected(Carrier::Screening) {
            if let Some(due) = self.due_again(&history.index().screenings, index, measure) {
                self.ask_measure(due, measure, question_key(measure));
            }
        }
    }

    fn assessments(&mut self) {
        let history = self.history;
        for (index, measure) in self.expected(Carrier::Assessment) {
            if let Some(due) = self.due_again(&history.index().assessments, index, measure) {
                self.ask_measure(due, measure, "ask.assessment");
            }
        }
    }

    /// Since when a value is due: the day the latest fact that should carry it was made without it, or the day after it
    /// went stale. None while it counts.
    fn due_again(&self, sheets: &[Sheet], index: MeasureIx, measure: &Measure) -> Option<Date> {
        let Some(sheet) = sheets.iter().rev().find(|sheet| sheet.date <= self.as_of) else {
            return Some(self.history.episode().opened_on.min(self.as_of));
        };
        if value_in(&sheet.values, index).is_none() {
            return Some(sheet.date);
        }
        let fresh_days = i64::from(measure.fresh_days?);
        let stale_from = sheet
            .date
            .saturating_add((fresh_days.saturating_add(1)).days());
        (stale_from <= self.as_of).then_some(stale_from)
    }

    /// Morning-afters due and values lacking in the sessions of the last days.
    fn session_reports(&mut self) {
        let history = self.history;
        let since = self.as_of.saturating_sub(ASKED_DAYS_MAX.days());
        let sessions = &history.index().sessions;
        let recent = sessions
            .iter()
            .filter(|session| session.date >= since && session.date <= self.as_of);
        let recent: Vec<&SessionFact> = recent.collect();
        for (at, session) in recent.iter().enumerate() {
            let is_last_of_day = recent
                .get(at.saturating_add(1))
                .is_none_or(|next| next.date != session.date);
            self.morning_after(session, is_last_of_day);
            for (index, measure) in self.expected(Carrier::Session) {
                if value_in(&session.values, index).is_none() {
                    self.ask_measure(session.date, measure, question_key(measure));
                }
            }
            for (index, measure) in self.expected(Carrier::Exercise) {
                let mut done = session.exercises.iter().filter(|of| of.done == Done::Done);
                if done.any(|of| value_in(&of.values, index).is_none()) {
                    self.ask_measure(session.date, measure, question_key(measure));
                }
            }
        }
    }

    /// With two sessions a day, the morning after belongs to the last.
    fn morning_after(&mut self, session: &SessionFact, is_last_of_day: bool) {
        let due = session.date.saturating_add(1.day());
        if due > self.as_of {
            return;
        }
        let Some(report) = session.mornings.last() else {
            if is_last_of_day && self.expected(Carrier::MorningAfter).next().is_some() {
                let what = Wanted::MorningAfter(session.date, session.number);
                let of = self
                    .expected(Carrier::MorningAfter)
                    .find_map(|(_, m)| m.reported_by.first().copied());
                self.ask(
                    due,
                    of.unwrap_or(Reporter::Patient),
                    what,
                    "ask.morning-after",
                    None,
                );
            }
            return;
        };
        for (index, measure) in self.expected(Carrier::MorningAfter) {
            if value_in(&report.values, index).is_none() {
                self.ask_measure(report.date, measure, question_key(measure));
            }
        }
    }

    /// The next session by the phase's sessions a week, counted from the last one (or from the first prescription).
    fn next_session(&mut self, state: &State) {
        let phase = state.phase.as_ref().and_then(|key| self.pack.phase(key));
        let phase = phase.and_then(|index| self.pack.phases.get(index.at()));
        let (Some(phase), false) = (phase, state.places.is_empty()) else {
            return;
        };
        let sessions = self.history.index().sessions.iter().rev();
        let last = sessions
            .map(|session| session.date)
            .find(|date| *date <= self.as_of);
        let Some(since) = last.or(state.began) else {
            return;
        };
        let every_days = 7_i64
            .checked_div(i64::from(phase.sessions_a_week))
            .unwrap_or(7)
            .max(1);
        let due = since.saturating_add(every_days.days());
        if due <= self.as_of {
            self.ask(due, Reporter::Patient, Wanted::Session, "ask.session", None);
        }
    }

    /// Whether a clinician confirmed or placed after this correction.
    fn is_confirmed(&self, correction: Position) -> bool {
        let records = self.history.records().iter();
        records
            .filter(|record| record.position > correction)
            .any(|record| match &record.body {
                Body::Fact(Fact {
                    kind: FactKind::Directive(directive),
                    ..
                }) => {
                    matches!(directive.order, Order::Confirm | Order::Place { .. })
                }
                _ => false,
            })
    }

    /// What the last decision wanted of a clinician and still waits for.
    fn of_decision(&mut self, decision: &Decision, state: &State, proposal_open: bool) {
        let open: Vec<_> = decision
            .asks
            .iter()
            .filter(|ask| match &ask.what {
                Wanted::SignOff => proposal_open,
                Wanted::Clearance(rule) => state.latched.contains(rule),
                Wanted::Confirmation(position) => !self.is_confirmed(*position),
                Wanted::Review | Wanted::Placement(_) | Wanted::Band(_) => true,
                Wanted::Measure(_) | Wanted::MorningAfter(..) | Wanted::Session => false,
            })
            .cloned()
            .collect();
        for ask in open {
            let text = match &ask.what {
                Wanted::SignOff => "ask.sign-off",
                Wanted::Clearance(_) => "ask.clearance",
                Wanted::Confirmation(_) => "ask.confirmation",
                Wanted::Placement(_) => "ask.placement",
                Wanted::Band(_) => "ask.band",
                _ => "ask.review",
            };
            self.ask(ask.by, ask.of, ask.what, text, ask.rule);
        }
    }
}

const fn question_key(measure: &Measure) -> &'static str {
    match measure.kind {
        MeasureKind::Number { .. } => "ask.scale",
        MeasureKind::Choice { .. } => "ask.choices",
    }
}

impl Question {
    /// The question in words, in a language of the pack (or the pack's own).
    #[must_use]
    pub fn wording(&self, pack: &CheckedPack, language: &str) -> String {
        match &self.what {
            Wanted::Measure(name) => measure_wording(pack, language, &self.text, name),
            Wanted::MorningAfter(date, _) => {
                say(pack, language, &self.text, &[("date", &date.to_string())])
            }
            Wanted::Band(exercise) => {
                let found = pack
                    .exercise(exercise)
                    .and_then(|index| pack.exercises.get(index.at()));
                let name = found.and_then(|found| say_own(pack, language, &found.name, &[]));
                let name = name.unwrap_or_else(|| exercise.to_string());
                say(pack, language, &self.text, &[("exercise", &name)])
            }
            _ => say(pack, language, &self.text, &[]),
        }
    }
}

fn measure_wording(pack: &Pack, language: &str, text: &str, name: &Key) -> String {
    let own = say_own(pack, language, &format!("measure.{name}"), &[]);
    let asked = own.unwrap_or_else(|| name.to_string());
    let measure = pack
        .measure(name)
        .and_then(|index| pack.measures.get(index.at()));
    match measure.map(|measure| &measure.kind) {
        Some(MeasureKind::Number { unit, min, max, .. }) => {
            let code = if unit.code.starts_with('{') || &*unit.code == "1" {
                ""
            } else {
                &*unit.code
            };
            let (min, max) = (min.to_string(), max.to_string());
            let given = [
                ("measure", &*asked),
                ("min", &*min),
                ("max", &*max),
                ("unit", code),
            ];
            say(pack, language, text, &given).trim_end().to_owned()
        }
        Some(MeasureKind::Choice { choices }) => {
            let choices: Vec<String> = choices
                .iter()
                .map(|choice| {
                    let own = say_own(pack, language, &format!("choice.{choice}"), &[]);
                    own.unwrap_or_else(|| choice.to_string())
                })
                .collect();
            let choices = choices.join(&say(pack, language, "ask.choices.join", &[]));
            say(
                pack,
                language,
                text,
                &[("measure", &asked), ("choices", &choices)],
            )
        }
        None => say(pack, language, "ask.measure", &[("measure", &asked)]),
    }
}

#[cfg(test)]
mod tests;

//! An invented course of care, recorded fact by fact and asked about.
//!
//! Leaves to others: proving anything.

use crate::decide::{Next, decide, next};
use crate::decision::{Decision, Move, Place};
use crate::fact::{
    Assessment, Body, Correction, DecisionNo, Directive, Done, Episode, ExerciseReport, Fact,
    FactKind, MorningAfter, Order, Position, Reading, Record, Session, SetDone, Value,
};
use crate::history::History;
use jiff::civil::Date;
use rungwise_pack::model::{CheckedPack, Outcome, Reporter};
use rungwise_pack::quantity::{Milli, Variable};
use rungwise_pack::source::SourceFiles;

/// The invented pack with some of its text replaced: (old, new) pairs, each of which must occur.
pub(super) fn pack(changes: &[(&str, &str)]) -> CheckedPack {
    let mut files = vec![
        ("pack.toml", include_str!("pack.toml").to_owned()),
        ("measures.toml", include_str!("measures.toml").to_owned()),
        ("screening.toml", include_str!("screening.toml").to_owned()),
        ("phases.toml", include_str!("phases.toml").to_owned()),
        ("exercises.toml", include_str!("exercises.toml").to_owned()),
        ("text/en.toml", include_str!("text-en.toml").to_owned()),
    ];
    for (old, new) in changes {
        let mut found = false;
        for (_, text) in &mut files {
            if text.contains(old) {
                *text = text.replacen(old, new, 1);
                found = true;
                break;
            }
        }
        assert!(found, "`{old}` is not in the pack");
    }
    let files = files
        .into_iter()
        .map(|(name, text)| (name.to_owned(), text));
    let checked = rungwise_pack::check(&SourceFiles::new(files.collect()));
    checked.pack.unwrap_or_else(|| {
        let said = checked.diagnostics.iter();
        let said = said.map(|one| format!("{}:{}: {}", one.file, one.line, one.message));
        panic!("refused:\n{}", said.collect::<Vec<_>>().join("\n"))
    })
}

/// A course of care under a pack. Days are counted from 0, which is the day the episode opened.
pub(super) struct Course {
    pub(super) pack: CheckedPack,
    pub(super) history: History,
    next: u64,
}

/// The date of a day.
pub(super) fn day(number: i64) -> Date {
    let opened: Date = "2026-01-05".parse().unwrap();
    opened.checked_add(jiff::Span::new().days(number)).unwrap()
}

impl Course {
    /// Nothing known yet.
    pub(super) fn new(changes: &[(&str, &str)]) -> Self {
        let pack = pack(changes);
        let episode = Episode {
            opened_on: day(0),
            born_on: None,
            imported: false,
        };
        Self {
            history: History::new(&pack, episode),
            pack,
            next: 1,
        }
    }

    /// Screened clear, assessed and begun on day 0.
    pub(super) fn begun(changes: &[(&str, &str)]) -> Self {
        let mut course = Self::new(changes);
        course.screen(0, "no", "no");
        course.assess(0, 100);
        course.asks(0, Outcome::Begin);
        course
    }

    fn push(&mut self, recorded: i64, body: Body) -> Position {
        let position = Position(self.next);
        self.next += 1;
        let record = Record {
            position,
            recorded_on: day(recorded),
            body,
        };
        self.history.push(&self.pack, record);
        position
    }

    pub(super) fn fact(&mut self, on: i64, kind: FactKind) -> Position {
        let by = match kind {
            FactKind::Directive(_) | FactKind::SignOff { .. } => Reporter::Clinician,
            _ => Reporter::Patient,
        };
        let date = day(on);
        self.push(on, Body::Fact(Fact { date, by, kind }))
    }

    pub(super) fn screen(&mut self, on: i64, fever: &str, swelling: &str) -> Position {
        let readings = vec![choice("fever", fever), choice("swelling", swelling)];
        self.fact(on, FactKind::Screening(readings))
    }

    pub(super) fn assess(&mut self, on: i64, reach: i64) -> Position {
        self.fact(on, assessed(reach))
    }

    /// A session with the ache before it and each exercise's pain; every set more than asked.
    pub(super) fn session(&mut self, on: i64, ache: i64, pains: &[(&str, i64)]) -> Position {
        self.fact(on, session(ache, pains))
    }

    /// A session without trouble and a good morning after it.
    pub(super) fn good(&mut self, on: i64, exercises: &[&str]) {
        let pains: Vec<(&str, i64)> = exercises.iter().map(|one| (*one, 1)).collect();
        self.session(on, 1, &pains);
        self.morning(on, 1);
    }

    /// The morning after the session of this day.
    pub(super) fn morning(&mut self, session_on: i64, ache: i64) -> Position {
        let kind = FactKind::MorningAfter(MorningAfter {
            session_date: day(session_on),
            session_number: None,
            readings: vec![number("ache next morning", ache)],
        });
        self.fact(session_on + 1, kind)
    }

    pub(super) fn order(&mut self, on: i64, until: Option<i64>, order: Order) -> Position {
        let kind = FactKind::Directive(Directive {
            who: "dr invented".into(),
            why: "invented".into(),
            until: until.map(day),
            clinic_wide: false,
            order,
        });
        self.fact(on, kind)
    }

    pub(super) fn correct(&mut self, on: i64, of: Position, with: Option<Fact>) -> Position {
        let kind = FactKind::Correction(Correction {
            of,
            who: "dr invented".into(),
            why: "invented".into(),
            replacement: with.map(Box::new),
        });
        self.fact(on, kind)
    }

    pub(super) fn sign(&mut self, on: i64, decision: u32, accepted: bool) -> Position {
        let kind = FactKind::SignOff {
            decision: DecisionNo(decision),
            accepted,
            who: "dr invented".into(),
        };
        self.fact(on, kind)
    }

    /// Asks, records what is decided, and hands it back.
    pub(super) fn ask(&mut self, on: i64) -> Decision {
        match next(&self.pack, &self.history, day(on)).unwrap() {
            Next::New(decision) => {
                self.push(on, Body::Decision(decision.clone()));
                *decision
            }
            Next::Again(no) => self.history.decision(no).unwrap().1.clone(),
        }
    }

    /// Asks and expects an outcome.
    pub(super) fn asks(&mut self, on: i64, outcome: Outcome) -> Decision {
        let decision = self.ask(on);
        assert_eq!(decision.outcome, outcome, "{:?}", decision.because);
        decision
    }

    /// What would be decided, without recording it.
    pub(super) fn would(&self, on: i64) -> Decision {
        decide(&self.pack, &self.history, day(on))
    }
}

pub(super) fn session(ache: i64, pains: &[(&str, i64)]) -> FactKind {
    let exercises = pains.iter().map(|(exercise, pain)| ExerciseReport {
        exercise: (*exercise).into(),
        done: Done::Done,
        sets: vec![
            SetDone {
                reps: Some(30),
                hold_s: Some(60),
            };
            4
        ],
        readings: vec![number("pain", *pain)],
    });
    FactKind::Session(Session {
        number: 1,
        followed: None,
        readings: vec![number("ache before", ache)],
        exercises: exercises.collect(),
    })
}

/// The same session with one exercise reported otherwise.
pub(super) fn not_done(mut kind: FactKind, exercise: &str, how: Done) -> FactKind {
    if let FactKind::Session(session) = &mut kind {
        for report in &mut session.exercises {
            if &*report.exercise == exercise {
                report.done = how;
                report.sets.clear();
                report.readings.clear();
            }
        }
    }
    kind
}

pub(super) fn assessed(reach: i64) -> FactKind {
    FactKind::Assessment(Assessment {
        readings: vec![number("reach", reach)],
        other_side: Vec::new(),
        other_side_sound: false,
    })
}

pub(super) fn by_patient(on: i64, kind: FactKind) -> Fact {
    Fact {
        date: day(on),
        by: Reporter::Patient,
        kind,
    }
}

pub(super) fn number(measure: &str, units: i64) -> Reading {
    Reading {
        measure: measure.into(),
        value: Value::Number(Milli::whole(units)),
    }
}

pub(super) fn choice(measure: &str, word: &str) -> Reading {
    Reading {
        measure: measure.into(),
        value: Value::Choice(word.into()),
    }
}

/// The move of a line, where it has one.
pub(super) fn moved(decision: &Decision, line: &str) -> Option<Move> {
    let mut moves = decision.moves.iter();
    moves.find(|one| &*one.line == line).map(|one| one.mv)
}

/// The place of an exercise in a decision's state.
pub(super) fn place<'d>(decision: &'d Decision, exercise: &str) -> Option<&'d Place> {
    let mut places = decision.state.places.iter();
    places.find(|one| &*one.exercise == exercise)
}

/// The steps of relief of an exercise in place.
pub(super) fn relief(decision: &Decision, exercise: &str) -> Vec<Variable> {
    place(decision, exercise).map_or(Vec::new(), |place| place.relief.clone())
}

/// The number of one variable on an exercise's rung.
pub(super) fn rung(decision: &Decision, exercise: &str, variable: Variable) -> Option<i64> {
    let place = place(decision, exercise)?;
    let (_, value) = place.rung.iter().find(|(of, _)| *of == variable)?;
    match value {
        rungwise_pack::model::RowValue::Number(Milli(milli)) => Some(milli / 1000),
        rungwise_pack::model::RowValue::Label(_) => None,
    }
}

/// The exercises in place, in the pack's order of lines.
pub(super) fn exercises(decision: &Decision) -> Vec<&str> {
    decision
        .state
        .places
        .iter()
        .map(|place| &*place.exercise)
        .collect()
}

/// The phase in force.
pub(super) fn phase(decision: &Decision) -> &str {
    decision.state.phase.as_deref().unwrap_or("none")
}

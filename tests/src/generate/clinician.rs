//! What a clinician adds to a generated history: sign-offs, clearances, directives, corrections.
//!
//! Leaves to others: everything that patients report (`super::history`).

use super::history::{SoFar, Teller, decisions, decisions_at, fact, facts_of, plus};
use jiff::civil::Date;
use rungwise_engine::fact::{
    Correction, DecisionNo, Directive, Done, ExerciseReport, Fact, FactKind, MorningAfter, Order,
    Position, Session,
};
use rungwise_pack::model::{Carrier, Reporter, RowValue, RuleKind};
use rungwise_pack::quantity::{Key, Variable};

impl Teller<'_> {
    pub(super) fn clinician(&mut self, so_far: &SoFar<'_>) -> Vec<Fact> {
        let mut facts = Vec::new();
        let today = so_far.today;
        let who = Key::from("clinician-a");
        let latest = decisions(so_far).enumerate().last();
        if let Some((number, latest)) = latest {
            if latest.proposed && self.dice.percent(60) {
                let accepted = self.dice.percent(90);
                let decision = DecisionNo(number as u32);
                facts.push(fact(
                    today,
                    FactKind::SignOff {
                        decision,
                        accepted,
                        who: who.clone(),
                    },
                ));
            } else if number > 0 && self.dice.percent(3) {
                let number = self.dice.count(0, number - 1);
                if decisions_at(so_far, DecisionNo(number as u32)).is_some_and(|one| one.proposed) {
                    let decision = DecisionNo(number as u32);
                    facts.push(fact(
                        today,
                        FactKind::SignOff {
                            decision,
                            accepted: true,
                            who: who.clone(),
                        },
                    ));
                }
            }
            if !latest.state.latched.is_empty() && self.dice.percent(50) {
                let rules = latest.state.latched.clone();
                facts.push(directive(today, None, Order::Clear { rules }));
            }
        }
        if self.dice.percent(self.meddling) {
            facts.extend(self.directive(so_far));
        }
        if self.dice.percent(self.meddling) {
            facts.extend(self.correction(so_far));
        }
        if self.dice.percent(2) {
            let refers: Vec<&Key> = self
                .pack
                .rules
                .iter()
                .filter(|rule| matches!(rule.kind, RuleKind::Refer { .. }))
                .map(|rule| &rule.key)
                .collect();
            let rule = (*self.dice.pick(&refers)).clone();
            facts.push(fact(today, FactKind::PersonRefer { rule }));
        }
        facts
    }

    fn directive(&mut self, so_far: &SoFar<'_>) -> Option<Fact> {
        let today = so_far.today;
        let until = self
            .dice
            .percent(60)
            .then(|| plus(today, self.dice.number(0, 5)));
        let exercise = self.dice.pick(&self.pack.exercises);
        let order = match self.dice.count(0, 13) {
            0 | 1 => Order::Hold,
            2 => Order::Pause,
            3 | 4 => {
                let row = self.dice.pick(&exercise.rows);
                let at_most = self.dice.pick(&row.values).value.clone();
                Order::Cap {
                    exercise: Some(exercise.key.clone()),
                    variable: row.variable,
                    at_most,
                }
            }
            5 => Order::LeaveOut {
                exercise: exercise.key.clone(),
            },
            6 => {
                let row = self.dice.pick(&exercise.rows);
                let value = self.dice.pick(&row.values).value.clone();
                Order::SetDose {
                    exercise: exercise.key.clone(),
                    dose: vec![(row.variable, value)],
                }
            }
            7 => Order::NewBaseline,
            8 => Order::Confirm,
            9 => Order::Reopen,
            10 => Order::Place {
                phase: self.dice.pick(&self.pack.phases).key.clone(),
                places: Vec::new(),
            },
            11 => {
                let withdrawn = facts_of(so_far)
                    .filter(|(_, fact)| matches!(fact.kind, FactKind::Directive(_)))
                    .map(|(position, _)| position)
                    .last()?;
                Order::Withdraw {
                    directive: withdrawn,
                }
            }
            12 if self.dice.percent(30) => Order::Discharge,
            13 => Order::Add {
                exercise: exercise.key.clone(),
            },
            _ => return None,
        };
        let order = match order {
            Order::Place { phase, .. } => self.placement(phase),
            other => other,
        };
        let until = match order {
            Order::Place { .. } | Order::Reopen | Order::Confirm | Order::NewBaseline => None,
            _ => until,
        };
        Some(directive(today, until, order))
    }

    /// Places for some lines of a phase, each on a rung of its ladder.
    fn placement(&mut self, phase: Key) -> Order {
        let rules = &self.pack.phases[self.pack.phase(&phase).unwrap().at()];
        let mut places: Vec<(Key, Vec<(Variable, RowValue)>)> = Vec::new();
        let mut lines = Vec::new();
        for exercise in &rules.exercises {
            let known = &self.pack.exercises[exercise.at()];
            if lines.contains(&known.line) || self.dice.percent(40) {
                continue;
            }
            lines.push(known.line);
            let rung = self.dice.pick(&known.rungs);
            let dose = known
                .rows
                .iter()
                .zip(&rung.0)
                .map(|(row, at)| (row.variable, row.values[usize::from(*at)].value.clone()))
                .collect();
            places.push((known.key.clone(), dose));
        }
        Order::Place { phase, places }
    }

    fn correction(&mut self, so_far: &SoFar<'_>) -> Option<Fact> {
        let candidates: Vec<(Position, Fact)> = facts_of(so_far)
            .filter(|(_, fact)| {
                matches!(
                    fact.kind,
                    FactKind::Session(_)
                        | FactKind::MorningAfter(_)
                        | FactKind::Assessment(_)
                        | FactKind::Screening(_)
                        | FactKind::Event(_)
                )
            })
            .map(|(position, fact)| (position, fact.clone()))
            .collect();
        if candidates.is_empty() {
            return None;
        }
        let from = candidates.len().saturating_sub(4);
        let (of, old) = self.dice.pick(&candidates[from..]).clone();
        let replacement = self.dice.percent(75).then(|| {
            let kind = match old.kind {
                FactKind::Session(session) => FactKind::Session(Session {
                    readings: self.readings(Carrier::Session),
                    exercises: session
                        .exercises
                        .into_iter()
                        .map(|report| match report.done {
                            Done::Done => ExerciseReport {
                                readings: self.readings(Carrier::Exercise),
                                ..report
                            },
                            _ => report,
                        })
                        .collect(),
                    ..session
                }),
                FactKind::MorningAfter(morning) => FactKind::MorningAfter(MorningAfter {
                    readings: self.readings(Carrier::MorningAfter),
                    ..morning
                }),
                FactKind::Assessment(_) => self.assessment(),
                FactKind::Screening(_) => FactKind::Screening(self.readings(Carrier::Screening)),
                other => other,
            };
            Box::new(Fact {
                date: old.date,
                by: old.by,
                kind,
            })
        });
        let (who, why) = (Key::from("clinician-a"), "invented".to_owned());
        Some(fact(
            so_far.today,
            FactKind::Correction(Correction {
                of,
                who,
                why,
                replacement,
            }),
        ))
    }
}

/// A directive of an invented clinician.
#[must_use]
pub(super) fn directive(date: Date, until: Option<Date>, order: Order) -> Fact {
    let kind = FactKind::Directive(Directive {
        who: Key::from("clinician-a"),
        why: "invented".to_owned(),
        until,
        clinic_wide: false,
        order,
    });
    Fact {
        date,
        by: Reporter::Clinician,
        kind,
    }
}

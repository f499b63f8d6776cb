//! A clinician's word: directives and what they order.
//!
//! Leaves to others: what an order does (`crate::decide`).

use super::reading::unknown;
use super::refusal::{Noun, Wrong};
use super::{Admission, WHO_BYTES_MAX, WHY_BYTES_MAX};
use crate::fact::{Directive, Order};
use crate::ladder;
use jiff::civil::Date;
use rungwise_pack::model::{Exercise, ExerciseIx, Phase, RowValue, RuleKind};
use rungwise_pack::quantity::{Key, Variable};
use std::collections::BTreeSet;

/// What a refer rule is called in a message.
const A_REFER: &str = "a refer rule";

impl<'p> Admission<'p> {
    pub(super) fn directive(&mut self, path: &str, date: Date, directive: &Directive) {
        let path = &format!("{path}directive");
        self.text(&format!("{path}.who"), &directive.who, WHO_BYTES_MAX);
        self.text(&format!("{path}.why"), &directive.why, WHY_BYTES_MAX);
        if directive.until.is_some_and(|until| until < date) {
            self.refuse(
                format!("{path}.until"),
                Wrong::EndsBeforeItBegins { begins: date },
            );
        }
        let (word, is_cautious) = order_word(&directive.order);
        if directive.clinic_wide && !is_cautious {
            self.refuse(
                format!("{path}.clinic_wide"),
                Wrong::TooBoldForAClinic { order: word },
            );
        }
        self.order(path, &directive.order);
    }

    fn order(&mut self, path: &str, order: &Order) {
        match order {
            Order::Cap {
                exercise,
                variable,
                at_most,
            } => {
                self.cap(
                    &format!("{path}.cap"),
                    exercise.as_ref(),
                    *variable,
                    at_most,
                );
            }
            Order::LeaveOut { exercise } => {
                self.exercise(&format!("{path}.leave_out.exercise"), exercise);
            }
            Order::Add { exercise } => {
                self.exercise(&format!("{path}.add.exercise"), exercise);
            }
            Order::SetDose { exercise, dose } => {
                let path = &format!("{path}.set_dose");
                if let Some((_, found)) = self.exercise(&format!("{path}.exercise"), exercise) {
                    self.dose(&format!("{path}.dose"), found, dose);
                }
                if dose.is_empty() {
                    self.refuse(format!("{path}.dose"), Wrong::Empty);
                }
            }
            Order::Place { phase, places } => self.place(&format!("{path}.place"), phase, places),
            Order::Clear { rules } => self.clear(&format!("{path}.clear.rules"), rules),
            Order::Reopen if !self.before.is_discharged() => {
                self.refuse(format!("{path}.reopen"), Wrong::NotDischarged);
            }
            // What a lead gave for the whole clinic ends in the clinic's stream alone.
            Order::Withdraw { directive }
                if self
                    .before
                    .directive(*directive)
                    .is_none_or(|given| given.clinic_wide) =>
            {
                let wrong = Wrong::NotADirective {
                    position: directive.0,
                };
                self.refuse(format!("{path}.withdraw.directive"), wrong);
            }
            Order::Hold
            | Order::NewBaseline
            | Order::Pause
            | Order::Discharge
            | Order::Reopen
            | Order::Confirm
            | Order::Withdraw { .. } => {}
        }
    }

    fn cap(&mut self, path: &str, exercise: Option<&Key>, variable: Variable, at_most: &RowValue) {
        let pack = self.pack;
        let of: Vec<&Exercise> = match exercise {
            Some(key) => match self.exercise(&format!("{path}.exercise"), key) {
                Some((_, found)) => vec![found],
                None => return,
            },
            None => pack.exercises.iter().collect(),
        };
        let rows = of
            .iter()
            .flat_map(|found| &found.rows)
            .filter(|row| row.variable == variable);
        let rows: Vec<_> = rows.collect();
        if rows.is_empty() {
            let variables = of
                .iter()
                .flat_map(|found| variables(found))
                .collect::<BTreeSet<_>>();
            let variables = variables.into_iter().collect();
            let wrong = Wrong::NoSuchRow {
                exercise: exercise.cloned(),
                variable,
                variables,
            };
            return self.refuse(format!("{path}.at_most.variable"), wrong);
        }
        let values = || {
            rows.iter()
                .flat_map(|row| row.values.iter().map(|step| &step.value))
        };
        let fits = values().any(|value| match (value, at_most) {
            (RowValue::Number(_), RowValue::Number(_)) => true,
            (value, at_most) => value == at_most,
        });
        if !fits {
            let values = values()
                .map(value_text)
                .collect::<BTreeSet<_>>()
                .into_iter()
                .collect();
            let wrong = Wrong::UnknownValue {
                variable,
                given: value_text(at_most),
                values,
            };
            self.refuse(format!("{path}.at_most"), wrong);
        }
    }

    fn place(&mut self, path: &str, phase: &Key, places: &[(Key, ladder::Values)]) {
        let found = self.phase(&format!("{path}.phase"), phase);
        let mut lines: Vec<(rungwise_pack::model::LineIx, &Key)> = Vec::new();
        for (at, (key, values)) in places.iter().enumerate() {
            let path = &format!("{path}.places[{at}]");
            let Some((index, exercise)) = self.exercise(&format!("{path}.exercise"), key) else {
                continue;
            };
            if let Some((_, other)) = lines.iter().find(|(line, _)| *line == exercise.line) {
                let wrong = Wrong::SameLine {
                    exercise: key.clone(),
                    other: (*other).clone(),
                };
                self.refuse(format!("{path}.exercise"), wrong);
            }
            lines.push((exercise.line, key));
            if found.is_some_and(|phase| !self.is_allowed(phase, index, key)) {
                let wrong = Wrong::NotInPhase {
                    exercise: key.clone(),
                    phase: phase.clone(),
                };
                self.refuse(format!("{path}.exercise"), wrong);
            }
            if self.dose(&format!("{path}.dose"), exercise, values) {
                self.rung(&format!("{path}.dose"), exercise, values);
            }
        }
    }

    /// Whether the phase has the exercise, or a directive added it.
    fn is_allowed(&self, phase: &Phase, exercise: ExerciseIx, key: &Key) -> bool {
        let added = |directive: &Directive| matches!(&directive.order, Order::Add { exercise } if exercise == key);
        phase.exercises.contains(&exercise) || self.before.directives().any(added)
    }

    /// Values of some rows of an exercise. Whether all of them are on its ladder.
    fn dose(&mut self, path: &str, exercise: &Exercise, dose: &[(Variable, RowValue)]) -> bool {
        let refused = self.refusals.len();
        let mut seen = BTreeSet::new();
        for (at, (variable, value)) in dose.iter().enumerate() {
            let path = format!("{path}[{at}]");
            let row = exercise.rows.iter().find(|row| row.variable == *variable);
            let wrong = match row {
                None => Wrong::NoSuchRow {
                    exercise: Some(exercise.key.clone()),
                    variable: *variable,
                    variables: variables(exercise).collect(),
                },
                Some(_) if !seen.insert(*variable) => Wrong::Twice {
                    name: variable.word().into(),
                },
                Some(row) if ladder::step_of(row, value).is_none() => Wrong::UnknownValue {
                    variable: *variable,
                    given: value_text(value),
                    values: row
                        .values
                        .iter()
                        .map(|step| value_text(&step.value))
                        .collect(),
                },
                Some(_) => continue,
            };
            self.refuse(path, wrong);
        }
        refused == self.refusals.len()
    }

    /// The rows not named take the start rung's values; together they must be a rung.
    fn rung(&mut self, path: &str, exercise: &Exercise, dose: &[(Variable, RowValue)]) {
        let whole = ladder::on_rows(exercise, ladder::fill(exercise, dose));
        if ladder::rung_of(exercise, &whole).is_none() {
            let nearest = ladder::map_rung(exercise, &whole).map(|rung| {
                let values = ladder::rung_values(exercise, rung);
                let said: Vec<String> = values
                    .iter()
                    .map(|(variable, value)| format!("{} {}", variable.word(), value_text(value)))
                    .collect();
                said.join(", ")
            });
            self.refuse(
                path.into(),
                Wrong::NoSuchRung {
                    exercise: exercise.key.clone(),
                    nearest,
                },
            );
        }
    }

    fn clear(&mut self, path: &str, rules: &[Key]) {
        if rules.is_empty() {
            self.refuse(path.into(), Wrong::Empty);
        }
        for (at, rule) in rules.iter().enumerate() {
            self.refer_rule(&format!("{path}[{at}]"), rule, false);
        }
    }

    /// A refer rule; where wanted, one of the person.
    pub(super) fn refer_rule(&mut self, path: &str, rule: &Key, of_person: bool) {
        let pack = self.pack;
        let refer = |index: usize| {
            let rule = pack.rules.get(index)?;
            matches!(rule.kind, RuleKind::Refer { .. }).then_some(rule)
        };
        let Some(index) = pack.rule(rule) else {
            let known = (0..pack.rules.len())
                .filter_map(refer)
                .map(|rule| rule.key.clone());
            return self.refuse(path.into(), unknown(Noun::Rule, rule, known.collect()));
        };
        let screening = pack
            .screening
            .iter()
            .find(|screening| screening.rule == index);
        let wanted = if of_person {
            "a refer rule of the person"
        } else {
            A_REFER
        };
        let fits = refer(index.at()).is_some()
            && (!of_person || screening.is_some_and(|screening| screening.of_person));
        if !fits {
            self.refuse(
                path.into(),
                Wrong::NotARefer {
                    rule: rule.clone(),
                    wanted,
                },
            );
        }
    }
}

fn variables(exercise: &Exercise) -> impl Iterator<Item = &'static str> {
    exercise.rows.iter().map(|row| row.variable.word())
}

fn value_text(value: &RowValue) -> String {
    match value {
        RowValue::Number(number) => number.to_string(),
        RowValue::Label(label) => label.to_string(),
    }
}

/// An order's name and whether it is cautious enough for a whole clinic.
const fn order_word(order: &Order) -> (&'static str, bool) {
    match order {
        Order::Hold => ("hold", true),
        Order::Cap { .. } => ("cap", true),
        Order::LeaveOut { .. } => ("leave out", true),
        Order::Pause => ("pause", true),
        Order::Add { .. } => ("add", false),
        Order::SetDose { .. } => ("set dose", false),
        Order::Place { .. } => ("place", false),
        Order::NewBaseline => ("new baseline", false),
        Order::Clear { .. } => ("clear", false),
        Order::Discharge => ("discharge", false),
        Order::Reopen => ("reopen", false),
        Order::Confirm => ("confirm", false),
        Order::Withdraw { .. } => ("withdraw", false),
    }
}

//! Directives of a diary.
//!
//! Withdrawing a directive is not told here: it names a place in a ledger, and a diary has none.
//!
//! Leaves to others: whether the pack takes them (`super::course`).

use super::table::{Reader, Table};
use rungwise_engine::fact::{Directive, Order};
use rungwise_pack::diagnostic::Code;
use rungwise_pack::model::RowValue;
use rungwise_pack::quantity::{Key, Variable};

#[derive(Clone, Copy)]
enum Kind {
    Hold,
    Cap,
    LeaveOut,
    Add,
    SetDose,
    Place,
    NewBaseline,
    Clear,
    Pause,
    Discharge,
    Reopen,
    Confirm,
}

const KINDS: [(&str, Kind); 12] = [
    ("hold", Kind::Hold),
    ("cap", Kind::Cap),
    ("leave out", Kind::LeaveOut),
    ("add", Kind::Add),
    ("set dose", Kind::SetDose),
    ("place", Kind::Place),
    ("new baseline", Kind::NewBaseline),
    ("clear", Kind::Clear),
    ("pause", Kind::Pause),
    ("discharge", Kind::Discharge),
    ("reopen", Kind::Reopen),
    ("confirm", Kind::Confirm),
];

pub(super) fn directive(reader: &mut Reader<'_>, mut table: Table<'_>) -> Option<Directive> {
    let who = table.need_text(reader, "who");
    let why = table.need_text(reader, "why");
    let until = table.date(reader, "until");
    table.need(reader, "order");
    let kind = table.word(reader, "order", &KINDS);
    let order = kind.and_then(|kind| order(reader, &mut table, kind));
    if kind.is_some() {
        table.finish(reader);
    }
    Some(Directive {
        who: who?.as_str().into(),
        why: why?,
        until,
        clinic_wide: false,
        order: order?,
    })
}

fn order(reader: &mut Reader<'_>, table: &mut Table<'_>, kind: Kind) -> Option<Order> {
    Some(match kind {
        Kind::Hold => Order::Hold,
        Kind::NewBaseline => Order::NewBaseline,
        Kind::Pause => Order::Pause,
        Kind::Discharge => Order::Discharge,
        Kind::Reopen => Order::Reopen,
        Kind::Confirm => Order::Confirm,
        Kind::LeaveOut => Order::LeaveOut {
            exercise: key(reader, table, "exercise")?,
        },
        Kind::Add => Order::Add {
            exercise: key(reader, table, "exercise")?,
        },
        Kind::Cap => cap(reader, table)?,
        Kind::SetDose => {
            let exercise = key(reader, table, "exercise");
            table.need(reader, "dose");
            let dose = table
                .table(reader, "dose", "a dose")
                .map(|values| dose(reader, &values));
            Order::SetDose {
                exercise: exercise?,
                dose: dose?,
            }
        }
        Kind::Place => {
            let phase = key(reader, table, "phase");
            let mut places = Vec::new();
            if let Some(values) = table.table(reader, "places", "the places") {
                for (name, value) in values.entries() {
                    if let Some(inner) = reader.open(value, "a dose") {
                        places.push((Key::from(&**name.get_ref()), dose(reader, &inner)));
                    }
                }
            }
            Order::Place {
                phase: phase?,
                places,
            }
        }
        Kind::Clear => {
            table.need(reader, "rules");
            let rules = table
                .texts(reader, "rules")
                .into_iter()
                .map(|(rule, _)| rule.as_str().into());
            Order::Clear {
                rules: rules.collect(),
            }
        }
    })
}

fn cap(reader: &mut Reader<'_>, table: &mut Table<'_>) -> Option<Order> {
    let exercise = table
        .text(reader, "exercise")
        .map(|exercise| exercise.as_str().into());
    let words = Variable::ALL.map(|variable| (variable.word(), variable));
    table.need(reader, "variable");
    let variable = table.word(reader, "variable", &words);
    let value = table.need(reader, "at_most");
    let at_most = value.and_then(|value| reader.row_value(value, "`at_most`"));
    Some(Order::Cap {
        exercise,
        variable: variable?,
        at_most: at_most?,
    })
}

fn key(reader: &mut Reader<'_>, table: &mut Table<'_>, name: &'static str) -> Option<Key> {
    table
        .need_text(reader, name)
        .map(|text| text.as_str().into())
}

/// Values by the words of variables.
pub(super) fn dose(reader: &mut Reader<'_>, values: &Table<'_>) -> Vec<(Variable, RowValue)> {
    let mut dose = Vec::new();
    for (name, value) in values.entries() {
        let word: &str = name.get_ref();
        let Some(variable) = Variable::ALL
            .into_iter()
            .find(|variable| variable.word() == word)
        else {
            let words = Variable::ALL.map(Variable::word);
            let help = Some(format!("one of `{}`", words.join("`, `")));
            reader.report(
                Code::UnknownWord,
                name.span(),
                format!("`{word}` is no progression variable"),
                help,
            );
            continue;
        };
        if let Some(value) = reader.row_value(value, &format!("`{word}`")) {
            dose.push((variable, value));
        }
    }
    dose
}

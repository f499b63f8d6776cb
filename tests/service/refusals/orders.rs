//! Rows about a clinician's word.
//!
//! Leaves to others: reports (`super::reports`), fields of the calls (`super::calls`).

use super::super::clinic::{Begun, recording};
use super::super::facts::{day, directive, dose, fact, place};
use super::{Call, Row, wrong};
use rungwise_api::v1;
use rungwise_api::v1::directive::Order;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::{Reason, ReportedBy, Variable};

/// A call that gives a directive and saw the episode as it stands.
fn given(begun: &Begun, fact: v1::Fact) -> Call {
    let expected_sequence = Some(begun.sequence);
    Call::Record(v1::RecordFactsRequest { expected_sequence, ..recording(&begun.episode, vec![fact]) })
}

fn order(begun: &Begun, order: Order) -> Call {
    given(begun, directive(&day(2), "an invented reason", order))
}

fn placed(begun: &Begun, phase: &str, places: Vec<v1::ExercisePlace>) -> Call {
    order(begun, Order::Place(v1::PlaceOrder { phase: phase.to_owned(), places }))
}

fn cap(begun: &Begun, exercise: &str, at_most: Option<v1::DoseValue>) -> Call {
    order(begun, Order::Cap(v1::CapOrder { exercise: exercise.to_owned(), at_most }))
}

fn set_dose(begun: &Begun, dose: Vec<v1::DoseValue>) -> Call {
    order(begun, Order::SetDose(v1::SetDoseOrder { exercise: "er-isometric".to_owned(), dose }))
}

fn cleared(begun: &Begun, rules: &[&str]) -> Call {
    order(begun, Order::Clear(v1::ClearOrder { rules: rules.iter().map(ToString::to_string).collect() }))
}

fn withdrawn(begun: &Begun, directive: String) -> Call {
    order(begun, Order::Withdraw(v1::WithdrawOrder { directive }))
}

/// A directive to hold, with something else than usual about it.
fn held(begun: &Begun, change: impl FnOnce(&mut v1::Directive)) -> Call {
    let mut said = v1::Directive {
        clinic_wide: false,
        who: "invented-clinician-1".to_owned(),
        why: "an invented reason".to_owned(),
        until: String::new(),
        order: Some(Order::Hold(v1::HoldOrder {})),
    };
    change(&mut said);
    given(begun, fact(&day(2), ReportedBy::Clinician, Kind::Directive(said)))
}

pub(super) fn rows(begun: &Begun) -> Vec<Row> {
    let mut rows = said(begun);
    rows.extend(doses(begun));
    rows.extend(places(begun));
    rows
}

fn said(begun: &Begun) -> Vec<Row> {
    let by_patient = v1::Fact {
        reported_by: ReportedBy::Patient.into(),
        ..directive(&day(2), "an invented reason", Order::Hold(v1::HoldOrder {}))
    };
    let elsewhere = "clinics/demo/episodes/another/facts/3".to_owned();
    let session = begun.session.clone();
    vec![
        wrong("a directive by the patient", given(begun, by_patient), Reason::NotAClinician, "facts[0].reported_by", "by a clinician"),
        wrong("a directive by nobody", held(begun, |said| said.who.clear()), Reason::Empty, "facts[0].directive.who", "say who"),
        wrong("a directive without a reason", held(begun, |said| said.why = " ".to_owned()), Reason::Empty, "facts[0].directive.why", "why"),
        wrong("a reason as long as a book", held(begun, |said| said.why = "x".repeat(4_001)), Reason::TextTooLong, "facts[0].directive.why", "at most 4000 bytes"),
        wrong("a directive that ended before", held(begun, |said| said.until = day(1)), Reason::EndsBeforeItBegins, "facts[0].directive.until", &day(2)),
        wrong("a directive until some time", held(begun, |said| said.until = "soon".to_owned()), Reason::FieldMalformed, "facts[0].directive.until", "a date such as"),
        wrong("a directive for everybody", held(begun, |said| said.clinic_wide = true), Reason::OutputOnly, "facts[0].directive.clinic_wide", "DirectClinic"),
        wrong("a directive without an order", held(begun, |said| said.order = None), Reason::FieldMissing, "facts[0].directive.order", "what it orders"),
        wrong("clear nothing", cleared(begun, &[]), Reason::Empty, "facts[0].directive.clear.rules", "say"),
        wrong("clear a rule that is none", cleared(begun, &["heart-pain", "heartburn"]), Reason::UnknownRule, "facts[0].directive.clear.rules[1]", "`heart-pain`"),
        wrong("clear a rule that refers nobody", cleared(begun, &["flare-up-holds"]), Reason::NotAReferRule, "facts[0].directive.clear.rules[0]", "a refer rule"),
        wrong("reopen what goes on", order(begun, Order::Reopen(v1::ReopenOrder {})), Reason::NotDischarged, "facts[0].directive.reopen", "leave it out"),
        wrong("withdraw what is no directive", withdrawn(begun, session), Reason::NotADirective, "facts[0].directive.withdraw.directive", "a directive of this episode"),
        wrong("withdraw another's directive", withdrawn(begun, elsewhere), Reason::NotADirective, "facts[0].directive.withdraw.directive", "of this episode"),
        wrong("withdraw by a number", withdrawn(begun, "3".to_owned()), Reason::FieldMalformed, "facts[0].directive.withdraw.directive", "/facts/{position}"),
    ]
}

fn doses(begun: &Begun) -> Vec<Row> {
    const AT_MOST: &str = "facts[0].directive.cap.at_most";
    const DOSE: &str = "facts[0].directive.set_dose.dose";
    let none = v1::DoseValue { variable: Variable::Reps.into(), ..Default::default() };
    let some = dose(Variable::Unspecified, "8");
    let value = Some(v1::dose_value::Value::Label("band 9".to_owned()));
    let label = v1::DoseValue { variable: Variable::Load.into(), value, unit: String::new() };
    let leave_out = Order::LeaveOut(v1::LeaveOutOrder { exercise: "juggling".to_owned() });
    let add = Order::Add(v1::AddOrder { exercise: "juggling".to_owned() });
    let twice = vec![dose(Variable::Reps, "5"), dose(Variable::Reps, "8")];
    vec![
        wrong("cap nothing", cap(begun, "", None), Reason::FieldMissing, AT_MOST, "the highest value"),
        wrong("cap an exercise that is none", cap(begun, "juggling", Some(dose(Variable::Reps, "8"))), Reason::UnknownExercise, "facts[0].directive.cap.exercise", "one of"),
        wrong("cap by a label that is none", cap(begun, "er-band-raised", Some(label)), Reason::UnknownValue, AT_MOST, "`band 1`"),
        wrong("cap what the ladder lacks", cap(begun, "er-isometric", Some(dose(Variable::Rest, "7"))), Reason::NoSuchRow, "facts[0].directive.cap.at_most.variable", "`reps`"),
        wrong("cap no variable", cap(begun, "", Some(some)), Reason::EnumUnknown, "facts[0].directive.cap.at_most.variable", "a variable"),
        wrong("cap at no value", cap(begun, "", Some(none)), Reason::FieldMissing, "facts[0].directive.cap.at_most.value", "a number or a label"),
        wrong("cap at no number", cap(begun, "", Some(dose(Variable::Reps, "few"))), Reason::NotANumber, "facts[0].directive.cap.at_most.number", "such as `1.5`"),
        wrong("leave out what is none", order(begun, leave_out), Reason::UnknownExercise, "facts[0].directive.leave_out.exercise", "one of"),
        wrong("add what is none", order(begun, add), Reason::UnknownExercise, "facts[0].directive.add.exercise", "one of"),
        wrong("set no dose", set_dose(begun, Vec::new()), Reason::Empty, DOSE, "say"),
        wrong("set a dose that is none", set_dose(begun, vec![dose(Variable::Reps, "7")]), Reason::UnknownValue, "facts[0].directive.set_dose.dose[0]", "`5`, `8`, `10`"),
        wrong("set a dose twice", set_dose(begun, twice), Reason::NamedTwice, "facts[0].directive.set_dose.dose[1]", "once"),
    ]
}

fn places(begun: &Begun) -> Vec<Row> {
    let two = vec![place("er-band-towel", Vec::new()), place("er-band", Vec::new())];
    let early = vec![place("er-band", Vec::new())];
    let odd = vec![place("er-isometric", vec![dose(Variable::Reps, "7")])];
    vec![
        wrong("a phase misspelt", placed(begun, "isometrics", Vec::new()), Reason::UnknownPhase, "facts[0].directive.place.phase", "`isometric`?"),
        wrong("a phase that is none", placed(begun, "levitation", Vec::new()), Reason::UnknownPhase, "facts[0].directive.place.phase", "one of `isometric`"),
        wrong("an exercise of a later phase", placed(begun, "isometric", early), Reason::NotInPhase, "facts[0].directive.place.places[0].exercise", "another phase"),
        wrong("two places on one line", placed(begun, "banded-strengthening", two), Reason::SameLine, "facts[0].directive.place.places[1].exercise", "at most one place"),
        wrong("a place between the rungs", placed(begun, "isometric", odd), Reason::UnknownValue, "facts[0].directive.place.places[0].dose[0]", "`5`, `8`, `10`"),
    ]
}

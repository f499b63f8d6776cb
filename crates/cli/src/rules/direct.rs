//! `rungwise rules direct`, `lift` and `directives`: what binds every episode of a clinic.
//!
//! Leaves to others: what such an order may say (the server), how it binds (`rungwise-engine`).

use super::args::{BindArgs, DirectArgs, DirectivesArgs, LiftArgs, OrderArgs};
use super::lead::{Lead, client};
use crate::Answer;
use crate::failure::Failure;
use crate::screen::Screen;
use rungwise_api::content::order_words;
use rungwise_api::from_wire::{Reader, clinic_directive_from_wire};
use rungwise_api::name::{clinic_directive_from_name, clinic_name};
use rungwise_api::v1::{self, directive::Order, dose_value::Value};
use rungwise_ledger::step::Step;
use rungwise_pack::decimal;
use rungwise_server::Clock;

/// Binds every episode.
pub(super) fn run(args: &DirectArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let (order, bind) = order(&args.order)?;
    let lead = Lead::of(&bind.step)?;
    let date = or_today(bind.date.as_ref());
    let directive = v1::Directive {
        why: bind.step.why.clone(),
        until: bind.until.clone().unwrap_or_default(),
        order: Some(order),
        ..v1::Directive::default()
    };
    let mut reader = Reader::default();
    let read = clinic_directive_from_wire("order", &directive, &mut reader);
    let read = read.ok_or_else(|| {
        let wrong = reader.violations.first();
        Failure::Order(
            wrong
                .map(rungwise_api::Violation::description)
                .unwrap_or_default(),
        )
    })?;
    let order = order_words(&read.order);
    let step = Step::Direct {
        pack: bind.pack.as_deref(),
        date: &date,
        until: bind.until.as_deref(),
        order: &order,
    };
    let request = v1::DirectClinicRequest {
        parent: clinic_name(&bind.of.clinic),
        request_id: lead.request_id.clone(),
        signature: lead.sign(&bind.of.clinic, &step)?,
        directive: Some(v1::ClinicDirective {
            pack: bind.pack.clone().unwrap_or_default(),
            date: date.clone(),
            directive: Some(directive),
            ..v1::ClinicDirective::default()
        }),
    };
    let given = crate::serve::runtime()?.block_on(async {
        let mut client = lead.connect().await?;
        Ok::<_, Failure>(client.direct_clinic(request).await?.into_inner())
    })?;
    let given = given.directive;
    say(
        &given.ok_or(Failure::AnswerIncomplete("the directive"))?,
        screen,
    )?;
    Ok(Answer::Yes)
}

fn order(args: &OrderArgs) -> Result<(Order, &BindArgs), Failure> {
    Ok(match args {
        OrderArgs::Hold(bind) => (Order::Hold(v1::HoldOrder {}), bind),
        OrderArgs::Pause(bind) => (Order::Pause(v1::PauseOrder {}), bind),
        OrderArgs::LeaveOut { exercise, bind } => {
            let exercise = exercise.clone();
            (Order::LeaveOut(v1::LeaveOutOrder { exercise }), bind)
        }
        OrderArgs::Cap {
            variable,
            value,
            exercise,
            bind,
        } => {
            let word = variable.to_uppercase().replace([' ', '-'], "_");
            let known = v1::Variable::from_str_name(&format!("VARIABLE_{word}"));
            let known = known.ok_or_else(|| {
                Failure::Order(format!("`{variable}` is no variable of a dose; write load, reps, sets, range, hold-time …"))
            })?;
            let value = match decimal::parse(value) {
                Ok(number) => Value::Number(number.to_string()),
                Err(_) => Value::Label(value.clone()),
            };
            let cap = v1::CapOrder {
                exercise: exercise.clone().unwrap_or_default(),
                at_most: Some(v1::DoseValue {
                    variable: known.into(),
                    value: Some(value),
                    ..v1::DoseValue::default()
                }),
            };
            (Order::Cap(cap), bind)
        }
    })
}

fn or_today(given: Option<&String>) -> String {
    given
        .cloned()
        .unwrap_or_else(|| Clock::of_system().today().to_string())
}

/// Lifts a directive.
pub(super) fn lift(args: &LiftArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let lead = Lead::of(&args.step)?;
    let date = or_today(args.date.as_ref());
    let named = clinic_directive_from_name(&args.directive);
    let (clinic, directive) = named.ok_or_else(|| {
        let pattern = "clinics/CLINIC/directives/NUMBER";
        Failure::Order(format!(
            "`{}` is not a directive's name, `{pattern}`",
            args.directive
        ))
    })?;
    let step = Step::Lift {
        directive,
        date: &date,
    };
    let request = v1::LiftClinicDirectiveRequest {
        name: args.directive.clone(),
        request_id: lead.request_id.clone(),
        why: args.step.why.clone(),
        signature: lead.sign(&clinic, &step)?,
        date: date.clone(),
    };
    let lifted = crate::serve::runtime()?.block_on(async {
        let mut client = lead.connect().await?;
        Ok::<_, Failure>(client.lift_clinic_directive(request).await?.into_inner())
    })?;
    let lifted = lifted.directive;
    say(
        &lifted.ok_or(Failure::AnswerIncomplete("the directive"))?,
        screen,
    )?;
    Ok(Answer::Yes)
}

/// Lists them.
pub(super) fn list(args: &DirectivesArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let request = v1::ListClinicDirectivesRequest {
        parent: clinic_name(&args.of.clinic),
        include_lifted: args.lifted,
    };
    let found = crate::serve::runtime()?.block_on(async {
        let mut client = client(&args.at.server).await?;
        Ok::<_, Failure>(client.list_clinic_directives(request).await?.into_inner())
    })?;
    for directive in &found.directives {
        say(directive, screen)?;
    }
    if found.directives.is_empty() {
        screen.line("no directive binds every episode")?;
    }
    Ok(Answer::Yes)
}

fn say(kept: &v1::ClinicDirective, screen: &mut Screen) -> Result<(), Failure> {
    let said = kept.directive.clone().unwrap_or_default();
    let given = v1::Directive {
        who: String::new(),
        clinic_wide: false,
        ..said.clone()
    };
    let order = clinic_directive_from_wire("directive", &given, &mut Reader::default());
    let order = order
        .map(|read| order_words(&read.order))
        .unwrap_or_default();
    let whom = match kept.pack.as_str() {
        "" => "every episode".to_owned(),
        pack => format!("every episode of {pack}"),
    };
    let until = match (said.until.as_str(), kept.lifted_on.as_str()) {
        ("", "") => "until it is lifted".to_owned(),
        (until, "") => format!("until {until}"),
        (_, lifted) => format!("lifted on {lifted}"),
    };
    screen.line(&format!("{}: {order}", kept.name))?;
    screen.line(&format!("  binds {whom} from {} on, {until}", kept.date))?;
    for (what, step) in [("given", &kept.given), ("lifted", &kept.lifted)] {
        if let Some(step) = step {
            screen.line(&format!("  {what} by {}: {}", step.who, step.why))?;
        }
    }
    Ok(())
}

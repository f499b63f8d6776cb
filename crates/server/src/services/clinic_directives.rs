//! Directives that bind every episode of a clinic: given by one lead, at once, and lifted by one.
//!
//! Leaves to others: what a directive may say (`rungwise_engine::admit`), how it binds an episode (`crate::episode`).

use crate::clinic::{Clinic, KeptDirective, Stream};
use crate::leads::{Given, required};
use crate::limits::CLINIC_DIRECTIVES_MAX;
use crate::refusal::Refusal;
use crate::service::{Service, clinic_field, name_refusal, present_date_field, request_id};
use jiff::civil::Date;
use rungwise_api::Violation;
use rungwise_api::content::{ClinicDirective, Content, order_words};
use rungwise_api::from_wire::{Reader, clinic_directive_from_wire};
use rungwise_api::name::{clinic_directive_from_name, clinic_directive_name, clinic_name};
use rungwise_api::to_wire::{clinic_directive_to_wire, signed_to_wire};
use rungwise_api::v1::{self, Reason};
use rungwise_engine::admit::{Before, admit};
use rungwise_engine::fact::{Directive, Episode, Fact, FactKind, Order, Position};
use rungwise_ledger::step::Step;
use rungwise_pack::model::Reporter;
use rungwise_pack::quantity::Key;
use rungwise_store::Kind;

fn no_directive(clinic: &str, position: u64) -> Refusal {
    Refusal::NotFound {
        reason: Reason::ClinicDirectiveNotFound,
        kind: "directive",
        name: clinic_directive_name(clinic, position),
    }
}

/// The directive given at this position, as it stands.
pub(super) fn kept_directive(
    clinic: &Clinic,
    position: u64,
) -> Result<v1::ClinicDirective, Refusal> {
    let id = clinic.id.as_str();
    let found = clinic.in_stream(|stream| {
        let kept = stream.directives.get(&position)?;
        Some(standing(id, kept))
    });
    found.ok_or_else(|| no_directive(id, position))
}

fn standing(clinic: &str, kept: &KeptDirective) -> v1::ClinicDirective {
    let given = (kept.given.position, kept.given.at_ms);
    let lifted = kept.lifted.as_ref();
    v1::ClinicDirective {
        lifted: lifted.map(|lifted| signed_to_wire(&lifted.step.signed, lifted.at_ms)),
        lifted_on: lifted
            .map(|lifted| lifted.step.date.to_string())
            .unwrap_or_default(),
        ..clinic_directive_to_wire(clinic, given, &kept.given.step)
    }
}

/// What a request says of a directive, before it is known who gave it.
struct Read {
    pack: Option<Key>,
    date: Date,
    directive: Directive,
}

impl Service {
    pub(super) async fn direct_clinic(
        &self,
        given: &v1::DirectClinicRequest,
    ) -> Result<v1::DirectClinicResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let own = clinic.id.as_str();
        let id = request_id(&given.request_id)?;
        clinic.in_stream(|stream| required(own, stream))?;
        let read = self.directive(&clinic, given.directive.as_ref())?;
        let step = Given::read(id.clone(), &read.directive.why, &given.signature)?;
        let (date, order) = (read.date.to_string(), order_words(&read.directive.order));
        let until = read.directive.until.map(|until| until.to_string());
        let direct = Step::Direct {
            pack: read.pack.as_deref(),
            date: &date,
            until: until.as_deref(),
            order: &order,
        };
        let signed = clinic.in_stream(|stream| step.signed(own, stream, &direct))?;
        let content = Content::ClinicDirective(ClinicDirective {
            pack: read.pack,
            date: read.date,
            directive: Directive {
                who: signed.who.clone(),
                ..read.directive
            },
            signed,
        });
        let position = clinic
            .write(
                ("DirectClinic", id),
                &[(Kind::Directive, None, content)],
                |stream| room(own, stream),
            )
            .await?;
        Ok(v1::DirectClinicResponse {
            directive: Some(kept_directive(&clinic, position)?),
        })
    }

    /// The directive of a request, with everything that is wrong with it.
    fn directive(
        &self,
        clinic: &Clinic,
        given: Option<&v1::ClinicDirective>,
    ) -> Result<Read, Refusal> {
        let mut reader = Reader::default();
        let Some(given) = given else {
            reader.missing::<()>("directive", "say what binds every episode");
            return Err(Refusal::Fields(reader.violations));
        };
        let date = present_date_field(&self.clock, "directive.date", &given.date)?;
        let Some(said) = &given.directive else {
            reader.missing::<()>("directive.directive", "say what it orders");
            return Err(Refusal::Fields(reader.violations));
        };
        if !said.who.is_empty() {
            let right = "leave it out: it is the lead who signs";
            let wrong = "the server alone says this";
            reader.refuse::<()>("directive.directive.who", Reason::OutputOnly, wrong, right);
        }
        let directive = clinic_directive_from_wire("directive.directive", said, &mut reader);
        let (Some(directive), true) = (directive, reader.violations.is_empty()) else {
            return Err(Refusal::Fields(reader.violations));
        };
        let pack = Some(given.pack.as_str()).filter(|id| !id.is_empty());
        let names_a_dose = !matches!(directive.order, Order::Hold | Order::Pause);
        if pack.is_none() && names_a_dose {
            let right = "name the pack whose exercises it speaks of";
            let wrong = "it is required for such an order";
            return Err(Refusal::field(
                "directive.pack",
                Reason::FieldMissing,
                wrong,
                right,
            ));
        }
        self.admitted(clinic, pack, date, &directive)?;
        Ok(Read {
            pack: pack.map(Key::from),
            date,
            directive,
        })
    }

    /// Whether the pack understands the order and a clinic may give it.
    fn admitted(
        &self,
        clinic: &Clinic,
        pack: Option<&str>,
        date: Date,
        directive: &Directive,
    ) -> Result<(), Refusal> {
        let today = self.clock.today();
        let kept = match pack {
            Some(id) => clinic
                .for_new(id, date.max(today))
                .or_else(|| clinic.first_version(id)),
            // An order without a dose means the same under every pack.
            None => clinic.packs(today).pop().map(|(kept, _)| kept),
        };
        let kept = kept.ok_or_else(|| Refusal::NotFound {
            reason: Reason::PackNotFound,
            kind: "pack",
            name: format!("clinics/{}/packs/{}", clinic.id, pack.unwrap_or("any")),
        })?;
        let nobody = Episode {
            opened_on: date,
            born_on: None,
            imported: false,
        };
        let fact = Fact {
            date,
            by: Reporter::Clinician,
            kind: FactKind::Directive(Directive {
                // The name of whoever signs is sound; it is not known yet.
                who: Key::from("lead"),
                ..directive.clone()
            }),
        };
        admit(&kept.pack, &Before::new(&nobody, []), &fact, today).map_err(|refusals| {
            let told = refusals.iter();
            Refusal::Fields(
                told.map(|refusal| Violation::from_refusal("directive.", refusal))
                    .collect(),
            )
        })
    }

    pub(super) async fn lift_clinic_directive(
        &self,
        given: &v1::LiftClinicDirectiveRequest,
    ) -> Result<v1::LiftClinicDirectiveResponse, Refusal> {
        let pattern = "clinics/{clinic}/directives/{directive}";
        let (clinic, position) = clinic_directive_from_name(&given.name)
            .ok_or_else(|| name_refusal("name", &given.name, pattern))?;
        let id = request_id(&given.request_id)?;
        let date = present_date_field(&self.clock, "date", &given.date)?;
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        let own = clinic.id.as_str();
        clinic.in_stream(|stream| required(own, stream))?;
        let step = Given::read(id.clone(), &given.why, &given.signature)?;
        let date_text = date.to_string();
        let lift = Step::Lift {
            directive: position,
            date: &date_text,
        };
        let (pack, signed) = clinic.in_stream(|stream| {
            let kept = stream.directives.get(&position);
            let kept = kept.ok_or_else(|| no_directive(own, position))?;
            let pack = kept.given.step.pack.clone();
            Ok::<_, Refusal>((pack, step.signed(own, stream, &lift)?))
        })?;
        let content = Content::ClinicDirective(ClinicDirective {
            pack,
            date,
            directive: Directive {
                who: signed.who.clone(),
                why: signed.why.clone(),
                until: None,
                clinic_wide: true,
                order: Order::Withdraw {
                    directive: Position(position),
                },
            },
            signed,
        });
        clinic
            .write(
                ("LiftClinicDirective", id),
                &[(Kind::Directive, None, content)],
                |stream| may_be_lifted(own, stream, position, date),
            )
            .await?;
        Ok(v1::LiftClinicDirectiveResponse {
            directive: Some(kept_directive(&clinic, position)?),
        })
    }

    pub(super) fn list_clinic_directives(
        &self,
        given: &v1::ListClinicDirectivesRequest,
    ) -> Result<v1::ListClinicDirectivesResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let directives = clinic.in_stream(|stream| {
            let kept = stream.directives.values();
            let wanted = kept.filter(|kept| given.include_lifted || kept.lifted.is_none());
            wanted
                .map(|kept| standing(clinic.id.as_str(), kept))
                .collect()
        });
        Ok(v1::ListClinicDirectivesResponse { directives })
    }
}

fn room(clinic: &str, stream: &Stream) -> Result<(), Refusal> {
    if stream.directives.len() < CLINIC_DIRECTIVES_MAX {
        return Ok(());
    }
    Err(Refusal::Precondition {
        reason: Reason::DirectivesFull,
        subject: clinic_name(clinic),
        wrong: format!("it has given {CLINIC_DIRECTIVES_MAX} directives, which is all it may"),
        right: "say it in the rule pack".to_owned(),
    })
}

fn may_be_lifted(clinic: &str, stream: &Stream, position: u64, date: Date) -> Result<(), Refusal> {
    let kept = stream.directives.get(&position);
    let kept = kept.ok_or_else(|| no_directive(clinic, position))?;
    if let Some(lifted) = &kept.lifted {
        return Err(Refusal::Precondition {
            reason: Reason::AlreadyLifted,
            subject: clinic_directive_name(clinic, position),
            wrong: format!("it was lifted on {}", lifted.step.date),
            right: "leave it so, or give another".to_owned(),
        });
    }
    let begins = kept.given.step.date;
    if date < begins {
        let right = format!("a date from {begins} on");
        let wrong = "before it binds";
        return Err(Refusal::field(
            "date",
            Reason::EndsBeforeItBegins,
            wrong,
            right,
        ));
    }
    Ok(())
}

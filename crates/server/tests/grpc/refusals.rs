//! What a fact may look like when it is wrong: each is a named error with the field's path and what would be right,
//! nothing is written, and the episode goes on.

use crate::rig::*;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::{self, ReportedBy, directive::Order};
use tonic::Code;

/// One wrong fact: it is refused under this reason, with this field, and nothing is written.
struct Wrong {
    fact: v1::Fact,
    reason: &'static str,
    field: &'static str,
    /// What the description must mention as right.
    right: &'static str,
}

fn assessed(reading: v1::Reading) -> v1::Fact {
    let assessment = v1::Assessment {
        readings: vec![reading],
        ..Default::default()
    };
    fact(DAY, ReportedBy::Clinician, Kind::Assessment(assessment))
}

fn skipped(exercise: &str, done: i32) -> v1::Fact {
    let report = v1::ExerciseReport {
        exercise: exercise.into(),
        done,
        ..Default::default()
    };
    let session = v1::Session {
        exercises: vec![report],
        ..Default::default()
    };
    fact(DAY, ReportedBy::Patient, Kind::Session(session))
}

fn wrong(fact: v1::Fact, reason: &'static str, field: &'static str, right: &'static str) -> Wrong {
    Wrong {
        fact,
        reason,
        field,
        right,
    }
}

fn placed(phase: &str) -> v1::Fact {
    directive(
        DAY,
        Order::Place(v1::PlaceOrder {
            phase: phase.into(),
            places: Vec::new(),
        }),
    )
}

fn wrong_values() -> Vec<Wrong> {
    let could_not = v1::Reading {
        measure: "active elevation".into(),
        value: Some(v1::reading::Value::CouldNot(v1::CouldNot {})),
        unit: "kg".into(),
    };
    let nothing = v1::Reading {
        measure: "active elevation".into(),
        ..Default::default()
    };
    vec![
        wrong(
            assessed(number("active elevatoin", "120", "deg")),
            "UNKNOWN_MEASURE",
            "facts[1].assessment.readings[0].measure",
            "`active elevation`",
        ),
        wrong(
            assessed(number("active elevation", "120", "kg")),
            "WRONG_UNIT",
            "facts[1].assessment.readings[0].unit",
            "`deg`",
        ),
        wrong(
            assessed(number("active elevation", "181", "deg")),
            "OUT_OF_RANGE",
            "facts[1].assessment.readings[0].value",
            "0 to 180 deg",
        ),
        wrong(
            assessed(number("active elevation", "120.5", "deg")),
            "OFF_STEP",
            "facts[1].assessment.readings[0].value",
            "120 or 121",
        ),
        wrong(
            assessed(number("active elevation", "1e2", "deg")),
            "NOT_A_NUMBER",
            "facts[1].assessment.readings[0].value",
            "digits",
        ),
        wrong(
            assessed(choice("hitch when lifting", "tiny")),
            "UNKNOWN_CHOICE",
            "facts[1].assessment.readings[0].value",
            "`slight`",
        ),
        wrong(
            assessed(number("pain during exercise", "3", "{score}")),
            "WRONG_CARRIER",
            "facts[1].assessment.readings[0].measure",
            "exercise",
        ),
        wrong(
            assessed(number("age", "50", "a")),
            "MEASURE_WORKED_OUT",
            "facts[1].assessment.readings[0].measure",
            "leave it out",
        ),
        wrong(
            assessed(could_not),
            "WRONG_UNIT",
            "facts[1].assessment.readings[0].unit",
            "`deg`",
        ),
        wrong(
            assessed(nothing),
            "FIELD_MISSING",
            "facts[1].assessment.readings[0].value",
            "a number",
        ),
    ]
}

fn wrong_facts() -> Vec<Wrong> {
    let unset = v1::Fact {
        date: DAY.into(),
        reported_by: ReportedBy::Patient.into(),
        kind: None,
    };
    let event = |date: &str, name: &str| {
        fact(
            date,
            ReportedBy::Patient,
            Kind::Event(v1::Event { event: name.into() }),
        )
    };
    let future = v1::Fact {
        reported_by: 77,
        ..event(DAY, "fall")
    };
    vec![
        wrong(unset, "FIELD_MISSING", "facts[1].kind", "what happened"),
        wrong(future, "ENUM_UNKNOWN", "facts[1].reported_by", "patient"),
        wrong(
            event(DAY, "moon"),
            "UNKNOWN_EVENT",
            "facts[1].event.event",
            "`fall`",
        ),
        wrong(
            event("2026-03-11", "fall"),
            "IN_THE_FUTURE",
            "facts[1].date",
            "2026-03-10",
        ),
        wrong(
            event("2026-02-30", "fall"),
            "FIELD_MALFORMED",
            "facts[1].date",
            "2026-03-09",
        ),
        wrong(
            event("", "fall"),
            "FIELD_MISSING",
            "facts[1].date",
            "YYYY-MM-DD",
        ),
        wrong(
            skipped("er-isometirc", v1::Done::SkippedForPain.into()),
            "UNKNOWN_EXERCISE",
            "facts[1].session.exercises[0].exercise",
            "`er-isometric`",
        ),
        wrong(
            skipped("er-isometric", 0),
            "ENUM_UNKNOWN",
            "facts[1].session.exercises[0].done",
            "skipped",
        ),
        wrong(
            v1::Fact {
                date: "2026-03-01".into(),
                ..skipped("er-isometric", 2)
            },
            "BEFORE_OPENED",
            "facts[1].date",
            DAY,
        ),
        wrong(
            morning_after("2026-03-05"),
            "NO_SUCH_SESSION",
            "facts[1].morning_after.session_date",
            "first",
        ),
        wrong(
            fact(
                DAY,
                ReportedBy::Clinician,
                Kind::SignOff(v1::SignOff::default()),
            ),
            "OUTPUT_ONLY",
            "facts[1].sign_off",
            "SignOff",
        ),
        wrong(
            fact(DAY, ReportedBy::Clinician, Kind::Correction(Box::default())),
            "OUTPUT_ONLY",
            "facts[1].correction",
            "CorrectFact",
        ),
    ]
}

fn wrong_directives() -> Vec<Wrong> {
    let clear = Order::Clear(v1::ClearOrder {
        rules: vec!["no-such-rule".into()],
    });
    let withdraw = Order::Withdraw(v1::WithdrawOrder {
        directive: "elsewhere".into(),
    });
    let by_patient = v1::Fact {
        reported_by: ReportedBy::Patient.into(),
        ..directive(DAY, Order::Hold(v1::HoldOrder {}))
    };
    let without_order = v1::Directive {
        who: "x".into(),
        why: "y".into(),
        ..Default::default()
    };
    vec![
        wrong(
            placed("moon"),
            "UNKNOWN_PHASE",
            "facts[1].directive.place.phase",
            "`isometric`",
        ),
        wrong(
            directive(DAY, clear),
            "UNKNOWN_RULE",
            "facts[1].directive.clear.rules[0]",
            "",
        ),
        wrong(
            directive(DAY, withdraw),
            "FIELD_MALFORMED",
            "facts[1].directive.withdraw.directive",
            "/facts/",
        ),
        wrong(
            by_patient,
            "NOT_A_CLINICIAN",
            "facts[1].reported_by",
            "clinician",
        ),
        wrong(
            directive(DAY, Order::Reopen(v1::ReopenOrder {})),
            "NOT_DISCHARGED",
            "facts[1].directive.reopen",
            "",
        ),
        wrong(
            fact(DAY, ReportedBy::Clinician, Kind::Directive(without_order)),
            "FIELD_MISSING",
            "facts[1].directive.order",
            "orders",
        ),
    ]
}

#[tokio::test]
async fn each_wrong_fact_is_named_and_nothing_of_its_call_is_written() {
    let rig = Rig::start().await;
    let name = rig.open("invented-1").await.name;
    let cases: Vec<Wrong> = wrong_values()
        .into_iter()
        .chain(wrong_facts())
        .chain(wrong_directives())
        .collect();
    for case in cases {
        let (size, sequence) = (rig.size(), rig.sequence(&name).await);
        let request = v1::RecordFactsRequest {
            episode: name.clone(),
            request_id: request_id(),
            facts: vec![screening(DAY, &[]), case.fact],
            expected_sequence: Some(sequence),
        };
        let (code, reason, details) = refusal(rig.episodes().record_facts(request).await);
        assert_eq!(
            (code, reason.as_str()),
            (Code::InvalidArgument, case.reason),
            "{}",
            case.field
        );
        let violation = &details.bad_request().expect("fields").field_violations[0];
        assert_eq!(violation.field, case.field, "{}", case.reason);
        assert!(
            violation.description.contains(case.right),
            "`{}` in `{}`",
            case.right,
            violation.description
        );
        assert_eq!(rig.size(), size, "nothing is written: {}", case.reason);
    }
    let sequence = rig.sequence(&name).await;
    rig.record(&name, vec![screening(DAY, &[])])
        .await
        .expect("the episode goes on");
    assert_eq!(rig.sequence(&name).await, sequence + 1);
}

#[tokio::test]
async fn every_wrong_field_of_a_call_is_told_at_once() {
    let rig = Rig::start().await;
    let name = rig.open("invented-2").await.name;
    let facts = vec![
        assessed(number("active elevation", "181", "deg")),
        assessed(number("active elevation", "120", "kg")),
        fact(
            "never",
            ReportedBy::Patient,
            Kind::Event(v1::Event {
                event: "fall".into(),
            }),
        ),
    ];
    let (_, _, details) = refusal(rig.record(&name, facts).await);
    let fields: Vec<String> = details
        .bad_request()
        .unwrap()
        .field_violations
        .iter()
        .map(|found| found.field.clone())
        .collect();
    let wanted = [
        "facts[0].assessment.readings[0].value",
        "facts[1].assessment.readings[0].unit",
        "facts[2].date",
    ];
    assert_eq!(fields, wanted);
}

#[tokio::test]
async fn what_is_not_there_is_named() {
    let rig = Rig::start().await;
    let name = rig.open("invented-3").await.name;
    let missing = format!("{CLINIC}/episodes/00000000000000000000000000000000");
    let expect = |(code, reason, details): (Code, String, tonic_types::ErrorDetails),
                  wanted: &str| {
        assert_eq!((code, reason.as_str()), (Code::NotFound, wanted));
        assert!(details.resource_info().is_some());
    };
    expect(refusal(rig.next(&missing, DAY).await), "EPISODE_NOT_FOUND");
    expect(
        refusal(rig.next(&format!("{CLINIC}/episodes/clinic"), DAY).await),
        "EPISODE_NOT_FOUND",
    );
    let elsewhere = name.replace("/demo/", "/other/");
    expect(
        refusal(rig.record(&elsewhere, vec![screening(DAY, &[])]).await),
        "CLINIC_NOT_FOUND",
    );
    let decision = v1::GetDecisionRequest {
        name: format!("{name}/decisions/7"),
    };
    expect(
        refusal(rig.audit().get_decision(decision).await),
        "DECISION_NOT_FOUND",
    );
    let void = v1::VoidFactRequest {
        fact: format!("{name}/facts/9999"),
        request_id: request_id(),
        expected_sequence: Some(1),
        date: DAY.into(),
        reported_by: ReportedBy::Clinician.into(),
        who: "invented clinician".into(),
        why: "for this test".into(),
    };
    expect(
        refusal(rig.episodes().void_fact(void).await),
        "FACT_NOT_FOUND",
    );
    let mut other = episode("invented-3");
    other.pack = "knee".into();
    let open = v1::OpenEpisodeRequest {
        parent: CLINIC.into(),
        request_id: request_id(),
        episode: Some(other),
    };
    expect(
        refusal(rig.episodes().open_episode(open).await),
        "PACK_NOT_FOUND",
    );
}

#[tokio::test]
async fn an_opening_with_wrong_fields_opens_nothing() {
    let rig = Rig::start().await;
    let size = rig.size();
    let cases: [(v1::Episode, &str, &str); 6] = [
        (
            v1::Episode {
                person: String::new(),
                ..episode("x")
            },
            "FIELD_MISSING",
            "episode.person",
        ),
        (
            v1::Episode {
                side: 0,
                ..episode("x")
            },
            "ENUM_UNKNOWN",
            "episode.side",
        ),
        (
            v1::Episode {
                opened_on: "2026-04-01".into(),
                ..episode("x")
            },
            "IN_THE_FUTURE",
            "episode.opened_on",
        ),
        (
            v1::Episode {
                born_on: "2026-03-08".into(),
                ..episode("x")
            },
            "BEFORE_BIRTH",
            "episode.opened_on",
        ),
        (
            v1::Episode {
                born_on: "1980".into(),
                ..episode("x")
            },
            "FIELD_MALFORMED",
            "episode.born_on",
        ),
        (
            v1::Episode {
                external_id: "x".repeat(101),
                ..episode("x")
            },
            "TEXT_TOO_LONG",
            "episode.external_id",
        ),
    ];
    for (given, wanted, field) in cases {
        let request = v1::OpenEpisodeRequest {
            parent: CLINIC.into(),
            request_id: request_id(),
            episode: Some(given),
        };
        let (code, reason, details) = refusal(rig.episodes().open_episode(request).await);
        assert_eq!(
            (code, reason.as_str()),
            (Code::InvalidArgument, wanted),
            "{field}"
        );
        assert_eq!(
            details.bad_request().unwrap().field_violations[0].field,
            field
        );
    }
    let request = v1::OpenEpisodeRequest {
        parent: CLINIC.into(),
        ..Default::default()
    };
    assert_eq!(
        refusal(rig.episodes().open_episode(request).await).1,
        "FIELD_MISSING"
    );
    assert_eq!(rig.size(), size);
}

#[tokio::test]
async fn names_dates_languages_and_tokens_are_refused_by_field() {
    let rig = Rig::start().await;
    let (name, _) = rig.begun("invented-4").await;
    let fields = |details: tonic_types::ErrorDetails| {
        details.bad_request().unwrap().field_violations[0]
            .field
            .clone()
    };
    let (_, reason, details) = refusal(rig.next("episodes/x", DAY).await);
    assert_eq!(
        (reason.as_str(), fields(details).as_str()),
        ("FIELD_MALFORMED", "episode")
    );
    let (_, reason, details) = refusal(rig.next(&name, "2026-03-11").await);
    assert_eq!(
        (reason.as_str(), fields(details).as_str()),
        ("IN_THE_FUTURE", "as_of")
    );
    let render = v1::RenderRequest {
        episode: name.clone(),
        as_of: DAY.into(),
        language: "tlh".into(),
    };
    let (_, reason, details) = refusal(rig.prescriptions().render(render).await);
    assert_eq!(
        (reason.as_str(), fields(details).as_str()),
        ("LANGUAGE_UNKNOWN", "language")
    );
    let list = v1::ListFactsRequest {
        parent: name.clone(),
        page_token: "nonsense".into(),
        ..Default::default()
    };
    let (_, reason, details) = refusal(rig.episodes().list_facts(list).await);
    assert_eq!(
        (reason.as_str(), fields(details).as_str()),
        ("PAGE_TOKEN_REFUSED", "page_token")
    );
    let list = v1::ListFactsRequest {
        parent: name.clone(),
        page_size: -1,
        ..Default::default()
    };
    assert_eq!(
        fields(refusal(rig.episodes().list_facts(list).await).2),
        "page_size"
    );
    let next = v1::NextRequest {
        episode: name,
        as_of: DAY.into(),
        request_id: "a b".into(),
        ..Default::default()
    };
    assert_eq!(
        fields(refusal(rig.prescriptions().next(next).await).2),
        "request_id"
    );
}

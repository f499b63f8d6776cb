//! Everything that can be wrong with a call, one row each: refused by name, with the field and what would be right;
//! nothing is written, and the episode goes on.
//!
//! Leaves to others: what else the calls promise (the other modules).

#[rustfmt::skip] // a row is read as one line
mod bands;
#[rustfmt::skip] // a row is read as one line
mod calls;
#[rustfmt::skip] // a row is read as one line
mod orders;
#[rustfmt::skip] // a row is read as one line
mod reports;

use super::clinic::{Begun, Clinic};
use super::facts::{DAY, day};
use super::server::Server;
use rungwise_api::v1;
use std::collections::BTreeSet;
use tonic::{Code, Response, Status};
use tonic_types::StatusExt as _;

/// A call with its request.
#[derive(Clone)]
enum Call {
    Open(v1::OpenEpisodeRequest),
    Import(v1::ImportEpisodeRequest),
    Record(v1::RecordFactsRequest),
    Correct(v1::CorrectFactRequest),
    Void(v1::VoidFactRequest),
    Close(v1::CloseEpisodeRequest),
    Get(v1::GetEpisodeRequest),
    ListEpisodes(v1::ListEpisodesRequest),
    ListFacts(v1::ListFactsRequest),
    Watch(v1::WatchRequest),
    Next(v1::NextRequest),
    Preview(v1::PreviewRequest),
    Current(v1::CurrentRequest),
    Wanted(v1::WantedRequest),
    Render(v1::RenderRequest),
    SignOff(v1::SignOffRequest),
    ListDecisions(v1::ListDecisionsRequest),
    GetDecision(v1::GetDecisionRequest),
    Explain(v1::ExplainDecisionRequest),
    Recompute(v1::RecomputeDecisionRequest),
    Verify(v1::VerifyLedgerRequest),
    GetPack(v1::GetPackRequest),
    RecordRoll(v1::RecordRollRequest),
    GetRoll(v1::GetRollRequest),
    ListRolls(v1::ListRollsRequest),
    WithdrawRoll(v1::WithdrawRollRequest),
}

impl Call {
    async fn send(self, clinic: &Clinic) -> Result<(), Status> {
        let (mut episodes, mut prescriptions) =
            (clinic.episodes.clone(), clinic.prescriptions.clone());
        let (mut audit, mut packs) = (clinic.audit.clone(), clinic.packs.clone());
        let mut bands = clinic.bands.clone();
        let done = |_: ()| ();
        match self {
            Self::Open(request) => episodes.open_episode(request).await.map(drop_answer),
            Self::Import(request) => episodes.import_episode(request).await.map(drop_answer),
            Self::Record(request) => episodes.record_facts(request).await.map(drop_answer),
            Self::Correct(request) => episodes.correct_fact(request).await.map(drop_answer),
            Self::Void(request) => episodes.void_fact(request).await.map(drop_answer),
            Self::Close(request) => episodes.close_episode(request).await.map(drop_answer),
            Self::Get(request) => episodes.get_episode(request).await.map(drop_answer),
            Self::ListEpisodes(request) => episodes.list_episodes(request).await.map(drop_answer),
            Self::ListFacts(request) => episodes.list_facts(request).await.map(drop_answer),
            Self::Watch(request) => episodes.watch(request).await.map(drop_answer),
            Self::Next(request) => prescriptions.next(request).await.map(drop_answer),
            Self::Preview(request) => prescriptions.preview(request).await.map(drop_answer),
            Self::Current(request) => prescriptions.current(request).await.map(drop_answer),
            Self::Wanted(request) => prescriptions.wanted(request).await.map(drop_answer),
            Self::Render(request) => prescriptions.render(request).await.map(drop_answer),
            Self::SignOff(request) => prescriptions.sign_off(request).await.map(drop_answer),
            Self::ListDecisions(request) => audit.list_decisions(request).await.map(drop_answer),
            Self::GetDecision(request) => audit.get_decision(request).await.map(drop_answer),
            Self::Explain(request) => audit.explain_decision(request).await.map(drop_answer),
            Self::Recompute(request) => audit.recompute_decision(request).await.map(drop_answer),
            Self::Verify(request) => audit.verify_ledger(request).await.map(drop_answer),
            Self::GetPack(request) => packs.get_pack(request).await.map(drop_answer),
            Self::RecordRoll(request) => bands.record_roll(request).await.map(drop_answer),
            Self::GetRoll(request) => bands.get_roll(request).await.map(drop_answer),
            Self::ListRolls(request) => bands.list_rolls(request).await.map(drop_answer),
            Self::WithdrawRoll(request) => bands.withdraw_roll(request).await.map(drop_answer),
        }
        .map(done)
    }
}

fn drop_answer<T>(_: Response<T>) {}

/// One thing that is wrong, and what must be said of it.
struct Row {
    what: &'static str,
    call: Call,
    code: Code,
    reason: v1::Reason,
    /// The path of the field; empty where no field is to blame.
    field: &'static str,
    /// What the message says would be right.
    says: String,
}

/// A row about a field.
fn wrong(
    what: &'static str,
    call: Call,
    reason: v1::Reason,
    field: &'static str,
    says: &str,
) -> Row {
    Row {
        what,
        call,
        code: Code::InvalidArgument,
        reason,
        field,
        says: says.to_owned(),
    }
}

/// A row about anything else.
fn refused(what: &'static str, call: Call, code: Code, reason: v1::Reason, says: &str) -> Row {
    Row {
        what,
        call,
        code,
        reason,
        field: "",
        says: says.to_owned(),
    }
}

/// The rows about one subject, for an episode that has begun.
type Rows = fn(&Begun) -> Vec<Row>;

/// Every row, by subject.
const SUBJECTS: [Rows; 14] = [
    reports::values,
    reports::names,
    reports::bands,
    reports::times,
    reports::shapes,
    orders::rows,
    calls::fields,
    calls::opening,
    calls::sequences,
    calls::states,
    calls::strangers,
    bands::rolls,
    bands::calls,
    bands::cuts,
];

/// What is not as it should be with a refusal; empty where everything is.
fn faults(row: &Row, status: &Status) -> Vec<String> {
    let mut faults = Vec::new();
    let mut must = |holds: bool, what: String| {
        if !holds {
            faults.push(what);
        }
    };
    let details = status.get_error_details();
    must(
        status.code() == row.code,
        format!("code {:?}, wanted {:?}", status.code(), row.code),
    );
    must(
        status.message().contains(&row.says),
        format!("message `{}` without `{}`", status.message(), row.says),
    );
    let info = details.error_info();
    let reason = row.reason.as_str_name().trim_start_matches("REASON_");
    let found = info.map(|info| (info.reason.as_str(), info.domain.as_str()));
    must(
        found == Some((reason, "rungwise")),
        format!("{found:?}, wanted {reason}"),
    );
    let violations = details
        .bad_request()
        .map(|bad| bad.field_violations.as_slice())
        .unwrap_or_default();
    let of_field = violations
        .iter()
        .find(|violation| violation.field == row.field);
    if row.field.is_empty() {
        must(violations.is_empty(), format!("blames {violations:?}"));
    } else {
        must(
            of_field.is_some(),
            format!("blames {violations:?}, wanted `{}`", row.field),
        );
        let says = of_field.is_some_and(|violation| violation.description.contains(&row.says));
        must(says, format!("{of_field:?} without `{}`", row.says));
    }
    let has = |code: Code| row.code == code;
    must(
        details.precondition_failure().is_some() == has(Code::FailedPrecondition),
        "PreconditionFailure".into(),
    );
    must(
        details.resource_info().is_some() == (has(Code::NotFound) || has(Code::AlreadyExists)),
        "ResourceInfo".into(),
    );
    must(
        details.retry_info().is_some() == has(Code::Aborted),
        "RetryInfo".into(),
    );
    faults
}

/// Sends every row of one subject, each to an episode of its own.
async fn check(rows: Rows) {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let count = rows(&nowhere()).len();
    let mut findings = Vec::new();
    for at in 0..count {
        let begun = clinic
            .begin(&format!("invented-{at}"), v1::Side::Left)
            .await;
        let row = rows(&begun).swap_remove(at);
        let before = clinic.verified().await;
        let found = match row.call.clone().send(&clinic).await {
            Ok(()) => vec!["was accepted".to_owned()],
            Err(status) => faults(&row, &status),
        };
        findings.extend(
            found
                .into_iter()
                .map(|fault| format!("{}: {fault}", row.what)),
        );
        let after = clinic.verified().await;
        if (after.size, &after.root) != (before.size, &before.root) {
            findings.push(format!("{}: something was written", row.what));
        }
        if let Err(stuck) = goes_on(&clinic, &begun).await {
            findings.push(format!("{}: the episode does not go on: {stuck}", row.what));
        }
    }
    assert!(
        findings.is_empty(),
        "of {count} rows:\n{}",
        findings.join("\n")
    );
}

macro_rules! subjects {
    ($($test:ident: $rows:path,)+) => {
        $(
            #[tokio::test]
            async fn $test() {
                check($rows).await;
            }
        )+
    };
}

subjects! {
    a_value_that_is_wrong: reports::values,
    a_name_that_is_wrong: reports::names,
    a_band_that_is_wrong: reports::bands,
    a_time_that_is_wrong: reports::times,
    a_report_of_the_wrong_shape: reports::shapes,
    an_order_that_is_wrong: orders::rows,
    a_field_of_a_call_that_is_wrong: calls::fields,
    an_opening_that_is_wrong: calls::opening,
    a_sequence_that_is_missing_or_stale: calls::sequences,
    a_call_at_the_wrong_time: calls::states,
    a_name_of_what_is_not_there: calls::strangers,
    a_roll_that_is_wrong: bands::rolls,
    a_call_about_rolls_that_is_wrong: bands::calls,
    a_band_cut_from_what_is_no_roll: bands::cuts,
}

/// An episode that is on no server: enough to count and to name the rows.
fn nowhere() -> Begun {
    let episode = "clinics/demo/episodes/nowhere".to_owned();
    let decision = v1::Decision {
        name: format!("{episode}/decisions/0"),
        ..Default::default()
    };
    let session = format!("{episode}/facts/9");
    Begun {
        episode,
        session,
        decision,
        prescription: v1::Prescription::default(),
        sequence: 5,
    }
}

/// The next sound fact and the next decision land where the last ones ended.
async fn goes_on(clinic: &Clinic, begun: &Begun) -> Result<(), String> {
    let recorded = clinic
        .record(&begun.episode, vec![super::facts::morning(&day(2))])
        .await;
    let recorded = recorded.map_err(|status| status.to_string())?;
    if recorded.sequence != begun.sequence + 1 {
        return Err(format!(
            "the sequence is {}, not {}",
            recorded.sequence,
            begun.sequence + 1
        ));
    }
    let next = clinic
        .next(&begun.episode, &day(2))
        .await
        .map_err(|status| status.to_string())?;
    let number = next.decision.map(|decision| decision.number);
    if number != Some(1) || !next.recorded {
        return Err(format!("decision {number:?}, recorded {}", next.recorded));
    }
    Ok(())
}

/// Reasons that no row brings about, and where they are shown.
const ELSEWHERE: [(v1::Reason, &str); 37] = [
    (v1::Reason::Unspecified, "never sent"),
    (
        v1::Reason::TooBoldForAClinic,
        "no call gives a directive to a whole clinic yet",
    ),
    (
        v1::Reason::FollowsNothing,
        "`a_session_follows_only_what_prescribed`",
    ),
    (
        v1::Reason::AlreadyVoid,
        "`a_void_fact_counts_no_more_and_is_not_voided_again`",
    ),
    (
        v1::Reason::NotCorrectable,
        "`a_directive_is_not_corrected_but_withdrawn`",
    ),
    (
        v1::Reason::NoWorseEnd,
        "unit tests of admission: every measure of the pack has a worse end",
    ),
    (
        v1::Reason::NoSuchRung,
        "unit tests of admission: every ladder of the pack has all combinations of its start",
    ),
    (v1::Reason::Contended, "`together`, where it may happen"),
    (
        v1::Reason::EpisodeClosed,
        "`a_closed_episode_takes_nothing_more`",
    ),
    (v1::Reason::EpisodeFull, "50,000 entries"),
    (
        v1::Reason::NothingPrescribed,
        "`nothing_is_rendered_before_the_first_prescription`",
    ),
    (
        v1::Reason::AlreadyWithdrawn,
        "`a_roll_withdrawn_stays_readable_and_is_not_withdrawn_again`",
    ),
    (v1::Reason::CatalogueFull, "unit tests of the server"),
    (v1::Reason::TooManyCalls, "unit tests of the server"),
    (v1::Reason::TooManyCallsOfClinic, "unit tests of the server"),
    (v1::Reason::StoreOverloaded, "unit tests of the server"),
    (v1::Reason::DeadlinePassed, "`edges`"),
    (v1::Reason::Stopping, "unit tests of the server"),
    (v1::Reason::StoreStopped, "unit tests of the server"),
    (v1::Reason::MessageTooLarge, "`edges`"),
    (v1::Reason::HostRefused, "`edges`"),
    (v1::Reason::EntryDamaged, "crates/store"),
    (v1::Reason::Fault, "a fault of the program"),
    (
        v1::Reason::SignatureRefused,
        "crates/server/tests/grpc/life.rs",
    ),
    (v1::Reason::PackNotReady, "crates/server/tests/grpc/life.rs"),
    (
        v1::Reason::ProposalNotFound,
        "crates/server/tests/grpc/life.rs",
    ),
    (
        v1::Reason::ClinicDirectiveNotFound,
        "crates/server/tests/grpc/life.rs",
    ),
    (v1::Reason::NoLeads, "crates/server/tests/grpc/life.rs"),
    (
        v1::Reason::ProposalPending,
        "crates/server/tests/grpc/life.rs",
    ),
    (
        v1::Reason::ProposalClosed,
        "crates/server/tests/grpc/life.rs",
    ),
    (v1::Reason::SameLead, "crates/server/tests/grpc/life.rs"),
    (v1::Reason::PackInForce, "crates/server/tests/grpc/life.rs"),
    (
        v1::Reason::AlreadyLifted,
        "crates/server/tests/grpc/life.rs",
    ),
    (v1::Reason::ProposalsFull, "500 proposals"),
    (v1::Reason::DirectivesFull, "200 directives"),
    (
        v1::Reason::TooManyChecks,
        "crates/server/tests/grpc/impact.rs, where it may happen",
    ),
    (
        v1::Reason::RequestIdReused,
        "`a_request_id_belongs_to_its_request`",
    ),
];

#[test]
fn every_reason_of_the_contract_is_shown_somewhere() {
    let rows: Vec<Row> = SUBJECTS.iter().flat_map(|rows| rows(&nowhere())).collect();
    let mut shown: BTreeSet<i32> = rows.iter().map(|row| row.reason.into()).collect();
    for (reason, place) in ELSEWHERE {
        assert!(
            shown.insert(reason.into()),
            "{} has a row and is said to be elsewhere: {place}",
            reason.as_str_name()
        );
    }
    let known: BTreeSet<i32> = (0..1_000)
        .filter(|value| v1::Reason::try_from(*value).is_ok())
        .collect();
    let name = |value: &i32| v1::Reason::try_from(*value).unwrap().as_str_name();
    assert_eq!(
        known.difference(&shown).map(name).collect::<Vec<_>>(),
        Vec::<&str>::new()
    );
}

/// All that is wrong with a request comes in one answer, and the sound facts beside it are not recorded.
#[tokio::test]
async fn everything_wrong_comes_at_once() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let facts = vec![
        super::facts::event(DAY, "fall"),
        super::facts::session_of(
            &day(3),
            vec![
                super::facts::report(
                    "er-isometric",
                    vec![super::facts::number("pain during exercise", "3", "kg")],
                ),
                super::facts::report(
                    "ir-isometric",
                    vec![super::facts::score("pain during exercise", 11)],
                ),
            ],
        ),
        super::facts::screened(DAY, vec![super::facts::choice("moon phase", "full")]),
    ];
    let status = clinic
        .record(&begun.episode, facts)
        .await
        .expect_err("three things are wrong");
    let details = status.get_error_details();
    let fields: Vec<&str> = details
        .bad_request()
        .unwrap()
        .field_violations
        .iter()
        .map(|one| one.field.as_str())
        .collect();
    assert_eq!(
        fields,
        [
            "facts[1].session.exercises[0].readings[0].unit",
            "facts[1].session.exercises[1].readings[0].value",
            "facts[2].screening.readings[0].measure",
        ]
    );
    assert!(
        status.message().ends_with("(and 2 more)"),
        "{}",
        status.message()
    );
    goes_on(&clinic, &begun).await.unwrap();
}

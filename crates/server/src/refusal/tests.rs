//! Every refusal carries one reason, and the details that its code promises.

use super::*;

fn all() -> Vec<Refusal> {
    vec![
        Refusal::field(
            "facts[0].date",
            Reason::InTheFuture,
            "dated in the future",
            "a date up to 2026-03-10",
        ),
        Refusal::no_episode("clinics/demo/episodes/x"),
        Refusal::RequestReused {
            request_id: "r".into(),
        },
        Refusal::Stale {
            episode: "e".into(),
            expected: 3,
            found: 4,
        },
        Refusal::Contended {
            episode: "e".into(),
        },
        Refusal::Precondition {
            reason: Reason::EpisodeClosed,
            subject: "e".into(),
            wrong: "it is closed".into(),
            right: "open another".into(),
        },
        Refusal::Busy(Reason::TooManyCalls),
        Refusal::TooLarge,
        Refusal::DeadlinePassed,
        Refusal::Stopping,
        Refusal::StoreStopped("drained".into()),
        Refusal::Damaged("entry 3".into()),
        Refusal::HostRefused("example.org".into()),
        Refusal::Fault("x".into()),
    ]
}

#[test]
fn every_refusal_carries_its_reason_and_its_details() {
    for refusal in all() {
        let status = refusal.status();
        let details = status.get_error_details();
        let info = details.error_info().expect("error info");
        assert_eq!(info.domain, "rungwise");
        assert!(
            !info.reason.starts_with("REASON_") && info.reason.len() <= 63,
            "{}",
            info.reason
        );
        let about = format!("{refusal:?}");
        assert_eq!(
            details.bad_request().is_some(),
            status.code() == Code::InvalidArgument,
            "{about}"
        );
        assert_eq!(
            details.precondition_failure().is_some(),
            status.code() == Code::FailedPrecondition,
            "{about}"
        );
        let resource = matches!(status.code(), Code::NotFound | Code::AlreadyExists);
        assert_eq!(details.resource_info().is_some(), resource, "{about}");
        let again = matches!(
            status.code(),
            Code::ResourceExhausted | Code::Unavailable | Code::Aborted
        );
        // A message that is too large now is too large later.
        let again = again && refusal != Refusal::TooLarge;
        assert_eq!(details.retry_info().is_some(), again, "{about}");
    }
}

#[test]
fn a_batch_says_what_a_single_call_says() {
    for refusal in all() {
        let (status, wire) = (refusal.status(), refusal.to_wire());
        assert_eq!(wire.code, i32::from(status.code()));
        assert_eq!(wire.message, status.message());
        assert_eq!(
            Some(wire.reason),
            status
                .get_error_details()
                .error_info()
                .map(|info| info.reason.clone())
        );
        let fields = status
            .get_error_details()
            .bad_request()
            .map_or(0, |bad| bad.field_violations.len());
        assert_eq!(wire.field_violations.len(), fields);
    }
}

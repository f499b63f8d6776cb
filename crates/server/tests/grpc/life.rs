//! The life of a pack: who may propose and approve it, from when and for whom it decides, and that nothing else does.

use crate::leads::*;
use crate::packs::assert_every_decision_is_made_again;
use crate::rig::*;
use rungwise_api::v1::{self, PackFor, ProposalState, directive::Order};
use rungwise_pack::source::SourceFiles;
use rungwise_server::{ServeConfig, ServeError, serve};
use tonic::Code;

const ALL: (&str, PackFor, &str) = ("", PackFor::All, "all");

/// The pack under which the next decision of this date is made, after a word that changes nothing else.
async fn pack_of(rig: &Rig, episode: &str, as_of: &str) -> String {
    rig.record(episode, vec![screening(as_of, &[])])
        .await
        .expect("recorded");
    let next = rig.next(episode, as_of).await.expect("decided");
    next.decision.expect("a decision").pack
}

#[tokio::test]
async fn without_leads_every_step_says_how_to_have_them_and_writes_nothing() {
    let rig = Rig::start().await;
    let size = rig.size();
    let proposed = rig
        .propose(proposing(&lead(1), draft("9.0.0"), "9.0.0", ALL))
        .await;
    let (code, reason, details) = refusal(proposed);
    assert_eq!(
        (code, reason.as_str()),
        (Code::FailedPrecondition, "NO_LEADS")
    );
    let said = &details.precondition_failure().expect("details").violations[0];
    assert!(said.description.contains("rungwise rules key"), "{said:?}");
    let directed = rig
        .direct("", DAY, Order::Hold(v1::HoldOrder {}), "hold")
        .await;
    assert_eq!(refusal(directed).1, "NO_LEADS");
    assert_eq!(rig.size(), size);
}

#[tokio::test]
async fn with_leads_no_pack_comes_into_force_from_the_command_line() {
    let rig = led().await;
    let (dir, ended) = rig.stop().await;
    ended.expect("it stopped");
    let store = open_store(&dir.path().join("store")).await;
    let config = ServeConfig::new(store, vec![pack_files()]);
    let refused = serve(config, std::future::pending()).await;
    assert!(
        matches!(refused, Err(ServeError::PacksAreForLeads)),
        "{refused:?}"
    );
    // What came with the program is left out without a word, and the leads need not be named again.
    let rig = Rig::start_with(dir, SourceFiles::default(), |config| {
        config.packs.clear();
        config.built_in = vec![SourceFiles::default()];
    })
    .await;
    let name = rig.put_in_force("9.0.0", ALL).await;
    let (episode, _) = rig.begun("invented-1").await;
    assert_eq!(pack_of(&rig, &episode, &day(1)).await, name);
}

#[tokio::test]
async fn nobody_approves_alone_and_a_signature_is_for_one_step() {
    let rig = led().await;
    let new = draft("9.0.0");
    let (digest, name) = (digest(&new), name_of(&new));
    let size = rig.size();
    let sound = proposing(&lead(1), new, "9.0.0", ALL);
    for (what, forged) in [
        (
            "a stranger's",
            v1::ProposePackRequest {
                signature: proposing(&lead(3), draft("9.0.0"), "9.0.0", ALL).signature,
                ..sound.clone()
            },
        ),
        (
            "for other episodes",
            v1::ProposePackRequest {
                for_episodes: PackFor::New.into(),
                ..sound.clone()
            },
        ),
        (
            "another reason",
            v1::ProposePackRequest {
                why: "because".into(),
                ..sound.clone()
            },
        ),
        (
            "another request",
            v1::ProposePackRequest {
                request_id: request_id(),
                ..sound.clone()
            },
        ),
        (
            "another pack",
            v1::ProposePackRequest {
                draft: Some(draft("9.0.1")),
                ..sound.clone()
            },
        ),
    ] {
        let (code, reason, details) = refusal(rig.propose(forged).await);
        assert_eq!(
            (code, reason.as_str()),
            (Code::InvalidArgument, "SIGNATURE_REFUSED"),
            "{what}"
        );
        let said = &details.bad_request().expect("details").field_violations[0];
        assert!(said.description.contains("step: propose"), "{said:?}");
    }
    assert_eq!(rig.size(), size, "nothing was written");

    let proposal = rig
        .propose(sound.clone())
        .await
        .expect("it stands proposed");
    assert_eq!(proposal.state(), ProposalState::Open);
    assert_eq!(proposal.pack, name);
    let again = rig.propose(sound).await.expect("the same request again");
    assert_eq!(again, proposal);
    let (episode, _) = rig.begun("invented-1").await;
    assert_ne!(
        pack_of(&rig, &episode, &day(1)).await,
        name,
        "it is only proposed"
    );

    let own = rig
        .approve(approving(&lead(1), &proposal.name, &digest))
        .await;
    assert_eq!(refusal(own).1, "SAME_LEAD");
    let stranger = rig
        .approve(approving(&lead(3), &proposal.name, &digest))
        .await;
    assert_eq!(refusal(stranger).1, "SIGNATURE_REFUSED");
    let other = rig
        .approve(approving(&lead(2), &proposal.name, &[7; 32]))
        .await;
    assert_eq!(refusal(other).1, "SIGNATURE_REFUSED", "of another digest");
    let absent = rig
        .approve(approving(&lead(2), "clinics/demo/proposals/0", &digest))
        .await;
    assert_eq!(refusal(absent).1, "PROPOSAL_NOT_FOUND");
    let approved = rig
        .approve(approving(&lead(2), &proposal.name, &digest))
        .await;
    assert_eq!(approved.expect("approved").state(), ProposalState::Approved);
    assert_eq!(pack_of(&rig, &episode, &day(2)).await, name);
    let twice = rig
        .approve(approving(&lead(2), &proposal.name, &digest))
        .await;
    assert_eq!(refusal(twice).1, "PROPOSAL_CLOSED");
    let same = proposing(&lead(1), draft("9.0.0"), "9.0.0", ALL);
    assert_eq!(refusal(rig.propose(same).await).1, "PACK_IN_FORCE");
    let nowhere = rig.lift("clinics/demo/directives/1", NOW).await;
    assert_eq!(refusal(nowhere).1, "CLINIC_DIRECTIVE_NOT_FOUND");
    assert_every_decision_is_made_again(&rig).await;
}

#[tokio::test]
async fn what_is_not_ready_is_not_proposed_and_says_why() {
    let rig = led().await;
    let size = rig.size();
    let broken = |path: &str, from: &str, to: &str| {
        let mut draft = draft("9.0.0");
        for file in &mut draft.files {
            if file.path == path {
                assert!(file.text.contains(from), "{path} has no `{from}`");
                file.text = file.text.replacen(from, to, 1);
            }
        }
        draft
    };
    let mut silent = draft("9.0.0");
    silent
        .files
        .retain(|file| !file.path.starts_with("diaries/"));
    for (what, draft, said) in [
        (
            "an error",
            broken("phases.toml", "[[phase]]", "[[phrase]]"),
            "RW",
        ),
        (
            "a diary that differs",
            broken(
                "diaries/flare-up.toml",
                "outcome = \"HOLD\"",
                "outcome = \"PROGRESS\"",
            ),
            "expected PROGRESS",
        ),
        ("no diary", silent, "no diary"),
    ] {
        let request = v1::CheckPackRequest {
            parent: CLINIC.into(),
            draft: Some(draft.clone()),
        };
        let found = rig
            .packs()
            .check_pack(request)
            .await
            .expect("checked")
            .into_inner();
        assert!(!found.ready, "{what}");
        let refused = rig.propose(proposing(&lead(1), draft, "9.0.0", ALL)).await;
        let (code, reason, details) = refusal(refused);
        assert_eq!(
            (code, reason.as_str()),
            (Code::InvalidArgument, "PACK_NOT_READY"),
            "{what}"
        );
        let violations = &details.bad_request().expect("details").field_violations;
        assert!(
            violations.iter().any(|one| one.description.contains(said)),
            "{what}: {violations:?}"
        );
    }
    let request = v1::CheckPackRequest {
        parent: CLINIC.into(),
        draft: Some(draft("9.0.0")),
    };
    let found = rig
        .packs()
        .check_pack(request)
        .await
        .expect("checked")
        .into_inner();
    assert!(found.ready && found.diaries.iter().all(|diary| diary.agrees));
    assert_eq!(found.name, name_of(&draft("9.0.0")));
    assert_eq!(rig.size(), size, "nothing was written");
}

#[tokio::test]
async fn a_pack_decides_from_its_date_on_and_one_proposal_is_pending_at_a_time() {
    let rig = led().await;
    let (episode, first) = rig.begun("invented-1").await;
    let old = first.decision.expect("a decision").pack;
    let terms = ("2026-03-10", PackFor::All, "all");
    let new = rig.put_in_force("9.0.0", terms).await;
    assert_eq!(pack_of(&rig, &episode, NOW).await, old);
    let proposal = newest_proposal(&rig).await;
    let other = rig
        .propose(proposing(&lead(1), draft("9.0.1"), "9.0.1", ALL))
        .await;
    assert_eq!(
        refusal(other).1,
        "PROPOSAL_PENDING",
        "one is to come into force"
    );
    let past = ("2026-03-08", PackFor::All, "all");
    let past = rig
        .propose(proposing(&lead(1), draft("9.0.1"), "9.0.1", past))
        .await;
    assert_eq!(refusal(past).1, "OUT_OF_BOUNDS");
    assert_eq!(pack_of(&rig, &episode, "2026-03-10").await, new);

    // Withdrawn before its date, it decides nothing more; what it decided stays as it was.
    let digest = digest(&draft("9.0.0"));
    let withdraw = withdrawing(&lead(1), &proposal.name, &digest);
    let withdrawn = rig
        .packs()
        .withdraw_proposal(withdraw)
        .await
        .expect("withdrawn");
    let withdrawn = withdrawn.into_inner().proposal.expect("the proposal");
    assert_eq!(withdrawn.state(), ProposalState::Withdrawn);
    assert_eq!(pack_of(&rig, &episode, "2026-03-10").await, old);
    let twice = withdrawing(&lead(1), &proposal.name, &digest);
    let twice = rig.packs().withdraw_proposal(twice).await;
    assert_eq!(refusal(twice).1, "PROPOSAL_CLOSED");
    assert_every_decision_is_made_again(&rig).await;
}

async fn newest_proposal(rig: &Rig) -> v1::PackProposal {
    let request = v1::ListProposalsRequest {
        parent: CLINIC.into(),
        page_size: 1,
        ..v1::ListProposalsRequest::default()
    };
    let listed = rig.packs().list_proposals(request).await.expect("listed");
    listed.into_inner().proposals.pop().expect("a proposal")
}

#[tokio::test]
async fn episodes_move_when_the_leads_said_and_a_store_opened_again_goes_on_so() {
    let rig = led().await;
    let (waits, first) = rig.begun("invented-1").await;
    let old = first.decision.expect("a decision").pack;
    let (stays, _) = rig.begun("invented-2").await;
    let not_begun = rig.open("invented-3").await.name;

    let new = rig.put_in_force("9.0.0", ("", PackFor::New, "new")).await;
    let (fresh, _) = rig.begun("invented-4").await;
    for (episode, wanted) in [
        (&waits, &old),
        (&stays, &old),
        (&not_begun, &old),
        (&fresh, &new),
    ] {
        assert_eq!(&pack_of(&rig, episode, &day(1)).await, wanted, "{episode}");
    }

    let newer = rig
        .put_in_force("9.1.0", ("", PackFor::NextPhase, "next-phase"))
        .await;
    assert_eq!(pack_of(&rig, &waits, &day(2)).await, old);
    assert_eq!(pack_of(&rig, &fresh, &day(2)).await, new);
    let place = v1::directive::Order::Place(v1::PlaceOrder {
        phase: "active-range".into(),
        places: Vec::new(),
    });
    let placed = v1::Directive {
        who: "clinician-1".into(),
        why: "for a test".into(),
        order: Some(place),
        ..v1::Directive::default()
    };
    let placed = fact(
        &day(3),
        v1::ReportedBy::Clinician,
        v1::fact::Kind::Directive(placed),
    );
    let request = v1::RecordFactsRequest {
        episode: waits.clone(),
        request_id: request_id(),
        expected_sequence: Some(rig.sequence(&waits).await),
        facts: vec![placed],
    };
    rig.episodes().record_facts(request).await.expect("placed");
    let moved = rig.next(&waits, &day(3)).await.expect("decided");
    let moved = moved.decision.expect("a decision");
    assert_eq!((moved.phase.as_str(), &moved.pack), ("active-range", &old));
    assert_eq!(pack_of(&rig, &waits, &day(4)).await, newer);
    assert_eq!(pack_of(&rig, &stays, &day(4)).await, old);

    let (dir, ended) = rig.stop().await;
    ended.expect("it stopped");
    let rig = led_again(dir).await;
    assert_eq!(pack_of(&rig, &waits, &day(5)).await, newer);
    assert_eq!(pack_of(&rig, &stays, &day(5)).await, old);
    assert_eq!(pack_of(&rig, &fresh, &day(5)).await, new);

    // The way back is to propose what was in force before, by its name.
    let proposal = newest_proposal(&rig).await;
    let late = withdrawing(&lead(1), &proposal.name, &digest(&draft("9.1.0")));
    let late = rig.packs().withdraw_proposal(late).await;
    assert_eq!(refusal(late).1, "PROPOSAL_CLOSED");
    let (digest, version) = digest_and_version(&rig, &old).await;
    let back = v1::ProposePackRequest {
        draft: None,
        pack: old.clone(),
        ..proposing_kept(&digest, &version)
    };
    let back = rig.propose(back).await.expect("it stands proposed");
    rig.approve(approving(&lead(2), &back.name, &digest))
        .await
        .expect("approved");
    for episode in [&waits, &stays, &fresh] {
        assert_eq!(pack_of(&rig, episode, &day(6)).await, old, "{episode}");
    }
    assert_every_decision_is_made_again(&rig).await;
}

async fn digest_and_version(rig: &Rig, name: &str) -> ([u8; 32], String) {
    let request = v1::GetPackRequest {
        name: name.into(),
        with_files: true,
        ..v1::GetPackRequest::default()
    };
    let found = rig
        .packs()
        .get_pack(request)
        .await
        .expect("kept")
        .into_inner();
    let files = found.files.into_iter().map(|file| (file.path, file.text));
    let digest = rungwise_pack::digest(&SourceFiles::new(files.collect()));
    (digest, found.pack.expect("the pack").version)
}

/// A sound proposal of a kept pack for every episode, by lead one.
fn proposing_kept(digest: &[u8; 32], version: &str) -> v1::ProposePackRequest {
    use rungwise_ledger::step::{self, Step};
    let request_id = request_id();
    let step = Step::Propose {
        pack: (PACK, version),
        digest,
        from: None,
        for_episodes: "all",
    };
    let text = step::text("demo", &request_id, &step, WHY).expect("a text");
    v1::ProposePackRequest {
        parent: CLINIC.into(),
        signature: step::sign(&lead(1), &text).expect("signed"),
        request_id,
        for_episodes: PackFor::All.into(),
        why: WHY.into(),
        ..v1::ProposePackRequest::default()
    }
}

#[tokio::test]
async fn a_directive_of_the_clinic_binds_every_episode_at_once_until_it_is_lifted() {
    let rig = led().await;
    let (episode, _) = rig.begun("invented-1").await;
    let hold = rig
        .direct("", &day(1), Order::Hold(v1::HoldOrder {}), "hold")
        .await
        .expect("given");
    let (later, begun) = rig.begun("invented-2").await;
    let begun = begun.decision.expect("a decision");
    assert_eq!(begun.as_of, DAY, "before it binds");
    for name in [&episode, &later] {
        rig.record(name, vec![screening(&day(1), &[])])
            .await
            .expect("recorded");
        let held = rig.next(name, &day(1)).await.expect("decided");
        let held = held.decision.expect("a decision");
        assert_eq!(held.outcome(), v1::Outcome::Hold, "{name}");
        let facts = v1::ListFactsRequest {
            parent: name.clone(),
            ..v1::ListFactsRequest::default()
        };
        let facts = rig
            .episodes()
            .list_facts(facts)
            .await
            .expect("listed")
            .into_inner()
            .facts;
        let wide = facts
            .iter()
            .filter_map(|fact| match fact.fact.as_ref()?.kind.as_ref()? {
                v1::fact::Kind::Directive(directive) => Some((fact, directive)),
                _ => None,
            });
        let wide: Vec<_> = wide.collect();
        assert_eq!(wide.len(), 1, "{facts:?}");
        assert!(wide[0].1.clinic_wide && wide[0].0.sequence == 0);
        // It cannot be ended from within an episode.
        let end = v1::Directive {
            who: "clinician-1".into(),
            why: WHY.into(),
            order: Some(Order::Withdraw(v1::WithdrawOrder {
                directive: wide[0].0.name.clone(),
            })),
            ..v1::Directive::default()
        };
        let request = v1::RecordFactsRequest {
            episode: name.clone(),
            request_id: request_id(),
            expected_sequence: Some(rig.sequence(name).await),
            facts: vec![fact(
                &day(1),
                v1::ReportedBy::Clinician,
                v1::fact::Kind::Directive(end),
            )],
        };
        let ended = rig.episodes().record_facts(request).await;
        assert_eq!(refusal(ended).1, "NOT_A_DIRECTIVE");
    }
    let lifted = rig.lift(&hold, &day(2)).await.expect("lifted");
    assert_eq!(lifted.lifted_on, day(2));
    assert_eq!(refusal(rig.lift(&hold, &day(2)).await).1, "ALREADY_LIFTED");
    let (dir, ended) = rig.stop().await;
    ended.expect("it stopped");
    let rig = led_again(dir).await;
    for name in [&episode, &later] {
        rig.record(name, vec![screening(&day(2), &[])])
            .await
            .expect("recorded");
        let free = rig.next(name, &day(2)).await.expect("decided");
        let free = free.decision.expect("a decision");
        assert_eq!(free.outcome(), v1::Outcome::Continue, "{name}");
    }
    assert_every_decision_is_made_again(&rig).await;
}

#[tokio::test]
async fn an_episode_read_from_its_snapshot_is_bound_by_what_came_before_it_and_after() {
    let rig = led().await;
    let (episode, _) = rig.begun("invented-1").await;
    rig.direct("", DAY, Order::Hold(v1::HoldOrder {}), "hold")
        .await
        .expect("given");
    let many = (0..40).map(|_| screening(&day(1), &[])).collect();
    rig.record(&episode, many).await.expect("recorded");
    // Long enough by now for a snapshot, which leaves out what stands in the clinic's stream.
    rig.next(&episode, &day(1)).await.expect("decided");
    rig.direct(PACK, &day(1), Order::Pause(v1::PauseOrder {}), "pause")
        .await
        .expect("given");
    let facts = async |rig: &Rig| {
        let request = v1::ListFactsRequest {
            parent: episode.clone(),
            page_size: 100,
            ..v1::ListFactsRequest::default()
        };
        let listed = rig.episodes().list_facts(request).await.expect("listed");
        listed.into_inner().facts
    };
    let before = facts(&rig).await;
    let positions: Vec<u64> = before.iter().map(|fact| fact.position).collect();
    assert!(positions.is_sorted(), "{positions:?}");
    let wide = before.iter().filter(|fact| fact.sequence == 0).count();
    assert_eq!(wide, 2);
    let (dir, ended) = rig.stop().await;
    ended.expect("it stopped");
    let rig = led_again(dir).await;
    assert_eq!(facts(&rig).await, before);
    let next = rig.next(&episode, &day(2)).await.expect("decided");
    let prescription = next.prescription.expect("a prescription");
    assert_eq!(prescription.exercises, [], "it is paused");
    assert_eq!(
        next.decision.expect("a decision").outcome(),
        v1::Outcome::Hold
    );
    assert_every_decision_is_made_again(&rig).await;
}

#[tokio::test]
async fn only_what_is_cautious_and_understood_binds_a_clinic() {
    let rig = led().await;
    let size = rig.size();
    let leave_out = |exercise: &str| {
        Order::LeaveOut(v1::LeaveOutOrder {
            exercise: exercise.into(),
        })
    };
    let bold = Order::Reopen(v1::ReopenOrder {});
    let ends = Order::Withdraw(v1::WithdrawOrder {
        directive: "clinics/demo/episodes/x/facts/1".into(),
    });
    for (pack, order, words, wanted) in [
        (PACK, bold, "none", "TOO_BOLD_FOR_A_CLINIC"),
        (PACK, ends, "none", "TOO_BOLD_FOR_A_CLINIC"),
        (
            PACK,
            leave_out("no-such"),
            "leave out no-such",
            "UNKNOWN_EXERCISE",
        ),
        (
            "",
            leave_out("wall-slide"),
            "leave out wall-slide",
            "FIELD_MISSING",
        ),
        (
            "no-such",
            leave_out("wall-slide"),
            "leave out wall-slide",
            "PACK_NOT_FOUND",
        ),
        (
            PACK,
            leave_out("wall-slide"),
            "leave out another",
            "SIGNATURE_REFUSED",
        ),
    ] {
        let refused = rig.direct(pack, DAY, order, words).await;
        assert_eq!(refusal(refused).1, wanted, "{words}");
    }
    assert_eq!(rig.size(), size, "nothing was written");
}

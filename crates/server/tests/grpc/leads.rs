//! Two invented leads for the tests of a pack's life: what they sign, and a server that knows them. It leaves the tests to
//! the others.

use crate::rig::*;
use rungwise_api::name::{pack_name, proposal_from_name};
use rungwise_api::v1;
use rungwise_ledger::note::NoteSigner;
use rungwise_ledger::step::{self, Step};
use rungwise_pack::source::SourceFiles;
use tonic::Status;

/// Why every step of these tests is taken.
pub(crate) const WHY: &str = "for a test";

/// A lead by number.
pub(crate) fn lead(number: u8) -> NoteSigner {
    NoteSigner::new(&format!("lead-{number}"), &[number; 32]).expect("a name")
}

/// The keys of leads one and two.
pub(crate) fn keys() -> Vec<String> {
    let leads = [lead(1), lead(2)];
    let keys = leads.iter().map(|lead| lead.verifier().to_string());
    keys.collect()
}

/// A server whose pack came into force before its clinic had leads; now it has two.
pub(crate) async fn led() -> Rig {
    let rig = Rig::start().await;
    let (dir, ended) = rig.stop().await;
    ended.expect("it stopped");
    led_again(dir).await
}

/// The same on a store that has a past.
pub(crate) async fn led_again(dir: tempfile::TempDir) -> Rig {
    Rig::start_with(dir, SourceFiles::default(), |config| {
        config.packs.clear();
        config.leads = keys();
    })
    .await
}

/// The pack's files with another version, as a draft.
pub(crate) fn draft(version: &str) -> v1::PackDraft {
    let files = pack_files();
    let file = |file: &rungwise_pack::source::SourceFile| v1::PackFile {
        path: file.name.clone(),
        text: match file.name.as_str() {
            "pack.toml" => versioned(&file.text, version),
            _ => file.text.clone(),
        },
    };
    v1::PackDraft {
        files: files.files().iter().map(file).collect(),
    }
}

fn versioned(text: &str, version: &str) -> String {
    let line = |line: &str| match line.starts_with("version = ") {
        true => format!("version = \"{version}\"\n"),
        false => format!("{line}\n"),
    };
    text.lines().map(line).collect()
}

/// The digest of a draft.
pub(crate) fn digest(draft: &v1::PackDraft) -> [u8; 32] {
    let files = draft.files.iter();
    let files = files.map(|file| (file.path.clone(), file.text.clone()));
    rungwise_pack::digest(&SourceFiles::new(files.collect()))
}

/// The name of a draft's pack once kept.
pub(crate) fn name_of(draft: &v1::PackDraft) -> String {
    pack_name("demo", &digest(draft))
}

/// A proposal of a draft by a lead, soundly signed.
pub(crate) fn proposing(
    by: &NoteSigner,
    draft: v1::PackDraft,
    version: &str,
    (from, for_episodes, word): (&str, v1::PackFor, &str),
) -> v1::ProposePackRequest {
    let request_id = request_id();
    let step = Step::Propose {
        pack: (PACK, version),
        digest: &digest(&draft),
        from: Some(from).filter(|from| !from.is_empty()),
        for_episodes: word,
    };
    let text = step::text("demo", &request_id, &step, WHY).expect("a text");
    v1::ProposePackRequest {
        parent: CLINIC.into(),
        signature: step::sign(by, &text).expect("signed"),
        request_id,
        draft: Some(draft),
        pack: String::new(),
        from: from.into(),
        for_episodes: for_episodes.into(),
        why: WHY.into(),
    }
}

/// An approval by a lead, soundly signed.
pub(crate) fn approving(
    by: &NoteSigner,
    proposal: &str,
    digest: &[u8; 32],
) -> v1::ApproveProposalRequest {
    let request_id = request_id();
    let (_, position) = proposal_from_name(proposal).expect("a proposal's name");
    let step = Step::Approve {
        proposal: position,
        digest,
    };
    let text = step::text("demo", &request_id, &step, WHY).expect("a text");
    v1::ApproveProposalRequest {
        name: proposal.into(),
        signature: step::sign(by, &text).expect("signed"),
        request_id,
        why: WHY.into(),
    }
}

/// A withdrawal by a lead, soundly signed.
pub(crate) fn withdrawing(
    by: &NoteSigner,
    proposal: &str,
    digest: &[u8; 32],
) -> v1::WithdrawProposalRequest {
    let request_id = request_id();
    let (_, position) = proposal_from_name(proposal).expect("a proposal's name");
    let step = Step::Withdraw {
        proposal: position,
        digest,
    };
    let text = step::text("demo", &request_id, &step, WHY).expect("a text");
    v1::WithdrawProposalRequest {
        name: proposal.into(),
        signature: step::sign(by, &text).expect("signed"),
        request_id,
        why: WHY.into(),
    }
}

impl Rig {
    /// Proposes.
    pub(crate) async fn propose(
        &self,
        request: v1::ProposePackRequest,
    ) -> Result<v1::PackProposal, Status> {
        let answer = self.packs().propose_pack(request).await?.into_inner();
        Ok(answer.proposal.expect("the proposal"))
    }

    /// Approves.
    pub(crate) async fn approve(
        &self,
        request: v1::ApproveProposalRequest,
    ) -> Result<v1::PackProposal, Status> {
        let answer = self.packs().approve_proposal(request).await?.into_inner();
        Ok(answer.proposal.expect("the proposal"))
    }

    /// Proposes by lead one and approves by lead two; the pack's name.
    pub(crate) async fn put_in_force(
        &self,
        version: &str,
        terms: (&str, v1::PackFor, &str),
    ) -> String {
        let draft = draft(version);
        let (digest, name) = (digest(&draft), name_of(&draft));
        let proposed = self
            .propose(proposing(&lead(1), draft, version, terms))
            .await;
        let proposal = proposed.expect("it stands proposed").name;
        let approved = self.approve(approving(&lead(2), &proposal, &digest)).await;
        assert_eq!(approved.expect("approved").pack, name);
        name
    }

    /// Gives a directive of the whole clinic, signed by lead one; its name.
    pub(crate) async fn direct(
        &self,
        pack: &str,
        date: &str,
        order: v1::directive::Order,
        words: &str,
    ) -> Result<String, Status> {
        let request_id = request_id();
        let step = Step::Direct {
            pack: Some(pack).filter(|pack| !pack.is_empty()),
            date,
            until: None,
            order: words,
        };
        let text = step::text("demo", &request_id, &step, WHY).expect("a text");
        let request = v1::DirectClinicRequest {
            parent: CLINIC.into(),
            signature: step::sign(&lead(1), &text).expect("signed"),
            request_id,
            directive: Some(v1::ClinicDirective {
                pack: pack.into(),
                date: date.into(),
                directive: Some(v1::Directive {
                    why: WHY.into(),
                    order: Some(order),
                    ..v1::Directive::default()
                }),
                ..v1::ClinicDirective::default()
            }),
        };
        let answer = self.packs().direct_clinic(request).await?.into_inner();
        Ok(answer.directive.expect("the directive").name)
    }

    /// Lifts a directive of the whole clinic, signed by lead two.
    pub(crate) async fn lift(&self, name: &str, date: &str) -> Result<v1::ClinicDirective, Status> {
        let request_id = request_id();
        let named = rungwise_api::name::clinic_directive_from_name(name);
        let (_, directive) = named.expect("a directive's name");
        let text = step::text("demo", &request_id, &Step::Lift { directive, date }, WHY);
        let request = v1::LiftClinicDirectiveRequest {
            name: name.into(),
            signature: step::sign(&lead(2), &text.expect("a text")).expect("signed"),
            request_id,
            date: date.into(),
            why: WHY.into(),
        };
        let answer = self
            .packs()
            .lift_clinic_directive(request)
            .await?
            .into_inner();
        Ok(answer.directive.expect("the directive"))
    }
}

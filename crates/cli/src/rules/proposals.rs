//! `rungwise rules proposals`, `packs`, `approve` and `withdraw`: what stands proposed or was in force, what a proposal
//! changes, and a lead's answer to it.
//!
//! Whoever approves signs the digest of what was fetched, checked and shown here, and not of what the server says it is.
//!
//! Leaves to others: proposing (`super::propose`), how two packs differ (`super::compare`).

use super::args::{AnswerArgs, PacksArgs, ProposalsArgs};
use super::lead::{Lead, client};
use super::propose::say_findings;
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::Screen;
use rungwise_api::name::{clinic_name, pack_name, proposal_from_name};
use rungwise_api::v1::rule_pack_service_client::RulePackServiceClient;
use rungwise_api::v1::{self, PackFor, ProposalState};
use rungwise_ledger::step::Step;
use rungwise_rehearsal::readiness::readiness;
use std::fs;
use std::path::Path;
use tonic::transport::Channel;

/// Lists proposals, or shows one.
pub(super) fn run(args: &ProposalsArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    crate::serve::runtime()?.block_on(async {
        let mut client = client(&args.at.server).await?;
        let Some(name) = &args.proposal else {
            return list(&mut client, &args.of.clinic, screen).await;
        };
        let fetched = Fetched::of(&mut client, name).await?;
        let is_sound = fetched.show(&mut client, screen).await?;
        if let Some(folder) = &args.save {
            save(&fetched.pack, folder)?;
            screen.line(&format!("its files are in {}", folder.display()))?;
        }
        Ok(if is_sound { Answer::Yes } else { Answer::No })
    })
}

async fn list(
    client: &mut RulePackServiceClient<Channel>,
    clinic: &str,
    screen: &mut Screen,
) -> Result<Answer, Failure> {
    let mut page_token = String::new();
    loop {
        let request = v1::ListProposalsRequest {
            parent: clinic_name(clinic),
            page_token,
            ..v1::ListProposalsRequest::default()
        };
        let page = client.list_proposals(request).await?.into_inner();
        for proposal in &page.proposals {
            say(proposal, screen)?;
        }
        page_token = page.next_page_token;
        if page_token.is_empty() {
            return Ok(Answer::Yes);
        }
    }
}

/// Lists the packs that were ever in force.
pub(super) fn packs(args: &PacksArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    crate::serve::runtime()?.block_on(async {
        let mut client = client(&args.at.server).await?;
        let mut page_token = String::new();
        loop {
            let request = v1::ListPacksRequest {
                parent: clinic_name(&args.of.clinic),
                page_token,
                ..v1::ListPacksRequest::default()
            };
            let page = client.list_packs(request).await?.into_inner();
            for pack in &page.packs {
                let (id, version) = (&pack.id, &pack.version);
                let mark = match pack.in_force {
                    true => ", which new episodes come under",
                    false => "",
                };
                screen.line(&format!("{}: {id} {version}{mark}", pack.name))?;
            }
            page_token = page.next_page_token;
            if page_token.is_empty() {
                return Ok(Answer::Yes);
            }
        }
    })
}

/// Says how a proposal stands.
pub(super) fn say(proposal: &v1::PackProposal, screen: &mut Screen) -> Result<(), Failure> {
    let state = match proposal.state() {
        ProposalState::Open => "open: it waits for another lead",
        ProposalState::Approved => "approved",
        ProposalState::Withdrawn => "withdrawn",
        ProposalState::Unspecified => "of a kind that this program does not know",
    };
    let whom = match proposal.for_episodes() {
        PackFor::All => "for every episode",
        PackFor::NextPhase => "for new episodes, and others from their next phase on",
        PackFor::New => "for new episodes",
        PackFor::Unspecified => "for episodes that this program cannot tell",
    };
    let from = match proposal.from.as_str() {
        "" => "from its approval on".to_owned(),
        from => format!("from {from} on"),
    };
    let (id, version) = (&proposal.id, &proposal.version);
    screen.line(&format!("{}: {id} {version}, {state}", proposal.name))?;
    screen.line(&format!("  {from}, {whom}"))?;
    for (what, step) in [
        ("proposed", &proposal.proposed),
        ("approved", &proposal.approved),
        ("withdrawn", &proposal.withdrawn),
    ] {
        if let Some(step) = step {
            screen.line(&format!("  {what} by {}: {}", step.who, step.why))?;
        }
    }
    Ok(())
}

/// A proposal with its pack, as the server gave them.
struct Fetched {
    proposal: v1::PackProposal,
    clinic: String,
    position: u64,
    pack: PackFiles,
    digest: [u8; 32],
}

impl Fetched {
    async fn of(client: &mut RulePackServiceClient<Channel>, name: &str) -> Result<Self, Failure> {
        let request = v1::GetProposalRequest {
            name: name.to_owned(),
            with_files: true,
        };
        let answer = client.get_proposal(request).await?.into_inner();
        let incomplete = || Failure::AnswerIncomplete("the proposal");
        let proposal = answer.proposal.ok_or_else(incomplete)?;
        let (clinic, position) = proposal_from_name(&proposal.name).ok_or_else(incomplete)?;
        let called = format!("{} {}", proposal.id, proposal.version);
        let pack = PackFiles::of_answer(&called, &answer.files);
        Ok(Self {
            digest: rungwise_pack::digest(&pack.files),
            proposal,
            clinic,
            position,
            pack,
        })
    }

    /// Shows it, what was found in its pack, and how that differs from the one in force. Whether it is sound, and what it
    /// is said to be.
    async fn show(
        &self,
        client: &mut RulePackServiceClient<Channel>,
        screen: &mut Screen,
    ) -> Result<bool, Failure> {
        say(&self.proposal, screen)?;
        if pack_name(&self.clinic, &self.digest) != self.proposal.pack {
            screen
                .line("the files that the server gave are not those of the pack that it names")?;
            return Ok(false);
        }
        let found = readiness(&self.pack.files);
        say_findings(&self.pack, &found, screen)?;
        let request = v1::GetPackRequest {
            name: format!("clinics/{}/packs/{}", self.clinic, self.proposal.id),
            with_files: true,
            ..v1::GetPackRequest::default()
        };
        match client.get_pack(request).await {
            Ok(answer) => {
                let files = answer.into_inner().files;
                let old = PackFiles::of_answer("the pack in force", &files);
                screen.heading("Against the pack in force")?;
                super::compare::say_comparison(&old, &self.pack, screen)?;
            }
            Err(status) if status.code() == tonic::Code::NotFound => {
                screen.line("no pack of this id is in force")?;
            }
            Err(status) => return Err(status.into()),
        }
        Ok(found.is_sound())
    }
}

fn save(pack: &PackFiles, folder: &Path) -> Result<(), Failure> {
    let failed = |path: &Path| {
        let path = path.to_owned();
        |cause| Failure::Write { path, cause }
    };
    fs::create_dir(folder).map_err(failed(folder))?;
    for file in pack.files.files() {
        // Names come from the server: none may leave the folder.
        let sound = Path::new(&file.name)
            .components()
            .all(|part| matches!(part, std::path::Component::Normal(_)));
        if !sound {
            return Err(Failure::AnswerIncomplete("a sound name of a file"));
        }
        let path = folder.join(&file.name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(failed(parent))?;
        }
        super::write_new(&path, &file.text)?;
    }
    Ok(())
}

/// Approves a proposal.
pub(super) fn approve(args: &AnswerArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let lead = Lead::of(&args.step)?;
    crate::serve::runtime()?.block_on(async {
        let mut client = lead.connect().await?;
        let fetched = Fetched::of(&mut client, &args.proposal).await?;
        if !fetched.show(&mut client, screen).await? {
            screen.line("nothing was signed")?;
            return Ok(Answer::No);
        }
        let step = Step::Approve {
            proposal: fetched.position,
            digest: &fetched.digest,
        };
        let request = v1::ApproveProposalRequest {
            name: fetched.proposal.name.clone(),
            request_id: lead.request_id.clone(),
            why: args.step.why.clone(),
            signature: lead.sign(&fetched.clinic, &step)?,
        };
        let answer = client.approve_proposal(request).await?.into_inner();
        let proposal = answer.proposal;
        screen.heading("Approved")?;
        say(
            &proposal.ok_or(Failure::AnswerIncomplete("the proposal"))?,
            screen,
        )?;
        Ok(Answer::Yes)
    })
}

/// Withdraws a proposal.
pub(super) fn withdraw(args: &AnswerArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let lead = Lead::of(&args.step)?;
    crate::serve::runtime()?.block_on(async {
        let mut client = lead.connect().await?;
        let fetched = Fetched::of(&mut client, &args.proposal).await?;
        let step = Step::Withdraw {
            proposal: fetched.position,
            digest: &fetched.digest,
        };
        let request = v1::WithdrawProposalRequest {
            name: fetched.proposal.name.clone(),
            request_id: lead.request_id.clone(),
            why: args.step.why.clone(),
            signature: lead.sign(&fetched.clinic, &step)?,
        };
        let answer = client.withdraw_proposal(request).await?.into_inner();
        let proposal = answer.proposal;
        say(
            &proposal.ok_or(Failure::AnswerIncomplete("the proposal"))?,
            screen,
        )?;
        Ok(Answer::Yes)
    })
}

//! Proposals of packs: made by one lead, approved by another, or withdrawn.
//!
//! INVARIANT (checked-only): only a draft that is ready stands proposed, and only what stands proposed is approved.
//!
//! Leaves to others: what keeps a draft from being ready (`super::drafts`), who signs (`crate::leads`), which version then
//! decides an episode (`crate::clinic`).

use super::drafts::{draft, not_ready, one_of};
use crate::clinic::{Clinic, KeptProposal, Stream, parts_of};
use crate::leads::{Given, required};
use crate::limits::PROPOSALS_MAX;
use crate::page;
use crate::refusal::Refusal;
use crate::service::{Service, clinic_field, name_refusal, page_size, request_id};
use jiff::civil::Date;
use rungwise_api::content::{Approval, Content, PackFor, PackPart, Proposal, ProposalWithdrawal};
use rungwise_api::from_wire::Reader;
use rungwise_api::name::{clinic_name, proposal_from_name, proposal_name};
use rungwise_api::to_wire::{proposal_to_wire, signed_to_wire};
use rungwise_api::v1::{self, Reason};
use rungwise_ledger::step::Step;
use rungwise_pack::quantity::Key;
use rungwise_store::Kind;

/// What a lead wants to be in force.
struct Wanted {
    id: Key,
    version: Key,
    digest: [u8; 32],
    /// The files, or none where the pack is kept already.
    parts: Vec<PackPart>,
}

/// What a lead may answer to a proposal.
#[derive(Clone, Copy)]
enum Answer {
    Approve,
    Withdraw,
}

/// There is no such proposal.
pub(super) fn no_proposal(clinic: &str, position: u64) -> Refusal {
    Refusal::NotFound {
        reason: Reason::ProposalNotFound,
        kind: "proposal",
        name: proposal_name(clinic, position),
    }
}

fn proposal_field(name: &str) -> Result<(String, u64), Refusal> {
    let pattern = "clinics/{clinic}/proposals/{proposal}";
    proposal_from_name(name).ok_or_else(|| name_refusal("name", name, pattern))
}

/// The proposal made at this position, as it stands.
pub(super) fn kept_proposal(clinic: &Clinic, position: u64) -> Result<v1::PackProposal, Refusal> {
    let id = clinic.id.as_str();
    let found = clinic.in_stream(|stream| {
        let kept = stream.proposals.get(&position)?;
        Some(standing(id, kept))
    });
    found.ok_or_else(|| no_proposal(id, position))
}

fn standing(clinic: &str, kept: &KeptProposal) -> v1::PackProposal {
    let made = (kept.made.position, kept.made.at_ms);
    let pack = (&*kept.pack.pack.id, &*kept.pack.pack.version);
    let proposal = proposal_to_wire(clinic, made, pack, &kept.made.step);
    let state = match (&kept.approved, &kept.withdrawn) {
        (_, Some(_)) => v1::ProposalState::Withdrawn,
        (Some(_), None) => v1::ProposalState::Approved,
        (None, None) => v1::ProposalState::Open,
    };
    let approved = kept.approved.as_ref();
    let withdrawn = kept.withdrawn.as_ref();
    v1::PackProposal {
        state: state.into(),
        approved: approved.map(|step| signed_to_wire(&step.step.signed, step.at_ms)),
        withdrawn: withdrawn.map(|step| signed_to_wire(&step.step.signed, step.at_ms)),
        ..proposal
    }
}

fn precondition(reason: Reason, subject: String, wrong: String, right: &str) -> Refusal {
    Refusal::Precondition {
        reason,
        subject,
        wrong,
        right: right.to_owned(),
    }
}

impl Service {
    pub(super) async fn propose_pack(
        &self,
        given: &v1::ProposePackRequest,
    ) -> Result<v1::ProposePackResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let own = clinic.id.as_str();
        let id = request_id(&given.request_id)?;
        clinic.in_stream(|stream| required(own, stream))?;
        let step = Given::read(id.clone(), &given.why, &given.signature)?;
        let (from, for_episodes) = self.terms(given)?;
        let wanted = self.wanted_pack(&clinic, given).await?;
        let from_text = from.map(|from| from.to_string());
        let propose = Step::Propose {
            pack: (&wanted.id, &wanted.version),
            digest: &wanted.digest,
            from: from_text.as_deref(),
            for_episodes: for_episodes.word(),
        };
        let signed = clinic.in_stream(|stream| step.signed(own, stream, &propose))?;
        let proposal = Proposal {
            signed,
            digest: wanted.digest,
            from,
            for_episodes,
        };
        let today = self.clock.today();
        let position = clinic
            .write(
                ("ProposePack", id),
                &entries(&wanted, &proposal),
                |stream| may_be_proposed(own, stream, &wanted, &proposal, today),
            )
            .await?;
        Ok(v1::ProposePackResponse {
            proposal: Some(kept_proposal(&clinic, position)?),
        })
    }

    /// From when, and for which episodes.
    fn terms(&self, given: &v1::ProposePackRequest) -> Result<(Option<Date>, PackFor), Refusal> {
        let mut reader = Reader::default();
        let from = reader.date_or_none("from", &given.from);
        let today = self.clock.today();
        if let Some(Some(from)) = from
            && from < today
        {
            let right =
                format!("a date from {today} on, or none for every decision after its approval");
            reader.refuse::<()>("from", Reason::OutOfBounds, "it has passed", right);
        }
        let for_episodes = match v1::PackFor::try_from(given.for_episodes) {
            Ok(v1::PackFor::All) => Some(PackFor::All),
            Ok(v1::PackFor::NextPhase) => Some(PackFor::NextPhase),
            Ok(v1::PackFor::New) => Some(PackFor::New),
            Ok(v1::PackFor::Unspecified) | Err(_) => {
                let right = "say all, those at their next phase, or new ones only";
                reader.unknown_enum("for_episodes", given.for_episodes, right)
            }
        };
        match (from, for_episodes) {
            (Some(from), Some(for_episodes)) if reader.violations.is_empty() => {
                Ok((from, for_episodes))
            }
            _ => Err(Refusal::Fields(reader.violations)),
        }
    }

    async fn wanted_pack(
        &self,
        clinic: &Clinic,
        given: &v1::ProposePackRequest,
    ) -> Result<Wanted, Refusal> {
        match (&given.draft, given.pack.as_str()) {
            (Some(_), "") => {
                let files = draft("draft", given.draft.as_ref())?;
                let found = self.readiness(files.clone()).await?;
                match found.pack.as_ref().filter(|_| found.is_ready()) {
                    Some(pack) => Ok(Wanted {
                        id: pack.id.clone(),
                        version: pack.version.clone(),
                        digest: pack.digest,
                        parts: parts_of(files.files()),
                    }),
                    None => Err(not_ready("draft", &found.findings, &found.diaries)),
                }
            }
            (None, name) if !name.is_empty() => {
                let kept = self.kept("pack", clinic, name)?;
                Ok(Wanted {
                    id: kept.pack.id.clone(),
                    version: kept.pack.version.clone(),
                    digest: kept.pack.digest,
                    parts: parts_of([]),
                })
            }
            _ => Err(one_of("draft", "pack")),
        }
    }

    pub(super) async fn approve_proposal(
        &self,
        given: &v1::ApproveProposalRequest,
    ) -> Result<v1::ApproveProposalResponse, Refusal> {
        let signed = [&given.name, &given.request_id, &given.why, &given.signature];
        let proposal = self.answer(Answer::Approve, signed).await?;
        Ok(v1::ApproveProposalResponse {
            proposal: Some(proposal),
        })
    }

    pub(super) async fn withdraw_proposal(
        &self,
        given: &v1::WithdrawProposalRequest,
    ) -> Result<v1::WithdrawProposalResponse, Refusal> {
        let signed = [&given.name, &given.request_id, &given.why, &given.signature];
        let proposal = self.answer(Answer::Withdraw, signed).await?;
        Ok(v1::WithdrawProposalResponse {
            proposal: Some(proposal),
        })
    }

    /// A lead's answer to a proposal.
    async fn answer(
        &self,
        answer: Answer,
        [name, id, why, signature]: [&String; 4],
    ) -> Result<v1::PackProposal, Refusal> {
        let (clinic, proposal) = proposal_field(name)?;
        let id = request_id(id)?;
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        let own = clinic.id.as_str();
        clinic.in_stream(|stream| required(own, stream))?;
        let given = Given::read(id.clone(), why, signature)?;
        let (digest, signed) = clinic.in_stream(|stream| {
            let digest = &digest_of(own, stream, proposal)?;
            let step = match answer {
                Answer::Approve => Step::Approve { proposal, digest },
                Answer::Withdraw => Step::Withdraw { proposal, digest },
            };
            Ok::<_, Refusal>((*digest, given.signed(own, stream, &step)?))
        })?;
        let (who, today) = (signed.who.clone(), self.clock.today());
        let (call, content) = match answer {
            Answer::Approve => {
                let approval = Approval { signed, proposal };
                ("ApproveProposal", Content::Approval(approval))
            }
            Answer::Withdraw => {
                let withdrawal = ProposalWithdrawal { signed, proposal };
                ("WithdrawProposal", Content::ProposalWithdrawal(withdrawal))
            }
        };
        let entry = (Kind::Pack, Some(digest), content);
        clinic
            .write((call, id), &[entry], |stream| match answer {
                Answer::Approve => may_be_approved(own, stream, proposal, &who),
                Answer::Withdraw => may_be_withdrawn(own, stream, proposal, today),
            })
            .await?;
        kept_proposal(&clinic, proposal)
    }

    pub(super) fn get_proposal(
        &self,
        given: &v1::GetProposalRequest,
    ) -> Result<v1::GetProposalResponse, Refusal> {
        let (clinic, proposal) = proposal_field(&given.name)?;
        let clinic = self.clinic(&clinic)?;
        let _entered = clinic.enter()?;
        let files = clinic.in_stream(|stream| {
            let kept = stream.proposals.get(&proposal)?;
            let files = kept.pack.files.files().iter();
            Some(files.map(super::packs::file_to_wire).collect())
        });
        Ok(v1::GetProposalResponse {
            proposal: Some(kept_proposal(&clinic, proposal)?),
            files: files.filter(|_| given.with_files).unwrap_or_default(),
        })
    }

    pub(super) fn list_proposals(
        &self,
        given: &v1::ListProposalsRequest,
    ) -> Result<v1::ListProposalsResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let size = page_size(given.page_size)?;
        let conditions = ["ListProposals", given.parent.as_str()];
        // A token holds the position above which a page before ended; the first page begins above all.
        let below = match given.page_token.as_str() {
            "" => u64::MAX,
            token => page::start(token, &conditions)?,
        };
        let (proposals, next) = clinic.in_stream(|stream| {
            let mut newest = stream.proposals.range(..below).rev();
            let page: Vec<v1::PackProposal> = newest
                .by_ref()
                .take(size)
                .map(|(_, kept)| standing(clinic.id.as_str(), kept))
                .collect();
            let next = newest
                .next()
                .map(|(position, _)| position.saturating_add(1));
            (page, next)
        });
        Ok(v1::ListProposalsResponse {
            proposals,
            next_page_token: next
                .map(|next| page::token(next, &conditions))
                .unwrap_or_default(),
        })
    }
}

fn entries(wanted: &Wanted, proposal: &Proposal) -> Vec<(Kind, Option<[u8; 32]>, Content)> {
    let mut parts = wanted.parts.clone();
    if let Some(last) = parts.last_mut() {
        last.proposal = Some(proposal.clone());
    }
    let entry = |part| (Kind::Pack, Some(wanted.digest), Content::PackPart(part));
    parts.into_iter().map(entry).collect()
}

fn may_be_proposed(
    clinic: &str,
    stream: &Stream,
    wanted: &Wanted,
    proposal: &Proposal,
    today: Date,
) -> Result<(), Refusal> {
    let of_pack = |kept: &&KeptProposal| kept.pack.pack.id == wanted.id;
    let mut pending = stream.proposals.values().filter(of_pack);
    if let Some(other) = pending.find(|kept| kept.is_pending(today)) {
        let name = proposal_name(clinic, other.made.position);
        let wrong = format!(
            "it is open, or its pack is to be in force from a later date, and is of `{}` too",
            wanted.id
        );
        let right = "approve it or withdraw it first";
        return Err(precondition(Reason::ProposalPending, name, wrong, right));
    }
    let newest = stream.newest_version(&wanted.id);
    let is_same = newest.is_some_and(|version| {
        let covers =
            version.for_episodes == PackFor::All || version.for_episodes == proposal.for_episodes;
        version.digest == wanted.digest && covers
    });
    if is_same {
        let name = rungwise_api::name::pack_name(clinic, &wanted.digest);
        let wrong = "it is in force already".to_owned();
        let right = "propose another version, or for more episodes";
        return Err(precondition(Reason::PackInForce, name, wrong, right));
    }
    if stream.proposals.len() >= PROPOSALS_MAX {
        let wrong = format!("it has {PROPOSALS_MAX} proposals, which is all it may");
        let right = "go on with the packs that were approved";
        let name = clinic_name(clinic);
        return Err(precondition(Reason::ProposalsFull, name, wrong, right));
    }
    Ok(())
}

fn digest_of(clinic: &str, stream: &Stream, proposal: u64) -> Result<[u8; 32], Refusal> {
    let kept = stream.proposals.get(&proposal);
    kept.map(|kept| kept.made.step.digest)
        .ok_or_else(|| no_proposal(clinic, proposal))
}

/// An open proposal is approved by another lead than the one who made it, who still is one.
fn may_be_approved(clinic: &str, stream: &Stream, proposal: u64, who: &Key) -> Result<(), Refusal> {
    let kept = stream.proposals.get(&proposal);
    let kept = kept.ok_or_else(|| no_proposal(clinic, proposal))?;
    let name = proposal_name(clinic, proposal);
    let by = &kept.made.step.signed.who;
    if kept.approved.is_some() || kept.withdrawn.is_some() {
        let wrong = "it is not open".to_owned();
        let right = "propose the pack again";
        return Err(precondition(Reason::ProposalClosed, name, wrong, right));
    }
    if by == who {
        let wrong = format!("`{who}` proposed it");
        let right = "have another lead approve it";
        return Err(precondition(Reason::SameLead, name, wrong, right));
    }
    if !stream.leads.iter().any(|lead| *lead.name() == **by) {
        let wrong = format!("`{by}`, who proposed it, is no lead any more");
        let right = "withdraw it, and have a lead propose the pack again";
        return Err(precondition(Reason::ProposalClosed, name, wrong, right));
    }
    Ok(())
}

fn may_be_withdrawn(
    clinic: &str,
    stream: &Stream,
    proposal: u64,
    today: Date,
) -> Result<(), Refusal> {
    let kept = stream.proposals.get(&proposal);
    let kept = kept.ok_or_else(|| no_proposal(clinic, proposal))?;
    if kept.is_pending(today) {
        return Ok(());
    }
    let wrong = if kept.withdrawn.is_some() {
        "it was withdrawn already"
    } else {
        "its pack is in force"
    };
    let right = "to go back, propose the pack that was in force before, by its name";
    let name = proposal_name(clinic, proposal);
    let wrong = wrong.to_owned();
    Err(precondition(Reason::ProposalClosed, name, wrong, right))
}

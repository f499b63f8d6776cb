//! A clinic's own stream as read so far: packs and their versions, proposals, leads, directives of the whole clinic, the
//! band catalogue.
//!
//! Leaves to others: reading entries (`super`), whether a step may be taken (`crate::services`), which version decides an
//! episode (`super::versions`).

use super::versions::Version;
use super::{decoded, versions};
use crate::catalogue::Catalogue;
use crate::clock::date_of_ms;
use crate::refusal::Refusal;
use jiff::civil::Date;
use rungwise_api::content::{
    Approval, ClinicDirective, Content, PackFor, PackPart, Proposal, ProposalWithdrawal,
};
use rungwise_engine::fact::{Body, Fact, FactKind, Order, Position, Record};
use rungwise_ledger::note::VerifierKey;
use rungwise_pack::model::{CheckedPack, Reporter};
use rungwise_pack::quantity::Key;
use rungwise_pack::source::SourceFiles;
use rungwise_store::{Entry, KeyId};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A pack that is or was in force, or was proposed.
#[derive(Debug)]
pub(crate) struct KeptPack {
    /// What it says.
    pub(crate) pack: CheckedPack,
    /// Its files; diaries only where it was proposed with them.
    pub(crate) files: SourceFiles,
    /// When it first came into force or was proposed, milliseconds since 1970 UTC.
    pub(crate) recorded_at_ms: u64,
}

/// A step as it was recorded.
#[derive(Clone, Debug)]
pub(crate) struct Recorded<T> {
    /// Its position in the ledger.
    pub(crate) position: u64,
    /// When, milliseconds since 1970 UTC.
    pub(crate) at_ms: u64,
    /// The step.
    pub(crate) step: T,
}

/// A proposal as it stands.
#[derive(Clone, Debug)]
pub(crate) struct KeptProposal {
    /// How it was made.
    pub(crate) made: Recorded<Proposal>,
    /// The pack.
    pub(crate) pack: Arc<KeptPack>,
    /// Who approved it.
    pub(crate) approved: Option<Recorded<Approval>>,
    /// Who withdrew it.
    pub(crate) withdrawn: Option<Recorded<ProposalWithdrawal>>,
}

impl KeptProposal {
    /// Whether it waits for a lead, or for its date, on this one.
    pub(crate) fn is_pending(&self, today: Date) -> bool {
        let later = self.made.step.from.is_some_and(|from| from > today);
        self.withdrawn.is_none() && (self.approved.is_none() || later)
    }
}

/// A directive of the whole clinic as it stands.
#[derive(Clone, Debug)]
pub(crate) struct KeptDirective {
    /// How it was given.
    pub(crate) given: Recorded<ClinicDirective>,
    /// How it was lifted.
    pub(crate) lifted: Option<Recorded<ClinicDirective>>,
}

/// The clinic's stream as read so far.
#[derive(Debug, Default)]
pub(crate) struct Stream {
    pub(super) next_sequence: u64,
    pub(super) key: Option<KeyId>,
    pub(super) packs: BTreeMap<[u8; 32], Arc<KeptPack>>,
    /// In the order in which they first came into force or were approved to.
    pub(super) order: Vec<[u8; 32]>,
    /// By the pack's id, in order of position.
    pub(super) versions: BTreeMap<Key, Vec<Version>>,
    /// Parts of a pack of which the last was not read yet.
    parts: BTreeMap<String, String>,
    /// By position.
    pub(crate) proposals: BTreeMap<u64, KeptProposal>,
    /// Who may propose and approve.
    pub(crate) leads: Vec<VerifierKey>,
    /// By position.
    pub(crate) directives: BTreeMap<u64, KeptDirective>,
    /// What binds episodes, in order of position: for all packs, or for one.
    binding: Vec<(Option<Key>, u64, Record)>,
    /// Every roll.
    pub(crate) catalogue: Catalogue,
}

impl Stream {
    pub(super) fn take(&mut self, entry: &Entry) -> Result<(), Refusal> {
        self.key.get_or_insert(entry.key);
        self.next_sequence = entry.sequence.saturating_add(1);
        match decoded(entry)? {
            Content::PackPart(part) => self.take_part(entry, part),
            Content::Roll(roll) => {
                self.catalogue
                    .record(entry.position, entry.recorded_at_ms, roll);
            }
            Content::RollWithdrawal(withdrawal) => self.catalogue.withdraw(withdrawal),
            Content::Leads(keys) => {
                let keys = keys.iter().filter_map(|key| VerifierKey::parse(key).ok());
                self.leads = keys.collect();
            }
            Content::Approval(approval) => self.approve(recorded(entry, approval)),
            Content::ProposalWithdrawal(withdrawal) => self.withdraw(recorded(entry, withdrawal)),
            Content::ClinicDirective(given) => self.direct(recorded(entry, given)),
            Content::Opening(_) | Content::Closing(_) | Content::Fact(_) | Content::Decision(_) => {
            }
        }
        Ok(())
    }

    fn take_part(&mut self, entry: &Entry, part: PackPart) {
        for (path, text) in part.files {
            self.parts.entry(path).or_default().push_str(&text);
        }
        if !part.is_last {
            return;
        }
        let files = std::mem::take(&mut self.parts);
        let kept = if files.is_empty() {
            let digest = part.proposal.as_ref().map(|proposal| proposal.digest);
            digest.and_then(|digest| self.packs.get(&digest).cloned())
        } else {
            let files = SourceFiles::new(files.into_iter().collect());
            let pack = rungwise_pack::check(&files).pack;
            pack.map(|pack| {
                Arc::new(KeptPack {
                    pack,
                    files,
                    recorded_at_ms: entry.recorded_at_ms,
                })
            })
        };
        let Some(kept) = kept else {
            let position = entry.position;
            tracing::error!(position, "a pack that was kept is no longer accepted");
            return;
        };
        match part.proposal {
            Some(proposal) => {
                let proposal = KeptProposal {
                    made: recorded(entry, proposal),
                    pack: kept,
                    approved: None,
                    withdrawn: None,
                };
                self.proposals.insert(entry.position, proposal);
            }
            None => {
                let version = Version {
                    position: entry.position,
                    digest: kept.pack.digest,
                    recorded_on: date_of_ms(entry.recorded_at_ms),
                    from: None,
                    for_episodes: PackFor::All,
                };
                self.bring_into_force(kept, version);
            }
        }
    }

    fn bring_into_force(&mut self, kept: Arc<KeptPack>, version: Version) {
        let versions = self.versions.entry(kept.pack.id.clone()).or_default();
        versions.push(version);
        if !self.packs.contains_key(&version.digest) {
            self.order.push(version.digest);
            self.packs.insert(version.digest, kept);
        }
    }

    fn approve(&mut self, approval: Recorded<Approval>) {
        let Some(proposal) = self.proposals.get_mut(&approval.step.proposal) else {
            let proposal = approval.step.proposal;
            tracing::error!(proposal, "a proposal approved was never made");
            return;
        };
        let version = Version {
            position: approval.position,
            digest: proposal.made.step.digest,
            recorded_on: date_of_ms(approval.at_ms),
            from: proposal.made.step.from,
            for_episodes: proposal.made.step.for_episodes,
        };
        proposal.approved = Some(approval);
        let kept = proposal.pack.clone();
        self.bring_into_force(kept, version);
    }

    fn withdraw(&mut self, withdrawal: Recorded<ProposalWithdrawal>) {
        let Some(proposal) = self.proposals.get_mut(&withdrawal.step.proposal) else {
            let proposal = withdrawal.step.proposal;
            tracing::error!(proposal, "a proposal withdrawn was never made");
            return;
        };
        let approved_at = proposal.approved.as_ref().map(|approved| approved.position);
        proposal.withdrawn = Some(withdrawal);
        let versions = self.versions.get_mut(&proposal.pack.pack.id);
        if let (Some(position), Some(versions)) = (approved_at, versions) {
            versions.retain(|version| version.position != position);
        }
    }

    fn direct(&mut self, given: Recorded<ClinicDirective>) {
        let fact = Fact {
            date: given.step.date,
            by: Reporter::Clinician,
            kind: FactKind::Directive(given.step.directive.clone()),
        };
        let record = Record {
            position: Position(given.position),
            recorded_on: date_of_ms(given.at_ms),
            body: Body::Fact(fact),
        };
        self.binding
            .push((given.step.pack.clone(), given.at_ms, record));
        if let Order::Withdraw { directive } = given.step.directive.order {
            match self.directives.get_mut(&directive.0) {
                Some(kept) => kept.lifted = Some(given),
                None => tracing::error!(directive = directive.0, "it was lifted and never given"),
            }
        } else {
            let kept = KeptDirective {
                given: given.clone(),
                lifted: None,
            };
            self.directives.insert(given.position, kept);
        }
    }

    /// What binds the episodes of this pack, with when it was recorded, in order of position.
    pub(super) fn binding<'s>(
        &'s self,
        pack_id: &'s str,
    ) -> impl Iterator<Item = (u64, &'s Record)> {
        let of_pack = self.binding.iter().filter(move |(pack, ..)| {
            let pack = pack.as_deref();
            pack.is_none_or(|pack| pack == pack_id)
        });
        of_pack.map(|(_, at_ms, record)| (*at_ms, record))
    }

    /// The versions of this pack, in order of position.
    pub(super) fn versions_of(&self, pack_id: &str) -> &[Version] {
        self.versions
            .get(pack_id)
            .map(Vec::as_slice)
            .unwrap_or_default()
    }

    /// The version of this pack that came into force or was approved last.
    pub(crate) fn newest_version(&self, pack_id: &str) -> Option<&Version> {
        self.versions_of(pack_id).last()
    }

    /// The version of this pack under which an episode comes that opens on this date.
    pub(super) fn for_new(&self, pack_id: &str, date: Date) -> Option<&Arc<KeptPack>> {
        let digest = versions::for_new(self.versions_of(pack_id), date)?;
        self.packs.get(&digest)
    }
}

const fn recorded<T>(entry: &Entry, step: T) -> Recorded<T> {
    Recorded {
        position: entry.position,
        at_ms: entry.recorded_at_ms,
        step,
    }
}

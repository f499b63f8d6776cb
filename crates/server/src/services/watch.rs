//! Watch: everything recorded from a position on, as it is recorded.
//!
//! Leaves to others: what was recorded (the store's entries).

use super::clinic_directives::kept_directive;
use super::proposals::kept_proposal;
use crate::clinic::{Clinic, decoded};
use crate::limits::{READ_ENTRIES, STREAM_BUFFER};
use crate::refusal::Refusal;
use crate::service::{Service, lock, name_refusal};
use rungwise_api::content::Content;
use rungwise_api::name::{self, EpisodeName};
use rungwise_api::to_wire::{roll_to_wire, roll_withdrawal_to_wire, timestamp_from_ms};
use rungwise_api::v1::watch_response::Recorded;
use rungwise_api::v1::{self, Reason};
use rungwise_engine::fact::{Order, Position};
use rungwise_store::Entry;
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;

/// What Watch answers with.
pub(crate) type WatchStream = ReceiverStream<Result<v1::WatchResponse, Status>>;

/// A watch being served.
struct Watching {
    service: Arc<Service>,
    clinic: Arc<Clinic>,
    /// Only this episode.
    only: Option<EpisodeName>,
    /// The next position to send.
    position: u64,
    answers: mpsc::Sender<Result<v1::WatchResponse, Status>>,
}

/// Begins a watch.
pub(crate) fn watch(
    service: Arc<Service>,
    request: &v1::WatchRequest,
) -> Result<WatchStream, Refusal> {
    let only = name::episode_from_name(&request.parent);
    let clinic = match &only {
        Some(episode) => service.episode(episode)?.clinic,
        None => {
            let pattern = "clinics/{clinic}` or `clinics/{clinic}/episodes/{episode}";
            let clinic = name::clinic_from_name(&request.parent);
            service
                .clinic(&clinic.ok_or_else(|| name_refusal("parent", &request.parent, pattern))?)?
        }
    };
    let permit = service.watches.clone().try_acquire_owned();
    let permit = permit.map_err(|_| Refusal::Busy(Reason::TooManyCalls))?;
    let (answers, stream) = mpsc::channel(STREAM_BUFFER);
    let watching = Watching {
        service,
        clinic,
        only,
        position: request.from_position,
        answers,
    };
    tokio::spawn(async move {
        watching.run().await;
        drop(permit);
    });
    Ok(ReceiverStream::new(stream))
}

impl Watching {
    async fn run(mut self) {
        let mut size = self.service.store.subscribe(&self.clinic.id);
        let mut stopping = self.service.stopping.clone();
        loop {
            if *stopping.borrow() {
                let _ = self.answers.send(Err(Refusal::Stopping.status())).await;
                return;
            }
            size.mark_unchanged();
            match self.send_all().await {
                Ok(true) => {}
                Ok(false) => return,
                Err(refusal) => {
                    let _ = self.answers.send(Err(refusal.status())).await;
                    return;
                }
            }
            tokio::select! {
                changed = size.changed() => if changed.is_err() { return },
                _ = stopping.changed() => {}
                () = self.answers.closed() => return,
            }
        }
    }

    /// Sends what there is; false where nobody reads any more.
    async fn send_all(&mut self) -> Result<bool, Refusal> {
        loop {
            let entries =
                self.service
                    .store
                    .entries(&self.clinic.id, self.position, READ_ENTRIES)?;
            if entries.is_empty() {
                return Ok(true);
            }
            for entry in entries {
                self.position = entry.position.saturating_add(1);
                let Some(answer) = self.answer(&entry)? else {
                    continue;
                };
                if self.answers.send(Ok(answer)).await.is_err() {
                    return Ok(false);
                }
                if *self.service.stopping.borrow() {
                    return Ok(true);
                }
            }
        }
    }

    fn answer(&self, entry: &Entry) -> Result<Option<v1::WatchResponse>, Refusal> {
        let name = EpisodeName {
            clinic: self.clinic.id.to_string(),
            episode: entry.stream.to_string(),
        };
        let is_clinic = entry.stream == self.clinic.stream;
        if self.only.as_ref().is_some_and(|only| *only != name) {
            return Ok(None);
        }
        let recorded = if is_clinic {
            self.of_clinic(entry)?
        } else {
            Some(self.of_episode(&name, entry)?)
        };
        Ok(recorded.map(|recorded| v1::WatchResponse {
            position: entry.position,
            sequence: entry.sequence,
            recorded_at: Some(timestamp_from_ms(entry.recorded_at_ms)),
            episode: if is_clinic {
                String::new()
            } else {
                name.to_string()
            },
            recorded: Some(recorded),
        }))
    }

    fn of_clinic(&self, entry: &Entry) -> Result<Option<Recorded>, Refusal> {
        let clinic = self.clinic.id.as_str();
        Ok(match decoded(entry)? {
            Content::PackPart(part) if part.proposal.is_none() => {
                let digest = entry.pack_digest.filter(|_| part.is_last);
                digest.map(|digest| {
                    let pack = name::pack_name(clinic, &digest);
                    Recorded::PackActivated(v1::PackActivated { pack })
                })
            }
            Content::Roll(roll) => Some(Recorded::RollRecorded(v1::Roll {
                recorded_at: Some(timestamp_from_ms(entry.recorded_at_ms)),
                ..roll_to_wire(clinic, entry.position, &roll)
            })),
            Content::RollWithdrawal(withdrawal) => {
                Some(Recorded::RollWithdrawn(v1::RollWithdrawn {
                    roll: name::roll_name(clinic, withdrawal.roll),
                    withdrawal: Some(roll_withdrawal_to_wire(&withdrawal)),
                }))
            }
            Content::PackPart(part) => {
                let position = entry.position;
                part.is_last.then(|| self.proposal(position)).transpose()?
            }
            Content::Approval(approval) => Some(self.proposal(approval.proposal)?),
            Content::ProposalWithdrawal(withdrawal) => Some(self.proposal(withdrawal.proposal)?),
            Content::ClinicDirective(given) => {
                let position = match given.directive.order {
                    Order::Withdraw { directive } => directive.0,
                    _ => entry.position,
                };
                let directive = kept_directive(&self.clinic, position)?;
                Some(Recorded::ClinicDirective(directive))
            }
            Content::Leads(_)
            | Content::Opening(_)
            | Content::Closing(_)
            | Content::Fact(_)
            | Content::Decision(_) => None,
        })
    }

    fn proposal(&self, position: u64) -> Result<Recorded, Refusal> {
        kept_proposal(&self.clinic, position).map(Recorded::Proposal)
    }

    fn of_episode(&self, name: &EpisodeName, entry: &Entry) -> Result<Recorded, Refusal> {
        let episode = self.service.episode_of(&self.clinic, name)?;
        let episode = lock(&episode);
        let damaged = || Refusal::Damaged(format!("entry {}", entry.position));
        let position = Position(entry.position);
        Ok(match decoded(entry)? {
            Content::Opening(_) => Recorded::Opened(episode.opened_to_wire()),
            Content::Closing(closing) => Recorded::Closed(v1::EpisodeClosed {
                date: closing.date.to_string(),
                who: closing.who.to_string(),
                why: closing.why,
            }),
            Content::Fact(_) => {
                let records = episode.history.records();
                let at = records
                    .binary_search_by_key(&position, |record| record.position)
                    .map_err(|_| damaged())?;
                let fact = records
                    .get(at)
                    .and_then(|record| episode.recorded_fact(record));
                Recorded::Fact(fact.ok_or_else(damaged)?)
            }
            Content::Decision(_) => {
                let number = episode.number_at(position).ok_or_else(damaged)?;
                let decision = episode.decision_to_wire(&self.clinic, number);
                Recorded::Decision(decision.ok_or_else(damaged)?)
            }
            Content::PackPart(_)
            | Content::Roll(_)
            | Content::RollWithdrawal(_)
            | Content::Leads(_)
            | Content::Approval(_)
            | Content::ProposalWithdrawal(_)
            | Content::ClinicDirective(_) => {
                return Err(damaged());
            }
        })
    }
}

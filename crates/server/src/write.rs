//! Writing to an episode: admitted, compared and appended, answered only when durable.
//!
//! INVARIANT (record-first): every answer here is made after the store's, from what the stream then holds.
//!
//! Leaves to others: what a fact may look like (`rungwise_engine::admit`), durability (`rungwise-store`), deciding
//! (`crate::next`).

use crate::clinic::Clinic;
use crate::episode::Loaded;
use crate::limits::{APPEND_TRIES_MAX, EPISODE_ENTRIES_MAX};
use crate::refusal::Refusal;
use crate::service::{Found, LOCAL_CALLER, Service};
use jiff::civil::Date;
use rungwise_api::Violation;
use rungwise_api::content::{self, Closing, Content};
use rungwise_api::name::EpisodeName;
use rungwise_api::v1::Reason;
use rungwise_engine::admit::{self, Before, admit};
use rungwise_engine::fact::{Episode, Fact, Record};
use rungwise_pack::model::CheckedPack;
use rungwise_store::{Append, AppendError, Appended, Kind, NewEntry, Request};

/// Turns what admission says of a fact into what the request's author reads, by the fact's place in the draft.
pub(crate) type Naming = fn(usize, &admit::Refusal) -> Violation;

/// What a call wants to write to an episode.
#[derive(Debug)]
pub(crate) enum Draft {
    /// Facts, with the names of their fields, and with what is wrong with them unless they were recorded already.
    Facts(Vec<Fact>, Naming, Vec<Violation>),
    /// The end of the episode.
    Close(Closing),
}

/// Where it was written.
#[derive(Debug)]
pub(crate) struct Written {
    /// The episode, read on past it.
    pub(crate) found: Found,
    /// The positions of what was written, in its order.
    pub(crate) positions: Vec<u64>,
    /// The sequence of the entry after it.
    pub(crate) sequence: u64,
}

/// A request that may be repeated.
pub(crate) fn request(
    store: &rungwise_store::Store,
    clinic: &Clinic,
    id: String,
    value: &[u8],
) -> Request {
    let fingerprint = store.fingerprint(&clinic.id, value);
    Request {
        caller: LOCAL_CALLER.to_owned(),
        request_id: id,
        fingerprint,
    }
}

/// What a request's fingerprint is taken over: the call, what it is about, and the converted values.
pub(crate) fn fingerprinted(call: &str, about: &str, contents: &[Vec<u8>]) -> Vec<u8> {
    let parts = [call.as_bytes(), about.as_bytes()]
        .into_iter()
        .chain(contents.iter().map(Vec::as_slice));
    let mut value = Vec::new();
    for part in parts {
        value.extend_from_slice(&u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
        value.extend_from_slice(part);
    }
    value
}

impl Service {
    /// Writes what `draft` makes of the episode as it stands. It is made again when another call wrote meanwhile.
    pub(crate) async fn write(
        &self,
        name: &EpisodeName,
        (call, request_id): (&'static str, String),
        expected: Option<u64>,
        draft: impl Fn(&Loaded) -> Result<Draft, Refusal>,
    ) -> Result<Written, Refusal> {
        for _ in 0..APPEND_TRIES_MAX {
            let found = self.episode(name)?;
            let appending = {
                let episode = found.lock();
                let draft = draft(&episode)?;
                let contents = draft.contents();
                let fingerprinted = fingerprinted(call, &name.to_string(), &contents);
                let request = request(
                    &self.store,
                    &found.clinic,
                    request_id.clone(),
                    &fingerprinted,
                );
                if let Some(earlier) = self.store.answered(&found.clinic.id, &request)? {
                    drop(episode);
                    return self.written(found, &earlier);
                }
                writable(&episode, expected, contents.len())?;
                draft.judge(&episode, self.clock.today())?;
                self.store.append(Append {
                    clinic: found.clinic.id.clone(),
                    expects: vec![(episode.stream.clone(), episode.next_sequence)],
                    entries: contents
                        .into_iter()
                        .map(|content| draft.entry(&episode, content))
                        .collect(),
                    request: Some(request),
                    answer: Vec::new(),
                })
            };
            match appending.await {
                Ok(appended) => return self.written(found, &appended),
                Err(AppendError::Conflict {
                    expected, found, ..
                }) => {
                    tracing::debug!(expected, found, "another call wrote; made again");
                }
                Err(error) => return Err(error.into()),
            }
        }
        Err(Refusal::Contended {
            episode: name.to_string(),
        })
    }

    fn written(&self, found: Found, appended: &Appended) -> Result<Written, Refusal> {
        self.read_on(&found.clinic, &mut found.lock())?;
        let last = appended.sequences.last().copied().unwrap_or_default();
        Ok(Written {
            found,
            positions: appended.positions.clone(),
            sequence: last.saturating_add(1),
        })
    }
}

/// Whether the episode may be written to by a call that saw it at `expected`.
pub(crate) fn writable(
    episode: &Loaded,
    expected: Option<u64>,
    entries: usize,
) -> Result<(), Refusal> {
    let subject = episode.name.to_string();
    if let Some(expected) = expected.filter(|expected| *expected != episode.next_sequence) {
        return Err(Refusal::Stale {
            episode: subject,
            expected,
            found: episode.next_sequence,
        });
    }
    if let Some(closed) = &episode.closed {
        return Err(Refusal::Precondition {
            reason: Reason::EpisodeClosed,
            subject,
            wrong: format!("it was closed on {}", closed.date),
            right: "open another episode".to_owned(),
        });
    }
    let entries = u64::try_from(entries).unwrap_or(u64::MAX);
    if episode.next_sequence.saturating_add(entries) > EPISODE_ENTRIES_MAX {
        return Err(Refusal::Precondition {
            reason: Reason::EpisodeFull,
            subject,
            wrong: format!(
                "it holds {} of at most {EPISODE_ENTRIES_MAX} entries",
                episode.next_sequence
            ),
            right: "close it and open another".to_owned(),
        });
    }
    Ok(())
}

impl Draft {
    fn contents(&self) -> Vec<Vec<u8>> {
        match self {
            Self::Facts(facts, ..) => facts
                .iter()
                .map(|fact| content::encode(&Content::Fact(fact.clone())))
                .collect(),
            Self::Close(closing) => vec![content::encode(&Content::Closing(closing.clone()))],
        }
    }

    fn judge(&self, episode: &Loaded, today: Date) -> Result<(), Refusal> {
        match self {
            Self::Facts(_, _, wrong) if !wrong.is_empty() => Err(Refusal::Fields(wrong.clone())),
            Self::Facts(facts, naming, _) => {
                let records = episode.history.records();
                admit_all(
                    &episode.pack.pack,
                    episode.history.episode(),
                    records,
                    facts,
                    today,
                    *naming,
                )
            }
            Self::Close(closing) if closing.date < episode.opening.opened_on => {
                let opened_on = episode.opening.opened_on;
                let right = format!("a date from {opened_on} on");
                Err(Refusal::field(
                    "date",
                    Reason::BeforeOpened,
                    "dated before the episode opened",
                    right,
                ))
            }
            Self::Close(_) => Ok(()),
        }
    }

    fn entry(&self, episode: &Loaded, content: Vec<u8>) -> NewEntry {
        NewEntry {
            stream: episode.stream.clone(),
            kind: match self {
                Self::Facts(..) => Kind::Fact,
                Self::Close(_) => Kind::Close,
            },
            semantics: 0,
            pack_digest: None,
            content,
            key: episode.key,
        }
    }
}

/// Admits facts one after another, each judged after those before it.
pub(crate) fn admit_all(
    pack: &CheckedPack,
    episode: &Episode,
    records: &[Record],
    facts: &[Fact],
    today: Date,
    naming: Naming,
) -> Result<(), Refusal> {
    let mut before = Before::new(episode, records);
    let mut violations = Vec::new();
    for (at, fact) in facts.iter().enumerate() {
        if let Err(refusals) = admit(pack, &before, fact, today) {
            violations.extend(refusals.iter().map(|refusal| naming(at, refusal)));
        }
        before.add(fact);
    }
    match violations.as_slice() {
        [] => Ok(()),
        [one] if matches!(one.reason, Reason::NoOpenProposal | Reason::AlreadyVoid) => {
            Err(Refusal::Precondition {
                reason: one.reason,
                subject: one.field.clone(),
                wrong: one.wrong.clone(),
                right: one.right.clone(),
            })
        }
        _ => Err(Refusal::Fields(violations)),
    }
}

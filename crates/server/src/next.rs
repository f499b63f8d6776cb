//! Deciding and recording: the next decision lands only where the episode's and the clinic's streams stand as it saw them.
//!
//! Leaves to others: what is decided (`rungwise-engine`), the calls (`crate::services`).

use crate::clinic::Clinic;
use crate::episode::Loaded;
use crate::limits::APPEND_TRIES_MAX;
use crate::refusal::Refusal;
use crate::service::{
    Found, Service, episode_field, language, lock, present_date_field, request_id,
};
use crate::write::{fingerprinted, request, writable};
use jiff::civil::Date;
use rungwise_api::content::{self, Content};
use rungwise_api::name::EpisodeName;
use rungwise_api::to_wire::{decision_to_wire, prescription_to_wire};
use rungwise_api::v1::{self, Reason};
use rungwise_engine::admit::{Before, admit};
use rungwise_engine::decide::{self, Next, NextError, in_force};
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::{Body, DecisionNo, Fact, FactKind, Position, Record};
use rungwise_engine::history::History;
use rungwise_engine::prescription::prescription;
use rungwise_pack::model::{CheckedPack, Reporter};
use rungwise_pack::quantity::Key;
use rungwise_store::{Append, AppendError, Kind, NewEntry, Request};

/// What a call for the next prescription asks, read.
struct Asked {
    name: EpisodeName,
    request_id: String,
    as_of: Date,
    expected: Option<u64>,
    language: String,
}

/// What one try came to.
enum Step {
    /// The decision of this number stands already.
    Stands(DecisionNo),
    /// This one is new.
    New(Box<Decision>),
}

impl Service {
    /// The next prescription.
    pub(crate) async fn next(&self, asked: &v1::NextRequest) -> Result<v1::NextResponse, Refusal> {
        let asked = Asked {
            name: episode_field("episode", &asked.episode)?,
            request_id: request_id(&asked.request_id)?,
            as_of: present_date_field(&self.clock, "as_of", &asked.as_of)?,
            expected: asked.expected_sequence,
            language: asked.language.clone(),
        };
        for _ in 0..APPEND_TRIES_MAX {
            let (found, clinic_sequence) = self.found_at(&asked.name)?;
            let value = fingerprinted(
                "Next",
                &asked.name.to_string(),
                &[asked.as_of.to_string().into_bytes()],
            );
            let request = request(&self.store, &found.clinic, asked.request_id.clone(), &value);
            if let Some(earlier) = self.store.answered(&found.clinic.id, &request)? {
                self.read_on(&found.clinic, &mut found.lock())?;
                return self.answer_at(&found, &asked, earlier.positions.first().copied());
            }
            let (step, seen) = {
                let episode = found.lock();
                let kept = episode.pack_on(&found.clinic, asked.as_of);
                language(&kept.pack, &asked.language)?;
                writable(&episode, asked.expected, 1)?;
                (
                    step(&kept.pack, &episode, asked.as_of)?,
                    episode.next_sequence,
                )
            };
            let decision = match step {
                Step::Stands(number) => return respond(&found, &asked, number, false),
                Step::New(decision) => decision,
            };
            let append = self.decided(&found, (seen, clinic_sequence), &decision, request)?;
            match self.store.append(append).await {
                Ok(appended) => {
                    let mut episode = found.lock();
                    self.read_on(&found.clinic, &mut episode)?;
                    episode.keep_snapshot(&self.store, &found.clinic);
                    drop(episode);
                    return self.answer_at(&found, &asked, appended.positions.first().copied());
                }
                Err(AppendError::Conflict {
                    expected, found, ..
                }) => {
                    tracing::debug!(expected, found, "another call wrote; decided again");
                }
                Err(error) => return Err(error.into()),
            }
        }
        Err(Refusal::Contended {
            episode: asked.name.to_string(),
        })
    }

    /// The episode, read after its clinic's stream, with the sequence that the clinic's next entry then got: whatever the
    /// clinic's stream holds below it, the episode was read with.
    fn found_at(&self, name: &EpisodeName) -> Result<(Found, u64), Refusal> {
        let clinic = self.clinic(&name.clinic)?;
        let clinic_sequence = clinic.catch_up()?;
        let episode = self.episode_of(&clinic, name)?;
        Ok((Found { clinic, episode }, clinic_sequence))
    }

    /// What Next would answer.
    pub(crate) fn preview(
        &self,
        asked: &v1::PreviewRequest,
    ) -> Result<v1::PreviewResponse, Refusal> {
        let name = episode_field("episode", &asked.episode)?;
        let as_of = crate::service::date_field("as_of", &asked.as_of)?;
        let found = self.episode(&name)?;
        let episode = found.lock();
        let kept = episode.pack_on(&found.clinic, as_of);
        let pack = &kept.pack;
        let language = language(pack, &asked.language)?;
        let decision = decide::decide(pack, &episode.history, as_of);
        let mut history = episode.history.clone();
        let position = next_position(&history);
        let record = Record {
            position,
            recorded_on: self.clock.today(),
            body: Body::Decision(Box::new(decision)),
        };
        history.push(pack, record);
        let Some((number, _, decision)) = history.last_decision() else {
            return Err(Refusal::Fault(
                "a decision just pushed is not there".to_owned(),
            ));
        };
        let mut current = current(pack, &name, &history, as_of, &language);
        if current.decision == name.decision(number.0) {
            current.decision.clear();
        }
        let if_accepted =
            if_accepted(pack, &name, &history, number, as_of, &language).map(|mut accepted| {
                accepted.decision.clear();
                accepted
            });
        Ok(v1::PreviewResponse {
            decision: Some(decision_to_wire(pack, &name, None, decision)),
            prescription: Some(current),
            if_accepted,
        })
    }

    /// The append of a decision, with what it latches in the person's other episodes.
    fn decided(
        &self,
        found: &Found,
        (seen, clinic_sequence): (u64, u64),
        decision: &Decision,
        request: Request,
    ) -> Result<Append, Refusal> {
        let clinic = &found.clinic;
        let (own, latching, person) = {
            let episode = found.lock();
            let own = NewEntry {
                stream: episode.stream.clone(),
                kind: Kind::Decision,
                semantics: decision.semantics,
                pack_digest: Some(decision.pack),
                content: content::encode(&Content::Decision(Box::new(decision.clone()))),
                key: episode.key,
            };
            (
                own,
                latched_of_person(
                    &episode.pack_on(clinic, decision.as_of).pack,
                    &episode,
                    decision,
                ),
                episode.opening.person.clone(),
            )
        };
        let mut expects = vec![
            (own.stream.clone(), seen),
            (clinic.stream.clone(), clinic_sequence),
        ];
        let mut entries = vec![own];
        if !latching.is_empty() {
            self.link(
                clinic,
                &person,
                (decision.as_of, &latching),
                &mut expects,
                &mut entries,
            )?;
        }
        Ok(Append {
            clinic: clinic.id.clone(),
            expects,
            entries,
            request: Some(request),
            answer: Vec::new(),
        })
    }

    /// Adds the referral to every other open episode of the person.
    fn link(
        &self,
        clinic: &Clinic,
        person: &str,
        (date, rules): (Date, &[Key]),
        expects: &mut Vec<(rungwise_store::StreamId, u64)>,
        entries: &mut Vec<NewEntry>,
    ) -> Result<(), Refusal> {
        for listed in clinic.of_person(person)? {
            if expects.iter().any(|(stream, _)| *stream == listed.stream) {
                continue;
            }
            let name = EpisodeName {
                clinic: clinic.id.to_string(),
                episode: listed.stream.to_string(),
            };
            let other = self.episode_of(clinic, &name)?;
            let other = lock(&other);
            if other.closed.is_some() {
                continue;
            }
            let latched = other.latched();
            let facts = rules.iter().filter(|rule| !latched.contains(rule));
            let facts: Vec<Fact> = facts
                .filter_map(|rule| person_refer(&other, date, rule, self.clock.today()))
                .collect();
            if facts.is_empty() {
                continue;
            }
            expects.push((other.stream.clone(), other.next_sequence));
            entries.extend(facts.into_iter().map(|fact| NewEntry {
                stream: other.stream.clone(),
                kind: Kind::Fact,
                semantics: 0,
                pack_digest: None,
                content: content::encode(&Content::Fact(fact)),
                key: other.key,
            }));
        }
        Ok(())
    }

    fn answer_at(
        &self,
        found: &Found,
        asked: &Asked,
        position: Option<u64>,
    ) -> Result<v1::NextResponse, Refusal> {
        let number = position.and_then(|position| found.lock().number_at(Position(position)));
        let number = number
            .ok_or_else(|| Refusal::Fault("a decision recorded is not in its stream".to_owned()))?;
        respond(found, asked, number, true)
    }
}

/// The refer rules of the person that a decision latches and that were not latched before.
fn latched_of_person(pack: &CheckedPack, episode: &Loaded, decision: &Decision) -> Vec<Key> {
    let before = in_force(pack, &episode.history, decision.as_of)
        .state
        .latched;
    let of_person = |rule: &&Key| {
        let index = pack.rule(rule);
        pack.screening
            .iter()
            .any(|screening| Some(screening.rule) == index && screening.of_person)
    };
    decision
        .state
        .latched
        .iter()
        .filter(|rule| !before.contains(rule))
        .filter(of_person)
        .cloned()
        .collect()
}

/// The referral as a fact of another episode of the person, where its pack knows the rule.
pub(crate) fn person_refer(other: &Loaded, date: Date, rule: &Key, today: Date) -> Option<Fact> {
    let date = date.max(other.opening.opened_on);
    let fact = Fact {
        date,
        by: Reporter::Device,
        kind: FactKind::PersonRefer { rule: rule.clone() },
    };
    let before = Before::new(other.history.episode(), other.history.records());
    match admit(&other.pack.pack, &before, &fact, today) {
        Ok(()) => Some(fact),
        Err(_) => {
            tracing::warn!(episode = %other.name, rule = %rule, "its pack does not know this rule of the person");
            None
        }
    }
}

fn step(pack: &CheckedPack, episode: &Loaded, as_of: Date) -> Result<Step, Refusal> {
    match decide::next(pack, &episode.history, as_of) {
        Ok(Next::Again(number)) => Ok(Step::Stands(number)),
        Ok(Next::New(decision)) => Ok(Step::New(decision)),
        Err(NextError::AsOfBeforeLast { last, .. }) => Err(Refusal::Precondition {
            reason: Reason::BeforeLastDecision,
            subject: episode.name.to_string(),
            wrong: format!("{as_of} is before the last decision's date"),
            right: format!("ask for {last} or a later date, or use Preview"),
        }),
    }
}

fn respond(
    found: &Found,
    asked: &Asked,
    number: DecisionNo,
    recorded: bool,
) -> Result<v1::NextResponse, Refusal> {
    let episode = found.lock();
    let kept = episode.pack_on(&found.clinic, asked.as_of);
    let pack = &kept.pack;
    let language = language(pack, &asked.language)?;
    let decision = episode.decision_to_wire(&found.clinic, number);
    Ok(v1::NextResponse {
        if_accepted: if_accepted(
            pack,
            &episode.name,
            &episode.history,
            number,
            asked.as_of,
            &language,
        ),
        prescription: Some(current(
            pack,
            &episode.name,
            &episode.history,
            asked.as_of,
            &language,
        )),
        decision,
        recorded,
        sequence: episode.next_sequence,
    })
}

/// What is prescribed on a date.
pub(crate) fn current(
    pack: &CheckedPack,
    name: &EpisodeName,
    history: &History,
    as_of: Date,
    language: &str,
) -> v1::Prescription {
    let decision = in_force(pack, history, as_of)
        .decision
        .map(|number| number.0);
    prescription_to_wire(
        pack,
        name,
        decision,
        &prescription(pack, history, as_of),
        language,
    )
}

/// What an open proposal would prescribe once accepted.
fn if_accepted(
    pack: &CheckedPack,
    name: &EpisodeName,
    history: &History,
    number: DecisionNo,
    as_of: Date,
    language: &str,
) -> Option<v1::Prescription> {
    if in_force(pack, history, as_of).open_proposal != Some(number) {
        return None;
    }
    let mut accepted = history.clone();
    let kind = FactKind::SignOff {
        decision: number,
        accepted: true,
        who: Key::from(""),
    };
    let body = Body::Fact(Fact {
        date: as_of,
        by: Reporter::Clinician,
        kind,
    });
    accepted.push(
        pack,
        Record {
            position: next_position(history),
            recorded_on: as_of,
            body,
        },
    );
    Some(current(pack, name, &accepted, as_of, language))
}

fn next_position(history: &History) -> Position {
    let last = history
        .records()
        .last()
        .map_or(0, |record| record.position.0);
    Position(last.saturating_add(1))
}

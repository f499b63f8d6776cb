//! Lists of episodes and of facts, page by page.
//!
//! Leaves to others: tokens (`crate::page`).

use crate::clinic::Listed;
use crate::episode::Loaded;
use crate::limits::EXAMINED_MAX;
use crate::page;
use crate::refusal::Refusal;
use crate::service::{Service, clinic_field, date_field, episode_field, lock, page_size};
use jiff::ToSpan as _;
use jiff::civil::Date;
use rungwise_api::name::EpisodeName;
use rungwise_api::v1::{self, Reason};

/// What the episodes of a list must be like.
struct Wanted {
    external_id: String,
    person: String,
    referred: bool,
    ask_due_by: Option<Date>,
    /// No session on or after this date.
    silent_since: Option<Date>,
    include_closed: bool,
}

impl Wanted {
    fn read(request: &v1::ListEpisodesRequest) -> Result<Self, Refusal> {
        let ask_due_by = Some(request.ask_due_by.as_str()).filter(|date| !date.is_empty());
        let silent_since = match request.silent_days {
            0 => None,
            days if days > 3_650 => {
                let wrong = format!("{days} are too many");
                return Err(Refusal::field(
                    "silent_days",
                    Reason::OutOfBounds,
                    wrong,
                    "0 to 3650",
                ));
            }
            days => {
                let as_of = date_field("silent_as_of", &request.silent_as_of)?;
                Some(as_of.saturating_sub(i64::from(days).days()))
            }
        };
        Ok(Self {
            external_id: request.external_id.clone(),
            person: request.person.clone(),
            referred: request.referred,
            ask_due_by: ask_due_by
                .map(|date| date_field("ask_due_by", date))
                .transpose()?,
            silent_since,
            include_closed: request.include_closed,
        })
    }

    /// Whether it is worth reading.
    fn may_be(&self, listed: &Listed) -> bool {
        let external_id = listed.external_id.as_deref().unwrap_or_default();
        (self.person.is_empty() || *listed.person == *self.person)
            && (self.external_id.is_empty() || external_id == self.external_id)
    }

    fn is(&self, episode: &Loaded) -> bool {
        if episode.closed.is_some() && !self.include_closed {
            return false;
        }
        let is_referred = || !episode.latched().is_empty();
        let is_due = |by: Date| {
            let last = episode.history.last_decision();
            last.is_some_and(|(_, _, decision)| decision.asks.iter().any(|ask| ask.by <= by))
        };
        let is_silent = |since: Date| {
            episode
                .last_session_on()
                .unwrap_or(episode.opening.opened_on)
                < since
        };
        (!self.referred || is_referred())
            && self.ask_due_by.is_none_or(is_due)
            && self.silent_since.is_none_or(is_silent)
    }
}

impl Service {
    /// Lists episodes, oldest first.
    pub(super) fn list_episodes(
        &self,
        request: &v1::ListEpisodesRequest,
    ) -> Result<v1::ListEpisodesResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &request.parent)?)?;
        let _entered = clinic.enter()?;
        let size = page_size(request.page_size)?;
        let wanted = Wanted::read(request)?;
        let flags = format!(
            "{} {} {}",
            request.referred, request.silent_days, request.include_closed
        );
        let conditions = [
            "ListEpisodes",
            &request.parent,
            &request.external_id,
            &request.person,
            &request.ask_due_by,
            &request.silent_as_of,
            &flags,
        ];
        let start = page::start(&request.page_token, &conditions)?;
        let examined = clinic.opened_from(start, EXAMINED_MAX)?;
        let mut episodes = Vec::new();
        let mut next_page_token = String::new();
        for listed in &examined {
            if episodes.len() == size {
                next_page_token = page::token(listed.position, &conditions);
                break;
            }
            if wanted.may_be(listed) {
                let name = EpisodeName {
                    clinic: clinic.id.to_string(),
                    episode: listed.stream.to_string(),
                };
                let episode = self.episode_of(&clinic, &name)?;
                let episode = lock(&episode);
                if wanted.is(&episode) {
                    episodes.push(episode.to_wire());
                }
            }
        }
        if let Some(last) = examined
            .last()
            .filter(|_| examined.len() == EXAMINED_MAX && next_page_token.is_empty())
        {
            next_page_token = page::token(last.position.saturating_add(1), &conditions);
        }
        Ok(v1::ListEpisodesResponse {
            episodes,
            next_page_token,
        })
    }

    /// Lists the facts of an episode.
    pub(super) fn list_facts(
        &self,
        request: &v1::ListFactsRequest,
    ) -> Result<v1::ListFactsResponse, Refusal> {
        let name = episode_field("parent", &request.parent)?;
        let found = self.episode(&name)?;
        let _entered = found.clinic.enter()?;
        let size = page_size(request.page_size)?;
        let conditions = ["ListFacts", request.parent.as_str()];
        let start = page::start(&request.page_token, &conditions)?;
        let episode = found.lock();
        let mut later = episode
            .history
            .records()
            .iter()
            .filter(|record| record.position.0 >= start)
            .filter_map(|record| episode.recorded_fact(record));
        let facts: Vec<v1::RecordedFact> = later.by_ref().take(size).collect();
        let next = later
            .next()
            .map(|fact| page::token(fact.position, &conditions));
        Ok(v1::ListFactsResponse {
            facts,
            next_page_token: next.unwrap_or_default(),
        })
    }
}

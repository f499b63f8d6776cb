//! PrescriptionService: deciding, and reading what was decided.
//!
//! Leaves to others: deciding and recording (`crate::next`).

use crate::limits::{BATCH_AT_ONCE, STREAM_BUFFER};
use crate::next::current;
use crate::refusal::Refusal;
use crate::service::{
    Service, date_field, decision_field, episode_field, language, present_date_field, request_id,
    required_sequence,
};
use rungwise_api::from_wire::Reader;
use rungwise_api::to_wire::ask_to_wire;
use rungwise_api::v1::next_batch_response::Answer;
use rungwise_api::v1::prescription_service_server::PrescriptionService;
use rungwise_api::v1::{self, Reason};
use rungwise_engine::admit::WHO_BYTES_MAX;
use rungwise_engine::decide::in_force;
use rungwise_engine::decision::Ask;
use rungwise_engine::prescription::prescription;
use rungwise_engine::sheet::sheet;
use rungwise_engine::wanted::wanted;
use rungwise_pack::quantity::Key;
use std::sync::Arc;
use tokio::sync::{Semaphore, mpsc};
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Code, Request, Response, Status, Streaming};

/// The service.
#[derive(Clone, Debug)]
pub(crate) struct Prescriptions(pub(crate) Arc<Service>);

impl Service {
    fn current(&self, request: &v1::CurrentRequest) -> Result<v1::CurrentResponse, Refusal> {
        let name = episode_field("episode", &request.episode)?;
        let as_of = date_field("as_of", &request.as_of)?;
        let found = self.episode(&name)?;
        let _entered = found.clinic.enter()?;
        let episode = found.lock();
        let kept = episode.pack_on(&found.clinic, as_of);
        let pack = &kept.pack;
        let language = language(pack, &request.language)?;
        let in_force = in_force(pack, &episode.history, as_of);
        let prescribed = in_force.decision.is_some();
        let prescription =
            prescribed.then(|| current(pack, &name, &episode.history, as_of, &language));
        let proposal = in_force.open_proposal.map(|number| name.decision(number.0));
        Ok(v1::CurrentResponse {
            prescription,
            proposal: proposal.unwrap_or_default(),
        })
    }

    fn wanted(&self, request: &v1::WantedRequest) -> Result<v1::WantedResponse, Refusal> {
        let name = episode_field("episode", &request.episode)?;
        let as_of = date_field("as_of", &request.as_of)?;
        let found = self.episode(&name)?;
        let _entered = found.clinic.enter()?;
        let episode = found.lock();
        let kept = episode.pack_on(&found.clinic, as_of);
        let pack = &kept.pack;
        let language = language(pack, &request.language)?;
        let question = |question: rungwise_engine::wanted::Question| {
            let wording = question.wording(pack, &language);
            let ask = Ask {
                what: question.what,
                of: question.of,
                by: question.due,
                rule: question.rule,
            };
            v1::Question {
                ask: Some(ask_to_wire(&name, &ask)),
                wording,
            }
        };
        let questions = wanted(pack, &episode.history, as_of)
            .into_iter()
            .map(question)
            .collect();
        Ok(v1::WantedResponse { questions })
    }

    fn render(&self, request: &v1::RenderRequest) -> Result<v1::RenderResponse, Refusal> {
        let name = episode_field("episode", &request.episode)?;
        let as_of = date_field("as_of", &request.as_of)?;
        let found = self.episode(&name)?;
        let _entered = found.clinic.enter()?;
        let episode = found.lock();
        let kept = episode.pack_on(&found.clinic, as_of);
        let pack = &kept.pack;
        let language = language(pack, &request.language)?;
        let number = in_force(pack, &episode.history, as_of).decision;
        let made = number.and_then(|number| Some((number, episode.history.decision(number)?.1)));
        let Some((number, decision)) = made else {
            return Err(Refusal::Precondition {
                reason: Reason::NothingPrescribed,
                subject: name.to_string(),
                wrong: format!("nothing was prescribed by {as_of}"),
                right: "ask for the next prescription first".to_owned(),
            });
        };
        let sheet = sheet(
            pack,
            &prescription(pack, &episode.history, as_of),
            decision,
            &language,
        );
        Ok(v1::RenderResponse {
            sheet,
            language,
            decision: name.decision(number.0),
        })
    }

    async fn answer_proposal(
        &self,
        request: &v1::SignOffRequest,
    ) -> Result<v1::SignOffResponse, Refusal> {
        let (name, number) = decision_field("decision", &request.decision)?;
        let id = request_id(&request.request_id)?;
        let expected = required_sequence(request.expected_sequence)?;
        let date = present_date_field(&self.clock, "date", &request.date)?;
        let mut reader = Reader::default();
        let who = reader.text("who", &request.who, WHO_BYTES_MAX);
        let accepted = match v1::Answer::try_from(request.answer) {
            Ok(v1::Answer::Accept) => Some(true),
            Ok(v1::Answer::Decline) => Some(false),
            Ok(v1::Answer::Unspecified) | Err(_) => {
                reader.unknown_enum("answer", request.answer, "say accept or decline")
            }
        };
        let (Some(who), Some(accepted)) = (who, accepted) else {
            return Err(Refusal::Fields(reader.violations));
        };
        let clinic = self.clinic(&name.clinic)?;
        let _entered = clinic.enter()?;
        let written = self
            .sign_off(
                (&name, number),
                id,
                expected,
                date,
                (Key::from(who), accepted),
            )
            .await?;
        let episode = written.found.lock();
        let kept = episode.pack_on(&clinic, date);
        let pack = &kept.pack;
        let language = language(pack, &request.language)?;
        let fact = written
            .positions
            .first()
            .map(|position| name.fact(*position))
            .unwrap_or_default();
        let prescription = Some(current(pack, &name, &episode.history, date, &language));
        Ok(v1::SignOffResponse {
            fact,
            prescription,
            sequence: written.sequence,
        })
    }

    /// One request of a batch.
    async fn next_of_batch(
        &self,
        request: &v1::NextBatchRequest,
    ) -> Result<v1::NextResponse, Refusal> {
        if request.correlation_id.is_empty() {
            let right = "choose one, unique among the requests not yet answered";
            return Err(Refusal::field(
                "correlation_id",
                Reason::FieldMissing,
                "it is required",
                right,
            ));
        }
        let Some(next) = &request.next else {
            return Err(Refusal::field(
                "next",
                Reason::FieldMissing,
                "it is required",
                "say what is asked",
            ));
        };
        let clinic = self.clinic(&episode_field("episode", &next.episode)?.clinic)?;
        let _entered = clinic.wait_to_enter().await?;
        self.next(next).await
    }
}

#[tonic::async_trait]
impl PrescriptionService for Prescriptions {
    async fn next(
        &self,
        request: Request<v1::NextRequest>,
    ) -> Result<Response<v1::NextResponse>, Status> {
        let request = request.get_ref();
        let clinic = self
            .0
            .clinic(&episode_field("episode", &request.episode)?.clinic)?;
        let _entered = clinic.enter()?;
        Ok(Response::new(self.0.next(request).await?))
    }

    async fn preview(
        &self,
        request: Request<v1::PreviewRequest>,
    ) -> Result<Response<v1::PreviewResponse>, Status> {
        let request = request.get_ref();
        let clinic = self
            .0
            .clinic(&episode_field("episode", &request.episode)?.clinic)?;
        let _entered = clinic.enter()?;
        Ok(Response::new(self.0.preview(request)?))
    }

    async fn current(
        &self,
        request: Request<v1::CurrentRequest>,
    ) -> Result<Response<v1::CurrentResponse>, Status> {
        Ok(Response::new(self.0.current(request.get_ref())?))
    }

    async fn wanted(
        &self,
        request: Request<v1::WantedRequest>,
    ) -> Result<Response<v1::WantedResponse>, Status> {
        Ok(Response::new(self.0.wanted(request.get_ref())?))
    }

    async fn render(
        &self,
        request: Request<v1::RenderRequest>,
    ) -> Result<Response<v1::RenderResponse>, Status> {
        Ok(Response::new(self.0.render(request.get_ref())?))
    }

    async fn sign_off(
        &self,
        request: Request<v1::SignOffRequest>,
    ) -> Result<Response<v1::SignOffResponse>, Status> {
        Ok(Response::new(
            self.0.answer_proposal(request.get_ref()).await?,
        ))
    }

    type NextBatchStream = ReceiverStream<Result<v1::NextBatchResponse, Status>>;

    async fn next_batch(
        &self,
        request: Request<Streaming<v1::NextBatchRequest>>,
    ) -> Result<Response<Self::NextBatchStream>, Status> {
        let (answers, stream) = mpsc::channel(STREAM_BUFFER);
        tokio::spawn(batch(self.0.clone(), request.into_inner(), answers));
        Ok(Response::new(ReceiverStream::new(stream)))
    }
}

/// Answers the requests of a batch as they come, so many at once.
async fn batch(
    service: Arc<Service>,
    mut requests: Streaming<v1::NextBatchRequest>,
    answers: mpsc::Sender<Result<v1::NextBatchResponse, Status>>,
) {
    let at_once = Arc::new(Semaphore::new(BATCH_AT_ONCE));
    let mut stopping = service.stopping.clone();
    loop {
        let request = tokio::select! {
            request = requests.next() => request,
            () = async { drop(stopping.wait_for(|stopping| *stopping).await) } => {
                let _ = answers.send(Err(Refusal::Stopping.status())).await;
                return;
            }
        };
        let request = match request {
            Some(Ok(request)) => request,
            Some(Err(status)) => {
                tracing::debug!(code = ?status.code(), "a batch ended");
                let status = match status.code() {
                    Code::OutOfRange => Refusal::TooLarge.status(),
                    _ => status,
                };
                // Nobody may be there any more to be told.
                let _ = answers.send(Err(status)).await;
                return;
            }
            None => return,
        };
        let Ok(permit) = at_once.clone().acquire_owned().await else {
            return;
        };
        let (service, answers) = (service.clone(), answers.clone());
        tokio::spawn(async move {
            let answer = match service.next_of_batch(&request).await {
                Ok(next) => Answer::Next(next),
                Err(refusal) => Answer::Refusal(refusal.to_wire()),
            };
            let correlation_id = request.correlation_id;
            let _ = answers
                .send(Ok(v1::NextBatchResponse {
                    correlation_id,
                    answer: Some(answer),
                }))
                .await;
            drop(permit);
        });
    }
}

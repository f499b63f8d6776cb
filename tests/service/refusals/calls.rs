//! Rows about the calls themselves: their own fields, sequences, states, and names of what is not there.
//!
//! Leaves to others: what facts say (`super::reports`, `super::orders`).

use super::super::clinic::{
    Begun, CLINIC, asking, closing, correcting, importing, opening as open_request, recording, request_id, signing, voiding,
};
use super::super::facts::{day, dose, event, place, score, session_of, report, today};
use super::{Call, Row, refused, wrong};
use rungwise_api::v1;
use rungwise_api::v1::{Answer, Reason, Side, Variable};
use tonic::Code;

fn fell(begun: &Begun) -> v1::RecordFactsRequest {
    recording(&begun.episode, vec![event(&day(2), "fall")])
}

/// The name of the entry at a position of the episode's own stream, as if it were a fact; the episodes of these rows are
/// recorded one after another, so an entry's position is counted from the session's.
fn entry_before_session(begun: &Begun, entries: u64) -> String {
    let (of, position) = begun.session.rsplit_once('/').expect("a fact's name");
    format!("{of}/{}", position.parse::<u64>().expect("a position") - entries)
}

pub(super) fn fields(begun: &Begun) -> Vec<Row> {
    let with_id = |id: &str| Call::Record(v1::RecordFactsRequest { request_id: id.to_owned(), ..fell(begun) });
    let named = |name: &str| Call::Record(v1::RecordFactsRequest { episode: name.to_owned(), ..fell(begun) });
    let next = |as_of: &str| Call::Next(asking(&begun.episode, as_of));
    let sized = |page_size: i32, page_token: &str| {
        Call::ListFacts(v1::ListFactsRequest { parent: begun.episode.clone(), page_size, page_token: page_token.to_owned() })
    };
    let list = v1::ListDecisionsRequest { parent: begun.episode.clone(), outcome: 77, ..Default::default() };
    let explain = v1::ExplainDecisionRequest { name: begun.decision.name.clone(), view: 9 };
    let silent = v1::ListEpisodesRequest { parent: CLINIC.to_owned(), silent_days: 7, ..Default::default() };
    let silent_long = v1::ListEpisodesRequest { silent_days: 3_651, silent_as_of: day(2), ..silent.clone() };
    let current = v1::CurrentRequest { episode: begun.episode.clone(), as_of: "today".into(), language: String::new() };
    let render = v1::RenderRequest { episode: begun.episode.clone(), as_of: day(2), language: "tlh".to_owned() };
    let tongue = v1::NextRequest { language: "tlh".to_owned(), ..asking(&begun.episode, &day(2)) };
    let preview = v1::PreviewRequest { episode: begun.episode.clone(), as_of: String::new(), language: String::new() };
    let wanted = v1::WantedRequest { episode: begun.episode.clone(), as_of: "2026-13-01".into(), language: String::new() };
    let answer = signing(&begun.decision.name, begun.sequence, &day(2), Answer::Unspecified);
    let unsaid = v1::VoidFactRequest { why: String::new(), ..voiding(&begun.session, begun.sequence, &day(2)) };
    let unsigned = v1::CloseEpisodeRequest { who: String::new(), ..closing(&begun.episode, begun.sequence, &day(2)) };
    vec![
        wrong("no request id", with_id(""), Reason::FieldMissing, "request_id", "1 to 64"),
        wrong("a long request id", with_id(&"x".repeat(65)), Reason::FieldMalformed, "request_id", "1 to 64"),
        wrong("a request id of two lines", with_id("a\nb"), Reason::FieldMalformed, "request_id", "printable ASCII"),
        wrong("no episode named", named(""), Reason::FieldMissing, "episode", "clinics/{clinic}/episodes/{episode}"),
        wrong("a name of something else", named(CLINIC), Reason::FieldMalformed, "episode", "clinics/{clinic}/episodes/{episode}"),
        wrong("a name that climbs out", named("clinics/demo/episodes/.."), Reason::FieldMalformed, "episode", "clinics/{clinic}/episodes/{episode}"),
        wrong("no date to decide for", next(""), Reason::FieldMissing, "as_of", "YYYY-MM-DD"),
        wrong("a decision for next week", next(&today(7)), Reason::InTheFuture, "as_of", &today(1)),
        wrong("a preview for no date", Call::Preview(preview), Reason::FieldMissing, "as_of", "YYYY-MM-DD"),
        wrong("in force on a word", Call::Current(current), Reason::FieldMalformed, "as_of", "a date such as"),
        wrong("wanted in a thirteenth month", Call::Wanted(wanted), Reason::FieldMalformed, "as_of", "a date such as"),
        wrong("a sheet in another language", Call::Render(render), Reason::LanguageUnknown, "language", "`en`"),
        wrong("a prescription in another language", Call::Next(tongue), Reason::LanguageUnknown, "language", "`en`"),
        wrong("a negative page", sized(-1, ""), Reason::FieldMalformed, "page_size", "0 for the default"),
        wrong("an invented token", sized(0, "next"), Reason::PageTokenRefused, "page_token", "next_page_token"),
        wrong("an outcome from the future", Call::ListDecisions(list), Reason::EnumUnknown, "outcome", "name an outcome"),
        wrong("a view from the future", Call::Explain(explain), Reason::EnumUnknown, "view", "basic or full"),
        wrong("silent as of no date", Call::ListEpisodes(silent), Reason::FieldMissing, "silent_as_of", "YYYY-MM-DD"),
        wrong("silent for ever", Call::ListEpisodes(silent_long), Reason::OutOfBounds, "silent_days", "3650"),
        wrong("an answer that is none", Call::SignOff(answer), Reason::EnumUnknown, "answer", "accept"),
        wrong("void without a reason", Call::Void(unsaid), Reason::FieldMissing, "why", "1 to 4000 bytes"),
        wrong("closed by nobody", Call::Close(unsigned), Reason::FieldMissing, "who", "1 to 200 bytes"),
    ]
}

pub(super) fn opening(_: &Begun) -> Vec<Row> {
    let open = |change: fn(&mut v1::Episode)| {
        let mut request = open_request("invented-person", Side::Left);
        request.episode.iter_mut().for_each(change);
        Call::Open(request)
    };
    let nothing = v1::OpenEpisodeRequest { episode: None, ..open_request("invented-person", Side::Left) };
    let import = |phase: &str, places| Call::Import(importing("invented-person", phase, places));
    let nowhere = v1::ImportEpisodeRequest { placement: None, ..importing("invented-person", "isometric", Vec::new()) };
    let mut wrongly = importing("invented-person", "isometric", Vec::new());
    wrongly.facts = vec![session_of("2026-02-01", vec![report("er-isometric", vec![score("pain during exercise", 11)])])];
    let odd = vec![place("er-isometric", vec![dose(Variable::Reps, "7")])];
    vec![
        wrong("open nothing", Call::Open(nothing), Reason::FieldMissing, "episode", ""),
        wrong("open for nobody", open(|episode| episode.person.clear()), Reason::FieldMissing, "episode.person", "1 to 100"),
        wrong("open for a long name", open(|episode| episode.person = "x".repeat(101)), Reason::TextTooLong, "episode.person", "100"),
        wrong("open on no side", open(|episode| episode.side = 0), Reason::EnumUnknown, "episode.side", "left"),
        wrong("open on an unknown side", open(|episode| episode.side = 8), Reason::EnumUnknown, "episode.side", "left"),
        wrong("open under no pack", open(|episode| episode.pack.clear()), Reason::FieldMissing, "episode.pack", ""),
        refused("open under a pack that is none", open(|episode| episode.pack = "juggling".to_owned()), Code::NotFound, Reason::PackNotFound, "packs/juggling`"),
        wrong("open next week", open(|episode| episode.opened_on = today(7)), Reason::InTheFuture, "episode.opened_on", &today(1)),
        wrong("open before birth", open(|episode| episode.born_on = day(1)), Reason::BeforeBirth, "episode.opened_on", &day(1)),
        wrong("born some time", open(|episode| episode.born_on = "May 1980".to_owned()), Reason::FieldMalformed, "episode.born_on", "a date such as"),
        wrong("import to nowhere", Call::Import(nowhere), Reason::FieldMissing, "placement", ""),
        wrong("import into no phase", import("levitation", Vec::new()), Reason::UnknownPhase, "placement.phase", "one of `isometric`"),
        wrong("import between the rungs", import("isometric", odd), Reason::UnknownValue, "placement.places[0].dose[0]", "`5`, `8`, `10`"),
        wrong("import what cannot be", Call::Import(wrongly), Reason::OutOfRange, "facts[0].session.exercises[0].readings[0].value", "0 to 10"),
    ]
}

pub(super) fn sequences(begun: &Begun) -> Vec<Row> {
    const FIELD: &str = "expected_sequence";
    let stale = begun.sequence - 1;
    let stands = format!("stands at {}, not at {stale}", begun.sequence);
    let order = v1::directive::Order::Hold(v1::HoldOrder {});
    let order = recording(&begun.episode, vec![super::super::facts::directive(&day(2), "an invented reason", order)]);
    let correction = |sequence| correcting(&begun.session, sequence, session_of(&day(1), Vec::new()));
    let void = |sequence| voiding(&begun.session, sequence, &day(2));
    let close = |sequence| closing(&begun.episode, sequence, &day(2));
    let sign = |sequence| signing(&begun.decision.name, sequence, &day(2), Answer::Accept);
    let missing = |what, call| wrong(what, call, Reason::SequenceMissing, FIELD, "`sequence` as last seen");
    let aborted = |what, call| refused(what, call, Code::Aborted, Reason::SequenceStale, &stands);
    let seen = |expected: u64| Some(expected);
    vec![
        missing("a directive unseen", Call::Record(order.clone())),
        missing("a correction unseen", Call::Correct(v1::CorrectFactRequest { expected_sequence: None, ..correction(0) })),
        missing("a void unseen", Call::Void(v1::VoidFactRequest { expected_sequence: None, ..void(0) })),
        missing("a close unseen", Call::Close(v1::CloseEpisodeRequest { expected_sequence: None, ..close(0) })),
        missing("a sign-off unseen", Call::SignOff(v1::SignOffRequest { expected_sequence: None, ..sign(0) })),
        aborted("a stale directive", Call::Record(v1::RecordFactsRequest { expected_sequence: seen(stale), ..order })),
        aborted("a stale report", Call::Record(v1::RecordFactsRequest { expected_sequence: seen(stale), ..fell(begun) })),
        aborted("a stale question", Call::Next(v1::NextRequest { expected_sequence: seen(stale), ..asking(&begun.episode, &day(2)) })),
        aborted("a stale correction", Call::Correct(correction(stale))),
        aborted("a stale void", Call::Void(void(stale))),
        aborted("a stale close", Call::Close(close(stale))),
        aborted("a stale sign-off", Call::SignOff(sign(stale))),
    ]
}

pub(super) fn states(begun: &Begun) -> Vec<Row> {
    let correct = |fact: &str, replacement| Call::Correct(correcting(fact, begun.sequence, replacement));
    let decided = entry_before_session(begun, 1);
    let opened = entry_before_session(begun, 4);
    let sore = session_of(&day(1), vec![report("er-isometric", vec![score("pain during exercise", 11)])]);
    let ahead = v1::Fact { date: today(2), ..session_of(&day(1), Vec::new()) };
    let ahead = v1::CorrectFactRequest { date: day(2), ..correcting(&begun.session, begun.sequence, ahead) };
    let unsaid = v1::Fact { kind: None, ..session_of(&day(1), Vec::new()) };
    let sign = signing(&begun.decision.name, begun.sequence, &day(2), Answer::Accept);
    let never = signing(&format!("{}/decisions/9", begun.episode), begun.sequence, &day(2), Answer::Accept);
    let before = Call::Next(asking(&begun.episode, "2026-03-01"));
    vec![
        refused("sign off what is no proposal", Call::SignOff(sign), Code::FailedPrecondition, Reason::NoOpenProposal, "not a proposal"),
        refused("sign off what never was", Call::SignOff(never), Code::NotFound, Reason::DecisionNotFound, "/decisions/9"),
        refused("decide for an earlier day", before, Code::FailedPrecondition, Reason::BeforeLastDecision, "2026-03-02"),
        wrong("correct a decision", correct(&decided, session_of(&day(1), Vec::new())), Reason::NotAFact, "fact", "a fact of this episode"),
        refused("correct an opening", correct(&opened, session_of(&day(1), Vec::new())), Code::NotFound, Reason::FactNotFound, "/facts/"),
        wrong("correct a session by an event", correct(&begun.session, event(&day(1), "fall")), Reason::OtherKind, "replacement", "`session`"),
        wrong("correct into what cannot be", correct(&begun.session, sore), Reason::OutOfRange, "replacement.session.exercises[0].readings[0].value", "0 to 10"),
        wrong("correct into the future", Call::Correct(ahead), Reason::InTheFuture, "replacement.date", &today(1)),
        wrong("correct into nothing", correct(&begun.session, unsaid), Reason::FieldMissing, "replacement.kind", "say what happened"),
    ]
}

/// Names of what is not there, or not for this caller.
pub(super) fn strangers(begun: &Begun) -> Vec<Row> {
    let missing = |what, call, reason, says: &str| refused(what, call, Code::NotFound, reason, says);
    let nobody = "clinics/demo/episodes/00000000-0000-4000-8000-000000000000";
    let elsewhere = begun.episode.replace(CLINIC, "clinics/elsewhere");
    let decision = begun.decision.name.replace(CLINIC, "clinics/elsewhere");
    let fact = begun.session.replace(CLINIC, "clinics/elsewhere");
    let get = |name: &str| Call::Get(v1::GetEpisodeRequest { name: name.to_owned() });
    let watch = |parent: &str| Call::Watch(v1::WatchRequest { parent: parent.to_owned(), from_position: 0 });
    let list = |parent: &str| Call::ListFacts(v1::ListFactsRequest { parent: parent.to_owned(), ..Default::default() });
    let preview = |episode: &str| Call::Preview(v1::PreviewRequest { episode: episode.into(), as_of: day(2), language: String::new() });
    let decided = |name: &str| Call::GetDecision(v1::GetDecisionRequest { name: name.to_owned() });
    let again = v1::RecomputeDecisionRequest { name: decision.clone() };
    let open = v1::OpenEpisodeRequest { parent: "clinics/elsewhere".into(), ..open_request("invented-person", Side::Left) };
    let every = v1::ListDecisionsRequest { parent: "clinics/elsewhere/episodes/-".into(), ..Default::default() };
    let listed = v1::ListEpisodesRequest { parent: "clinics/elsewhere".into(), ..Default::default() };
    let verify = v1::VerifyLedgerRequest { parent: "clinics/elsewhere".into() };
    let pack = |name: &str| Call::GetPack(v1::GetPackRequest { name: name.to_owned(), ..Default::default() });
    let gone = format!("{}/decisions/9", begun.episode);
    let reason = Reason::ClinicNotFound;
    vec![
        missing("record in no episode", Call::Record(recording(nobody, vec![event(&day(2), "fall")])), Reason::EpisodeNotFound, nobody),
        missing("decide for no episode", Call::Next(asking(nobody, &day(2))), Reason::EpisodeNotFound, nobody),
        missing("read no episode", get(nobody), Reason::EpisodeNotFound, nobody),
        missing("list no episode", list(nobody), Reason::EpisodeNotFound, nobody),
        missing("preview no episode", preview(nobody), Reason::EpisodeNotFound, nobody),
        missing("watch no episode", watch(nobody), Reason::EpisodeNotFound, nobody),
        missing("close no episode", Call::Close(closing(nobody, 1, &day(2))), Reason::EpisodeNotFound, nobody),
        missing("void in no episode", Call::Void(voiding(&format!("{nobody}/facts/3"), 1, &day(2))), Reason::EpisodeNotFound, nobody),
        missing("read no decision", decided(&gone), Reason::DecisionNotFound, "/decisions/9"),
        missing("read no pack", pack("clinics/demo/packs/juggling"), Reason::PackNotFound, "juggling"),
        missing("record in another clinic", Call::Record(recording(&elsewhere, vec![event(&day(2), "fall")])), reason, "clinics/elsewhere"),
        missing("decide in another clinic", Call::Next(asking(&elsewhere, &day(2))), reason, "clinics/elsewhere"),
        missing("read in another clinic", get(&elsewhere), reason, "clinics/elsewhere"),
        missing("void in another clinic", Call::Void(voiding(&fact, begun.sequence, &day(2))), reason, "clinics/elsewhere"),
        missing("open in another clinic", Call::Open(open), reason, "clinics/elsewhere"),
        missing("sign off in another clinic", Call::SignOff(signing(&decision, begun.sequence, &day(2), Answer::Accept)), reason, "clinics/elsewhere"),
        missing("recompute in another clinic", Call::Recompute(again), reason, "clinics/elsewhere"),
        missing("list another clinic's decisions", Call::ListDecisions(every), reason, "clinics/elsewhere"),
        missing("list another clinic's episodes", Call::ListEpisodes(listed), reason, "clinics/elsewhere"),
        missing("verify another clinic", Call::Verify(verify), reason, "clinics/elsewhere"),
        missing("watch another clinic", watch("clinics/elsewhere"), reason, "clinics/elsewhere"),
        missing("read another clinic's pack", pack("clinics/elsewhere/packs/rotator-cuff"), reason, "clinics/elsewhere"),
        wrong("a request id for a name", Call::Get(v1::GetEpisodeRequest { name: request_id() }), Reason::FieldMalformed, "name", "clinics/{clinic}/episodes/{episode}"),
    ]
}

//! `rungwise rules propose`: a pack looked at from every side, signed by its digest, and sent to stand proposed.
//!
//! Leaves to others: what keeps a pack from being ready (`rungwise-rehearsal`), approving (`super::proposals`).

use super::args::{For, ProposeArgs};
use super::lead::Lead;
use super::proposals::say;
use crate::Answer;
use crate::failure::Failure;
use crate::input::PackFiles;
use crate::screen::Screen;
use rungwise_api::content::PackFor;
use rungwise_api::v1;
use rungwise_ledger::step::Step;
use rungwise_pack::diagnostic::render;
use rungwise_rehearsal::readiness::{Readiness, readiness};
use std::path::Path;

/// Proposes a pack.
pub(super) fn run(args: &ProposeArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let lead = Lead::of(&args.step)?;
    let draft = match &args.pack {
        None => None,
        Some(folder) => match ready(folder, screen)? {
            Some(draft) => Some(draft),
            None => return Ok(Answer::No),
        },
    };
    let proposed = crate::serve::runtime()?.block_on(propose(args, &lead, draft))?;
    say(&proposed, screen)?;
    Ok(Answer::Yes)
}

/// The files of a folder with what they are, if they are ready; else says why not.
fn ready(folder: &Path, screen: &mut Screen) -> Result<Option<(PackFiles, Readiness)>, Failure> {
    let pack = PackFiles::of_folder(folder)?;
    let found = readiness(&pack.files);
    say_findings(&pack, &found, screen)?;
    Ok(found.is_ready().then_some((pack, found)))
}

/// Says everything that was found in a pack.
pub(super) fn say_findings(
    pack: &PackFiles,
    found: &Readiness,
    screen: &mut Screen,
) -> Result<(), Failure> {
    let findings = render(&pack.files, &found.findings, screen.style());
    if !findings.is_empty() {
        screen.line(findings.trim_end())?;
    }
    for diary in &found.diaries {
        for difference in &diary.differences {
            screen.line(&format!("{}: {difference}", diary.file))?;
        }
    }
    let decisions: usize = found.diaries.iter().map(|diary| diary.decisions).sum();
    let agree = if !found.is_sound() {
        "is not ready"
    } else if found.diaries.is_empty() {
        "has no diaries, which speak for a pack"
    } else {
        "is sound, and every decision is as expected"
    };
    let diaries = found.diaries.len();
    screen.line(&format!(
        "{}: {diaries} diaries, {decisions} decisions; it {agree}",
        pack.called
    ))
}

async fn propose(
    args: &ProposeArgs,
    lead: &Lead<'_>,
    draft: Option<(PackFiles, Readiness)>,
) -> Result<v1::PackProposal, Failure> {
    let mut client = lead.connect().await?;
    let (back, id, version, digest) = match (&draft, &args.back) {
        (
            Some((
                _,
                Readiness {
                    pack: Some(pack), ..
                },
            )),
            _,
        ) => {
            let (id, version) = (pack.id.to_string(), pack.version.to_string());
            (String::new(), id, version, pack.digest)
        }
        (_, Some(name)) => {
            let request = v1::GetPackRequest {
                name: name.clone(),
                with_files: true,
                ..v1::GetPackRequest::default()
            };
            let found = client.get_pack(request).await?.into_inner();
            let files = PackFiles::of_answer(name, &found.files);
            let pack = found.pack.ok_or(Failure::AnswerIncomplete("the pack"))?;
            let digest = rungwise_pack::digest(&files.files);
            (pack.name, pack.id, pack.version, digest)
        }
        _ => return Err(Failure::AnswerIncomplete("a pack")),
    };
    let for_episodes = match args.for_episodes {
        For::All => (PackFor::All, v1::PackFor::All),
        For::NextPhase => (PackFor::NextPhase, v1::PackFor::NextPhase),
        For::New => (PackFor::New, v1::PackFor::New),
    };
    let step = Step::Propose {
        pack: (&id, &version),
        digest: &digest,
        from: args.from.as_deref(),
        for_episodes: for_episodes.0.word(),
    };
    let clinic = &args.of.clinic;
    let request = v1::ProposePackRequest {
        parent: rungwise_api::name::clinic_name(clinic),
        request_id: lead.request_id.clone(),
        draft: draft.as_ref().map(|(pack, _)| pack.to_draft()),
        pack: back,
        from: args.from.clone().unwrap_or_default(),
        for_episodes: for_episodes.1.into(),
        why: args.step.why.clone(),
        signature: lead.sign(clinic, &step)?,
    };
    let answer = client.propose_pack(request).await?.into_inner();
    answer
        .proposal
        .ok_or(Failure::AnswerIncomplete("the proposal"))
}

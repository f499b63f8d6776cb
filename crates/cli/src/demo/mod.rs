//! `rungwise demo`: the main job from end to end, on a real server over gRPC, checked afterwards.
//!
//! The pack and the diary came with the program; the store is a temporary folder that is removed at the end.
//!
//! Leaves to others: the server (`rungwise-server`), deciding (`rungwise-engine`).

mod checks;
mod course;
mod table;

use crate::Answer;
use crate::args::DemoArgs;
use crate::failure::Failure;
use crate::input::{self, PackFiles};
use crate::screen::{Screen, bold};
use crate::serve::Running;
use course::{Asked, Course};
use rungwise_pack::model::CheckedPack;
use rungwise_rehearsal::diary::Diary;

/// The diary that is played, in the pack's folder `diaries`.
const DIARY: &str = "demo.toml";

/// Plays the demo and checks it.
pub(crate) fn run(args: &DemoArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let files = PackFiles::embedded()
        .find(|pack| pack.diary(DIARY).is_some())
        .ok_or(Failure::NoPack)?;
    let pack = files.checked()?;
    let diary = input::diary(&pack, DIARY, files.diary(DIARY).unwrap_or_default())?;
    let folder = tempfile::tempdir().map_err(Failure::Folder)?;
    let runtime = crate::serve::runtime()?;
    runtime.block_on(async {
        let server = Running::start_for_demo(folder.path(), files).await?;
        let answer = play(args, screen, &pack, &diary, &server).await;
        let stopped = server.stop().await;
        answer.and_then(|answer| stopped.map(|()| answer))
    })
}

async fn play(
    args: &DemoArgs,
    screen: &mut Screen,
    pack: &CheckedPack,
    diary: &Diary,
    server: &Running,
) -> Result<Answer, Failure> {
    if !args.quiet {
        screen.line(&format!("{} {}: {}", pack.id, pack.version, pack.title))?;
        screen.line(&format!("{}\n", diary.about))?;
        screen.line(&format!(
            "A server is listening on {}; its store is a temporary folder.\n",
            server.address
        ))?;
    }
    let channel = server.connect().await?;
    let mut course = Course::open(pack, diary, server.clinic(), channel).await?;
    let mut asked: Vec<Asked> = Vec::new();
    for step in &diary.steps {
        for entry in &step.entries {
            course.report(entry).await?;
        }
        if step.ask.is_some() {
            let answer = course.ask(step.date).await?;
            if !args.quiet {
                let before = asked
                    .last()
                    .and_then(|last| last.next.prescription.as_ref());
                table::print(screen, pack, &answer, before)?;
            }
            asked.push(answer);
        }
    }
    if let Some(last) = diary.steps.last().filter(|_| !args.quiet) {
        screen.heading(&format!("The patient's sheet on {}", last.date))?;
        screen.line(&course.sheet(last.date).await?)?;
    }
    report(
        screen,
        &checks::all(pack, diary, &mut course, &asked).await?,
    )
}

/// Prints the checks; yes if all of them agree.
fn report(screen: &mut Screen, checks: &[checks::Check]) -> Result<Answer, Failure> {
    screen.heading("Checks")?;
    let mut answer = Answer::Yes;
    for check in checks {
        if check.faults.is_empty() {
            screen.line(&format!("  agrees   {}", check.what))?;
            continue;
        }
        answer = Answer::No;
        screen.line(&format!("  {}  {}", bold("DIFFERS"), check.what))?;
        for fault in &check.faults {
            screen.line(&format!("           {fault}"))?;
        }
    }
    Ok(answer)
}

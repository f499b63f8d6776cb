//! The demo's checks: the decisions that the server made against the diary's expectations, against the same diary
//! rehearsed without a server, and against the server's own second making; and the whole ledger against its root.

use super::course::{Asked, Course, number_of};
use crate::failure::Failure;
use rungwise_api::to_wire::decision_to_wire;
use rungwise_api::v1;
use rungwise_pack::model::CheckedPack;
use rungwise_rehearsal::diary::Diary;
use rungwise_rehearsal::play;

/// One check: what was compared, and everything that did not agree.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Check {
    /// What was compared, with how many.
    pub(crate) what: String,
    /// What did not agree.
    pub(crate) faults: Vec<String>,
}

/// Runs every check.
pub(crate) async fn all(
    pack: &CheckedPack,
    diary: &Diary,
    course: &mut Course<'_>,
    asked: &[Asked],
) -> Result<Vec<Check>, Failure> {
    let rehearsed = play(pack, diary);
    let mut expected = Check {
        what: format!(
            "{} asks answered as the diary expects",
            rehearsed.asked.len()
        ),
        faults: rehearsed
            .refused
            .iter()
            .map(|refused| format!("{}: {:?}", refused.date, refused.why))
            .collect(),
    };
    for ask in &rehearsed.asked {
        expected.faults.extend(
            ask.differences
                .iter()
                .map(|difference| format!("{}: {difference}", ask.date)),
        );
    }
    Ok(vec![
        expected,
        against_rehearsal(pack, course, &rehearsed, asked),
        recomputed(course, asked).await?,
        ledger(course).await?,
    ])
}

/// The server's decisions against those of the rehearsal: everything but where and when they were recorded.
fn against_rehearsal(
    pack: &CheckedPack,
    course: &Course<'_>,
    rehearsed: &play::Played,
    asked: &[Asked],
) -> Check {
    let mut faults = Vec::new();
    if rehearsed.asked.len() != asked.len() {
        faults.push(format!(
            "{} decisions rehearsed, {} served",
            rehearsed.asked.len(),
            asked.len()
        ));
    }
    for (here, there) in rehearsed.asked.iter().zip(asked) {
        let mut here = decision_to_wire(pack, course.episode(), None, &here.decision);
        let mut there = there.next.decision.clone().unwrap_or_default();
        for one in [&mut here, &mut there] {
            *one = v1::Decision {
                name: String::new(),
                number: 0,
                recorded_at: None,
                position: 0,
                ..one.clone()
            };
        }
        if here != there {
            faults.push(format!(
                "{}: the server decided otherwise than the rehearsal",
                there.as_of
            ));
        }
    }
    Check {
        what: format!("{} decisions as rehearsed without a server", asked.len()),
        faults,
    }
}

/// Every decision made again by the server.
async fn recomputed(course: &mut Course<'_>, asked: &[Asked]) -> Result<Check, Failure> {
    let mut faults = Vec::new();
    for ask in asked {
        let decision = ask
            .next
            .decision
            .as_ref()
            .ok_or(Failure::AnswerIncomplete("the decision"))?;
        let again = course.recompute(number_of(decision)?).await?;
        if again.recomputation() != v1::Recomputation::Same {
            faults.push(format!(
                "{}: {}",
                decision.as_of,
                again.recomputation().as_str_name()
            ));
        }
    }
    Ok(Check {
        what: format!(
            "{} decisions recomputed, the same byte for byte",
            asked.len()
        ),
        faults,
    })
}

/// Every entry of the ledger against its root.
async fn ledger(course: &mut Course<'_>) -> Result<Check, Failure> {
    let verified = course.verify().await?;
    let mut faults = verified.faults.clone();
    if !verified.sound && faults.is_empty() {
        faults.push("it is not sound".to_owned());
    }
    Ok(Check {
        what: format!(
            "ledger of {} entries verified, root {}",
            verified.size, verified.root
        ),
        faults,
    })
}

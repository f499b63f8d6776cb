//! `rungwise audit why`: asks a server why a decision was made, and prints it for people or as JSON.
//!
//! Leaves to others: explaining (`rungwise-engine`, at the server).

use crate::Answer;
use crate::args::WhyArgs;
use crate::failure::Failure;
use crate::screen::Screen;
use rungwise_api::v1;
use rungwise_api::v1::audit_service_client::AuditServiceClient;
use serde_json::{Value, json};

/// Prints why a decision was made.
pub(crate) fn why(args: &WhyArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let answer = crate::serve::runtime()?.block_on(explained(args));
    let answer = match answer {
        Err(Failure::Refused(status)) if status.code() == tonic::Code::NotFound => {
            screen.remark(&format!("rungwise: {}", status.message()));
            return Ok(Answer::No);
        }
        other => other?,
    };
    if args.json {
        let explanation = answer
            .explanation
            .ok_or(Failure::AnswerIncomplete("the explanation"))?;
        screen.json(&explanation_to_json(&explanation))?;
    } else {
        screen.line(answer.text.trim_end())?;
    }
    Ok(Answer::Yes)
}

async fn explained(args: &WhyArgs) -> Result<v1::ExplainDecisionResponse, Failure> {
    let channel = crate::serve::connect(&args.at.server).await?;
    let view = if args.full {
        v1::ExplanationView::Full
    } else {
        v1::ExplanationView::Basic
    };
    let request = v1::ExplainDecisionRequest {
        name: args.decision.clone(),
        view: view.into(),
    };
    Ok(AuditServiceClient::new(channel)
        .explain_decision(request)
        .await?
        .into_inner())
}

fn explanation_to_json(told: &v1::Explanation) -> Value {
    json!({
        "decision": told.decision,
        "as_of": told.as_of,
        "semantics": told.semantics,
        "pack": { "name": told.pack, "id": told.pack_id, "version": told.pack_version },
        "outcome": word(told.outcome().as_str_name(), "OUTCOME_"),
        "proposed": told.proposed,
        "phase": told.phase,
        "because": texts(&told.because),
        "moves": told.moves.iter().map(|moved| json!({
            "line": moved.line,
            "move": word(moved.r#move().as_str_name(), "MOVE_"),
            "before": moved.before,
            "after": moved.after,
            "because": texts(&moved.because),
        })).collect::<Vec<_>>(),
        "deciding": told.deciding.iter().map(finding_to_json).collect::<Vec<_>>(),
        "others": told.others.iter().map(finding_to_json).collect::<Vec<_>>(),
        "others_count": told.others_count,
        "to_progress": told.to_progress,
        "asks": told.asks,
        "next_review": told.next_review,
    })
}

fn finding_to_json(finding: &v1::FindingExplained) -> Value {
    json!({
        "rule": finding.rule,
        "kind": word(finding.kind().as_str_name(), "RULE_KIND_"),
        "of": finding.of,
        "reason": finding.reason,
        "verdict": word(finding.verdict().as_str_name(), "VERDICT_"),
        "sentences": finding.sentences.iter().map(|sentence| json!({
            "text": sentence.text,
            "verdict": word(sentence.verdict().as_str_name(), "VERDICT_"),
            "limit": sentence.limit,
            "grounds": sentence.grounds,
            "values": sentence.values.iter().map(|seen| json!({
                "of": seen.of,
                "value": seen.value,
                "happened_on": seen.happened_on,
                "known_on": seen.known_on,
                "fact": seen.fact,
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

fn texts(causes: &[v1::CauseExplained]) -> Vec<&str> {
    causes.iter().map(|cause| cause.text.as_str()).collect()
}

/// A wire enum's name without its prefix.
fn word<'n>(name: &'n str, prefix: &str) -> &'n str {
    name.strip_prefix(prefix).unwrap_or(name)
}

//! An explanation as text: one order, one form, the same bytes everywhere.
//!
//! Leaves to others: single clauses (`super::words`).

use super::{Explanation, FindingExplained, MoveExplained, SentenceExplained, ValueSeen};
use crate::decision::{RuleVerdict, Verdict};
use rungwise_pack::model::RuleKind;
use rungwise_pack::quantity::Key;
use std::fmt::Write as _;

impl Explanation {
    /// The explanation as plain text for clinicians.
    #[must_use]
    pub fn text(&self) -> String {
        let mut page = String::new();
        self.head(&mut page);
        list(
            &mut page,
            "Because",
            &self
                .because
                .iter()
                .map(|(_, text)| text.clone())
                .collect::<Vec<_>>(),
        );
        if !self.moves.is_empty() {
            line(&mut page, "\nLines:");
            for moved in &self.moves {
                say_move(&mut page, moved);
            }
        }
        findings(&mut page, "Findings that decided", &self.deciding);
        findings(&mut page, "Other findings", &self.others);
        if self.others.len() < self.others_count {
            let count = self.others_count;
            line(
                &mut page,
                &format!("\n{count} other findings are told in the full view."),
            );
        }
        list(&mut page, "To progress", &self.to_progress);
        list(&mut page, "Wanted", &self.asks);
        line(&mut page, &format!("\nLook again by {}.", self.next_review));
        page
    }

    fn head(&self, page: &mut String) {
        let proposed = if self.proposed {
            ", proposed: it waits for a clinician's sign-off"
        } else {
            ""
        };
        line(
            page,
            &format!("{} for {}{proposed}", self.outcome.word(), self.as_of),
        );
        let phase = self.phase.as_deref().unwrap_or("none");
        line(
            page,
            &format!(
                "Decision {} at position {}, phase {phase}.",
                self.decision.0, self.position.0
            ),
        );
        let (id, version, digest) = &self.pack;
        let mut hex = String::with_capacity(64);
        for byte in digest {
            let _ = write!(hex, "{byte:02x}");
        }
        line(
            page,
            &format!(
                "Pack {id} {version} ({hex}), semantics revision {}.",
                self.semantics
            ),
        );
    }
}

fn line(page: &mut String, text: &str) {
    page.push_str(text);
    page.push('\n');
}

fn list(page: &mut String, heading: &str, entries: &[String]) {
    if entries.is_empty() {
        return;
    }
    line(page, &format!("\n{heading}:"));
    for entry in entries {
        line(page, &format!("- {entry}"));
    }
}

fn say_move(page: &mut String, moved: &MoveExplained) {
    let path = match (&moved.from, &moved.to) {
        (Some(from), Some(to)) if from == to => from.to_string(),
        (Some(from), Some(to)) => format!("{from} to {to}"),
        (Some(from), None) => format!("{from} to none"),
        (None, Some(to)) => format!("to {to}"),
        (None, None) => "none".to_owned(),
    };
    line(
        page,
        &format!("- {} {}: {path}", moved.mv.word(), moved.line),
    );
    for (_, text) in &moved.because {
        line(page, &format!("    {text}"));
    }
}

fn findings(page: &mut String, heading: &str, findings: &[FindingExplained]) {
    if findings.is_empty() {
        return;
    }
    line(page, &format!("\n{heading}:"));
    for finding in findings {
        let of = finding
            .of
            .as_ref()
            .map_or_else(String::new, |of: &Key| format!(" of {of}"));
        let (kind, verdict) = (kind_word(finding.kind), rule_verdict_word(finding.verdict));
        line(
            page,
            &format!("- {} ({kind} rule{of}): {verdict}", finding.rule),
        );
        if !finding.reason.is_empty() {
            line(page, &format!("    why: {}", finding.reason));
        }
        for sentence in &finding.sentences {
            say_sentence(page, sentence);
        }
    }
}

fn say_sentence(page: &mut String, sentence: &SentenceExplained) {
    line(
        page,
        &format!("    {} — {}", sentence.text, verdict_word(sentence.verdict)),
    );
    line(page, &format!("        limit: {}", sentence.limit));
    if sentence.values.is_empty() {
        line(page, "        saw: nothing");
    }
    for value in &sentence.values {
        line(page, &format!("        saw: {}", value_text(value)));
    }
    line(page, &format!("        by: {}", sentence.grounds));
}

/// A value with both its dates and its position.
pub(super) fn value_text(seen: &ValueSeen) -> String {
    let of = seen
        .of
        .as_ref()
        .map_or_else(String::new, |of| format!("{of} "));
    let known = seen.known.map_or_else(String::new, |(date, position)| {
        format!(", known {date} at position {}", position.0)
    });
    let on = if seen.known.is_none() && seen.value != "missing" {
        "as of"
    } else {
        "on"
    };
    format!("{of}{} {on} {}{known}", seen.value, seen.happened_on)
}

const fn kind_word(kind: RuleKind) -> &'static str {
    match kind {
        RuleKind::Refer { .. } => "refer",
        RuleKind::Regress => "regress",
        RuleKind::Hold => "hold",
        RuleKind::Ease => "ease",
        RuleKind::Review => "review",
        RuleKind::Enter => "enter",
        RuleKind::Start => "start",
        RuleKind::Discharge => "discharge",
        RuleKind::Climb => "climb",
        RuleKind::BringBack => "bring-back",
    }
}

const fn rule_verdict_word(verdict: RuleVerdict) -> &'static str {
    match verdict {
        RuleVerdict::Met => "met",
        RuleVerdict::NotMet => "not met",
        RuleVerdict::InDoubt => "in doubt",
    }
}

const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Met => "met",
        Verdict::NotMet => "not met",
        Verdict::Unknown => "unknown",
        Verdict::NotYetFull => "not yet full",
    }
}

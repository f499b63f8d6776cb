//! A decision that is not the expected one, in words: what differs, and the sentences that decided.
//!
//! Leaves to others: comparing (`crate::play`), and the engine's own explanation, of which this is a part.

use crate::play::{Asked, Field, Played, WhyRefused, named};
use rungwise_engine::decide::NextError;
use rungwise_engine::decision::{Cause, Decision, RuleVerdict, Verdict};
use rungwise_engine::explain::{FindingExplained, SentenceExplained, View, explain};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::quantity::Key;
use std::fmt::Write as _;

/// What differs in one decision, and why it was made.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Told {
    /// Where it is not as expected, such as `outcome: expected HOLD, got CONTINUE`.
    pub differences: Vec<String>,
    /// What decided the outcome, in words; then what decided each line that differs.
    pub because: Vec<String>,
    /// The rules behind it, with their sentences.
    pub findings: Vec<ToldFinding>,
}

/// A rule with its sentences.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ToldFinding {
    /// The rule.
    pub rule: Key,
    /// `met`, `not met` or `in doubt`.
    pub verdict: &'static str,
    /// Each sentence with its verdict and the values that it saw.
    pub sentences: Vec<String>,
}

/// Tells a decision that is not the expected one.
#[must_use]
pub fn tell(pack: &CheckedPack, played: &Played, asked: &Asked) -> Told {
    let differences = asked.differences.iter().map(ToString::to_string).collect();
    let Ok(explained) = explain(pack, &played.history, asked.number, View::Full) else {
        return Told {
            differences,
            because: Vec::new(),
            findings: Vec::new(),
        };
    };
    let lines = lines(pack, asked);
    let mut because: Vec<String> = explained
        .because
        .iter()
        .map(|(_, text)| text.clone())
        .collect();
    for moved in explained
        .moves
        .iter()
        .filter(|one| lines.contains(&one.line))
    {
        let causes: Vec<&str> = moved
            .because
            .iter()
            .map(|(_, text)| text.as_str())
            .collect();
        let moved = format!("{} {}", moved.mv.word(), moved.line);
        because.push(if causes.is_empty() {
            moved
        } else {
            format!("{moved}: {}", causes.join("; "))
        });
    }
    let rules = rules(&asked.decision, &lines, asked);
    let findings = explained.deciding.iter().chain(&explained.others);
    let findings = findings.filter(|finding| rules.contains(&&finding.rule));
    Told {
        differences,
        because,
        findings: findings.map(finding).collect(),
    }
}

impl Told {
    /// As lines of text, each with so many spaces before it.
    #[must_use]
    pub fn text(&self, indent: usize) -> String {
        let mut page = String::new();
        let mut line = |deeper: usize, text: &str| {
            // A String takes everything.
            let _ = writeln!(page, "{:width$}{text}", "", width = indent + deeper);
        };
        for difference in &self.differences {
            line(0, difference);
        }
        if !self.because.is_empty() {
            line(0, "decided because:");
        }
        for cause in &self.because {
            line(2, cause);
        }
        for finding in &self.findings {
            line(0, &format!("rule {}: {}", finding.rule, finding.verdict));
            for sentence in &finding.sentences {
                line(2, sentence);
            }
        }
        page
    }
}

/// The lines of which something differs.
fn lines(pack: &CheckedPack, asked: &Asked) -> Vec<Key> {
    let line_of = |exercise: &Key| {
        let exercise = pack.exercises.get(pack.exercise(exercise)?.at())?;
        let line = pack.lines.get(exercise.line.at())?;
        Some(line.key.clone())
    };
    let differences = asked.differences.iter();
    let found = differences.filter_map(|difference| match &difference.what {
        Field::Move(line) | Field::Place(line) => Some(line.clone()),
        Field::Dose(exercise, _) | Field::Absent(exercise) => line_of(exercise),
        Field::Outcome | Field::Phase | Field::Because(_) | Field::Reviews => None,
    });
    found.collect()
}

/// The rules that the outcome and these lines name, and those that were expected among the causes.
fn rules<'a>(decision: &'a Decision, lines: &[Key], asked: &'a Asked) -> Vec<&'a Key> {
    let of_lines = decision.moves.iter();
    let of_lines = of_lines.filter(|moved| lines.contains(&moved.line));
    let causes = of_lines.flat_map(|moved| &moved.because);
    let causes = decision.because.iter().chain(causes);
    let named = causes.filter_map(|cause: &Cause| named(cause));
    let expected = asked.differences.iter();
    let expected = expected.filter_map(|difference| match &difference.what {
        Field::Because(rule) => Some(rule),
        _ => None,
    });
    named.chain(expected).collect()
}

fn finding(finding: &FindingExplained) -> ToldFinding {
    ToldFinding {
        rule: finding.rule.clone(),
        verdict: match finding.verdict {
            RuleVerdict::Met => "met",
            RuleVerdict::NotMet => "not met",
            RuleVerdict::InDoubt => "in doubt",
        },
        sentences: finding.sentences.iter().map(sentence).collect(),
    }
}

fn sentence(sentence: &SentenceExplained) -> String {
    let verdict = match sentence.verdict {
        Verdict::Met => "met",
        Verdict::NotMet => "not met",
        Verdict::Unknown => "unknown",
        Verdict::NotYetFull => "not yet full",
    };
    let seen: Vec<String> = sentence
        .values
        .iter()
        .map(|seen| {
            let of = seen
                .of
                .as_ref()
                .map_or_else(String::new, |of| format!("{of} "));
            format!("{of}{} on {}", seen.value, seen.happened_on)
        })
        .collect();
    let seen = if seen.is_empty() {
        "nothing".to_owned()
    } else {
        seen.join(", ")
    };
    format!("{}: {verdict}; saw {seen}", sentence.text)
}

/// Why something was not taken, in words.
#[must_use]
pub fn why_refused(why: &WhyRefused) -> String {
    match why {
        WhyRefused::Fact(refusals) => {
            let each: Vec<String> = refusals.iter().map(ToString::to_string).collect();
            each.join("; ")
        }
        WhyRefused::NothingProposed => "a sign-off, and nothing is proposed".to_owned(),
        WhyRefused::Ask(NextError::AsOfBeforeLast { last, .. }) => {
            format!("the last decision is for {last}, which is later")
        }
    }
}

#[cfg(test)]
mod tests;

//! Refer rules: judged at every date on which something became known, latched until a clinician clears them.
//!
//! Leaves to others: what a referral does to the lines (`super::course`).

use super::case::Case;
use super::outlook::single_sheet;
use crate::decision::RuleVerdict;
use crate::evaluate::{Judged, Reader, Scope, Tap, View, judge, judge_cleared};
use crate::fact::{Order, Position};
use crate::history::Sheet;
use jiff::civil::Date;
use rungwise_pack::model::{Criterion, RuleIx, RuleKind};
use rungwise_pack::quantity::Key;

/// What the refer rules say.
#[derive(Clone)]
pub(crate) struct Referral {
    /// Every refer rule as judged on the date decided for.
    pub(crate) judged: Vec<(RuleIx, Judged)>,
    /// Rules latched, by key: (key, whether exercise stops, whether it latched just now).
    pub(crate) latched: Vec<(Key, bool, bool)>,
    /// Rules in doubt that did not latch.
    pub(crate) doubted: Vec<Key>,
}

impl Referral {
    /// Whether a rule that stops exercise is latched.
    pub(crate) fn stops(&self) -> bool {
        self.latched.iter().any(|(_, stops, _)| *stops)
    }
}

/// Judges every refer rule.
pub(crate) fn refer(case: &Case<'_>) -> Referral {
    let mut found = Referral {
        // Every other rule judged joins them.
        judged: Vec::with_capacity(case.pack.rules.len()),
        latched: kept(case),
        doubted: Vec::new(),
    };
    let dates = earlier_dates(case);
    let same_sheets = dates
        .iter()
        .min()
        .is_none_or(|first| !sheet_came(case, *first));
    for screening in &case.pack.screening {
        let Some(rule) = case.pack.rules.get(screening.rule.at()) else {
            continue;
        };
        let cleared = cleared_at(case, &rule.key);
        let judged = judge_on(case.view(), &rule.when, cleared);
        let mut latches = judged.met() || person_latched(case, &rule.key, cleared);
        let settled = dates.is_empty()
            || judged.verdict == RuleVerdict::NotMet
                && same_sheets
                && reads_sheets_alone(case, &rule.when);
        latches = latches
            || !settled
                && dates.iter().any(|date| {
                    let mut view = case.view();
                    view.as_of = *date;
                    met_on(view, &rule.when, cleared)
                });
        let known = found.latched.iter().any(|(key, _, _)| *key == rule.key);
        if latches && !known {
            let stops = rule.kind == RuleKind::Refer { stops: true };
            found.latched.push((rule.key.clone(), stops, true));
        } else if judged.in_doubt() && !known {
            found.doubted.push(rule.key.clone());
        }
        found.judged.push((screening.rule, judged));
    }
    found
}

/// Whether an assessment or a screening came after `first`, up to the date decided for.
fn sheet_came(case: &Case<'_>, first: Date) -> bool {
    let index = case.history.index();
    let came = |sheets: &[Sheet]| {
        let seen = sheets.iter().rev().skip_while(|one| one.date > case.as_of);
        seen.take(1).any(|one| one.date > first)
    };
    came(&index.screenings) || came(&index.assessments)
}

/// Whether a criterion reads assessments and screenings and nothing else. Where none came since, what is certain now was
/// certain then. (A value may have grown old since: it is then anything, which is no less than it was.)
fn reads_sheets_alone(case: &Case<'_>, when: &Criterion) -> bool {
    let mut alone = true;
    when.each_sentence(&mut |ix| {
        let sentence = case.pack.sentences.get(ix.at());
        alone = alone && sentence.is_some_and(|one| single_sheet(case.pack, one).is_some());
    });
    alone
}

fn judge_on(mut view: View<'_>, when: &Criterion, cleared: Option<Position>) -> Judged {
    match cleared {
        Some(at) => {
            view.after = Some(at);
            judge_cleared(view, Scope::CAUTIOUS, when)
        }
        None => judge(view, Scope::CAUTIOUS, when),
    }
}

/// Whether it is met there; the same as [`judge_on`] without its findings.
fn met_on(view: View<'_>, when: &Criterion, cleared: Option<Position>) -> bool {
    if cleared.is_some() {
        return judge_on(view, when, cleared).met();
    }
    let tap = Tap::default();
    let truth = Reader::new(view, Scope::CAUTIOUS, &tap).truth(when);
    truth.yes && !truth.no
}

/// Where the latest directive that clears a rule stands.
fn cleared_at(case: &Case<'_>, rule: &Key) -> Option<Position> {
    let clears = case.given.iter().filter(|one| match &one.directive.order {
        Order::Clear { rules } => rules.contains(rule),
        _ => false,
    });
    clears.map(|one| one.position).max()
}

/// Rules latched earlier that no directive cleared since. One that this pack no longer has stops exercise.
fn kept(case: &Case<'_>) -> Vec<(Key, bool, bool)> {
    let cleared = |key: &Key| {
        case.given.iter().any(|one| match &one.directive.order {
            Order::Clear { rules } => {
                rules.contains(key) && case.is_new_to_newest(one.date, one.known)
            }
            _ => false,
        })
    };
    let latched = case.stand.latched.iter().filter(|key| !cleared(key));
    latched
        .map(|key| {
            let rule = case.pack.rule(key);
            let rule = rule.and_then(|ix| case.pack.rules.get(ix.at()));
            let kept = rule.is_some_and(|rule| rule.kind == RuleKind::Refer { stops: false });
            (key.clone(), !kept, false)
        })
        .collect()
}

/// Whether the rule latched in another episode of the person and became known here since the newest decision.
fn person_latched(case: &Case<'_>, rule: &Key, cleared: Option<Position>) -> bool {
    let reports = case.history.index().person_refers.iter();
    reports.rev().any(|one| {
        one.rule == *rule
            && one.date <= case.as_of
            && case.is_new_to_newest(one.date, one.known)
            && cleared.is_none_or(|at| one.known > at)
    })
}

/// The dates before the one decided for on which something happened that the newest decision did not see, or saw
/// otherwise. What happened before care began counts from the day on which it did: weeks since an operation of long ago
/// were none on its own day.
fn earlier_dates(case: &Case<'_>) -> Vec<Date> {
    let index = case.history.index();
    let opened = case.history.episode().opened_on;
    let first = index.sessions.first();
    let began = first.map_or(opened, |first| first.date.min(opened));
    let mut dates: Vec<Date> = Vec::new();
    let mut note = |date: Date| {
        let date = date.max(began);
        if date < case.as_of && !dates.contains(&date) {
            dates.push(date);
        }
    };
    let recorded = index.touches.iter().rev();
    for touch in recorded.take_while(|touch| {
        case.newest
            .is_none_or(|(position, _)| touch.known > position)
    }) {
        note(touch.date);
    }
    for one in index.corrections.iter().rev() {
        if case.is_new_to_newest(one.date, one.position) && one.date <= case.as_of {
            note(one.of_date);
        }
    }
    let dated = index.touches_by_date.iter().rev();
    let dated = dated.filter_map(|at| index.touches.get(*at as usize));
    for touch in dated.take_while(|touch| case.newest.is_none_or(|(_, seen)| touch.date > seen)) {
        note(touch.date);
    }
    dates
}

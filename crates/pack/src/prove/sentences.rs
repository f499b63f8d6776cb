//! Each sentence by itself: always or never met, on values that are too old to count, met because nothing ever happened.

use super::Proof;
use super::parts::{self, Leaf, Way};
use super::values::{self, NEVER};
use crate::check::uses;
use crate::diagnostic::Code;
use crate::model::{
    Amount, ChangeBy, Compare, Computed, Measure, MeasureKind, Origin, Pack, Polarity, Relation,
    Rule, RuleKind, Sentence, SentenceIx, Span, Stat, Subject, Window,
};

impl Proof<'_> {
    pub(super) fn sentences(&mut self) {
        let pack = self.pack;
        for (ix, sentence) in (0_u16..).map(SentenceIx).zip(&pack.sentences) {
            match standing(pack, sentence) {
                Some(true) => self.add(
                    Code::AlwaysMet,
                    self.at_sentence(ix),
                    "a sentence that every value meets".to_owned(),
                    "always met, once there is a value",
                    "a number inside the measure's range would part some values from others; or leave it out",
                ),
                Some(false) => self.add(
                    Code::NeverMet,
                    self.at_sentence(ix),
                    "a sentence that no value meets".to_owned(),
                    "never met",
                    "a number inside the measure's range would part some values from others; or leave it out",
                ),
                None => {}
            }
            self.fresh(ix, sentence);
        }
        for one in uses(pack) {
            if one.polarity == Polarity::Upward
                && let Some(ways) = parts::ways(one.criterion, false, one.exercise)
            {
                self.nothing_happened(&ways);
                self.few_sessions(&ways);
            }
        }
    }

    /// A window that reaches back further than values count.
    fn fresh(&mut self, ix: SentenceIx, sentence: &Sentence) {
        let Some(measure) = measure_of(self.pack, sentence) else {
            return;
        };
        let Some(fresh_days) = measure.fresh_days else {
            return;
        };
        let Some(days) = days_back(self.pack, sentence.window) else {
            return;
        };
        if days > fresh_days {
            let message = format!(
                "a window of {days} days, and `{}` counts for {fresh_days}",
                measure.name
            );
            let window = self.sites.sentences.get(ix.at()).map(|site| {
                site.parts
                    .window
                    .as_ref()
                    .map_or(site.text.at, |span| site.text.part(span))
            });
            self.add(
                Code::NotFresh,
                window,
                message,
                "its oldest values are always missing",
                "a shorter window, or a longer `fresh_days`",
            );
        }
    }

    /// Weeks since an event: never is more than any number.
    fn nothing_happened(&mut self, ways: &[Way]) {
        let pack = self.pack;
        let mut told = Vec::new();
        for leaf in ways.iter().flatten() {
            let Some((read, left)) = parts::left(pack, *leaf) else {
                continue;
            };
            let Some(measure) = pack.measures.get(read.0.at()) else {
                continue;
            };
            let counts = values::counts_since_event(measure) && left.has(NEVER);
            if !counts || told.contains(&leaf.sentence) || stopped_without(pack, *leaf) {
                continue;
            }
            let bounded = |way: &Way| {
                let others = way.iter().filter_map(|other| parts::left(pack, *other));
                let mut same = others.filter(|(other, _)| *other == read);
                same.any(|(_, values)| !values.has(NEVER))
            };
            if ways.iter().filter(|way| way.contains(leaf)).all(bounded) {
                continue;
            }
            told.push(leaf.sentence);
            let name = &measure.name;
            self.add(
                Code::NeverHappened,
                self.at_sentence(leaf.sentence),
                format!("`{name}` where it never happened meets an upward rule"),
                "never is longer ago than any number",
                &format!(
                    "a refer rule with `none = [\"{name} at most …\"]` stops whoever has no such date, and whose date is long ago"
                ),
            );
        }
    }

    /// A total that is small because little was reported.
    fn few_sessions(&mut self, ways: &[Way]) {
        let mut told = Vec::new();
        for way in ways {
            for leaf in way {
                if told.contains(&leaf.sentence)
                    || !is_small_total(self.pack, *leaf)
                    || way.iter().any(|other| counts_sessions(self.pack, *other))
                {
                    continue;
                }
                told.push(leaf.sentence);
                self.add(
                    Code::TotalFloor,
                    self.at_sentence(leaf.sentence),
                    "a total that is small where little was told".to_owned(),
                    "met by somebody who reported nothing",
                    "under the same `all`, want a number of sessions (`in each of the last n sessions`, sessions in the phase, the share done)",
                );
            }
        }
    }
}

fn measure_of<'p>(pack: &'p Pack, sentence: &Sentence) -> Option<&'p Measure> {
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return None;
    };
    pack.measures.get(measure.at())
}

/// Whether every value meets a sentence, or none does.
fn standing(pack: &Pack, sentence: &Sentence) -> Option<bool> {
    let measure = measure_of(pack, sentence)?;
    // A total is no value of its measure.
    if matches!(sentence.window, Window::Over(Stat::Total, _)) {
        return None;
    }
    if let Some(met) = values::meeting(pack, sentence) {
        return if met.is_empty() {
            Some(false)
        } else {
            met.rest_of(&values::whole(measure))
                .is_empty()
                .then_some(true)
        };
    }
    let (min, max) = range(measure)?;
    match &sentence.relation {
        Relation::Compare(compare, Amount::Offset(by, other)) => {
            let (low, high) = range(pack.measures.get(other.at())?)?;
            let (low, high) = (low.checked_add(by.0)?, high.checked_add(by.0)?);
            compared(*compare, (min, max), (low, high))
        }
        Relation::Change(_, ChangeBy::Units(by), _) => {
            (by.0 > max.checked_sub(min)?).then_some(false)
        }
        _ => None,
    }
}

/// A value within one range compared with one within another.
const fn compared(compare: Compare, of: (i64, i64), with: (i64, i64)) -> Option<bool> {
    let (always, never) = match compare {
        Compare::AtMost => (of.1 <= with.0, of.0 > with.1),
        Compare::Below => (of.1 < with.0, of.0 >= with.1),
        Compare::AtLeast => (of.0 >= with.1, of.1 < with.0),
        Compare::Above => (of.0 > with.1, of.1 <= with.0),
    };
    match (always, never) {
        (true, _) => Some(true),
        (_, true) => Some(false),
        _ => None,
    }
}

const fn range(measure: &Measure) -> Option<(i64, i64)> {
    match &measure.kind {
        MeasureKind::Number { min, max, .. } => Some((min.0, max.0)),
        MeasureKind::Choice { .. } => None,
    }
}

/// How many days before the day of judging the oldest value of a window is at least.
fn days_back(pack: &Pack, window: Window) -> Option<u32> {
    match window {
        Window::Over(_, Span::Days(days)) => Some(days.saturating_sub(1)),
        Window::DaysOfLast { k, .. } => Some(u32::from(k).saturating_sub(1)),
        Window::EachOfLast(n) | Window::SessionsOfLast { k: n, .. } => {
            let most = pack
                .phases
                .iter()
                .map(|phase| phase.sessions_a_week)
                .max()?;
            let gaps = u32::from(n).saturating_sub(1);
            gaps.saturating_mul(7).checked_div(u32::from(most))
        }
        _ => None,
    }
}

/// Whether some refer rule is met, by itself, wherever the event of a leaf's measure never was.
fn stopped_without(pack: &Pack, leaf: Leaf) -> bool {
    let Some((read, _)) = parts::left(pack, leaf) else {
        return false;
    };
    let refers = |rule: &&Rule| matches!(rule.kind, RuleKind::Refer { .. });
    let ways = pack
        .rules
        .iter()
        .filter(refers)
        .filter_map(|rule| parts::ways(&rule.when, false, None));
    let mut ways = ways.flatten();
    ways.any(|way| {
        way.iter().all(|other| {
            parts::left(pack, *other).is_some_and(|(of, values)| of == read && values.has(NEVER))
        })
    })
}

fn is_small_total(pack: &Pack, leaf: Leaf) -> bool {
    let Some(sentence) = pack.sentences.get(leaf.sentence.at()) else {
        return false;
    };
    let Relation::Compare(compare, _) = &sentence.relation else {
        return false;
    };
    let small = matches!(compare, Compare::AtMost | Compare::Below) != leaf.negated;
    small && matches!(sentence.window, Window::Over(Stat::Total, _))
}

/// Whether a leaf wants some number of sessions to have been told of.
fn counts_sessions(pack: &Pack, leaf: Leaf) -> bool {
    let Some(sentence) = pack.sentences.get(leaf.sentence.at()) else {
        return false;
    };
    if leaf.negated {
        return false;
    }
    if matches!(
        sentence.window,
        Window::EachOfLast(_) | Window::SessionsOfLast { .. } | Window::DaysOfLast { .. }
    ) {
        return true;
    }
    let counted = measure_of(pack, sentence).is_some_and(|measure| {
        matches!(
            measure.origin,
            Origin::Computed(Computed::SessionsInPhase | Computed::ShareDone { .. })
        )
    });
    let floor = matches!(
        &sentence.relation,
        Relation::Compare(Compare::AtLeast | Compare::Above, _)
    );
    counted && floor
}

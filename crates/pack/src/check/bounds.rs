//! Sentences that read a reference want an absolute bound with them.
//!
//! References (a change, the other side, a percentage of or an amount above or below another measure) are the exception
//! to monotone caution: making the reference worse makes the sentence easier. So an upward rule that reads one must
//! also hold the same measure to a number, under `all`; and a cautious rule must have a number on the same measure as
//! an alternative, under `any`.
//!
//! Under `none` the parts are negated, and `all` and `any` change places.

use super::forms::both;
use super::resolve::Sites;
use super::uses::{Use, uses};
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{
    Amount, Criterion, Limit, MeasureIx, Origin, Pack, Polarity, Relation, Sentence, Subject,
};
use std::collections::BTreeSet;

/// Judges every rule that reads a reference, and warns of relative limits that stand alone.
pub(super) fn judge(pack: &Pack, sites: &Sites, findings: &mut Findings<'_>) {
    for one in uses(pack) {
        // An empty list is reported already, and stands also where a sentence was not understood: what else the rule
        // lacks cannot be known then.
        if !has_empty(one.criterion) {
            let walk = Walk { pack, sites, one };
            walk.judge(one.criterion, false, &BTreeSet::new(), findings);
        }
    }
    limits(pack, sites, findings);
}

fn has_empty(criterion: &Criterion) -> bool {
    match criterion {
        Criterion::Sentence(_) => false,
        Criterion::All(parts) | Criterion::Any(parts) | Criterion::None(parts) => {
            parts.is_empty() || parts.iter().any(has_empty)
        }
    }
}

/// The measure that a sentence holds to a number.
fn held(sentence: &Sentence) -> Option<MeasureIx> {
    match (&sentence.subject, &sentence.relation) {
        (Subject::Measure { measure, .. }, Relation::Compare(_, Amount::Fixed(_))) => {
            Some(*measure)
        }
        _ => None,
    }
}

/// The measures that a sentence must come with a number on: its own, where it reads a reference, and what is divided
/// where it is about a quotient.
fn refers(pack: &Pack, sentence: &Sentence) -> Vec<MeasureIx> {
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return Vec::new();
    };
    let divided = match pack.measures.get(measure.at()).map(|one| &one.origin) {
        Some(Origin::Combined(combined)) => combined.relative(),
        _ => None,
    };
    let relative = |amount: &Amount| !matches!(amount, Amount::Fixed(_));
    let refers = match &sentence.relation {
        Relation::Change(..) => true,
        Relation::Compare(_, amount) => relative(amount),
        Relation::Between(low, high) => relative(low) || relative(high),
        Relation::Is(_) | Relation::IsNot(_) | Relation::NoWorseThan(_) | Relation::Reached => {
            false
        }
    };
    refers
        .then_some(*measure)
        .into_iter()
        .chain(divided)
        .collect()
}

/// Whether a sentence reads a reference, for which monotone caution is not proved.
pub(crate) fn reads_reference(pack: &Pack, sentence: &Sentence) -> bool {
    !refers(pack, sentence).is_empty()
}

struct Walk<'w> {
    pack: &'w Pack,
    sites: &'w Sites,
    one: Use<'w>,
}

/// How the parts of a combination work once negations are pushed down to the sentences.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Joined {
    All,
    Any,
}

impl Walk<'_> {
    /// What holds the parts together so that a bound in one serves the others: `all` upwards, `any` in caution.
    fn binding(&self) -> Joined {
        match self.one.polarity {
            Polarity::Upward => Joined::All,
            Polarity::Cautious => Joined::Any,
        }
    }

    fn judge(
        &self,
        criterion: &Criterion,
        negated: bool,
        bounds: &BTreeSet<MeasureIx>,
        findings: &mut Findings<'_>,
    ) {
        let Some((parts, joined, negated)) = opened(criterion, negated) else {
            if let Criterion::Sentence(index) = criterion
                && let Some((sentence, site)) = both(self.pack, self.sites, *index)
            {
                let mut wanted = refers(self.pack, sentence).into_iter();
                if let Some(measure) = wanted.find(|measure| !bounds.contains(measure)) {
                    let measure = self.pack.measures.get(measure.at());
                    let name = measure.map_or("", |measure| &measure.name);
                    findings.add(self.note(name, site.text.at));
                }
            }
            return;
        };
        let mut bounds = bounds.clone();
        if joined == self.binding() {
            bounds.extend(parts.iter().flat_map(|part| self.bound(part, negated)));
        }
        for part in parts {
            self.judge(part, negated, &bounds, findings);
        }
    }

    /// Measures that a criterion, by itself, holds to a number.
    fn bound(&self, criterion: &Criterion, negated: bool) -> BTreeSet<MeasureIx> {
        let Some((parts, joined, negated)) = opened(criterion, negated) else {
            let Criterion::Sentence(index) = criterion else {
                return BTreeSet::new();
            };
            return self
                .pack
                .sentences
                .get(index.at())
                .and_then(held)
                .into_iter()
                .collect();
        };
        let mut sets = parts.iter().map(|part| self.bound(part, negated));
        if joined == self.binding() {
            return sets.flatten().collect();
        }
        let first = sets.next().unwrap_or_default();
        sets.fold(first, |common, set| {
            common.intersection(&set).copied().collect()
        })
    }

    fn note(&self, name: &str, at: crate::source::Location) -> Note {
        let what = self.one.what;
        match self.one.polarity {
            Polarity::Upward => {
                let message =
                    format!("{what} reads a reference without holding `{name}` to a number");
                Note::new(Code::UpwardBound, at, message)
                    .label("a worse reference makes this easier to meet")
                    .help(format!("add a sentence such as `{name} at least …` or `at most …` beside it, under `all`"))
            }
            Polarity::Cautious => {
                let message = format!(
                    "{what} reads a reference, and no number on `{name}` can take its place"
                );
                Note::new(Code::CautiousBound, at, message)
                    .label("a worse reference makes this harder to meet")
                    .help(format!(
                        "write `any = [\"…\", \"{name} …\"]` with a number as the alternative"
                    ))
            }
        }
    }
}

/// The parts of a combination, how they are joined, and whether they are negated; none for a sentence.
fn opened(criterion: &Criterion, negated: bool) -> Option<(&[Criterion], Joined, bool)> {
    let (all, any) = if negated {
        (Joined::Any, Joined::All)
    } else {
        (Joined::All, Joined::Any)
    };
    match criterion {
        Criterion::Sentence(_) => None,
        Criterion::All(parts) => Some((parts, all, negated)),
        Criterion::Any(parts) => Some((parts, any, negated)),
        // None of its parts: all of them negated.
        Criterion::None(parts) => Some((parts, all, !negated)),
    }
}

/// A limit that moves with another measure wants one beside it that does not.
fn limits(pack: &Pack, sites: &Sites, findings: &mut Findings<'_>) {
    let sentence = |limit: &Limit| pack.sentences.get(limit.sentence.at());
    let own = |limits: &[Limit], beside: &[Limit], findings: &mut Findings<'_>| {
        for limit in limits {
            // A change in a limit is refused elsewhere.
            let of_one_session =
                sentence(limit).filter(|one| !matches!(one.relation, Relation::Change(..)));
            let Some(measure) = of_one_session.and_then(|one| refers(pack, one).first().copied())
            else {
                continue;
            };
            let paired = limits
                .iter()
                .chain(beside)
                .filter_map(sentence)
                .filter_map(held);
            if paired.into_iter().any(|held| held == measure) {
                continue;
            }
            let name = pack
                .measures
                .get(measure.at())
                .map_or("", |measure| &measure.name);
            if let Some((_, site)) = both(pack, sites, limit.sentence) {
                let note = Note::new(
                    Code::LimitBound,
                    site.text.at,
                    format!("the limit `{}` moves with another measure", limit.key),
                );
                findings.add(
                    note.label("no number bounds it")
                        .help(format!("add a limit that holds `{name}` to a number")),
                );
            }
        }
    };
    own(&pack.limits, &[], findings);
    for phase in &pack.phases {
        own(&phase.limits, &pack.limits, findings);
    }
    for exercise in &pack.exercises {
        own(&exercise.limits, &pack.limits, findings);
    }
}

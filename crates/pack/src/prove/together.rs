//! Rules beside each other: that those wanted together can be met together, and that nobody enters a phase only to be
//! held back in it.

use super::Proof;
use super::parts::{self, Leaf, Way};
use crate::diagnostic::Code;
use crate::model::{Criterion, ExerciseIx, Limit, Pack, Phase, Rule, RuleIx, RuleKind, SentenceIx};

impl Proof<'_> {
    pub(super) fn together(&mut self) {
        let pack = self.pack;
        for (rule, ix) in pack.rules.iter().zip(0_u16..) {
            let ways = parts::ways(&rule.when, false, rule.exercise);
            self.possible(RuleIx(ix), ways.as_deref(), "this rule is never met");
        }
        for phase in &pack.phases {
            for (kind, label) in [
                (RuleKind::Enter, "nobody ever enters this phase"),
                (RuleKind::Discharge, "care never ends"),
            ] {
                let of_kind = rules_of(pack, phase, kind);
                if let (Some(last), true) = (of_kind.last(), of_kind.len() > 1) {
                    self.possible(last.0, joined(&of_kind).as_deref(), label);
                }
            }
            self.kept_out(phase);
            self.limits_and_holds(phase);
        }
        self.climbs();
    }

    /// Reports that no way is without a conflict.
    fn possible(&mut self, rule: RuleIx, ways: Option<&[Way]>, label: &str) {
        let Some(conflict) = ways.and_then(|ways| impossible(self.pack, ways)) else {
            return;
        };
        // A single sentence that no value meets is reported by itself.
        if conflict.len() < 2 {
            return;
        }
        let Some(of) = self.pack.rules.get(rule.at()) else {
            return;
        };
        let words: Vec<String> = conflict
            .iter()
            .map(|leaf| parts::words(self.pack, *leaf))
            .collect();
        self.add(
            Code::NeverTogether,
            self.at_rule(rule),
            format!("`{}` wants what excludes itself", of.key),
            label,
            &format!("no value is {}", words.join(" and ")),
        );
    }

    /// Enter rules against the hold and regress rules of the phase that they enter.
    fn kept_out(&mut self, phase: &Phase) {
        let pack = self.pack;
        let Some(enter) = joined(&rules_of(pack, phase, RuleKind::Enter)) else {
            return;
        };
        if rules_of(pack, phase, RuleKind::Enter).is_empty() || impossible(pack, &enter).is_some() {
            return;
        }
        for kind in [RuleKind::Hold, RuleKind::Regress] {
            for (ix, rule) in rules_of(pack, phase, kind) {
                let free = parts::ways(&rule.when, true, None);
                let both = free.and_then(|free| parts::every(&[enter.clone(), free]));
                if let Some(conflict) = both.and_then(|both| impossible(pack, &both)) {
                    let words: Vec<String> = conflict
                        .iter()
                        .filter(|leaf| !leaf.negated)
                        .map(|leaf| parts::words(pack, *leaf))
                        .collect();
                    self.add(
                        Code::EnterIsHeld,
                        self.at_rule(ix),
                        format!("whoever may enter `{}` meets `{}`", phase.key, rule.key),
                        "so nobody ever enters",
                        &format!("entering wants {}", words.join(" and ")),
                    );
                } else {
                    self.near(phase, &enter, ix, rule);
                }
            }
        }
    }

    /// Warns where the very measures that entering reads may meet a hold or regress rule at values that may enter.
    fn near(&mut self, phase: &Phase, enter: &[Way], ix: RuleIx, rule: &Rule) {
        let pack = self.pack;
        let Some(held) = parts::ways(&rule.when, false, None) else {
            return;
        };
        for way in enter {
            let Some(entering) = parts::constant(pack, way) else {
                continue;
            };
            for back in &held {
                let all_read = back.iter().all(|leaf| {
                    parts::left(pack, *leaf).is_some_and(|(read, _)| entering.contains_key(&read))
                });
                let both = [way.as_slice(), back].concat();
                let Some(values) = all_read.then(|| parts::constant(pack, &both)).flatten() else {
                    continue;
                };
                let of_rule = back.iter().filter_map(|leaf| parts::left(pack, *leaf));
                let reads: Vec<_> = of_rule.map(|(read, _)| read).collect();
                let values = values
                    .into_iter()
                    .filter(|(read, _)| reads.contains(read))
                    .collect();
                self.add(
                    Code::EnterNearHeld,
                    self.at_rule(ix),
                    format!("values that enter `{}` meet `{}` too", phase.key, rule.key),
                    "held back where they may enter",
                    &format!(
                        "for example {}; let entering want better values than these",
                        parts::example(pack, &values)
                    ),
                );
                return;
            }
        }
    }

    /// Limits against hold and regress rules that one session decides.
    fn limits_and_holds(&mut self, phase: &Phase) {
        let pack = self.pack;
        let limits: Vec<&Limit> = pack
            .limits
            .iter()
            .chain(&phase.limits)
            .filter(|limit| limit.condition.is_none())
            .collect();
        for kind in [RuleKind::Hold, RuleKind::Regress] {
            for (ix, rule) in rules_of(pack, phase, kind) {
                let ways = parts::ways(&rule.when, false, None).unwrap_or_default();
                let allowed = ways.iter().find_map(|way| allowed(pack, &limits, way));
                if let Some((sentence, example)) = allowed {
                    let words = pack
                        .sentences
                        .get(sentence.at())
                        .map_or("", |one| &one.text);
                    self.add(
                        Code::LimitHeld,
                        self.at_rule(ix),
                        format!("`{}` is met within the limits of `{}`", rule.key, phase.key),
                        "one session at an allowed value meets it",
                        &format!("for example {example}, which the limit `{words}` allows"),
                    );
                }
            }
        }
    }

    /// Climb rules with what the values of the ladder need.
    fn climbs(&mut self) {
        let pack = self.pack;
        for (exercise, index) in pack.exercises.iter().zip(0_u16..) {
            let own = Some(ExerciseIx(index));
            let Some(rule) = pack.rules.get(exercise.climb.at()) else {
                continue;
            };
            let steps = exercise.rows.iter().flat_map(|row| &row.values);
            for step in steps {
                let Some(needs) = &step.needs else { continue };
                let both = Criterion::All(vec![rule.when.clone(), needs.clone()]);
                let ways = parts::ways(&both, false, own);
                self.possible(
                    exercise.climb,
                    ways.as_deref(),
                    "some rung is never come to",
                );
            }
        }
    }
}

/// A limit that allows what meets a hold or regress rule in one session, with example values.
fn allowed(pack: &Pack, limits: &[&Limit], way: &[Leaf]) -> Option<(SentenceIx, String)> {
    if way.is_empty() || !way.iter().all(|leaf| parts::is_of_one(pack, *leaf)) {
        return None;
    }
    let mut named = None;
    let mut all = way.to_vec();
    for leaf in way {
        let (read, _) = parts::left(pack, *leaf)?;
        let of_same = limits.iter().map(|limit| Leaf {
            sentence: limit.sentence,
            negated: false,
            own: None,
        });
        let of_same: Vec<Leaf> = of_same
            .filter(|limit| parts::left(pack, *limit).is_some_and(|(other, _)| other == read))
            .collect();
        // A measure without a limit allows nothing by it.
        named = named.or(of_same.first().map(|leaf| leaf.sentence));
        if of_same.is_empty() {
            return None;
        }
        all.extend(of_same);
    }
    let values = parts::constant(pack, &all)?;
    Some((named?, parts::example(pack, &values)))
}

fn rules_of<'p>(pack: &'p Pack, phase: &Phase, kind: RuleKind) -> Vec<(RuleIx, &'p Rule)> {
    let rules = phase
        .rules
        .iter()
        .filter_map(|ix| Some((*ix, pack.rules.get(ix.at())?)));
    rules.filter(|(_, rule)| rule.kind == kind).collect()
}

/// The ways in which all of several rules are met.
fn joined(rules: &[(RuleIx, &Rule)]) -> Option<Vec<Way>> {
    let each = rules
        .iter()
        .map(|(_, rule)| parts::ways(&rule.when, false, rule.exercise));
    parts::every(&each.collect::<Option<Vec<_>>>()?)
}

/// Where every way excludes itself, what does so in the first.
fn impossible(pack: &Pack, ways: &[Way]) -> Option<Vec<Leaf>> {
    let mut first = None;
    for way in ways {
        let conflict = parts::conflict(pack, way)?;
        first.get_or_insert(conflict);
    }
    first
}

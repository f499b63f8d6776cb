//! Rules, limits and phases of two packs.

use super::criteria::{differences, in_all, words};
use super::{Both, Effect};
use crate::model::{
    Criterion, ExerciseIx, Limit, Pack, Phase, Polarity, Rule, RuleKind, Screening, Urgency,
};
use crate::quantity::Key;

impl Both<'_> {
    pub(super) fn rules(&mut self) {
        let (old, new) = (self.old, self.new);
        for was in &old.rules {
            match of_name(new, &was.key) {
                Some(is) => self.rule(was, is),
                None => {
                    let effect = without(was.kind);
                    self.add(effect, &called(was), Some(words(old, &was.when)), None);
                }
            }
        }
        for is in &new.rules {
            if of_name(old, &is.key).is_none() {
                let effect = turned(without(is.kind));
                self.add(effect, &called(is), None, Some(words(new, &is.when)));
            }
        }
        for was in &old.screening {
            self.screening(was);
        }
        self.limits("", &old.limits, &new.limits);
    }

    fn rule(&mut self, was: &Rule, is: &Rule) {
        let (old, new) = (self.old, self.new);
        let of = called(is);
        if kind_word(was.kind) != kind_word(is.kind)
            || phase_of(old, was) != phase_of(new, is)
            || exercise_of(old, was.exercise) != exercise_of(new, is.exercise)
        {
            let said = |pack: &Pack, rule: &Rule| {
                let place = phase_of(pack, rule).or_else(|| exercise_of(pack, rule.exercise));
                let place = place.map_or_else(String::new, |place| format!(" of {place}"));
                Some(format!("{}{place}", kind_word(rule.kind)))
            };
            self.add(Effect::Unclear, &of, said(old, was), said(new, is));
        }
        if let (RuleKind::Refer { stops: was }, RuleKind::Refer { stops: is }) = (was.kind, is.kind)
        {
            let effect = if is {
                Effect::Tightens
            } else {
                Effect::Loosens
            };
            self.value(effect, &of, (&was, &is), |stops| {
                let word = if *stops { "stops" } else { "is kept" };
                format!("exercise {word}")
            });
        }
        let polarity = was.kind.polarity();
        for (order, before, after) in differences(old, &was.when, new, &is.when) {
            let effect = match was.kind {
                RuleKind::Review => Effect::Neither,
                _ => order.effect(polarity),
            };
            self.add(effect, &of, before, after);
        }
        self.value(
            Effect::Neither,
            &format!("reason of {of}"),
            (&was.reason, &is.reason),
            String::clone,
        );
    }

    fn screening(&mut self, was: &Screening) {
        let rule = self.old.rules.get(was.rule.at());
        let is = rule.and_then(|rule| {
            let named = |one: &&Screening| {
                self.new
                    .rules
                    .get(one.rule.at())
                    .is_some_and(|is| is.key == rule.key)
            };
            self.new.screening.iter().find(named)
        });
        let (Some(rule), Some(is)) = (rule, is) else {
            return;
        };
        let of = called(rule);
        let sooner = if is.urgency < was.urgency {
            Effect::Tightens
        } else {
            Effect::Loosens
        };
        self.value(sooner, &of, (&was.urgency, &is.urgency), |one| {
            urgency_word(*one).to_owned()
        });
        self.value(Effect::Neither, &of, (&was.route, &is.route), String::clone);
        let wider = if is.of_person {
            Effect::Tightens
        } else {
            Effect::Loosens
        };
        self.value(wider, &of, (&was.of_person, &is.of_person), |of_person| {
            let whom = if *of_person {
                "every episode of the person"
            } else {
                "its episode"
            };
            format!("latches for {whom}")
        });
    }

    /// Limits of one place: the pack's, a phase's, an exercise's.
    pub(super) fn limits(&mut self, place: &str, was: &[Limit], is: &[Limit]) {
        let (old, new) = (self.old, self.new);
        let of = |limit: &Limit| format!("limit `{}`{place}", limit.key);
        let said = |pack: &Pack, limit: &Limit| {
            let sentence = words(pack, &Criterion::Sentence(limit.sentence));
            limit.condition.as_ref().map_or_else(
                || sentence.clone(),
                |condition| format!("{sentence}, while {}", words(pack, condition)),
            )
        };
        for limit in was {
            let Some(now) = is.iter().find(|one| one.key == limit.key) else {
                self.add(Effect::Loosens, &of(limit), Some(said(old, limit)), None);
                continue;
            };
            let (before, after) = (
                Criterion::Sentence(limit.sentence),
                Criterion::Sentence(now.sentence),
            );
            for (order, before, after) in differences(old, &before, new, &after) {
                self.add(order.effect(Polarity::Upward), &of(now), before, after);
            }
            let effect = match (&limit.condition, &now.condition) {
                (None, None) => continue,
                (None, Some(_)) => Effect::Loosens,
                (Some(_), None) => Effect::Tightens,
                // A limit that holds in more cases is tighter, as a cautious rule is.
                (Some(was), Some(is)) => {
                    let all = differences(old, was, new, is);
                    if all.is_empty() {
                        continue;
                    }
                    in_all(&all).effect(Polarity::Cautious)
                }
            };
            self.add(
                effect,
                &of(now),
                Some(said(old, limit)),
                Some(said(new, now)),
            );
        }
        for limit in is {
            if !was.iter().any(|one| one.key == limit.key) {
                self.add(Effect::Tightens, &of(limit), None, Some(said(new, limit)));
            }
        }
    }

    pub(super) fn phases(&mut self) {
        let (old, new) = (self.old, self.new);
        let names = |pack: &Pack| {
            pack.phases
                .iter()
                .map(|one| one.key.clone())
                .collect::<Vec<_>>()
        };
        let (was, is) = (names(old), names(new));
        self.value(Effect::Unclear, "phases in order", (&was, &is), |keys| {
            list(keys)
        });
        for was in &old.phases {
            if let Some(is) = new.phases.iter().find(|one| one.key == was.key) {
                self.phase(was, is);
            }
        }
    }

    fn phase(&mut self, was: &Phase, is: &Phase) {
        let place = format!(" of phase `{}`", is.key);
        let (old, new) = (self.old, self.new);
        self.value(
            Effect::Neither,
            &format!("aim{place}"),
            (&was.aim, &is.aim),
            String::clone,
        );
        let names = |pack: &Pack, phase: &Phase| {
            let keys = phase
                .exercises
                .iter()
                .filter_map(|ix| pack.exercises.get(ix.at()));
            keys.map(|one| one.key.clone()).collect::<Vec<_>>()
        };
        let (before, after) = (names(old, was), names(new, is));
        self.value(
            Effect::Unclear,
            &format!("exercises{place}"),
            (&before, &after),
            |keys| list(keys),
        );
        let sessions = (&was.sessions_a_week, &is.sessions_a_week);
        self.value(
            Effect::Unclear,
            &format!("sessions a week{place}"),
            sessions,
            u16::to_string,
        );
        for (of, was, is) in [
            ("most lines that climb", was.climb_max, is.climb_max),
            ("most lines introduced", was.introduce_max, is.introduce_max),
            ("most lines", was.lines_max, is.lines_max),
        ] {
            let fewer = is.unwrap_or(u16::MAX) < was.unwrap_or(u16::MAX);
            let effect = if fewer {
                Effect::Tightens
            } else {
                Effect::Loosens
            };
            self.value(effect, &format!("{of}{place}"), (&was, &is), |bound| {
                bound.map_or_else(|| "no bound".to_owned(), |bound| bound.to_string())
            });
        }
        self.limits(&place, &was.limits, &is.limits);
    }
}

fn of_name<'p>(pack: &'p Pack, key: &str) -> Option<&'p Rule> {
    pack.rule(key).and_then(|ix| pack.rules.get(ix.at()))
}

/// What it does to leave a rule out.
const fn without(kind: RuleKind) -> Effect {
    match kind {
        // Every enter and discharge rule must be met; of start rules one is enough; without a rule that brings an exercise
        // back only a clinician does.
        RuleKind::Enter | RuleKind::Discharge => Effect::Loosens,
        RuleKind::Start | RuleKind::BringBack => Effect::Tightens,
        RuleKind::Refer { .. } | RuleKind::Regress | RuleKind::Hold | RuleKind::Ease => {
            Effect::Loosens
        }
        RuleKind::Review => Effect::Neither,
        // An exercise always has one, by another name then.
        RuleKind::Climb => Effect::Unclear,
    }
}

const fn turned(effect: Effect) -> Effect {
    match effect {
        Effect::Loosens => Effect::Tightens,
        Effect::Tightens => Effect::Loosens,
        same => same,
    }
}

const fn kind_word(kind: RuleKind) -> &'static str {
    match kind {
        RuleKind::Refer { .. } => "refer rule",
        RuleKind::Regress => "regress rule",
        RuleKind::Hold => "hold rule",
        RuleKind::Ease => "ease rule",
        RuleKind::Review => "review rule",
        RuleKind::Enter => "enter rule",
        RuleKind::Start => "start rule",
        RuleKind::Discharge => "discharge rule",
        RuleKind::Climb => "climb rule",
        RuleKind::BringBack => "bring-back rule",
    }
}

const fn urgency_word(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Emergency => "emergency",
        Urgency::SameDay => "same day",
        Urgency::Urgent => "urgent",
        Urgency::Routine => "routine",
    }
}

fn called(rule: &Rule) -> String {
    format!("{} `{}`", kind_word(rule.kind), rule.key)
}

fn phase_of(pack: &Pack, rule: &Rule) -> Option<String> {
    let phase = pack.phases.get(rule.phase?.at())?;
    Some(format!("phase `{}`", phase.key))
}

fn exercise_of(pack: &Pack, exercise: Option<ExerciseIx>) -> Option<String> {
    let exercise = pack.exercises.get(exercise?.at())?;
    Some(format!("`{}`", exercise.key))
}

pub(super) fn list(keys: &[Key]) -> String {
    let keys: Vec<&str> = keys.iter().map(|key| &**key).collect();
    keys.join(", ")
}
